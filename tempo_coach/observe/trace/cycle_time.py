"""Readings resampled onto an axis of cycles (order tracking).

A filter that keeps the first harmonic, or removes drift, has no fixed corner in hertz when the tempo doubles. Readings
are therefore resampled by the local period, filtered there, and the results are mapped back to seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.filters import average, interpolate

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Resampled
    from tempo_coach.observe.trace.rhythm import Rhythm
    from tempo_coach.times import Floats

#: Readings a cycle on the axis of cycles, at least: a crossing by straight lines is then exact to 0.01 ms.
_LEAST = 48
#: ... and at the most some twice as many: of more, neighbours are averaged.
_ENOUGH = 60
#: Longest gap in cycles that is filled from its neighbours; a person counts across it as well.
BRIDGED = 1.4


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
        """Return the seconds at fractional indices; outside, the first and the last step go on."""
        last = self.time.size - 1
        before, behind = np.minimum(place, 0.0), np.maximum(place - last, 0.0)
        inside = np.interp(place, np.arange(self.time.size), self.time)
        return np.asarray(inside + before * (self.time[1] - self.time[0]) + behind * (self.time[-1] - self.time[-2]))


def unroll(resampled: Resampled, rhythm: Rhythm) -> Unrolled:
    """Resample onto an axis of cycles, and fill gaps from the neighbouring cycles.

    Parameters
    ----------
    resampled : Resampled
        At least four readings.
    rhythm : Rhythm
        Of the same readings.
    """
    local = np.interp(resampled.time, rhythm.time, rhythm.local)
    cycles = np.concatenate([[0.0], np.cumsum((resampled.step / local)[1:])])
    per_cycle = max(_LEAST, int(np.ceil(local.max() / resampled.step)))
    many = max(1, per_cycle // _ENOUGH)
    per_cycle = many * -(-per_cycle // many)
    places = np.arange(0, cycles[-1], 1 / per_cycle)
    time = np.interp(places, cycles, resampled.time)
    values = interpolate(resampled.time, resampled.values, time)
    known = np.interp(time, resampled.time, resampled.known.astype(float)) > 1 - 1e-9
    if many > 1:
        values, time, per_cycle = average(values, many), average(time, many), per_cycle // many
        known = ~average(~known, many).astype(bool)
    if not known.all():
        _fill(values, known, per_cycle)
    return Unrolled(per_cycle, time, values, known)


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
