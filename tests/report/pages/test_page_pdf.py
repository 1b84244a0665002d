"""Pages printed by a browser that is there, and what is said where none is."""

import re
import shutil
import subprocess

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.report.pages import page as pages
from tempo_coach.report.pages.take import take_page
from tempo_coach.report.words.errors import message_of
from tempo_coach.score.card import judge
from tests.conftest import skip_for_missing_part
from tests.history.season import make_take
from tests.refused import refused


def test_a_page_printed_by_a_browser_is_a4(tmp_path):
    if pages.find_browser() is None:
        skip_for_missing_part("a browser that prints")
    path = tmp_path / "take.pdf"
    pages.print_page(take_page(judge(make_take(1))), path)
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
    if pages.find_browser() is None:
        skip_for_missing_part("a browser that prints")
    card = judge(make_take(1))
    page = take_page(card)
    assert "<details>" in page
    pages.print_page(page, tmp_path / "take.pdf")
    done = subprocess.run([reader, "-layout", tmp_path / "take.pdf", "-"], capture_output=True, text=True, check=True)
    rows = [line.split() for line in done.stdout.splitlines()]
    first = card.cycles[0]
    assert any(f"{1000 * first.period:.0f}" in row and f"{100 * first.ratio:.1f}" in row for row in rows)
    assert any(f"{1000 * first.asynchronies[0]:+.0f}" in row for row in rows)


def test_without_a_browser_it_says_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setattr(pages, "find_browser", lambda: None)
    with refused(r"no browser.*print it from there"):
        pages.print_page("<p>", tmp_path / "a.pdf")
    broken = tmp_path / "browser"
    broken.write_text("#!/bin/sh\necho it broke >&2\nexit 1\n")
    broken.chmod(0o755)
    monkeypatch.setattr(pages, "find_browser", lambda: str(broken))
    with refused("could not print the page: it broke"):
        pages.print_page("<p>", tmp_path / "a.pdf")
    assert not (tmp_path / "a.pdf").exists()


@pytest.fixture
def browser(tmp_path, monkeypatch):
    """A stand-in that runs the script that it is given in place of a browser."""
    path = tmp_path / "browser"

    def make(script):
        path.write_text(f"#!/bin/sh\n{script}\n")
        path.chmod(0o755)
        monkeypatch.setattr(pages, "find_browser", lambda: str(path))

    return make


#: Finds the file that it is to print to, and the page, among its words.
TO = 'for word; do case "$word" in --print-to-pdf=*) to="${word#*=}";; file://*) page="${word#file://}";; esac; done'


def test_what_the_browser_prints_replaces_the_file_even_where_it_complains(tmp_path, browser):
    browser(f'{TO}; echo much >&2; {{ printf %s %PDF-; cat "$page"; }} >"$to"; exit 3')
    (tmp_path / "a.pdf").write_text("old and longer than what is new" * 9)
    pages.print_page("<p>Zoë", tmp_path / "a.pdf")
    assert (tmp_path / "a.pdf").read_text(encoding="utf-8") == "%PDF-<p>Zoë"


@pytest.mark.parametrize(
    ("script", "said"),
    [
        ("exit 0", "could not print the page: it wrote nothing"),
        (f'{TO}; echo "<p>" >"$to"; echo first >&2; echo last >&2', "could not print the page: last"),
        ("printf '%0300d' 0 >&2", "could not print the page: 0{200}$"),
    ],
)
def test_what_is_no_pdf_is_said_with_the_last_word_of_the_browser(tmp_path, browser, script, said):
    browser(script)
    (tmp_path / "a.pdf").write_text("kept")
    with pytest.raises(CoachError) as error:
        pages.print_page("<p>", tmp_path / "a.pdf")
    assert re.search(said, message_of(error.value))
    assert (tmp_path / "a.pdf").read_text() == "kept"


def test_a_browser_that_does_not_finish_or_is_none_is_said(tmp_path, browser, monkeypatch):
    browser("exec sleep 30")
    monkeypatch.setattr(pages, "PATIENCE", 0.05)
    with refused("it did not finish in 0 s"):
        pages.print_page("<p>", tmp_path / "a.pdf")
    monkeypatch.setattr(pages, "find_browser", lambda: str(tmp_path / "none"))
    with refused("none could not print the page: No such file"):
        pages.print_page("<p>", tmp_path / "a.pdf")


def test_where_the_file_cannot_be_written_it_is_named(tmp_path, browser):
    browser(f'{TO}; printf %s %PDF >"$to"')
    with refused("cannot be written") as error:
        pages.print_page("<p>", tmp_path / "none" / "a.pdf")
    assert error.value.where == str(tmp_path / "none" / "a.pdf")


def test_a_browser_in_the_path_comes_first_then_where_systems_put_one(tmp_path, monkeypatch):
    monkeypatch.setattr(pages.shutil, "which", lambda name: None)
    monkeypatch.setattr(pages, "PLACES", (str(tmp_path / "none"), str(tmp_path / "there")))
    assert pages.find_browser() is None
    (tmp_path / "there").write_text("")
    assert pages.find_browser() == str(tmp_path / "there")
    monkeypatch.setattr(pages.shutil, "which", lambda name: f"/bin/{name}" if name in pages.BROWSERS[1:3] else None)
    assert pages.find_browser() == f"/bin/{pages.BROWSERS[1]}"
