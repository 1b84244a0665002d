"""The count sheet as a page, and as a browser prints it."""

import re
import shutil
import subprocess
from html.parser import HTMLParser

import numpy as np
import pytest

from tempo_coach.music.countmap import CountMap
from tempo_coach.report.sheet import make_sheet
from tempo_coach.report.sheet_page import sheet_page
from tests.conftest import skip_for_missing_part
from tests.report.sheets import full, load, routine


class Outline(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.rows, self.text = [], 0, ""

    def handle_starttag(self, tag, attrs):
        if tag != "meta":
            self.open.append(tag)
        self.rows += tag == "tr"
        assert not {"src", "href"} & dict(attrs).keys(), "the page needs nothing from elsewhere"

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += f" {data}"


def test_the_page_is_whole_escaped_and_needs_nothing_from_elsewhere():
    page = Outline()
    html = sheet_page(full())
    page.feed(html)
    assert page.open == [] and page.rows == 1 + 6
    assert "Invented & made up" in page.text and "<b>not bold</b>" in page.text
    assert "pause 2.0 s after 4" in page.text
    assert "url(" not in html and "@import" not in html


def test_an_eight_of_twelve_counts_begins_a_second_line():
    counts = CountMap(0.5 * np.arange(24), ((0, 12), (12, 12)))
    html = sheet_page(make_sheet(routine(), counts, 12.0, load))
    assert html.count('class="counts"') == 4


def test_a_browser_prints_it_on_a4(tmp_path):
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        skip_for_missing_part("no Chromium (Debian: apt-get install chromium)")
    page, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    page.write_text(sheet_page(full()), encoding="utf-8")
    subprocess.run(
        [chromium, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={pdf}", page.as_uri()],
        check=True, capture_output=True, timeout=100,
    )  # fmt: skip
    content = pdf.read_bytes()
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", content)
    # ISO 216: A4 is 210 by 297 mm; a point is 1/72 inch
    assert len(boxes) == 1
    assert float(boxes[0][0]) / 72 * 25.4 == pytest.approx(210, abs=0.5)
    assert float(boxes[0][1]) / 72 * 25.4 == pytest.approx(297, abs=0.5)
