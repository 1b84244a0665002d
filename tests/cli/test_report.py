"""``tempo-coach report``: a page of a take, an athlete, a group."""

import json

import pytest

from tempo_coach.cli import main
from tempo_coach.history.data_folder import FILE_VARIABLE
from tempo_coach.history.takes import History
from tests.history.season import put


@pytest.fixture
def run(capsys, tmp_path, monkeypatch):
    file = tmp_path / "history.sqlite"
    monkeypatch.setenv(FILE_VARIABLE, str(file))
    with History(file) as history:
        for seed in range(1, 7):
            put(history, seed, athlete="Ada", begun=f"2031-05-{seed:02d}T18:00", note=f"note {seed}")

    def run_with(*words):
        code = main([str(word) for word in words])
        caught = capsys.readouterr()
        return code, caught.out, caught.err

    return run_with


def test_a_take_of_the_history(run, tmp_path):
    out = tmp_path / "take.html"
    code, said, _ = run("report", 3, "--out", out)
    assert (code, said.strip()) == (0, str(out))
    page = out.read_text(encoding="utf-8")
    assert "Ada, 2031-05-03 18:00" in page
    assert "note 3" in page
    code, _, err = run("report", 3, "--out", out)
    assert code == 1
    assert "is not overwritten" in err


def test_an_athlete_over_time(run, tmp_path):
    out = tmp_path / "ada.html"
    assert run("report", "--athlete", "Ada", "--out", out)[0] == 0
    assert "6 takes in 6 sessions" in out.read_text(encoding="utf-8")


def test_a_group_of_one_table(run, tmp_path):
    table, out = tmp_path / "clapping.csv", tmp_path / "group.html"
    rows = [(k * 0.5 + late, name) for k in range(16) for name, late in (("Ada", 0), ("Bea", 0.05))]
    table.write_text("time,member\n" + "".join(f"{time},{name}\n" for time, name in rows))
    options = ("--tempo", 120, "--group", "--title", "Squad", "--out", out)
    assert run("report", table, *options)[0] == 0
    page = out.read_text(encoding="utf-8")
    assert "<h1>Squad</h1>" in page
    assert "2 members" in page


def test_a_name_in_the_place_of_a_take_is_told_how_to_be_given(run, tmp_path):
    code, _, err = run("report", "Ada", "--out", tmp_path / "x.html")
    assert (code, err.count("\n")) == (1, 1)
    assert "report --athlete Ada" in err
    assert "report --athlete NAME" in run("report", "gone.jsonl", "--out", tmp_path / "x.html")[2]
    assert list(tmp_path.glob("*.html")) == []


def test_the_figures_of_the_page_are_those_of_the_json(run, tmp_path):
    out = tmp_path / "take.html"
    assert run("report", 2, "--out", out)[0] == 0
    card = json.loads(run("history", "--show", 2, "--json")[1])["scorecard"]
    page = out.read_text(encoding="utf-8")
    assert f"{card['spread_ms']:.0f} ms" in page
    assert f"{card['period_cv_pct']:.1f} %" in page
    for cycle in card["cycles"]:
        if cycle["period_ms"] is not None:
            assert f"<td>{cycle['period_ms']:.0f}</td>" in page


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((1,), "expected a file to write"),
        (("--out", "{}/a.html"), "expected one thing to report on"),
        ((1, "--athlete", "Ada", "--out", "{}/a.html"), "expected one thing to report on"),
        ((1, 2, "--out", "{}/a.html"), "add --group if they are a group"),
        ((99, "--out", "{}/a.html"), "there is no take 99"),
        (("{}/gone.take.jsonl", "--out", "{}/a.html"), "there is no such file"),
        (("--athlete", "Adda", "--out", "{}/a.html"), "did you mean Ada?"),
        (("--athlete", "Ada", "--drill", "other", "--out", "{}/a.html"), "there is no such take of Ada"),
        ((1, "--out", "{}/none/a.html"), "there is no such folder"),
    ],
)
def test_what_cannot_be_had_is_said(run, tmp_path, words, said):
    code, out, err = run("report", *(str(word).format(tmp_path) for word in words))
    assert (code, out) == (1, "")
    assert said in err
