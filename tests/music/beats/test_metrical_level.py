"""What speaks for counting twice, half or one and a half times as fast as found beats go."""

import numpy as np
import pytest

from tempo_coach.music.beats.features import FINE_HZ, FRAME_HZ
from tempo_coach.music.beats.metrical_level import feel_pulse, find_other_level, is_half_of_what_is_counted
from tempo_coach.music.beats.network import TEMPI, Activations

SLOW = 0.4 + 0.96 * np.arange(50)


def heard(times, ones, *, tempi=(), beat=0.9, between=0.0):
    """What a network hears that is sure of these beats, how likely a bar begins on each, and equally of some tempi."""
    frames = np.round(times * FRAME_HZ).astype(int)
    beats, downbeats = np.zeros((2, frames[-1] + 60), np.float32)
    beats[(frames[1:] + frames[:-1]) // 2] = between
    beats[frames], downbeats[frames] = beat, beat * np.asarray(ones)
    likely = np.array([np.abs(np.log(TEMPI / bpm)) for bpm in tempi or (100,)]).min(axis=0) < 0.015
    return Activations(beats, downbeats, np.zeros_like(beats), np.tile(likely / likely.sum(), (len(beats), 1)))


def begun(times, *parts):
    """Onset strength of beats and of something lighter at parts of each."""
    fine = np.zeros(int((times[-1] + 1) * FINE_HZ), np.float32)
    for part, strength in ((0.0, 1.0), *parts):
        fine[np.round((times[:-1] + part * np.diff(times)) * FINE_HZ).astype(int)] = strength
    return fine


HALVES, THIRDS = [(0.5, 0.7)], [(1 / 3, 0.9), (2 / 3, 0.9)]


@pytest.mark.parametrize(
    ("weaker", "between", "parts", "times", "half"),
    [
        (0.9, 0.0, HALVES, SLOW, True),
        (0.4, 0.1, HALVES, SLOW, True),
        (0.4, 0.0, HALVES, SLOW, False),
        (0.0, 0.1, HALVES, SLOW, False),
        (0.9, 0.0, THIRDS, SLOW, False),
        (0.9, 0.0, [], SLOW, False),
        (0.9, 0.0, HALVES, SLOW / 1.5, False),
    ],
    ids=["in two", "in two, heard twice", "in four", "in four, heard twice", "two times three", "nothing", "quick"],
)
def test_slow_bars_of_two_are_bars_of_four_where_something_begins_half_way(weaker, between, parts, times, half):
    ones = np.tile([0.9, 0.0, weaker, 0.0], 13)[: len(times)]
    pulse = feel_pulse(times, heard(times, ones, between=between), begun(times, *parts))
    assert is_half_of_what_is_counted(pulse) is half


def test_a_few_beats_tell_no_level():
    assert feel_pulse(SLOW[:8], heard(SLOW[:8], np.zeros(8)), begun(SLOW[:8])) is None


@pytest.mark.parametrize(
    ("bpm", "tempi", "bar", "alternate", "parts", "level"),
    [
        (60, (60,), (0.9, 0, 0.5, 0), 1.0, HALVES, 2.0),
        (60, (60,), (0.9, 0, 0.5, 0), 1.0, [], None),
        (60, (60,), (0.9, 0, 0.1, 0), 1.0, HALVES, None),
        (60, (60,), (0.9, 0, 0.5, 0), 1.0, [(0.5, 0.7), (1 / 3, 0.5), (2 / 3, 0.5)], None),
        (90, (90,), (0.5, 0, 0.2, 0), 1.0, [(0.5, 1.2)], 2.0),
        (90, (90,), (0.5, 0, 0.2, 0), 1.0, [(0.5, 1.2), (1 / 3, 0.5), (2 / 3, 0.5)], None),
        (120, (120,), (0.5, 0, 0.2, 0), 1.0, [(0.5, 1.2)], None),
        (90, (180,), (0.9, 0, 0, 0), 1.0, [], 2.0),
        (140, (70,), (0.9, 0, 0, 0), 1.0, [], 0.5),
        (180, (180,), (0.9, 0, 0), 1.0, [], 0.5),
        (150, (150,), (0.9, 0, 0), 1.0, [], None),
        (90, (90, 45), (0.4, 0.3, 0.3, 0.3), 1.0, [], None),
        (140, (140, 70), (0.4, 0.3, 0.3, 0.3), 1.0, [], 0.5),
        (140, (140, 70), (0.9, 0, 0, 0), 1.0, [], None),
        (140, (140,), (0.4, 0.3, 0.3, 0.3), 1.0, [], None),
        (100, (100,), (0.9, 0, 0.5, 0), 0.3, [], 0.5),
        (100, (100,), (0.9, 0, 0, 0), 0.3, [], None),
        (100, (100, 150, 120, 135, 85, 180, 215, 240), (0.5, 0.3, 0.3, 0.3), 1.0, [], 1.5),
        (90, (90, 60), (0.4, 0.3, 0.3, 0.3), 1.0, [], 2 / 3),
        (90, (90, 60), (0.9, 0, 0, 0), 1.0, [], None),
        (85, (85,), (0.9, 0, 0.6, 0), 1.0, THIRDS, 1.5),
        (85, (85, 127), (0.9, 0, 0.6, 0), 1.0, [], 1.5),
    ],
)
def test_another_level_is_told_only_where_something_speaks_for_it(bpm, tempi, bar, alternate, parts, level):
    times = 0.4 + 60 / bpm * np.arange(60)
    strength = np.where(np.arange(60) % 2, 0.9, 0.9 * alternate)
    known = heard(times, np.resize(bar, 60), tempi=tempi, beat=strength, between=0.1)
    assert find_other_level(feel_pulse(times, known, begun(times, *parts))) == level
