"""A routine's file held against a table of rules."""

import json

import pytest

from tempo_coach.cli import main
from tempo_coach.resources import content_hash

ROUTINE = """\
title = "Ball, invented"
apparatus = "ball"

[music]
file = "{file}"
sha256 = "{hash}"

[movement]
first = {{ eight = 1 }}
last = {{ eight = {last}, count = 8 }}
"""


@pytest.fixture
def routine(tmp_path, music):
    path = tmp_path / "ball.toml"

    def write(*, last=18, file=None, digest=None):
        text = ROUTINE.format(file=file or music.as_posix(), hash=digest or content_hash(music), last=last)
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_a_routine_is_measured_from_first_to_last_movement(routine, invented, capsys):
    assert main(["check", str(routine()), "--json"]) == 0
    checked = json.loads(capsys.readouterr().out)
    length = checked["findings"][0]
    assert length["what"] == "length"
    assert length["seconds"] == pytest.approx(invented.beats[-1] - invented.beats[0], abs=0.05)
    assert checked["ok"] is True
    assert main(["check", str(routine(last=10))]) == 0
    told = capsys.readouterr().out
    assert "NOT in order" in told and "too short" in told and "code in force" in told


def test_tables_are_listed_with_their_sources(capsys):
    assert main(["check", "--list"]) == 0
    told = capsys.readouterr().out
    assert "until_2024" in told and "source:" in told and "code in force" in told


def test_a_changed_file_and_a_last_eight_behind_the_music_are_said(routine, capsys):
    assert main(["check", str(routine(last=40, digest="00"))]) == 0
    said = capsys.readouterr().err
    assert "the music has changed since its counts were set" in said
    assert "the last movement is set on eight 40" in said and "which ends at" in said


def test_music_that_is_gone_and_a_table_that_is_not_there_are_said(routine, capsys):
    assert main(["check", str(routine(file="gone.wav"))]) == 1
    assert "the music is gone" in capsys.readouterr().err
    assert main(["check", str(routine()), "--code", "until_2042"]) == 1
    assert "did you mean until_2024" in capsys.readouterr().err
    assert main(["check"]) == 2
    assert "expected a routine's file" in capsys.readouterr().err


def test_a_table_that_is_none_is_refused_before_the_music_is_heard(routine, capsys):
    assert main(["check", str(routine()), "--code", "nope"]) == 1
    said = capsys.readouterr().err
    assert said.startswith("tempo-coach: nope: ") and said.count("\n") == 1
