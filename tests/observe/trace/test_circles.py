"""Circles of a tracked point: each one found, at its place, with its sense; two rotations told apart."""

import numpy as np
import pytest

from tempo_coach.observe.trace.circles import find_circles
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
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
