"""Angles against printed examples and independent libraries.

Zar = J. H. Zar, *Biostatistical Analysis*, chapters 26 and 27; Fisher = N. I. Fisher, *Statistical Analysis of Circular
Data*. The printed values are as quoted in the test suite of pycircstat2 (the books were not seen).
"""

import math
import sys
from importlib import import_module
from unittest.mock import MagicMock, patch

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from tempo_coach.score.measures.circular import (
    check_direction,
    check_uniform,
    circular_sd,
    compare_means,
    concentration,
    mean_direction,
    mean_interval,
    resultant_length,
    wrap,
)

TREES = [45, 55, 81, 96, 110, 117, 132, 154]  # Zar, example 26.4
GROUPED, NUMBERS = list(range(45, 286, 30)), [6, 9, 13, 15, 22, 17, 12, 8, 3]  # Zar, example 26.5
NEAR_EAST = [66, 75, 86, 88, 88, 93, 97, 101, 118, 130]  # Zar, examples 27.2 and 27.3
ONE_BUNDLE = [94, 65, 45, 52, 38, 47, 73, 82, 90, 40, 87]  # Zar, example 27.7
OTHER_BUNDLE = [77, 70, 61, 45, 50, 35, 48, 65, 36]
FISHER_B11 = [0, 1, 3, 3, 8, 13, 16, 18, 30, 31, 43, 45, 147, 298, 329, 332, 335, 340, 350, 354, 356, 357]


@pytest.fixture(scope="module")
def circstat():
    """pycircstat2 without its drawing, whose library would look for all fonts of the machine first: seconds."""
    with patch.dict(sys.modules, {"pycircstat2.visualization": MagicMock()}):
        yield import_module("pycircstat2")


angles = st.lists(st.floats(-720, 720), min_size=3, max_size=40)


def random_bundles():
    generator = np.random.default_rng(7)
    for k in range(40):
        spread = generator.uniform(5, 70)
        yield generator.uniform(0, 360) + generator.normal(0, spread, 5 + k)


@pytest.mark.parametrize(
    ("degrees", "weights", "printed", "exact"),
    [
        (TREES, None, (99, 0.82522, 36), (98.987752, 0.825218, 35.514880)),
        (GROUPED, NUMBERS, (162, 0.55064, 63), (161.565051, 0.550635, 62.590650)),
    ],
)
def test_mean_length_and_spread_are_zars(degrees, weights, printed, exact):
    mean = mean_direction(degrees, weights=weights) % 360
    length = resultant_length(degrees, weights=weights)
    assert (mean, length, circular_sd(length)) == pytest.approx(exact, abs=1e-6)
    # the book's SD comes from its table, to a degree
    assert mean == pytest.approx(printed[0], abs=0.5)
    assert length == pytest.approx(printed[1], abs=1e-5)
    assert circular_sd(length) == pytest.approx(printed[2], abs=0.5)


def test_rayleighs_test_is_zars():
    z, p = check_uniform(TREES)  # Zar, example 27.1: z = 5.448, 0.001 < P < 0.002
    assert z == pytest.approx(5.448, abs=5e-4)
    assert 0.001 < p < 0.002
    assert (z, p) == pytest.approx((5.447875, 0.00185164), abs=1e-6)


def test_the_interval_of_a_mean_is_zars():
    half = mean_interval(8, resultant_length(TREES))  # Zar, example 26.6: 68 to 130
    mean = mean_direction(TREES)
    assert (mean - half, mean + half) == pytest.approx((68.054244, 129.921260), abs=1e-6)
    assert (mean - half, mean + half) == pytest.approx((68, 130), abs=0.5)


def test_both_forms_of_the_interval_agree_with_an_independent_library(circstat):
    for degrees, level in ((TREES, 0.95), (NEAR_EAST, 0.95), (NEAR_EAST, 0.99)):
        radians = np.radians(degrees)
        low, high = circstat.descriptive.circ_mean_ci(radians, ci=level)
        half = mean_interval(len(degrees), resultant_length(degrees), level=level)
        mean = mean_direction(degrees)
        assert (mean - half) % 360 == pytest.approx(math.degrees(low) % 360, abs=1e-6)
        assert (mean + half) % 360 == pytest.approx(math.degrees(high) % 360, abs=1e-6)


def test_the_interval_above_nine_tenths():
    half = mean_interval(10, resultant_length(NEAR_EAST))
    wide = mean_interval(10, resultant_length(NEAR_EAST), level=0.99)
    mean = mean_direction(NEAR_EAST)
    assert (mean - half, mean + half) == pytest.approx((81.356262, 106.740080), abs=1e-6)
    assert (mean - wide, mean + wide) == pytest.approx((75.897568, 112.198774), abs=1e-6)


def test_the_v_test_is_zars():
    v, u, p = check_direction(NEAR_EAST, asked=90)  # Zar, example 27.3: V = 9.498, u = 4.248, P < 0.0005
    assert (v, u) == pytest.approx((9.498, 4.248), abs=1e-3)
    assert p < 0.0005
    assert (v, u) == pytest.approx((9.497612, 4.247461), abs=1e-6)
    assert p == pytest.approx(1.081033e-5, rel=1e-5)
    assert (mean_direction(NEAR_EAST), resultant_length(NEAR_EAST)) == pytest.approx((94.048171, 0.952137), abs=1e-6)


def test_two_bundles_are_compared_as_by_watson_and_williams():
    f, p = compare_means([ONE_BUNDLE, OTHER_BUNDLE])  # Zar, example 27.7: F = 1.61, P = 0.22
    assert (f, p) == pytest.approx((1.612783, 0.220273), abs=1e-6)
    assert (round(f, 2), round(p, 2)) == (1.61, 0.22)


def test_fishers_data_set_b11():
    assert (mean_direction(FISHER_B11), resultant_length(FISHER_B11)) == pytest.approx((3.100372, 0.829767), abs=1e-6)
    assert (round(mean_direction(FISHER_B11), 2), round(resultant_length(FISHER_B11), 2)) == (3.10, 0.83)


def test_the_example_in_astropys_documentation():
    degrees = [51, 67, 40, 109, 31, 358]
    length = resultant_length(degrees)
    assert mean_direction(degrees) == pytest.approx(48.627181, abs=1e-6)
    assert math.radians(circular_sd(length)) == pytest.approx(0.597670, abs=1e-6)


@pytest.mark.parametrize(
    ("degrees", "mean", "length", "sd"), [([355, 5, 15], 5, 0.989872, 8.175368), ([350, 10], 0, 0.984808, 10.025560)]
)
def test_nothing_is_averaged_through_the_wrap(degrees, mean, length, sd):  # exact: vector sums
    assert mean_direction(degrees) == pytest.approx(mean, abs=1e-9)
    assert (resultant_length(degrees), circular_sd(resultant_length(degrees))) == pytest.approx((length, sd), abs=1e-6)


@pytest.mark.parametrize(("sd", "length"), [(5, 0.996200), (10, 0.984885), (20, 0.940895), (30, 0.871902)])
def test_the_circular_sd_gives_back_that_of_a_wrapped_normal(sd, length):  # exact: R = exp(-sd²/2)
    assert math.exp(-(math.radians(sd) ** 2) / 2) == pytest.approx(length, abs=1e-6)
    assert circular_sd(length) == pytest.approx(sd, abs=1e-3)


def test_all_agree_with_scipy_and_astropy_on_random_bundles():
    import astropy.stats
    from astropy import units

    for degrees in random_bundles():
        mean, length = mean_direction(degrees), resultant_length(degrees)
        assert wrap(mean - stats.circmean(degrees, high=360)) == pytest.approx(0, abs=1e-9)
        assert circular_sd(length) == pytest.approx(stats.circstd(degrees, high=360), abs=1e-9)
        with_units = degrees * units.deg
        assert wrap(mean - astropy.stats.circmean(with_units).value) == pytest.approx(0, abs=1e-9)


def test_tests_agree_with_an_independent_library_on_random_bundles(circstat):
    for degrees in random_bundles():
        radians = np.radians(degrees % 360)
        z, p = check_uniform(degrees)
        other = circstat.hypothesis.rayleigh_test(alpha=radians)
        assert (z, p) == pytest.approx((other.z, other.pval), abs=1e-9)
        v, u, _ = check_direction(degrees, asked=30)
        other = circstat.hypothesis.V_test(alpha=radians, angle=math.radians(30))
        assert (v, u) == pytest.approx((other.V, other.u), abs=1e-9)


def test_watson_williams_agrees_with_an_independent_library(circstat):
    samples = [ONE_BUNDLE, OTHER_BUNDLE]
    other = circstat.hypothesis.watson_williams_test([circstat.Circular(sample, unit="degree") for sample in samples])
    assert compare_means(samples) == pytest.approx((other.F, other.pval), abs=1e-6)


def test_the_concentration_gives_back_the_length_that_it_came_from():
    # a von Mises distribution has R = I1(k)/I0(k): Fisher's approximation is good to about one per cent
    for kappa in (0.3, 0.8, 1.5, 2.5, 5, 20):
        from scipy.special import i0e, i1e

        assert concentration(i1e(kappa) / i0e(kappa)) == pytest.approx(kappa, rel=0.015)


def test_no_angle_and_no_direction_have_no_mean():
    assert math.isnan(mean_direction([]))
    assert math.isnan(resultant_length([]))
    assert math.isnan(mean_direction([0, 180]))
    assert math.isnan(mean_interval(0, math.nan))
    assert math.isnan(mean_interval(4, 0.1))
    assert math.isnan(circular_sd(math.nan))
    assert circular_sd(0) == math.inf


def test_a_single_angle_is_its_own_mean():
    assert mean_direction([370]) == pytest.approx(10)
    assert resultant_length([370]) == pytest.approx(1)


@pytest.mark.parametrize("weights", [[1], [1, -1, 1], [0, 0, 0]])
def test_weights_that_are_none_are_refused(weights):
    with pytest.raises(ValueError, match="weights"):
        mean_direction([1, 2, 3], weights=weights)


@given(st.floats(-1e4, 1e4))
def test_wrapped_angles_lie_above_minus_180_and_up_to_180(angle):
    wrapped = float(wrap(angle))
    assert -180 < wrapped <= 180
    turns = (angle - wrapped) / 360
    assert turns == pytest.approx(round(turns), abs=1e-9)


@given(angles, st.floats(-360, 360))
def test_turning_all_angles_turns_the_mean(degrees, turn):
    if resultant_length(degrees) > 1e-3:
        turned = mean_direction(np.add(degrees, turn))
        assert wrap(turned - mean_direction(degrees) - turn) == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize("resultant", [0.05, 0.3, 0.5, 0.529, 0.531, 0.7, 0.849, 0.851, 0.95, 0.99])
def test_concentration_is_that_whose_mean_length_is_given(resultant):
    # Fisher's forms are approximations of the inverse of I1/I0, good to half a hundredth here
    kappa = concentration(resultant)
    assert special.ive(1, kappa) / special.ive(0, kappa) == pytest.approx(resultant, abs=0.005)


def test_three_bundles_have_one_mean_as_the_f_test_says():
    bundles = [ONE_BUNDLE, OTHER_BUNDLE, [angle + 4 for angle in ONE_BUNDLE]]
    f, p = compare_means(bundles)
    lengths = [len(each) * resultant_length(each) for each in bundles]
    n, everything = 31, 31 * resultant_length(np.concatenate(bundles))
    between, within = (sum(lengths) - everything) / 2, (n - sum(lengths)) / (n - 3)
    kappa = concentration(sum(lengths) / n)
    assert f == pytest.approx((1 + 3 / (8 * kappa)) * between / within)
    assert p == pytest.approx(stats.f.sf(f, 2, 28))


@pytest.mark.parametrize(("n", "resultant"), [(0, 0.5), (5, 0.0), (5, 1.01), (5, 0.01)])
def test_no_interval(n, resultant):
    assert math.isnan(mean_interval(n, resultant))


def test_interval_of_angles_that_are_all_one_is_nothing_and_of_a_single_one_everything_it_can_be():
    assert mean_interval(5, 1.0) == pytest.approx(0, abs=1e-5)
    # 26.24 for a single angle: cos of its half-width is 1 (exact)
    assert mean_interval(1, 1.0) == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize("call", [mean_direction, resultant_length, check_uniform])
def test_an_angle_that_is_none_is_named(call):
    with pytest.raises(ValueError, match="angles: "):
        call([0.0, math.inf])


@pytest.mark.parametrize("weights", [[1.0], [1.0, -1.0], [0.0, 0.0]])
def test_weights_that_weigh_nothing_are_refused(weights):
    with pytest.raises(ValueError, match="weights: "):
        mean_direction([0.0, 10.0], weights=weights)
    assert mean_direction([0.0, 10.0], weights=[1.0, 0.0]) == pytest.approx(0)


@pytest.mark.parametrize("samples", [[[30.0] * 5, [30.0] * 6], [[10.0] * 5, [200.0] * 5]])
def test_bundles_without_spread_cannot_be_compared(samples):
    assert np.isnan(compare_means(samples)).all()
