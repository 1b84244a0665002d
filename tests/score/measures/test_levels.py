"""Clock and movement without bias: the expectation is exact, and the intervals cover."""

import math

import numpy as np
import pytest

from tempo_coach.score.measures.levels import _lay, split_levels


def expectation(known, clock, motor):
    """Mean of the estimates, from every pair of values instead of from traces."""
    n = len(known)
    covariance = clock * np.eye(n) + motor * (2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1))
    root = np.linalg.cholesky(covariance)
    found = np.zeros(2)
    for column in root.T:  # estimates are sums of squares, so those of the columns add up to the mean
        for sign in (1, -1):
            values = np.where(known, sign * column, np.nan)
            found += [level.variance / 2 for level in split_levels(values)]
    return found


@pytest.mark.parametrize(("clock", "motor"), [(20, 10), (30, 5), (10, 20)])
@pytest.mark.parametrize("n", [30, 50, 100, 200])
def test_the_mean_of_the_variances_is_right_at_every_length(n, clock, motor):  # exact
    assert expectation(np.ones(n, dtype=bool), clock**2, motor**2) == pytest.approx((clock**2, motor**2))


def test_gaps_leave_it_right():  # exact
    known = np.random.default_rng(1).random(75) > 0.2
    assert expectation(known, 400.0, 100.0) == pytest.approx((400, 100))


def test_a_drift_is_taken_out_of_every_block():
    values = np.random.default_rng(2).normal(500, 20, 60)
    bent = values + np.concatenate([3.0 * np.arange(30), 90 - 3.0 * np.arange(30)])
    for plain, with_drift in zip(split_levels(values), split_levels(bent), strict=True):
        assert with_drift == pytest.approx(plain)


@pytest.mark.parametrize(("clock", "motor"), [(20, 10), (30, 5), (10, 20)])
@pytest.mark.parametrize("n", [30, 120])
def test_the_intervals_cover(n, clock, motor):
    generator = np.random.default_rng(n)
    hits = np.zeros(2)
    for _ in range(200):
        intervals = generator.normal(500, clock, n) + np.diff(generator.normal(0, motor, n + 1))
        for k, (level, truth) in enumerate(zip(split_levels(intervals), (clock**2, motor**2), strict=True)):
            assert level.low <= max(level.variance, 0) <= level.high
            hits[k] += level.low <= truth <= level.high
    assert (hits / 200 >= 0.9).all() and (hits / 200 <= 0.99).all()


def test_the_intervals_cover_heavy_tails():  # Student's t with 3 degrees of freedom
    generator = np.random.default_rng(5)
    hits = np.zeros(2)
    for _ in range(100):
        intervals = 20 * generator.standard_t(3, 200) + np.diff(10 * generator.standard_t(3, 201))
        for k, (level, sd) in enumerate(zip(split_levels(intervals), (20, 10), strict=True)):
            hits[k] += level.low <= 3 * sd**2 <= level.high
    assert (hits >= 90).all()


def test_a_movement_that_does_not_show_has_an_interval_from_0():
    generator = np.random.default_rng(4)
    clock, motor = split_levels(generator.normal(500, 30, 200))
    assert clock.low > 0
    assert motor.low == 0 < motor.high < clock.low


def test_too_few_intervals_tell_nothing():
    for values in ([], [500.0] * 2, [500.0, math.nan, 510.0, math.nan, 505.0]):
        assert all(math.isnan(value) for level in split_levels(values) for value in level)


def test_the_cumulants_are_those_of_chi_squares():  # exact: the sum of squares of n - 2 separate values of variance 1
    laid = _lay(np.ones(12, dtype=bool).tobytes())
    assert laid.first[0, 0] == pytest.approx(10)
    assert 2 * laid.second[0, 0] == pytest.approx(20)
    assert 8 * laid.third[0, 0, 0] == pytest.approx(80)
