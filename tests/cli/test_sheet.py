"""A routine's file as a count sheet."""

import re

import pytest

from tempo_coach.cli import main


@pytest.fixture
def routine(tmp_path, music):
    path = tmp_path / "ball.toml"
    path.write_text(
        f'title = "Ball, invented"\n[music]\nfile = "{music.as_posix()}"\n[[lay]]\ndrill = "clubs_mills"\neight = 2\n'
    )
    return path


def test_the_sheet_is_written_as_a_page_and_shown_as_text(routine, tmp_path, capsys):
    out = tmp_path / "sheet.html"
    assert main(["sheet", str(routine), "--out", str(out)]) == 0
    assert out.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert main(["sheet", str(routine), "--out", str(out)]) == 1
    assert "not overwritten" in capsys.readouterr().err
    assert main(["sheet", str(routine)]) == 0
    told = capsys.readouterr().out
    assert "Ball, invented" in told and re.search(r"pause of 2\.[45] s", told) and "◆" in told


def test_a_wrong_ending_and_a_drill_that_is_not_there_are_said(routine, tmp_path, capsys):
    assert main(["sheet", str(routine), "--out", str(tmp_path / "sheet.docx")]) == 1
    assert "ends in .html, .htm, .txt" in capsys.readouterr().err
    routine.write_text(routine.read_text().replace("clubs_mills", "clubs_mils"))
    assert main(["sheet", str(routine)]) == 1
    assert "did you mean clubs_mills" in capsys.readouterr().err


def test_the_head_has_what_is_given_and_lines_for_the_rest(routine, tmp_path, capsys):
    out = tmp_path / "sheet.html"
    assert main(["sheet", str(routine), "--out", str(out), "--gymnast", "Ada <b>", "--season", "spring"]) == 0
    page = out.read_text(encoding="utf-8")
    assert "<dd>Ada &lt;b&gt;</dd>" in page and "<dd>spring</dd>" in page and "<dt>club</dt><dd></dd>" in page
    assert main(["sheet", str(routine), "--club", "x"]) == 2
    assert "no use" in capsys.readouterr().err


def test_the_sheet_is_printed_with_its_head_and_nothing_is_replaced_unasked(routine, tmp_path, capsys, monkeypatch):
    printed = []
    monkeypatch.setattr("tempo_coach.report.pages.page.check_browser", lambda: "a browser")
    monkeypatch.setattr("tempo_coach.report.pages.page.print_page", lambda html, pdf: printed.append((html, pdf)))
    pdf = tmp_path / "sheet.pdf"
    assert main(["sheet", str(routine), "--pdf", str(pdf), "--club", "Invented"]) == 0
    assert "Invented" in printed[0][0] and printed[0][1] == pdf and not capsys.readouterr().out
    pdf.write_bytes(b"mine")
    assert main(["sheet", str(routine), "--pdf", str(pdf)]) == 1 and len(printed) == 1
    assert "sheet.pdf" in capsys.readouterr().err
