"""What speaks for counting twice, or half, as fast as found beats go."""

import numpy as np
import pytest

from tempo_coach.music.beats.features import FINE_HZ, FRAME_HZ
from tempo_coach.music.beats.metrical_level import find_other_level, is_half_of_what_is_counted
from tempo_coach.music.beats.network import TEMPI, Activations

SLOW = 0.4 + 0.96 * np.arange(50)


def heard(times, ones, *, tempi=(), beat=0.9):
    """What a network hears that is sure of these beats, these ones, and equally of some tempi."""
    frames = np.round(times * FRAME_HZ).astype(int)
    beats, downbeats = np.zeros((2, frames[-1] + 60), np.float32)
    beats[frames], downbeats[frames] = beat, 0.9 * np.asarray(ones)
    likely = np.array([np.abs(np.log(TEMPI / bpm)) for bpm in tempi or (100,)]).min(axis=0) < 0.015
    return Activations(beats, downbeats, np.zeros_like(beats), np.tile(likely / likely.sum(), (len(beats), 1)))


def begun(times, *parts):
    """Onset strength of beats and of something lighter at parts of each."""
    fine = np.zeros(int((times[-1] + 1) * FINE_HZ), np.float32)
    for part, strength in ((0.0, 1.0), *parts):
        fine[np.round((times[:-1] + part * np.diff(times)) * FINE_HZ).astype(int)] = strength
    return fine


@pytest.mark.parametrize(
    ("bar", "parts", "times", "half"),
    [
        (2, [(0.5, 0.7)], SLOW, True),
        (4, [(0.5, 0.7)], SLOW, False),
        (2, [(1 / 3, 0.7), (2 / 3, 0.7)], SLOW, False),
        (2, [], SLOW, False),
        (2, [(0.5, 0.7)], SLOW / 1.5, False),
        (2, [(0.5, 0.7)], SLOW[:8], False),
    ],
    ids=["bars of two", "bars of four", "two times three", "nothing between", "quick", "short"],
)
def test_slow_bars_of_two_are_bars_of_four_where_something_begins_half_way(bar, parts, times, half):
    ones = np.arange(len(times)) % bar == 0
    assert is_half_of_what_is_counted(times, heard(times, ones), begun(times, *parts)) is half


@pytest.mark.parametrize(
    ("bpm", "tempi", "alternate", "level"),
    [
        (60, (60,), 1.0, 2.0),
        (100, (100,), 1.0, None),
        (100, (100, 50), 1.0, None),
        (140, (140, 70), 1.0, 0.5),
        (140, (140,), 1.0, None),
        (100, (100,), 0.3, 0.5),
    ],
)
def test_another_level_is_told_where_music_is_slow_or_half_of_it_is_heard(bpm, tempi, alternate, level):
    times = 0.4 + 60 / bpm * np.arange(60)
    strength = np.where(np.arange(60) % 2, 0.9, 0.9 * alternate)
    known = heard(times, np.zeros(60), tempi=tempi, beat=strength)
    assert find_other_level(np.round(times * FRAME_HZ).astype(int), known) == level
    assert find_other_level(np.array([3]), known) is None
