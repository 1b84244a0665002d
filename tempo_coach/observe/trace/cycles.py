"""Cycles of a trace: their starts, and the bouts between pauses of the movement.

A cycle is timed at the upward crossing of the mean, never at the maximum: noise of 2 % moves a maximum by 14 ms, and
the crossing, where the slope is largest, by 2 ms.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.filters import (
    Flags,
    band_pass,
    find_runs,
    low_pass,
    running_median,
)
from tempo_coach.observe.trace.movement_bounds import bound_movement
from tempo_coach.observe.trace.phase_following import EDGE, TOO_SOON, find_one_a_cycle, find_phase
from tempo_coach.observe.trace.resampling import Unrolled, resample, unroll
from tempo_coach.observe.trace.rhythm import ORDER, find_rhythm
from tempo_coach.times import Floats, Ints, ascending, column, whole

if TYPE_CHECKING:
    from tempo_coach.observe.trace.phase_following import FollowedPhase
    from tempo_coach.observe.trace.rhythm import Rhythm
    from tempo_coach.observe.trace.trace import Trace


#: Least variance of the vertical column, relative to that of the main axis, for it to be preferred.
_ENOUGH = 0.3
#: Longest knock, in cycles; a running median of twice this width removes it.
_KNOCK = 0.08
#: The band of the first harmonic, in cycles a cycle: steep enough that a second one four times as large stays out.
_FIRST = (0.5, 1.5)
#: Harmonics kept by the light filter.
_LIGHT = 6.0
#: Starts so many cycles from an end of the record are timed by so much of a cycle beside it, as in so many others at
#: least, in so many rounds.
_BESIDE_END, _COMPARED, _FEWEST, _ROUNDS = 0.15, 0.5, 4, 4
#: Cycles beside a bridged gap in which a crossing is moved by what was filled in.
_BLURRED = 0.15
#: Cycles beside an end of the movement whose median says how much of one there is before the first and after the last.
_LOCAL = 3
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
    gaps : array_like, shape (g, 2)
        Start and end of each gap that was bridged, in seconds: a cycle that begins or ends there was not seen to.
    """

    time: Floats
    bout: Ints
    rhythm: Rhythm
    timed_by: Literal["crossing", "harmonic"]
    direction: Floats
    amplitude: Floats
    span: Floats
    gaps: Floats = field(default_factory=lambda: np.empty((0, 2)))

    def __post_init__(self) -> None:
        object.__setattr__(self, "time", ascending(self.time, name="time"))
        object.__setattr__(self, "bout", whole(self.bout, name="bout"))
        object.__setattr__(self, "direction", column(self.direction, name="direction"))
        object.__setattr__(self, "amplitude", column(self.amplitude, name="amplitude"))
        for name in ("span", "gaps"):
            edges = np.array(getattr(self, name), dtype=np.float64).reshape(-1, 2)
            edges.flags.writeable = False
            object.__setattr__(self, name, edges)
        if not self.time.size == self.bout.size == self.amplitude.size:
            raise ValueError("Cycles: expected a bout and an amplitude for every time")

    @property
    def within(self) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Whether each of the n - 1 steps has both ends in one bout, so that it is a cycle."""
        return np.asarray(np.diff(self.bout) == 0)

    @property
    def seen(self) -> Flags:
        """Whether each of the n - 1 steps is a cycle with both ends observed, so that its length is known."""
        edge = _BLURRED * self.rhythm.period
        lost = np.zeros(self.time.size, dtype=bool)
        for start, end in self.gaps:
            lost |= (self.time > start - edge) & (self.time < end + edge)
        if self.span.size:  # what begins before the record, or ends after it, was not seen to
            lost |= (self.time <= self.span.min()) | (self.time >= self.span.max())
        return np.asarray(self.within & ~lost[:-1] & ~lost[1:])

    @property
    def number(self) -> int:
        """Number of cycles moved, rounded in each bout: the same at whatever phase they are timed.

        Of as many cycles there are as many starts or one more, since one may begin where the movement does.
        """
        turns = 0
        for bout, (begins, ends) in enumerate(self.span.tolist()):
            times = self.time[self.bout == bout]
            if times.size > 1:
                periods = np.diff(times)
                first, last = float(np.median(periods[:_LOCAL])), float(np.median(periods[-_LOCAL:]))
                turns += round(periods.size + (float(times[0]) - begins) / first + (ends - float(times[-1])) / last)
        return turns

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
    moving = bound_movement(harmonic, quiet, unrolled, ORDER[trace.quantity])
    direction = _look_along(harmonic[moving] if moving.any() else harmonic, trace)
    coarse, bout, edges = _crossings(harmonic @ direction, moving, unrolled.per_cycle, find_phase(unrolled, moving))
    if coarse.size < 2:
        raise CoachError("cycles.few", period_s=rhythm.period, found=max(coarse.size - 1, 0))
    fine = _refine(unrolled, direction, coarse, bout)
    places = _time_ends(unrolled, coarse if fine is None else fine, bout)
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
        unrolled.at(np.maximum(find_runs(~unrolled.known) - [1, 0], 0).astype(np.float64)),
    )


def _calm(unrolled: Unrolled) -> Floats:
    return running_median(unrolled.values, 2 * int(_KNOCK * unrolled.per_cycle) + 1)


def _look_along(harmonic: Floats, trace: Trace) -> Floats:
    """Return the direction of projection: upwards if the movement has enough variance there, else its main axis.

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
    signal: Floats, moving: Flags, per_cycle: int, phase: FollowedPhase | None
) -> tuple[Floats, Ints, Floats]:
    """Return the positions of upward crossings during movement, the bout of each, and the limits of each bout."""
    up = np.flatnonzero((signal[:-1] < 0) & (signal[1:] >= 0))
    places = up + signal[up] / (signal[up] - signal[up + 1])
    piece = np.cumsum(np.diff(np.concatenate([[0], moving.astype(np.int8)])) == 1)
    kept = moving[up]
    places = places[kept] if phase is None else find_one_a_cycle(places[kept], moving, phase)
    bout = piece[np.clip(np.rint(places).astype(int), 0, piece.size - 1)]
    # A crossing that comes much too soon after another is a wobble of a start or stop, not a cycle.
    good = np.ones(places.size, dtype=bool)
    last = -np.inf
    for i, place in enumerate(places):
        if place - last < TOO_SOON * per_cycle:
            good[i] = False
        else:
            last = place
    places, bout = places[good], bout[good]
    counts = np.bincount(bout) if bout.size else np.zeros(1, dtype=np.int64)
    enough = counts[bout] >= 2
    pieces, numbers = np.unique(bout[enough], return_inverse=True)
    edges = find_runs(moving)[pieces - 1] - [0, 1]
    return places[enough], numbers.astype(np.int64), edges.astype(np.float64)


def _time_ends(unrolled: Unrolled, places: Floats, bout: Ints) -> Floats:
    """Time a start at either end of the record by the readings beside it, since filters distort them there.

    It lies where they fit the median of the same part of the other cycles best: least squares, whatever their offset.
    """
    out = places.copy()
    per_cycle, last = unrolled.per_cycle, len(unrolled.values) - 1
    long = round(_COMPARED * per_cycle)
    for at, end, steps in ((0, 0, np.arange(long)), (-1, last, np.arange(last - long + 1, last + 1))):
        inside = (np.abs(places - end) > 2 * long) & (np.abs(places - (last - end)) > 2 * long)
        others = places[inside & (bout == bout[at])]
        is_near = abs(places[at] - end) < _BESIDE_END * per_cycle
        if not is_near or others.size < _FEWEST or not unrolled.known[steps].all():
            continue
        readings = unrolled.values[steps]
        for _ in range(_ROUNDS):
            same = np.median(_read_at(unrolled.values, others[:, None] + steps - out[at]), axis=0)
            slope = np.gradient(same, axis=0)
            slope = slope - slope.mean(axis=0)
            out[at] -= float((slope * (readings - same)).sum() / max(float((slope**2).sum()), 1e-300))
            if abs(out[at] - places[at]) > EDGE * per_cycle:
                out[at] = places[at]
                break
    return out


def _read_at(values: Floats, places: Floats) -> Floats:
    """Interpolate readings at fractional indices, shape (..., d)."""
    first = places.astype(int)
    part = (places - first)[..., None]
    return np.asarray(values[first] * (1 - part) + values[first + 1] * part)


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
