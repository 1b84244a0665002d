"""Steadiness, in one meaning: for the card, the live word, the steps of tempo, the history and the pages.

How evenly a cycle can be done goes with how long it is (the SD of a timed interval is a share of it: Gibbon 1977, from
memory), so that the measure is a share of the cycle, whatever is done inside: each moment is timed against the same
moment of the cycle before, which asks nothing of the gaps between its circles and lets a slow wander through. It is the
spread by which performers are described everywhere here, that of the periods, and a take's card tells it as well.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.pattern.drill.drill import LEAST_ALLOWANCE
from tempo_coach.score.pairing.hand import lay_grid

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.scorecard import Scorecard
    from tempo_coach.times import Floats

#: Share of the cycle by which the cycles of a steady take scatter at most: whoever scatters by 3 % nearly always stays
#: below it, whoever does by 6 % seldom (the benchmarks), and people who tap with a click scatter by about 4 % (Repp
#: 2005, from memory).
LIMIT = 0.045
#: A cycle that is off by more than this many limits counts as one that is off by so many: one that broke does not make
#: an uneven take of an even one.
MOST_OFF = 2.0
#: Share of the moments that a steady take misses at most.
MOST_MISSED = 1 / 20
#: Tolerance of a single moment about her median, in units of the take's limit (seven of eight moments of a just steady
#: performer are within it), and its ceiling relative to the distance of its neighbour.
ONE_MOMENT, MOST_OF_STEP = 1.5, 0.25
#: Findings of a take that is not the one that was asked for, however even it is.
NOT_WHOLE = frozenset({"late_entry", "stopped", "hands_swapped", "no_rhythm", "too_little"})


class Steadiness(NamedTuple):
    """How steady a take was.

    Parameters
    ----------
    scatter : float
        Root mean square by which a cycle is longer or shorter than her mean one, moment by moment, a share of the
        cycle; at most ``MOST_OFF`` limits counted of each. NaN where no two neighbouring cycles were done.
    missed : float
        Share of the moments that were missed.
    tempo_kept : bool
        Whether her mean cycle is as long as was asked.
    """

    scatter: float
    missed: float
    tempo_kept: bool

    @property
    def steady(self) -> bool:
        """Whether the take was steady."""
        return self.scatter <= LIMIT and self.missed <= MOST_MISSED and self.tempo_kept


def measure_steadiness(card: Scorecard) -> Steadiness:
    """Return how steady a take was.

    Flags do not decide it: they tell what stands out of a take, and in one that is uneven all through nothing does.

    Parameters
    ----------
    card : Scorecard
    """
    plan = card.plan
    asked = int((~np.isnan(card.asynchrony)).sum()) + len(card.missed)
    ratio = card.value("period_ratio_mean")
    return Steadiness(
        scatter=scatter_of(plan, card.asynchrony),
        missed=len(card.missed) / asked if asked else math.nan,
        tempo_kept=abs(ratio - 1) <= max(plan.allowance, LEAST_ALLOWANCE),
    )


def scatter_of(plan: Plan, asynchrony: Floats) -> float:
    """Return by how much the cycles of a take scatter: see :class:`Steadiness`.

    Parameters
    ----------
    plan : Plan
    asynchrony : array, shape (n,)
        Seconds for each moment of the plan; NaN where missed.
    """
    ratios = np.concatenate([_ratios(plan, asynchrony, hand) for hand in plan.hands] or [np.array([])])
    if len(ratios) < 2:
        return math.nan
    off = np.clip(ratios - np.median(ratios), -MOST_OFF * LIMIT, MOST_OFF * LIMIT)
    return float(np.sqrt(np.sum(off**2) / (len(off) - 1)))


def is_steady(card: Scorecard) -> bool:
    """Whether a take was steady, and all of it there: see :class:`Steadiness`."""
    return measure_steadiness(card).steady and not any(found.kind in NOT_WHOLE for found in card.findings)


def allowed_off(plan: Plan, hand: str) -> Floats:
    """Return the tolerance of each moment of a hand about her median, in seconds, in order of time."""
    times = plan.moments.time[plan.moments.of_hand(hand)]
    anchors = lay_grid(plan.moments, hand).fill(plan.moments.time)[:, 0]
    if len(times) < 2:
        return np.full(len(times), math.inf)
    steps = np.diff(times)
    nearest = np.minimum(np.append(steps, math.inf), np.append(math.inf, steps))
    cycle = float(np.median(np.diff(anchors))) if len(anchors) > 1 else math.inf
    allowed: Floats = np.minimum(ONE_MOMENT * LIMIT * cycle, MOST_OF_STEP * nearest)
    return allowed


def _ratios(plan: Plan, asynchrony: Floats, hand: str) -> Floats:
    """From each moment to the same one of the next cycle, over what was asked there; known ones alone."""
    grid = lay_grid(plan.moments, hand)
    asked = grid.fill(plan.moments.time)
    wanted, done = (np.diff(times, axis=0) for times in (asked, asked + grid.fill(asynchrony)))
    ratios: Floats = (done / wanted)[np.diff(grid.cycles) == 1]
    return ratios[~np.isnan(ratios)]
