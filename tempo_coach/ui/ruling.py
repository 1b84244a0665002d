"""Where the counts of a row stand on a count sheet: columns as wide as the counts last, pauses folded."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.times import Floats, column
from tempo_coach.ui.eights import row_bounds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.music.countmap import CountMap
    from tempo_coach.ui.eights import Row

#: Columns of a pause, however long it is: it is folded, and its length is written into it.
PAUSE_COLUMNS = 8
#: Eights that last longer than this many usual ones are squeezed instead of making all others narrow.
LONGEST = 1.4


@dataclass(frozen=True, eq=False)
class Ruling:
    """The columns of one row.

    Parameters
    ----------
    starts : tuple of int
        Column at which each count begins.
    end : int
        The column behind the last one.
    pauses : tuple of (column, columns, seconds)
        Where pauses are folded, how many columns they have there, and how long they are.
    knot_columns, knot_seconds : array, shape (k,)
        Both ascending: which column is which time.
    squeezed : bool
        Whether the row is drawn narrower than the others, because it is so long.
    tempo_bpm : float
        Of the row, pauses left out.
    """

    starts: tuple[int, ...]
    end: int
    pauses: tuple[tuple[int, int, float], ...]
    knot_columns: Floats
    knot_seconds: Floats
    squeezed: bool
    tempo_bpm: float

    def column_at(self, seconds: float) -> int:
        """Return the column of a time inside the row."""
        place = float(np.interp(seconds, self.knot_seconds, self.knot_columns))
        return min(int(place + 1e-9), self.end - 1)

    def count_at(self, at: int) -> int:
        """Return which count of the row, from 0, stands over a column."""
        return max(0, int(np.searchsorted(self.starts, at, side="right")) - 1)

    def edges(self) -> Floats:
        """Return the seconds of all columns' edges, shape (end + 1,)."""
        return np.asarray(np.interp(np.arange(self.end + 1), self.knot_columns, self.knot_seconds), dtype=np.float64)


def find_scale(counts: CountMap, rows: Sequence[Row], columns: int) -> float:
    """Return how many columns a second has, so that all usual rows fit.

    Parameters
    ----------
    counts : CountMap
    rows : sequence of Row
    columns : int
        That a row may have.
    """
    moving, folded = [], []
    for row in rows:
        begin, end = row_bounds(counts, row)
        inside = [(a, b) for a, b in counts.pauses if begin <= a < end]
        moving.append((end - begin - sum(b - a for a, b in inside)) * row.length / row.here)
        folded.append(len(inside) * PAUSE_COLUMNS)
    usual = float(np.median(moving))
    fitting = [(columns - fold) / time for time, fold in zip(moving, folded, strict=True) if time <= LONGEST * usual]
    return max(min(fitting), 1.0)


def rule(counts: CountMap, row: Row, *, scale: float, columns: int) -> Ruling:
    """Return the columns of a row.

    Parameters
    ----------
    counts : CountMap
    row : Row
    scale : float
        Columns a second.
    columns : int
        That it may have: a longer one is squeezed.
    """
    begin, end = row_bounds(counts, row)
    beats = counts.beats[row.beat : row.beat + row.here]
    pauses = [(a, b) for a, b in counts.pauses if begin <= a < end]
    moving = (end - begin) - sum(b - a for a, b in pauses)
    room = max(columns - len(pauses) * PAUSE_COLUMNS, row.here)
    squeezed = moving * scale > room + 0.5
    scale = min(scale, room / moving)
    seconds = np.unique(np.concatenate([beats, [end], np.ravel(pauses)]))
    place, places, folds = 0.0, [0.0], []
    for left, right in pairwise(seconds):
        pause = any(a <= left and right <= b for a, b in pauses)
        if pause:
            folds.append((round(place), PAUSE_COLUMNS, float(right - left)))
        place += PAUSE_COLUMNS if pause else float(right - left) * scale
        places.append(place)
    last = round(place)
    starts = [round(float(at)) for at in np.interp(beats, seconds, places)]
    # a count has a column, however short it is
    for k in range(1, len(starts)):
        starts[k] = max(starts[k], starts[k - 1] + 1)
    return Ruling(
        starts=tuple(starts),
        end=max(last, starts[-1] + 1),
        pauses=tuple(folds),
        knot_columns=column(places, name="columns"),
        knot_seconds=column(seconds, name="seconds"),
        squeezed=squeezed,
        tempo_bpm=60.0 * row.here / moving,
    )
