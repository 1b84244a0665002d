"""Keeping time: exact values, an independent library, and the models that the numbers come from."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.tsa.stattools import acovf

from tempo_coach.score.measures.circular import circular_sd, mean_direction, resultant_length
from tempo_coach.score.measures.period import (
    autocovariance,
    coefficient_of_variation,
    detrend,
    lag_one,
    periods,
    robust_slope,
    spread,
    successive_difference,
)
from tests.benchmarks.performer import variance_of_correction

ASYNCHRONIES = np.array([-35, -42, -28, -51, -30, -44, -39, -33.0])
A = np.array([516, 487, 513, 494, 488, 495, 502, 494, 504, 516, 501, 490.0])
B = np.array([502, 495, 508, 497, 503, 494, 509, 498, 501, 493, 507, 499.0])
C = np.array([512, 488, 503, 521, 489, 470, 495, 531, 508, 476, 492, 515.0])


def test_asynchronies_in_a_row_of_half_seconds():  # exact
    onsets = np.arange(8) * 500 + ASYNCHRONIES
    assert ASYNCHRONIES.mean() == -37.75
    assert spread(ASYNCHRONIES) == pytest.approx(7.741355, abs=1e-6)
    assert math.sqrt((ASYNCHRONIES**2).mean()) == pytest.approx(38.438262, abs=1e-6)
    intervals = np.diff(onsets)
    assert intervals.mean() == pytest.approx(500.285714, abs=1e-6)
    assert spread(intervals) == pytest.approx(15.660080, abs=1e-6)
    assert coefficient_of_variation(intervals) == pytest.approx(3.130227, abs=1e-6)


def test_the_same_as_angles_of_the_period():  # as scipy and astropy have them
    degrees = ASYNCHRONIES / 500 * 360
    length = resultant_length(degrees)
    assert mean_direction(degrees) == pytest.approx(-27.177321, abs=1e-6)
    assert length == pytest.approx(0.995866, abs=1e-6)
    assert circular_sd(length) == pytest.approx(5.215435, abs=1e-6)
    assert circular_sd(length) / 360 * 500 == pytest.approx(7.243659, abs=1e-6)


def test_correction_as_it_is_and_detrended():
    assert lag_one(ASYNCHRONIES) == pytest.approx(-0.790375, abs=1e-6)
    assert lag_one(detrend(ASYNCHRONIES)) == pytest.approx(-0.789988, abs=1e-6)


def ratios(done, asked):
    return (periods(done, np.arange(len(done))) / periods(asked, np.arange(len(asked))))[:-1]


def test_a_tempo_that_changes_as_asked_is_not_charged():  # exact
    asked = np.concatenate([[0], np.cumsum(np.linspace(0.5, 0.6, 11))])
    found = ratios(asked, asked)
    assert found == pytest.approx(np.ones(11))
    assert coefficient_of_variation(found) == pytest.approx(0, abs=1e-9)
    assert coefficient_of_variation(np.diff(asked)) == pytest.approx(6.030227, abs=1e-6)


def test_one_long_cycle_in_it():  # exact
    asked = np.concatenate([[0], np.cumsum(np.linspace(0.5, 0.6, 11))])
    done = asked + np.where(np.arange(12) >= 6, 0.120, 0)
    found = ratios(done, asked)
    assert found[5] == pytest.approx(1.218182, abs=1e-6)
    assert found.mean() == pytest.approx(1.019835, abs=1e-6)
    assert coefficient_of_variation(found) == pytest.approx(6.450486, abs=1e-6)


def test_a_missed_anchor_takes_two_periods_out_and_makes_no_double_one():
    assert periods([0, 1, math.nan, 3, 4], range(5)) == pytest.approx([1, *[math.nan] * 2, 1, math.nan], nan_ok=True)
    assert periods([0, 1, 3, 4], [0, 1, 3, 4]) == pytest.approx([1, math.nan, 1, math.nan], nan_ok=True)
    assert periods([2.5], [7]) == pytest.approx([math.nan], nan_ok=True)
    assert periods([], []).size == 0


@pytest.mark.parametrize(("scale", "shift"), [(1.0, 0.0), (1.0, 0.3), (1.05, 0.0)])
def test_a_shift_leaves_the_ratio_and_another_tempo_is_the_ratio(scale, shift):
    asked = np.arange(9) * 0.5
    assert ratios(asked * scale + shift, asked) == pytest.approx(np.full(8, scale))


def test_covariances_of_a_row_of_intervals():
    # as statsmodels has them; of clock and movement (Wing & Kristofferson 1973, formula from memory) the movement's
    # variance is -C(1) and the clock's C(0) + 2 C(1)
    c0, c1 = autocovariance(A, 0), autocovariance(A, 1)
    assert spread(A) == pytest.approx(10.496753, abs=1e-6)
    assert coefficient_of_variation(A) == pytest.approx(2.099351, abs=1e-6)
    assert successive_difference(A) == pytest.approx(15.568033, abs=1e-6)
    assert (c0, c1, lag_one(A)) == pytest.approx((101, -24.916667, -0.246700), abs=1e-6)
    assert (-c1, c0 + 2 * c1) == pytest.approx((24.916667, 51.166667), abs=1e-6)
    assert lag_one(B) == pytest.approx(-0.731763, abs=1e-6) and lag_one(C) == pytest.approx(0.028579, abs=1e-6)
    assert lag_one(A + 4 * np.arange(12)) == pytest.approx(0.566276, abs=1e-6)
    assert math.isnan(lag_one(np.full(12, 500.0)))


def test_covariances_do_not_see_a_straight_drift_when_it_is_taken_out():  # exact
    for values in (A, A + 4 * np.arange(12)):
        straight = detrend(values)
        assert (autocovariance(straight, 0), autocovariance(straight, 1)) == pytest.approx((100.403263, -22.511072))
    assert np.polyfit(np.arange(12), A, 1)[0] == pytest.approx(-0.223776, abs=1e-6)


def test_covariances_of_a_simulated_clock_and_movement():
    # clock SD 20, motor SD 10 (Wing & Kristofferson 1973; bounds -0.5..0: Doumas & Wing 2007, abstract)
    generator = np.random.default_rng(3)
    delays = generator.normal(0, 10, 200_001)
    intervals = generator.normal(500, 20, 200_000) + np.diff(delays)
    assert autocovariance(intervals, 0) == pytest.approx(600, rel=0.02)
    assert autocovariance(intervals, 1) == pytest.approx(-100, rel=0.05)
    assert lag_one(intervals) == pytest.approx(-0.166667, abs=0.01)


@pytest.mark.parametrize(
    ("gain", "variance"), [(0.4, 750), (0.2, 1222.222222), (0.6, 619.047619), (1, 600), (1.5, 933.333333)]
)
def test_the_simulated_performer_corrects_as_the_model_says(gain, variance):  # exact, and simulated
    from tests.benchmarks.performer import correct

    assert variance_of_correction(gain, clock=20, motor=10) == pytest.approx(variance, abs=1e-6)
    series = correct(np.random.default_rng(4), 200_000, gain=gain, clock=20, motor=10)
    assert series.var() == pytest.approx(variance, rel=0.03)
    if gain == 0.4:
        assert lag_one(series) == pytest.approx(0.466667, abs=0.01)


def test_autocovariances_are_those_of_statsmodels():
    generator = np.random.default_rng(5)
    for n in (2, 5, 12, 200):
        values = generator.normal(3, 2, n)
        for lag in range(min(n, 4)):
            assert autocovariance(values, lag) == pytest.approx(acovf(values, fft=False)[lag])


def test_a_gap_is_left_out_of_the_covariance():
    values = np.array([1.0, 2, math.nan, 4, 1, 2])
    centred = values - 2.0
    expected = (centred[0] * centred[1] + centred[3] * centred[4] + centred[4] * centred[5]) / 5
    assert autocovariance(values, 1) == pytest.approx(expected)


def test_the_robust_slope_with_takes_that_share_a_day_is_scipys():
    generator = np.random.default_rng(7)
    days = np.array([0, 0, 0, 1, 2, 2, 5, 9, 9, 12, 14, 14.0])
    for level in (0.8, 0.95):
        values = generator.normal(0, 1, 12) + 0.1 * days
        other = stats.theilslopes(values, days, alpha=level)
        ours = robust_slope(days, values, level=level)
        assert ours == pytest.approx((other.slope, other.low_slope, other.high_slope))


def test_the_interval_of_the_robust_slope_counts_takes_that_share_a_day_as_scipy_does():
    days = np.repeat([0.0, 1.0, 2.0], 20)  # ties take off more than half of the variance
    values = np.random.default_rng(9).normal(0, 1, 60) + 0.1 * days
    other = stats.theilslopes(values, days)
    assert robust_slope(days, values) == pytest.approx((other.slope, other.low_slope, other.high_slope))


def test_a_long_series_is_told_by_the_medians_of_200_stretches():
    generator = np.random.default_rng(8)
    x, y = np.arange(1000.0), generator.normal(0, 1, 1000)
    other = stats.theilslopes(np.median(y.reshape(200, 5), axis=1), x.reshape(200, 5).mean(axis=1))
    assert robust_slope(x, y) == pytest.approx((other.slope, other.low_slope, other.high_slope))
    short = stats.theilslopes(y[:200], x[:200])
    assert robust_slope(x[:200], y[:200])[0] == pytest.approx(short.slope)


def test_the_robust_slope_is_scipys():
    generator = np.random.default_rng(6)
    for n in (3, 8, 30, 60):
        values = generator.normal(0, 1, n) + 0.1 * np.arange(n)
        slope, low, high = robust_slope(np.arange(n), values)
        other = stats.theilslopes(values, np.arange(n))
        assert slope == pytest.approx(other.slope)
        assert (low, high) == pytest.approx((other.low_slope, other.high_slope))


def test_the_robust_slope_does_not_feel_one_broken_cycle():
    values = 1 + 0.002 * np.arange(20)
    values[7] += 0.4
    assert robust_slope(np.arange(20), values)[0] == pytest.approx(0.002, abs=2e-4)


def test_a_long_series_has_the_same_slope_in_little_time():
    x = np.arange(10_000.0)
    assert robust_slope(x, 0.003 * x + np.sin(x))[0] == pytest.approx(0.003, abs=1e-4)


def test_steadiness_is_blind_to_slow_drift():
    drifting = 500 + np.arange(200) * 0.5
    assert successive_difference(drifting) == pytest.approx(0.5)
    assert spread(drifting) > 25


@pytest.mark.parametrize("measure", [spread, coefficient_of_variation, successive_difference])
def test_nothing_and_one_value_have_no_spread(measure):
    assert math.isnan(measure([]))
    assert math.isnan(measure([1.0]))


def test_nothing_has_neither_covariance_nor_slope():
    assert math.isnan(autocovariance([], 0))
    assert math.isnan(lag_one([1.0, 1.0]))
    assert math.isnan(robust_slope([], [])[0])
    assert math.isnan(robust_slope([1], [1])[0])
    assert len(detrend([])) == 0


@given(st.lists(st.floats(-1e3, 1e3), min_size=3, max_size=30), st.floats(-10, 10), st.floats(-10, 10))
def test_a_line_is_gone_after_detrending(values, slope, level):
    line = level + slope * np.arange(len(values))
    assert detrend(np.add(values, line)) == pytest.approx(detrend(values), abs=1e-8)


def test_two_values_have_a_spread_and_two_lags_a_covariance():
    assert spread([1.0, 3.0]) == pytest.approx(math.sqrt(2))
    assert coefficient_of_variation([1.0, 3.0]) == pytest.approx(50 * math.sqrt(2))
    assert autocovariance([1.0, 3.0], 1) == pytest.approx(-0.5)
    assert math.isnan(autocovariance([1.0, 3.0], 2))
    assert math.isnan(autocovariance([1.0, 3.0], -1))
    assert lag_one([1e-7, 3e-7]) == pytest.approx(-0.5)


def test_a_line_through_two_points_leaves_nothing_and_through_one_no_level():
    assert detrend([3.0, 7.0]) == pytest.approx([0, 0], abs=1e-12)
    assert detrend([3.0]) == pytest.approx([0])
    assert detrend([math.nan, 3.0]) == pytest.approx([math.nan, 0], nan_ok=True)
    assert np.isnan(detrend([math.nan, math.nan])).all()
    # the line is that of numpy through what is known
    values = np.array([1.0, 4.0, math.nan, 2.0, 9.0])
    known = ~np.isnan(values)
    line = np.polyfit(np.arange(5)[known], values[known], 1)
    assert detrend(values) == pytest.approx(values - np.polyval(line, np.arange(5)), nan_ok=True)


@pytest.mark.parametrize(
    ("measure", "said"),
    [
        (spread, "values"),
        (coefficient_of_variation, "values"),
        (lambda x: periods([x], [0]), "anchors"),
        (lambda x: robust_slope(x, [1.0]), "places"),
        (lambda x: robust_slope([1.0], x), "values"),
        (lambda x: detrend([x]), "values"),
    ],
)
def test_what_is_no_column_is_named(measure, said):
    with pytest.raises(ValueError, match=rf"^{said}\b"):
        measure([1.0, math.inf])


def test_gaps_are_allowed_where_they_are_said_to_be():
    gap = [1.0, math.nan, 2.0, 4.0]
    assert successive_difference(gap) == 2
    assert periods(gap, range(4)) == pytest.approx([math.nan, math.nan, 2.0, math.nan], nan_ok=True)
    assert not math.isnan(lag_one([*gap, 1.0, 3.0]))
