"""The cycle that broke is named, and good takes are left in peace."""

from collections.abc import Iterator

import numpy as np
import pytest

from tempo_coach.observe.trace.circles import Circles
from tempo_coach.observe.trace.cycles import Cycles
from tempo_coach.observe.trace.rhythm import Rhythm
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.observe.trace.uneven import find_threshold, find_uneven, normalise_periods
from tests.generators import movement


@pytest.mark.parametrize("make", [movement.mills, movement.rope])
@pytest.mark.parametrize("fault", ["long", "missed", "extra"])
def test_a_fault_is_found_with_its_name_and_place(make: object, fault: str) -> None:
    at, period = (10, 0.6) if make is movement.mills else (8, 2.0)
    for seed in range(4):
        made = make(seed, fault=fault)  # type: ignore[operator]  # either of two functions
        flags = find_uneven(observe(pick(made.trace)).circles)
        near = [flag.kind for flag in flags if abs(flag.start - 0.3 - at * period) < 0.35 * period]
        assert near == [fault]
        assert len(flags) <= 2  # a good cycle may be flagged once in 200


def test_one_circle_much_longer_than_its_neighbours_is_the_failed_go() -> None:
    # a failed mill shows in one circle much longer than its neighbours (common practice)
    made = movement.mills(11, fault="long")
    (flag,) = find_uneven(observe(pick(made.trace)).circles)
    assert 1.1 < flag.ratio < 1.35
    assert flag.end - flag.start == pytest.approx(0.72, abs=0.06)


@pytest.mark.parametrize("share", [0.45, 0.6, 0.8])
def test_a_last_circle_that_is_short_is_named_like_any_other(share: float) -> None:
    instants = 0.3 + 0.6 * np.cumsum([0, *[1.0] * 15, share])
    time = movement.clock(instants[-1] + 0.3, 100)
    trace = movement.positions(time, movement.turning(movement.Phase(instants)(time), 0.55, 1))
    first, *_ = find_uneven(observe(pick(trace)).circles)
    assert (first.kind, first.first) == ("short", 15)


def test_good_takes_have_few_flags() -> None:
    flags, cycles = 0, 0
    for seed in range(40):
        found = observe(pick(movement.mills(seed).trace)).circles
        flags += len(find_uneven(found))
        cycles += found.cycles.periods.size
    assert flags <= cycles / 200


def test_nothing_stands_out_of_four_cycles() -> None:
    assert find_threshold(np.array([1.0, 1.0, 1.5, 1.0])) == np.inf
    assert find_uneven(observe(pick(movement.mills(1, n=4).trace)).circles) == []


def test_less_than_can_be_heard_is_no_fault() -> None:
    assert find_threshold(np.full(50, 1.0)) == 0.025


def normal_takes(count: int, cycles: int, jitter: float) -> Iterator[np.ndarray]:
    rng = np.random.default_rng([cycles, 11])
    for _ in range(count):
        yield np.cumsum([0.0, *(1 + jitter * rng.standard_normal(cycles))])


@pytest.mark.parametrize("cycles", [9, 12, 21, 40])
def test_of_takes_whose_cycles_scatter_normally_hardly_any_has_one_that_stands_out(cycles: int) -> None:
    within = np.ones(cycles, dtype=bool)
    counted = 0
    for times in normal_takes(400, cycles, 0.03):
        ratios, _ = normalise_periods(times, within)
        counted += bool((np.abs(ratios - np.median(ratios)) > find_threshold(ratios)).any())
    assert counted <= 7  # half a percent of 400 are two; eight or more come by chance in 1 set of 900


def test_one_cycle_three_tenths_longer_stands_out_of_scatter_of_three_percent() -> None:
    seen = 0
    for times in normal_takes(100, 16, 0.03):
        times[9:] += 0.3
        ratios, _ = normalise_periods(times, np.ones(16, dtype=bool))
        seen += abs(ratios[8] - np.median(ratios)) > find_threshold(ratios)
    assert seen >= 90


def test_a_cycle_alone_in_its_bout_is_its_own_usual_one() -> None:
    ratios, median = normalise_periods(np.array([0.0, 1.0, 5.0, 6.0, 7.0]), np.array([True, False, True, True]))
    np.testing.assert_allclose(ratios, [1, np.nan, 1, 1])
    np.testing.assert_allclose(median, [1, np.nan, 1, 1])


def plain(times: np.ndarray) -> Circles:
    count, nothing = times.size, np.empty(0, dtype=np.int64)
    rhythm = Rhythm(1.0, 1.0, (), np.array([0.0, times[-1]]), np.array([1.0, 1.0]))
    bout = np.zeros(count, dtype=np.int64)
    span = np.array([[times[0], times[-1]]])
    cycles = Cycles(times, bout, rhythm, "crossing", np.array([1.0]), np.ones(count), span)
    return Circles(np.empty(0), nothing, np.empty(0), nothing, cycles)


@pytest.mark.parametrize(("step", "counted"), [(0, []), (7, ["long"]), (15, [])])
def test_who_starts_or_stops_softly_has_no_long_cycle_there(step: int, counted: list[str]) -> None:
    steps = 1 + 0.01 * np.tile([1, -1], 8)
    steps[step] += 0.4
    flags = find_uneven(plain(np.cumsum([0.0, *steps])))
    assert [flag.kind for flag in flags] == counted


@pytest.mark.parametrize(("moved", "counted"), [(-0.01, []), (0.2, ["missed"])])
def test_a_circle_that_slips_over_the_border_of_two_cycles_is_not_missing(moved: float, counted: list[str]) -> None:
    at = np.sort(np.concatenate([np.arange(12) + 0.005, np.arange(12) + 0.33, np.arange(12) + 0.66]))
    cycle = np.floor(at).astype(np.int64)
    if moved < 0:
        at[15] += moved  # cycle 5 begins with it, and now cycle 4 ends with it
        cycle[15] = 4
    else:
        at, cycle = np.delete(at, 16), np.delete(cycle, 16)
    begun = plain(np.arange(13.0)).cycles
    circles = Circles(at, np.ones(at.size, dtype=np.int64), at - np.floor(at), cycle, begun, inside=True)
    assert [flag.kind for flag in find_uneven(circles)] == counted
