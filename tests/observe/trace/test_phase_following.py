"""Phase by likeness to the median cycle: counted where no crossing counts, and where something else was done."""

import numpy as np
import pytest

from tempo_coach.observe.trace.circles import settle
from tempo_coach.observe.trace.cycles import Cycles, find_cycles
from tempo_coach.observe.trace.phase_following import find_phase
from tempo_coach.observe.trace.resampling import Unrolled
from tempo_coach.observe.trace.rhythm import Rhythm
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.observe.trace.uneven import find_uneven

PER = 48


def shape(phase: np.ndarray, first: float = 0.03) -> np.ndarray:
    """A cycle whose first harmonic is nearly nothing, as half swings in opposite directions give a magnitude."""
    return first * np.cos(2 * np.pi * phase) + np.cos(4 * np.pi * phase) + 0.5 * np.cos(6 * np.pi * phase)


def unrolled(phase: np.ndarray, *, noise: float = 0.02, known: np.ndarray | None = None) -> Unrolled:
    values = shape(phase) + noise * np.random.default_rng(0).standard_normal(phase.size)
    seen = np.ones(phase.size, dtype=bool) if known is None else known
    return Unrolled(PER, np.arange(phase.size) / PER, values[:, None], seen)


def test_the_phase_is_followed_where_the_clock_of_cycles_is_wrong_by_three_per_cent() -> None:
    clock = np.arange(30 * PER) / PER
    phase = 0.4 + 0.97 * clock + 0.05 * np.sin(clock / 2)
    found = find_phase(unrolled(phase), np.ones(phase.size, dtype=bool))
    assert found is not None and found.alike.all()
    off = (found.turns - phase) - np.median(found.turns - phase)
    assert np.abs(off[PER:-PER]).max() < 0.02


def test_what_was_not_read_says_nothing_and_a_stretch_of_something_else_is_not_alike() -> None:
    clock = np.arange(24 * PER) / PER
    known = (clock < 8) | (clock > 9.2)
    body = unrolled(clock, known=known)
    body.values.flags.writeable = True
    body.values[~known] = 0
    body.values[16 * PER : 18 * PER] = np.random.default_rng(1).standard_normal((2 * PER, 1))
    found = find_phase(body, np.ones(clock.size, dtype=bool))
    assert found is not None
    off = found.turns - clock
    assert np.abs(np.mod(off - np.median(off) + 0.5, 1) - 0.5)[(clock < 15) | (clock > 19)].max() < 0.05
    assert not found.alike[17 * PER] and found.alike[12 * PER]


def test_a_long_record_is_followed_as_its_parts_are() -> None:
    # 300 cycles are followed in seven pieces, side by side: no seam shows, and a hesitation in the middle stays one
    clock = np.arange(300 * 48) / 48
    phase = clock - 0.3 / (1 + np.exp(-(clock - 150.2) / 0.3))
    long = find_phase(unrolled(phase), np.ones(clock.size, dtype=bool))
    assert long is not None
    off = long.turns - phase
    np.testing.assert_allclose(off[48:-48] - np.median(off), 0, atol=0.06)
    assert (np.diff(long.turns) >= 0).all()


@pytest.mark.parametrize("cycles", [1, 2])
def test_three_cycles_are_too_few(cycles: int) -> None:
    clock = np.arange(cycles * PER) / PER
    assert find_phase(unrolled(clock), np.ones(clock.size, dtype=bool)) is None


def magnitude(time: np.ndarray, phase: np.ndarray) -> Trace:
    values = 9.8 + shape(phase) + 0.02 * np.random.default_rng(2).standard_normal(time.size)
    return Trace(time, values[:, None], [Channel("a", "acceleration", "", "", "m/s²")])


def test_a_cycle_of_two_nearly_equal_halves_is_counted_once() -> None:
    time = np.arange(0, 40, 0.02)
    found = find_cycles(magnitude(time, time / 1.6))
    assert abs(found.time.size - 25) <= 1
    np.testing.assert_allclose(found.periods, 1.6, rtol=0.03)


def settled(at: np.ndarray, steps: np.ndarray, *, keep: bool = False) -> np.ndarray | None:
    time = np.concatenate([[0.0], np.cumsum(steps)])
    rhythm = Rhythm(1.0, 1.0, (), np.array([0.0, time[-1]]), np.array([1.0, 1.0]))
    bout = np.zeros(time.size, dtype=np.int64)
    return settle(
        at, Cycles(time, bout, rhythm, "crossing", np.array([1.0]), np.ones(time.size), [[0, time[-1]]]), keep=keep
    )


def test_a_circle_that_was_lost_in_an_even_cycle_is_put_back_at_its_usual_phase() -> None:
    at = np.arange(12) + 0.3
    found = settled(np.delete(at, [4, 5]), np.ones(12))
    np.testing.assert_allclose(found, at)
    twice = settled(np.sort(np.append(at, 6.75)), np.ones(12))
    np.testing.assert_allclose(twice, at)
    np.testing.assert_allclose(settled(np.sort(np.append(at, 6.75)), np.ones(12), keep=True), np.sort([*at, 6.75]))


def test_circles_of_a_cycle_that_broke_stay_as_they_are() -> None:
    steps = np.ones(12)
    steps[5] = 2.0
    at = np.concatenate([np.arange(6) + 0.3, [6.3], np.arange(7, 13) + 0.3])
    found = settled(at, steps)
    np.testing.assert_allclose(found, at)


def test_circles_at_any_phase_of_the_cycles_are_none() -> None:
    assert settled(np.arange(0.1, 12, 0.83), np.ones(12)) is None


def swing(time: np.ndarray, start: float, end: float, period: float) -> Trace:
    """One that starts and stops softly, and stands still before and after."""
    ramp = np.clip((time - start) / (0.3 * period), 0, 1) * np.clip((end - time) / (0.3 * period), 0, 1)
    turns = np.cumsum(ramp**2 * (3 - 2 * ramp)) * (time[1] - time[0]) / period
    angle = 1.4 * np.sin(2 * np.pi * turns) + 0.3 * np.cos(4 * np.pi * turns)
    noise = 0.01 * np.random.default_rng(3).standard_normal((time.size, 2))
    return Trace(
        time, np.column_stack([np.sin(angle), 1 - np.cos(angle)]) + noise, [Channel(a, "position", a) for a in "xz"]
    )


@pytest.mark.parametrize("period", [0.7, 1.3, 2.6])
@pytest.mark.parametrize("rate", [25.0, 100.0])
def test_no_cycle_begins_where_it_stands_still(period: float, rate: float) -> None:
    end = 3 + 14.4 * period
    found = find_cycles(swing(np.arange(0, end + 4, 1 / rate), 3, end, period))
    assert found.time[0] > 3 - 0.1 * period and found.time[-1] < end + 0.1 * period
    assert abs(found.span[0, 0] - 3) < 0.25 * period and abs(found.span[-1, 1] - end) < 0.25 * period
    assert 13 <= found.time.size <= 15


@pytest.mark.parametrize("seed", range(4))
def test_short_gaps_change_neither_the_period_nor_the_count_and_no_cycle_beside_them_is_called_uneven(
    seed: int,
) -> None:
    rng = np.random.default_rng(seed)
    time = np.arange(0, 13 * 0.56, 0.01)
    turns = time / 0.56
    path = np.column_stack(
        [np.sin(2 * np.pi * turns), 0.4 * np.cos(2 * np.pi * turns) + 0.3 * np.cos(4 * np.pi * turns)]
    )
    path += 0.01 * rng.standard_normal(path.shape)
    for middle in rng.uniform([1, 4], [2.5, 6]):
        path[np.abs(time - middle) < rng.uniform(0.15, 0.35)] = np.nan
    body = observe(Trace(time, path, [Channel(a, "position", a) for a in "xz"]))
    assert abs(float(np.median(body.cycles.periods)) / 0.56 - 1) < 0.02
    assert abs(body.cycles.time.size - 13) <= 1
    assert find_uneven(body.circles) == []
