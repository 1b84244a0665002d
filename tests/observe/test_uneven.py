"""The cycle that broke is named, and good takes are left in peace."""

import numpy as np
import pytest

from tempo_coach.observe.mover import observe
from tempo_coach.observe.picking import pick
from tempo_coach.observe.uneven import find_threshold, find_uneven
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
