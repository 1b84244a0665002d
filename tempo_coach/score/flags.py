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
    from tempo_coach.times import Floats

#: Moments on either side that a moment is compared with.
NEIGHBOURS = 3
#: Fewer cycles than this cannot show what is usual in a take.
LEAST_CYCLES = 4
#: SD of a normal distribution over its median absolute deviation.
MAD_TO_SD = 1.4826
#: Smallest scatter of a take, a share of the interval: one without any would flag the least noise.
LEAST_SCATTER = 0.002

#: Seconds under which a displaced moment cannot be heard, however short the interval (Friberg & Sundberg 1995,
#: abstract).
LEAST_HEARD = 0.006

_TABLE = Path(__file__).with_name("flag_thresholds.csv")


@dataclass(frozen=True)
class Thresholds:
    """How many robust SDs out is out.

    Parameters
    ----------
    period : float
        For the period of a cycle.
    moment : float
        For one moment of it.
    """

    period: float
    moment: float


class Broken(NamedTuple):
    """One thing that stands out: of a row (cycle), in a column (moment) or, with None, of the cycle as a whole."""

    row: int
    column: int | None
    kind: Literal["long", "short", "early", "late"]
    by: float


def find_broken(observed: Floats, asked: Floats, ratios: Floats, *, allowance: float) -> list[Broken]:
    """Return what stands out of one hand's take.

    Parameters
    ----------
    observed, asked : array, shape (c, k)
        Seconds, a row for each cycle; NaN where nothing was observed.
    ratios : array, shape (c,)
        Period of each cycle over the asked one; NaN where there is none.
    allowance : float
        Share of the interval that is in time all the same.

    Notes
    -----
    Both are taken against what is usual in this take (the median for each label, the median period), so that a
    constant delay or another tempo is not held against single cycles. A period that is long or short only because one
    of its anchors came early or late is not broken: the moment is.
    """
    cycles, width = observed.shape
    if cycles < LEAST_CYCLES:
        return []
    thresholds = look_up_thresholds(cycles, width)
    asynchronies = observed - asked
    out, scatter = standing_out((asynchronies - _median(asynchronies)).ravel())
    out = out.reshape(cycles, width)
    interval = _usual_step(asked)
    limit = thresholds.moment * max(scatter, LEAST_SCATTER * interval)
    limit = max(limit, allowance * interval, LEAST_HEARD)
    displaced = np.abs(np.nan_to_num(out)) > limit
    found = [
        Broken(int(row), int(column), "late" if out[row, column] > 0 else "early", float(out[row, column]))
        for row, column in np.argwhere(displaced)
    ]
    length = np.full(cycles, np.nan)
    length[:-1] = np.diff(asked[:, 0])
    off = ratios - _median(ratios[:, None])[0]
    scatter = robust_sd(off)
    limit = max(thresholds.period * max(scatter, LEAST_SCATTER), allowance)
    anchors = np.where(displaced[:, 0], np.nan_to_num(out[:, 0]), 0.0)
    explained = np.concatenate([np.diff(anchors), [0.0]]) / length
    broken = (np.abs(np.nan_to_num(off)) > limit) & (np.abs(np.nan_to_num(off - explained)) > limit)
    found += [
        Broken(row, None, "long" if off[row] > 0 else "short", float(off[row] * length[row]))
        for row in np.flatnonzero(broken).tolist()
    ]
    return found


def robust_sd(values: Floats) -> float:
    """Return the SD as the median absolute deviation tells it, so that what stands out does not hide itself.

    NaN is left out; NaN comes back where nothing is left.
    """
    known = values[~np.isnan(values)]
    if not known.size:
        return math.nan
    return float(MAD_TO_SD * np.median(np.abs(known - np.median(known))))


def standing_out(asynchronies: Floats) -> tuple[Floats, float]:
    """Return by how much each moment differs from both sides, and the scatter of moments.

    Parameters
    ----------
    asynchronies : numpy.ndarray, shape (n,)
        Of one hand in order of time, what is usual for each label taken out; NaN where a moment is missed. At either
        end of a take only one side is there, and what cannot be told from a change of pace is not held against it.

    Returns
    -------
    out : numpy.ndarray, shape (n,)
        The smaller of the differences to the mean of the three before and of the three behind, where both have one
        sign; else 0. NaN where the moment is missed or has no neighbours on a side.
    scatter : float
        Robust SD of the difference to all neighbours.
    """
    left, right = _side_means(asynchronies), _side_means(asynchronies[::-1])[::-1]
    to_left, to_right = asynchronies - left, asynchronies - right
    smaller = np.where(np.abs(to_left) < np.abs(to_right), to_left, to_right)
    out = np.where(to_left * to_right > 0, smaller, 0.0)
    out[np.isnan(to_left) | np.isnan(to_right)] = np.nan
    return out, robust_sd(asynchronies - (left + right) / 2)


def look_up_thresholds(cycles: int, moments: int) -> Thresholds:
    """Return the thresholds for a take of that many cycles with that many moments each.

    Between the simulated sizes the stricter neighbour is taken.
    """
    sizes, numbers, table = _read_table()
    size = max((n for n in sizes if n <= cycles), default=sizes[0])
    number = min((m for m in numbers if m >= moments), default=numbers[-1])
    return table[size, number]


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
def _read_table() -> tuple[list[int], list[int], dict[tuple[int, int], Thresholds]]:
    with _TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    table = {
        (int(row["cycles"]), int(row["moments"])): Thresholds(float(row["period"]), float(row["moment"]))
        for row in rows
    }
    return sorted({n for n, _ in table}), sorted({m for _, m in table}), table
