"""A film's sound on its music: offset and clock rate through hall and crowd; refused where it cannot be sure."""

from __future__ import annotations

import shutil
import subprocess
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import read_sound, write_sound
from tempo_coach.observe.sound.alignment import Alignment, align
from tests.conftest import skip_for_missing_part
from tests.generators import hall
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

R = hall.RATE_HZ


@cache
def tune(seed: int = 1, seconds: float = 45) -> np.ndarray:
    return hall.tune(seed, seconds)


@cache
def heard(noise_db: float = 0.0) -> np.ndarray:
    return hall.through_hall(tune(), 3, noise_db=noise_db)


@cache
def whole() -> Alignment:
    return align(sound(heard()), sound(tune()))


def sound(wave: np.ndarray) -> Sound:
    return Sound(np.asarray(wave, np.float32)[:, None], R)


def errors_ms(found: Alignment, first: float, length: float, *, before: float = 3.0, ppm: float = 60.0) -> np.ndarray:
    """How far the music's clock is off at the begin, middle and end of what was filmed."""
    on_film = before + np.array([0, 0.5, 1]) * length * (1 + ppm * 1e-6)
    return 1000 * (found.line.to_second(on_film) - (first + np.array([0, 0.5, 1]) * length))


def test_the_whole_music_is_found_at_its_offset_and_rate_through_hall_and_crowd():
    found = whole()
    assert np.abs(errors_ms(found, 0, 45)).max() < 1
    assert found.rate_ppm == pytest.approx(-60, abs=10)
    assert found.confidence > 0.9
    assert found.heard > 0.8
    assert 0 <= found.start < 5 and 43 < found.end < 51


@pytest.mark.parametrize(("first", "length", "noise_db"), [(0, 20, 0), (21.3, 15, 0), (25, 20, -10), (10, 8, -6)])
def test_a_part_of_the_music_is_found(first, length, noise_db):
    part = tune()[round(first * R) : round((first + length) * R)]
    found = align(sound(hall.through_hall(part, 4, noise_db=noise_db)), sound(tune()))
    assert np.abs(errors_ms(found, first, length)).max() < 2


def test_a_film_that_begins_within_the_music_is_found():
    found = align(sound(hall.through_hall(tune()[20 * R :], 5, before=0.0)), sound(tune()))
    assert np.abs(errors_ms(found, 20, 25, before=0)).max() < 1


def test_the_films_own_clock_is_kept():
    plain, later = whole(), align(sound(heard()), sound(tune()), begin=7.25)
    assert later.line.to_second(20.0) == pytest.approx(plain.line.to_second(12.75), abs=1e-9)
    assert later.start == pytest.approx(plain.start + 7.25)


def test_a_turned_sign_of_the_loudspeaker_changes_nothing():
    found = align(sound(-heard()), sound(tune()))
    assert np.abs(errors_ms(found, 0, 45)).max() < 1


def test_music_under_a_crowd_that_is_10_db_louder_is_found():
    """None of the windows stands out by itself: all of them together do."""
    part = tune()[5 * R : 25 * R]
    found = align(sound(hall.through_hall(part, 5, noise_db=10, reverb_s=2.5)), sound(tune()))
    assert np.abs(errors_ms(found, 5, 20)).max() < 2


def test_what_the_crowd_alone_makes_is_not_taken_for_the_direct_sound():
    music = hall.tune(3021, 90, tempo_bpm=94.21, drums=False)
    part = music[round(33.14 * R) : round(48.14 * R)]
    found = align(sound(hall.through_hall(part, 3021, noise_db=10, reverb_s=2.5, ppm=69.4)), sound(music))
    assert np.abs(errors_ms(found, 33.14, 15, ppm=69.4)).max() < 2


def test_other_music_of_the_same_tempo_is_refused_under_a_crowd():
    film = hall.through_hall(hall.tune(2009, 20, tempo_bpm=116), 9, noise_db=3)
    with refused("is not found"):
        align(sound(film), sound(tune()))


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_other_music_is_refused(seed):
    with refused("is not found"):
        align(sound(heard(-20.0)), sound(tune(seed)))


def test_a_crowd_without_music_and_silence_are_refused():
    crowd = np.random.default_rng(0).standard_normal(40 * R) * 0.1
    with refused("is not found"):
        align(sound(crowd), sound(tune()), where="film.mp4")
    with refused(r"film\.mp4.*is not found"):
        align(sound(np.zeros(20 * R)), sound(tune()), where="film.mp4")


def test_music_that_repeats_itself_is_refused_unless_something_tells_the_places_apart():
    loop = np.tile(tune()[: 10 * R], 5)
    with refused(r"two places .* apart"):
        align(sound(hall.through_hall(loop[15 * R : 33 * R], 6)), sound(loop))
    with_end = np.concatenate([loop, tune(2)[: 8 * R]])
    found = align(sound(hall.through_hall(with_end[22 * R :], 7)), sound(with_end))
    assert np.abs(errors_ms(found, 22, 36)).max() < 1


def test_clicks_that_are_all_alike_are_refused():
    clicks = np.zeros(40 * R, np.float32)
    for k in range(80):
        clicks[k * R // 2 : k * R // 2 + 200] = np.hanning(200) * np.sin(np.arange(200) * 0.6)
    with refused(r"two places|not found"):
        align(sound(hall.through_hall(clicks[10 * R : 30 * R], 6, noise_db=-10)), sound(clicks))


def test_too_little_sound_is_said():
    for film, music in ((tune()[:R], tune()), (tune(), tune()[:R]), (tune()[:0], tune())):
        with refused("at least"):
            align(sound(film), sound(music))


def test_a_film_made_by_ffmpeg_is_found_where_ffmpeg_put_the_music(tmp_path: Path) -> None:
    """Delay and echoes by FFmpeg's own filters (adelay, aecho), its AAC coder, its container: an independent chain."""
    if shutil.which("ffmpeg") is None:
        skip_for_missing_part("the program ffmpeg is not installed")
    write_sound(tmp_path / "music.wav", sound(tune()))
    effect = "adelay=2500,aecho=0.8:0.6:23|41:0.5|0.3"
    asked = ["ffmpeg", "-v", "error", "-ss", "12", "-i", str(tmp_path / "music.wav"), "-af", effect, "-ar", "44100"]
    subprocess.run([*asked, "-c:a", "aac", str(tmp_path / "film.m4a")], check=True)
    found = align(read_sound(tmp_path / "film.m4a"), read_sound(tmp_path / "music.wav"))
    assert found.line.to_second(2.5) == pytest.approx(12, abs=0.001)
    assert found.line.to_second(40.0) == pytest.approx(49.5, abs=0.001)
    assert abs(found.rate_ppm) < 5
