"""Lateness of each finished cycle of a worn sensor, while the take runs: its readings against the cycles before it.

A cycle that is over by the plan is resampled to even steps of its phase and shifted along the mean of the earlier ones;
where they agree best is by how much it came later than these. That tells changes and no bias: the first cycles are
zero. The scorecard, later, follows the readings anew (:mod:`tempo_coach.observe.trace`) and is the reference.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Steps of a cycle, and the largest shift that is looked for, as a share of it.
STEPS, FARTHEST = 64, 0.3
#: Agreement (correlation over all columns) below which a shift says nothing: measured in the tests on sensors of moving
#: bodies, which agree with .9 and more.
LEAST_AGREEMENT = 0.5
#: Seconds after a cycle's end in which readings may still be on their way: two messages of a phone, and its network's.
WAIT = 0.35
#: Readings of a cycle at least, and longest time in seconds between two of them.
LEAST_READINGS, LONGEST_GAP = 12, 0.25
#: Seconds of readings that are kept, and how many earlier cycles count.
KEPT, EARLIER = 12.0, 8


class FinishedCycle(NamedTuple):
    """A finished cycle: the take time of its first moment as its readings show it, and the hand."""

    time: float
    hand: str


class WornCycles:
    """Follows the sensors worn at each hand through a take.

    Parameters
    ----------
    plan : Plan
    """

    def __init__(self, plan: Plan) -> None:
        self._anchors = {hand: _anchors(plan, hand) for hand in plan.hands}
        self._next = dict.fromkeys(plan.hands, 0)
        self._rows: dict[str, list[Floats]] = {hand: [] for hand in plan.hands}
        self._shapes: dict[str, list[Floats]] = {hand: [] for hand in plan.hands}

    def add(self, hand: str, rows: Floats) -> None:
        """Add readings: take time and values, shape (n, 7)."""
        if hand in self._rows and len(rows):
            self._rows[hand].append(np.asarray(rows, dtype=np.float64))

    def finished(self, now: float) -> list[FinishedCycle]:
        """Return the cycles that have ended by a take time and were not returned before."""
        found = []
        for hand, anchors in self._anchors.items():
            while self._next[hand] + 1 < len(anchors) and anchors[self._next[hand] + 1] + WAIT <= now:
                start, end = anchors[self._next[hand]], anchors[self._next[hand] + 1]
                self._next[hand] += 1
                late = self._lateness(hand, float(start), float(end))
                if math.isfinite(late):
                    found.append(FinishedCycle(float(start) + late, hand))
        return found

    def _lateness(self, hand: str, start: float, end: float) -> float:
        """Return by how many seconds a cycle is later than those before it; NaN where unknown."""
        period = end - start
        rows = np.concatenate(self._rows[hand]) if self._rows[hand] else np.zeros((0, 7))
        rows = rows[np.argsort(rows[:, 0], kind="stable")]
        rows = rows[rows[:, 0] > start - KEPT]
        self._rows[hand] = [rows]
        inside = rows[(rows[:, 0] >= start) & (rows[:, 0] <= end)]
        if len(inside) < LEAST_READINGS or np.diff(inside[:, 0]).max() > LONGEST_GAP:
            return math.nan
        grid = start + period * np.arange(STEPS) / STEPS
        shape = np.column_stack([np.interp(grid, rows[:, 0], column) for column in rows[:, 1:].T])
        earlier = self._shapes[hand]
        if not earlier:
            earlier.append(shape)
            return 0.0
        share, agreement = _shift_between(np.mean(earlier[-EARLIER:], axis=0), shape)
        if agreement < LEAST_AGREEMENT:
            return math.nan
        # what counts as usual is aligned, so that one late cycle does not blur it
        aligned = np.column_stack(
            [np.interp(np.arange(STEPS) + share * STEPS, np.arange(STEPS), column, period=STEPS) for column in shape.T]
        )
        earlier.append(aligned)
        return share * period


def _anchors(plan: Plan, hand: str) -> Floats:
    """Return the times of a hand's first moment in each cycle."""
    mine = plan.moments.of_hand(hand)
    cycles, times = plan.moments.cycle[mine], plan.moments.time[mine]
    firsts = np.unique(cycles, return_index=True)[1]
    return np.asarray(times[firsts])


def _shift_between(typical: Floats, shape: Floats) -> tuple[float, float]:
    """Return by what share of a cycle a shape lags behind the typical one, and their similarity there.

    Acceleration and rotation are each held against their size, gravity and mean turning included: a rate that hardly
    changes says little. The top of the correlation is a parabola's.
    """
    size = [max(float(np.sqrt((typical[:, k : k + 3] ** 2).sum())), 1e-9) for k in (0, 3)]
    weight = np.repeat(1 / np.array(size), 3)
    a, b = (typical - typical.mean(axis=0)) * weight, (shape - shape.mean(axis=0)) * weight
    cross = np.fft.irfft((np.fft.rfft(b, axis=0) * np.conj(np.fft.rfft(a, axis=0))).sum(axis=1), STEPS)
    most = math.floor(FARTHEST * STEPS)
    lags = np.arange(-most, most + 1)
    near = cross[lags]
    k = int(np.argmax(near))
    norm = math.sqrt(float((a**2).sum()) * float((b**2).sum()))
    if not 0 < k < len(near) - 1 or norm <= 0:
        return math.nan, 0.0
    left, middle, right = near[k - 1 : k + 2]
    curved = left - 2 * middle + right
    top = 0.5 * float(left - right) / float(curved) if curved < 0 else 0.0
    return (float(lags[k]) + top) / STEPS, float(middle) / norm
