"""Who follows whom: as it was made, as least squares has it, and not where both only hear one beat."""

import math

import numpy as np
import pytest
from statsmodels.api import OLS, add_constant

from tempo_coach.score.following import average_cycles, cross_correlation, measure_following


def test_mean_of_each_cycle_leaves_out_what_was_missed():  # exact
    asynchronies = np.array([[1.0, 3.0, math.nan, 5.0, math.nan], [2.0, 2.0, 4.0, math.nan, math.nan]])
    found = average_cycles(asynchronies, np.array([0, 0, 2, 2, 3]))
    np.testing.assert_equal(found, [[2.0, 5.0, math.nan], [2.0, 4.0, math.nan]])


def test_correlation_leaves_gaps_out_and_needs_something_that_varies():  # exact
    one, other = np.array([1.0, math.nan, 3.0, 8.0]), np.array([2.0, 7.0, 6.0, 16.0])
    assert cross_correlation(one, other, 0) == pytest.approx(1)
    centred = np.array([-3.0, 0.0, -1.0, 4.0])
    after = (centred[:-1] * 2 * centred[1:]).sum() / (2 * (centred**2).sum())
    assert cross_correlation(one, other, 1) == pytest.approx(after)
    assert math.isnan(cross_correlation(one, np.full(4, 2.0), 0))
    assert math.isnan(cross_correlation(one, np.full(4, math.nan), 0))


def test_a_pair_says_how_far_both_go_together():
    generator = np.random.default_rng(6)
    leads = generator.normal(0, 0.02, 40)
    pair = measure_following("a", "b", leads, np.roll(leads, 1))
    assert pair.correlation[1] > 0.9 > 0.5 > abs(pair.correlation[0])
    assert measure_following("b", "a", np.roll(leads, 1), leads).correlation[-1] == pair.correlation[1]


def test_cross_correlation_of_one_who_repeats_another():  # exact; as statsmodels' ccf
    one = np.array([0, 10, -6, 4, 12, -8, 2, 9, -11, 5.0])
    other = np.concatenate([[0], 0.7 * one[:-1]])
    found = [cross_correlation(one, other, lag) for lag in (1, 0, -1)]
    assert found == pytest.approx([0.986952, -0.546671, -0.233718], abs=1e-6)
    from statsmodels.tsa.stattools import ccf

    assert found[1] == pytest.approx(ccf(one, other, adjusted=False)[0])


def test_removing_the_common_mean_invents_mirror_images():  # exact: why it is not removed
    generator = np.random.default_rng(3)
    two = generator.normal(0, 1, (2, 400))
    less = two - two.mean(axis=0)
    assert cross_correlation(less[0], less[1], 0) == pytest.approx(-1)
    five = generator.normal(0, 1, (5, 20_000))
    less = five - five.mean(axis=0)
    assert np.corrcoef(less)[0, 1] == pytest.approx(-0.25, abs=0.02)


def test_one_who_repeats_another_is_found_with_her_gain():
    generator = np.random.default_rng(4)
    leads = generator.normal(0, 0.02, 60)
    answers = np.concatenate([[0], 0.7 * leads[:-1]]) + generator.normal(0, 0.002, 60)
    pair = measure_following("a", "b", leads, answers)
    assert pair.follows
    assert pair.gain == pytest.approx(0.7, abs=0.03)
    assert pair.low < 0.7 < pair.high
    back = measure_following("b", "a", answers, leads)
    assert not back.follows


def test_those_who_listen_to_the_music_alone_follow_nobody():
    generator = np.random.default_rng(5)
    wrong = 0
    for _ in range(300):
        series = np.zeros((2, 40))
        for k in range(1, 40):
            series[:, k] = 0.5 * series[:, k - 1] + generator.normal(0, 0.02, 2)
        wrong += bool(measure_following("a", "b", series[0], series[1]).follows)
    assert wrong / 300 < 0.06  # one side of a 95 % interval is 2.5 %


def test_who_follows_whom_is_not_told_under_20_cycles():
    pair = measure_following("a", "b", np.arange(19.0), np.arange(19.0) ** 2)
    assert pair.follows is None
    assert math.isnan(pair.gain)


def test_following_is_found_as_it_was_made():  # exact: b takes over 0.3 of the lead and half of her own error
    leads = np.random.default_rng(3).normal(0, 0.02, 21)
    answers = np.zeros(21)
    for k in range(20):
        answers[k + 1] = answers[k] + 0.3 * (leads[k] - answers[k]) - 0.5 * answers[k]
    pair = measure_following("Ada", "Bea", leads, answers)
    assert pair[:2] == ("Ada", "Bea") and pair.n == 20
    assert (pair.gain, pair.low, pair.high) == pytest.approx((0.3, 0.3, 0.3))
    # twenty cycles have nineteen changes, and are just enough
    assert measure_following("Ada", "Bea", leads[:20], answers[:20]).n == 19
    assert measure_following("Ada", "Bea", leads[:20], answers[:20]).gain == pytest.approx(0.3)
    assert math.isnan(measure_following("Ada", "Bea", leads[:19], answers[:19]).gain)


def test_interval_of_following_is_that_of_least_squares():
    generator = np.random.default_rng(4)
    leads, answers = generator.normal(0, 0.02, (2, 30))
    pair = measure_following("Ada", "Bea", leads, answers)
    columns = np.column_stack([leads - answers, answers])[:-1]
    fit = OLS(np.diff(answers), add_constant(columns)).fit()
    assert (pair.low, pair.high) == pytest.approx(tuple(fit.conf_int()[1]))
    assert pair.gain == pytest.approx(fit.params[1])


@pytest.mark.parametrize("lag", [3, -3])
def test_a_lag_as_long_as_the_series_is_refused(lag):
    with pytest.raises(ValueError, match="a lag below it"):
        cross_correlation(np.arange(3.0), np.arange(3.0), lag)
    with pytest.raises(ValueError, match="one length"):
        cross_correlation(np.arange(3.0), np.arange(4.0), 0)
