"""Pairing of moments and onsets: rows whose answer is known, every pairing tried one by one, ties, runs, silences."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.score.pairing import search
from tempo_coach.score.pairing.search import Pairs, median_step, pair

EVERY_200 = list(range(0, 1600, 200))


def pairs_of(found):
    return list(zip(found.expected.tolist(), found.observed.tolist(), strict=True))


@pytest.mark.parametrize(
    ("moments", "onsets", "pairs"),
    [
        ([0, 500, 1000, 1500], [-20, 480, 1490], [(0, 0), (1, 1), (3, 2)]),
        ([0, 500, 1000, 1500], [-20, 480, 740, 985, 1490], [(0, 0), (1, 1), (2, 3), (3, 4)]),
        ([0, 500, 1000], [-10, 490, 530, 1005], [(0, 0), (1, 1), (2, 3)]),
        ([0, 500, 1000, 1500], [520, 1010, 1495], [(1, 0), (2, 1), (3, 2)]),
        ([0, 100], [-60, 45], [(0, 0), (1, 1)]),  # the nearest first would find one
        ([0, 60], [-40, 35], [(0, 0), (1, 1)]),
        ([0, 150, 300, 450], [-80, 75, 225, 370], [(0, 0), (1, 1), (2, 2), (3, 3)]),
        # one step is .77 of a step longer, and what follows stays late
        (EVERY_200, [0, 200, 400, 754, 952, 1150, 1348, 1546], [(k, k) for k in range(8)]),
        (EVERY_200, [0, 200, 400, 600, 1000, 1200, 1400], [*((k, k) for k in range(4)), (5, 4), (6, 5), (7, 6)]),
    ],
)
def test_rows_with_one_right_answer(moments, onsets, pairs):  # exact: follows from what costs what
    found = pair(np.array(moments) / 1000, np.array(onsets) / 1000)
    assert pairs_of(found) == pairs
    assert found.missed.tolist() == sorted(set(range(len(moments))) - {i for i, _ in pairs})
    assert found.extra.tolist() == sorted(set(range(len(onsets))) - {j for _, j in pairs})


def at_an_end(moments, onsets, skip, pair_cost):
    few = 2.4 / skip
    alone = sum(skip * min(left, few) + 0.1 * max(left - few, 0) for left in (moments, onsets))
    return alone + skip * max(min(moments, onsets) - 3, 0) + pair_cost * moments


def between(change, back, over, skip, pair_cost):
    costs = [np.inf]
    if back <= 4 and over <= 6:
        costs.append(change**2 / (change**2 + 0.25) + skip * (back + over - 2))
    if over == 1 and back > 4:
        costs.append(3 + (pair_cost + 0.1) * (back - 1))
    if back == 1 and over > 6:
        costs.append(skip * (over - 1))
    return min(costs)


def cheapest(moments, onsets, *, skip, pair_cost, lateness=0.3):
    """The documented cost of the best of all ordered pairings, tried one by one; times in steps."""
    n, m, best = len(moments), len(onsets), np.inf
    for size in range(1, min(n, m) + 1):
        for chosen in combinations(range(n), size):
            for answers in combinations(range(m), size):
                late = onsets[list(answers)] - moments[list(chosen)]
                cost = at_an_end(chosen[0], answers[0], skip, pair_cost)
                cost += at_an_end(n - 1 - chosen[-1], m - 1 - answers[-1], skip, pair_cost)
                cost += (
                    lateness / n * (abs(late).sum() + chosen[0] * abs(late[0]) + (n - 1 - chosen[-1]) * abs(late[-1]))
                )
                for k in range(size - 1):
                    back, over = chosen[k + 1] - chosen[k], answers[k + 1] - answers[k]
                    cost += between(late[k + 1] - late[k], back, over, skip, pair_cost)
                best = min(best, cost)
    return best


@pytest.mark.parametrize(("skip", "pair_cost"), [(0.8, 0.3), (0.7, 0.01), (0.92, 0.1)])
def test_cost_is_the_least_of_all_ordered_pairings(skip, pair_cost):  # exact
    generator = np.random.default_rng(1)
    for _ in range(18):
        n, m = generator.integers(1, 8), generator.integers(1, 8)
        moments, onsets = (np.sort(generator.uniform(-0.5, n, size)) for size in (n, m))
        for lateness in (0.3, 1.45):
            prices = {"skip": skip, "pair_cost": pair_cost, "lateness": lateness}
            found = search._search(moments, onsets, 1.0, **prices)
            assert found.cost == pytest.approx(cheapest(moments, onsets, **prices), abs=1e-7)


def test_cost_is_the_least_where_there_are_long_runs_and_silences():  # exact
    generator = np.random.default_rng(2)
    for n, m in ((2, 10), (3, 9), (9, 3), (7, 2), (10, 2)) * 4:
        moments, onsets = np.sort(generator.uniform(0, n, n)), np.sort(generator.uniform(0, n, m))
        found = search._search(moments, onsets, 1.0, skip=0.7, pair_cost=0.01, lateness=0.3)
        assert found.cost == pytest.approx(cheapest(moments, onsets, skip=0.7, pair_cost=0.01), abs=1e-7)


TIMES = st.lists(st.integers(0, 40), max_size=12).map(lambda each: np.sort(each) / 8)


@given(TIMES, TIMES)
def test_pairs_are_one_to_one_in_order_and_nothing_is_lost(moments, onsets):
    found = pair(moments, onsets)
    assert (np.diff(found.expected) > 0).all() and (np.diff(found.observed) > 0).all()
    assert sorted([*found.expected.tolist(), *found.missed.tolist()]) == list(range(len(moments)))
    assert sorted([*found.observed.tolist(), *found.extra.tolist()]) == list(range(len(onsets)))


@given(TIMES, TIMES, st.integers(-100_000, 100_000))
def test_another_origin_of_the_clock_changes_no_pair(moments, onsets, origin):
    assert pairs_of(pair(moments, onsets)) == pairs_of(pair(moments + origin, onsets + origin))


@given(TIMES, TIMES, st.integers(0, 2**32 - 1))
def test_last_bits_of_the_times_decide_nothing(moments, onsets, seed):
    """Times on a grid tie often; by 1e-12 s they would tie no more."""
    generator = np.random.default_rng(seed)
    stirred = [np.sort(each + generator.uniform(-1e-12, 1e-12, len(each))) for each in (moments, onsets)]
    assert pairs_of(pair(moments, onsets)) == pairs_of(pair(*stirred))


def test_of_two_that_cost_the_same_the_nearest_is_taken():  # exact
    # both onsets at 1 s would do: the one that is nearer to the pair after it
    assert pairs_of(pair([0, 1, 2], [0, 1, 1, 2])) == [(0, 0), (1, 2), (2, 3)]
    # half a step early or late: the pair that leaves the least behind it
    assert pairs_of(pair([0, 1, 2, 3], [1.5, 2.5])) == [(2, 0), (3, 1)]


@pytest.mark.parametrize("late", [-0.2, 0.1, 0.24])
def test_all_of_it_late_or_early_by_less_than_half_a_step_changes_no_pair(late):
    moments = np.arange(20) * 0.5
    onsets = np.delete(moments + 0.02 * np.sin(np.arange(20)), 7)
    assert pairs_of(pair(moments, onsets)) == pairs_of(pair(moments, onsets + late))


def steady(n, seed=0, step=0.5):
    moments = np.arange(n) * step
    return moments, moments + np.random.default_rng(seed).normal(0, 0.03 * step, n)


@pytest.mark.parametrize("n", [48, 200, 400])
@pytest.mark.parametrize("number", [8, 14])
def test_many_missed_or_too_many_are_told_one_by_one(n, number):
    """Leaving out all that follows would be cheaper if what is left at the ends cost nothing."""
    moments, onsets = steady(n)
    which = np.sort(np.random.default_rng(n + number).choice(np.arange(2, n - 2, 3), number, replace=False))
    assert pair(moments, np.delete(onsets, which)).missed.tolist() == which.tolist()
    between_them = onsets[which] + 0.22
    both = np.sort(np.append(onsets, between_them))
    assert both[pair(moments, both).extra] == pytest.approx(between_them)


@pytest.mark.parametrize("silent", [1, 2, 3, 4, 5, 10])
def test_silence_is_missed_and_what_follows_is_in_time(silent):
    moments, onsets = steady(32)
    assert pair(moments, np.delete(onsets, slice(12, 12 + silent))).missed.tolist() == [*range(12, 12 + silent)]


@pytest.mark.parametrize("number", [1, 3, 5, 6, 8])
def test_run_of_onsets_too_many_is_that_many_too_many(number):
    moments, onsets = steady(32)
    run = onsets[12] + (np.arange(number) + 1) * 0.5 / (number + 1)
    found = pair(moments, np.sort(np.append(onsets, run)))
    assert len(found) == 32 and found.observed[-1] == 31 + number
    # of a run as dense as this one it may be any that answers
    assert sum(abs(found.observed - found.expected - number * (found.expected > 12)) > 0) <= 1


@pytest.mark.parametrize("before", [10, 60, 200])
def test_onsets_before_the_first_moment_answer_nothing(before):
    moments, onsets = steady(32)
    found = pair(moments, np.concatenate([-np.arange(before, 0, -1) * 0.31 - 0.3, onsets]))
    assert found.extra.tolist() == list(range(before))


def test_stop_and_late_entry_leave_what_was_done_in_its_place():
    moments, onsets = steady(96)
    assert pair(moments, onsets[:30]).missed.tolist() == [*range(30, 96)]
    assert pair(moments, onsets[9:]).missed.tolist() == [*range(9)]


def test_ten_times_too_many_onsets_are_paired_with_what_there_is():
    moments, _ = steady(60)
    found = pair(moments, np.sort(np.random.default_rng(1).uniform(0, 30, 600)))
    assert len(found) + len(found.extra) == 600 and len(found) <= 60


def test_time_grows_with_the_number_of_moments(monkeypatch):
    """Counted, not measured: what the search looks at for each moment is bounded."""
    looked = []
    step_on = search._Near.step_on

    def counted(near, *where):
        cost = step_on(near, *where)
        looked.append(len(cost))
        return cost

    monkeypatch.setattr(search._Near, "step_on", counted)
    work = []
    for n in (1000, 2000):
        moments, onsets = steady(n)
        looked.clear()
        found = pair(moments, np.delete(onsets, slice(5, None, 97)))
        assert found.missed.tolist() == list(range(5, n, 97))
        work.append(sum(looked))
    assert work[1] <= 2.01 * work[0]


def test_nothing_and_one():
    for moments, onsets in (([], []), ([1.0, 2.0], []), ([], [1.0])):
        found = pair(moments, onsets)
        assert (len(found), len(found.missed), len(found.extra)) == (0, len(moments), len(onsets))
    assert pairs_of(pair([1.0], [1.2])) == [(0, 0)]
    assert pairs_of(pair([0, 1, 2, 3], [2.1])) == [(2, 0)]


def test_moments_and_onsets_at_one_instant():
    assert pairs_of(pair([0, 1, 1, 2], [0, 1, 1, 2])) == [(k, k) for k in range(4)]
    assert len(pair([1, 1, 1], [1, 1, 1])) == 3
    assert len(pair([0, 1, 2, 3], [1, 1, 1, 1])) <= 4


def test_f_measure():  # exact; as mir_eval has it: 30 beats, 3 dropped .947368, 3 too many .952381
    moments = np.arange(30) * 0.5
    assert pair(moments, moments).f_measure == 1
    assert pair(moments, np.delete(moments, [5, 15, 25])).f_measure == pytest.approx(54 / 57)
    assert pair(moments, np.sort([*moments, 2.7, 7.7, 12.7])).f_measure == pytest.approx(60 / 63)
    assert np.isnan(pair([], []).f_measure)


def test_median_step_leaves_out_what_is_at_one_instant():  # exact
    assert median_step(np.array([0, 0, 1, 1, 3, 3, 4.0])) == 1
    assert median_step(np.array([2.0, 2.0])) == median_step(np.array([])) == 1


@pytest.mark.parametrize("step", [0.0, -1.0, np.nan])
def test_step_has_to_be_one(step):
    with pytest.raises(ValueError, match="step"):
        pair([0, 1], [0, 1], step=step)


def test_times_out_of_order_and_unequal_columns_are_the_callers_fault():
    with pytest.raises(ValueError, match="ascending"):
        pair([1, 0], [0, 1])
    with pytest.raises(ValueError, match="as many"):
        Pairs([0, 1], [0], [], [])


def test_pairing_in_order_is_what_the_search_finds(monkeypatch):
    """Where nothing speaks against it no search is made; with one the pairs are the same."""
    generator, compared = np.random.default_rng(5), 0
    for pattern in ((0.25, 0.25, 0.5), (1.0,), (0.1, 0.4, 0.2, 0.3)):
        for spread in (0.02, 0.06):
            asked = np.cumsum(np.tile(pattern, 24))
            done = np.sort(asked + generator.normal(0, spread * min(pattern) / 0.25, len(asked)) + 0.05)
            plain = pair(asked, done, period=1.0)
            with monkeypatch.context() as patch:
                patch.setattr(search, "_pair_in_order", lambda *_: None)
                searched = pair(asked, done, period=1.0)
            assert searched.expected.tolist() == plain.expected.tolist()
            assert searched.observed.tolist() == plain.observed.tolist()
            compared += search._pair_in_order(asked, done, search.median_step(asked), search.LATENESS) is not None
    assert compared >= 3
