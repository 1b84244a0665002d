"""Which cycle broke, and how: what stands out of a take's own scatter.

Two questions are asked of every cycle of every hand. Is its *period* long or short against the take's own median? And
does one of its *moments* come early or late against the moments on both sides of it? A single late circle differs from
what lies before and from what lies behind it; after a long cycle everything is later, and no moment is to blame.

How far out is out depends on the number of cycles and of moments, because the scatter has to be estimated from the
same take. The thresholds are the result of a simulation of good takes (``tests/benchmarks/flag_thresholds.py``), in
which fewer than 1 in 200 good cycles is flagged.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats

#: Moments on either side that a moment is compared with.
NEIGHBOURS = 2
#: Fewer cycles than this cannot show what is usual in a take.
LEAST_CYCLES = 4
#: Share of the values, the smaller ones, that tell the scatter: what stands out must not hide itself.
KEPT = 0.75
#: SD of a normal distribution over the root mean square of that share of it, the smaller values.
KEPT_TO_SD = 1.6483
#: Smallest scatter of a take, a share of the interval: one without any would flag the least noise.
LEAST_SCATTER = 0.002
#: Seconds under which a displaced moment cannot be heard, however short the interval (Friberg & Sundberg 1995,
#: abstract).
LEAST_HEARD = 0.006
#: Cycles that the scatter of all moments counts for beside the scatter of one of them.
SHARED = 12
#: Share of what a period is off from which on a displaced anchor explains it.
EXPLAINS = 0.6
#: Hands whose moments come closer together than this share of the usual step are looked at one by one: what both do
#: at once would otherwise be each other's neighbour.
CLOSE = 0.4

_TABLE = Path(__file__).with_name("flag_thresholds.csv")


class Table(NamedTuple):
    """One hand of a take: seconds asked and observed, shape (c, k), and the ratio of each period, shape (c,)."""

    observed: Floats
    asked: Floats
    ratios: Floats


class Broken(NamedTuple):
    """One thing that stands out: of a hand, in a row (cycle) and column (moment; None for the cycle as a whole)."""

    hand: int
    row: int
    column: int | None
    kind: Literal["long", "short", "early", "late"]
    by: float


@dataclass(frozen=True)
class Thresholds:
    """How many robust SDs out is out, for the period of a cycle and for one moment of it."""

    period: float
    moment: float


def find_broken(hands: Sequence[Table], *, allowance: float) -> list[Broken]:
    """Return what stands out of a take.

    Parameters
    ----------
    hands : sequence of Table
        NaN where nothing was observed.
    allowance : float
        Share of the interval that is in time all the same.

    Notes
    -----
    Both are taken against what is usual in this take (the median for each label, the median period), so that a
    constant delay or another tempo is not held against single cycles. A period that is long or short only because one
    of its anchors came early or late is not broken: the moment is.
    """
    cycles = max((len(hand.observed) for hand in hands), default=0)
    if cycles < LEAST_CYCLES:
        return []
    thresholds = look_up_thresholds(cycles, sum(hand.observed.shape[1] for hand in hands), len(hands))
    off = [hand.ratios - _median(hand.ratios[:, None])[0] for hand in hands]
    period_limits = np.maximum(thresholds.period * np.maximum(share_scatter(off), LEAST_SCATTER), allowance)
    found: list[Broken] = []
    for number, (hand, (out, scatter)) in enumerate(zip(hands, _displacements(hands), strict=True)):
        interval = _usual_step(hand.asked)
        least = max(LEAST_SCATTER * thresholds.moment, allowance) * interval
        displaced = np.abs(out) > np.maximum(thresholds.moment * scatter, max(least, LEAST_HEARD))
        long_or_short = np.abs(np.nan_to_num(off[number])) > period_limits[number]
        length = np.append(np.diff(hand.asked[:, 0]), np.nan)
        _settle(long_or_short, displaced, off[number] * length, out[:, 0])
        found += [
            Broken(number, row, column, "late" if out[row, column] > 0 else "early", float(out[row, column]))
            for row, column in np.argwhere(displaced).tolist()
        ]
        found += [
            Broken(
                number, row, None, "long" if off[number][row] > 0 else "short", float(off[number][row] * length[row])
            )
            for row in np.flatnonzero(long_or_short).tolist()
        ]
    return found


def _settle(long_or_short: NDArray[np.bool_], displaced: NDArray[np.bool_], by: Floats, anchors: Floats) -> None:
    """Leave one flag where a period and one of its anchors stand out together, in place.

    A displaced anchor makes the period before it long and the one after it short by as much: then the moment is what
    broke. After a long cycle she is late and catches up: then the cycle is, and its anchor only seems displaced.
    """
    for row in np.flatnonzero(long_or_short).tolist():
        ends = [anchors[k] * sign for k, sign in ((row, -1), (row + 1, 1)) if k < len(anchors) and displaced[k, 0]]
        if any(end * by[row] > 0 and abs(end) >= EXPLAINS * abs(by[row]) for end in ends):
            long_or_short[row] = False
        elif row + 1 < len(anchors) and anchors[row + 1] * by[row] > 0:
            displaced[row + 1, 0] = False


def robust_sd(values: Floats) -> float:
    """Return the SD as the smaller part of the deviations from the median tells it.

    The root mean square of the ``KEPT`` smaller deviations, scaled to a normal distribution; NaN is left out, and comes
    back where nothing is left. As robust as is needed here, it scatters less than the median absolute deviation.
    """
    known = values[~np.isnan(values)]
    if not known.size:
        return math.nan
    squares = np.sort((known - np.median(known)) ** 2)
    return float(KEPT_TO_SD * np.sqrt(squares[: max(math.ceil(KEPT * known.size), 1)].mean()))


def share_scatter(columns: Sequence[Floats]) -> Floats:
    """Return the robust SD of each column, drawn towards that of all: a column alone is short.

    Some moments scatter more than others (a fast low circle, a slow high one), and each is to be held against its own.
    """
    everything = robust_sd(np.concatenate(columns))
    if math.isnan(everything):
        return np.zeros(len(columns))
    known = np.array([int((~np.isnan(column)).sum()) for column in columns])
    own = np.nan_to_num(np.array([robust_sd(column) for column in columns]))
    shared: Floats = np.sqrt((known * own**2 + SHARED * everything**2) / (known + SHARED))
    return shared


def standing_out(asynchronies: Floats) -> tuple[Floats, Floats]:
    """Return by how much each moment differs from both sides.

    Parameters
    ----------
    asynchronies : numpy.ndarray, shape (n,)
        In order of time, what is usual for each label taken out; NaN where a moment is missed.

    Returns
    -------
    out : numpy.ndarray, shape (n,)
        The smaller of the differences to the mean of the two before and of the two behind, where both have one sign;
        else 0, as where a moment is missed. At either end of a take only one side is there, and what cannot be told
        from a change of pace is not held against it.
    rest : numpy.ndarray, shape (n,)
        The difference to all neighbours, whose scatter tells how far out is out; NaN where one side is missing.
    """
    left, right = _side_means(asynchronies), _side_means(asynchronies[::-1])[::-1]
    to_left, to_right = asynchronies - left, asynchronies - right
    smaller = np.where(np.abs(to_left) < np.abs(to_right), to_left, to_right)
    return np.where(to_left * to_right > 0, smaller, 0.0), asynchronies - (left + right) / 2


def look_up_thresholds(cycles: int, moments: int, hands: int) -> Thresholds:
    """Return the thresholds for a take of that many cycles, with that many moments each by so many hands.

    Between the simulated sizes the stricter neighbour is taken.
    """
    table = _read_table()
    size = max((n for n, _, _ in table if n <= cycles), default=min(n for n, _, _ in table))
    both = min((h for _, _, h in table if h >= hands), default=max(h for _, _, h in table))
    numbers = sorted(m for n, m, h in table if (n, h) == (size, both))
    number = next((m for m in numbers if m >= moments), numbers[-1])
    return table[size, number, both]


def _displacements(hands: Sequence[Table]) -> list[tuple[Floats, Floats]]:
    """Displacement of every moment of each hand, shape (c, k), and the scatter of each label, shape (k,)."""
    usual = [(hand.observed - hand.asked) - _median(hand.observed - hand.asked) for hand in hands]
    asked = np.concatenate([hand.asked.ravel() for hand in hands])
    steps = np.diff(np.sort(asked[~np.isnan(asked)]))
    if not (steps > 0).any() or steps.min() < CLOSE * np.median(steps[steps > 0]):
        parts = [standing_out(table.ravel()) for table in usual]
        outs, rests = [out for out, _ in parts], [rest for _, rest in parts]
    else:
        order = np.argsort(asked, kind="stable")
        both = np.empty((2, len(asked)))
        both[:, order] = standing_out(np.concatenate([table.ravel() for table in usual])[order])
        outs, rests = (np.split(row, np.cumsum([table.size for table in usual])[:-1]) for row in both)
    columns = [rest.reshape(table.shape).T for rest, table in zip(rests, usual, strict=True)]
    scatter = share_scatter([column for table in columns for column in table])
    widths = np.cumsum([table.shape[1] for table in usual])[:-1]
    return [
        (out.reshape(table.shape), own) for out, table, own in zip(outs, usual, np.split(scatter, widths), strict=True)
    ]


def _median(table: Floats) -> Floats:
    """Median of each column without its NaN; 0 for a column that has nothing else."""
    return np.array([np.median(column[~np.isnan(column)]) if (~np.isnan(column)).any() else 0.0 for column in table.T])


def _usual_step(asked: Floats) -> float:
    """Middle asked step from moment to moment, in seconds."""
    steps = np.diff(asked.ravel())
    steps = steps[steps > 0]
    return float(np.median(steps)) if len(steps) else LEAST_HEARD


def _side_means(values: Floats) -> Floats:
    """Mean of the last ``NEIGHBOURS`` known values before each one; NaN where there is none."""
    known = ~np.isnan(values)
    number = np.concatenate([[0], np.cumsum(known)])
    total = np.concatenate([[0.0], np.cumsum(values[known])])
    behind = number[:-1]
    begin = np.maximum(behind - NEIGHBOURS, 0)
    taken = behind - begin
    means: Floats = np.divide(total[behind] - total[begin], taken, out=np.full(len(values), np.nan), where=taken > 0)
    return means


@cache
def _read_table() -> dict[tuple[int, int, int], Thresholds]:
    with _TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return {
        (int(row["cycles"]), int(row["moments"]), int(row["hands"])): Thresholds(
            float(row["period"]), float(row["moment"])
        )
        for row in rows
    }
