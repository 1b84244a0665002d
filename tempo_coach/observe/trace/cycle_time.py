"""Time unrolled by the period: one unit is one cycle, whatever the tempo does.

Filters that are meant for a cycle (keep its first harmonic, take out what drifts) cannot have their corner in hertz
when the tempo doubles. So readings are laid on an axis of cycles first, filtered there, and what is found is turned
back into seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.observe.trace.period import Rhythm
    from tempo_coach.observe.trace.resampling import Grid
    from tempo_coach.times import Floats

#: Readings a cycle on the axis of cycles, at least: a crossing by straight lines is then exact to 0.01 ms.
_LEAST = 48
#: Cycles without a reading across which a movement is drawn: who looks at the plot counts them as well.
BRIDGED = 1.4
#: Cycles by which a record is continued at each end before it is filtered.
_CONTINUED = 3


Complexes = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]
Readings = TypeVar("Readings", "Floats", Complexes)


@dataclass(frozen=True, eq=False)
class Unrolled:
    """Readings on even steps of the cycle.

    Parameters
    ----------
    per_cycle : int
        Readings a cycle.
    time : numpy.ndarray, shape (n,)
        Seconds of every reading, ascending.
    values : numpy.ndarray, shape (n, d)
    known : numpy.ndarray of bool, shape (n,)
    """

    per_cycle: int
    time: Floats
    values: Floats
    known: np.ndarray[tuple[int], np.dtype[np.bool_]]

    def at(self, place: Floats) -> Floats:
        """Return the seconds of places given in readings, which may be fractions."""
        return np.asarray(np.interp(place, np.arange(self.time.size), self.time))


def unroll(grid: Grid, rhythm: Rhythm) -> Unrolled:
    """Lay the readings on an axis of cycles, and fill gaps from the neighbouring cycles.

    Parameters
    ----------
    grid : Grid
        At least four readings.
    rhythm : Rhythm
        Of the same readings.
    """
    from scipy.interpolate import CubicSpline

    local = np.interp(grid.time, rhythm.time, rhythm.local)
    cycles = np.concatenate([[0.0], np.cumsum((grid.step / local)[1:])])
    per_cycle = max(_LEAST, int(np.ceil(local.max() / grid.step)))
    places = np.arange(0, cycles[-1], 1 / per_cycle)
    time = np.interp(places, cycles, grid.time)
    values = np.asarray(CubicSpline(grid.time, grid.values)(time))
    known = np.interp(time, grid.time, grid.known.astype(float)) > 1 - 1e-9
    if not known.all():
        _fill(values, known, per_cycle)
    return Unrolled(per_cycle, time, values, known)


def low(values: Readings, per_cycle: int, corner: float, *, order: int = 2) -> Readings:
    """Keep what is slower than the corner, in cycles a cycle; no delay (a Butterworth filter run both ways).

    Parameters
    ----------
    values : numpy.ndarray, shape (n,) or (n, d)
        Real or complex.
    per_cycle : int
    corner : float
    order : int
        Of each run.
    """
    from scipy.signal import butter, sosfiltfilt

    if corner >= per_cycle / 2.2:
        return values
    sos = butter(order, corner / (per_cycle / 2), output="sos")
    if len(values) < 2 * per_cycle:
        short: Readings = sosfiltfilt(sos, values, axis=0, padlen=len(values) - 1)
        return short
    # A record that starts in mid-cycle is continued by its own first cycles, drift included; any other way of
    # padding bends the middle line there and moves the first crossing by 10 ms.
    first, last = values[:per_cycle], values[-per_cycle:]
    fall = first.mean(axis=0) - values[per_cycle : 2 * per_cycle].mean(axis=0)
    rise = last.mean(axis=0) - values[-2 * per_cycle : -per_cycle].mean(axis=0)
    steps = np.arange(1, _CONTINUED + 1)
    ahead: list[Readings] = [np.asarray(first + k * fall) for k in steps[::-1]]
    after: list[Readings] = [np.asarray(last + k * rise) for k in steps]
    longer = np.concatenate([*ahead, values, *after])
    kept: Readings = sosfiltfilt(sos, longer, axis=0, padlen=per_cycle)
    return kept[_CONTINUED * per_cycle :][: len(values)]


def band(values: Readings, per_cycle: int, lowest: float, highest: float, *, order: int = 2) -> Readings:
    """Keep what lies between two corners, in cycles a cycle; no delay."""
    kept = low(values, per_cycle, highest, order=order)
    return kept - low(kept, per_cycle, lowest)


def _fill(values: Floats, known: np.ndarray[tuple[int], np.dtype[np.bool_]], per_cycle: int) -> None:
    """Put into each gap the mean of the cycles beside it, tilted so that both its ends fit."""
    n = len(values)
    edges = np.flatnonzero(np.diff(np.concatenate([[1], known.astype(np.int8), [1]])))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if first == 0 or last >= n or last - first > BRIDGED * per_cycle:
            continue
        inside = np.arange(first - 1, last + 1)
        away = per_cycle * int(np.ceil((last - first + 2) / per_cycle))
        donors = [
            values[inside + shift]
            for shift in (-away, away)
            if inside[0] + shift >= 0 and inside[-1] + shift < n and known[inside + shift].all()
        ]
        if donors:
            guess = np.mean(donors, axis=0)
            ramp = np.linspace(0, 1, inside.size)[:, None]
            off = values[inside[[0, -1]]] - guess[[0, -1]]
            values[inside] = guess + off[0] * (1 - ramp) + off[1] * ramp
