"""Time stamps of a table in seconds: the unit from their steps, and stamps that come in bursts spread out."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.times import Floats

#: Steps that a sensor, film or tracker can have, in seconds: 4000 to half a reading a second.
_STEPS = (0.00025, 2.0)
#: Notes that tell of a clock that was set while it read.
CLOCK_JUMPED = (Why.CLOCK_SET, Why.CLOCK_SET_MORE, Why.CLOCK_KEPT)
_NAMES = {1.0: "s", 1e-3: "ms", 1e-6: "µs", 1e-9: "ns"}
#: Share of repeated stamps above which they come in bursts: times of arrival, not of measurement.
_REPEATED = 0.02
_RUN = 51
_DAY = 86_400.0
#: A step ahead of more than an hour, or back of more than a minute, is no time in which nothing was read, but a clock
#: that was set: a device learns its date when it first meets another one.
_SET_AHEAD, _SET_BACK = 3600.0, -60.0
#: Seconds that are put in the place of such a step: no cycle goes on across them (the longest one lasts 12).
_UNKNOWN = 20.0
#: Settings of the clock that are told one by one.
_TOLD = 3
#: A clock that is set more often than this, or at one reading in ten, is none.
_MOST_SETS, _MOST_SET = 50, 0.1
#: Stamps above this (s, a third of a year) count from some other beginning than that of the record.
_FAR = 1e7


def parse_moments(cells: Sequence[str]) -> Floats | None:
    """Return date-times or times of day in seconds, or None for anything else.

    Parameters
    ----------
    cells : sequence of str
        ISO 8601, slashes and a decimal comma allowed; or hours, minutes and seconds, or minutes and seconds.

    Returns
    -------
    numpy.ndarray, shape (n,), or None
        Date-times are seconds since 1970 (UTC where no zone stands there). Times of day are seconds since the midnight
        before the first one, so that they go on through the next. NaN where a cell is empty.
    """
    out = np.empty(len(cells))
    daily = False
    for i, cell in enumerate(cells):
        text = cell.strip().strip('"')
        if not text:
            out[i] = np.nan
            continue
        try:
            if "-" in text[:8] or "/" in text[:8] or "T" in text:
                moment = datetime.fromisoformat(text.replace("/", "-").replace(",", "."))
                out[i] = (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
            elif text.count(":") in (1, 2):
                parts = [float(part) for part in text.replace(",", ".").split(":")]
                out[i] = sum(part * factor for part, factor in zip(reversed(parts), (1, 60, 3600), strict=False))
                daily = True
            else:
                return None
        except ValueError:
            return None
    if daily:
        known = ~np.isnan(out)
        out[known] = np.unwrap(out[known], period=_DAY)
    return out


def find_unit(stamps: Floats, *, where: str) -> tuple[float, str]:
    """Return the unit of stamps in seconds and its name, from the size of the steps.

    Parameters
    ----------
    stamps : numpy.ndarray, shape (n,)
        In a unit to be found, in order of the rows.

    Raises
    ------
    CoachError
        If no unit makes the steps those of a sensor or a film.
    """
    steps = np.diff(stamps[~np.isnan(stamps)])
    forward = steps[steps > 0]
    if not forward.size:
        raise CoachError("times.never_forward", where=where)
    median = float(np.median(forward))
    fitting = [unit for unit in _NAMES if _STEPS[0] <= median * unit <= _STEPS[1]]
    if not fitting:
        raise CoachError("times.no_unit", where=where, step=median)
    return fitting[0], _NAMES[fitting[0]]


def close_jumps(stamps: Floats, *, where: str) -> tuple[Floats, list[Reason]]:
    """Reduce steps at which the clock was set to gaps of a few seconds.

    The longest stretch keeps its stamps, unless they count from far away; what comes before and after is laid beside
    it in the order of the rows.

    Parameters
    ----------
    stamps : numpy.ndarray, shape (n,)
        Seconds in the order of the rows; no NaN.
    where : str
        The file, for the error.

    Returns
    -------
    stamps : numpy.ndarray, shape (n,)
    notes : list of Reason
        What was done; empty where the clock was never set.

    Raises
    ------
    CoachError
        If it was set again and again.
    """
    with np.errstate(over="ignore"):
        steps = np.diff(stamps)
    at = np.flatnonzero((steps > _SET_AHEAD) | (steps < _SET_BACK)) + 1
    if not at.size:
        return stamps, []
    if at.size > max(3, min(_MOST_SETS, _MOST_SET * stamps.size)):
        raise CoachError("times.jump", where=where, jumps=at.size)
    pieces = np.split(stamps, at)
    longest = max(range(len(pieces)), key=lambda k: pieces[k].size)
    lengths = np.array([piece[-1] - piece[0] for piece in pieces]) + _UNKNOWN
    begins = np.concatenate([[0.0], np.cumsum(lengths[:-1])])
    if abs(pieces[longest][0]) < _FAR:
        begins += pieces[longest][0] - begins[longest]
    closed = np.concatenate([begin + (piece - piece[0]) for begin, piece in zip(begins, pieces, strict=True)])
    notes = [
        Reason(Why.CLOCK_SET, (int(row), float(stamps[row - 1]), float(stamps[row]), _UNKNOWN)) for row in at[:_TOLD]
    ]
    if at.size > _TOLD:
        notes.append(Reason(Why.CLOCK_SET_MORE, (at.size - _TOLD,)))
    before = sum(piece.size for piece in pieces[:longest])
    kept = Reason(Why.CLOCK_KEPT, (before + 1, before + pieces[longest].size))
    return closed, [*notes, kept if abs(pieces[longest][0]) < _FAR else Reason(Why.TIMES_FROM_FIRST)]


def mend(stamps: Floats, *, where: str) -> tuple[Floats, np.ndarray[tuple[int], np.dtype[np.int64]], list[Reason]]:
    """Make stamps strictly ascending.

    Rows out of order are sorted. A few repeated stamps lose their later row. Where many repeat, readings came in
    bursts: they were made at even steps, so each gets its place on a line through the stamps around it (a running
    median, so that a real gap stays a gap).

    Parameters
    ----------
    stamps : numpy.ndarray, shape (n,)
        Seconds; no NaN.
    where : str
        The file, for the error.

    Returns
    -------
    time : numpy.ndarray, shape (k,)
    rows : numpy.ndarray of int, shape (k,)
        Which reading each time belongs to.
    notes : list of Reason
        What was done.

    Raises
    ------
    CoachError
        If the stamps run backwards more often than a mix-up of single rows explains.
    """
    notes = []
    back = np.diff(stamps) < 0
    if back.sum() > 0.1 * back.size:
        raise CoachError("times.backwards", where=where, steps=int(back.sum()))
    rows = np.argsort(stamps, kind="stable").astype(np.int64)
    if back.any():
        notes.append(Reason(Why.ROWS_SORTED, (int(back.sum()),)))
    time = stamps[rows]
    same = np.diff(time) <= 0
    if not same.any():
        return time, rows, notes
    if same.sum() <= max(2, _REPEATED * same.size):
        keep = np.concatenate([[True], ~same])
        notes.append(Reason(Why.ROWS_REPEATED, (int(same.sum()),)))
        return time[keep], rows[keep], notes
    number = np.arange(time.size)
    run = min(_RUN, time.size - 1)
    step = float(np.median((time[run:] - time[:-run]) / run))
    if step <= 0:
        raise CoachError("times.repeated", where=where, share_pct=100 * same.mean())
    from scipy.ndimage import median_filter

    late = time - step * number
    level = median_filter(late, size=min(_RUN, time.size) | 1, mode="nearest")
    even = step * number + level
    even = np.maximum.accumulate(even) + 1e-6 * step * number
    notes.append(Reason(Why.EVEN_STEPS, (float(same.mean()), step)))
    return even, rows, notes
