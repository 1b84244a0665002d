"""Cycles of a trace: their starts, and the bouts between pauses of the movement.

A cycle is timed at the upward crossing of the mean, never at the maximum: noise of 2 % moves a maximum by 14 ms, and
the crossing, where the slope is largest, by 2 ms.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.cycle_time import BRIDGED, Unrolled, band_pass, low_pass, unroll
from tempo_coach.observe.trace.resampling import resample
from tempo_coach.observe.trace.rhythm import ORDER, find_rhythm
from tempo_coach.times import Floats, Ints, ascending, column, whole

if TYPE_CHECKING:
    from tempo_coach.observe.trace.rhythm import Rhythm
    from tempo_coach.observe.trace.trace import Trace

#: Least amplitude of the first harmonic during movement, relative to its 80th percentile.
MOVING = 0.25
#: Shortest pause between bouts, in cycles: a single beat of waiting is a long cycle.
_CLOSED = 1.15

#: Least variance of the vertical column, relative to that of the main axis, for it to be preferred.
_ENOUGH = 0.3
#: Longest knock, in cycles; a running median of twice this width removes it.
_KNOCK = 0.08
#: The band of the first harmonic, in cycles a cycle: steep enough that a second one four times as large stays out.
_FIRST = (0.5, 1.5)
#: Harmonics kept by the light filter.
_LIGHT = 6.0
#: Least share of the variance in the first harmonic for crossings of the mean to be stable (the filter itself passes
#: two thirds of a pure sine).
_SINE_LIKE = 0.5


@dataclass(frozen=True, eq=False)
class Cycles:
    """The cycles of one tracked body.

    Parameters
    ----------
    time : array_like, shape (n,)
        Seconds at which a cycle starts (or the last one ends), ascending.
    bout : array_like of int, shape (n,)
        Number of the bout that each belongs to, from 0; between two bouts the movement paused.
    rhythm : Rhythm
        The period of the whole, its confidence and its course.
    timed_by : {"crossing", "harmonic"}
        Signal of the crossings: the lightly filtered readings, or their first harmonic where these cross the mean more
        than once a cycle.
    direction : array_like, shape (d,)
        Unit vector onto which the columns are projected.
    amplitude : array_like, shape (n,)
        Envelope of the first harmonic there, in the trace's unit.
    span : array_like, shape (b, 2)
        Start and end of each bout in seconds, half cycles included.
    """

    time: Floats
    bout: Ints
    rhythm: Rhythm
    timed_by: Literal["crossing", "harmonic"]
    direction: Floats
    amplitude: Floats
    span: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "time", ascending(self.time, name="time"))
        object.__setattr__(self, "bout", whole(self.bout, name="bout"))
        object.__setattr__(self, "direction", column(self.direction, name="direction"))
        object.__setattr__(self, "amplitude", column(self.amplitude, name="amplitude"))
        span = np.array(self.span, dtype=np.float64).reshape(-1, 2)
        span.flags.writeable = False
        object.__setattr__(self, "span", span)
        if not self.time.size == self.bout.size == self.amplitude.size:
            raise ValueError("Cycles: expected a bout and an amplitude for every time")

    @property
    def within(self) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """For each of the n - 1 steps whether both its ends lie in one bout, so that it is a cycle."""
        return np.asarray(np.diff(self.bout) == 0)

    @property
    def periods(self) -> Floats:
        """Seconds of each whole cycle, shape (k,)."""
        return np.asarray(np.diff(self.time)[self.within])

    @property
    def starts(self) -> Floats:
        """Seconds at which each whole cycle starts, shape (k,)."""
        return np.asarray(self.time[:-1][self.within])

    @property
    def ends(self) -> Floats:
        """Seconds at which each whole cycle ends, shape (k,)."""
        return np.asarray(self.time[1:][self.within])


def find_cycles(trace: Trace, *, period: float | None = None, circles: int | None = None) -> Cycles:
    """Find every cycle of one tracked body.

    Parameters
    ----------
    trace : Trace
        Of one body, as :func:`tempo_coach.observe.trace.selection.pick` gives it.
    period : float or None
        Known period in seconds; only periods within 30 % of it are searched.

    Returns
    -------
    Cycles

    Raises
    ------
    CoachError
        If the readings are too slow or too few, do not repeat, or hold less than two cycles.
    """
    resampled = resample(trace)
    rhythm = find_rhythm(resampled, period=period, order=ORDER[trace.quantity], circles=circles)
    return time_cycles(unroll(resampled, rhythm), rhythm, trace)


def time_cycles(unrolled: Unrolled, rhythm: Rhythm, trace: Trace) -> Cycles:
    """Time the cycles of readings that are already unrolled (see :func:`find_cycles`)."""
    quiet = _calm(unrolled) if trace.quantity != "position" else unrolled.values
    harmonic = band_pass(quiet, unrolled.per_cycle, *_FIRST, order=4)
    moving = find_moving(harmonic, unrolled.per_cycle) & ~_lost(unrolled)
    direction = _look_along(harmonic[moving] if moving.any() else harmonic, trace)
    coarse, bout, edges = _crossings(harmonic @ direction, moving, unrolled.per_cycle)
    if coarse.size < 2:
        raise CoachError(
            f"expected at least two cycles of about {rhythm.period:.3g} s, found {max(coarse.size - 1, 0)}",
            hint="choose a longer stretch, or the columns that show the movement best",
        )
    fine = _refine(unrolled, direction, coarse, bout)
    places = coarse if fine is None else fine
    envelope = np.sqrt(2) * np.linalg.norm(harmonic, axis=1)
    amplitude = low_pass(envelope, unrolled.per_cycle, 0.7)[np.clip(np.rint(places).astype(int), 0, len(harmonic) - 1)]
    return Cycles(
        unrolled.at(places),
        bout,
        rhythm,
        "harmonic" if fine is None else "crossing",
        direction,
        np.maximum(amplitude, 0),
        unrolled.at(edges),
    )


def find_moving(harmonic: Floats, per_cycle: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Flag the readings during movement: the first harmonic is large for at least a cycle.

    Parameters
    ----------
    harmonic : numpy.ndarray, shape (n, d)
        The readings' first harmonic.
    per_cycle : int

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
    """
    from scipy.ndimage import binary_closing, binary_opening, uniform_filter1d

    power = uniform_filter1d((harmonic**2).sum(axis=1), per_cycle, mode="nearest")
    size = np.sqrt(np.maximum(power, 0))  # a running sum of nothing may end below it
    loud = size > 0.1 * size.max()
    median_shift = np.quantile(size[loud], 0.8)
    gap = np.ones(max(3, int(_CLOSED * per_cycle)), dtype=bool)
    moving = binary_closing(np.pad(size > MOVING * median_shift, gap.size), gap)[gap.size : -gap.size]
    return np.asarray(binary_opening(moving, np.ones(per_cycle, dtype=bool)))


def _lost(unrolled: Unrolled) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Flag the gaps that are too long to be bridged: readings interpolated there are no movement."""
    edges = np.flatnonzero(np.diff(np.concatenate([[1], unrolled.known.astype(np.int8), [1]]))).reshape(-1, 2)
    lost = np.zeros(unrolled.known.size, dtype=bool)
    for first, last in edges[edges[:, 1] - edges[:, 0] > BRIDGED * unrolled.per_cycle]:
        lost[first:last] = True
    return lost


def _calm(unrolled: Unrolled) -> Floats:
    from scipy.ndimage import median_filter

    width = 2 * int(_KNOCK * unrolled.per_cycle) + 1
    return np.asarray(median_filter(unrolled.values, size=(width, 1), mode="nearest"))


def _look_along(harmonic: Floats, trace: Trace) -> Floats:
    """Choose the direction of projection: upwards if the movement has enough variance there, else its main axis.

    Upwards is preferred so that two bodies are timed at the same phase of their circles.
    """
    cov = harmonic.T @ harmonic
    values, vectors = np.linalg.eigh(cov)
    if trace.quantity == "position":
        for name in ("z", "y") if "z" in trace.axes else ("y",):
            if name in trace.axes:
                at = trace.axes.index(name)
                if cov[at, at] >= _ENOUGH * values[-1]:
                    return np.asarray(np.eye(len(cov))[at])
    main = vectors[:, -1]
    return np.asarray(main * np.sign(main[np.argmax(np.abs(main))]))


def _crossings(
    signal: Floats, moving: np.ndarray[tuple[int], np.dtype[np.bool_]], per_cycle: int
) -> tuple[Floats, Ints, Floats]:
    """Return places of upward crossings while moving, the bout of each, and where each bout starts and ends."""
    up = np.flatnonzero((signal[:-1] < 0) & (signal[1:] >= 0))
    places = up + signal[up] / (signal[up] - signal[up + 1])
    piece = np.cumsum(np.diff(np.concatenate([[0], moving.astype(np.int8)])) == 1)
    kept = moving[up]
    places, bout = places[kept], piece[up][kept]
    # A crossing that comes much too soon after another is a wobble of a start or stop, not a cycle.
    good = np.ones(places.size, dtype=bool)
    last = -np.inf
    for i, place in enumerate(places):
        if place - last < 0.4 * per_cycle:
            good[i] = False
        else:
            last = place
    places, bout = places[good], bout[good]
    counts = np.bincount(bout) if bout.size else np.zeros(1, dtype=np.int64)
    enough = counts[bout] >= 2
    pieces, numbers = np.unique(bout[enough], return_inverse=True)
    ends = np.flatnonzero(np.diff(np.concatenate([[0], moving.astype(np.int8), [0]]))).reshape(-1, 2)
    edges = ends[pieces - 1] - [0, 1]
    return places[enough], numbers.astype(np.int64), edges.astype(np.float64)


def _refine(unrolled: Unrolled, direction: Floats, coarse: Floats, bout: Ints) -> Floats | None:
    """Time the crossings on the lightly filtered readings; None if they cross the mean more often."""
    whole_signal = unrolled.values @ direction
    signal = band_pass(whole_signal, unrolled.per_cycle, 0.4, _LIGHT)
    if band_pass(signal, unrolled.per_cycle, *_FIRST, order=4).var() < _SINE_LIKE * signal.var():
        return None
    up = np.flatnonzero((signal[:-1] < 0) & (signal[1:] >= 0))
    if not up.size:
        return None
    places = up + signal[up] / (signal[up] - signal[up + 1])
    window = 0.3 * unrolled.per_cycle
    first = np.searchsorted(places, coarse - window)
    last = np.searchsorted(places, coarse + window)
    single = last - first == 1
    if single.mean() < 0.9:
        return None
    found = places[np.minimum(first, places.size - 1)]
    median_shift = np.median((found - coarse)[single])
    near = np.clip(np.searchsorted(places, coarse + median_shift), 1, max(places.size - 1, 1))
    nearest = np.where(
        np.abs(places[near - 1] - coarse - median_shift) <= np.abs(places[near % places.size] - coarse - median_shift),
        places[near - 1],
        places[near % places.size],
    )
    fine = np.where(np.abs(nearest - coarse - median_shift) < window, nearest, coarse + median_shift)
    return fine if (np.diff(fine)[np.diff(bout) == 0] > 0).all() else None
