"""Free fall in a column of heights: bends, scale, runs, growing, and the instant at which a path is left."""

import tracemalloc

import numpy as np
import pytest

from tempo_coach.observe.trace.free_fall import (
    GRAVITY,
    TOLERANCE,
    find_departure,
    find_runs,
    find_scale,
    fit_curvature,
    grow,
    is_too_rough,
)

STEP = 0.01
TIME = np.arange(0, 2, STEP)


def test_gravity_is_that_of_the_standard() -> None:
    assert GRAVITY == 9.80665  # 3rd CGPM, 1901


@pytest.mark.parametrize("curvature", [-GRAVITY, 0.0, 3.0])
def test_a_parabola_has_its_second_derivative_everywhere_and_nothing_is_left(curvature: float) -> None:
    found, left = fit_curvature(1 + 4 * TIME + curvature / 2 * TIME**2, 12, STEP)
    assert found.shape == left.shape == TIME.shape
    assert np.isnan(found[:12]).all() and np.isnan(found[-12:]).all() and np.isnan(left[[11, -12]]).all()
    np.testing.assert_allclose(found[12:-12], curvature, atol=1e-9)
    np.testing.assert_allclose(left[12:-12], 0, atol=1e-9)


def test_what_a_parabola_leaves_is_the_noise() -> None:
    noise = 0.005 * np.random.default_rng(1).standard_normal(20_000)
    _, left = fit_curvature(noise, 12, STEP)
    assert np.sqrt(np.nanmean(left**2)) == pytest.approx(0.005, rel=0.03)


def test_one_window_gives_one_bend_and_a_gap_spoils_only_its_own() -> None:
    found, _ = fit_curvature(-(TIME[:5] ** 2), 2, STEP)
    np.testing.assert_allclose(found[2], -2)
    assert np.isnan(found[[0, 1, 3, 4]]).all()
    height = -(TIME[:40] ** 2)
    height[20] = np.nan
    found, _ = fit_curvature(height, 2, STEP)
    assert np.flatnonzero(np.isnan(found[2:-2])).tolist() == [16, 17, 18, 19, 20]


@pytest.mark.parametrize("pixels", [1.0, 180.0])
def test_the_scale_is_what_makes_the_longest_steady_bend_gravity(pixels: float) -> None:
    curvature = np.full(200, np.nan)
    curvature[10:80] = -GRAVITY * pixels
    curvature[90:120] = -3 * GRAVITY * pixels  # a piece of a swing: steady, and shorter
    curvature[130:170] = 8 * pixels
    assert find_scale(curvature, np.full(200, 0.01)) == pytest.approx(1 / pixels)


def test_one_long_flight_is_worth_more_than_two_short_ones() -> None:
    curvature = np.zeros(200)
    curvature[10:50] = -GRAVITY
    curvature[60:85] = curvature[90:115] = -2 * GRAVITY
    assert find_scale(curvature, np.full(200, 0.01)) == pytest.approx(1, rel=TOLERANCE)


def test_a_bend_that_is_not_quiet_is_no_flight() -> None:
    curvature, left = np.full(100, -2 * GRAVITY), np.full(100, 0.01)
    curvature[60:] = -GRAVITY
    left[:50] = 1.0
    left[50:60] = 0.01
    assert find_scale(curvature, np.where(np.arange(100) < 45, 1.0, 0.01)) == pytest.approx(1)


@pytest.mark.parametrize("curvature", [np.zeros(9), np.full(9, np.nan), np.full(9, 4.0)])
def test_without_a_downward_bend_there_is_no_scale(curvature: np.ndarray) -> None:
    assert find_scale(curvature, np.full(9, 0.01)) is None


@pytest.mark.parametrize(
    ("flags", "runs"),
    [([], []), ([0], []), ([1], [(0, 0)]), ([1, 1, 0, 1], [(0, 1), (3, 3)]), ([0, 1, 1, 0], [(1, 2)])],
)
def test_runs_have_their_first_and_last_index(flags: list[int], runs: list[tuple[int, int]]) -> None:
    assert find_runs(np.array(flags, dtype=bool)) == runs


@pytest.mark.parametrize(
    ("rest", "at", "way", "end"),
    [
        ([0, 0, 0, 0, 0], 2, 1, 4),
        ([0, 0, 0, 0, 0], 2, -1, 0),
        ([0, 0, 0, 9, 9], 1, 1, 2),  # two in a row
        ([0, 0, 0, 9, 0], 1, 1, 4),  # one alone is an outlier
        ([0, 0, 0, 0, 9], 1, 1, 3),  # what stands at the edge has nobody to speak for it
        ([-9, -9, 0, 0, 0], 3, -1, 2),
        ([0, -9, 0, 0, 0], 3, -1, 0),
        ([0, 0, 1, 1, 1], 1, 1, 4),  # the limit itself is inside
    ],
)
def test_a_stretch_grows_until_two_in_a_row_lie_outside(rest: list[float], at: int, way: int, end: int) -> None:
    assert grow(np.array(rest, dtype=float), at, way, 1.0) == end


@pytest.mark.parametrize("way", [-1, 1])
@pytest.mark.parametrize("truth", [1.0, 1.004, 0.9875])
def test_the_instant_at_which_a_path_is_left_is_found_between_readings(way: int, truth: float) -> None:
    since = np.maximum(way * (TIME - truth), 0)
    away = np.column_stack([30 * since**2, -12 * since**2])
    found = find_departure(TIME, away, 100, way, powers=(2,), seconds=0.06)
    assert found == pytest.approx(truth, abs=STEP / 16)
    kinked = find_departure(TIME, np.column_stack([2 * since + 5 * since**2]), 100, way, powers=(1, 2), seconds=0.1)
    assert kinked == pytest.approx(truth, abs=STEP / 16)


def test_roughness_is_more_than_readings_noise() -> None:
    rng = np.random.default_rng(3)
    noise = 0.005 * rng.standard_normal((200, 2))
    readings = np.column_stack([2 * TIME, 4 * TIME - GRAVITY / 2 * TIME**2]) + noise
    inside = np.arange(20, 120)
    assert not is_too_rough(readings, noise, inside)
    wave = 0.02 * np.sin(2 * np.pi * 1.5 * TIME)[:, None]
    assert is_too_rough(readings + wave, noise + wave, inside)


def test_ends_that_belong_to_the_hand_and_gaps_make_no_roughness() -> None:
    noise = 0.002 * np.random.default_rng(4).standard_normal((200, 1))
    readings = (4 * TIME - GRAVITY / 2 * TIME**2)[:, None] + noise
    away = noise.copy()
    away[20:24] += 0.1
    away[116:120] -= 0.1
    inside = np.arange(20, 120)
    assert not is_too_rough(readings, away, inside)
    split = np.setdiff1d(inside, np.arange(60, 90))
    jumped = readings.copy()
    jumped[60:90] += 50.0  # was not seen: no third difference runs across it
    assert not is_too_rough(jumped, noise, split)
    assert 0 < TOLERANCE < 0.5


def test_windows_of_a_long_record_take_no_more_memory_than_a_few_of_them() -> None:
    height = np.sin(np.arange(200_000) / 500.0)
    tracemalloc.start()
    curvature, sd = fit_curvature(height, 50, 0.001)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # of all windows together there are 101 readings each, 160 MB
    assert peak < 60e6
    np.testing.assert_allclose(curvature[50:-50], -height[50:-50] * 2.0**2, atol=0.02)
    assert np.isnan(curvature[[0, 49, -50, -1]]).all() and np.isnan(sd[[0, 49, -50, -1]]).all()
    assert np.nanmax(sd) < 0.001
