"""Free fall in a column of heights: where it bends as it should, how far it lasts, and where it is left.

The pieces of :mod:`tempo_coach.observe.trace.flights`; everything here works on readings at even steps.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.times import Floats, Ints

#: Standard gravity in m/s² (CGPM 1901).
GRAVITY = 9.80665
#: How far g may come out beside its value and still be free fall, where the unit is the metre.
TOLERANCE = 0.15
#: A fit to a piece of a circle leaves several times the noise; one to a flight leaves the noise.
_ROUGH = 1.6
#: Readings at either end that are left out of it.
_ENDS = 4
#: Seconds round the end in which the instant is looked for.
_SEARCH = 0.06


def find_bends(height: Floats, half: int, step: float) -> tuple[Floats, Floats]:
    """Return the second derivative of the parabola through each window, and what it leaves (SD); NaN at the ends."""
    at = np.arange(-half, half + 1) * step
    design = np.column_stack([np.ones(at.size), at, at**2 / 2])
    fit = np.linalg.pinv(design)
    windows = np.lib.stride_tricks.sliding_window_view(height, at.size)
    coefs = windows @ fit.T
    rest = windows - coefs @ design.T
    pad = np.full(half, np.nan)
    sd = np.sqrt((rest**2).sum(axis=1) / max(at.size - 3, 1))
    return np.concatenate([pad, coefs[:, 2], pad]), np.concatenate([pad, sd, pad])


def find_scale(bend: Floats, left: Floats) -> float | None:
    """Metres a unit, from the bend that holds longest; None where no steady downward bend lasts."""
    known = np.nan_to_num(bend, nan=0.0)
    down = known < -1e-9
    if not down.any():
        return None
    best, longest = None, 0.0
    quiet = left < 3 * np.nanmedian(left) + 1e-12
    for trial in np.quantile(known[down], np.linspace(0.02, 0.98, 49)):
        steady = (np.abs(known - trial) < TOLERANCE * abs(trial)) & quiet
        runs = find_runs(steady)
        # A long flight is worth more than two short ones: count squared lengths.
        worth = float(sum((b - a) ** 2 for a, b in runs))
        if worth > longest:
            best, longest = float(trial), worth
    return GRAVITY / -best if best is not None else None


def find_runs(flags: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """Return first and last index of every run of flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))).reshape(-1, 2)
    return [(int(a), int(b) - 1) for a, b in edges]


def grow(rest: Floats, at: int, way: int, limit: float) -> int:
    """Step outwards while readings stay within the limit; two in a row outside end it."""
    while 0 <= at + way < rest.size:
        beyond = at + 2 * way
        if abs(rest[at + way]) > limit and (not 0 <= beyond < rest.size or abs(rest[beyond]) > limit):
            break
        at += way
    return at


def find_leaving(time: Floats, away: Floats, at: int, way: int, *, powers: tuple[int, ...], seconds: float) -> float:
    """Return the instant at which the readings leave the free path, to a fraction of a step.

    Beyond it they bend away like the given powers of the time since: smoothly at a release, where hand and apparatus
    still move together, and with a kink at a catch. Every instant near the reading that was found is tried, and the
    one with the least squares is taken.
    """
    step = float(time[1] - time[0])
    reach, search = (max(4, round(part / step)) for part in (seconds, _SEARCH))
    inner = max(6, round(0.15 / step))
    first, last = (at - reach, at + inner) if way < 0 else (at - inner, at + reach)
    window = slice(max(0, first), min(time.size, last + 1))
    near, rest = time[window], away[window]
    best, least = float(time[at]), math.inf
    for trial in np.linspace(time[at] - search * step, time[at] + search * step, 16 * search + 1):
        since = np.maximum(way * (near - trial), 0.0) / step
        if np.count_nonzero(since) < 3:
            continue
        design = np.column_stack([since**power for power in powers])
        fit, *_ = np.linalg.lstsq(design, rest, rcond=None)
        left = float(((rest - design @ fit) ** 2).sum())
        if left < least:
            best, least = float(trial), left
    return best


def is_too_rough(readings: Floats, away: Floats, inside: Ints) -> bool:
    """Return whether readings leave the free path by more than their own noise, which third differences show.

    Parameters
    ----------
    readings, away : numpy.ndarray, shape (n, d)
        All of them, and by how much each leaves the free path.
    inside : numpy.ndarray of int
        Which of them lie in the flight and were seen.
    """
    if inside.size > 5 * _ENDS:
        # the first and the last may belong to the hand already
        inside = inside[_ENDS:-_ENDS]
    runs = np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1)
    third = np.concatenate([np.diff(readings[run], 3, axis=0) for run in runs])
    noise = np.std(third) / math.sqrt(20) if third.size else 0.0
    return bool(np.std(away[inside]) > _ROUGH * noise + 1e-4 * np.ptp(readings[inside]))
