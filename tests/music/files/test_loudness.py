"""How loud music is: against root mean squares that are reckoned by hand."""

import numpy as np
import pytest

from tempo_coach.music.files.loudness import LEVELS_HZ, RANGE_DB, find_levels, level_between
from tempo_coach.music.files.sound import BLOCK, Sound


def tone(amplitude, seconds, rate_hz=8000):
    time = np.arange(int(seconds * rate_hz)) / rate_hz
    return amplitude * np.sin(2 * np.pi * 400 * time)[:, None]


@pytest.mark.parametrize("factor", [0.5, 0.1, 0.02])
def test_a_softer_half_lies_as_many_decibels_below_as_its_amplitude_says(factor):
    levels = find_levels(Sound(np.concatenate([tone(1.0, 2), tone(factor, 2)]), 8000))
    assert levels.size == 4 * LEVELS_HZ
    assert levels[0] == pytest.approx(1)
    assert levels[-1] == pytest.approx(1 + 20 * np.log10(factor) / RANGE_DB, abs=1e-6)


def test_what_is_far_below_the_loudest_is_silence_and_silence_stays_silence():
    levels = find_levels(Sound(np.concatenate([tone(1.0, 1), tone(1e-4, 1)]), 8000))
    assert levels[-1] == 0
    assert not find_levels(Sound(np.zeros((8000, 2)), 8000)).any()
    assert find_levels(Sound(np.zeros((0, 1)), 8000)).size == 0


def test_long_music_is_read_in_blocks_that_join():
    rate = 44_100
    samples = np.repeat(np.linspace(0.01, 1, 3 * BLOCK)[:, None], 2, axis=1)
    levels = find_levels(Sound(samples, rate))
    assert levels.size == int(np.ceil(3 * BLOCK * LEVELS_HZ / rate))
    assert (np.diff(levels) >= 0).all()


def test_the_level_between_two_times_is_their_mean_and_nothing_lies_outside():
    levels = np.repeat([0.2, 0.8], LEVELS_HZ)
    got = level_between(levels, np.array([0.0, 0.5, 1.0, 1.5, 5.0, -2.0]), np.array([1.0, 1.5, 2.0, 1.5, 6.0, -1.0]))
    np.testing.assert_allclose(got, [0.2, 0.5, 0.8, 0.8, 0, 0], atol=1e-9)
