"""Lags of a take, cycles of unequal length, and what music holds; exact values."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from scipy import stats
from statsmodels.tsa.stattools import acf

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.plan import Moments, Music
from tempo_coach.score.card import judge
from tempo_coach.score.measures.circular import check_direction, check_uniform, compare_means, mean_interval, wrap

ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=16))


def take(plan, times):
    return Take(plan, Onsets.unsorted(np.asarray(times).tolist(), plan.moments.hand))


def late_left(by, cycles):
    """Both clubs, the right one on time; the left one late by these seconds, cycle by cycle."""
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=cycles))
    left = np.array(plan.moments.hand) == "left"
    times = plan.moments.time + np.where(left, np.asarray(by)[plan.moments.cycle], 0.0)
    (lag,) = judge(take(plan, times)).lags
    period = float(np.diff(plan.moments.time[~left])[0])
    return lag, lag.asked + np.asarray(by) / period * 360


def separate(n, together=0.0):
    """How many separate lags they are worth: their scatter is estimated, and Student's t is wider than a normal one."""
    return n / (1 + 2 * together) / (stats.t.ppf(0.975, n - 1) / stats.norm.ppf(0.975)) ** 2


def test_lags_that_go_together_have_a_wider_interval():
    # Kendall's correction of the first autocorrelation, and n / (1 + 2 r) separate lags
    by = 0.02 * np.sin(np.arange(16) / 2)
    lag, degrees = late_left(by, 16)
    one = acf(degrees, nlags=1)[1]
    together = one + (1 + 3 * one) / 16
    assert lag.lag.n == 16 and lag.lag.degrees == pytest.approx(degrees.mean(), abs=0.01)
    assert lag.lag.half_interval == pytest.approx(mean_interval(separate(16, together), lag.lag.resultant), rel=1e-6)


def test_interval_of_a_lag_is_as_wide_wherever_it_was_asked():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=16))
    left = np.array(plan.moments.hand) == "left"
    by = np.where(left, 0.02 * np.sin(plan.moments.cycle / 2), 0.0)
    halves = []
    for number in (180, 90, 250):
        time = plan.moments.time + np.where(left, (number - 180) / 360 * 1.2, 0.0)  # cycles of 1.2 s: 300° a second
        moved = replace(plan, moments=replace(plan.moments, time=time, asked_lag_deg=np.where(left, number, np.nan)))
        (lag,) = judge(take(moved, time + by)).lags
        assert lag.lag.n == 16 and lag.lag.error == pytest.approx(by[left].mean() * 300, abs=0.02)
        halves.append(lag.lag.half_interval)
    assert halves == pytest.approx([halves[0]] * 3, rel=1e-6)


@pytest.mark.parametrize(("by", "n"), [([0.02, -0.02] * 8, 16), ([0, 0.01, 0.02, 0.02, 0.02, 0.01, 0], 7)])
def test_lags_that_swing_to_and_fro_or_are_few_are_taken_for_separate_ones(by, n):
    lag, _ = late_left(by, n)
    worth = separate(n) if n >= 8 else n
    assert lag.lag.half_interval == pytest.approx(mean_interval(worth, lag.lag.resultant), rel=1e-6)


def test_eight_lags_are_enough_to_tell_whether_they_go_together():
    lag, _ = late_left([0, 0.01, 0.02, 0.03, 0.03, 0.02, 0.01, 0], 8)
    assert lag.lag.half_interval > 1.1 * mean_interval(separate(8), lag.lag.resultant)


def test_how_likely_lags_are_by_chance():
    """The tests themselves are held to printed values and to independent libraries in test_circular."""
    by = np.random.default_rng(7).normal(0, 0.02, 16)
    by[8:] += 0.05
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=16))
    left = np.array(plan.moments.hand) == "left"
    times = plan.moments.time + np.where(left, by[plan.moments.cycle], 0.0)
    half_cued = replace(plan, moments=replace(plan.moments, cue=plan.moments.cycle < 8))
    degrees = 180 + by / 1.2 * 360
    (lag,) = judge(take(half_cued, times)).lags
    assert lag.chances.none == pytest.approx(check_uniform(degrees)[1])
    assert lag.chances.asked == pytest.approx(check_direction(degrees, asked=180)[2])
    assert lag.chances.same == pytest.approx(compare_means([degrees[:8], degrees[8:]])[1])
    assert max(lag.chances) < 0.01
    # with every cue, or fewer than five on either side, there is nothing to compare
    assert math.isnan(judge(take(plan, times)).lags[0].chances.same)
    for number, told in ((4, False), (5, True), (11, True), (12, False)):
        cut = replace(plan, moments=replace(plan.moments, cue=plan.moments.cycle < number))
        assert math.isfinite(judge(take(cut, times)).lags[0].chances.same) is told


def test_chances_of_few_lags_and_of_lags_without_a_number_asked_are_null():
    assert np.isnan(late_left([0, 0.01, 0.02, 0.01], 4)[0].chances).all()
    assert late_left([0, 0.01, 0.02, 0.01, 0.0], 5)[0].chances.none < 0.05


def test_cycle_with_fewer_moments_than_the_others_lacks_nothing():
    keep = np.delete(np.arange(len(ROPE.moments)), 4)
    columns = {
        name: np.asarray(getattr(ROPE.moments, name))[keep].tolist()
        for name in ("time", "cycle", "hand", "label", "count", "asked_lag_deg", "cue", "kind")
    }
    plan = replace(ROPE, moments=Moments(**columns))
    card = judge(take(plan, plan.moments.time + 0.01))
    assert [len(cycle.labels) for cycle in card.cycles] == [3, 2, *[3] * 14]
    assert card.cycles[1].labels == ("low", "high 2")
    assert card.cycles[1].asynchronies == pytest.approx((0.01, 0.01))
    assert card.cycles[1].positions == tuple(plan.moments.count[[3, 4]])
    assert not card.flagged and not len(card.missed)


def test_takes_on_the_plan_have_no_notes():
    assert judge(take(ROPE, ROPE.moments.time)).notes == {}


def test_moment_of_the_second_hand_is_held_against_the_same_one_of_the_first():
    plan = coach.lay(coach.Request("clubs_small_toss_two", tempo_bpm=100, cycles=6))
    moments = plan.moments
    late = np.where(np.array(moments.hand) == plan.hands[1], 0.03, 0.0)
    card = judge(take(plan, moments.time + late))
    firsts, seconds = (moments.of_hand(hand) for hand in plan.hands)
    period = np.diff(plan.cycle_starts)[0] * 0.6
    between = [lag for lag in card.lags if lag.of == plan.hands[1]]
    assert len(between) == len(seconds) / 6
    for k, lag in enumerate(between):
        laid = (moments.time[seconds[k]] - moments.time[firsts[k]]) / period * 360
        assert lag.label == moments.label[seconds[k]]
        apart = lag.lag.degrees - laid - 0.03 / period * 360
        assert (apart + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)


def test_music_holds_the_pace_where_no_cue_does():
    times = ROPE.moments.time + 0.02 * np.random.default_rng(4).normal(size=len(ROPE.moments))
    silent = replace(ROPE, moments=replace(ROPE.moments, cue=np.zeros(len(ROPE.moments))))
    with_music = replace(silent, music=Music("tune.wav", "0"))
    widths = []
    for plan in (with_music, silent):
        mean = judge(take(plan, times)).measures["period_ratio_mean"]
        widths.append(mean.high - mean.low)
    assert widths[0] < widths[1]


def test_lag_is_held_against_the_number_that_was_asked_where_there_is_one():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=8))
    left = np.array(plan.moments.hand) == "left"
    for number, asked in ((170.0, 170), (np.nan, 180)):
        changed = replace(plan, moments=replace(plan.moments, asked_lag_deg=np.where(left, number, np.nan)))
        (lag,) = judge(take(changed, plan.moments.time)).lags
        assert abs(lag.asked) == pytest.approx(asked) and abs(lag.lag.degrees) == pytest.approx(180)


def test_f_measure_weighs_missed_and_extra_alike():  # exact
    times = np.delete(ROPE.moments.time, [10, 30])
    times = np.append(times, ROPE.moments.time[20:22].mean())
    card = judge(Take(ROPE, Onsets.unsorted(times.tolist(), [ROPE.hands[0]] * len(times))))
    paired = len(ROPE.moments) - 2
    assert (len(card.missed), len(card.extra_time)) == (2, 1)
    assert card.value("f_measure") == pytest.approx(2 * paired / (2 * paired + 3))
    assert card.measures["f_measure"].n == paired + 3


def test_the_second_club_is_measured_against_the_first():
    mills = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=16))
    late = np.where(np.array(mills.moments.hand) == "left", 0.1, 0.0)
    card = judge(take(mills, mills.moments.time + late))
    (lag,) = card.lags
    assert (lag.of, lag.to, lag.asked) == ("left", "right", 180)
    assert lag.lag.degrees == pytest.approx(180 + 0.1 / 1.2 * 360)
    assert lag.lag.error == pytest.approx(30)
    assert lag.lag.seconds == pytest.approx(0.7)
    assert lag.lag.n == 16


def test_circles_of_one_hand_are_measured_against_its_anchor():  # exact
    late = np.resize([0.0, 0.06, -0.12], len(ROPE.moments))
    lags = judge(take(ROPE, ROPE.moments.time + late)).lags
    assert [lag.label for lag in lags] == ["high 1", "high 2"]
    after = ROPE.moments.time[1:3] - ROPE.moments.time[0]
    for lag, asked, off in zip(lags, after, (0.06, -0.12), strict=True):
        assert wrap(lag.lag.degrees - (asked + off) / 2.4 * 360) == pytest.approx(0, abs=1e-6)
        assert lag.lag.error == pytest.approx(off / 2.4 * 360) and lag.lag.n == 16
        assert lag.lag.seconds == pytest.approx(lag.lag.degrees / 360 * 2.4)


def test_hand_with_other_circles_than_the_first_is_measured_against_its_anchor():  # exact
    plan = coach.lay(coach.Request("clubs_asymmetric", tempo_bpm=90, cycles=8))
    first, second = plan.hands
    late = np.where(np.array(plan.moments.hand) == second, 0.03, 0.0)
    anchor, period = plan.moments.time[plan.moments.of_hand(first)[0]], np.diff(plan.cycle_starts)[0] * 60 / 90
    hers = plan.moments.time[plan.moments.of_hand(second)]
    between = [lag for lag in judge(take(plan, plan.moments.time + late)).lags if lag.of == second]
    assert len(between) == len(hers) / 8 != len(plan.moments.of_hand(first)) / 8
    for k, lag in enumerate(between):
        assert wrap(lag.lag.degrees - (hers[k] + 0.03 - anchor) / period * 360) == pytest.approx(0, abs=1e-6)


def test_without_the_hand_that_is_named_first_there_is_nothing_to_measure_from():
    mills = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=8))
    keep = mills.moments.of_hand("left")
    columns = {each.name: np.asarray(getattr(mills.moments, each.name))[keep].tolist() for each in fields(Moments)}
    plan = replace(mills, moments=Moments(**columns))
    assert judge(take(plan, plan.moments.time)).lags == ()
    # nor where it did nothing
    right = mills.moments.of_hand("right")
    done = np.delete(mills.moments.time, right), tuple(np.delete(np.array(mills.moments.hand), right))
    assert judge(Take(mills, Onsets(*done))).lags == ()


def test_lag_bears_the_name_of_its_moment_though_the_first_cycle_lacks_it():
    keep = np.delete(np.arange(len(ROPE.moments)), 2)
    columns = {each.name: np.asarray(getattr(ROPE.moments, each.name))[keep].tolist() for each in fields(Moments)}
    plan = replace(ROPE, moments=Moments(**columns))
    lags = judge(take(plan, plan.moments.time)).lags
    assert [(lag.label, lag.lag.n) for lag in lags] == [("high 1", 16), ("high 2", 15)]
