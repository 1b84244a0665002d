"""Studentised periods: against statsmodels' own, and what a fault may not hide."""

import math

import numpy as np
import pytest

from tempo_coach.score import residual
from tempo_coach.score.residual import KEPT_TO_SD, robust_sd, studentise_periods
from tests.benchmarks.performer import correct


def test_the_scatter_is_that_of_a_normal_distribution():
    values = np.random.default_rng(1).normal(3, 2, 200_000)
    assert robust_sd(values) == pytest.approx(2, rel=0.01)
    smaller = np.sort(np.random.default_rng(2).normal(0, 1, 400_000) ** 2)[:300_000]
    assert 1 / math.sqrt(smaller.mean()) == pytest.approx(KEPT_TO_SD, abs=0.01)
    assert math.isnan(robust_sd(np.array([np.nan])))


def test_what_stands_out_does_not_hide_itself():
    values = np.random.default_rng(3).normal(0, 1, 40)
    with_fault = np.concatenate([values, [50, -60, 70]])
    assert robust_sd(with_fault) < 1.35 * robust_sd(values)
    assert with_fault.std() > 10


def test_without_beliefs_they_are_externally_studentised_residuals(monkeypatch):
    """As an independent library has them (statsmodels, OLSInfluence.resid_studentized_external)."""
    api = pytest.importorskip("statsmodels.api")
    monkeypatch.setattr(residual, "SCATTER_COUNTS", 0.0)
    monkeypatch.setattr(residual, "CORRECTION_COUNTS", 0.0)
    monkeypatch.setattr(residual, "LINE_USES", 2.0)
    monkeypatch.setattr(residual, "LEFT_OUT", 1e9)
    levels = np.random.default_rng(4).normal(0, 0.02, 21)
    ratios = 1 + np.diff(levels)
    (ours,) = studentise_periods([ratios], [levels[:-1]])
    line = api.OLS(ratios, api.add_constant(levels[:-1])).fit()
    assert ours == pytest.approx(line.get_influence().resid_studentized_external)


@pytest.mark.parametrize("cycles", [8, 16, 48])
def test_of_good_periods_few_are_far_out(cycles):
    generator = np.random.default_rng(cycles)
    out = []
    for _ in range(2000 // cycles):
        levels = correct(generator, cycles, gain=0.5, clock=0.019, motor=0.015)
        out.append(studentise_periods([1 + np.diff(levels)], [levels[:-1]])[0])
    assert np.concatenate(out).std() == pytest.approx(1, abs=0.15)


@pytest.mark.parametrize("gain", [0.0, 0.5, 1.0])
def test_a_long_period_stands_out_and_its_correction_does_not(gain):
    generator = np.random.default_rng(6)
    levels = correct(generator, 13, gain=0.5, clock=0.015, motor=0.01)
    levels[6:] += 0.2 * (1 - gain) ** np.arange(7)
    (out,) = studentise_periods([1 + np.diff(levels)], [levels[:-1]])
    assert out.argmax() == 5
    assert out[5] > 5
    assert np.abs(np.delete(out, 5)).max() < 4


def test_two_long_periods_do_not_hide_each_other():
    ratios = 1 + np.random.default_rng(7).normal(0, 0.01, 14)
    ratios[[4, 9]] += 0.2
    levels = np.concatenate([[0], np.cumsum(ratios - 1)[:-1]])
    (out,) = studentise_periods([ratios], [levels])
    assert sorted(np.argsort(out)[-2:].tolist()) == [4, 9]
    assert out[[4, 9]].min() > 6


def test_gaps_and_empty_hands_are_nothing():
    ratios, levels = np.ones(9), np.zeros(9)
    ratios[3] = np.nan
    out = studentise_periods([ratios, np.full(7, np.nan), np.array([])], [levels, np.zeros(7), np.array([])])
    assert [len(row) for row in out] == [9, 7, 0]
    assert not np.concatenate(out).any()
    assert studentise_periods([], []) == []


def test_a_steady_hand_is_held_against_both():
    """Two hands share a scatter: the same period stands out less beside an unsteady hand."""
    generator = np.random.default_rng(8)
    steady, shaky = 1 + generator.normal(0, 0.01, 16), 1 + generator.normal(0, 0.05, 16)
    steady[7] = 1.1
    zero = np.zeros(16)
    alone = studentise_periods([steady], [zero])[0][7]
    beside = studentise_periods([steady, shaky], [zero, zero])[0][7]
    assert 1 < beside < alone
