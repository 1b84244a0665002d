"""The movement along the counts of a plan: cycles that start anew, names in few words, what comes next."""

import math

import pytest

from tempo_coach.coach.practising.movement import Movement, shorten_names
from tests.ui.fakes import lay


def test_names_that_are_too_long_are_told_by_what_sets_them_apart() -> None:
    assert shorten_names(["right wrist over", "left wrist over"])["left wrist over"] == "left"
    assert shorten_names(["circle"]) == {"circle": "circle"}
    assert shorten_names([]) == {}


def test_a_cycle_that_starts_anew_with_every_eight_is_followed() -> None:
    plan = lay("clubs_mills_three", cycles=4)
    movement = Movement(plan)
    assert movement.cycle_starts == pytest.approx([plan.first_count + 6.0 * k for k in range(4)])
    assert movement.in_cycle(plan.first_count + 7.5) == pytest.approx(1.5)
    assert math.isnan(movement.in_cycle(plan.first_count - 1))


def test_the_moves_at_a_position_are_the_one_that_runs_and_the_next_one() -> None:
    plan = lay("rope_figure_eight", cycles=2)
    movement = Movement(plan)
    before, first = movement.at(plan.first_count - 1)
    assert before is None and first == movement.moves[0]
    now, following = movement.at(movement.moves[1].start)
    assert (now, following) == movement.moves[1:3]
    assert movement.at(movement.moves[-1].start + 99) == (movement.moves[-1], None)


def test_the_circles_of_a_move_are_those_of_each_hand_in_it() -> None:
    plan = lay("clubs_mills", cycles=1)
    movement = Movement(plan)
    of_hands = [sum(move.circles[hand] for move in movement.moves) for hand in range(len(plan.hands))]
    assert of_hands == [plan.moments.hand.count(hand) for hand in plan.hands]
