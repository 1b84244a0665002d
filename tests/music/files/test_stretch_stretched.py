"""Stretching beside the program: the same samples, kept, and said in one sentence where it fails."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.files import stretch as stretched
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.stretch import stretch, stretch_cached
from tempo_coach.report.words.errors import say_error
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

RATE = 48_000
MUSIC = Sound(np.random.default_rng(2).uniform(-0.5, 0.5, (RATE, 2)).astype(np.float32), RATE)


def test_it_gives_what_the_method_gives_and_keeps_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shares: list[float] = []
    slow = stretch_cached(MUSIC, 0.8, folder=tmp_path, progress=shares.append)
    np.testing.assert_array_equal(slow.samples, stretch(MUSIC, 0.8).samples)
    assert shares == sorted(shares) and shares[-1] == 1 and all(0 <= share <= 1 for share in shares)
    assert len(list(tmp_path.iterdir())) == 1

    def never(*_: object) -> None:
        raise AssertionError("made again")

    monkeypatch.setattr(stretched, "_make", never)
    np.testing.assert_array_equal(stretch_cached(MUSIC, 0.8, folder=tmp_path).samples, slow.samples)


def test_another_speed_or_other_samples_are_made_anew(tmp_path: Path) -> None:
    other = Sound(MUSIC.samples[::-1], RATE)
    made = [
        stretch_cached(MUSIC, 0.8, folder=tmp_path),
        stretch_cached(MUSIC, 0.9, folder=tmp_path),
        stretch_cached(other, 0.8, folder=tmp_path),
    ]
    assert [len(each.samples) for each in made] == [60_000, 53_333, 60_000]
    assert len(list(tmp_path.iterdir())) == 3
    assert not np.array_equal(made[0].samples, made[2].samples)


def test_what_was_kept_and_then_damaged_is_made_again(tmp_path: Path) -> None:
    slow = stretch_cached(MUSIC, 0.8, folder=tmp_path)
    (kept,) = tmp_path.iterdir()
    kept.write_bytes(kept.read_bytes()[:1000])
    np.testing.assert_array_equal(stretch_cached(MUSIC, 0.8, folder=tmp_path).samples, slow.samples)


def test_the_oldest_goes_when_there_is_too_much(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stretch_cached(MUSIC, 0.8, folder=tmp_path)
    (first,) = tmp_path.iterdir()
    monkeypatch.setattr(stretched, "KEPT", 600_000)
    stretch_cached(MUSIC, 0.9, folder=tmp_path)
    assert not first.exists() and len(list(tmp_path.iterdir())) == 1


def test_a_process_that_fails_is_said_in_one_sentence_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stretched.sys, "executable", "/bin/false")
    with refused("could not be slowed down") as error:
        stretch_cached(MUSIC, 0.8, folder=tmp_path)
    assert "\n" not in say_error(error.value)
    assert list(tmp_path.iterdir()) == []


def test_full_speed_and_no_sound_start_no_process(tmp_path: Path) -> None:
    nothing = Sound(np.zeros((0, 1), np.float32), RATE)
    assert stretch_cached(MUSIC, 1.0, folder=tmp_path) is MUSIC
    assert stretch_cached(nothing, 0.8, folder=tmp_path) is nothing
    assert list(tmp_path.iterdir()) == []


def test_what_was_just_made_is_kept_however_little_there_is_room_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stretched, "KEPT", 1)
    assert len(stretch_cached(MUSIC, 0.8, folder=tmp_path).samples) == 60_000
    assert len(list(tmp_path.iterdir())) == 1
