"""Filters, running statistics, runs of flags and splines, against scipy's, which are other implementations."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.ndimage import median_filter, uniform_filter1d
from scipy.signal import butter, hilbert, sosfiltfilt

from tempo_coach.observe.trace.filters import (
    accumulate_energy,
    average,
    close_gaps,
    correlate,
    drop_runs,
    find_analytic,
    find_fast_length,
    find_nearest,
    find_runs,
    interpolate,
    low_pass,
    running_mean,
    running_median,
)

PER = 48


@pytest.mark.parametrize(("corner", "order"), [(0.7, 2), (1.5, 4), (6.0, 2)])
def test_a_filter_of_the_spectrum_is_a_butterworth_filter_run_both_ways(corner: float, order: int) -> None:
    # scipy.signal.sosfiltfilt, away from the ends, which each continues in its own way
    rng = np.random.default_rng(1)
    values = (
        np.cumsum(rng.standard_normal((4000, 3)), axis=0) * 0.02 + np.sin(2 * np.pi * np.arange(4000) / PER)[:, None]
    )
    other = sosfiltfilt(butter(order, corner / (PER / 2), output="sos"), values, axis=0)
    np.testing.assert_allclose(low_pass(values, PER, corner, order=order)[500:-500], other[500:-500], atol=2e-4)


def test_a_short_record_is_filtered_too() -> None:
    wave = np.cos(2 * np.pi * np.arange(PER) / PER)
    np.testing.assert_allclose(low_pass(wave, PER, 6.0), wave, atol=0.06)


@pytest.mark.parametrize("width", [1, 2, 5, 8, 31])
def test_a_running_mean_is_scipys(width: int) -> None:
    values = np.random.default_rng(2).standard_normal((200, 2))
    np.testing.assert_allclose(running_mean(values, width), uniform_filter1d(values, width, axis=0, mode="nearest"))
    np.testing.assert_allclose(
        running_mean(values[:, 0], width), uniform_filter1d(values[:, 0], width, mode="nearest"), atol=1e-12
    )


def test_a_running_median_is_scipys_and_of_a_wide_window_still_takes_a_knock_off() -> None:
    values = np.random.default_rng(3).standard_normal((200, 2))
    np.testing.assert_array_equal(running_median(values, 7), median_filter(values, size=(7, 1), mode="nearest"))
    knocked = np.zeros((400, 1))
    knocked[200:215] = 50
    assert (running_median(knocked, 61) == 0).all()


def test_a_spline_is_the_natural_one_of_scipy_and_goes_on_straight_outside() -> None:
    rng = np.random.default_rng(4)
    time = np.cumsum(rng.uniform(0.1, 1.9, 300))
    values = np.column_stack([np.sin(time), rng.standard_normal(300)])
    at = np.linspace(time[0], time[-1], 2000)
    np.testing.assert_allclose(
        interpolate(time, values, at), CubicSpline(time, values, bc_type="natural")(at), atol=1e-12
    )
    for n in (3, 4, 5, 8):
        few, of = time[:n], values[:n]
        within = np.linspace(few[0], few[-1], 50)
        np.testing.assert_allclose(
            interpolate(few, of, within), CubicSpline(few, of, bc_type="natural")(within), atol=1e-12
        )
    two = interpolate(np.array([0.0, 2.0]), np.array([[1.0], [3.0]]), np.array([0.5, 3.0]))
    np.testing.assert_allclose(two[:, 0], [1.5, 4.0])
    line = interpolate(np.array([0.0, 1.0, 2.0]), np.array([[1.0], [3.0], [5.0]]), np.array([-1.0, 0.5, 4.0]))
    np.testing.assert_allclose(line[:, 0], [-1.0, 2.0, 9.0])


@pytest.mark.parametrize("n", [1, 2, 7, 64, 101])
def test_the_analytic_signal_is_scipys(n: int) -> None:
    signal = np.random.default_rng(n).standard_normal(n)
    np.testing.assert_allclose(find_analytic(signal), hilbert(signal), atol=1e-12)


def test_products_are_summed_over_columns_and_lags() -> None:
    rng = np.random.default_rng(5)
    one, other = rng.standard_normal((2, 3, 20, 2))
    found = correlate(one, other, 4)
    for lag in range(5):
        asked = (one[:, : 20 - lag] * other[:, lag:]).sum(axis=(1, 2))
        np.testing.assert_allclose(found[:, lag], asked)


def test_a_fast_length_has_no_factor_above_five_and_none_shorter_would_do() -> None:
    def is_fast(n: int) -> bool:
        for factor in (2, 3, 5):
            while n % factor == 0:
                n //= factor
        return n == 1

    for least in range(1, 400):
        assert find_fast_length(least) == next(n for n in range(least, 2 * least + 2) if is_fast(n))


def test_gaps_are_closed_and_runs_dropped_by_their_length() -> None:
    flags = np.array([0, 1, 1, 0, 1, 0, 0, 0, 1, 1, 1, 0, 1], dtype=bool)
    assert find_runs(flags).tolist() == [[1, 3], [4, 5], [8, 11], [12, 13]]
    assert close_gaps(flags, 2).astype(int).tolist() == [0, 1, 1, 1, 1, 0, 0, 0, 1, 1, 1, 1, 1]
    assert drop_runs(flags, 2).astype(int).tolist() == [0, 1, 1, 0, 0, 0, 0, 0, 1, 1, 1, 0, 0]
    assert drop_runs(flags, 2, at_ends=False)[-1]
    assert find_runs(np.zeros(0, dtype=bool)).shape == (0, 2)


def test_energies_before_each_reading_means_of_neighbours_and_nearest_values_are_those_of_plain_loops() -> None:
    rng = np.random.default_rng(6)
    windows = rng.standard_normal((3, 10, 2))
    energy = accumulate_energy(windows)
    for k in range(11):
        np.testing.assert_allclose(energy[:, k], (windows[:, :k] ** 2).sum(axis=(1, 2)), atol=1e-12)
    same, other = correlate(windows, windows, 5), correlate(windows, windows.copy(), 5)
    np.testing.assert_allclose(same, other, atol=1e-12)
    np.testing.assert_allclose(average(windows[0], 3), [windows[0, k : k + 3].mean(axis=0) for k in (0, 3, 6)])
    for size in (1, 2, 7):
        values, wanted = np.sort(rng.standard_normal(size)), 2 * rng.standard_normal(50)
        np.testing.assert_array_equal(find_nearest(values, wanted), np.abs(values - wanted[:, None]).argmin(axis=1))
