"""One cycle: its phases and circles, lags between hands, and circles carried round a bigger one."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.pattern.drill.pattern import (
    Carried,
    Hand,
    Moment,
    Pattern,
    Phase,
    place_carried,
    place_circles,
    place_moments,
)

PHASES = (Phase("low", 0, 1), Phase("rise", 1, 2), Phase("high", 2, 3), Phase("fall", 3, 4))


def two_hands(lag_counts, cycle_counts=2.0):
    circle = (Phase("circle", 0, cycle_counts),)
    right = Hand("right", place_moments(circle, {"circle": 1}))
    left = Hand("left", place_moments(circle, {"circle": 1}, lag_counts=lag_counts))
    return Pattern(cycle_counts, circle, (right, left))


def test_circle_k_of_n_lies_at_k_and_a_half_nths_of_its_phase():
    assert [m.at for m in place_circles(Phase("high", 2, 4), 2)] == [2.5, 3.5]
    assert [m.label for m in place_circles(Phase("high", 2, 4), 2)] == ["high 1", "high 2"]
    assert [m.label for m in place_circles(Phase("low", 0, 1), 1)] == ["low"]
    assert place_circles(Phase("low", 0, 1), 0) == ()


def test_one_circle_low_and_two_high_as_the_ropes_figure_eight_is_taught():
    # common practice: one wrist circle while the arm is low, two while it is high
    moments = place_moments(PHASES, {"low": 1, "high": 2})
    assert [(m.label, m.at) for m in moments] == [("low", 0.5), ("high 1", 2.25), ("high 2", 2.75)]


def test_a_moment_by_hand_replaces_the_circles_of_its_phase_only():
    moments = place_moments(PHASES, {"low": 1, "high": 2}, [Moment(2.1, "top")])
    assert [(m.label, m.at) for m in moments] == [("low", 0.5), ("top", 2.1)]


@pytest.mark.parametrize(("lag", "degrees"), [(0, 0), (0.5, 90), (1, 180), (1.5, -90), (-0.5, -90)])
def test_the_second_hand_is_asked_to_trail_by_its_lag_in_degrees(lag, degrees):
    pattern = two_hands(lag)
    assert pattern.asked_lags_deg(pattern.hands[1]) == (pytest.approx(degrees),)


def test_later_moments_of_the_reference_hand_trail_its_anchor():
    pattern = Pattern(4, PHASES, (Hand("right", place_moments(PHASES, {"low": 1, "high": 2})),))
    anchor, second, third = pattern.asked_lags_deg(pattern.hands[0])
    assert math.isnan(anchor)
    assert (second, third) == (pytest.approx(157.5), pytest.approx(-157.5))


def test_no_lag_is_asked_between_hands_of_different_numbers_of_moments():
    right = Hand("right", place_moments(PHASES, {"low": 1, "high": 2}))
    left = Hand("left", place_moments(PHASES, {"low": 1}))
    assert all(math.isnan(lag) for lag in Pattern(4, PHASES, (right, left)).asked_lags_deg(left))


@pytest.mark.parametrize(
    ("circles", "frame", "sense", "room", "arm"),
    [
        # a small circle at 2.5 Hz on an arm at 0.5 Hz: 5 in the room, 4 on the arm; turning against it 5 and 6
        (5, "room", "same", 5, 4),
        (5, "room", "opposite", 5, 6),
        (4, "arm", "same", 5, 4),
        (6, "arm", "opposite", 5, 6),
    ],
)
def test_a_carried_circle_counts_differently_in_the_room_and_on_the_arm(circles, frame, sense, room, arm):
    carried = Carried(circles, frame, sense)
    assert (carried.in_frame("room"), carried.in_frame("arm")) == (room, arm)


def test_carried_circles_lie_evenly_over_the_cycle():
    assert [m.at for m in place_carried(8, Carried(4, "arm"))] == [1, 3, 5, 7]


@pytest.mark.parametrize("make", [lambda: Carried(0), lambda: Carried(1, "room", "same")])
def test_a_carried_circle_that_does_not_turn_is_refused(make):
    with pytest.raises(ValueError, match="circles"):
        make()


def test_mirrored_twice_is_the_same_pattern():
    pattern = two_hands(1)
    assert pattern.mirrored().hand_names == ("left", "right")
    assert pattern.mirrored().mirrored() == pattern


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Phase("low", 1, 1), "start < end"),
        (lambda: Hand("right", ()), "at least one moment"),
        (lambda: Hand("right", (Moment(1, "a"), Moment(1, "b"))), "ascending"),
        (lambda: Pattern(4, PHASES, ()), "at least one hand"),
        (lambda: Pattern(3, PHASES, two_hands(0).hands), "inside the cycle"),
        (lambda: Pattern(0, (), two_hands(0).hands), "above 0"),
        (lambda: Pattern(4, (PHASES[1], PHASES[0]), two_hands(0).hands), "after the one before"),
        (lambda: Pattern(2, (), (two_hands(0).hands[0],) * 2), "each hand once"),
    ],
)
def test_what_is_no_pattern_is_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()


@given(st.integers(1, 12), st.floats(0, 8), st.floats(0.1, 8))
def test_circles_are_evenly_spaced_and_inside_their_phase(circles, start, length):
    phase = Phase("any", start, start + length)
    places = [m.at for m in place_circles(phase, circles)]
    assert len(places) == circles
    assert phase.start < places[0] and places[-1] < phase.end
    assert all(b - a == pytest.approx(length / circles) for a, b in pairwise(places))
