"""Time unrolled by the period: places, gaps filled from the neighbouring cycles, filters without delay."""

import numpy as np
import pytest

from tempo_coach.observe.trace.filters import band_pass, low_pass
from tempo_coach.observe.trace.resampling import Resampled, Unrolled, unroll
from tempo_coach.observe.trace.rhythm import Rhythm

PER = 48


def rhythm(time: list[float], local: list[float]) -> Rhythm:
    return Rhythm(local[0], 1.0, (), np.array(time), np.array(local))


def waves(n: int, *cycles: float) -> np.ndarray:
    return sum(np.cos(2 * np.pi * each * np.arange(n) / PER) for each in cycles)  # type: ignore[return-value]  # arrays


def test_a_steady_movement_has_48_readings_a_cycle_or_as_many_as_were_read() -> None:
    time = np.arange(0, 4, 0.05)
    values = np.sin(2 * np.pi * time)[:, None]
    found = unroll(Resampled(0.0, 0.05, values, np.ones(time.size, dtype=bool)), rhythm([0.0, 4.0], [1.0, 1.0]))
    assert found.per_cycle == 48 and found.known.all()
    np.testing.assert_allclose(found.time, np.arange(found.time.size) / 48, atol=1e-9)
    np.testing.assert_allclose(found.values[:, 0], np.sin(2 * np.pi * found.time), atol=2e-3)
    dense = unroll(Resampled(0.0, 0.01, np.zeros((400, 1)), np.ones(400, dtype=bool)), rhythm([0.0, 4.0], [1.0, 1.0]))
    assert dense.per_cycle == 100


def test_a_movement_that_slows_has_the_same_readings_in_every_cycle() -> None:
    step = 0.01
    time = np.arange(0, 9, step)
    local = np.where(time < 3, 0.5, 1.0)
    phase = np.concatenate([[0], np.cumsum(step / local)[:-1]])
    resampled = Resampled(10.0, step, np.cos(2 * np.pi * phase)[:, None], np.ones(time.size, dtype=bool))
    found = unroll(resampled, rhythm([10.0, 12.99, 13.0, 19.0], [0.5, 0.5, 1.0, 1.0]))
    assert found.per_cycle == 100  # of the longest
    wholes = found.at(found.per_cycle * np.array([1.0, 4.0, 7.0, 10.0]))
    np.testing.assert_allclose(wholes, [10.5, 12.0, 14.0, 17.0], atol=0.02)


def test_places_between_readings_become_seconds_between_them() -> None:
    one = Unrolled(PER, np.array([1.0, 2.0, 4.0]), np.zeros((3, 1)), np.ones(3, dtype=bool))
    assert one.at(np.array([0.0, 0.5, 1.5, 2.0])).tolist() == [1.0, 1.5, 3.0, 4.0]
    # a cycle that ends just behind the record, or began just before it, is timed by the steps beside it
    assert one.at(np.array([-0.25, 2.5])).tolist() == [0.75, 5.0]
    assert one.at(np.array([])).size == 0


@pytest.mark.parametrize("drift", [0.0, 0.2])
def test_a_gap_is_filled_from_the_cycles_beside_it(drift: float) -> None:
    time = np.arange(0, 8, 0.01)
    truth = np.sin(2 * np.pi * time) + drift * time
    known = np.ones(time.size, dtype=bool)
    known[310:345] = False
    read = np.where(known, truth, 0.0)
    read[310:345] = np.linspace(truth[309], truth[345], 35)
    found = unroll(Resampled(0.0, 0.01, read[:, None], known), rhythm([0.0, 8.0], [1.0, 1.0]))
    gap = (found.time > 3.11) & (found.time < 3.43)
    assert not found.known[gap].any() and found.known[found.time > 3.5].all()
    np.testing.assert_allclose(found.values[:, 0], np.sin(2 * np.pi * found.time) + drift * found.time, atol=0.01)


def test_a_gap_that_is_too_long_to_bridge_is_left_as_it_is_and_marked() -> None:
    time = np.arange(0, 8, 0.01)
    known = (time < 3) | (time > 4.6)
    values = np.where(known, np.sin(2 * np.pi * time), 0.25)
    found = unroll(Resampled(0.0, 0.01, values[:, None], known), rhythm([0.0, 8.0], [1.0, 1.0]))
    gap = (found.time > 3.1) & (found.time < 4.5)
    assert not found.known[gap].any()
    np.testing.assert_allclose(found.values[gap, 0], 0.25, atol=1e-3)


def test_what_is_slower_stays_where_it_is_and_what_is_faster_goes() -> None:
    n = 12 * PER
    kept = low_pass(waves(n, 0.5, 8.0), PER, 2.0)
    np.testing.assert_allclose(kept[PER:-PER], waves(n, 0.5)[PER:-PER], atol=0.02)
    # a Butterworth filter of order n run both ways has the gain 1 / (1 + (f / corner)^2n): a half at its corner
    at_corner = low_pass(waves(n, 2.0), PER, 2.0)[3 * PER : -3 * PER]
    np.testing.assert_allclose(at_corner, 0.5 * waves(n, 2.0)[3 * PER : -3 * PER], atol=0.02)
    steeper = low_pass(waves(n, 4.0), PER, 2.0, order=4)[3 * PER : -3 * PER]
    assert np.abs(steeper).max() < 1 / (1 + 2**8) + 0.003 < 1 / (1 + 2**4)


def test_complex_and_several_columns_are_filtered_as_each_is_alone() -> None:
    one, other = waves(10 * PER, 1.0, 9.0), waves(10 * PER, 0.7, 6.0)
    alone = low_pass(one, PER, 2.0), low_pass(other, PER, 2.0)
    np.testing.assert_allclose(low_pass(one + 1j * other, PER, 2.0), alone[0] + 1j * alone[1], atol=1e-9)
    np.testing.assert_allclose(low_pass(np.column_stack([one, other]), PER, 2.0), np.column_stack(alone), atol=1e-9)


def test_a_corner_beyond_what_the_readings_can_show_changes_nothing() -> None:
    wave = waves(5 * PER, 3.0)
    assert low_pass(wave, PER, PER / 2.2) is wave
    assert low_pass(wave, PER, PER / 2.3) is not wave


@pytest.mark.parametrize("n", [PER + 10, 2 * PER - 1, 2 * PER, 2 * PER + 1])
def test_short_records_keep_their_length_and_their_middle(n: int) -> None:
    kept = low_pass(5 + waves(n, 0.0), PER, 2.0)
    assert kept.shape == (n,)
    np.testing.assert_allclose(kept, 6.0, atol=1e-6)


def test_drift_is_continued_at_the_ends() -> None:
    drifting = waves(8 * PER, 1.0) + 3 * np.arange(8 * PER) / PER
    kept = low_pass(drifting, PER, 0.3)
    np.testing.assert_allclose(np.diff(kept)[[0, -1]] * PER, 3.0, rtol=0.1)


def test_a_band_keeps_what_lies_between() -> None:
    n = 16 * PER
    kept = band_pass(waves(n, 0.1, 1.0, 12.0) + 4, PER, 0.4, 4.0)
    np.testing.assert_allclose(kept[4 * PER : -4 * PER], waves(n, 1.0)[4 * PER : -4 * PER], atol=0.05)
