"""Lags of a take that go together, levels of anchors, and cycles of unequal length; exact values."""

from dataclasses import replace

import numpy as np
import pytest
from statsmodels.tsa.stattools import acf

from tempo_coach import coach
from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.pattern.plan import Moments
from tempo_coach.score.card import HandTake, judge
from tempo_coach.score.circular import mean_interval
from tempo_coach.score.grid import Grid

ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=16))


def take(plan, times):
    return Take(plan, Onsets.unsorted(np.asarray(times).tolist(), plan.moments.hand))


def late_left(by, cycles):
    """Both clubs, the right one on time; the left one late by these seconds, cycle by cycle."""
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=cycles))
    left = np.array(plan.moments.hand) == "left"
    times = plan.moments.time + np.where(left, np.asarray(by)[plan.moments.cycle], 0.0)
    (lag,) = judge(take(plan, times)).lags
    period = float(np.diff(plan.moments.time[~left])[0])
    return lag, lag.asked + np.asarray(by) / period * 360


def test_lags_that_go_together_have_a_wider_interval():
    # Kendall's correction of the first autocorrelation, and n / (1 + 2 r) separate lags
    by = 0.02 * np.sin(np.arange(16) / 2)
    lag, degrees = late_left(by, 16)
    one = acf(degrees, nlags=1)[1]
    together = one + (1 + 3 * one) / 16
    assert lag.lag.n == 16 and lag.lag.degrees == pytest.approx(degrees.mean(), abs=0.01)
    assert lag.lag.half_interval == pytest.approx(mean_interval(16 / (1 + 2 * together), lag.lag.resultant), rel=1e-6)


@pytest.mark.parametrize(("by", "n"), [([0.02, -0.02] * 8, 16), ([0, 0.01, 0.02, 0.02, 0.02, 0.01, 0], 7)])
def test_lags_that_swing_to_and_fro_or_are_few_are_taken_for_separate_ones(by, n):
    lag, _ = late_left(by, n)
    assert lag.lag.half_interval == pytest.approx(mean_interval(n, lag.lag.resultant), rel=1e-6)


def test_eight_lags_are_enough_to_tell_whether_they_go_together():
    lag, _ = late_left([0, 0.01, 0.02, 0.03, 0.03, 0.02, 0.01, 0], 8)
    assert lag.lag.half_interval > 1.1 * mean_interval(8, lag.lag.resultant)


def test_level_of_an_anchor_is_how_far_it_is_off_over_the_period_asked_there():  # exact
    def levels(asked, off):
        asked = np.array(asked)[:, None]
        grid = Grid("right", np.arange(len(asked)), np.arange(len(asked))[:, None])
        nothing = np.zeros(len(asked))
        return HandTake(grid, asked + off, asked, nothing, nothing, None, nothing, nothing, nothing).levels

    # the last one has none and takes the middle of the others
    np.testing.assert_allclose(levels([0.0, 1.0, 3.0], 0.3), [0.3, 0.15, 0.2])
    assert np.isnan(levels([0.0], 0.3)).all()


def test_cycle_with_fewer_moments_than_the_others_lacks_nothing():
    keep = np.delete(np.arange(len(ROPE.moments)), 4)
    columns = {
        name: np.asarray(getattr(ROPE.moments, name))[keep].tolist()
        for name in ("time", "cycle", "hand", "label", "count", "asked_lag_deg", "cue", "kind")
    }
    plan = replace(ROPE, moments=Moments(**columns))
    card = judge(take(plan, plan.moments.time + 0.01))
    assert [len(cycle.labels) for cycle in card.cycles] == [3, 2, *[3] * 14]
    assert card.cycles[1].labels == ("low", "high 2")
    assert card.cycles[1].asynchronies == pytest.approx((0.01, 0.01))
    assert card.cycles[1].positions == tuple(plan.moments.count[[3, 4]])
    assert not card.flagged and not len(card.missed)
