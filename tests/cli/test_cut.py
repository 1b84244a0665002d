"""Music cut on the command line, in each format."""

import json

import pytest

from tempo_coach.cli import main
from tempo_coach.music.files.sound_file import read_sound


@pytest.fixture
def cut(music, tmp_path):
    return lambda *words: main(["cut", str(music), "--keep", "1-3", "9-10", *map(str, words)])


def test_length_is_held_against_the_rule_and_joints_are_told(cut, tmp_path, capsys):
    assert cut() == 0
    told = capsys.readouterr().out
    assert "s too short" in told and "joint at" in told and "Check the code" in told
    assert list(tmp_path.iterdir()) == []
    assert cut("--json", "--kind", "group") == 0
    values = json.loads(capsys.readouterr().out)
    assert values["beyond_rule"][0] < 0 and len(values["joints"]) == 1 and len(values["pieces"]) == 3


@pytest.mark.parametrize(("ending", "frame"), [(".wav", 1), (".flac", 1), (".ogg", 1), (".mp3", 1152), (".m4a", 1024)])
def test_it_is_as_long_as_asked_in_every_format(music, tmp_path, capsys, ending, frame):
    out = tmp_path / f"short{ending}"
    words = ["cut", str(music), "--keep", "1-2", "--out", str(out), "--title", "Ball, invented", "--json"]
    assert main(words) == 0
    asked = json.loads(capsys.readouterr().out)["duration"]
    sound = read_sound(out)
    assert abs(len(sound.samples) - asked * sound.rate_hz) <= frame
    assert b"Ball, invented" in out.read_bytes()
    assert (tmp_path / "short.toml").exists()
    assert main(words) == 1
    assert "not overwritten" in capsys.readouterr().err


def test_bad_words_are_told(cut, tmp_path, music, capsys):
    for words in (("--loudness", "loud"), ("--fade", "2"), ("--silence", "99")):
        assert cut(*words) == 2, words
    assert cut("--out", tmp_path / "x.aac") == 1
    assert main(["cut", str(music), "--keep", "4-2"]) == 1
    assert "ends before it starts" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
