"""Pages printed by a browser that is there, and what is said where none is."""

import re
import shutil
import subprocess

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.report import pdf
from tempo_coach.report.take_page import take_page
from tempo_coach.score.card import judge
from tests.conftest import skip_for_missing_part
from tests.history.season import make_take


def test_a_page_printed_by_a_browser_is_a4(tmp_path):
    if pdf.find_browser() is None:
        skip_for_missing_part("a browser that prints")
    path = tmp_path / "take.pdf"
    pdf.print_page(take_page(judge(make_take(1))), path)
    made = path.read_bytes()
    assert made.startswith(b"%PDF")
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", made)
    assert boxes
    for wide, high in boxes:  # ISO 216: 210 mm by 297 mm, at 72 points an inch
        assert float(wide) == pytest.approx(210 / 25.4 * 72, abs=1)
        assert float(high) == pytest.approx(297 / 25.4 * 72, abs=1)


def test_the_tables_behind_the_pictures_are_printed_though_they_are_closed(tmp_path):
    """Poppler, which knows nothing of this program, reads what is printed."""
    reader = shutil.which("pdftotext")
    if reader is None:
        pytest.skip("pdftotext is not here")
    if pdf.find_browser() is None:
        skip_for_missing_part("a browser that prints")
    card = judge(make_take(1))
    page = take_page(card)
    assert "<details>" in page
    pdf.print_page(page, tmp_path / "take.pdf")
    done = subprocess.run([reader, "-layout", tmp_path / "take.pdf", "-"], capture_output=True, text=True, check=True)
    rows = [line.split() for line in done.stdout.splitlines()]
    first = card.cycles[0]
    assert any(f"{1000 * first.period:.0f}" in row and f"{100 * first.ratio:.1f}" in row for row in rows)
    assert any(f"{1000 * first.asynchronies[0]:+.0f}" in row for row in rows)


def test_without_a_browser_it_says_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setattr(pdf, "find_browser", lambda: None)
    with pytest.raises(CoachError, match=r"no browser.*print it from there"):
        pdf.print_page("<p>", tmp_path / "a.pdf")
    broken = tmp_path / "browser"
    broken.write_text("#!/bin/sh\necho it broke >&2\nexit 1\n")
    broken.chmod(0o755)
    monkeypatch.setattr(pdf, "find_browser", lambda: str(broken))
    with pytest.raises(CoachError, match="could not print the page: it broke"):
        pdf.print_page("<p>", tmp_path / "a.pdf")
    assert not (tmp_path / "a.pdf").exists()
