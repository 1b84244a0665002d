"""The rows of a count sheet: one for each eight, and those that lead up to the first count 1."""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.countmap import EIGHT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.music.countmap import CountMap


class Row(NamedTuple):
    """One row: the number of its eight (0 before the first one), its first beat, and how many counts it has.

    ``here`` of the ``length`` counts are beats of the music; the last eight may be cut off by its end.
    """

    number: int
    beat: int
    length: int
    here: int


def rows_of(counts: CountMap) -> list[Row]:
    """Return the rows of a sheet.

    Examples
    --------
    >>> from tempo_coach.music.countmap import CountMap
    >>> rows_of(CountMap([0, 1, 2, 3, 4], ((2, 8),)))
    [Row(number=0, beat=0, length=2, here=2), Row(number=1, beat=2, length=8, here=3)]
    """
    first, last = counts.eights[0][0], counts.beats.size
    edges = sorted({0, *range(first, 0, -EIGHT)}) if first else []
    rows = [Row(0, a, b - a, b - a) for a, b in pairwise(edges)]
    number, beat = 1, first
    while beat < last:
        length = counts.start_of_eight(number + 1) - counts.start_of_eight(number)
        rows.append(Row(number, beat, length, min(length, last - beat)))
        number, beat = number + 1, beat + length
    return rows


def row_with(rows: Sequence[Row], beat: int) -> int:
    """Return which row a beat stands in."""
    return max(0, bisect_right([row.beat for row in rows], beat) - 1)


def row_bounds(counts: CountMap, row: Row) -> tuple[float, float]:
    """Return the seconds at which a row begins, and at which the next one does."""
    begin = float(counts.beats[row.beat])
    behind = row.beat + row.here
    if behind < counts.beats.size:
        return begin, float(counts.beats[behind])
    position = counts.last_count + 1
    return begin, float(counts.seconds_at(position))


def beat_near(counts: CountMap, seconds: float) -> int:
    """Return the beat nearest to a time."""
    return int(np.abs(counts.beats - seconds).argmin())
