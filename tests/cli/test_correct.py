"""``tempo-coach correct`` and ``share``."""

from __future__ import annotations

import json

import pytest

from tempo_coach.cli import main
from tempo_coach.history.forget import find_going, forget
from tempo_coach.history.roster import Person, file_of, people_folder, save_person
from tempo_coach.history.takes import History
from tests.history.season import put


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "history.sqlite"
    with History(path) as history:
        for seed in (1, 2):
            put(history, seed, begun=f"2031-05-0{seed}", note="=1+1")
    return path


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["1", "--to", "Bea"], "Take 1 is Bea's"),
        (["1", "--not-counting", "fell"], "does not count any more"),
        (["1", "--counting"], "counts again"),
        (["1", "--remove"], "is removed"),
        (["1", "--drill", "clubs_mills_overhead"], "Take 1 is of Clubs: mills overhead"),
        (["1", "--eight", "4"], "begins with eight 4"),
        (["1", "--note", "better"], "is changed"),
    ],
)
def test_a_take_is_put_right_and_back(file, capsys, words, told):
    assert main(["correct", *words, "--file", str(file)]) == 0
    assert told.casefold() in capsys.readouterr().err.casefold()
    assert main(["correct", "--undo", "--file", str(file)]) == 0
    assert "as it was" in capsys.readouterr().err
    with History(file, read_only=True) as history:
        assert [(row.number, row.athlete, row.drill, row.reason) for row in history.find()] == [
            (1, "Ada", "clubs_mills", ""),
            (2, "Ada", "clubs_mills", ""),
        ]


@pytest.mark.parametrize("words", [["--to", "Bea"], ["1", "--undo"]])
def test_words_that_do_not_go_together_are_wrong_usage(file, words):
    assert main(["correct", *words, "--file", str(file)]) == 2


def test_what_does_not_count_is_shown_and_left_out_of_the_trend(file, capsys):
    main(["correct", "1", "--not-counting", "fell", "--file", str(file)])
    assert main(["history", "--file", str(file)]) == 0
    assert "× those that do not count" in " ".join(capsys.readouterr().out.split())
    assert main(["history", "--show", "1", "--file", str(file)]) == 0
    assert "It does not count: fell" in capsys.readouterr().out
    assert main(["history", "--trend", "--file", str(file)]) == 0
    assert "1 take in 1 session" in capsys.readouterr().out


def test_one_person_goes_to_another_machine_with_how_she_practises(file, tmp_path, capsys):
    person = Person("Ada", hand="left", minutes=20)
    save_person(people_folder(file), person)
    to, there = tmp_path / "ada.sqlite", tmp_path / "there" / "history.sqlite"
    assert main(["share", "--hand-over", "Ada", "--out", str(to), "--file", str(file)]) == 0
    assert main(["share", "--merge", str(to), "--file", str(there)]) == 0
    assert "2 takes came" in capsys.readouterr().out
    assert file_of(people_folder(there), "Ada").read_text() == file_of(people_folder(file), "Ada").read_text()
    assert main(["share", "--merge", str(to), "--file", str(there), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["takes"], said["known"], said["conflicts"]) == (0, 2, [])


def test_who_was_forgotten_is_said_and_her_file_goes_too(file, tmp_path, capsys):
    save_person(people_folder(file), Person("Ada"))
    main(["share", "--hand-over", "Ada", "--out", str(tmp_path / "ada.sqlite"), "--file", str(file)])
    with History(file) as history:
        going = find_going(history, "Ada")
        assert file_of(people_folder(file), "Ada") in going.files
        forget(history, going)
    assert not file_of(people_folder(file), "Ada").exists()
    capsys.readouterr()
    assert main(["share", "--merge", str(tmp_path / "ada.sqlite"), "--file", str(file)]) == 0
    assert "forgotten here: Ada" in capsys.readouterr().out
    assert main(["share", "--merge", str(tmp_path / "ada.sqlite"), "--again", "Ada", "--file", str(file)]) == 0
    assert "2 takes came" in capsys.readouterr().out


def test_a_merge_with_itself_is_a_sentence(file, capsys):
    assert main(["share", "--merge", str(file), "--file", str(file)]) == 1
    assert "expected another history, found this one" in capsys.readouterr().err


def test_every_line_of_an_export_is_a_whole_take(file, tmp_path, capsys):
    assert main(["share", "--export", str(tmp_path / "all.jsonl"), "--file", str(file)]) == 0
    lines = [json.loads(line) for line in (tmp_path / "all.jsonl").read_text().splitlines()]
    assert [line["number"] for line in lines] == [1, 2]
    assert {"version", "onsets", "plan", "scorecard", "notes", "setup", "reason", "cues"} <= lines[0].keys()
    assert len(lines[0]["onsets"]) == 16 and lines[0]["scorecard"]["n"] == 16
    assert main(["share", "--export", str(tmp_path / "all.jsonl"), "--file", str(file)]) == 1
