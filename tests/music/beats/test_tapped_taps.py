"""Taps of one hearing become beats: the lead goes, clear onsets put right, pauses stay pauses."""

import tracemalloc

import numpy as np
import pytest

from tempo_coach.music.beats.features import FINE_HZ
from tempo_coach.music.beats.tapped import PAUSE_FROM, follow_taps, median_intervals
from tests.refused import refused

DURATION = 60.0
BEATS = 1 + 0.5 * np.arange(110)


def onsets_at(times, *, height=1.0):
    """A fine curve of small noise with a sharp rise at each time."""
    curve = np.random.default_rng(3).uniform(0, 0.02, int(DURATION * FINE_HZ) + 1)
    for time in times:
        place = time * FINE_HZ
        around = np.arange(int(place) - 3, int(place) + 5)
        curve[around] += height * np.maximum(0, 1 - np.abs(around - place) / 2.5)
    return curve.astype(np.float32)


SOUNDING = onsets_at(BEATS)
SOFT = np.zeros_like(SOUNDING)


def tap(beats, *, seed=0, lead=0.025, spread=0.035):
    return beats - lead + np.random.default_rng(seed).normal(0, spread, len(beats))


@pytest.mark.parametrize("fine", [SOUNDING, SOFT], ids=["onsets", "none"])
def test_perfect_taps_stay_where_they_are_but_for_the_lead(fine):
    followed = follow_taps(BEATS - 0.025, fine, duration=DURATION)
    assert np.abs(followed.times - BEATS).max() < 0.004
    assert followed.lead == pytest.approx(0.025, abs=0.004)
    assert followed.tapped.all()
    assert followed.after_pause.sum() == 1


@pytest.mark.parametrize("lead", [0.0, 0.025, 0.05])
def test_a_constant_lead_is_taken_out_where_onsets_tell(lead):
    followed = follow_taps(BEATS - lead, SOUNDING, duration=DURATION)
    assert followed.lead == pytest.approx(lead, abs=0.01)
    assert np.abs(followed.times - BEATS).max() < 0.004


@pytest.mark.parametrize("seed", range(5))
def test_uneven_taps_are_put_right_by_clear_onsets_and_are_never_worse_without(seed):
    taps = tap(BEATS, seed=seed)
    raw = np.median(np.abs(taps - BEATS))
    assert np.median(np.abs(follow_taps(taps, SOUNDING, duration=DURATION).times - BEATS)) < 0.003
    assert np.median(np.abs(follow_taps(taps, SOFT, duration=DURATION).times - BEATS)) < raw / 2


def test_a_missing_tap_is_put_in_and_a_double_one_taken_out():
    taps = tap(BEATS, spread=0.01)
    taps = np.sort(np.append(np.delete(taps, 40), taps[70] + 0.09))
    followed = follow_taps(taps, SOUNDING, duration=DURATION)
    assert np.abs(followed.times - BEATS).max() < 0.01
    assert np.flatnonzero(~followed.tapped).tolist() == [40]


def test_a_pause_stays_a_pause():
    beats = BEATS[(BEATS < 20) | (BEATS > 20 + PAUSE_FROM * 0.5 + 1)]
    followed = follow_taps(tap(beats), onsets_at(beats), duration=DURATION)
    assert len(followed.times) == len(beats)
    assert np.flatnonzero(followed.after_pause).tolist() == [0, int((beats < 20).sum())]


def test_a_tempo_that_slows_is_followed():
    beats = np.cumsum(np.linspace(0.4, 0.8, 80))
    followed = follow_taps(tap(beats, seed=1), SOFT, duration=DURATION)
    assert np.median(np.abs(followed.times - beats)) < 0.02


@pytest.mark.parametrize("taps", [[], [1, 2, 3], [-1, 1, 2, 61, 62, 3]])
def test_too_few_taps_inside_the_music_are_refused(taps):
    with refused("at least 4 taps"):
        follow_taps(taps, SOFT, duration=DURATION)


def test_taps_that_are_no_numbers_are_refused():
    with refused("not numbers"):
        follow_taps([1, 2, np.nan, 4, 5], SOFT, duration=DURATION)


def test_more_taps_than_a_hand_can_do_are_refused_before_any_work():
    with refused(r"expected up to 20 taps a second, got 100000 in 59\.9 s"):
        follow_taps(np.linspace(0, 59.9, 100_000), SOFT, duration=DURATION)


def test_an_hour_of_taps_needs_no_more_memory_than_they_have():
    # a dense system of as many unknowns would need a gigabyte and a half
    taps = tap(1 + 0.25 * np.arange(14_000), spread=0.01)
    taps = np.sort(np.append(taps, taps[5:-5:7] + 0.04))
    curve = np.zeros(int(3600 * FINE_HZ), np.float32)
    tracemalloc.start()
    followed = follow_taps(taps, curve, duration=3600)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(followed.times) == 14_000
    assert most < 200e6


@pytest.mark.parametrize("many", [1, 2, 5, 8, 9, 10, 40])
def test_the_usual_interval_is_the_median_of_the_nine_around(many):
    times = np.cumsum(np.random.default_rng(many).uniform(0.1, 1, many + 1))
    steps = np.diff(times)
    expected = [np.median(steps[max(0, k - 4) : k + 5]) for k in range(many)]
    np.testing.assert_array_equal(median_intervals(times), expected)
