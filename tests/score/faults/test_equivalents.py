"""Kinds that give the same onsets in a plan: facts of the drills' geometry."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.score.card import judge
from tempo_coach.score.faults.equivalents import same_kinds
from tempo_coach.score.faults.merged import position_of


def lay(drill):
    return coach.lay(coach.Request(drill, cycles=16))


def places(plan, shifts=None, swapped=False):
    position, hands = position_of(plan) % 1, np.array(plan.moments.hand)
    own = {
        hand: np.unique(np.round((position[hands == hand] + (shifts or {}).get(hand, 0)) % 1, 4)) for hand in plan.hands
    }
    return dict(zip(plan.hands, list(own.values())[::-1], strict=True)) if swapped else own


def judged(plan, times, hands, seed=0):
    generator = np.random.default_rng(seed)
    return judge(Take(plan, Onsets.unsorted(times + generator.normal(0, 0.008, len(times)), hands)))


def swap(plan):
    other = dict(zip(plan.hands, plan.hands[::-1], strict=True))
    return [other[hand] for hand in plan.moments.hand]


def period_of(plan):
    anchors = plan.moments.time[plan.moments.of_hand(plan.moments.hand[0])]
    return float(anchors[-1] - anchors[0]) / (len(anchors) - 1) * len(anchors) / plan.cycles


def test_swapped_mills_are_mills_half_a_cycle_off_and_the_other_way_round():
    plan = lay("clubs_mills")
    assert "half_cycle_off" in same_kinds(plan, places(plan, swapped=True), but="hands_swapped")
    assert "hands_swapped" in same_kinds(plan, places(plan, dict.fromkeys(plan.hands, 0.5)), but="half_cycle_off")
    assert "even" not in same_kinds(plan, places(plan, swapped=True), but="hands_swapped")


@pytest.mark.parametrize("way", [1, -1])
def test_both_are_named_in_a_take_of_mills(way):
    plan = lay("clubs_mills")
    for times, hands in (
        (plan.moments.time, swap(plan)),
        (plan.moments.time + way * period_of(plan) / 2, plan.moments.hand),
    ):
        first = judged(plan, times, hands).findings[0]
        assert {"hands_swapped", "half_cycle_off"} <= {first.kind, *first.same_as}


def test_swapped_hands_of_one_toss_by_turns_are_even():
    plan = lay("clubs_small_toss_one")
    alike = same_kinds(plan, places(plan, swapped=True), but="hands_swapped")
    hands = [plan.moments.time[plan.moments.of_hand(hand)] for hand in plan.hands]
    if len(hands[0]) == len(hands[1]) and np.allclose(*hands):
        assert "even" in alike
    first = judged(plan, plan.moments.time, swap(plan)).findings[0]
    assert "even" in {first.kind, *first.same_as}


@pytest.mark.parametrize("drill", ["ball_figure_eight", "hoop_hand_rotations", "rope_skips_single"])
def test_half_the_tempo_is_every_second_one_missed_where_circles_are_even(drill):
    plan = lay(drill)
    start = plan.moments.time[0]
    slow = judged(plan, start + 2 * (plan.moments.time - start), plan.moments.hand).findings[0]
    assert slow.kind == "other_tempo" and slow.ratio == pytest.approx(0.5, rel=0.02)
    assert "missed" in slow.same_as


def test_half_the_tempo_is_nothing_else_where_they_are_not():
    plan = lay("rope_figure_eight")
    start = plan.moments.time[0]
    slow = judged(plan, start + 2 * (plan.moments.time - start), plan.moments.hand).findings[0]
    assert slow.kind == "other_tempo" and not slow.same_as


def test_shift_by_a_circle_repeats_even_patterns_and_no_others():
    even, uneven = lay("ball_figure_eight"), lay("rope_figure_eight")
    count = len(even.moments) // even.cycles
    assert "even" in same_kinds(even, places(even, {even.hands[0]: 1 / count}), but="")
    assert "even" not in same_kinds(uneven, places(uneven, {uneven.hands[0]: 0.25}), but="")


def test_asymmetric_hands_are_not_alike():
    plan = lay("clubs_asymmetric")
    assert not {"even", "half_cycle_off"} & set(same_kinds(plan, places(plan, swapped=True), but="hands_swapped"))


def test_lag_of_half_a_circle_in_mills_is_no_swap():
    plan = lay("clubs_mills")
    alike = same_kinds(plan, places(plan, {"left": 0.25}), but="lag_off")
    assert not {"even", "hands_swapped"} & set(alike)


@pytest.mark.parametrize("drill", ["clubs_mills", "rope_figure_eight", "clubs_asymmetric"])
def test_plan_as_it_is_is_even(drill):
    plan = lay(drill)
    assert "even" in same_kinds(plan, places(plan), but="")
    assert "even" not in same_kinds(plan, places(plan), but="even")


def test_what_is_not_shifted_is_not_late():
    plan = lay("rope_figure_eight")
    assert same_kinds(plan, places(plan), but="") == ("even",)


@pytest.mark.parametrize("drill", ["clubs_mills_three", "clubs_mills_two"])
def test_swapped_hands_that_look_like_a_lag_are_named_with_it(drill):
    plan = lay(drill)
    for seed in range(3):
        first = judged(plan, plan.moments.time, swap(plan), seed).findings[0]
        assert "hands_swapped" in {first.kind, *first.same_as}
