"""Level and change, retention, doses, the steady tempo: exact values, and outside ones."""

import math
from datetime import date, timedelta

import numpy as np
import pytest
import scipy.stats

from tempo_coach.history.progress import find_sessions, measure_progress, measure_retention
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.history import format_progress, tell_progress, tell_retention
from tests.history.season import row


def days(values, **more):
    begun = [(date(2031, 5, 1) + timedelta(days=k)).isoformat() for k in range(len(values))]
    return [
        row(begun=f"{day}T18:00:00", spread_ms=float(value), **more) for day, value in zip(begun, values, strict=True)
    ]


def test_a_straight_way_down():  # exact: every day by a tenth less
    progress = measure_progress(days(60 * 0.9 ** np.arange(12)))
    assert progress.ratio == pytest.approx(0.9**11)
    assert progress.level == pytest.approx(60 * (0.9**8 + 0.9**9) / 2)
    assert (progress.low, progress.high) == pytest.approx((60 * 0.9**11, 60 * 0.9**6))
    assert progress.beyond_chance
    assert "getting smaller: by 69 % over her last 12 days" in tell_progress(progress, "spread", "ms")


def test_the_level_is_hers_and_not_that_of_a_line():
    """Fourteen takes from 60 to 23 ms and two of 35: a line's value on the last day would lie below 0 in the end."""
    progress = measure_progress(days([*np.linspace(60, 23, 14), 35, 35]))
    assert 23 <= progress.low <= progress.level <= progress.high <= 35
    assert progress.beyond_chance and 0 < progress.ratio_low < progress.ratio < progress.ratio_high < 1
    told = tell_progress(progress, "spread", "ms")
    assert told.startswith("Spread 30.1 ms (middle of her last 6 days, between 23.0 and 35.0) and getting smaller")
    plunge = measure_progress(days([400, 300, 200, 100, 50, 20, 8, 3, 1, 0.0, 0.0]))
    assert plunge.level >= 0 and plunge.ratio_low > 0


def test_the_line_and_its_interval_are_scipy_s():  # scipy.stats.theilslopes, an independent implementation
    values = np.exp(np.random.default_rng(3).normal(3.4, 0.2, 14) - 0.03 * np.arange(14))
    progress = measure_progress(days(values))
    theirs = scipy.stats.theilslopes(np.log(values), np.arange(14), alpha=0.98)
    assert progress.ratio == pytest.approx(math.exp(13 * theirs.slope))
    assert progress.ratio_low == pytest.approx(math.exp(13 * theirs.low_slope))
    assert progress.ratio_high == pytest.approx(math.exp(13 * theirs.high_slope))


def test_one_bad_take_or_day_moves_nothing():
    values = 40 * 0.97 ** np.arange(16)
    plain = measure_progress(days(values))
    values[15] = 300
    bad = measure_progress(days(values))
    assert bad.ratio == pytest.approx(plain.ratio, rel=0.03)
    assert abs(bad.level - plain.level) < 1
    even = np.random.default_rng(4).normal(30, 2, 16)
    even[-1] = 90
    assert not measure_progress(days(even)).beyond_chance


def test_takes_of_one_day_are_one_point():
    rows = [row(begun=f"2031-05-{day:02d}T1{k}:00", spread_ms=10.0 + day + k) for day in range(1, 7) for k in range(3)]
    progress = measure_progress(rows)
    assert [(p.value, p.takes) for p in progress.points] == [(11.0 + day, 3) for day in range(1, 7)]


def test_noise_alone_is_told_as_noise():
    for number in (5, 12, 30):
        told = [
            measure_progress(days(np.random.default_rng(seed).normal(30, 4, number))).beyond_chance
            for seed in range(300)
        ]
        assert np.mean(told) <= 0.04


def test_the_interval_of_the_level_holds_a_median():  # exact: 31 of 32
    generator = np.random.default_rng(6)
    found = [measure_progress(days(generator.exponential(30, 6))) for _ in range(400)]
    held = [each.low <= 30 * math.log(2) <= each.high for each in found]
    assert np.mean(held) == pytest.approx(31 / 32, abs=0.025)
    assert math.isnan(measure_progress(days([30.0] * 5)).low)


def test_what_was_long_ago_is_no_change_of_today():
    plateau = [*np.linspace(90, 30, 10), *np.random.default_rng(7).normal(30, 2, 24)]
    assert not measure_progress(days(plateau)).beyond_chance


def test_too_few_days_have_a_level_and_no_change():
    progress = measure_progress(days([40, 38, 36, 34]))
    assert progress.level == 37
    assert math.isnan(progress.ratio) and not progress.beyond_chance
    assert progress.reason == Reason(Why.FEW_DAYS, (5, 4))
    plain = progress.to_dict()
    assert plain["level_ci95"] is None and plain["change"]["ratio"] is None
    empty = measure_progress([])
    assert math.isnan(empty.level) and empty.points == ()
    assert measure_progress(days([math.nan] * 9)).points == ()
    assert tell_progress(empty, "spread", "ms") == "Spread: no take tells it."


def test_being_early_is_as_far_from_the_beat_as_being_late():
    rows = [row(begun=f"2031-05-{k:02d}", bias_ms=bias) for k, bias in enumerate((-50, 40, -30, 20, -10), start=1)]
    progress = measure_progress(rows, measure="bias_ms")
    assert progress.level == 30 and progress.beyond_chance and progress.ratio < 1


def test_a_session_ends_with_an_hour_without_a_take():
    begun = ["2031-05-01T18:00", "2031-05-01T18:05", "2031-05-01T19:00", "2031-05-01T20:30", "2031-05-02T00:10"]
    sessions = find_sessions([row(begun=each, seconds=60.0, steady=k > 0) for k, each in enumerate(begun)])
    assert [(s.takes, s.seconds, s.cycles, s.moments, s.steady) for s in sessions] == [
        (3, 180, 24, 48, 2),
        (1, 60, 8, 16, 1),
        (1, 60, 8, 16, 1),
    ]
    assert find_sessions([]) == ()


def test_retention_is_the_first_take_of_a_day_over_the_last_of_the_day_before():  # exact
    free = {"01": (50, 40, 30), "02": (36, 99, 20), "04": (20, 10), "05": (12,)}
    rows = [
        row(begun=f"2031-05-{day}T1{k}:00", spread_ms=100.0, without_cues_spread_ms=float(spread))
        for day, all_of in free.items()
        for k, spread in enumerate(all_of)
    ]
    found = measure_retention(rows)
    assert [(n.before_ms, n.after_ms, n.without_cues) for n in found.nights] == [
        (30, 36, True),
        (20, 20, True),
        (10, 12, True),
    ]
    assert found.ratio == pytest.approx(1.2)
    assert math.isnan(found.low)
    assert math.isnan(measure_retention(rows[:3]).ratio)
    # where one of the two has no block without cues, the whole takes are compared: no other take steps in
    rows.insert(3, row(begun="2031-05-01T19:00", spread_ms=44.0, without_cues_spread_ms=math.nan))
    assert measure_retention(rows).nights[0] == ("2031-05-01", "2031-05-02", 44.0, 100.0, False)


def test_what_a_night_takes_is_told_beyond_chance_alone():
    """The interval of a median by ordered values: from six nights on, scipy's binomial test agrees."""
    ratios = np.exp(np.random.default_rng(8).normal(0.5, 0.1, 8))
    rows = []
    for k, ratio in enumerate(ratios.tolist()):  # each night between two days of its own, the nights between them even
        rows += [row(begun=f"2031-05-{2 * k + 1:02d}T18:00", spread_ms=30.0)]
        rows += [row(begun=f"2031-05-{2 * k + 2:02d}T18:00", spread_ms=30.0 * ratio)]
        rows += [row(begun=f"2031-05-{2 * k + 2:02d}T19:00", spread_ms=30.0)]
    found = measure_retention(rows)
    assert len(found.nights) == 15
    ordered = sorted(night.after_ms / night.before_ms for night in found.nights)
    k = next(k for k in range(15) if 2 * scipy.stats.binom(15, 0.5).cdf(k) > 0.05)
    assert (found.low, found.high) == (ordered[k], ordered[14 - k])
    assert "no more than chance" in tell_retention(found)


def test_the_page_of_a_way_fits_the_terminal():
    rows = days([40, 38, 36, 34, 32, 30, 28], athlete="A" * 150)
    text = format_progress(rows)
    assert max(map(len, text.splitlines())) <= 80
    assert "▇" in text or "█" in text
    assert "7 takes in 7 sessions" in text
