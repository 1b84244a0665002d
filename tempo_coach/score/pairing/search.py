"""Pairing of onsets with the moments of one hand, one to one and in order, by dynamic programming.

Lateness is expected to *change* little from one onset to the next, not to be small: after a hesitation everything may
be late by more than a step, and where steps are even every whole step fits as well. The cost of a pairing is a robust
function of the changes of lateness, plus penalties for skipped moments and extra onsets, plus a weak penalty of the
lateness itself, which decides between whole steps.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.times import ascending, whole

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from tempo_coach.times import Floats, Ints

#: Change of lateness, in median steps, at which the penalty is half of a jump's. A jump costs at most 1.
HALF_A_JUMP = 0.5
#: Penalty of a skipped moment or an extra onset, by the robust SD of the changes of lateness in median steps. One jump
#: costs less than one skip and one extra, so that a hesitation is neither; two jumps cost more, but for the widest
#: scatter, which brings such jumps about. The last two were chosen on tuning takes at a spread of 6 %: of 1,120 good
#: cycles of the drill with the closest moments 2 were told as missed or extra, 25 at .92, and of 177 takes with a
#: moment missed, or that and an extra one, none was lost.
SKIP = ((0.12, 0.7), (0.2, 0.8), (0.25, 0.92), (0.32, 1.1), (np.inf, 1.6))
#: Penalty in the first pass, before the scatter is known, and the expected cost of a good pair there.
FIRST_SKIP, FIRST_PAIR_COST = 0.8, 0.3
#: Most that the first moments skipped, or onsets too many, at either end of the take may cost; what each further one,
#: also of a long silence, costs; and how many of both may be left at one end before they cost their price again: they
#: could have been paired.
END_CAP, FURTHER, BOTH_LEFT = 2.4, 0.1, 3
#: Penalty of a silence longer than ``MOST_SKIPPED`` moments, after which lateness may be anything.
LONG_GAP = 3.0
#: Weight of the lateness itself: a take that lies a whole step beside the plan pays this much, however long it is; a
#: moment that is left at an end pays for the lateness of the pair that is nearest to it.
LATENESS = 0.3
#: The same of one that lies a whole cycle beside it: a little more than a moment skipped at one end and an onset too
#: many at the other.
LATENESS_OF_CYCLE = 1.45
#: Moments skipped, and onsets too many, in a row that are looked at one by one.
MOST_SKIPPED, MOST_EXTRA = 3, 5
#: Onsets around the expected next one that are considered for each moment.
BEAM = 48
#: Largest change of lateness, in median steps, and largest cost of the lateness itself, at which as many onsets as
#: moments answer them one after another without a search: any other pairing leaves a moment and an onset alone, and
#: changes of this size do not make up for their penalties.
PLAIN_CHANGE, PLAIN_COST = 0.4, 0.7
#: Marks, among the predecessors, of such a silence, of a longer run of onsets too many, and of none.
GAP, RUN, FIRST = 100, 101, -1
#: Seconds under which two moments are simultaneous.
AT_ONCE = 1e-6
#: Costs that differ by less are equal, and the nearest predecessor is taken: a tie is not decided by rounding.
EQUAL = 1e-9


@dataclass(frozen=True, eq=False)
class Pairs:
    """The onset of each moment, and the moment of each onset.

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
        """Harmonic mean of the shares of moments and of onsets that are paired, 0 to 1; NaN without either.

        C. J. van Rijsbergen, *Information Retrieval* (1979); for beats as in Davies, Degara & Plumbley (2009).
        """
        both = 2 * len(self) + len(self.missed) + len(self.extra)
        return 2 * len(self) / both if both else float("nan")


def pair(moments: ArrayLike, onsets: ArrayLike, *, step: float | None = None, period: float | None = None) -> Pairs:
    """Pair the moments of one hand with its onsets.

    Parameters
    ----------
    moments, onsets : array_like, shape (n,), (m,)
        Seconds, ascending.
    step : float or None
        Median asked step in seconds, above 0; by default that of the moments.
    period : float or None
        Seconds of a cycle; without, lateness is weighed by steps alone.

    Returns
    -------
    Pairs

    Notes
    -----
    Dynamic programming over the last pair. From pair (i - a, j - q) to pair (i, j), a up to four and q up to six, the
    change x of lateness in median steps costs x² / (x² + 1/4), and each moment or onset between them ``skip``. A longer
    run of onsets too many costs ``skip`` for each, whatever becomes of lateness; a longer silence costs ``LONG_GAP``
    and a little for each moment. Of what costs the same the nearest predecessor is taken, of two as near the one with
    fewer moments skipped, and at the end the pair that leaves the least behind it. Time grows with n: for each moment,
    ``BEAM`` onsets are looked at about where it is expected.

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
    lateness = LATENESS if period is None else max(LATENESS, LATENESS_OF_CYCLE * unit / period)
    plain = _pair_in_order(asked, done, unit, lateness)
    if plain is not None:
        return plain
    first = _search(asked, done, unit, skip=FIRST_SKIP, pair_cost=FIRST_PAIR_COST, lateness=lateness)
    if not (len(first.missed) or len(first.extra)):
        return first
    change = np.diff(done[first.observed] - asked[first.expected]) / unit
    scatter = 1.4826 * float(np.median(np.abs(change - np.median(change)))) if len(change) > 2 else 0.0
    penalty = next(dearer for below, dearer in SKIP if scatter < below)
    pair_cost = float(np.mean(change**2 / (change**2 + HALF_A_JUMP**2))) if len(change) else FIRST_PAIR_COST
    return _search(asked, done, unit, skip=penalty, pair_cost=pair_cost, lateness=lateness)


def _pair_in_order(asked: Floats, done: Floats, unit: float, lateness: float) -> Pairs | None:
    """Pair one after another where that is unambiguous; else None."""
    if len(asked) != len(done):
        return None
    late = (done - asked) / unit
    change, weighed = np.diff(late), lateness * float(np.mean(np.abs(late)))
    if weighed > PLAIN_COST or np.max(np.abs(change), initial=0.0) > PLAIN_CHANGE:
        return None
    every = np.arange(len(asked))
    cost = float(np.sum(change**2 / (change**2 + HALF_A_JUMP**2))) + weighed
    return Pairs(every, every, [], [], cost)  # type: ignore[arg-type]


def median_step(moments: Floats) -> float:
    """Return the median step between neighbouring moments that are not simultaneous; 1 s where there is none.

    Parameters
    ----------
    moments : numpy.ndarray, shape (n,)
        Seconds, ascending.
    """
    steps = np.diff(moments)
    steps = steps[steps > AT_ONCE]
    return float(np.median(steps)) if len(steps) else 1.0


def _search(
    asked: Floats, done: Floats, step: float, *, skip: float, pair_cost: float, lateness: float = LATENESS
) -> Pairs:
    n, m = len(asked), len(done)
    width = min(m, BEAM)
    t, o, onsets = asked / step, done / step, (done / step).tolist()
    near = _Near(t, o, skip=skip, width=width)
    ends = _Ends(n, m, skip=skip, pair_cost=pair_cost)
    weight, columns, penalties = lateness / n, np.arange(width), skip * np.arange(m)
    cost, tail = np.empty((n, width)), np.empty((n, width))
    came, origin = np.full((n, width), FIRST, dtype=np.int8), np.full((n, width), -1, dtype=np.int32)
    low, centre = np.zeros(n, dtype=np.int64), bisect_left(onsets, t[0])
    uneven = ends.alone(np.abs(np.arange(n + m) - m))
    gap = _Gap(np.full(m + 1, np.inf), np.full(m + 1, -1, dtype=np.int64))
    for i in range(n):
        if m > width:
            low[i] = min(max(centre - width // 2, int(low[i - 1]) if i else 0), m - width)
        begin = int(low[i])
        here = slice(begin, begin + width)
        late, choice = weight * np.abs(o[here] - t[i]), came[i]
        best = ends.penalty(i, here) + i * late if not i else near.step_on(i, begin, choice)
        if i:
            # a longer run of onsets too many
            last = int(low[i - 1])
            moved = begin - last - MOST_EXTRA - 2
            if width + moved > 0:
                least = np.minimum.accumulate(cost[i - 1] - penalties[last : last + width])
                first = max(-moved, 0)
                least = least[: width + moved] if moved < 0 else least[np.minimum(columns + moved, width - 1)]
                run = least + penalties[begin + first : begin + width] - skip
                _take_cheaper(best[first:], choice[first:], run, RUN)
            # a longer silence
            over = gap.cost[here] + (pair_cost + FURTHER) * i + LONG_GAP
            silent = _take_cheaper(best, choice, over, GAP)
            origin[i, silent] = gap.row[begin + silent]
            if ends.moments[i] < best.max():
                _take_cheaper(best, choice, ends.penalty(i, here) + i * late, FIRST)
        cost[i] = best + late
        tail[i] = cost[i] + ends.penalty(n - 1 - i, slice(m - begin - width, m - begin))[::-1] + (n - 1 - i) * late
        if i >= MOST_SKIPPED:
            _see_gap(gap, cost[i - MOST_SKIPPED], int(low[i - MOST_SKIPPED]), i - MOST_SKIPPED, pair_cost + FURTHER)
        near.keep(i, begin, cost[i])
        if i + 1 < n:
            # of the cheap ways so far, one that does not leave much more behind it on one side than on the other
            likely = begin + int((cost[i] + uneven[n - 1 - i + begin : n - 1 - i + begin + width]).argmin())
            centre = bisect_left(onsets, onsets[likely] + float(t[i + 1] - t[i]))
    alike = np.argwhere(tail <= tail.min() + EQUAL)
    behind = n - 1 - alike[:, 0]
    end = alike[np.lexsort((behind, behind + m - 1 - low[alike[:, 0]] - alike[:, 1]))[0]]
    search = _Searched(came, origin, low, cost, skip, near.places)
    return _trace_back(search, int(end[0] * width + end[1]), shape=(n, m), penalty=float(tail.min()))


def _take_cheaper(best: Floats, choice: NDArray[np.int8], other: Floats, mark: int) -> Ints:
    """Replace the best predecessors so far by cheaper ones; return where."""
    where: Ints = (other < best - EQUAL).nonzero()[0]
    if len(where):
        best[where], choice[where] = other[where], mark
    return where


class _Ends:
    """Costs of skipped moments and extra onsets at one end of the take."""

    def __init__(self, n: int, m: int, *, skip: float, pair_cost: float) -> None:
        self.skip = skip
        self.moments = self.alone(np.arange(n)) + pair_cost * np.arange(n)
        self.onsets = self.alone(np.arange(m))
        self.too_many = skip * np.maximum(np.arange(m) - BOTH_LEFT, 0)

    def alone(self, left: Ints) -> Floats:
        """Return the cost of a number of moments, or of onsets, by themselves."""
        few = END_CAP / self.skip
        penalty: Floats = self.skip * np.minimum(left, few) + FURTHER * np.maximum(left - few, 0.0)
        return penalty

    def penalty(self, moments: int, onsets: slice) -> Floats:
        """Return the cost of a number of moments with each number of onsets."""
        penalty: Floats = self.moments[moments] + self.onsets[onsets]
        if moments > BOTH_LEFT:
            penalty += np.minimum(self.too_many[onsets], self.skip * (moments - BOTH_LEFT))
        return penalty


class _Near:
    """The last rows of the search, each aligned to its onsets, with the predecessors in order of preference.

    Row i lies in slot i mod ``MOST_SKIPPED + 1``; every slot is seen through windows that begin at each onset. What is
    told of predecessors is in order of slot, then of onsets back.
    """

    def __init__(self, t: Floats, o: Floats, *, skip: float, width: int) -> None:
        slots, lags = MOST_SKIPPED + 1, MOST_EXTRA + 1
        self.t, self.o, self.width = t, o, width
        self.steps = np.array([np.concatenate([np.zeros(min(q, len(o))), o[q:] - o[:-q]]) for q in range(1, lags + 1)])
        self.rows = np.full((slots, len(o) + lags), np.inf)
        self.windows = np.lib.stride_tricks.sliding_window_view(self.rows, width, axis=1)
        self.filled = [0] * slots
        self.then = np.zeros((slots, 1, 1))
        over = np.arange(1, lags + 1)
        backs = [np.array([(turn - slot - 1) % slots + 1 for slot in range(slots)]) for turn in range(slots)]
        self.penalty = [skip * (back[:, None] + over - 2.0)[:, :, None] for back in backs]
        self.places = [np.stack([np.repeat(back, lags), np.tile(over, slots)]) for back in backs]
        self.order = [np.lexsort((back, back + over)) for back, over in self.places]
        self.columns = np.arange(width)

    def step_on(self, i: int, begin: int, choice: NDArray[np.int8]) -> Floats:
        """Choose the nearest of the cheapest predecessors of moment i at each onset; return the cost through it."""
        turn = i % len(self.rows)
        change = self.steps[:, begin : begin + self.width] - (self.t[i] - self.then)
        change *= change
        total = change / (change + HALF_A_JUMP**2)
        total += self.windows[:, begin : begin + MOST_EXTRA + 1][:, ::-1]
        total += self.penalty[turn]
        total = total.reshape(-1, self.width)
        order = self.order[turn]
        which = order[(total <= total.min(axis=0) + EQUAL)[order].argmax(axis=0)]
        choice[:] = which
        through: Floats = total[which, self.columns]
        return through

    def keep(self, i: int, begin: int, cost: Floats) -> None:
        """Store row i in the place of the one that is now too far away."""
        slot, first = i % len(self.rows), begin + MOST_EXTRA + 1
        before = self.filled[slot]
        self.rows[slot, before : before + self.width] = np.inf
        self.rows[slot, first : first + self.width] = cost
        self.filled[slot] = first
        self.then[slot] = self.t[i]


class _Gap(NamedTuple):
    """For each onset, the best path to the onset before it that ended over ``MOST_SKIPPED`` moments ago."""

    cost: Floats
    row: Ints


def _see_gap(gap: _Gap, row: Floats, low: int, number: int, pair_cost: float) -> None:
    """Update the best path to a gap with a row that is now far enough back."""
    left = row - pair_cost * (number + 1)
    part = slice(low + 1, low + 1 + len(row))
    better = left < gap.cost[part] + EQUAL
    gap.cost[part][better] = left[better]
    gap.row[part][better] = number


class _Searched(NamedTuple):
    """The result of the search: predecessors, origins of silences, windows and costs."""

    came: NDArray[np.int8]
    origin: NDArray[np.int32]
    low: Ints
    cost: Floats
    skip: float
    places: list[Ints]


def _trace_back(search: _Searched, end: int, *, shape: tuple[int, int], penalty: float) -> Pairs:
    """Follow the predecessors from the last pair to the first."""
    came, low = search.came, search.low
    i, k = divmod(end, came.shape[1])
    expected, observed = [i], [int(low[i]) + k]
    while (which := int(came[i, k])) != FIRST:
        j = observed[-1]
        if which == GAP:
            i, j = int(search.origin[i, k]), j - 1
        elif which == RUN:
            i -= 1
            first = int(low[i])
            ways = search.cost[i, : j - MOST_EXTRA - 1 - first] - search.skip * np.arange(j - MOST_EXTRA - 1 - first)
            j = first + int(np.flatnonzero(ways <= ways.min() + EQUAL)[-1])
        else:
            back, over = search.places[i % len(search.places)][:, which].tolist()
            i, j = i - back, j - over
        expected.append(i)
        observed.append(j)
        k = j - int(low[i])
    missed, extra = np.setdiff1d(np.arange(shape[0]), expected), np.setdiff1d(np.arange(shape[1]), observed)
    return Pairs(expected[::-1], observed[::-1], missed, extra, penalty)  # type: ignore[arg-type]
