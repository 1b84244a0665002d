"""``tempo-coach today``, ``goal`` and the pages of a season."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest

from tempo_coach.cli import main
from tempo_coach.history.takes import History
from tests.history.season import make_take, put, said_of


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "history.sqlite"
    with History(path) as history:
        for ago in range(60, 0, -2):
            begun = f"{date.today() - timedelta(days=ago)}T18:00:00"
            for name in ("Ada", "<Bea>"):
                put(history, ago, begun=begun, athlete=name)
                other = make_take(ago, drill="rope_figure_eight")
                history.put(other, {**said_of(3), "scatter_pct": 2 + ago / 7}, athlete=name, begun=begun, steady=False)
    return path


def run(file, *words):
    return main([*words, "--file", str(file)])


def test_the_list_of_today(file, capsys):
    assert run(file, "today", "--athlete", "a", "--minutes", "10", "--list") == 0
    told = capsys.readouterr().out
    assert told.startswith("Ada, ") and "warm-up:" in told and "block 2:" in told and "last one:" in told
    assert "Mind: " in told  # clubs hurt: what the drill warns of stands under its list
    assert max(map(len, told.splitlines())) <= 80
    assert run(file, "today", "--athlete", "Ada", "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["minutes"] == 10 and said["items"][0]["part"] == "warm-up"


def test_a_group_on_one_page(file, tmp_path, capsys):
    out = tmp_path / "today.html"
    assert run(file, "today", "--group", "Ada", "--group", "<Bea>", "--out", str(out)) == 0
    page = out.read_text()
    assert "&lt;Bea&gt;" in page and "<Bea>" not in page and page.count("□") >= 8
    assert run(file, "today", "--group", "Ada", "--group", "<Bea>") == 0
    assert capsys.readouterr().out.count("warm-up:") == 2


@pytest.mark.parametrize("words", [["--minutes", "5"], ["--group", "Ada", "--group", "Ada"]])
def test_what_cannot_be_is_a_sentence(file, capsys, words):
    assert run(file, "today", *words) == 1
    assert "Traceback" not in capsys.readouterr().err


def test_goals(file, capsys):
    by = (date.today() + timedelta(days=30)).isoformat()
    assert run(file, "goal", "clubs_mills", "--athlete", "Ada", "--tempo", "112", "--cues", "ones", "--by", by) == 0
    assert run(file, "goal", "--athlete", "Ada") == 0
    told = capsys.readouterr().out
    assert "even at 112 with the ones only by" in told and "weeks left" in told
    assert run(file, "goal", "--athlete", "Ada", "--json") == 0
    assert json.loads(capsys.readouterr().out)[0]["outlook"] in ("on the way", "not", "cannot tell")
    assert run(file, "goal", "clubs_mills", "--tempo", "112", "--by", "2001-01-01", "--athlete", "Ada") == 1
    assert "expected a day to come" in capsys.readouterr().err
    assert run(file, "goal", "clubs_mills", "--tempo", "112", "--by", "soon", "--athlete", "Ada") == 1
    assert run(file, "goal", "clubs_mills", "--athlete", "Ada") == 2
    assert run(file, "goal", "--drop", "clubs_mills", "--athlete", "Ada") == 0


def test_one_page_for_the_gymnast_has_three_sentences_and_one_picture(file, tmp_path):
    out = tmp_path / "ada.html"
    assert run(file, "report", "--gymnast", "Ada", "--out", str(out)) == 0
    page = out.read_text()
    assert page.count('class="say"') == 3 and page.count("<svg") == 1
    for begin in ("Better: “", "To work on: ", "Next: "):
        assert begin in page
    for word in ("/10", "Bea", "score"):
        assert word not in page.split("</style>")[1]


def test_a_table_for_the_coach_has_everybody_or_one(file, tmp_path):
    both, one = tmp_path / "all.html", tmp_path / "ada.html"
    assert run(file, "report", "--table", "--out", str(both)) == 0
    assert run(file, "report", "--table", "--athlete", "Ada", "--out", str(one)) == 0
    assert "&lt;Bea&gt;" in both.read_text() and "Bea" not in one.read_text()
    assert both.read_text().count("<tbody>") == 2 * one.read_text().count("<tbody>") == 2


def test_of_nobody_there_is_no_page(file, tmp_path, capsys):
    assert run(file, "report", "--gymnast", "Nobody", "--out", str(tmp_path / "x.html")) == 1
    assert "there is no athlete" in capsys.readouterr().err
    assert not (tmp_path / "x.html").exists()
