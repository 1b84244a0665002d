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


def predict_one_by_one(ratios, levels):
    """The same the long way: each period against a line through the others, belief written as one more row of it.

    Rows with more than 3.5 robust SDs take no part; 3 cycles of SD 0.03 are believed, and a slope of -0.4 as if told
    by 15 cycles of that scatter.
    """
    off = [row - np.nanmedian(row) for row in ratios]
    begin = [np.where(np.isnan(row), np.nan, mine) for row, mine in zip(ratios, levels, strict=True)]
    begin = [row - np.nanmedian(row) for row in begin]
    limit = 3.5 * robust_sd(np.concatenate(off))
    used = [np.abs(row) <= limit for row in off]

    def fit(hand, without):
        keep = used[hand].copy()
        keep[without] = False
        weight = math.sqrt(15) * 0.03
        rows = np.vstack([np.column_stack([np.ones(keep.sum()), begin[hand][keep]]), [0, weight]])
        line, *_ = np.linalg.lstsq(rows, np.append(off[hand][keep], -0.4 * weight), rcond=None)
        return line, np.linalg.inv(rows.T @ rows)

    # what the lines through all periods leave
    lines = [fit(hand, [])[0] for hand in range(len(off))]
    rest = [row - line[0] - line[1] * mine for row, mine, line in zip(off, begin, lines, strict=True)]
    result = []
    for hand, row in enumerate(off):
        out = np.zeros(len(row))
        for k in np.flatnonzero(~np.isnan(row)):
            x = np.array([1.0, begin[hand][k]])
            line, inverse = fit(hand, [k])
            pull = x @ fit(hand, [])[1] @ x
            squares = (rest[hand][used[hand]] ** 2).sum() - used[hand][k] * rest[hand][k] ** 2 / (1 - pull)
            freedom = max(used[hand].sum() - 1.5 - used[hand][k], 0.0)
            for other in set(range(len(off))) - {hand}:
                apart = used[other] & (np.abs(np.arange(len(off[other])) - k) > 1)
                squares += (rest[other][apart] ** 2).sum()
                freedom += max(apart.sum() - 1.5, 0.0)
            scatter = math.sqrt((squares + 3 * 0.03**2) / (freedom + 3))
            out[k] = (row[k] - line @ x) / (scatter * math.sqrt(1 + x @ inverse @ x))
        result.append(out)
    return result


@pytest.mark.parametrize("hands", [1, 2, 3])
@pytest.mark.parametrize("cycles", [5, 9, 20])
def test_each_period_is_held_against_a_line_through_the_others(cycles, hands):
    generator = np.random.default_rng([cycles, hands])
    ratios, levels = [], []
    for _ in range(hands):
        anchors = correct(generator, cycles, gain=0.5, clock=0.02, motor=0.02)
        ratios.append(1 + np.diff(anchors))
        levels.append(anchors[:-1] + 0.3)
    ratios[0][cycles // 2] += 0.3  # one that takes no part in predicting the others
    if cycles > 5:
        ratios[-1][2] = np.nan
    ours = studentise_periods(ratios, levels)
    for mine, other in zip(ours, predict_one_by_one(ratios, levels), strict=True):
        assert mine == pytest.approx(other)


def test_hands_of_different_length_are_told_row_by_row():
    generator = np.random.default_rng(9)
    ratios = [1 + generator.normal(0, 0.03, n) for n in (12, 7)]
    levels = [generator.normal(0, 0.02, n) for n in (12, 7)]
    for mine, other in zip(studentise_periods(ratios, levels), predict_one_by_one(ratios, levels), strict=True):
        assert mine == pytest.approx(other)


def test_a_period_that_is_exact_but_one_is_told_at_once():
    ratios = np.ones(7)
    ratios[3] = 1.125
    levels = np.array([0, 0, 0, 0, 0.125, 0.125, 0.125])
    (out,) = studentise_periods([ratios], [levels])
    assert out[3] > 4.5
    assert np.abs(np.delete(out, 3)).max() < 1


def test_the_median_takes_the_middle_deviation():
    """Of four deviations the three smaller ones tell it; of one value, none is left."""
    assert robust_sd(np.array([0.0, 0.0, 0.0, 100.0])) == 0
    assert robust_sd(np.array([-3.0, -1.0, 1.0, 3.0])) == pytest.approx(1.6483 * math.sqrt((1 + 1 + 9) / 3))
    assert robust_sd(np.array([5.0])) == 0
