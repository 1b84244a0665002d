"""``tempo-coach history`` and ``forget`` by commands alone."""

import csv
import json

import numpy as np
import pytest

from tempo_coach.cli import main
from tempo_coach.history.data_folder import FILE_VARIABLE
from tempo_coach.history.takes import History
from tempo_coach.observe.take.take_writer import TakeWriter
from tests.history.season import lay, make_take, put


@pytest.fixture
def run(capsys):
    def run_with(*words):
        code = main([str(word) for word in words])
        caught = capsys.readouterr()
        return code, caught.out, caught.err

    return run_with


@pytest.fixture
def file(tmp_path, monkeypatch):
    path = tmp_path / "data" / "history.sqlite"
    monkeypatch.setenv(FILE_VARIABLE, str(path))
    return path


@pytest.fixture
def season(file):
    with History(file) as history:
        for seed in range(1, 9):
            put(history, seed, athlete=("Ada", "Bea")[seed > 6], begun=f"2031-05-{seed:02d}T18:00", note=f"note {seed}")
    return file


def test_without_a_take_it_says_so_and_makes_nothing(file, run):
    code, out, err = run("history")
    assert (code, out) == (1, "")
    assert "there is no history yet" in err
    assert not file.parent.exists()


def test_the_list_and_its_filters(season, run):
    code, out, _ = run("history")
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert "8 of 8 takes" in out
    code, out, _ = run("history", "--athlete", "Bea", "--json")
    assert [row["athlete"] for row in json.loads(out)] == ["Bea", "Bea"]
    code, out, _ = run("history", "--since", "2031-05-03", "--until", "2031-05-04", "--json")
    assert [row["begun"][:10] for row in json.loads(out)] == ["2031-05-03", "2031-05-04"]
    code, out, _ = run("history", "--words", "bea 08", "--json")
    assert [row["number"] for row in json.loads(out)] == [8]
    code, out, _ = run("history", "--last", 1, "--json")
    assert [row["number"] for row in json.loads(out)] == [8]
    code, out, _ = run("history", "--athletes", "--json")
    assert [(each["name"], each["takes"]) for each in json.loads(out)] == [("Ada", 6), ("Bea", 2)]


def test_a_table_for_other_programs(season, run, tmp_path):
    path = tmp_path / "takes.csv"
    code, _, _ = run("history", "--csv", path)
    assert code == 0
    with path.open(newline="", encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert len(rows) == 8
    assert float(rows[0]["spread_ms"]) > 0
    code, _, err = run("history", "--csv", path)
    assert code == 1
    assert "is not overwritten" in err
    assert run("history", "--csv", path, "--force")[0] == 0


def test_one_take_whole(season, run):
    code, out, _ = run("history", "--show", 3)
    assert code == 0
    assert "Take 3, Ada, 2031-05-03 18:00" in out
    assert "note 3" in out
    assert max(map(len, out.splitlines())) <= 80
    code, out, _ = run("history", "--show", 3, "--json")
    whole = json.loads(out)
    assert whole["scorecard"]["n"] == 16
    assert len(whole["onsets"]) == 16
    code, _, err = run("history", "--show", 99)
    assert (code, "there is no take 99" in err) == (1, True)


def test_how_it_goes_on(season, run):
    code, out, _ = run("history", "--athlete", "Ada", "--trend")
    assert code == 0
    assert "6 takes in 6 sessions" in out
    code, out, _ = run("history", "--athlete", "Ada", "--trend", "--json")
    values = json.loads(out)
    assert [each["measure"] for each in values["progress"]] == ["spread_ms", "bias_ms", "period_cv_pct"]
    assert len(values["sessions"]) == 6
    code, _, err = run("history", "--trend")
    assert code == 1
    assert "expected takes of one athlete, found Ada, Bea" in err


def test_a_note_and_scoring_again(season, run):
    assert run("history", "--note", 2, "good day")[0] == 0
    code, out, _ = run("history", "--show", 2)
    assert "good day" in out
    with History(season) as history:  # as if another version had judged it
        old = {**history.take(2).card, "sentence": "Said by an older version."}
        history.put_card(2, old, steady=True, made="2031-06-01")
    assert "Said by an older" in run("history", "--show", 2, "--json")[1]
    code, out, _ = run("history", "--rescore")
    assert code == 0
    assert "8 takes judged again; scorecards that changed: 1" in out
    assert "Said by an older" not in run("history", "--show", 2, "--json")[1]
    code, out, _ = run("history", "--rescore")
    assert "8 takes judged again; scorecards that changed: 0" in out
    code, out, _ = run("history", "--show", 2)
    assert "2 older scorecards are kept" in out


def test_processes_judge_as_one_does(season, run):
    with History(season) as history:
        for number in (2, 5):
            old = {**history.take(number).card, "sentence": "Said by an older version."}
            history.put_card(number, old, steady=True, made="2031-06-01")
    assert "scorecards that changed: 2" in run("history", "--rescore", "--jobs", 2)[1]
    assert "scorecards that changed: 0" in run("history", "--rescore")[1]


def test_backup_check_and_restore(season, run, tmp_path):
    backup = tmp_path / "backup"
    assert run("history", "--backup", backup)[0] == 0
    code, _, err = run("history", "--backup", backup)
    assert code == 1
    assert "is not overwritten" in err
    assert run("forget", "Ada", "--yes")[0] == 0
    code, out, _ = run("history", "--restore", backup)
    assert code == 0
    assert "what was there is kept as" in out
    assert run("history", "--check")[1].strip().endswith("whole")
    assert "8 of 8 takes" in run("history")[1]


def test_forgetting_shows_what_goes_and_asks(season, run, monkeypatch):
    code, out, err = run("forget", "Ada")
    assert code == 1
    assert "6 takes with 96 onsets, 2031-05-01 to 2031-05-06" in out
    assert "Nothing was removed" in err
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    for typed, removed in (("no\n", False), ("Ada\n", True)):
        monkeypatch.setattr("sys.stdin.readline", lambda typed=typed: typed)
        code, _, err = run("forget", "Ada")
        assert (code == 0) is removed
    assert "Ada is forgotten" in err
    code, _, err = run("forget", "Ada", "--yes")
    assert code == 1
    assert "there is no athlete 'Ada'" in err
    assert "2 of 2 takes" in run("history")[1]


def test_takes_that_practise_wrote_are_taken_in(file, run, tmp_path):
    path = tmp_path / "a.take.jsonl"
    take = make_take(1)
    writer = TakeWriter(path, lay(), observed_by="tap", begun="2031-05-04T18:15:02", player="nothing")
    writer.finish(list(zip(take.onsets.time.tolist(), take.onsets.hand, strict=True)), how="passage")
    code, out, _ = run("history", "--take-in", path, "--athlete", "Zoë")
    assert code == 0
    assert "take 1 of Zoë" in out
    assert "take 1 of Zoë" in run("history", "--take-in", path, "--athlete", "Zoë")[1]  # not twice
    code, out, _ = run("forget", "Zoë", "--yes", "--json")
    assert json.loads(out)["files"] == [str(path)]
    assert not path.exists()


def test_a_folder_is_no_history(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for words in (["history"], ["forget", "Ada"], ["report", "1", "--out", "x.html"], ["history", "--check"]):
        for folder in (".", "..", "/"):
            assert main([*words, "--file", folder]) == 1
            assert "found a folder" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--since", "yesterday"), "--since: expected a day"),
        (("--athlete", "Adda"), "did you mean Ada?"),
        (("--note", 1, " "), "expected a note"),
        (("--athlete", "Ada", "--drill", "other", "--trend"), "no take is like that"),
    ],
)
def test_what_cannot_be_had_is_said(season, run, words, said):
    code, out, err = run("history", *words)
    assert (code, out) == (1, "")
    assert said in err


def test_a_table_that_is_scored_can_be_kept(file, run, tmp_path):
    plan = tmp_path / "plan.json"
    assert run("cue", "clubs_mills", "--tempo", 100, "--plan", plan)[0] == 0
    moments = json.loads(plan.read_text())["moments"]
    table = tmp_path / "onsets.csv"
    table.write_text("time,hand\n" + "".join(f"{m['time'] + 0.02:.4f},{m['hand']}\n" for m in moments))
    options = ("--keep", "Zoë", "--begun", "2031-05-04T18:15", "--routine", "Spring", "--note", "first try")
    code, out, err = run("score", table, "--plan", plan, "--json", *options)
    assert code == 0
    assert "Kept as take 1 of Zoë" in err
    kept = json.loads(run("history", "--show", 1, "--json")[1])
    assert kept["scorecard"] == json.loads(out)
    assert (kept["athlete"], kept["routine"], kept["begun"]) == ("Zoë", "Spring", "2031-05-04T18:15:00")
    assert [note["text"] for note in kept["notes"]] == ["first try"]
    code, _, err = run("score", table, "--plan", plan, "--keep", " ")
    assert code == 1
    assert "expected a name" in err


def test_the_card_is_there_where_the_take_cannot_be_kept(file, run, tmp_path):
    plan, table = tmp_path / "plan.json", tmp_path / "onsets.csv"
    assert run("cue", "clubs_mills", "--tempo", 100, "--plan", plan)[0] == 0
    moments = json.loads(plan.read_text())["moments"]
    table.write_text("time,hand\n" + "".join(f"{m['time'] + 0.02:.4f},{m['hand']}\n" for m in moments))
    file.parent.write_text("a file where the folder should be")
    code, out, err = run("score", table, "--plan", plan, "--json", "--keep", "Zoë")
    assert code == 1
    assert json.loads(out)["n"] == len(moments)
    assert "cannot be made" in err


def test_a_trace_that_was_fitted_is_judged_the_same_again(file, run, tmp_path):
    plan, table = tmp_path / "plan.json", tmp_path / "trace.csv"
    assert run("cue", "rope_figure_eight", "--tempo", 90, "--plan", plan)[0] == 0
    moments = [m["time"] for m in json.loads(plan.read_text())["moments"]]
    time = np.arange(0, moments[-1] + 1, 0.01)
    turns = 2 * np.pi * np.interp(time, moments, np.arange(len(moments)), left=-1)
    turns = np.where(time < moments[0], 2 * np.pi * (time - moments[0]) / (moments[1] - moments[0]), turns)
    rows = np.column_stack([time, np.sin(turns), -np.cos(turns)]).round(5).tolist()
    table.write_text("time_s,x_m,y_m\n" + "".join(f"{t},{x},{y}\n" for t, x, y in rows))
    code, out, err = run("score", table, "--plan", plan, "--json", "--keep", "Ada", "--begun", "2031-05-04")
    assert code == 0, err
    assert json.loads(out)["bias_ms"] is None
    assert "scorecards that changed: 0" in run("history", "--rescore")[1]
