"""What one hand did in a take: its onsets laid on the cycles of its plan, and what was left over."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.align import Answers, answer, find_nearest
from tempo_coach.score.grid import Grid, lay_grid
from tempo_coach.score.period import periods

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.observe.onsets import Take
    from tempo_coach.times import Floats, Ints


@dataclass(frozen=True, eq=False)
class HandTake:
    """What one hand did, cycle by cycle, and what was left over.

    Parameters
    ----------
    grid : Grid
    observed, asked : array, shape (c, k)
        Seconds; NaN where nothing was observed.
    periods, ratios : array, shape (c,)
        To the next anchor, in seconds and over what was asked; NaN for the last and beside a missed anchor.
    answers : Answers
    missed : array of int
        Positions in the plan.
    extra : array
        Seconds.
    unseen : array of int
        Positions in the plan of what may have been answered where sound or clock failed, beside those that lie there.
    """

    grid: Grid
    observed: Floats
    asked: Floats
    periods: Floats
    ratios: Floats
    answers: Answers
    missed: Ints
    extra: Floats
    unseen: Ints

    @property
    def levels(self) -> Floats:
        """How far each anchor is off, over the period asked there (for the last one, the usual one)."""
        asked = periods(self.asked[:, 0], self.grid.cycles)
        usual = float(np.nanmedian(asked)) if (~np.isnan(asked)).any() else math.nan
        return (self.observed - self.asked)[:, 0] / np.where(np.isnan(asked), usual, asked)


def follow_hand(take: Take, hand: str) -> HandTake:
    """Lay what one hand did on its grid of cycles.

    What lies where sound or clock failed is left out, and so is what may have been answered there: a moment beside it
    whose onset would fall into it, an onset beside it that answers a moment in it.

    Parameters
    ----------
    take : Take
    hand : str
        One that the plan names.
    """
    moments = take.plan.moments
    measurable = ~inside(moments.time, take.unmeasurable)
    grid = lay_grid(moments, hand)
    mine = moments.of_hand(hand)
    mine = mine[measurable[mine]]
    onsets = take.onsets.of_hand(hand)
    onsets = onsets[~inside(onsets, take.unmeasurable)]
    answers = answer(moments.time[mine], moments.cycle[mine], onsets)
    observed = np.full(len(moments), np.nan)
    answered = answers.onset >= 0
    observed[mine[answered]] = onsets[answers.onset[answered]]
    missed, extra = mine[~answered], onsets[answers.extra]
    if answers.slipped:
        number = abs(answers.slipped) * grid.at.shape[1]
        late = answers.slipped > 0
        missed = missed[number:] if late else missed[:-number]
        extra = extra[:-number] if late else extra[number:]
    wider = tuple((start - answers.reach, end + answers.reach) for start, end in take.unmeasurable)
    gone = inside(moments.time[missed] + _usual_near(take, observed, missed), wider)
    lost = moments.of_hand(hand)
    lost = lost[~measurable[lost]]
    expected = np.sort(moments.time[lost] + _usual_near(take, observed, lost))
    if lost.size:  # an onset outside may answer a moment inside
        extra = extra[np.abs(expected[find_nearest(expected, extra)] - extra) > answers.reach]
    missed, unseen = missed[~gone], missed[gone]
    table, asked = grid.fill(observed), grid.fill(moments.time)
    done, wanted = (periods(anchors, grid.cycles) for anchors in (table[:, 0], asked[:, 0]))
    return HandTake(grid, table, asked, done, done / wanted, answers, missed, extra, unseen)


def inside(times: Floats, stretches: tuple[tuple[float, float], ...]) -> NDArray[np.bool_]:
    """Return which times lie in one of the stretches, edges included."""
    within = np.zeros(len(times), dtype=np.bool_)
    for start, end in stretches:
        within |= (times >= start) & (times <= end)
    return within


def _usual_near(take: Take, observed: Floats, positions: Ints) -> Floats:
    """How late the moments on both sides of some moments of the plan are; 0 where nothing was observed."""
    known = np.flatnonzero(~np.isnan(observed))
    time = take.plan.moments.time
    return np.interp(time[positions], time[known], (observed - time)[known]) if len(known) else np.zeros(len(positions))
