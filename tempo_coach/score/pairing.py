"""Pairing: which onset answers which moment of one hand, one to one and in order.

What is likely is that lateness *changes* little from one onset to the next, not that it is small: after a hesitation
everything may be late by more than a step, and where the steps are even every whole step would fit as well. So a
pairing costs what its lateness changes by, robustly; a moment that is skipped or an onset too many has a price in such
changes; and the lateness itself is weak evidence, which decides between whole steps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.times import ascending, whole

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from tempo_coach.times import Floats, Ints

#: Change of lateness, in median steps, at which half of a jump's price is paid. A jump costs at most 1.
HALF_A_JUMP = 0.5
#: Price of a skipped moment or of an onset too many, by the robust SD of the changes of lateness in median steps. One
#: jump is cheaper than one skip and one extra, so that a hesitation is neither; two jumps are dearer.
SKIP = ((0.12, 0.7), (0.2, 0.8), (np.inf, 0.92))
#: Price in the first pass, before the scatter is known, and what a good pair is taken to cost there.
FIRST_SKIP, FIRST_USUAL = 0.8, 0.3
#: Most that moments skipped, or onsets too many, at either end of the take may cost.
END_CAP = 2.4
#: Price of a silence longer than ``MOST_SKIPPED`` moments, after which lateness may be anything.
LONG_GAP = 3.0
#: Weight of the lateness itself: a take that lies a whole step beside the plan pays this much, however long it is.
LATENESS = 0.3
#: Moments skipped or onsets too many in a row that are looked at one by one.
MOST_SKIPPED = 2
#: Onsets round about the best one that are looked at for each moment.
BEAM = 48
#: Mark of such a silence among the predecessors.
GAP = 100
#: Costs that differ by less are equal, and the nearest predecessor is taken: a tie is not decided by rounding.
EQUAL = 1e-9


@dataclass(frozen=True, eq=False)
class Pairs:
    """Which onset belongs to which moment.

    Parameters
    ----------
    expected, observed : array of int, shape (n,)
        Positions in the two lists, pair by pair, both strictly ascending.
    missed : array of int
        Positions of the moments without an onset.
    extra : array of int
        Positions of the onsets without a moment.
    cost : float
        In jumps of lateness.
    """

    expected: Ints
    observed: Ints
    missed: Ints
    extra: Ints
    cost: float = 0.0

    def __post_init__(self) -> None:
        for name in ("expected", "observed", "missed", "extra"):
            object.__setattr__(self, name, whole(getattr(self, name), name=name))
        if len(self.expected) != len(self.observed):
            raise ValueError("pairs: expected as many moments as onsets")

    def __len__(self) -> int:
        return len(self.expected)

    @property
    def f_measure(self) -> float:
        """Harmonic mean of the parts of moments and of onsets that are paired, 0 to 1; NaN where there are none.

        C. J. van Rijsbergen, *Information Retrieval* (1979); for beats as in Davies, Degara & Plumbley (2009).
        """
        both = 2 * len(self) + len(self.missed) + len(self.extra)
        return 2 * len(self) / both if both else float("nan")


def pair(moments: ArrayLike, onsets: ArrayLike, *, step: float | None = None) -> Pairs:
    """Pair the moments of one hand with its onsets.

    Parameters
    ----------
    moments, onsets : array_like, shape (n,), (m,)
        Seconds, ascending.
    step : float or None
        Median asked step in seconds, above 0; by default that of the moments.

    Returns
    -------
    Pairs

    Notes
    -----
    Dynamic programming over the last pair. From pair (i - a, j - q) to pair (i, j), a and q up to three, the change x
    of lateness in median steps costs x² / (x² + 1/4), and each moment or onset between them ``skip``. Time grows with
    n: for each moment, ``BEAM`` onsets about the best way so far are looked at.

    Examples
    --------
    One step is .77 of a step too long and everything after it stays late: nothing is missed, nothing too many.

    >>> late = pair([0.0, 0.2, 0.4, 0.6, 0.8, 1.0], [0.0, 0.2, 0.4, 0.754, 0.952, 1.15])
    >>> late.observed, late.missed
    (array([0, 1, 2, 3, 4, 5]), array([], dtype=int64))
    """
    asked = ascending(moments, name="moments")
    done = ascending(onsets, name="onsets")
    if not len(asked) or not len(done):
        return Pairs([], [], np.arange(len(asked)), np.arange(len(done)))  # type: ignore[arg-type]
    unit = median_step(asked) if step is None else step
    if not unit > 0:
        raise ValueError(f"step: expected more than 0 s, got {unit}")
    first = _search(asked, done, unit, skip=FIRST_SKIP, usual=FIRST_USUAL)
    if not (len(first.missed) or len(first.extra)):
        return first
    change = np.diff(done[first.observed] - asked[first.expected]) / unit
    scatter = 1.4826 * float(np.median(np.abs(change - np.median(change)))) if len(change) > 2 else 0.0
    price = next(dearer for below, dearer in SKIP if scatter < below)
    usual = float(np.mean(change**2 / (change**2 + HALF_A_JUMP**2))) if len(change) else FIRST_USUAL
    return _search(asked, done, unit, skip=price, usual=usual)


def median_step(moments: Floats) -> float:
    """Return the median step between neighbouring moments that are not simultaneous; 1 s where there is none."""
    steps = np.diff(moments)
    steps = steps[steps > 0]
    return float(np.median(steps)) if len(steps) else 1.0


def _search(asked: Floats, done: Floats, step: float, *, skip: float, usual: float) -> Pairs:
    n, m = len(asked), len(done)
    reach, width = MOST_SKIPPED + 1, min(m, BEAM)
    t, o = asked / step, done / step
    back = np.arange(1, reach + 1)
    far = np.add.outer(back, back)  # moments and onsets back, together
    # the tie rule: nearest predecessor first, and of two as near the one with fewer moments skipped
    price = (skip * (far - 2.0) + EQUAL * (reach * far + back[:, None]))[:, :, None]
    steps = np.array([np.concatenate([np.zeros(min(q, m)), o[q:] - o[:-q]]) for q in back.tolist()])
    weight = LATENESS / n
    cost = np.full((n, reach + width + reach), np.inf)
    came = np.full((n, width), -1, dtype=np.int8)
    low = np.zeros(n, dtype=np.int64)
    columns, centre = np.arange(width), 0
    before = np.full((reach, reach, width), np.inf)
    apart = np.zeros((reach, 1, 1))
    gap = _Gap(np.full(m + 1, np.inf), np.full(m + 1, -1, dtype=np.int64))
    origin = np.full((n, width), -1, dtype=np.int32)
    for i in range(n):
        if m > width:
            low[i] = min(max(centre - width // 2, int(low[i - 1]) if i else 0), m - width)
        begin = int(low[i])
        best = _price_of_end(i, begin + columns, skip=skip, usual=usual)
        choice = came[i]
        if i:
            for a in range(reach):
                if a + 1 > i:
                    before[a] = np.inf
                    continue
                apart[a] = t[i] - t[i - a - 1]
                moved = begin - int(low[i - a - 1])
                row = cost[i - a - 1]
                for q in range(reach):
                    first = reach + moved - q - 1
                    part = row[first : first + width]
                    before[a, q, : len(part)] = part
                    before[a, q, len(part) :] = np.inf
            change = steps[:, begin : begin + width] - apart
            change *= change
            total = (before + change / (change + HALF_A_JUMP**2) + price).reshape(-1, width)
            which = total.argmin(axis=0)
            through = total[which, columns]
            better = through < best
            best[better] = through[better]
            choice[better] = which[better]
        if i > reach:
            _see_gap(gap, cost[i - reach - 1, reach:-reach], int(low[i - reach - 1]), i - reach - 1, usual)
            over = gap.cost[begin : begin + width] + usual * i + LONG_GAP
            better = over < best
            best[better] = over[better]
            choice[better] = GAP
            origin[i, better] = gap.row[begin : begin + width][better]
        cost[i, reach : reach + width] = best + weight * np.abs(o[begin : begin + width] - t[i])
        centre = begin + int(cost[i, reach : reach + width].argmin()) + 1
    left = n - 1 - np.arange(n)[:, None], m - 1 - low[:, None] - columns
    tail = cost[:, reach : reach + width] + _price_of_end(*left, skip=skip, usual=usual)
    return _trace_back(came, origin, low, int(tail.argmin()), shape=(n, m), cost=float(tail.min()))


def _price_of_end(moments: Ints | int, onsets: Ints, *, skip: float, usual: float) -> Floats:
    """Price of what is left over at one end, so many moments and onsets: capped for one of the two only."""
    more, fewer = np.maximum(moments, onsets), np.minimum(moments, onsets)
    price: Floats = np.minimum(END_CAP, skip * more) + skip * fewer + usual * moments
    return price


class _Gap(NamedTuple):
    """For each onset, the best way to the onset before it that ended more than ``MOST_SKIPPED`` moments ago."""

    cost: Floats
    row: Ints


def _see_gap(gap: _Gap, row: Floats, low: int, number: int, usual: float) -> None:
    """Take in a row of the search that has become far enough away."""
    left = row - usual * (number + 1)
    part = slice(low + 1, low + 1 + len(row))
    better = left < gap.cost[part] - EQUAL
    gap.cost[part][better] = left[better]
    gap.row[part][better] = number


def _trace_back(
    came: NDArray[np.int8], origin: NDArray[np.int32], low: Ints, end: int, *, shape: tuple[int, int], cost: float
) -> Pairs:
    """Follow the predecessors from the last pair to the first."""
    reach = MOST_SKIPPED + 1
    i, k = divmod(end, came.shape[1])
    expected, observed = [i], [int(low[i]) + k]
    while (which := int(came[i, k])) >= 0:
        a, q = divmod(which, reach)
        i, step_back = (int(origin[i, k]), 1) if which == GAP else (i - a - 1, q + 1)
        expected.append(i)
        observed.append(observed[-1] - step_back)
        k = observed[-1] - int(low[i])
    missed, extra = np.setdiff1d(np.arange(shape[0]), expected), np.setdiff1d(np.arange(shape[1]), observed)
    return Pairs(expected[::-1], observed[::-1], missed, extra, cost)  # type: ignore[arg-type]
