"""One hand of a take: its onsets on the grid of its cycles, and what was left over."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.filters import find_nearest
from tempo_coach.score.measures.period import periods
from tempo_coach.score.pairing.hypotheses import ALONE, HandStream, Hypotheses, Hypothesis, find_hypotheses
from tempo_coach.score.pairing.search import median_step

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Moments
    from tempo_coach.times import Floats, Ints


@dataclass(frozen=True, eq=False)
class Grid:
    """Indices of one hand's moments in the plan, by cycle and position in the cycle.

    Parameters
    ----------
    hand : str
    cycles : array of int, shape (c,)
        Numbers of its cycles, ascending.
    at : array of int, shape (c, k)
        Positions; -1 where a cycle has fewer moments than others. Column 0 holds the anchors.
    """

    hand: str
    cycles: Ints
    at: Ints

    def fill(self, values: Floats) -> Floats:
        """Return a column of the plan's moments as a grid, NaN where there is no moment."""
        table: Floats = np.where(self.at >= 0, values[np.maximum(self.at, 0)], np.nan)
        return table

    @property
    def in_order(self) -> Ints:
        """Indices of this hand's moments in order of cycle and place."""
        flat = self.at.ravel()
        return flat[flat >= 0]


def lay_grid(moments: Moments, hand: str) -> Grid:
    """Return the grid of one hand."""
    mine = moments.of_hand(hand)
    order = mine[np.lexsort((moments.time[mine], moments.cycle[mine]))]
    cycles, first, number = np.unique(moments.cycle[order], return_index=True, return_counts=True)
    at = np.full((len(cycles), int(number.max(initial=0))), -1, dtype=np.int64)
    row = np.repeat(np.arange(len(cycles)), number)
    at[row, np.arange(len(order)) - np.repeat(first, number)] = order
    return Grid(hand, cycles, at)


#: How far an onset may lie from where it is expected and still be what a gap swallowed: a share of the median step, and
#: seconds.
NEAR_A_GAP, LONGEST_NEAR = 0.45, 0.25
#: Share of the hand's smallest step: an onset that comes so soon after another one is its echo, and one too many.
ECHO = 0.1
#: Share of the onsets that may be taken for echoes and yet have answered moments, where scatter brought close moments
#: together: more than a tenth is a key or a microphone that bounces. (At a spread of 6 % it is under a fiftieth in the
#: drill with the closest moments.)
MOST_TOGETHER = 0.1


@dataclass(frozen=True, eq=False)
class HandTake:
    """The onsets of one hand by cycle, and what was left over.

    Parameters
    ----------
    grid : Grid
    observed, asked : array, shape (c, k)
        Seconds; NaN where nothing was observed.
    periods, ratios : array, shape (c,)
        To the next anchor, in seconds and over what was asked; NaN for the last and beside a missed anchor.
    missed : array of int
        Positions in the plan of what was left out between the first and the last onset.
    before, behind : array of int
        Positions in the plan of what was asked before her first onset and after her last one, and not done.
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
    missed: Ints
    before: Ints
    behind: Ints
    extra: Floats
    unseen: Ints

    @property
    def levels(self) -> Floats:
        """Asynchrony of each anchor over the period asked there (for the last one, the median one)."""
        asked = periods(self.asked[:, 0], self.grid.cycles)
        median = float(np.nanmedian(asked)) if (~np.isnan(asked)).any() else math.nan
        late, over = (self.observed - self.asked)[:, 0], np.where(np.isnan(asked), median, asked)
        levels: Floats = np.divide(late, over, out=np.full(len(late), np.nan), where=over > 0)
        return levels


def follow_hands(take: Take) -> tuple[list[HandTake], Hypotheses]:
    """Lay each hand's onsets on its grid, under the hypothesis that explains the whole take best.

    What lies where sound or clock failed is left out, and so is what may have been answered there: a moment beside it
    whose onset would fall into it, an onset beside it that answers a moment in it. All onsets where none lies in the
    time of the plan (they are of another clock) answer nothing and are too many; so are echoes, unless the take is
    explained better with them: close moments fall together by scatter alone, and each onset that is taken for an echo
    then leaves a moment unanswered.

    Parameters
    ----------
    take : Take
    """
    plan, moments = take.plan, take.plan.moments
    measurable = ~inside(moments.time, take.unmeasurable)
    hands = [hand for hand in plan.hands if hand in set(moments.hand)]
    elsewhere = _is_elsewhere(take)
    positions, parts, echoes = [], [], []
    for hand in hands:
        mine = moments.of_hand(hand)
        mine = mine[measurable[mine]]
        onsets = take.onsets.of_hand(hand)
        onsets = onsets[~inside(onsets, take.unmeasurable)]
        positions.append(mine)
        parts.append(HandStream(moments.time[mine], moments.cycle[mine], onsets))
        echoes.append(np.ones(len(onsets), dtype=np.bool_) if elsewhere else _echoes(onsets, moments.time[mine]))
    end = max(plan.duration, float(moments.time[-1])) if len(moments) else 0.0
    find = partial(find_hypotheses, period=period_asked(take), end=end, counts=plan.cycle_counts)
    heard = [part._replace(onsets=part.onsets[~echo]) for part, echo in zip(parts, echoes, strict=True)]
    idle = [part.onsets[echo] for part, echo in zip(parts, echoes, strict=True)]
    hypotheses, left_out = find(heard), sum(map(len, idle))
    if 0 < left_out <= MOST_TOGETHER * sum(len(part.onsets) for part in parts):
        with_echoes = find(parts)
        if with_echoes.best.cost < hypotheses.best.cost + ALONE * (left_out - 0.5):
            hypotheses, heard, idle = with_echoes, parts, [each[:0] for each in idle]
    done = [part.onsets for part in heard]
    if hypotheses.best.swapped:
        done.reverse()
        idle.reverse()
    return [
        _lay(take, hand, mine, onsets, hypotheses.best, k, idle[k])
        for k, (hand, mine, onsets) in enumerate(zip(hands, positions, done, strict=True))
    ], hypotheses


def unasked(take: Take, hands: list[HandTake]) -> dict[str, Floats]:
    """Return, by hand, the onsets of hands in the plan from which it asks nothing."""
    asked = {hand.grid.hand for hand in hands}
    return {hand: take.onsets.of_hand(hand) for hand in take.plan.hands if hand not in asked}


def _is_elsewhere(take: Take) -> bool:
    """Return whether no onset lies within the plan's time, extended by a cycle at both ends."""
    onsets, asked = take.onsets.time, take.plan.moments.time
    if not len(onsets) or not len(asked):
        return False
    near, end = period_asked(take), max(take.plan.duration, float(asked[-1]))
    return not ((onsets > asked[0] - near) & (onsets < end + near)).any()


def _echoes(onsets: Floats, asked: Floats) -> NDArray[np.bool_]:
    """Return which onsets follow another one too soon to be anything but its echo."""
    steps = np.diff(asked)
    soon = ECHO * float(steps.min()) if len(steps) else 0.0
    echoes: NDArray[np.bool_] = np.diff(onsets, prepend=-np.inf) < soon
    return echoes


def period_asked(take: Take) -> float:
    """Return the median asked seconds of a cycle, from first moment to first moment."""
    moments = take.plan.moments
    if not len(moments):
        return 1.0
    firsts = np.unique(moments.cycle, return_index=True)[1]
    starts = np.sort(moments.time[firsts])
    period = float(np.median(np.diff(starts))) if len(starts) > 1 else 0.0
    return period if period > 0 else max(take.plan.duration - take.plan.start, 0.1)


def _lay(
    take: Take, hand: str, mine: Ints, onsets: Floats, hypothesis: Hypothesis, number: int, idle: Floats
) -> HandTake:
    moments = take.plan.moments
    grid = lay_grid(moments, hand)
    answer = hypothesis.answers[number]
    observed = np.full(len(moments), np.nan)
    answered = answer >= 0
    observed[mine[answered]] = onsets[answer[answered]]
    missed, extra = mine[~answered], np.sort(np.concatenate([onsets[hypothesis.extra[number]], idle]))
    known = np.flatnonzero(answered)
    first, last = (mine[known[0]], mine[known[-1]]) if len(known) else (len(moments), -1)
    if take.unmeasurable:
        near = min(NEAR_A_GAP * median_step(moments.time[mine]), LONGEST_NEAR)
        wider = tuple((start - near, end + near) for start, end in take.unmeasurable)
        gone = inside(moments.time[missed] + _median_near(take, observed, missed), wider)
        lost = moments.of_hand(hand)
        lost = lost[inside(moments.time[lost], take.unmeasurable)]
        expected = np.sort(moments.time[lost] + _median_near(take, observed, lost))
        if lost.size:  # an onset outside may answer a moment inside
            extra = extra[np.abs(expected[find_nearest(expected, extra)] - extra) > near]
        missed, unseen = missed[~gone], missed[gone]
    else:
        unseen = missed[:0]
    table, asked = grid.fill(observed), grid.fill(moments.time)
    done, wanted = (periods(anchors, grid.cycles) for anchors in (table[:, 0], asked[:, 0]))
    within = (missed > first) & (missed < last)
    before, behind = missed[missed < first], missed[missed > last]
    if len(known):
        # what would have come after the plan's end, as late as she is, is not left out
        late = hypothesis.ratio * (moments.time[behind] - moments.time[last]) + observed[last]
        behind = behind[late <= take.plan.duration + 1e-6]
    else:
        # a hand that did nothing at all neither came in late nor stopped
        within, before, behind = np.ones(len(missed), dtype=np.bool_), missed[:0], missed[:0]
    ratios = np.divide(done, wanted, out=np.full(len(done), np.nan), where=wanted > 0)
    return HandTake(grid, table, asked, done, ratios, missed[within], before, behind, extra, unseen)


def inside(times: Floats, stretches: tuple[tuple[float, float], ...]) -> NDArray[np.bool_]:
    """Return which times lie in one of the stretches, edges included.

    Parameters
    ----------
    times : numpy.ndarray, shape (n,)
        Seconds.
    """
    within = np.zeros(len(times), dtype=np.bool_)
    for start, end in stretches:
        within |= (times >= start) & (times <= end)
    return within


def _median_near(take: Take, observed: Floats, positions: Ints) -> Floats:
    """Return the median lateness of observed moments on both sides of some moments; 0 without any."""
    known = np.flatnonzero(~np.isnan(observed))
    time = take.plan.moments.time
    return np.interp(time[positions], time[known], (observed - time)[known]) if len(known) else np.zeros(len(positions))
