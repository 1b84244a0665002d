"""Lags of the moments of a take behind what each is held against, over the take."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.measures.circular import check_direction, check_uniform, compare_means, wrap
from tempo_coach.score.measures.period import lag_one, periods
from tempo_coach.score.measures.phase import lag_degrees, summarise_lag
from tempo_coach.score.scorecard import LagCard, LagChances

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.pairing.hand import Grid, HandTake
    from tempo_coach.times import Floats, Ints

#: Least lags for their correlation; fewer are taken as independent.
ENOUGH_FOR_CORRELATION = 8
#: Least lags for p-values.
ENOUGH_FOR_CHANCES = 5


def measure_lags(plan: Plan, hands: list[HandTake]) -> tuple[LagCard, ...]:
    """Return every moment's lag behind its reference: moment k of the first hand, or that hand's anchor.

    Parameters
    ----------
    plan : Plan
    hands : list of HandTake
        In the order in which the plan names them; without its first one there is nothing to measure from.
    """
    if not hands or hands[0].grid.hand != plan.hands[0]:
        return ()
    leader = hands[0]
    known = leader.periods[~np.isnan(leader.periods)]
    mean_period = float(known.mean()) if len(known) else math.nan
    cards: list[LagCard] = []
    for hand in hands:
        _, ours, theirs = np.intersect1d(hand.grid.cycles, leader.grid.cycles, return_indices=True)
        width = hand.grid.at.shape[1]
        alike = hand is not leader and width == leader.grid.at.shape[1]
        for k in range(1 if hand is leader else 0, width):
            column = k if alike else 0
            reference = leader.observed[:, column]
            lags = lag_degrees(reference[theirs], _local_period(reference, leader.grid)[theirs], hand.observed[ours, k])
            first = int(hand.grid.at[hand.grid.at[:, k] >= 0, k][0])
            asked = float(plan.moments.asked_lag_deg[first])
            around = asked if not math.isnan(asked) else _laid_lag(leader, hand, column, k, theirs, ours)
            lag = summarise_lag(lags, period=mean_period, asked=around, together=_together(lags, around))
            if lag.n:
                label = plan.moments.label[first]
                chances = _chances(lags, around, plan.moments.cue[hand.grid.at[ours, k]])
                cards.append(LagCard(hand.grid.hand, leader.grid.hand, label, around, lag, chances))
    return tuple(cards)


def _chances(lags: Floats, around: float, cued: NDArray[np.bool_]) -> LagChances:
    """Return p-values of such lags; autocorrelated neighbours make them too small."""
    known = ~np.isnan(lags)
    if known.sum() < ENOUGH_FOR_CHANCES:
        return LagChances()
    _, none = check_uniform(lags[known])
    asked = math.nan if math.isnan(around) else check_direction(lags[known], asked=around)[2]
    blocks = [lags[known & cued], lags[known & ~cued]]
    same = math.nan if min(map(len, blocks)) < ENOUGH_FOR_CHANCES else compare_means(blocks)[1]
    return LagChances(none, asked, same)


def _together(lags: Floats, around: float) -> float:
    """Return the correlation of neighbouring lags, which share an anchor through the local period; 0 with too few.

    A short series hides part of it (Kendall 1954, from memory). Its scatter has to be estimated as well: as if they
    went together a little more, so that the interval has the width of Student's t (Student 1908), not of a normal one.
    """
    from scipy.special import ndtri, stdtrit

    known = int((~np.isnan(lags)).sum())
    if known < ENOUGH_FOR_CORRELATION:
        return 0.0
    one = lag_one(wrap(lags - (0.0 if math.isnan(around) else around)))
    together = 0.0 if math.isnan(one) else max(one + (1 + 3 * one) / known, 0.0)
    wider = (float(stdtrit(known - 1, 0.975)) / float(ndtri(0.975))) ** 2
    return ((1 + 2 * together) * wider - 1) / 2


def _local_period(reference: Floats, grid: Grid) -> Floats:
    """Return the seconds to the same moment of the next cycle, or from the previous one where that is missing."""
    ahead = periods(reference, grid.cycles)
    return np.where(np.isnan(ahead), np.concatenate([[np.nan], ahead[:-1]]), ahead)


def _laid_lag(leader: HandTake, hand: HandTake, column: int, k: int, theirs: Ints, ours: Ints) -> float:
    """Return the lag implied by the plan's times, where the drill asks for none explicitly."""
    reference = leader.asked[:, column]
    laid = lag_degrees(reference[theirs], _local_period(reference, leader.grid)[theirs], hand.asked[ours, k])
    laid = laid[~np.isnan(laid)]
    return float(wrap(float(np.median(laid)))) if len(laid) else math.nan
