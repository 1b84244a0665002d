"""Trend, retention, doses, the steady tempo: exact values, and outside ones."""

import math

import numpy as np
import pytest
import scipy.stats

from tempo_coach.history.progress import find_sessions, measure_retention, measure_trend
from tempo_coach.report.past import format_progress, tell_trend
from tests.history.season import row


def days(values, **more):
    return [row(begun=f"2031-05-{k + 1:02d}T18:00:00", spread_ms=value, **more) for k, value in enumerate(values)]


def test_a_straight_way_down():  # exact
    trend = measure_trend(days([40, 38, 36, 34, 32, 30]))
    assert (trend.per_week, trend.low, trend.high) == pytest.approx((-14, -14, -14))
    assert trend.level == pytest.approx(30)
    assert trend.beyond_chance
    assert "getting smaller: -14.0 ms a week" in tell_trend(trend, "spread", "ms")


def test_the_slope_and_its_interval_are_scipy_s():  # scipy.stats.theilslopes, an independent implementation
    values = np.random.default_rng(3).normal(30, 5, 14) - np.arange(14)
    trend = measure_trend(days(values))
    theirs = scipy.stats.theilslopes(values, np.arange(14), alpha=0.95)
    assert trend.per_week == pytest.approx(7 * theirs.slope)
    assert trend.low == pytest.approx(7 * theirs.low_slope)
    assert trend.high == pytest.approx(7 * theirs.high_slope)


def test_one_bad_day_bends_nothing():
    values = [40, 38, 36, 34, 32, 30, 28, 26]
    values[5] = 300
    assert measure_trend(days(values)).per_week == pytest.approx(-14)


def test_takes_of_one_day_are_one_point():
    rows = [row(begun=f"2031-05-{day:02d}T1{k}:00", spread_ms=10.0 + day + k) for day in range(1, 7) for k in range(3)]
    trend = measure_trend(rows)
    assert [(p.value, p.takes) for p in trend.points] == [(11.0 + day, 3) for day in range(1, 7)]
    assert trend.per_week == pytest.approx(7)


def test_noise_alone_is_told_as_noise():
    told = [measure_trend(days(np.random.default_rng(seed).normal(30, 4, 12))).beyond_chance for seed in range(400)]
    assert np.mean(told) == pytest.approx(0.05, abs=0.03)  # what 95 % means


def test_too_few_days_have_no_trend():
    trend = measure_trend(days([40, 38, 36, 34]))
    assert math.isnan(trend.per_week)
    assert "needs takes on 5 days; days so far: 4" in trend.reason
    assert trend.to_dict()["ci95"] is None
    empty = measure_trend([])
    assert math.isnan(empty.per_week) and empty.points == ()
    unknown = measure_trend(days([math.nan] * 9))
    assert unknown.points == ()


def test_being_early_is_as_far_from_the_beat_as_being_late():
    rows = [row(begun=f"2031-05-{k:02d}", bias_ms=bias) for k, bias in enumerate((-50, 40, -30, 20, -10), start=1)]
    assert measure_trend(rows, measure="bias_ms").per_week == pytest.approx(-70)


def test_a_session_ends_with_an_hour_without_a_take():
    begun = ["2031-05-01T18:00", "2031-05-01T18:05", "2031-05-01T19:00", "2031-05-01T20:30", "2031-05-02T00:10"]
    sessions = find_sessions([row(begun=each, seconds=60.0, steady=k > 0) for k, each in enumerate(begun)])
    assert [(s.takes, s.seconds, s.cycles, s.moments, s.steady) for s in sessions] == [
        (3, 180, 24, 48, 2),
        (1, 60, 8, 16, 1),
        (1, 60, 8, 16, 1),
    ]
    assert find_sessions([]) == ()


def test_retention_is_the_first_of_a_day_over_the_last_of_the_day_before():  # exact
    spreads = {"01": (50, 40, 30), "02": (36, 99, 20), "04": (20, 10), "05": (12,)}
    rows = [
        row(begun=f"2031-05-{day}T1{k}:00", without_cues_spread_ms=float(spread))
        for day, all_of in spreads.items()
        for k, spread in enumerate(all_of)
    ]
    rows.insert(2, row(begun="2031-05-01T19:00", without_cues_spread_ms=math.nan))
    found = measure_retention(rows)
    assert [(n.before_ms, n.after_ms) for n in found.nights] == [(30, 36), (20, 20), (10, 12)]
    assert found.ratio == pytest.approx(1.2)
    assert math.isnan(measure_retention(rows[:3]).ratio)


def test_the_page_of_a_way_fits_the_terminal():
    rows = days([40, 38, 36, 34, 32, 30, 28], athlete="A" * 150)
    text = format_progress(rows)
    assert max(map(len, text.splitlines())) <= 80
    assert "▇" in text or "█" in text
    assert "7 takes in 7 sessions" in text
