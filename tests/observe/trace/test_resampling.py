"""Readings on even steps: kept where they were even, drawn smoothly between, marked in gaps."""

import numpy as np
import pytest

from tempo_coach.observe.trace.resampling import resample
from tempo_coach.observe.trace.trace import Channel, Trace
from tests.refused import refused

TIME = np.arange(200) / 50


def trace(time: np.ndarray, values: np.ndarray) -> Trace:
    return Trace(time, values[:, None], [Channel("x", "position", "x")])


def test_even_readings_are_kept_as_they_are() -> None:
    resampled = resample(trace(TIME + 3, np.sin(5 * TIME)))
    assert (resampled.start, resampled.step) == (3, pytest.approx(0.02))
    np.testing.assert_array_equal(resampled.values[:, 0], np.sin(5 * TIME))
    np.testing.assert_allclose(resampled.time, TIME + 3, atol=1e-9)
    assert resampled.known.all()


def test_jittered_stamps_and_two_readings_at_nearly_one_instant_give_the_same_curve() -> None:
    time = TIME + np.random.default_rng(1).uniform(-0.006, 0.006, TIME.size)
    time = np.sort(np.append(time, time[50] + 1e-4))
    resampled = resample(trace(time, np.sin(5 * time)))
    np.testing.assert_allclose(resampled.values[:, 0], np.sin(5 * resampled.time), atol=1e-3)
    assert np.ptp(np.diff(resampled.time)) < 1e-9


def test_what_a_forgotten_sensor_recorded_is_refused_before_it_fills_the_memory() -> None:
    for time in (np.append(TIME, 3601.0), np.append(np.arange(100) / 1e5, 60.0)):
        with refused("are looked through at once; choose the take with --from and --to"):
            resample(trace(time, np.sin(5 * time)))


def test_a_gap_is_marked_and_drawn_without_swinging_beyond_its_ends() -> None:
    kept = (TIME < 1.0) | (TIME > 1.5)
    resampled = resample(trace(TIME[kept], np.where(TIME < 1.2, 0.0, 1.0)[kept]))
    inside = (resampled.time > 1.0) & (resampled.time < 1.5)
    assert not resampled.known[inside].any()
    assert resampled.known[(resampled.time < 0.95) | (resampled.time > 1.55)].all()
    assert resampled.values[inside].min() >= 0 and resampled.values[inside].max() <= 1


def test_fewer_than_four_complete_readings_are_refused() -> None:
    values = np.array([0.0, np.nan, 1.0, 2.0])
    with refused("at least four complete readings, got 3"):
        resample(trace(TIME[:4], values))
