"""Readings resampled onto an axis of cycles (order tracking), and filters with corners in cycles.

A filter that keeps the first harmonic, or removes drift, has no fixed corner in hertz when the tempo doubles. Readings
are therefore resampled by the local period, filtered there, and the results are mapped back to seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Resampled
    from tempo_coach.observe.trace.rhythm import Rhythm
    from tempo_coach.times import Floats

#: Readings a cycle on the axis of cycles, at least: a crossing by straight lines is then exact to 0.01 ms.
_LEAST = 48
#: Longest gap in cycles that is filled from its neighbours; a person counts across it as well.
BRIDGED = 1.4
#: Padding before filtering, in cycles at either end.
_CONTINUED = 3


Complexes = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]
Readings = TypeVar("Readings", "Floats", Complexes)


@dataclass(frozen=True, eq=False)
class Unrolled:
    """Readings at equal steps of the cycle.

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
        """Return the seconds at fractional indices."""
        return np.asarray(np.interp(place, np.arange(self.time.size), self.time))


def unroll(resampled: Resampled, rhythm: Rhythm) -> Unrolled:
    """Resample onto an axis of cycles, and fill gaps from the neighbouring cycles.

    Parameters
    ----------
    resampled : Resampled
        At least four readings.
    rhythm : Rhythm
        Of the same readings.
    """
    from scipy.interpolate import CubicSpline

    local = np.interp(resampled.time, rhythm.time, rhythm.local)
    cycles = np.concatenate([[0.0], np.cumsum((resampled.step / local)[1:])])
    per_cycle = max(_LEAST, int(np.ceil(local.max() / resampled.step)))
    places = np.arange(0, cycles[-1], 1 / per_cycle)
    time = np.interp(places, cycles, resampled.time)
    values = np.asarray(CubicSpline(resampled.time, resampled.values)(time))
    known = np.interp(time, resampled.time, resampled.known.astype(float)) > 1 - 1e-9
    if not known.all():
        _fill(values, known, per_cycle)
    return Unrolled(per_cycle, time, values, known)


def low_pass(values: Readings, per_cycle: int, corner: float, *, order: int = 2) -> Readings:
    """Low-pass filter without delay (Butterworth, forward and backward).

    Parameters
    ----------
    values : numpy.ndarray, shape (n,) or (n, d)
        Real or complex.
    per_cycle : int
        Readings a cycle.
    corner : float
        In cycles a cycle: 1 is the first harmonic.
    order : int
        Of each pass.
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


def band_pass(values: Readings, per_cycle: int, lowest: float, highest: float, *, order: int = 2) -> Readings:
    """Band-pass filter without delay, corners in cycles a cycle."""
    kept = low_pass(values, per_cycle, highest, order=order)
    return kept - low_pass(kept, per_cycle, lowest)


def _fill(values: Floats, known: np.ndarray[tuple[int], np.dtype[np.bool_]], per_cycle: int) -> None:
    """Fill each gap with the mean of its neighbouring cycles, tilted to fit at both ends."""
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
