"""What periods and asynchronies of all hands tell together, on columns made by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import detrend
from statsmodels.tsa.stattools import acf

from tempo_coach.coach import Request, lay
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.card import judge
from tempo_coach.score.measures.timekeeping import (
    MEASURES,
    CycleColumns,
    measure_asynchrony,
    measure_periods,
    measure_split,
)
from tempo_coach.score.pairing.hand import Grid

NAN = math.nan
PERIODS = ("period_ratio_mean", "period_cv_pct", "period_rmssd_pct", "period_mean_ms", "period_sd_ms")


def rows(ratios, *, first=0, period=0.5, level=0.0):
    """One hand whose last cycle has no period behind it."""
    ratios = np.array([*ratios, NAN])
    n = len(ratios)
    return CycleColumns(np.arange(first, first + n), ratios * period, ratios, np.full(n, level))


def blocks(letters):
    names = {"w": "with cues", "t": "thinned cues", "o": "without cues"}
    return {k: names[letter] for k, letter in enumerate(letters)}


def asynchronies(table):
    """One hand; the cycles are the rows of the table."""
    table = np.asarray(table, dtype=float)
    grid = Grid("right", np.arange(len(table)), np.arange(table.size).reshape(table.shape))
    return measure_asynchrony(table.ravel(), np.repeat(np.arange(len(table)), table.shape[1]), [grid])


def test_bias_and_spread():  # exact
    found = asynchronies([[0.01, 0.03], [NAN, 0.02], [0.04, 0.00]])
    assert (found["bias_ms"].value, found["bias_ms"].n) == (pytest.approx(20), 5)
    assert found["spread_ms"].value == pytest.approx(np.std([10, 30, 20, 40, 0], ddof=1))
    assert found["lag1_asynchrony"].reason == Reason(Why.FEW_ASYNCHRONIES, (8, 5))


def test_none_and_one_asynchrony():
    for name, measure in asynchronies([[NAN], [NAN]]).items():
        assert name in {"bias_ms", "spread_ms", "lag1_asynchrony"}
        assert math.isnan(measure.value) and measure.n == 0 and measure.reason == Reason(Why.NO_PAIR)
    one = asynchronies([[0.02], [NAN]])
    assert (one["bias_ms"].value, one["bias_ms"].n) == (pytest.approx(20), 1)
    assert (
        math.isnan(one["spread_ms"].value)
        and one["spread_ms"].n == 1
        and one["spread_ms"].reason == Reason(Why.ONE_PAIR)
    )
    assert asynchronies([[0.02], [0.04]])["spread_ms"].value == pytest.approx(np.std([20, 40], ddof=1))


def test_correction_is_the_autocorrelation_about_the_line_without_what_is_usual_for_a_place():
    noise = np.random.default_rng(5).normal(0, 0.02, 24)
    expected = acf(detrend(noise), nlags=1)[1]
    found = asynchronies(noise[:, None])["lag1_asynchrony"]
    assert (found.value, found.n) == (pytest.approx(expected), 24)
    # about Bartlett's 1.96 / sqrt(n), on Fisher's scale
    half = math.atanh(found.high) - math.atanh(found.value)
    assert half == pytest.approx(math.atanh(found.value) - math.atanh(found.low))
    assert half == pytest.approx(1.96 / math.sqrt(24), rel=0.3)
    # a place that is always late, and a take that slows down, change nothing
    table = noise.reshape(12, 2)
    plain = asynchronies(table - table.mean(axis=0))["lag1_asynchrony"]
    assert asynchronies(table + np.array([0.05, -0.03]))["lag1_asynchrony"].value == pytest.approx(plain.value)
    ramp = asynchronies(noise[:, None] + 0.01 * np.arange(24)[:, None])["lag1_asynchrony"]
    assert ramp.value == pytest.approx(expected)


def test_correction_has_a_reason_where_there_is_none():
    assert asynchronies(np.zeros((9, 1)))["lag1_asynchrony"].reason == Reason(Why.CONSTANT_ASYNCHRONIES)
    assert asynchronies(np.arange(7.0)[:, None] ** 2)["lag1_asynchrony"].n == 7
    eight = asynchronies(0.01 * np.arange(8.0)[:, None] ** 2)["lag1_asynchrony"]
    assert math.isfinite(eight.value) and -1 <= eight.low < eight.value < eight.high <= 1


def test_hands_are_not_neighbours_of_each_other():
    up, down = 0.01 * np.array([1.0, -1.0] * 5), 0.01 * np.array([1.0, -1.0] * 5)
    grids = [
        Grid("a", np.arange(10), np.arange(0, 20, 2)[:, None]),
        Grid("b", np.arange(10), np.arange(1, 20, 2)[:, None]),
    ]
    both = measure_asynchrony(np.column_stack([up, down]).ravel(), np.repeat(np.arange(10), 2), grids)
    alone = asynchronies(up[:, None])
    assert both["lag1_asynchrony"].value == pytest.approx(alone["lag1_asynchrony"].value)
    assert both["lag1_asynchrony"].n == 20


def test_periods_of_two_hands():  # exact
    found = measure_periods([rows([1.0, 1.1, 0.9]), rows([1.2, 0.8], first=1)], blocks("wwww"), music=False)
    ratios = [1.0, 1.1, 0.9, 1.2, 0.8]
    assert found["period_ratio_mean"].value == pytest.approx(1.0) and found["period_ratio_mean"].n == 5
    assert found["period_mean_ms"].value == pytest.approx(500)
    assert found["period_cv_pct"].value == pytest.approx(100 * np.std(ratios, ddof=1))
    assert found["period_sd_ms"].value == pytest.approx(500 * np.std(ratios, ddof=1))
    # the steps inside each hand, none between the two
    assert found["period_rmssd_pct"].value == pytest.approx(np.sqrt(np.mean([10.0**2, 20.0**2, 40.0**2])))
    assert found["period_rmssd_pct"].n == 3
    assert found["drift_pct_per_cycle"].reason == Reason(Why.FEW_PERIODS, (5, 3))


@pytest.mark.parametrize("hands", [[], [rows([])], [rows([NAN, NAN])]])
def test_no_period(hands):
    found = measure_periods(hands, blocks("www"), music=False)
    assert list(found) == [*PERIODS, "drift_pct_per_cycle"]
    for measure in found.values():
        assert math.isnan(measure.value) and measure.n == 0
        assert measure.reason == Reason(Why.NO_PERIOD)


def test_one_period_has_a_mean_and_nothing_that_scatters():
    found = measure_periods([rows([1.02])], blocks("ww"), music=False)
    assert found["period_ratio_mean"].value == pytest.approx(1.02)
    assert found["period_mean_ms"].value == pytest.approx(510)
    for name in ("period_cv_pct", "period_sd_ms"):
        assert found[name].reason == Reason(Why.ONE_PERIOD) and found[name].n == 1
    assert found["period_rmssd_pct"].reason == Reason(Why.NO_NEIGHBOURS)
    two = measure_periods([rows([1.0, 1.02])], blocks("www"), music=False)
    assert two["period_cv_pct"].value == pytest.approx(100 * np.std([1, 1.02], ddof=1) / 1.01)


def test_drift_leaves_out_the_two_cycles_behind_the_cues():  # exact: 1 % a cycle, but for those two
    ratios = 1 + 0.01 * np.arange(12.0)
    ratios[6:8] = 0.7
    found = measure_periods([rows(ratios)], blocks("wwwwwwooooooo"), music=False)["drift_pct_per_cycle"]
    assert (found.value, found.n) == (pytest.approx(1.0), 10)
    # thinned cues do not stop, and cues that never were do not either
    for letters in ("ttttttooooooo", "ooooooooooooo", "wwwwwwwwwwwww"):
        assert measure_periods([rows(ratios)], blocks(letters), music=False)["drift_pct_per_cycle"].n == 12


def test_pace_is_held_by_cues_or_music_for_half_of_the_cycles():
    wander = rows(1 + 0.02 * np.random.default_rng(1).normal(size=24))
    wander = wander._replace(levels=0.02 * np.random.default_rng(2).normal(size=25))

    def width(letters, *, music=False):
        mean = measure_periods([wander], blocks(letters), music=music)["period_ratio_mean"]
        assert mean.high - mean.value == pytest.approx(mean.value - mean.low)
        return mean.high - mean.low

    cued, free = width("w" * 25), width("o" * 25)
    assert cued < free
    assert width("o" * 25, music=True) == cued
    assert width("w" * 12 + "o" * 12) == cued and width("w" * 11 + "o" * 13) == free


def test_split_needs_taps_and_thirty_periods_without_a_cue():
    free = rows(1 + 0.02 * np.random.default_rng(1).normal(size=40))
    for observed_by, letters, reason in (
        ("film", "o" * 41, Reason(Why.NOT_TAPPED, ("film",))),
        ("tap", "w" * 12 + "o" * 29, Reason(Why.FEW_FREE_PERIODS, (30, 28))),
    ):
        found = measure_split([free], blocks(letters), observed_by=observed_by)
        assert [found[name].reason for name in ("clock_sd_ms", "motor_sd_ms")] == [reason] * 2
        assert all(math.isnan(measure.value) for measure in found.values())
    assert measure_split([], {}, observed_by="tap")["clock_sd_ms"].reason == Reason(Why.FEW_FREE_PERIODS, (30, 0))
    # the hand with the most periods is taken
    both = measure_split([rows([1.0]), free], blocks("o" * 41), observed_by="tap")
    assert both["clock_sd_ms"].n == 40


def test_split_gives_back_clock_and_movement():  # Wing & Kristofferson: var = clock + 2 motor, cov = -motor
    generator = np.random.default_rng(11)
    n = 3000
    clock, motor = generator.normal(500, 20, n), generator.normal(0, 10, n + 1)
    free = rows((clock + np.diff(motor)) / 500)
    found = measure_split([free], blocks("o" * (n + 1)), observed_by="tap")
    assert found["clock_sd_ms"].value == pytest.approx(20, rel=0.1)
    assert found["motor_sd_ms"].value == pytest.approx(10, rel=0.1)
    assert found["clock_sd_ms"].n == n


def test_one_take_has_its_interval_also_where_chance_puts_a_variance_below_0():
    for seed in range(40):
        free = rows(1 + 0.06 * np.random.default_rng(seed).normal(size=40))
        found = measure_split([free], blocks("o" * 41), observed_by="tap")
        if found["motor_variance_ms2"].value < 0:
            break
    assert found["motor_sd_ms"].value == found["motor_sd_ms"].low == 0 < found["motor_sd_ms"].high < 30
    assert found["motor_sd_ms"].high == pytest.approx(math.sqrt(found["motor_variance_ms2"].high))
    assert not any(measure.reason for measure in found.values())
    assert found["clock_sd_ms"].low < 30 < found["clock_sd_ms"].high


def test_periods_without_any_scatter_have_no_levels():
    found = measure_split([rows(np.full(40, 1.0))], blocks("o" * 41), observed_by="tap")
    assert {measure.reason for measure in found.values()} == {Reason(Why.CONSTANT_PERIODS)}


def test_the_interval_of_the_drift_covers_who_drifts():
    generator = np.random.default_rng(3)
    hits = 0
    for _ in range(200):
        ratios = 1 + 0.002 * np.arange(24) + 0.02 * generator.normal(size=24)
        one = rows(ratios)._replace(levels=np.concatenate([[0], np.cumsum(ratios - 1)]))
        drift = measure_periods([one], blocks("o" * 25), music=False)["drift_pct_per_cycle"]
        hits += drift.low <= 0.2 <= drift.high
    assert hits / 200 >= 0.92


def test_the_registry_has_each_measure_once_with_what_is_true_of_it():
    """Of a long take without cues, tapped evenly but for scatter: every measure is there, with the interval it has."""
    plan = lay(Request("clubs_mills", tempo_bpm=100, cycles=60))
    plan = replace(plan, moments=replace(plan.moments, cue=np.zeros(len(plan.moments), dtype=bool)))
    generator = np.random.default_rng(5)
    times = plan.moments.time + generator.normal(0, 0.02, len(plan.moments))
    found = judge(Take(plan, Onsets.unsorted(times.tolist(), plan.moments.hand), observed_by="tap")).measures
    assert len({entry.key for entry in MEASURES}) == len(MEASURES) and set(found) == {entry.key for entry in MEASURES}
    assert {key for key, measure in found.items() if math.isnan(measure.value)} == set()
    assert [entry.key for entry in MEASURES if math.isnan(found[entry.key].low) == entry.interval] == []


def test_a_perfect_take_has_the_good_value_of_every_measure():
    plan = lay(Request("clubs_mills", tempo_bpm=100, cycles=16))
    found = judge(
        Take(plan, Onsets.unsorted(plan.moments.time.tolist(), plan.moments.hand), observed_by="tap")
    ).measures
    best = {"0": 0, "1": 1, "low": 0, "high": 1}
    for entry in MEASURES:
        if entry.good and not math.isnan(found[entry.key].value):
            assert found[entry.key].value == pytest.approx(best[entry.good], abs=1e-6), entry.key


def test_no_interval_of_a_length_goes_below_0():
    ratios = [0.2, 2.4, 0.3, 2.2, 0.2]
    hand = rows(ratios)._replace(levels=np.cumsum([0.0, *(np.array(ratios) - 1) * 6]))
    found = measure_periods([hand], blocks("oooooo"), music=False)
    for name in ("period_ratio_mean", "period_mean_ms"):
        assert found[name].low == 0 < found[name].value < found[name].high
    assert found["period_cv_pct"].low > 0
