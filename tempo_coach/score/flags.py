"""Which cycle broke, and how: what stands out of a take's own scatter.

Two questions are asked of every cycle of every hand. Is its *period* long or short against what the other periods and
her lateness at its begin would have it (:mod:`tempo_coach.score.residual`)? And does one of its *moments* come early or
late against the moments on both sides of it (:mod:`tempo_coach.score.displaced`)? A single late circle differs from
what lies before and from what lies behind it; after a long cycle everything is later, and no moment is to blame.

How far out is out depends on the number of cycles and of moments, because the scatter has to be estimated from the
same take. The thresholds are the result of a simulation of good takes (``tests/benchmarks/flag_thresholds.py``), in
which fewer than 1 in 200 good cycles is flagged.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from tempo_coach.score.displaced import find_displacements, middle_of
from tempo_coach.score.residual import studentise_periods

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats

#: Fewer cycles than this cannot show what is usual in a take.
LEAST_CYCLES = 4
#: Seconds under which a displaced moment cannot be heard, however short the interval (Friberg & Sundberg 1995,
#: abstract).
LEAST_HEARD = 0.006
#: Share of what a period is off from which on a displaced anchor explains it: half way between an anchor alone (1) and
#: one that is late because of a long cycle (0.4 for two clubs and somebody who corrects a half).
EXPLAINS = 0.6

_TABLE = Path(__file__).with_name("flag_thresholds.csv")


class Table(NamedTuple):
    """One hand of a take: seconds asked and observed, shape (c, k), and the ratio of each period, shape (c,)."""

    observed: Floats
    asked: Floats
    ratios: Floats

    @property
    def levels(self) -> Floats:
        """How far each anchor is off, over the period asked there; for the last one, the one before."""
        asked = np.diff(self.asked[:, 0])
        levels: Floats = (self.observed - self.asked)[:, 0] / np.append(asked, asked[-1:] if len(asked) else 1.0)
        return levels


class Broken(NamedTuple):
    """One thing that stands out: of a hand, in a row (cycle) and column (moment; None for the cycle as a whole)."""

    hand: int
    row: int
    column: int | None
    kind: Literal["long", "short", "early", "late"]
    by: float


@dataclass(frozen=True)
class Thresholds:
    """How many SDs out is out, for the period of a cycle and for one moment of it."""

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
    of its anchors came early or late is not broken: the moment is. Nor is one that makes good what went before.
    """
    cycles = max((len(hand.observed) for hand in hands), default=0)
    if cycles < LEAST_CYCLES:
        return []
    thresholds = look_up_thresholds(cycles, sum(hand.observed.shape[1] for hand in hands), len(hands))
    off = [np.nan_to_num(hand.ratios - middle_of(hand.ratios[:, None])[0]) for hand in hands]
    out_of_line = studentise_periods([hand.ratios for hand in hands], [hand.levels for hand in hands])
    displacements = find_displacements([hand.observed for hand in hands], [hand.asked for hand in hands])
    found: list[Broken] = []
    for number, (hand, (out, scatter)) in enumerate(zip(hands, displacements, strict=True)):
        interval = _usual_step(hand.asked)
        least = max(allowance * interval, LEAST_HEARD)
        displaced = np.abs(out) > np.maximum(thresholds.moment * scatter, least)
        # short only because the long one before it was made good is as it should be
        long_or_short = (np.abs(out_of_line[number]) > thresholds.period) & (np.abs(off[number]) > allowance)
        long_or_short &= out_of_line[number] * off[number] > 0
        length = np.append(np.diff(hand.asked[:, 0]), np.nan)
        _settle(long_or_short, displaced, off[number] * length, out)
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


def _settle(long_or_short: NDArray[np.bool_], displaced: NDArray[np.bool_], by: Floats, out: Floats) -> None:
    """Leave one flag where a period and one of its anchors stand out together, in place.

    A displaced anchor makes the period before it long and the one after it short by as much: then the moment is what
    broke. After a long cycle she is late and catches up: then the cycle is, and the moments behind it only seem
    displaced.
    """
    anchors = out[:, 0]
    for row in np.flatnonzero(long_or_short).tolist():
        ends = [(k, anchors[k] * sign * by[row]) for k, sign in ((row, -1), (row + 1, 1)) if k < len(anchors)]
        to_blame = [k for k, end in ends if end >= EXPLAINS * by[row] ** 2]
        if to_blame:
            long_or_short[row] = False
            displaced[to_blame, 0] = True
        elif row + 1 < len(anchors):
            behind = out[row + 1] * np.sign(by[row])
            displaced[row + 1] &= (behind <= 0) | (behind >= EXPLAINS * abs(by[row]))


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


def _usual_step(asked: Floats) -> float:
    """Middle asked step from moment to moment, in seconds."""
    steps = np.diff(asked.ravel())
    steps = steps[steps > 0]
    return float(np.median(steps)) if len(steps) else LEAST_HEARD


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
