"""Intervals: known coverage on series whose truth is known (the whole table is in the benchmarks)."""

import math

import numpy as np
import pytest
import scipy.fft
import scipy.stats

from tempo_coach.score.interval import interval_of_mean, interval_of_root, interval_of_slope, long_run_error


def test_separate_values_are_covered_as_students_t_would():
    generator = np.random.default_rng(1)
    hits = 0
    for _ in range(600):
        low, high = interval_of_mean(generator.normal(0, 1, 40))
        hits += low <= 0 <= high
    assert 0.92 <= hits / 600 <= 0.98


def test_values_that_go_together_are_covered_where_a_plain_error_would_not():
    generator = np.random.default_rng(2)
    ours = plain = 0
    for _ in range(600):
        series = np.zeros(80)
        for k in range(1, 80):
            series[k] = 0.6 * series[k - 1] + generator.normal()
        series = series[20:]
        low, high = interval_of_mean(series)
        ours += low <= 0 <= high
        plain += abs(series.mean()) <= 2 * series.std(ddof=1) / math.sqrt(len(series))
    assert ours / 600 > 0.91
    assert plain / 600 < 0.75


def test_a_spread_and_a_slope_are_covered():
    generator = np.random.default_rng(3)
    spreads = slopes = 0
    x = np.arange(40.0)
    for _ in range(600):
        values = generator.normal(0, 2, 40)
        low, high = interval_of_root((values - values.mean()) ** 2, value=float(values.std(ddof=1)))
        spreads += low <= 2 <= high
        y = 0.1 * x + values
        low, high = interval_of_slope(x, y, slope=float(np.polyfit(x, y, 1)[0]))
        slopes += low <= 0.1 <= high
    assert 0.90 <= spreads / 600 <= 0.98
    assert 0.91 <= slopes / 600 <= 0.98


def test_one_outlier_does_not_blow_up_the_interval_of_a_slope():
    x = np.arange(30.0)
    y = np.random.default_rng(4).normal(0, 1, 30)
    low, high = interval_of_slope(x, y, slope=0.0)
    y[3] += 100
    wide_low, wide_high = interval_of_slope(x, y, slope=0.0)
    assert wide_high - wide_low < 2 * (high - low)


def test_few_values_carry_no_interval():
    for low, high in (
        interval_of_mean(np.zeros(4)),
        interval_of_root(np.ones(4), value=1.0),
        interval_of_slope(np.arange(4.0), np.zeros(4), slope=0.0),
    ):
        assert math.isnan(low)
        assert math.isnan(high)


def test_values_that_do_not_vary_have_no_error():
    assert long_run_error(np.ones(9))[0] == 0
    assert interval_of_mean(np.ones(9)) == (1, 1)
    assert interval_of_root(np.zeros(9), value=0.0) == (0, 0)


@pytest.mark.parametrize("centre", [None, 5.0])
def test_an_interval_lies_around_its_centre(centre):
    values = np.random.default_rng(5).normal(0, 1, 30)
    low, high = interval_of_mean(values, centre=centre)
    assert (low + high) / 2 == pytest.approx(values.mean() if centre is None else 5)


def error_by_scipy(values, first=1):
    """The standard error of a mean with scipy's cosine transform: neighbours' correlation out first, and back."""
    n = len(values)
    rest = values - values.mean()
    together = (rest[1:] * rest[:-1]).mean() / (rest**2).mean()
    together = np.clip(together + (1 + 3 * together) / n, -0.9, 0.85)
    white = rest[1:] - together * rest[:-1]
    number = max(2, min(round(0.4 * n ** (2 / 3)), n - 2, 40))
    cosines = scipy.fft.dct(white, type=2, norm="ortho")[first : first + number]
    return math.sqrt((cosines**2).mean() / n) / (1 - together), number


@pytest.mark.parametrize("n", [5, 6, 9, 40, 300, 2000])
@pytest.mark.parametrize("first", [1, 2])
def test_the_error_of_a_mean_is_that_of_scipys_cosine_transform(n, first):
    for kept in (0.0, 0.5, 0.999, -0.999):
        series = np.random.default_rng(n).normal(0, 1, n)
        for k in range(1, n):
            series[k] += kept * series[k - 1]
        error, freedom = long_run_error(series, first=first)
        assert (error, freedom) == pytest.approx(error_by_scipy(series, first))


def half_by_scipy(values, *, first=1, level=0.95):
    error, freedom = error_by_scipy(values, first)
    return (1 + 18 / len(values) ** 2) * scipy.stats.t.ppf(0.5 + level / 2, freedom) * error


@pytest.mark.parametrize("n", [5, 12, 60])
@pytest.mark.parametrize("level", [0.8, 0.95])
def test_the_intervals_are_students(n, level):
    values = np.random.default_rng(n).normal(3, 1, n)
    half = half_by_scipy(values, level=level)
    assert interval_of_mean(values, level=level) == pytest.approx((values.mean() - half, values.mean() + half))
    squares = (values - values.mean()) ** 2
    apart = 1.3 * half_by_scipy(squares, level=level) / squares.mean() / 2
    low, high = interval_of_root(squares, value=2.0, wider=1.3, level=level)
    assert (low, high) == pytest.approx((2 * math.exp(-apart), 2 * math.exp(apart)))


@pytest.mark.parametrize("n", [6, 12, 60])
def test_the_interval_of_a_slope_draws_outliers_in(n):
    x = np.arange(n) * 2.0 + 7
    y = 0.3 * x + np.random.default_rng(n).normal(0, 1, n)
    y[1] += 50
    rest = y - 0.3 * (x - x.mean())
    rest = rest - np.median(rest)
    limit = 3 * 1.4826 * np.median(np.abs(rest))
    half = 1.2 * half_by_scipy(np.clip(rest, -limit, limit), first=2) / np.std(x)
    assert interval_of_slope(x, y, slope=0.3, wider=1.2) == pytest.approx((0.3 - half, 0.3 + half))


def test_five_values_carry_an_interval_and_squares_of_nothing_are_exact():
    assert not math.isnan(interval_of_mean(np.arange(5.0))[0])
    assert not math.isnan(interval_of_root(np.arange(5.0), value=1.0)[0])
    assert not math.isnan(interval_of_slope(np.arange(5.0), np.arange(5.0) ** 2, slope=4.0)[0])
    assert interval_of_root(np.zeros(9), value=0.5) == (0.5, 0.5)
    assert interval_of_root(np.ones(9), value=0.0) == (0.0, 0.0)
    assert long_run_error(np.ones(9)) == (0.0, 2)
