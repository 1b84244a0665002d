"""Steadiness, in one meaning: for the card, the live word, the steps of tempo, the history and the pages.

How evenly a cycle can be done goes with how long it is (the SD of a timed interval is a share of it: Gibbon 1977, from
memory), so that the measure is a share of the cycle, whatever is done inside: each moment is timed against the same
moment of the cycle before, which asks nothing of the gaps between its circles and lets a slow wander through. It is the
spread by which performers are described everywhere here, that of the periods, and a take's card tells it as well.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from tempo_coach.pattern.drill.drill import LEAST_ALLOWANCE
from tempo_coach.score.pairing.hand import lay_grid

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.scorecard import Scorecard
    from tempo_coach.times import Floats, Ints

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
#: Prior of the variance of a scatter's logarithm, times the number of cycles, and the cycles that it counts as beside
#: those of the take; standard errors beyond which two takes differ. Chosen on four kinds of performers so that
#: one who does not change seems to in one of twenty pairs of takes at most, nearly so with heavy tails.
PRIOR_VARIANCE, PRIOR_CYCLES, BEYOND_CHANCE = 0.7, 12, 2.5
#: Scatter below which nothing can be compared: a ten-thousandth of the cycle.
LEAST = 1e-4
#: Findings of a take that is not the one that was asked for, however even it is.
NOT_WHOLE = frozenset({"late_entry", "stopped", "hands_swapped", "no_rhythm", "too_little"})


class Scatter(NamedTuple):
    """Scatter of the cycles of a take.

    Parameters
    ----------
    size : float
        Root mean square by which a cycle is longer or shorter than her mean one, moment by moment, a share of the
        cycle; at most ``MOST_OFF`` limits counted of each. NaN where no two neighbouring cycles were done.
    error : float
        Standard error of its logarithm: what the cycles show, drawn towards what is usual of so many.
    """

    size: float
    error: float

    def exceeds(self, other: Scatter) -> bool:
        """Whether it is significantly larger than another one.

        All moments of a cycle go together, so that many moments tell hardly more than few.
        """
        change = math.log(max(self.size, LEAST) / max(other.size, LEAST))
        return change > BEYOND_CHANCE * math.hypot(self.error, other.error)


class Steadiness(NamedTuple):
    """Steadiness of a take.

    Parameters
    ----------
    scatter : Scatter
        Of all hands.
    missed : float
        Share of the moments that were missed.
    tempo_kept : bool
        Whether her mean cycle is as long as was asked.
    """

    scatter: Scatter
    missed: float
    tempo_kept: bool

    @property
    def steady(self) -> bool:
        """Whether the take was steady."""
        return self.scatter.size <= LIMIT and self.missed <= MOST_MISSED and self.tempo_kept


def measure_steadiness(card: Scorecard) -> Steadiness:
    """Return the steadiness of a take.

    Flags do not decide it: they tell what stands out of a take, and in one that is uneven all through nothing does.

    Parameters
    ----------
    card : Scorecard
    """
    plan = card.plan
    asked = int((~np.isnan(card.asynchrony)).sum()) + len(card.missed)
    ratio = card.value("period_ratio_mean")
    return Steadiness(
        scatter=measure_scatter(plan, card.asynchrony),
        missed=len(card.missed) / asked if asked else math.nan,
        tempo_kept=abs(ratio - 1) <= max(plan.allowance, LEAST_ALLOWANCE),
    )


def measure_scatter(plan: Plan, asynchrony: Floats, hands: Sequence[str] = ()) -> Scatter:
    """Return the scatter of the cycles of a take.

    Parameters
    ----------
    plan : Plan
    asynchrony : array, shape (n,)
        Seconds for each moment of the plan; NaN where missed.
    hands : sequence of str
        Which of them; none is all.
    """
    each = [_ratios(plan, asynchrony, hand) for hand in hands or plan.hands]
    ratios = np.concatenate([np.array([]), *(ratio for ratio, _ in each)])
    if len(ratios) < 2:
        return Scatter(math.nan, math.nan)
    squares = np.clip(ratios - np.median(ratios), -MOST_OFF * LIMIT, MOST_OFF * LIMIT) ** 2
    _, row = np.unique(np.concatenate([cycles for _, cycles in each]), return_inverse=True)
    by_cycle = np.bincount(row, weights=squares) / np.bincount(row)
    n, mean = len(by_cycle), float(by_cycle.mean())
    seen = float(by_cycle.var(ddof=1)) / (2 * mean) ** 2 if n > 1 and mean > 0 else PRIOR_VARIANCE
    error = math.sqrt((n * seen + PRIOR_CYCLES * PRIOR_VARIANCE) / (n + PRIOR_CYCLES) / n)
    return Scatter(math.sqrt(float(squares.sum()) / (len(squares) - 1)), error)


def compare_takes(card: Scorecard, previous: Scorecard) -> Literal[-1, 0, 1]:
    """Return 1 where a take was steadier than another one, -1 where less steady, 0 where neither is significant."""
    now, before = (measure_scatter(each.plan, each.asynchrony) for each in (card, previous))
    return 1 if before.exceeds(now) else -1 if now.exceeds(before) else 0


def is_steady(card: Scorecard) -> bool:
    """Return whether a take was complete and steady: see :class:`Steadiness`."""
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


def _ratios(plan: Plan, asynchrony: Floats, hand: str) -> tuple[Floats, Ints]:
    """Return the time from each moment to that of the next cycle over the asked one, and its cycle; NaN left out."""
    grid = lay_grid(plan.moments, hand)
    asked = grid.fill(plan.moments.time)
    wanted, done = (np.diff(times, axis=0) for times in (asked, asked + grid.fill(asynchrony)))
    told = (np.diff(grid.cycles)[:, None] == 1) & (wanted > 0)
    ratios: Floats = np.divide(done, wanted, out=np.full(done.shape, np.nan), where=told)
    row, column = np.nonzero(~np.isnan(ratios))
    return ratios[row, column], grid.cycles[row]
