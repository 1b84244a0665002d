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
from bisect import bisect
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from tempo_coach.score.blame import REACH, Culprit, find_culprit, lateness_of_longer
from tempo_coach.score.displaced import NEIGHBOURS, find_displacements, middle_of, usual_offsets
from tempo_coach.score.residual import studentise_periods

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.times import Floats, Ints

#: Fewer cycles than this cannot show what is usual in a take.
LEAST_CYCLES = 4
#: Seconds under which a displaced moment cannot be heard, however short the interval (Friberg & Sundberg 1995,
#: abstract).
LEAST_HEARD = 0.006
#: Rounds of looking for what made periods long or short, and the periods that two told in one round are apart.
ROUNDS, APART = 8, 4.0
#: Share of the lateness of a long cycle that its shape may be wrong by from moment to moment.
UNSURE = 0.5

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

    def less(self, observed: Floats) -> Table:
        """The same with other observed times."""
        asked = np.append(np.diff(self.asked[:, 0]), np.nan)
        moved = np.append(np.diff((observed - self.observed)[:, 0]), np.nan)
        return Table(observed, self.asked, self.ratios + np.nan_to_num(moved / asked))


class Broken(NamedTuple):
    """One thing that stands out: of a hand, in a row (cycle) and column (moment; None for the cycle as a whole)."""

    hand: int
    row: int
    column: int | None
    kind: Literal["long", "short", "early", "late"]
    by: float


class _Moments(NamedTuple):
    """All moments of a take in their order: when each was asked, how late it came, what is usual taken out, whose."""

    asked: Floats
    late: Floats
    hand: Ints

    @classmethod
    def of(cls, hands: Sequence[Table]) -> _Moments:
        late = [table.observed - table.asked for table in hands]
        values = [(table - usual).ravel() for table, usual in zip(late, usual_offsets(late), strict=True)]
        asked = np.concatenate([table.asked.ravel() for table in hands])
        hand = np.repeat(np.arange(len(hands)), [table.size for table in late])
        order = np.argsort(asked)
        return cls(asked[order], np.concatenate(values)[order], hand[order])

    def find_culprit(self, hand: int, begin: float, end: float) -> Culprit:
        """What made the period of a hand between these asked anchors stand out, told from what lies round about."""
        length = end - begin
        near = slice(*np.searchsorted(self.asked, [begin - REACH * length, end + REACH * length]))
        asked, mine = self.asked[near], self.hand[near] == hand
        ends = [mine & (asked == at) for at in (begin, end)]
        return find_culprit((asked - end) / length, self.late[near] / length, ends)


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
    found, rest, unsure = _explain_periods(hands, thresholds.period, allowance)
    least = [max(allowance * _usual_step(hand.asked), LEAST_HEARD) for hand in hands]
    displacements = find_displacements(rest, [h.asked for h in hands], beyond=thresholds.moment, least=min(least))
    for number, (out, scatter) in enumerate(displacements):
        displaced = np.abs(out) > np.maximum(np.maximum(thresholds.moment * scatter, least[number]), unsure[number])
        found += [
            Broken(number, row, column, "late" if out[row, column] > 0 else "early", float(out[row, column]))
            for row, column in np.argwhere(displaced).tolist()
        ]
    return sorted(found, key=lambda broken: (broken.hand, broken.row, broken.column is None, broken.column))


def _explain_periods(
    hands: Sequence[Table], beyond: float, allowance: float
) -> tuple[list[Broken], list[Floats], list[Floats]]:
    """Return what made periods long or short, what was observed less its doing, and how unsure that leaves each moment.

    The worst comes first, and what it did is taken out before the next is looked for: one long cycle makes the other
    hand's long too, and the one behind it short.
    """
    found: dict[tuple[int, int, int | None], Broken] = {}
    rest = [hand.observed.copy() for hand in hands]
    later = [np.zeros(hand.observed.shape) for hand in hands]
    for _ in range(ROUNDS):
        now = [hand.less(mine) for hand, mine in zip(hands, rest, strict=True)]
        off = [np.nan_to_num(table.ratios - middle_of(table.ratios[:, None])) for table in now]
        out = studentise_periods([table.ratios for table in now], [table.levels for table in now])
        # short only because the long one before it was made good is as it should be
        worse = [
            np.abs(sds) * ((np.abs(sds) > beyond) & (np.abs(mine) > allowance) & (np.sign(sds) == np.sign(mine)))
            for sds, mine in zip(out, off, strict=True)
        ]
        around = _Moments.of(now)
        told: list[float] = []
        for size, number, row in sorted(
            ((-row_size, k, row) for k, sizes in enumerate(worse) for row, row_size in enumerate(sizes.tolist())),
        ):
            if not size:
                break
            begin, end = hands[number].asked[row : row + 2, 0].tolist()
            place = bisect(told, begin)
            if any(abs(begin - other) < APART * (end - begin) for other in told[max(place - 1, 0) : place + 1]):
                continue
            told.insert(place, begin)
            culprit = around.find_culprit(number, begin, end)
            by = culprit.by * (end - begin)
            if culprit.anchor is None:
                for k, hand in enumerate(hands):
                    did = by * lateness_of_longer((hand.asked - end) / (end - begin), culprit.kept)
                    rest[k] -= did
                    later[k] += did
                by = float(off[number][row] * (end - begin))
                broken = Broken(number, row, None, "long" if by > 0 else "short", by)
            else:
                rest[number][row + culprit.anchor, 0] -= by
                broken = Broken(number, row + culprit.anchor, 0, "late" if by > 0 else "early", by)
            found.setdefault(broken[:3], broken)
        if not told:
            break
    return list(found.values()), rest, [UNSURE * _change_around(table) for table in later]


def _change_around(table: Floats) -> Floats:
    """Range of each value and its neighbours."""
    padded = np.pad(table.ravel(), NEIGHBOURS, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * NEIGHBOURS + 1)
    change: Floats = (around.max(axis=1) - around.min(axis=1)).reshape(table.shape)
    return change


def look_up_thresholds(cycles: int, moments: int, hands: int) -> Thresholds:
    """Return the thresholds for a take of that many cycles, with that many moments each by so many hands.

    Between the simulated sizes the stricter of the neighbours counts.
    """
    table = _read_table()
    around = [
        table[size, number, both]
        for both in _find_neighbours(hands, {h for _, _, h in table})
        for size in _find_neighbours(cycles, {n for n, _, _ in table})
        for number in _find_neighbours(moments, {m for n, m, h in table if (n, h) == (size, both)})
    ]
    return Thresholds(max(each.period for each in around), max(each.moment for each in around))


def _find_neighbours(value: int, simulated: set[int]) -> set[int]:
    """The sizes next to a value, on either side; beyond the ends, and where it was simulated, one."""
    below = max((size for size in simulated if size <= value), default=min(simulated))
    above = min((size for size in simulated if size >= value), default=max(simulated))
    return {below, above}


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
