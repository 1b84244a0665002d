"""Whom a take may show: variances against long simulations, the likelihood against an independent library."""

import math

import numpy as np
import pytest
from scipy.signal import lfilter
from statsmodels.api import GLS

from tempo_coach.score.measures import intervals
from tempo_coach.score.measures.intervals import half_interval


@pytest.mark.parametrize(("gain", "movement", "wander"), [(0.2, 0.5, 0.6), (0.5, 0.25, 0.0), (1.0, 0.0, 0.0)])
def test_the_variance_of_a_sum_is_that_of_a_long_simulation(gain, movement, wander):
    generator = np.random.default_rng(1)
    late = lfilter([1], [1, -(1 - gain)], lfilter([1], [1, -wander], generator.normal(size=400_000)))[1000:]
    late = late * math.sqrt((1 - movement) / np.diff(late).var())
    late = late + generator.normal(0, math.sqrt(movement / 2), len(late))
    rows = late[: len(late) // 8 * 8].reshape(-1, 8)
    who = [tuple(person[:3]) for person in intervals._grid(0)].index((gain, movement, wander))
    assert intervals._variances(np.full(8, 1 / 8), 0)[who] == pytest.approx(rows.mean(axis=1).var(), rel=0.03)
    ends = np.zeros(8)
    ends[0], ends[-1] = -1 / 7, 1 / 7
    who = [tuple(person[:3]) for person in intervals._grid(1)].index((gain, movement, wander))
    assert intervals._variances(ends, 1)[who] == pytest.approx((rows @ ends).var(), rel=0.03)


def test_a_walk_without_correction_is_off_by_its_steps():  # exact: n steps of variance 1, and two movements
    ends = np.array([-1, 0, 0, 0, 1.0])
    for person, variance in zip(intervals._grid(1), intervals._variances(ends, 1), strict=True):
        gain, movement, wander, _ = person
        if gain == 0 and wander == 0:
            assert variance == pytest.approx(4 * (1 - movement) + movement)


@pytest.mark.parametrize("freed", [0, 1, 2])
def test_what_is_left_of_a_person_is_what_statsmodels_leaves(freed):
    values = np.random.default_rng(7).normal(0, 0.02, 12)
    everybody = intervals._gather(12, freed)
    lines = np.vander(np.arange(12.0), freed + 1)
    who = 0
    for person, projection in zip(intervals._grid(freed), everybody.projection, strict=True):
        gain, movement, wander, _ = person
        if gain:
            apart = np.abs(np.subtract.outer(np.arange(12), np.arange(12)))
            fit = GLS(values, lines, sigma=intervals._level_covariance(gain, movement, wander, 12)[apart]).fit()
            assert values @ projection @ values == pytest.approx(float(fit.wresid @ fit.wresid))
            who += 1
    assert who == len(intervals.MOVEMENT) * len(intervals.WANDER) * (len(intervals.GAINS) - 1)


def test_a_polynomial_changes_nothing_and_scale_does():
    values = np.random.default_rng(2).normal(0, 0.02, 30)
    ends = np.zeros(30)
    ends[0], ends[-1] = -1, 1
    plain = half_interval(values, ends, freed=1)
    assert half_interval(values + 0.3 + 0.05 * np.arange(30), ends, freed=1) == pytest.approx(plain, rel=1e-6)
    assert half_interval(3 * values, ends, freed=1) == pytest.approx(3 * plain, rel=1e-6)
    assert half_interval(values[::-1].copy(), ends, freed=1) == pytest.approx(plain, rel=1e-6)


def test_missing_ends_are_no_part_of_it():
    values = np.random.default_rng(4).normal(0, 0.02, 20)
    padded = np.concatenate([[np.nan, np.nan], values, [np.nan]])
    weights = np.concatenate([[0, 0], np.full(20, 0.05), [0]])
    assert half_interval(padded, weights, freed=0) == half_interval(values, np.full(20, 0.05), freed=0)


def test_a_higher_level_is_wider_and_a_few_values_carry_none():
    values = np.random.default_rng(5).normal(0, 0.02, 12)
    weights = np.full(12, 1 / 12)
    assert half_interval(values, weights, freed=0, level=0.8) < half_interval(values, weights, freed=0, level=0.99)
    assert math.isnan(half_interval(values[:4], weights[:4], freed=0))
    assert math.isnan(half_interval(values[:6], weights[:6], freed=2))


def test_a_long_series_is_taken_in_pieces(monkeypatch):
    values = np.random.default_rng(5).normal(0, 0.02, 5000)
    gather, lengths = intervals._gather, set()
    monkeypatch.setattr(intervals, "_gather", lambda n, freed: lengths.add(n) or gather(n, freed))
    half = half_interval(values, np.full(5000, 1 / 5000), freed=0)
    # the work grows with the square of a piece's length, and each length is prepared once
    assert max(lengths) <= intervals.PIECE + 1 and len(lengths) <= 2
    assert half == pytest.approx(1.96 * 0.02 / math.sqrt(5000), rel=0.1)
