"""Slips: whole counts by which everything from some moment on is ahead or behind.

Hands are paired one by one, and where a hand's steps are even a slip looks like other ones: three counts ahead like one
behind, if its moments lie four counts apart. What all hands do together decides. So each large change of lateness is
asked whether a slip of all hands at about that place would put their onsets where they are, and the best answers are
hypotheses of the whole take.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.pairing.search import AT_ONCE, median_step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats, Ints

#: Change of lateness, in median steps and in robust SDs of such changes, from which on a slip is looked for; and the
#: most of them in a take of which one may be a slip.
JUMP_STEPS, JUMP_SDS, MOST_JUMPS = 0.1, 4.0, 6
#: Moments of the hand before and after a jump at which a slip may have begun: those of an even hand may be paired with
#: onsets of their neighbours.
BESIDE = (-3, 4)
#: Moments of each hand on both sides of a jump that are looked at, and before it for how late she is; the share of the
#: step at which one that has no onset nearer counts as unanswered; and slips that are tried in full.
AROUND, BEFORE, UNANSWERED = 10, 4, 0.35
#: Slips that are tried in full: so many at most, at so many places of each size, that explain the surroundings by so
#: much worse than the best at most. Where a hand's steps are even, one count behind and three ahead are alike but for
#: the ends of the take, which only a trial in full sees.
BEST, PLACES, NEARLY = 12, 2, 1.0
#: What a moment that is left out counts, and each count by which she slips.
LEFT_OUT, DEARER = 0.3, 0.1
#: Share of the smallest step of all hands by which a moment that lies at the edge of what was left out is left out too.
EDGE = 0.5


class Slip(NamedTuple):
    """A shift of everything from a moment of the plan on.

    Parameters
    ----------
    at : float
        Asked seconds of that moment.
    by : float
        Seconds; late is positive.
    edge : float
        Seconds before what is left out in which a moment is left out too.
    """

    at: float
    by: float
    edge: float

    def shift(self, asked: Floats) -> Floats:
        """Return the shifted times of moments."""
        times: Floats = asked + self.by * (asked >= self.at - 1e-6)
        return times

    def left_out(self, asked: Floats) -> NDArray[np.bool_]:
        """Return which moments are jumped over by somebody who goes ahead."""
        if self.by > 0:
            return np.zeros(len(asked), dtype=np.bool_)
        skipped: NDArray[np.bool_] = (asked < self.at - 1e-6) & (asked > self.at + self.by - self.edge)
        return skipped


class Paired(NamedTuple):
    """One hand: asked times, onsets, and the onset of each moment or -1."""

    asked: Floats
    onsets: Floats
    answer: Ints


def propose_slips(hands: Sequence[Paired], *, count: float, counts: int) -> list[Slip]:
    """Return the slips that best explain the surroundings of large changes of lateness.

    Parameters
    ----------
    hands : sequence of Paired
    count : float
        Seconds.
    counts : int
        Counts of a cycle: who slips, slips by fewer.
    """
    places = {place for hand in hands for place in _jumps(hand)}
    if not places:
        return []
    moments = np.unique(np.round(np.concatenate([hand.asked for hand in hands]), 6))
    edge = EDGE * _smallest_step(moments)
    tried, alone = [], []
    for at in sorted(places):
        level = _level_before(hands, at)
        for n in range(-counts + 1, counts):
            if n:
                tried.append(Slip(at, n * count, edge))
                alone.append(_unanswered(hands, tried[-1], level) + DEARER * abs(n))
    best: list[Slip] = []
    least = min(alone, default=0.0)
    for k in np.argsort(alone, kind="stable").tolist():
        if len(best) == BEST or (best and alone[k] > least + NEARLY):
            break
        if sum(slip.by == tried[k].by for slip in best) < PLACES:
            best.append(tried[k])
    return best


def _jumps(hand: Paired) -> list[float]:
    """Return the asked times of the moments at which a slip may begin."""
    known = np.flatnonzero(hand.answer >= 0)
    if len(known) < 4:
        return []
    step = median_step(hand.asked)
    change = np.diff(hand.onsets[hand.answer[known]] - hand.asked[known])
    scatter = 1.4826 * float(np.median(np.abs(change)))
    size = np.abs(change)
    large = known[1:][size > max(JUMP_STEPS * step, JUMP_SDS * scatter)]
    if not len(large) and len(known) < max(len(hand.asked), len(hand.onsets)):
        large = known[1:][size >= size.max()][:1]  # something is missing, or too much
    beside = large[:, None] + np.arange(BESIDE[0], BESIDE[1] + 1)
    places: list[float] = hand.asked[np.unique(np.clip(beside, 1, len(hand.asked) - 1))].tolist()
    return places if len(large) <= MOST_JUMPS else []


def _unanswered(hands: Sequence[Paired], slip: Slip, level: float) -> float:
    """Return the mean mismatch of moments and onsets around a slip; what is unpaired counts as 1.

    Behind the slip she may be a little later or earlier than before it: that is her scatter.
    """
    total = 0.0
    for asked, onsets, _ in hands:
        if len(asked) < 2 or not len(onsets):
            continue
        at = int(np.searchsorted(asked, slip.at))
        here = asked[max(at - AROUND, 0) : at + AROUND]
        step = _smallest_step(asked)
        left_out = slip.left_out(here)
        times = level + slip.shift(here)[~left_out]
        if not len(times):
            continue
        behind = here[~left_out] >= slip.at - 1e-6
        times[behind] += float(np.median(_to_nearest(times[behind], onsets))) if behind.any() else 0.0
        done = onsets[np.searchsorted(onsets, times[0] - step / 2) : np.searchsorted(onsets, times[-1] + step / 2)]
        total += _away(times, onsets, UNANSWERED * step) + _away(done, times, UNANSWERED * step)
        total += LEFT_OUT * float(left_out.sum())
    return total


def _smallest_step(asked: Floats) -> float:
    """Return the smallest step between moments that are not simultaneous; 1 s without any."""
    steps = np.diff(asked)
    return float(steps[steps > AT_ONCE].min()) if (steps > AT_ONCE).any() else 1.0


def _level_before(hands: Sequence[Paired], at: float) -> float:
    """Return the median lateness of the moments before, in seconds."""
    late = []
    for asked, onsets, answer in hands:
        before = np.flatnonzero((answer >= 0) & (asked < at - 1e-6))[-BEFORE:]
        late += (onsets[answer[before]] - asked[before]).tolist()
    return float(np.median(late)) if late else 0.0


def _away(times: Floats, places: Floats, most: float) -> float:
    """Return the sum of squared distances to the nearest place, each relative to a maximum and at most 1.

    Squares, because scatter puts every moment a little off, and in a long stretch that must not outweigh one that is
    alone.
    """
    return float((np.minimum(np.abs(_to_nearest(times, places)) / most, 1.0) ** 2).sum())


def _to_nearest(times: Floats, places: Floats) -> Floats:
    """Return the difference from each time to the nearest place."""
    after = np.searchsorted(places, times)
    before, behind = places[np.maximum(after - 1, 0)] - times, places[np.minimum(after, len(places) - 1)] - times
    return np.where(np.abs(before) <= np.abs(behind), before, behind)
