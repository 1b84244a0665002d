"""What a hand did, where it slipped, and what a gap in sound or clock swallows."""

import math

import numpy as np
import pytest

from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.score.card import judge
from tempo_coach.score.pairing.hand import Grid, HandTake, inside
from tests.benchmarks.judging import TUNING, Draw, cases
from tests.score.test_card import MILLS, ROPE, drop, flags, take


@pytest.mark.parametrize("cycles", [1, -2])
def test_an_entry_off_by_whole_cycles_is_said_and_not_scored_as_missed(cycles):
    card = judge(take(MILLS, MILLS.moments.time + cycles * 1.2))
    assert card.findings[0].kind == "late_entry"
    assert card.findings[0].by_counts == pytest.approx(2 * cycles, abs=1e-3)
    assert len(card.missed) == len(card.extra_time) == 0
    assert card.value("bias_ms") == pytest.approx(1200 * cycles)
    assert card.value("f_measure") == 1


def test_what_lies_in_a_stretch_that_failed_is_neither_missed_nor_scored():
    gap = (MILLS.moments.time[10] - 0.1, MILLS.moments.time[13] + 0.1)
    card = judge(take(MILLS, unmeasurable=(gap,)))
    assert len(card.missed) == 0
    assert card.measures["bias_ms"].n == len(MILLS.moments) - 4
    assert np.isnan(card.asynchrony[10:14]).all()
    assert card.reasons["unmeasurable"].args == (4, 32)


@pytest.mark.parametrize("late", [0.08, -0.08, 0.2, -0.2])
def test_a_moment_beside_a_gap_whose_onset_falls_into_it_is_unseen(late):
    """Everything is as much off: the gap begins or ends between a moment and its onset."""
    edge = MILLS.moments.time[12] + late / 2
    gap = (edge, edge + 0.2) if late > 0 else (edge - 0.2, edge)
    times = MILLS.moments.time + late
    onsets = Onsets(np.delete(times, 12), tuple(np.delete(np.array(MILLS.moments.hand), 12)))
    assert judge(Take(MILLS, onsets)).missed.tolist() == [12]
    card = judge(Take(MILLS, onsets, unmeasurable=(gap,)))
    assert len(card.missed) == len(card.extra_time) == 0
    assert not card.flagged
    assert card.measures["bias_ms"].n == len(MILLS.moments) - 1
    assert card.reasons["unmeasurable"].args == (1, 32)


@pytest.mark.parametrize("late", [0.08, -0.08])
def test_an_onset_beside_a_gap_that_answers_a_moment_in_it_is_not_extra(late):
    edge = MILLS.moments.time[12] + late / 2
    gap = (edge - 0.2, edge) if late > 0 else (edge, edge + 0.2)
    card = judge(take(MILLS, MILLS.moments.time + late, unmeasurable=(gap,)))
    assert len(card.missed) == len(card.extra_time) == 0
    assert not card.flagged


def test_what_is_missed_and_too_many_far_from_a_gap_is_still_said():
    times = MILLS.moments.time
    onsets = Onsets.unsorted([*np.delete(times, 20), 9.4], [*np.delete(np.array(MILLS.moments.hand), 20), "left"])
    card = judge(Take(MILLS, onsets, unmeasurable=((times[12] - 0.1, times[12] + 0.1),)))
    assert card.missed.tolist() == [20]
    assert card.extra_time.tolist() == [9.4]


def test_an_onset_too_many_is_told_beside_an_early_entry():
    times = [*(MILLS.moments.time - 1.2), 9.4]
    card = judge(Take(MILLS, Onsets.unsorted(times, [*MILLS.moments.hand, "left"])))
    assert "late_entry" in (card.findings[0].kind, *card.findings[0].same_as)
    assert card.extra_time.tolist() == [9.4] and len(card.missed) == 0


def test_moments_in_a_gap_and_beside_it_are_counted_together():
    """All is 80 ms late: the gap holds moment 13, and of moment 12 the onset alone."""
    times = MILLS.moments.time + 0.08
    gap = (MILLS.moments.time[12] + 0.04, MILLS.moments.time[13] + 0.1)
    onsets = Onsets(np.delete(times, [12, 13]), tuple(np.delete(np.array(MILLS.moments.hand), [12, 13])))
    card = judge(Take(MILLS, onsets, unmeasurable=(gap,)))
    assert len(card.missed) == len(card.extra_time) == 0
    assert card.reasons["unmeasurable"].args == (2, 32)


def test_one_missed_moment_costs_itself_and_makes_no_double_period():
    card = judge(drop(MILLS, {12}))
    assert len(card.missed) == 1
    assert card.missed.tolist() == [12]
    cycle, hand = int(MILLS.moments.cycle[12]), MILLS.moments.hand[12]
    assert flags(card) == {(cycle, hand): ["missed: circle"]}
    ratios = [c.ratio for c in card.cycles if c.hand == hand]
    assert math.isnan(ratios[cycle])
    assert math.isnan(ratios[cycle - 1])
    assert card.value("period_ratio_mean") == pytest.approx(1)
    assert card.value("f_measure") == pytest.approx(2 * 31 / (2 * 31 + 1))
    moment = card.to_dict()["missed_moments"][0]
    assert moment["cycle"] == cycle
    assert moment["time"] == pytest.approx(MILLS.moments.time[12])


def test_level_of_an_anchor_is_how_far_it_is_off_over_the_period_asked_there():  # exact
    def levels(asked, off):
        asked = np.array(asked)[:, None]
        grid = Grid("right", np.arange(len(asked)), np.arange(len(asked))[:, None])
        nothing = np.zeros(len(asked))
        return HandTake(grid, asked + off, asked, *[nothing] * 7).levels

    # the last one has none and takes the middle of the others
    np.testing.assert_allclose(levels([0.0, 1.0, 3.0], 0.3), [0.3, 0.15, 0.2])
    assert np.isnan(levels([0.0], 0.3)).all()
    grid = Grid("right", np.arange(2), np.arange(4).reshape(2, 2))
    asked, off = np.array([[0, 0.5], [2, 2.5]]), np.array([[0.1, 9], [0.2, 9]])
    nothing = np.zeros(2)
    hand = HandTake(grid, asked + off, asked, *[nothing] * 7)
    np.testing.assert_allclose(hand.levels, [0.05, 0.1])


@pytest.mark.parametrize("cycles_late", [1, -1, 2, -2])
def test_what_is_missed_in_a_take_with_another_entry_is_all_that_is_missed(cycles_late):
    moments = ROPE.moments
    cycle = moments.time[3] - moments.time[0]
    times = np.delete(moments.time + cycles_late * cycle, 22)
    hands = [moments.hand[0]] * len(times)
    card = judge(Take(ROPE, Onsets.unsorted(times.tolist(), hands)))
    assert card.missed.tolist() == [22]
    assert len(card.extra_time) == 0
    assert card.findings[0].kind == "late_entry"
    assert card.findings[0].by_counts == pytest.approx(4 * cycles_late, abs=0.05)


@pytest.mark.parametrize("late", [0.45, -0.45])
def test_what_a_gap_swallows_is_told_where_she_is_later_than_the_reach(late):
    """A gap round the onset of a moment, or round the moment of an onset; a circle of each hand takes 1.2 s."""
    times, hands = MILLS.moments.time + late, np.array(MILLS.moments.hand)
    begin, end = -0.05, 0.05
    swallowed = Onsets(np.delete(times, 12), tuple(np.delete(hands, 12)))
    card = judge(Take(MILLS, swallowed, unmeasurable=((times[12] + begin, times[12] + end),)))
    assert len(card.missed) == len(card.extra_time) == 0 and not card.flagged
    moment = MILLS.moments.time[12]
    card = judge(take(MILLS, times, unmeasurable=((moment + begin, moment + end),)))
    assert len(card.missed) == len(card.extra_time) == 0 and not card.flagged
    assert card.measures["bias_ms"].n == len(MILLS.moments) - 1


def test_an_onset_far_from_what_a_gap_swallowed_is_one_too_many():
    moment = MILLS.moments.time[12]
    onsets = Onsets.unsorted(
        [*np.delete(MILLS.moments.time, 12), moment + 0.3],
        [*np.delete(np.array(MILLS.moments.hand), 12), MILLS.moments.hand[12]],
    )
    card = judge(Take(MILLS, onsets, unmeasurable=((moment - 0.05, moment + 0.05),)))
    assert card.extra_time.tolist() == [moment + 0.3] and len(card.missed) == 0


def test_edges_belong_to_a_stretch():
    times = np.arange(6.0)
    assert inside(times, ((1, 2), (4, 4))).tolist() == [False, True, True, False, True, False]
    assert not inside(times, ()).any()


def test_moments_so_close_that_scatter_puts_them_in_one_instant_are_both_done():
    """Two onsets at one instant answer two moments where one of them would be missing, before or after."""
    generator = np.random.default_rng(2)
    times = ROPE.moments.time + generator.normal(0, 0.05, len(ROPE.moments))
    for later in (0.0, 0.002):
        close = times.copy()
        close[13] = close[14] = (times[13] + times[14]) / 2
        close[14] += later
        card = judge(take(ROPE, close))
        assert len(card.missed) == len(card.extra_time) == 0
        assert card.measures["bias_ms"].n == len(times)


def test_echo_beside_a_moment_that_nobody_could_mean_by_it_stays_too_many():
    times = np.delete(ROPE.moments.time, 14)
    echoed = np.append(times, times[13] + 0.004)
    card = judge(take(ROPE, np.sort(echoed)))
    assert len(card.missed) == len(card.extra_time) == 1


@pytest.mark.parametrize("number", [7, 11, 32, 42, 49, 55])
def test_nothing_is_missed_where_scatter_brings_close_moments_together(number):
    """A spread of 6 % where two moments of a cycle lie 6 % of it apart: each onset is there, and so is its moment."""
    draw = Draw(TUNING, lengths=(8, 16, 32), spreads=((0.06, 0.06),), families=("cycle", "step", "wandering"))
    (performed,) = cases("rope_wrap_release", "even", 1, draw, first=number)
    card = judge(performed.take)
    assert len(card.missed) == len(card.extra_time) == 0
    assert not card.flagged
