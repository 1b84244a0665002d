"""Free fall in a column of heights: its curvature, its extent, and the instants of departure from the parabola.

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
#: Relative tolerance of the measured g, where the unit is the metre.
TOLERANCE = 0.15
#: Largest ratio of residual to noise: a piece of a circle leaves several times the noise.
_ROUGHNESS = 1.6
#: Readings at either end that are left out of it.
_ENDS = 4
#: Readings of all windows that are fitted together: few enough to stay in a processor's cache.
_AT_ONCE = 50_000
#: Seconds round the end in which the instant is looked for.
_SEARCH = 0.06


def fit_curvature(height: Floats, half: int, step: float) -> tuple[Floats, Floats]:
    """Return the second derivative of a parabola fitted to each window, and its residual SD; NaN at the ends.

    Parameters
    ----------
    height : numpy.ndarray, shape (n,)
        In the unit of the trace.
    half : int
        Readings on either side.
    step : float
        Seconds between readings.
    """
    at = np.arange(-half, half + 1) * step
    design = np.column_stack([np.ones(at.size), at, at**2 / 2])
    fit = np.linalg.pinv(design)
    windows = np.lib.stride_tricks.sliding_window_view(height, at.size)
    curvature, sd = np.full((2, height.size), np.nan)
    at_once = max(1, _AT_ONCE // at.size)
    for first in range(0, len(windows), at_once):
        some = windows[first : first + at_once]
        coefs = some @ fit.T
        residual = some - coefs @ design.T
        inside = slice(half + first, half + first + len(some))
        curvature[inside] = coefs[:, 2]
        sd[inside] = np.sqrt(np.einsum("wn,wn->w", residual, residual) / max(at.size - 3, 1))
    return curvature, sd


def find_scale(curvature: Floats, left: Floats) -> float | None:
    """Return metres per unit, from the longest stretch of constant downward curvature; None without one.

    Parameters
    ----------
    curvature, left : numpy.ndarray, shape (n,)
        As :func:`fit_curvature` gives them.
    """
    known = np.nan_to_num(curvature, nan=0.0)
    down = known < -1e-9
    if not down.any():
        return None
    best, longest = None, 0.0
    quiet = left < 3 * np.nanmedian(left) + 1e-12
    for trial in np.quantile(known[down], np.linspace(0.02, 0.98, 49)):
        constant = (np.abs(known - trial) < TOLERANCE * abs(trial)) & quiet
        runs = find_runs(constant)
        # squared lengths: one long flight counts more than two short ones
        scores = float(sum((b - a) ** 2 for a, b in runs))
        if scores > longest:
            best, longest = float(trial), scores
    return GRAVITY / -best if best is not None else None


def find_runs(flags: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """Return first and last index of every run of flags.

    Parameters
    ----------
    flags : numpy.ndarray, shape (n,)
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))).reshape(-1, 2)
    return [(int(a), int(b) - 1) for a, b in edges]


def grow(residual: Floats, at: int, way: int, limit: float) -> int:
    """Extend an interval while residuals are within the limit; two successive ones outside end it.

    Parameters
    ----------
    residual : numpy.ndarray, shape (n,)
        In the unit of the limit.
    at, way : int
        Where it begins, and 1 or -1.
    limit : float
    """
    while 0 <= at + way < residual.size:
        beyond = at + 2 * way
        if abs(residual[at + way]) > limit and (not 0 <= beyond < residual.size or abs(residual[beyond]) > limit):
            break
        at += way
    return at


def find_departure(time: Floats, away: Floats, at: int, way: int, *, powers: tuple[int, ...], seconds: float) -> float:
    """Return the instant at which the readings depart from the parabola, to a fraction of a step.

    The departure is modelled by the given powers of the time since: smooth at a release, where hand and apparatus still
    move together, with a kink at a catch. The instant is found by a grid search of least squares.

    Parameters
    ----------
    time, away : numpy.ndarray, shape (n,)
        Seconds, and the distance from the parabola.
    at, way : int
        Where it begins, and 1 or -1.
    powers : tuple of int
    seconds : float
        Of the departure that are fitted.
    """
    step = float(time[1] - time[0])
    half, search = (max(4, round(part / step)) for part in (seconds, _SEARCH))
    inner = max(6, round(0.15 / step))
    first, last = (at - half, at + inner) if way < 0 else (at - inner, at + half)
    window = slice(max(0, first), min(time.size, last + 1))
    near, residual = time[window], away[window]
    best, least = float(time[at]), math.inf
    for trial in np.linspace(time[at] - search * step, time[at] + search * step, 16 * search + 1):
        since = np.maximum(way * (near - trial), 0.0) / step
        if np.count_nonzero(since) < 3:
            continue
        design = np.column_stack([since**power for power in powers])
        fit, *_ = np.linalg.lstsq(design, residual, rcond=None)
        left = float(((residual - design @ fit) ** 2).sum())
        if left < least:
            best, least = float(trial), left
    return best


def is_too_rough(readings: Floats, away: Floats, inside: Ints) -> bool:
    """Return True where the residuals of a flight exceed the noise, estimated from third differences.

    Parameters
    ----------
    readings, away : numpy.ndarray, shape (n, d)
        All readings, and their residuals.
    inside : numpy.ndarray of int
        Indices of the readings that were seen during the flight.
    """
    if inside.size > 5 * _ENDS:
        # the first and the last may belong to the hand already
        inside = inside[_ENDS:-_ENDS]
    runs = np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1)
    third = np.concatenate([np.diff(readings[run], 3, axis=0) for run in runs])
    noise = np.std(third) / math.sqrt(20) if third.size else 0.0
    return bool(np.std(away[inside]) > _ROUGHNESS * noise + 1e-4 * np.ptp(readings[inside]))
