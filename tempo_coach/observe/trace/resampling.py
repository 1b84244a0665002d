"""Readings resampled: to even steps of time from uneven stamps and across gaps, and to even steps of the cycle.

A filter that keeps the first harmonic, or removes drift, has no fixed corner in hertz when the tempo doubles. Readings
are therefore resampled by the local period too (order tracking), filtered there, and the results are mapped back to
seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.filters import average, interpolate
from tempo_coach.observe.trace.trace import GAP_STEPS

if TYPE_CHECKING:
    from tempo_coach.observe.trace.rhythm import Rhythm
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.times import Floats


#: Longest trace in seconds: half a training. A longer one is rather a forgotten sensor.
LONGEST = 3600.0
#: Most steps: an hour at 1000 readings a second.
_MOST_STEPS = 3_600_000
#: Readings a cycle on the axis of cycles, at least: a crossing by straight lines is then exact to 0.01 ms.
_LEAST = 48
#: ... and at the most some twice as many: of more, neighbours are averaged.
_ENOUGH = 60
#: Longest gap in cycles that is filled from its neighbours; a person counts across it as well.
BRIDGED = 1.4


@dataclass(frozen=True, eq=False)
class Resampled:
    """Readings at even steps, interpolated across gaps.

    Parameters
    ----------
    start, step : float
        Seconds of the first reading and between two.
    values : numpy.ndarray, shape (n, d)
    known : numpy.ndarray of bool, shape (n,)
        False inside a gap.
    """

    start: float
    step: float
    values: Floats
    known: np.ndarray[tuple[int], np.dtype[np.bool_]]

    @property
    def time(self) -> Floats:
        """Seconds of every reading."""
        return np.asarray(self.start + self.step * np.arange(len(self.values)))


def resample(trace: Trace) -> Resampled:
    """Resample to even steps of the median step.

    Readings are interpolated by cubic splines; those closer than a fifth of a step are averaged first, because a spline
    would overshoot between them. Gaps are interpolated by a shape-preserving cubic (PCHIP).

    Parameters
    ----------
    trace : Trace
        A reading with NaN in any column is left out.

    Raises
    ------
    CoachError
        If fewer than four readings are complete, or they go on for too long.
    """
    keep = ~np.isnan(trace.values).any(axis=1)
    if keep.sum() < 4:
        raise CoachError("trace.few_readings", found=keep.sum())
    time, values = trace.time[keep], trace.values[keep]
    step = float(np.median(np.diff(trace.time)))
    time, values = _merge(time, values, step / 5)
    if trace.duration > LONGEST or trace.duration > _MOST_STEPS * step:
        raise CoachError(
            "trace.too_long",
            minutes=trace.duration / 60,
            rate_hz=1 / step,
            most_minutes=min(LONGEST, _MOST_STEPS * step) / 60,
        )
    stamps = np.arange(time[0], time[-1] + step / 2, step)
    even = np.diff(time)
    if np.ptp(even) < 1e-6 * step:
        return Resampled(
            float(time[0]), step, values[: stamps.size], np.ones(min(stamps.size, len(values)), dtype=bool)
        )
    filled = interpolate(time, values, stamps)
    after = np.clip(np.searchsorted(time, stamps, side="right"), 1, time.size - 1)
    known = even[after - 1] <= GAP_STEPS * step
    if not known.all():
        from scipy.interpolate import PchipInterpolator

        filled[~known] = PchipInterpolator(time, values)(stamps[~known])
    return Resampled(float(time[0]), step, filled, known)


def _merge(time: Floats, values: Floats, least: float) -> tuple[Floats, Floats]:
    close = np.diff(time) < least
    if not close.any():
        return time, values
    group = np.concatenate([[0], np.cumsum(~close)])
    size = np.bincount(group).astype(float)
    merged = [np.bincount(group, weights=values[:, i]) / size for i in range(values.shape[1])]
    return np.bincount(group, weights=time) / size, np.column_stack(merged)


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
        """Return the seconds at fractional indices, extrapolated with the first and last step."""
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
        known = average(~known, many) == 0
    if not known.all():
        _fill(values, known, per_cycle)
    return Unrolled(per_cycle, time, values, known)


def _fill(values: Floats, known: np.ndarray[tuple[int], np.dtype[np.bool_]], per_cycle: int) -> None:
    """Fill each gap with the mean of the neighbouring cycles, tilted to meet both ends."""
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
