"""Beats that were heard before, taken from the cache."""

import numpy as np
import pytest

from tempo_coach.coach import hearing
from tempo_coach.errors import CoachError
from tempo_coach.music.beats import finder, heard_before
from tempo_coach.music.beats.heard_before import find_heard, keep_heard, name_hearing
from tempo_coach.music.files import sound_file
from tempo_coach.music.files.sound_file import write_sound
from tests.generators.workplace import invented_music


@pytest.fixture
def music(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    path = tmp_path / "music.wav"
    write_sound(path, invented_music().sound)
    return path


def same(a, b):
    columns = all(np.array_equal(getattr(a, name), getattr(b, name)) for name in ("times", "bar", "confidence"))
    return columns and (a.rests, a.doubtful, a.duration, a.eights) == (b.rests, b.doubtful, b.duration, b.eights)


def test_music_is_heard_once_whatever_it_is_called(music, monkeypatch):
    first = hearing.hear(music)
    monkeypatch.setattr(finder, "find_beats", None)
    other = music.with_name("other.wav")
    other.write_bytes(music.read_bytes())
    decoded = []
    read = sound_file.read_sound
    monkeypatch.setattr(sound_file, "read_sound", lambda *a, **b: decoded.append(a) or read(*a, **b))
    for path in (music, other):
        again = hearing.hear(path)
        assert same(again.beats, first.beats) and again.duration == first.sound.duration
    # nothing is decoded before somebody asks for the samples, and then once
    assert not decoded
    assert np.array_equal(again.sound.samples, first.sound.samples) and again.sound is again.sound
    assert len(decoded) == 1


def test_other_content_other_hints_and_another_finder_are_heard_anew(music, monkeypatch):
    name = name_hearing(music, {"meter": None})
    assert name == name_hearing(music, {"meter": None}) != name_hearing(music, {"meter": 3})
    music.write_bytes(music.read_bytes()[:-2] + b"xy")
    changed = name_hearing(music, {"meter": None})
    assert changed != name
    monkeypatch.setattr(heard_before, "_finder_hash", lambda: "another version")
    assert name_hearing(music, {"meter": None}) != changed


def test_what_is_kept_comes_back_whole_and_damage_is_no_matter(music, tmp_path):
    beats = hearing.hear(music).beats
    keep_heard("a", beats)
    assert same(find_heard("a"), beats)
    (file,) = (tmp_path / "cache").rglob("a.json")
    for content in (b"", b"{}", b"[1]", b"\xff", file.read_bytes()[:-20], b'{"times": "x"}'):
        file.write_bytes(content)
        assert find_heard("a") is None
    assert find_heard("b") is None


def test_what_was_heard_without_the_network_is_not_kept(music, monkeypatch):
    found = finder.find_beats

    def without(sound, *, warn=None, **hints):
        warn(CoachError("network.no_weights"))
        return found(sound, **hints)

    monkeypatch.setattr(finder, "find_beats", without)
    said = []
    hearing.hear(music, warn=said.append)
    assert [each.code for each in said] == ["network.no_weights"]
    hearing.hear(music, warn=said.append)
    assert len(said) == 2
