"""One displaced anchor or a long cycle: both make a period stand out, and what lies round about tells which it was."""

import numpy as np
import pytest
from statsmodels.api import GLS, add_constant

from tempo_coach.score.blame import KEPT, find_culprit, lateness_of_longer

TIMES = np.arange(-4.0, 5.0, 0.5)
ENDS = [TIMES == -1, TIMES == 0]


def longer(kept, times=TIMES):
    """A cycle that ends 1 later, and what of it is left at each moment, anchor by anchor."""
    nodes = np.arange(-6, 9)
    at_nodes = np.where(nodes < 0, 0.0, kept ** np.maximum(nodes, 0.0))
    return np.interp(times, nodes, at_nodes)


def tell(times, late, ends):
    """Who is to blame, and how late it made each moment."""
    culprit = find_culprit(times, late, ends)
    shape = lateness_of_longer(times, culprit.kept) if culprit.anchor is None else ends[culprit.anchor]
    return culprit.anchor, culprit.by * shape


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("end", [0, 1])
def test_an_anchor_between_moments_in_time_is_to_blame(end, sign):
    culprit, did = tell(TIMES, sign * 0.12 * ENDS[end] + 0.3, ENDS)
    assert culprit == end
    assert did == pytest.approx(sign * 0.12 * ENDS[end], abs=1e-5)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("kept", [1.0, 0.8, 0.7, 0.5, 0.35, 0.25])
def test_a_long_cycle_is_one_however_fast_it_is_made_good(kept, sign):
    late = sign * 0.2 * longer(kept)
    culprit, did = tell(TIMES, late - 0.1, ENDS)
    assert culprit is None
    assert did == pytest.approx(late, abs=1e-5 if kept in KEPT else 0.04)


def test_what_all_hands_do_at_once_is_done_by_each():
    times = np.repeat(np.arange(-4.0, 5.0), 2)
    first = np.tile([True, False], 9)
    ends = [first & (times == -1), first & (times == 0)]
    culprit, did = tell(times, 0.15 * (times == 0), ends)
    assert culprit == 1
    assert did == pytest.approx(0.15 * ends[1], abs=1e-5)


def test_the_two_are_told_apart_at_a_natural_scatter():
    """SD 0.02 beside 0.2: at most a few of a hundred are taken for the other."""
    generator = np.random.default_rng(1)
    wrong = [0, 0]
    for _ in range(300):
        noise = generator.normal(0, 0.02, len(TIMES))
        wrong[0] += tell(TIMES, 0.2 * longer(0.5) + noise, ENDS)[0] is not None
        wrong[1] += tell(TIMES, 0.2 * ENDS[1] + noise, ENDS)[0] != 1
    assert max(wrong) < 6


def test_missed_moments_take_no_part():
    late = 0.12 * ENDS[1]
    late[[3, 11]] = np.nan
    culprit, did = tell(TIMES, late, ENDS)
    assert culprit == 1
    assert did == pytest.approx(0.12 * ENDS[1], abs=1e-5)


def test_an_anchor_that_was_missed_is_not_to_blame():
    late = 0.2 * ENDS[0]
    late[ENDS[1]] = np.nan
    culprit, did = tell(TIMES, late, ENDS)
    assert culprit == 0
    assert did == pytest.approx(0.2 * ENDS[0], abs=1e-5)


def test_what_lies_three_cycles_from_the_middle_is_not_looked_at():
    far = (TIMES < -3.5) | (TIMES > 2.5)
    assert far.sum() == 5
    culprit, did = tell(TIMES, 0.12 * ENDS[1] + 5.0 * far, ENDS)
    assert culprit == 1
    assert did == pytest.approx(0.12 * ENDS[1], abs=1e-5)
    # and what lies within is
    assert tell(TIMES, 0.12 * ENDS[1] + 5.0 * (TIMES == 2), ENDS)[1].max() != pytest.approx(0.12, abs=0.01)


@pytest.mark.parametrize("end", [0, 1])
def test_how_late_it_was_is_that_of_generalised_least_squares(end):
    # statsmodels, with a constant in place of the variance of the level; a movement of its own 0.4, the rest halves
    near = np.abs(TIMES + 0.5) <= 3
    late = 0.2 * ENDS[end] + np.random.default_rng(7).normal(0, 0.03, TIMES.size)
    apart = np.abs(TIMES[near][:, None] - TIMES[near])
    sigma = 0.4 * np.eye(near.sum()) + 0.6 / 2**apart
    fit = GLS(late[near], add_constant(ENDS[end][near].astype(float)), sigma=sigma).fit()
    culprit, did = tell(TIMES, late, ENDS)
    assert culprit == end
    assert did[ENDS[end]] == pytest.approx(fit.params[1:], abs=1e-4)
