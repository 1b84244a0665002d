"""One line between two clocks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import siegelslopes, theilslopes

from tempo_coach.observe.take.clock import ClockLine, fit_clock, fit_offset


def test_a_perfect_pair_of_clocks_is_found_exactly():
    first = np.arange(0, 10, 0.025)
    line = fit_clock(first, 480_000 + 48_000 * first)
    assert line.rate == pytest.approx(48_000, rel=1e-12)
    assert line.to_second(0.0) == pytest.approx(480_000, abs=1e-6)
    assert line.residual_sd == pytest.approx(0, abs=1e-6)
    assert line.n == 400


def test_a_constant_shift_moves_the_offset_alone():
    rng = np.random.default_rng(1)
    first = np.arange(0, 10, 0.025)
    second = first + rng.normal(0, 1e-4, len(first))
    here, there = fit_clock(first, second), fit_clock(first, second + 3.0)
    assert there.rate == pytest.approx(here.rate, abs=1e-12)
    assert there.offset - here.offset == pytest.approx(3.0, abs=1e-9)


def test_a_faster_clock_shows_in_the_rate():
    first = np.arange(0, 10, 0.025)
    assert (fit_clock(first, 1.00016 * first).rate - 1) * 1e6 == pytest.approx(160, abs=1e-6)


def test_one_wild_pair_does_not_move_the_line():
    first = np.arange(0, 10, 0.5)
    second = 2 * first
    second[7] += 60
    line = fit_clock(first, second)
    assert line.to_second(3.5) == pytest.approx(7.0, abs=1e-9)


def test_a_fifth_of_late_readings_does_not_move_the_line():
    # A busy computer makes readings late, never early, so the errors are one-sided.
    rng = np.random.default_rng(2)
    first = np.sort(rng.uniform(1000, 1010, 400))
    second = 48_000 * (first - 1000) * (1 + 30e-6) + rng.normal(0, 6, 400)
    late = rng.random(400) < 0.2
    second[late] -= 48_000 * rng.exponential(0.01, late.sum())
    line = fit_clock(first, second)
    assert (line.rate / 48_000 - 1) * 1e6 == pytest.approx(30, abs=10)
    assert line.to_second(1005.0) == pytest.approx(240_007.2, abs=2)
    assert line.residual_sd == pytest.approx(6, rel=0.5)


def test_the_scatter_of_normal_errors_is_their_sd_and_the_slope_is_as_good_as_least_squares():
    # Least squares' own standard error: sd / sqrt(sum of squared deviations), any textbook of statistics.
    rng = np.random.default_rng(3)
    first = np.linspace(0, 10, 400)
    slopes = []
    for _ in range(100):
        line = fit_clock(first, first + rng.normal(0, 0.5, 400))
        slopes.append(line.rate)
    assert np.std(slopes) < 1.2 * 0.5 / np.sqrt(((first - 5) ** 2).sum())
    assert line.residual_sd == pytest.approx(0.5, rel=0.15)


def test_an_independent_librarys_median_slopes_agree():
    # scipy.stats.theilslopes and siegelslopes, on data with a fifth of outliers.
    rng = np.random.default_rng(4)
    first = np.sort(rng.uniform(0, 10, 90))
    second = 3 * first + rng.normal(0, 0.01, 90)
    second[rng.random(90) < 0.2] += 1.0
    ours = fit_clock(first, second)
    assert ours.rate == pytest.approx(theilslopes(second, first).slope, abs=0.01)
    assert ours.rate == pytest.approx(siegelslopes(second, first).slope, abs=0.01)


def test_two_pairs_give_a_line_and_no_scatter():
    line = fit_clock([1.0, 2.0], [10.0, 30.0])
    assert line.rate == 20
    assert line.to_second(1.5) == 20
    assert np.isnan(line.residual_sd)


@pytest.mark.parametrize(
    ("first", "second", "about"),
    [
        ([], [], "at least 2 pairs"),
        ([1.0], [1.0], "at least 2 pairs"),
        ([1.0, 2.0], [1.0], "two readings a pair"),
        ([1.0, 1.0], [1.0, 2.0], "first clock that moves"),
        ([1.0, 2.0, 3.0], [5.0, 5.0, 5.0], "second clock that moves"),
        ([1.0, np.nan], [1.0, 2.0], "finite"),
    ],
)
def test_readings_that_say_nothing_are_a_callers_bug(first, second, about):
    with pytest.raises(ValueError, match=about):
        fit_clock(first, second)


def test_a_known_rate_needs_one_pair_only():
    line = fit_offset([5.0], [100.0], rate=10.0)
    assert line.to_second(6.0) == 110
    assert fit_offset([1.0, 2.0, 3.0], [11.0, 21.0, 99.0], rate=10.0).to_second(1.0) == 11
    with pytest.raises(ValueError, match="at least 1"):
        fit_offset([], [], rate=1.0)
    with pytest.raises(ValueError, match="rate other than 0"):
        fit_offset([1.0], [1.0], rate=0.0)


def test_clocks_that_count_from_long_ago_lose_nothing():
    # A wall clock (seconds since 1970) against a monotonic one: double precision there is a quarter of a
    # microsecond.
    rng = np.random.default_rng(5)
    first = np.arange(0, 10, 0.025) + 5_000.0
    second = 1.8e9 + (first - 5_000.0) * (1 + 20e-6) + rng.normal(0, 1e-6, 400)
    line = fit_clock(first, second)
    assert line.to_second(5_005.0) - 1.8e9 == pytest.approx(5.0001, abs=1e-6)


@given(
    origin=st.floats(-1e6, 1e6),
    offset=st.floats(-1e6, 1e6),
    rate=st.floats(1e-3, 1e5),
    at=st.floats(-1e4, 1e4),
)
def test_the_line_inverts(origin, offset, rate, at):
    line = ClockLine(origin=origin, offset=offset, rate=rate, residual_sd=0.0, n=2)
    there = line.to_second(at)
    assert line.to_first(there) == pytest.approx(at, abs=1e-6 + 1e-9 * abs(there) / rate)
