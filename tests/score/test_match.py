"""Pairs against the assignment problem, against a judge of beats, and case by case."""

import math

import mir_eval
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from tempo_coach.score.match import match

times = st.lists(st.integers(0, 2000), max_size=12).map(lambda ms: np.sort(np.array(ms, dtype=float)) / 1000)


def pair_ms(expected, observed, reach=125):
    return match(np.array(expected) / 1000, np.array(observed) / 1000, reach=reach / 1000)


def cost_of(pairs, expected, observed, reach):
    error = np.abs(np.asarray(expected)[pairs.expected] - np.asarray(observed)[pairs.observed]).sum()
    return error + reach * (len(pairs.missed) + len(pairs.extra))


def least_cost(expected, observed, reach):
    """Cost of the assignment problem, each moment and each onset having a dummy partner at the reach."""
    n, m = len(expected), len(observed)
    cost = np.zeros((n + m, n + m))
    apart = np.abs(np.subtract.outer(expected, observed))
    cost[:n, :m] = np.where(apart <= reach + 1e-9, apart, 1e9)
    cost[:n, m:] = reach
    cost[n:, :m] = reach
    rows, columns = linear_sum_assignment(cost)
    return cost[rows, columns].sum()


@pytest.mark.parametrize(
    ("expected", "observed", "reach", "pairs", "missed", "extra"),
    [
        ([0, 500, 1000, 1500], [-20, 480, 1490], 125, [(0, 0), (1, 1), (3, 2)], [2], []),
        ([0, 500, 1000, 1500], [-20, 480, 740, 985, 1490], 125, [(0, 0), (1, 1), (2, 3), (3, 4)], [], [2]),
        ([0, 500, 1000], [-10, 490, 530, 1005], 125, [(0, 0), (1, 1), (2, 3)], [], [2]),
        ([0, 500, 1000, 1500], [520, 1010, 1495], 125, [(1, 0), (2, 1), (3, 2)], [0], []),
        ([0, 100], [-60, 45], 70, [(0, 0), (1, 1)], [], []),  # nearest first would find one pair
        ([0, 60], [-40, 35], 50, [(0, 0), (1, 1)], [], []),  # as here
        ([0, 150, 300, 450], [-80, 75, 225, 370], 125, [(0, 0), (1, 1), (2, 2), (3, 3)], [], []),
        ([], [], 125, [], [], []),
        ([0], [], 125, [], [0], []),
        ([], [0], 125, [], [], [0]),
        ([0], [30], 125, [(0, 0)], [], []),
        ([0], [126], 125, [], [0], [0]),
    ],
)
def test_pairs(expected, observed, reach, pairs, missed, extra):  # exact
    found = pair_ms(expected, observed, reach)
    assert list(zip(found.expected.tolist(), found.observed.tolist(), strict=True)) == pairs
    assert found.missed.tolist() == missed
    assert found.extra.tolist() == extra


def test_the_cost_of_a_row_that_lies_between_two_choices():  # exact
    expected, observed = np.array([0, 0.15, 0.3, 0.45]), np.array([-0.08, 0.075, 0.225, 0.37])
    assert cost_of(match(expected, observed, reach=0.125), expected, observed, 0.125) == pytest.approx(0.310)


@given(times, times, st.integers(1, 600))
def test_no_assignment_is_cheaper(expected, observed, reach):
    reach = reach / 1000
    pairs = match(expected, observed, reach=reach)
    assert cost_of(pairs, expected, observed, reach) == pytest.approx(least_cost(expected, observed, reach), abs=1e-9)


@given(times, times, st.integers(1, 600))
def test_pairs_are_one_to_one_in_order_and_within_reach(expected, observed, reach):
    pairs = match(expected, observed, reach=reach / 1000)
    assert (np.diff(pairs.expected) > 0).all()
    assert (np.diff(pairs.observed) > 0).all()
    assert (np.abs(expected[pairs.expected] - observed[pairs.observed]) <= reach / 1000 + 1e-9).all()
    assert sorted([*pairs.expected, *pairs.missed]) == list(range(len(expected)))
    assert sorted([*pairs.observed, *pairs.extra]) == list(range(len(observed)))


@given(times, times, st.integers(1, 600))
def test_matching_is_symmetric(expected, observed, reach):
    one = match(expected, observed, reach=reach / 1000)
    other = match(observed, expected, reach=reach / 1000)
    assert cost_of(one, expected, observed, reach) == pytest.approx(cost_of(other, observed, expected, reach))


@given(times)
def test_what_is_done_exactly_is_paired_exactly(moments):
    pairs = match(moments, moments, reach=0.1)
    assert len(pairs) == len(moments)
    assert pairs.expected.tolist() == pairs.observed.tolist()


BEATS = np.arange(30) * 0.5


@pytest.mark.parametrize(
    ("observed", "f_measure"),
    [
        (BEATS + 0.070, 1),
        (BEATS + 0.071, 0),
        (np.delete(BEATS, [4, 11, 20]), 0.947368),
        (np.sort(np.concatenate([BEATS, [1.2, 5.2, 9.2]])), 0.952381),
        (BEATS[::2], 0.666667),
        (np.arange(59) * 0.25, 0.674157),
    ],
)
def test_the_f_measure_is_the_one_that_beats_are_judged_by(observed, f_measure):
    # mir_eval, beat F-measure with its window of 70 ms
    found = match(BEATS, observed, reach=0.070).f_measure
    assert found == pytest.approx(f_measure, abs=1e-6)
    assert found == pytest.approx(mir_eval.beat.f_measure(BEATS, observed), abs=1e-9)


def test_the_asynchronies_of_the_pairs_are_those_that_cemgil_weighs():
    observed = BEATS + 0.030
    pairs = match(BEATS, observed, reach=0.070)
    off = observed[pairs.observed] - BEATS[pairs.expected]
    weighed = np.exp(-(off**2) / (2 * 0.040**2)).mean()
    assert weighed == pytest.approx(mir_eval.beat.cemgil(BEATS, observed)[0])
    assert weighed == pytest.approx(0.754840, abs=1e-6)


def test_nothing_against_nothing_has_no_f_measure():
    assert math.isnan(match([], [], reach=0.1).f_measure)


@pytest.mark.parametrize("reach", [0, -1, math.nan])
def test_a_reach_is_more_than_nothing(reach):
    with pytest.raises(ValueError, match="reach"):
        match([0], [0], reach=reach)


def test_times_out_of_order_are_a_callers_mistake():
    with pytest.raises(ValueError, match="ascending"):
        match([1, 0], [0], reach=0.1)
