"""The interval of a mean period: known people, known coverage, gaps, long series (the whole table: the benchmarks)."""

import math

import numpy as np
import pytest
from scipy.stats import t
from statsmodels.api import GLS, add_constant

from tempo_coach.score import pace
from tempo_coach.score.pace import half_interval_of_pace
from tests.benchmarks.performer import correct


def covers(levels, *, cued):
    return abs(levels[-1] - levels[0]) / (len(levels) - 1) <= half_interval_of_pace(levels, cued=cued)


@pytest.mark.parametrize("cycles", [8, 24, 48])
@pytest.mark.parametrize("gain", [0.3, 0.5])
def test_whoever_corrects_herself_is_covered_as_often_as_said(gain, cycles):
    generator = np.random.default_rng(cycles)
    hits = sum(covers(correct(generator, cycles, gain=gain, clock=0.019, motor=0.015), cued=True) for _ in range(300))
    assert 0.92 <= hits / 300 <= 0.985


@pytest.mark.parametrize("cycles", [16, 48])
def test_whoever_goes_by_herself_is_covered_without_cues(cycles):
    generator = np.random.default_rng(cycles)
    hits = sum(
        covers(np.cumsum(generator.normal(0, 1, cycles)) + generator.normal(0, 0.5, cycles), cued=False)
        for _ in range(300)
    )
    assert 0.89 <= hits / 300 <= 0.98


def test_scatter_about_a_cue_is_worth_the_difference_of_two_ends():
    """Two ends of SD 0.01 differ by SD 0.01 times the root of 2; an exact value when the people are told."""
    generator = np.random.default_rng(1)
    halves = [half_interval_of_pace(generator.normal(0, 0.01, 49), cued=True) for _ in range(50)]
    assert np.mean(halves) == pytest.approx(1.96 * 0.01 * math.sqrt(2) / 48, rel=0.12)


def test_a_bias_and_another_tempo_change_nothing_and_scale_does():
    levels = np.random.default_rng(2).normal(0, 0.02, 30)
    plain = half_interval_of_pace(levels, cued=True)
    assert half_interval_of_pace(levels + 0.3 + 0.05 * np.arange(30), cued=True) == pytest.approx(plain, rel=1e-6)
    assert half_interval_of_pace(3 * levels, cued=True) == pytest.approx(3 * plain, rel=1e-6)
    assert half_interval_of_pace(levels[::-1].copy(), cued=True) == pytest.approx(plain, rel=1e-6)


def test_a_gap_makes_two_stretches_with_four_ends():
    levels = np.random.default_rng(3).normal(0, 0.02, 60)
    whole = half_interval_of_pace(levels, cued=True)
    levels[30] = np.nan
    assert half_interval_of_pace(levels, cued=True) == pytest.approx(math.sqrt(2) * whole, rel=0.1)


def test_missed_ends_are_no_part_of_it():
    levels = np.random.default_rng(4).normal(0, 0.02, 20)
    padded = np.concatenate([[np.nan, np.nan], levels, [np.nan]])
    assert half_interval_of_pace(padded, cued=True) == half_interval_of_pace(levels, cued=True)


def test_too_few_steps_carry_none_and_exact_ones_need_none():
    assert math.isnan(half_interval_of_pace(np.zeros(5), cued=True))
    assert math.isnan(half_interval_of_pace(np.array([0, np.nan] * 8, dtype=float), cued=True))
    assert half_interval_of_pace(np.zeros(6), cued=True) == 0
    assert half_interval_of_pace(0.1 + 0.01 * np.arange(12), cued=True) == 0


def test_a_long_series_is_taken_in_pieces(monkeypatch):
    levels = np.random.default_rng(5).normal(0, 0.02, 5000)
    gather, lengths = pace._gather, set()
    monkeypatch.setattr(pace, "_gather", lambda n: lengths.add(n) or gather(n))
    half = half_interval_of_pace(levels, cued=True)
    # the work grows with the square of a piece's length, and each length is prepared once
    assert max(lengths) <= pace.PIECE + 1 and len(lengths) <= 2
    assert half == pytest.approx(1.96 * 0.02 * math.sqrt(2) / 4999, rel=0.1)


def test_a_gap_may_come_early_or_late():
    levels = np.random.default_rng(6).normal(0, 0.02, 40)
    levels[10] = np.nan
    backwards = half_interval_of_pace(levels[::-1].copy(), cued=True)
    assert half_interval_of_pace(levels, cued=True) == pytest.approx(backwards, rel=1e-6)


@pytest.mark.parametrize("cued", [True, False])
def test_an_anchor_without_a_neighbour_has_no_step_and_adds_nothing(cued):
    levels = np.random.default_rng(7).normal(0, 0.02, 40)
    levels[[19, 20, 21]] = np.nan
    alone = levels.copy()
    alone[20] = (levels[18] + levels[22]) / 2  # where a straight line over the gap has it
    assert half_interval_of_pace(alone, cued=cued) == pytest.approx(half_interval_of_pace(levels, cued=cued))


def test_exact_steps_need_none_wherever_they_lie():
    assert half_interval_of_pace(-0.1 - 0.01 * np.arange(12), cued=True) == 0


@pytest.mark.parametrize(("gap", "cued"), [(None, True), (None, False), (7, True)])
def test_interval_is_that_of_least_squares_for_each_usual_person(gap, cued):
    """The same by statsmodels: a line of generalised least squares for each, weighed by the restricted likelihood."""
    levels = np.cumsum(np.random.default_rng(12).normal(0, 0.02, 18)) * 0.4
    levels += np.random.default_rng(13).normal(0, 0.02, 18)
    if gap is not None:
        levels[gap] = np.nan
    known = np.flatnonzero(~np.isnan(levels))
    series, place = np.interp(np.arange(18), known, levels[known]), np.arange(18.0)
    line = add_constant(place)
    logs, errors = [], []
    for gain, usual in zip(pace.GAINS, pace.USUAL, strict=True):
        for movement in pace.MOVEMENT:
            kept = 1 - gain
            # a walk that begins anywhere, or what goes on for ever
            wander = (
                np.minimum.outer(place, place)
                if gain == 0
                else kept ** np.abs(np.subtract.outer(place, place)) / (1 - kept**2)
            )
            covariance = (1 - movement) * wander + movement * np.eye(18) + (1e-3 if gain == 0 and movement == 0 else 0)
            fit = GLS(series, line, sigma=covariance).fit()
            variance = fit.ssr / 16
            both = line.T @ np.linalg.solve(covariance, line)
            logs.append(
                (math.log(usual) if cued else (0.0 if gain == 0 else -math.inf))
                - (np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(both)[1]) / 2
                - 8 * math.log(variance)
            )
            runs = [17] if gap is None else [gap - 1, 17 - gap - 1]
            ends = [(1 - movement) * 2 * (wander[0, 0] - wander[0, n]) if gain else (1 - movement) * n for n in runs]
            errors.append(math.sqrt(variance * sum(each + 2 * movement for each in ends)))
    weights = np.exp(np.array(logs) - max(logs))
    weights /= weights.sum()
    half = half_interval_of_pace(levels, cued=cued) * (17 if gap is None else 15)
    assert (weights * t.cdf(half / np.array(errors), 16)).sum() == pytest.approx(0.975, abs=1e-6)
