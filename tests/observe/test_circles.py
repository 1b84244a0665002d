"""Circles of a tracked point: each one found, at its place, with its sense; two rotations told apart."""

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.circles import find_circles
from tempo_coach.observe.picking import pick
from tempo_coach.observe.trace import Channel, Trace
from tests.generators import movement


def off(found: np.ndarray, truth: np.ndarray) -> np.ndarray:
    """For each found instant how far the nearest true one is."""
    return found - truth[np.abs(found[:, None] - truth).argmin(axis=1)]


@pytest.mark.parametrize("sense", [1, -1])
def test_mills_give_equal_circles_at_their_low_points(sense: int) -> None:
    made = movement.mills(4, sense=sense)
    found = find_circles(pick(made.trace))
    assert found.time.size == made.circles["first"].size
    assert np.median(np.abs(off(found.time, made.circles["first"]))) < 0.002
    assert set(found.sense) == {sense}
    assert not found.carried
    assert found.radius == pytest.approx(0.55, rel=0.05)


def test_wrist_circles_are_found_inside_the_arms_rise_and_fall() -> None:
    made = movement.rope(1)
    found = find_circles(pick(made.trace))
    assert abs(found.time.size - made.circles[""].size) <= 1
    assert np.median(np.abs(off(found.time, made.circles[""]))) < 0.003
    assert np.median(np.abs(off(found.cycles.time, made.cycles))) < 0.005
    whole = found.cycle[(found.cycle > 0) & (found.cycle < 15)]
    assert set(np.bincount(whole)[1:]) == {3}


@pytest.mark.parametrize(
    ("opposite", "ratio", "room", "arm"), [(False, 4, 4, 3), (True, 4, 4, 5), (False, 3, 3, 2), (False, 5, 5, 4)]
)
def test_carried_mills_are_counted_in_the_room_and_on_the_arm(
    opposite: bool, ratio: int, room: float, arm: float
) -> None:
    # five in the room are four on the arm where both turn one way; against each other it is one more (exact)
    made = movement.carried(3, opposite=opposite, ratio=ratio)
    found = find_circles(pick(made.trace))
    (separation,) = found.separations
    assert separation.in_room == pytest.approx(room, abs=0.1)
    assert separation.on_arm == pytest.approx(arm, abs=0.1)
    assert separation.small_sense == (-1 if opposite else 1)
    assert separation.carrying_sense == 1
    assert separation.small_radius == pytest.approx(0.3, rel=0.03)
    assert separation.carrying_radii[0] == pytest.approx(0.7, rel=0.03)
    assert separation.reasons == ()
    assert np.median(np.abs(off(found.time, made.circles[""]))) < 0.002


def test_a_small_circle_slower_than_what_carries_it_is_still_found() -> None:
    made = movement.carried(0, small=0.12)
    found = find_circles(pick(made.trace))
    assert found.separations[0].in_room == pytest.approx(4, abs=0.1)
    assert np.median(np.abs(off(found.time, made.circles[""]))) < 0.003


def test_too_few_cycles_are_not_called_separable() -> None:
    made = movement.carried(0, n=2)
    found = find_circles(pick(made.trace))
    assert all(separation.reasons for separation in found.separations)


def test_a_swing_has_cycles_and_no_circles() -> None:
    time = movement.clock(15, 100)
    angle = 0.9 * np.sin(2 * np.pi * 0.8 * time)
    trace = movement.positions(time, np.column_stack([np.sin(angle), -np.cos(angle)]))
    found = find_circles(trace)
    assert found.time.size == 0
    assert found.cycles.time.size >= 11


def test_one_column_gives_cycles_alone() -> None:
    time = movement.clock(15, 100)
    found = find_circles(Trace(time, np.sin(2 * np.pi * time)[:, None], [Channel("y", "position", "y")]))
    assert found.time.size == 0
    assert found.cycles.time.size >= 14


def test_a_tilted_plane_in_space_gives_the_same_circles() -> None:
    made = movement.mills(7)
    flat = pick(made.trace).values
    turn = np.array([[np.cos(0.7), np.sin(0.7), 0.0], [0.0, 0.0, 1.0]])
    trace = movement.positions(made.trace.time, flat @ turn)
    np.testing.assert_allclose(find_circles(trace).time, find_circles(pick(made.trace)).time, atol=0.002)


def test_positions_are_asked_for() -> None:
    with pytest.raises(ValueError, match="positions"):
        find_circles(Trace([0, 1], [[0.0], [1.0]], [Channel("ax", "acceleration", "x")]))


@pytest.mark.parametrize("opposite", [False, True])
@pytest.mark.parametrize(("small", "big", "known"), [(0.5, 0.5, None), (0.7, 0.3, None), (0.7, 0.15, 1.6)])
def test_a_clubs_circle_may_be_larger_than_the_arms(
    small: float, big: float, known: float | None, opposite: bool
) -> None:
    for seed in range(3):
        made = movement.carried(seed, small=small, big=big, opposite=opposite)
        found = find_circles(made.trace, period=known)
        (separation,) = found.separations
        assert separation.in_room == pytest.approx(4, abs=0.1)
        # room frame less arm frame is the sense of the one in the other (exact): 5 where they turn against each other
        assert separation.on_arm == pytest.approx(5 if opposite else 3, abs=0.1)
        assert separation.small_radius == pytest.approx(small, rel=0.05)
        near = np.abs(found.time[:, None] - made.circles[""]).min(axis=1)
        assert np.median(near) < 0.002


def test_circles_in_too_few_readings_are_refused_with_the_limit() -> None:
    # a reading a second of circles of 3.1 s: what seems to repeat is an echo
    time = np.arange(90.0)
    with pytest.raises(CoachError, match=r"readings a second are too few .* circles of 6 s or longer"):
        find_circles(movement.positions(time, np.column_stack([np.cos(2 * time), np.sin(2 * time)])))
