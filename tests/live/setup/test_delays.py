"""Delays from what was measured: invented people and keyboards whose delays are known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tempo_coach.live.setup.delays import LISTENED_TO, find_mean, find_stroke_delay, find_tap_delay
from tempo_coach.music.beats.tapped import LEAD_SPREAD, TYPICAL_LEAD
from tests.refused import refused

RATE = 48_000
CLICKS = 0.6 * (1 + np.arange(40))


def tapping(late: float, spread: float, *, seed: int = 1) -> np.ndarray:
    return np.sort(CLICKS + late + np.random.default_rng(seed).normal(0, spread, CLICKS.size))


@pytest.mark.parametrize("late", [-0.09, -0.03, 0.0, 0.05, 0.2, 0.35])
def test_taps_tell_the_delay_also_of_wireless_loudspeakers(late: float) -> None:
    found = find_tap_delay(tapping(late, 0.02), CLICKS).tapped
    assert found.mean == pytest.approx(late, abs=0.01)
    assert found.low < late < found.high
    assert found.n == CLICKS.size - LISTENED_TO
    assert found.spread == pytest.approx(0.02, rel=0.4)


def test_even_taps_leave_no_doubt_but_how_people_lead() -> None:
    found = find_tap_delay(CLICKS + 0.04, CLICKS)
    assert found.tapped.mean == pytest.approx(0.04) and found.tapped.high - found.tapped.low < 1e-9
    assert found.setup.mean == pytest.approx(0.04 + TYPICAL_LEAD)
    assert found.setup.high - found.setup.mean == pytest.approx(1.96 * LEAD_SPREAD)


def test_missed_doubled_and_wild_taps_move_it_by_less_than_2_ms() -> None:
    taps = tapping(0.05, 0.015)
    usual = find_tap_delay(taps, CLICKS).tapped.mean
    spoiled = np.sort(np.concatenate([np.delete(taps, [7, 20]), [taps[30] + 0.08, taps[33] + 0.1], taps[10:13] + 0.21]))
    assert find_tap_delay(spoiled, CLICKS).tapped.mean == pytest.approx(usual, abs=0.002)
    wild = taps.copy()
    wild[[9, 15, 22]] += 0.25
    assert find_tap_delay(np.sort(wild), CLICKS).tapped.mean == pytest.approx(usual, abs=0.002)


def test_too_few_taps_say_so() -> None:
    for taps in ([], [3.0], CLICKS[:12]):
        with refused("answered by one tap"):
            find_tap_delay(taps, CLICKS)


def test_the_interval_holds_the_mean_in_95_of_100_people() -> None:
    """2000 invented ones; 1.96 standard errors of a share of 0.95 among 2000 are 0.0096."""
    rng = np.random.default_rng(5)
    held = [(found := find_mean(rng.normal(0.03, 0.02, 36))).low < 0.03 < found.high for _ in range(2000)]
    assert np.mean(held) > 0.95 - 2 * 0.0096


def test_taps_that_resemble_their_neighbours_do_not_narrow_the_interval() -> None:
    """Asynchronies of tapping follow each other (Repp 2005): a first-order process of 0.5 and the same spread."""
    rng = np.random.default_rng(6)
    held = 0
    for _ in range(400):
        off = np.empty(36)
        off[0] = rng.normal(0, 0.02)
        for k in range(1, 36):
            off[k] = 0.5 * off[k - 1] + rng.normal(0, 0.02 * math.sqrt(0.75))
        found = find_mean(0.03 + off)
        held += found.low < 0.03 < found.high
    assert held / 400 > 0.88  # without the correction it is 0.72


def test_the_trimmed_mean_is_what_scipy_makes_of_it() -> None:
    from scipy.stats import trim_mean

    delays = np.random.default_rng(8).standard_t(3, 37)
    assert find_mean(delays).mean == pytest.approx(float(trim_mean(delays, 0.2)))


def test_fewer_than_five_delays_are_a_callers_bug() -> None:
    with pytest.raises(ValueError, match="at least 5"):
        find_mean([0.1] * 4)


def strokes(late: float, jitter: float, noise: float) -> tuple[np.ndarray, np.ndarray]:
    """Stamps of strokes a second apart, and their sound: a knock that dies away in 20 ms."""
    rng = np.random.default_rng(4)
    heard = rng.normal(0, noise, 25 * RATE) if noise else np.zeros(25 * RATE)
    knock = rng.normal(0, 1, RATE // 20) * np.exp(-np.arange(RATE // 20) / (0.005 * RATE))
    at = 2.0 + np.arange(20) + rng.uniform(0, 0.2, 20)
    for each in at:
        first = round(each * RATE)
        heard[first : first + knock.size] += 0.3 * knock
    return at + late + rng.normal(0, jitter, 20), heard


@pytest.mark.parametrize("late", [0.0, 0.012, 0.045, 0.15])
def test_strokes_that_are_heard_tell_the_keyboards_delay_without_any_person(late: float) -> None:
    stamps, heard = strokes(late, 0.002, 0.003)
    found = find_stroke_delay(stamps, heard, RATE)
    assert found.n == 20
    assert found.mean == pytest.approx(late, abs=0.001)
    assert found.spread == pytest.approx(0.002, rel=0.6)


def test_strokes_in_perfect_silence_are_heard_too() -> None:
    stamps, heard = strokes(0.02, 0.0, 0.0)
    assert find_stroke_delay(stamps, heard, RATE).mean == pytest.approx(0.02, abs=0.0005)


def test_strokes_that_nobody_hears_say_so() -> None:
    stamps, heard = strokes(0.02, 0.0, 0.0)
    hiss = np.random.default_rng(9).normal(0, 0.01, heard.size)
    for recording in (np.zeros_like(heard), hiss, heard[: RATE // 2]):
        with refused("strokes that can be heard"):
            find_stroke_delay(stamps, recording, RATE)
