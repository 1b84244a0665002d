"""Who left the group: as it was made, whatever another one does, and nobody by chance."""

import math

import numpy as np
import pytest

from tempo_coach.score.group.leaving import GONE, find_left
from tests.benchmarks.groups import perform

HANDS = ["body"] * 48


def five(seed, cycles=48, **options):
    (group,) = perform(np.random.default_rng(seed), 1, cycles, **options)
    return group


@pytest.mark.parametrize("by", [0.2, -0.2])
@pytest.mark.parametrize("another", [0.0, 0.12])
def test_who_is_late_in_a_stretch_is_named_with_its_ends_also_beside_one_who_is_always_late(by, another):
    group = five(1)
    group[4, 17:24] += by
    group[2] += another
    (one,) = find_left(group, HANDS)
    assert (one.member, one.uneven) == (4, False)
    assert abs(one.first - 17) <= 1 and abs(one.last - 23) <= 1
    assert one.offset == pytest.approx(by, abs=0.03)


def test_two_who_leave_at_different_places_are_both_named_in_order_of_place():
    group = five(2)
    group[1, 30:38] -= 0.2
    group[3, 8:14] += 0.2
    assert [(one.member, one.offset > 0) for one in find_left(group, HANDS)] == [(3, True), (1, False)]


@pytest.mark.parametrize(("first", "last"), [(16, 48), (0, 32)])
def test_who_is_away_for_more_than_half_of_it_left_and_was_not_the_one_who_stayed(first, last):
    group = five(2)
    group[3, first:last] -= 0.2
    group[4, 30:38] += 0.2
    long, short = sorted(find_left(group, HANDS), key=lambda one: one.first - one.last)
    assert (long.member, short.member) == (3, 4)
    assert abs(long.first - first) <= 1 and abs(long.last + 1 - last) <= 1
    assert long.offset == pytest.approx(-0.2, abs=0.03)


def test_scatter_that_stands_out_in_a_stretch_is_named_as_such():
    group = five(3)
    group[0, 20:32] += 0.15 * np.array([1, -1, 1, 1, -1, -1, 1, -1, -1, 1, -1, 1])
    told = find_left(group, HANDS)
    assert {one.member for one in told} == {0}
    assert any(one.uneven and one.first <= 26 <= one.last and one.spread > 0.1 for one in told)


@pytest.mark.parametrize("members", [2, 3, 5])
def test_who_stops_is_told_in_a_group_of_any_size(members):
    group = five(4)[:members]
    group[1, 20:] = np.nan
    away = [one for one in find_left(group, HANDS) if math.isnan(one.offset)]
    assert [(one.member, one.first, one.last) for one in away] == [(1, 20, 47)]


def test_who_stops_for_some_moments_was_not_there():
    group = five(4)
    group[2, 10 : 10 + GONE] = math.nan
    group[3, 30 : 30 + GONE - 1] = math.nan
    group[:, 40:46] = math.nan
    (one,) = [one for one in find_left(group, HANDS) if math.isnan(one.offset)]
    assert (one.member, one.first, one.last) == (2, 10, 10 + GONE - 1)
    assert math.isnan(one.spread) and not one.uneven


def test_of_two_nobody_left_the_other():
    group = five(5)[:2]
    group[1, 20:28] += 0.3
    assert find_left(group, HANDS) == ()


def test_who_was_hardly_there_is_no_part_of_it():
    group = five(6)
    group[0, 11:] = math.nan
    (stopped,) = [one for one in find_left(group, HANDS) if one.member == 0]
    assert math.isnan(stopped.offset) and stopped.first == 11  # and nothing is said of her scatter
    assert find_left(np.full((5, 48), math.nan), HANDS) == ()


def test_a_hand_that_is_always_later_is_no_stretch():
    group = np.repeat(five(7), 2, axis=1)
    group[1, 1::2] += 0.15
    assert find_left(group, ["right", "left"] * 48) == ()


def test_perfect_members_left_nobody_and_one_beside_them_is_told_to_the_moment():
    group = np.zeros((4, 32))
    assert find_left(group, HANDS[:32]) == ()
    group[2, 10:15] = 0.1
    (one,) = find_left(group, HANDS[:32])
    assert (one.member, one.first, one.last) == (2, 10, 14)
    assert one.offset == pytest.approx(0.1)
    group[2, 10:15] = 0.02  # less than can be told apart
    assert find_left(group, HANDS[:32]) == ()


@pytest.mark.parametrize("correction", [0.0, 0.25, 0.5])
def test_in_a_group_that_keeps_together_or_drifts_nobody_is_named(correction):
    groups = perform(np.random.default_rng(8), 25, 48, correction=correction)
    assert (
        sum(bool(find_left(group, HANDS)) for group in groups) <= 4
    )  # at 5 % more than 4 of 25 come once in 140 times


def test_the_same_group_gets_the_same_answer_each_time():
    group = five(9)
    group[4, 17:24] += 0.08
    assert find_left(group, HANDS) == find_left(group, HANDS)


def test_the_longer_a_stretch_is_beside_the_rest_the_rest_is_not_the_stretch():
    """A step at each end: from its first end on and up to its second, either could be what left."""
    named = 0
    for seed in range(20):
        group = five(100 + seed)
        group[3, 12:25] += 0.24
        told = find_left(group, HANDS)
        named += [(one.member, one.offset > 0) for one in told] == [(3, True)]
    assert named >= 18


def test_who_stops_or_comes_late_is_named_unless_she_could_not_be_seen():
    rows = 0.01 * np.random.default_rng(2).standard_normal((4, 48))
    rows[1, 20:] = np.nan
    rows[3, :8] = np.nan
    hands = ["body"] * 48
    assert [(one.member, one.first, one.last) for one in find_left(rows, hands)] == [(3, 0, 7), (1, 20, 47)]
    seen = np.ones(rows.shape, dtype=np.bool_)
    seen[3, :8] = False
    assert [one.member for one in find_left(rows, hands, seen=seen)] == [1]


def test_two_who_leave_together_are_both_named_and_neither_is_called_uneven():
    rows = 0.01 * np.random.default_rng(3).standard_normal((5, 96))
    rows[3:, 16:24] += 0.2
    told = find_left(rows, ["body"] * 96)
    assert sorted((one.member, one.first, one.last, one.uneven) for one in told) == [
        (3, 16, 23, False),
        (4, 16, 23, False),
    ]
