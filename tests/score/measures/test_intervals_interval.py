"""Intervals: known coverage on series whose truth is known (the whole table is in the benchmarks)."""

import math

import numpy as np
import pytest
from scipy.stats import t

from tempo_coach.score.measures.intervals import (
    go_together,
    half_interval_of_drift,
    half_interval_of_pace,
    interval_of_correlation,
    interval_of_mean,
    interval_of_root,
)
from tests.benchmarks.performer import correct


def levels(generator, n, gain=0.4):
    return correct(generator, n, gain=gain, clock=0.019, motor=0.015)


@pytest.mark.parametrize("n", [8, 40])
def test_a_mean_of_who_corrects_herself_is_covered_where_a_plain_error_would_not(n):
    generator = np.random.default_rng(n)
    ours = plain = 0
    for _ in range(300):
        values = levels(generator, n, gain=0.3)
        low, high = interval_of_mean(values)
        ours += low <= 0 <= high
        plain += abs(values.mean()) <= t.ppf(0.975, n - 1) * values.std(ddof=1) / math.sqrt(n)
    assert ours / 300 >= 0.93
    assert plain / 300 < 0.88


@pytest.mark.parametrize("n", [8, 24, 48])
def test_a_tempo_and_a_drift_are_covered(n):
    generator = np.random.default_rng(n)
    tempo = drift = 0
    number = np.arange(n - 1) - (n - 2) / 2
    for _ in range(300):
        values = levels(generator, n)
        tempo += abs(values[-1] - values[0]) / (n - 1) <= half_interval_of_pace(values, cued=True)
        slope = float(number @ np.diff(values) / (number**2).sum())
        drift += abs(slope) <= half_interval_of_drift(values, np.ones(n - 1, dtype=bool), cued=True)
    assert tempo / 300 >= 0.93
    assert drift / 300 >= 0.93


@pytest.mark.parametrize("n", [8, 24])
def test_a_spread_is_covered_also_with_heavy_tails(n):
    generator = np.random.default_rng(n)
    hits = {"normal": 0, "heavy": 0}
    for _ in range(400):
        for name, values in (
            ("normal", generator.normal(0, 2, n)),
            ("heavy", 2 / math.sqrt(3) * generator.standard_t(3, n)),
        ):
            low, high = interval_of_root((values - values.mean()) ** 2, value=float(values.std(ddof=1)))
            hits[name] += low <= 2 <= high
    assert 0.93 <= hits["normal"] / 400 <= 0.995
    assert hits["heavy"] / 400 >= 0.88


def test_whoever_goes_by_herself_is_less_sure_of_her_tempo():
    values = levels(np.random.default_rng(1), 40)
    assert half_interval_of_pace(values, cued=True) < half_interval_of_pace(values, cued=False) / 2


def test_scatter_about_a_cue_is_worth_the_difference_of_two_ends():
    """Two ends of SD 0.01 differ by SD 0.01 times the root of 2; an exact value when the people are told."""
    generator = np.random.default_rng(1)
    halves = [half_interval_of_pace(generator.normal(0, 0.01, 49), cued=True) for _ in range(50)]
    assert np.mean(halves) == pytest.approx(1.96 * 0.01 * math.sqrt(2) / 48, rel=0.15)


def test_a_gap_makes_two_stretches_with_four_ends():
    values = np.random.default_rng(3).normal(0, 0.02, 60)
    whole = half_interval_of_pace(values, cued=True)
    values[30] = np.nan
    assert half_interval_of_pace(values, cued=True) == pytest.approx(math.sqrt(2) * whole, rel=0.12)


def test_few_values_carry_no_interval():
    assert math.isnan(interval_of_mean(np.zeros(4))[0])
    assert math.isnan(interval_of_root(np.ones(4), value=1.0)[0])
    assert math.isnan(interval_of_correlation(np.ones(4), np.ones(4), value=0.5)[0])
    assert math.isnan(half_interval_of_pace(np.zeros(5), cued=True))
    assert math.isnan(half_interval_of_pace(np.array([0, np.nan] * 8, dtype=float), cued=True))
    assert math.isnan(half_interval_of_drift(np.zeros(9), np.arange(8) < 4, cued=True))
    assert not math.isnan(interval_of_mean(np.arange(5.0))[0])
    assert not math.isnan(interval_of_root(np.arange(5.0), value=1.0)[0])


def test_values_that_do_not_vary_have_no_error():
    assert interval_of_mean(np.ones(9)) == (1, 1)
    assert interval_of_root(np.zeros(9), value=0.5) == (0.5, 0.5)
    assert interval_of_root(np.ones(9), value=0.0) == (0.0, 0.0)
    assert half_interval_of_pace(0.1 + 0.01 * np.arange(12), cued=True) == 0
    assert math.isnan(interval_of_correlation(np.zeros(9), np.zeros(9), value=0.5)[0])


@pytest.mark.parametrize("centre", [None, 5.0])
def test_an_interval_lies_around_its_centre(centre):
    values = np.random.default_rng(5).normal(0, 1, 30)
    low, high = interval_of_mean(values, centre=centre)
    assert (low + high) / 2 == pytest.approx(values.mean() if centre is None else 5)


@pytest.mark.parametrize("n", [5, 12, 60])
@pytest.mark.parametrize("together", [0.0, 0.5, -0.5, 1.0])
def test_the_interval_of_a_root_is_that_of_its_squares(n, together):  # exact
    squares = np.random.default_rng(n).normal(0, 1, n) ** 2
    shared = min(together**2, 0.85**2)
    error = np.std(squares, ddof=1) / math.sqrt(n) / squares.mean() / 2 * math.sqrt((1 + shared) / (1 - shared))
    low, high = interval_of_root(squares, value=2.0, together=together)
    assert (low, high) == pytest.approx((2 * math.exp(-2 * error), 2 * math.exp((3.8 + 8 / n) * error)))


def test_the_interval_of_a_correlation_stays_inside_what_one_can_be():
    generator = np.random.default_rng(2)
    x = generator.normal(0, 1, 21)
    products, squares = x[1:] * x[:-1], x[1:] ** 2
    for value in (-0.97, 0.0, 0.97):
        low, high = interval_of_correlation(products, squares, value=value)
        assert -1 <= low < value < high <= 1
    assert math.isnan(interval_of_correlation(squares, squares, value=1.0)[0])
    error = math.sqrt(20 / 19 * (products**2).sum()) / squares.sum()
    assert interval_of_correlation(products, squares, value=0.0)[1] == pytest.approx(math.tanh(2.2 * error))


def test_neighbours_that_go_together():  # exact: the plain correlation, and what a short series hides of it
    values = np.random.default_rng(6).normal(0, 1, 30).cumsum()
    rest = values - values.mean()
    plain = (rest[1:] * rest[:-1]).sum() / 29 / (rest**2).mean()
    assert go_together(values) == pytest.approx(min(plain + (1 + 3 * plain) / 30, 0.85))
    assert go_together(np.ones(9)) == go_together(np.arange(4.0)) == 0
    assert go_together(np.arange(40.0)) == 0.85
    assert go_together((-1.0) ** np.arange(40)) == -0.85
