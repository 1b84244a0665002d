"""Routine files: every problem at once, music that moved or changed noticed."""

import pytest

from tempo_coach.errors import CoachErrors
from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.counts.count_map import Position
from tempo_coach.pattern.routine.routine import Laid, MusicFile, Remark, Routine, RoutineMoment, Steps
from tempo_coach.pattern.routine.routine_file import find_music, read_routine
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import say_error
from tempo_coach.resources import content_hash
from tests.pattern.written import WRITTEN
from tests.refused import refused


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "spring.toml"
    path.write_text(WRITTEN, encoding="utf-8")
    return path


def test_a_routine_is_read_as_it_is_written(written):
    routine = read_routine(written)
    assert routine == Routine(
        title="Ball, spring",
        apparatus="ball",
        music=MusicFile("ball.wav", "00", 118.0),
        corrections=(Correction("one", 12.4), Correction("pause", 30.0, to=33.5)),
        first=Position(1, 3),
        last=Position(12, 8),
        laid=(Laid("ball_bounces", Position(3, 1)),),
        moments=(RoutineMoment("toss", Position(5, 7.5), "right"),),
        steps=(Steps(Position(8, 1), Position(11, 1)),),
        remarks=(Remark(4, "chin up"),),
    )


def test_every_problem_of_a_file_is_said_with_its_line(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(
        """\
title = 3
aparatus = "ball"
kind = "pair"

[music]
tempo_bpm = 300
sha256 = "x"

[[correction]]
do = "mowe"
at = 1

[[correction]]
do = "move"
at = -1

[[correction]]
do = "pause"
at = 2

[[lay]]
drill = "ball_bounces"
eight = 0
count = "x"

[[steps]]
start = { eight = 3 }
end = { eight = 3 }
"""
    )
    with pytest.raises(CoachErrors) as caught:
        read_routine(path)
    said = say_error(caught.value)
    for words in (
        "bad.toml:1: title",
        "bad.toml:2: aparatus: this entry is not known; did you mean apparatus?",
        "bad.toml:3: kind: expected alone or group",
        "music.file: expected the entry file",
        "bad.toml:6: music.tempo_bpm: expected a number from 40 to 240, got 300",
        "bad.toml:10: correction.do: expected level",
        "bad.toml:15: correction.at: expected a number from 0",
        "bad.toml:18: correction.do: correction pause: expected to",
        "bad.toml:23: lay.eight: expected a whole number from 1",
        "bad.toml:24: lay.count: expected a count such as",
        "bad.toml:28: steps.end: expected the steps to end after they start",
    ):
        assert words in said, said


def test_no_file_no_toml_and_a_folder_are_said(tmp_path):
    with refused("no such file"):
        read_routine(tmp_path / "gone.toml")
    with refused("folder"):
        read_routine(tmp_path)
    broken = tmp_path / "broken.toml"
    broken.write_text("title = \n")
    with refused(r"broken\.toml:1"):
        read_routine(broken)


def test_music_that_moved_beside_the_routine_is_found_and_said(tmp_path):
    (tmp_path / "old").mkdir()
    (tmp_path / "ball.wav").write_bytes(b"another one")
    music = tmp_path / "old" / "renamed.wav"
    music.write_bytes(b"the music")
    kept = MusicFile("music/ball.wav", content_hash(music))
    found = find_music(tmp_path / "spring.toml", kept)
    assert found.path == music
    assert found.said == (Reason(Why.MUSIC_MOVED, ("music/ball.wav", "old/renamed.wav")),)


def test_music_that_changed_is_said_and_used_and_music_that_is_gone_is_an_error(tmp_path):
    music = tmp_path / "ball.wav"
    music.write_bytes(b"the music")
    routine = tmp_path / "spring.toml"
    assert find_music(routine, MusicFile("ball.wav", content_hash(music))).said == ()
    assert find_music(routine, MusicFile("ball.wav", "00")).said == (Reason(Why.MUSIC_CHANGED, (music,)),)
    with refused("the music is gone"):
        find_music(routine, MusicFile("other.wav", "00"))
