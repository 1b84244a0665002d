"""The count sheet as a page, and as a browser prints it."""

import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern
from tempo_coach.pattern.routine.routine import Laid, Remark, Steps
from tempo_coach.report.pages.sheet import sheet_page
from tempo_coach.report.words.sheet import make_sheet
from tests import HANG
from tests.conftest import skip_for_missing_part
from tests.report.sheets import COUNTS, DURATION, full, load, routine


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
        check=True, capture_output=True, timeout=HANG,
    )  # fmt: skip
    content = pdf.read_bytes()
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", content)
    # ISO 216: A4 is 210 by 297 mm; a point is 1/72 inch
    assert len(boxes) == 1
    assert float(boxes[0][0]) / 72 * 25.4 == pytest.approx(210, abs=0.5)
    assert float(boxes[0][1]) / 72 * 25.4 == pytest.approx(297, abs=0.5)


def row_of(html, number):
    return re.findall(r'<tr><td class="n">.*?</tr>', html, re.DOTALL)[number - 1]


def test_signs_stand_at_their_share_of_the_line_with_their_name():
    html = sheet_page(make_sheet(routine(laid=(Laid("clubs_mills", Position(2, 1), 1),)), COUNTS, DURATION, load))
    row = row_of(html, 2)
    assert re.findall(r'class="sign" style="left:([\d.]+)%" title="(\w+)"', row) == [
        (f"{100 * at / 8:.2f}", "circle") for at in (1, 3, 5, 7, 2, 4, 6)
    ]
    assert re.findall(r"<b>(. \w+)</b>", row) == ["● right", "◆ left"]


def test_an_eight_says_its_time_its_tempo_and_where_it_slows():
    rows = [row_of(sheet_page(full()), number) for number in range(1, 7)]
    assert "0:16.0<b>100 ↓ slower</b>" in rows[4]
    assert "0:04.0<b>120</b>" in rows[1]
    # it stands a little before the end of the line, so that its words have room
    assert 'class="wait" style="left:38.75%">pause 2.0 s after 4</i>' in rows[3]
    assert not any("pause" in row for row in rows[:3] + rows[4:])


def test_what_else_is_said_in_order_of_its_count():
    html = sheet_page(full())
    said = [re.findall(r"<div><b>(.*?)</b> (.*?)</div>", row_of(html, number)) for number in (1, 2, 3, 4, 6)]
    assert said[0][1] == ("3", "first movement")
    assert said[1] == [("5", "dance steps")]
    assert said[2] == [("7&amp;", "toss right")]
    assert said[3] == [] and ("8", "last movement") in said[4]
    assert [html.count(f"</b> {what}</div>") for what in ("dance steps", "first movement")] == [1, 1]


def test_steps_go_from_count_to_count_and_are_cut_at_the_ends_of_a_line():
    html = sheet_page(full())
    found = [re.findall(r'class="wide" style="left:([\d.]+)%;width:([\d.]+)%', row_of(html, k)) for k in (1, 2, 3, 4)]
    assert found == [[], [("50.00", "50.00")], [("0.00", "100.00")], [("0.00", "25.00")]]
    counts = CountMap(0.5 * np.arange(24), ((0, 12), (12, 12)))
    steps = make_sheet(routine(steps=(Steps(Position(1, 5), Position(1, 11)),)), counts, 12.0, load)
    assert re.findall(r'class="wide" style="left:([\d.]+)%;width:([\d.]+)%', sheet_page(steps)) == [
        ("50.00", "50.00"), ("0.00", "25.00"),
    ]  # fmt: skip


def test_remarks_and_titles_are_escaped():
    made = routine(notes="a < b & c", remarks=(Remark(1, "<i>wait</i> & see"),))
    html = sheet_page(make_sheet(made, COUNTS, DURATION, load))
    assert "<i>wait" not in html and "&lt;i&gt;wait&lt;/i&gt; &amp; see" in html
    assert '<p class="about">a &lt; b &amp; c</p>' in html
    assert html.count("Invented &amp; made up") == 2


def test_what_a_drill_calls_its_moments_and_hands_is_escaped():
    moment = Moment(0.0, 'low "<b>" & on')
    drill = replace(load("clubs_mills", False), title="<i>", pattern=Pattern(2.0, (), (Hand("<u>", (moment,)),)))
    made = make_sheet(routine(laid=(Laid("x", Position(2, 1), 1),)), COUNTS, DURATION, lambda name, mirrored: drill)
    html = sheet_page(made)
    assert 'title="low &quot;&lt;b&gt;&quot; &amp; on"' in html
    assert not any(tag in html for tag in ("<b>&quot;", '"<b>"', "<i>", "<u>"))
