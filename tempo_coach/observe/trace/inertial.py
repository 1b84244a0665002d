"""Circles of inertial sensors: of a gyroscope by its angle about the main axis, of an accelerometer by low points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.circles import Circles, settle
from tempo_coach.observe.trace.cycles import Cycles, time_cycles
from tempo_coach.observe.trace.filters import band_pass, find_runs, low_pass, running_mean
from tempo_coach.observe.trace.free_fall import GRAVITY
from tempo_coach.observe.trace.resampling import BRIDGED, resample, unroll
from tempo_coach.observe.trace.rhythm import ORDER, Rhythm, find_rhythm

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Resampled
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.times import Floats

#: Ratio of mean to RMS of the rate from which it spins; a pure swing has 0, an even spin 1.
SPINS = 0.6
#: Least power of the second principal axis, relative to the first, of a rotation on a cone; a swing has less.
_CONE = 0.15
#: The same ratio from which the rest of the rate is jitter.
_EVEN = 0.996
#: Confidence of a rhythm, and its log ratio to the turn, from which it decides the cycle.
_SURE, _SAME_TURN = 0.5, 0.15
#: Turns a cycle from which they lie inside it, and the part of the cycles that may have another number of them.
_INSIDE, _WANDER = 2, 0.2


def find_turns(trace: Trace, *, period: float | None = None, circles: int | None = None) -> Circles:
    """Find the circles of a rotation sensor.

    Parameters
    ----------
    trace : Trace
        Rotation rates of one body in rad/s.
    period : float or None
        Of a circle, where it is known.

    Returns
    -------
    Circles
        Timed at whole turns. A rate does not show the zero of the angle, so times are at a constant but unknown phase,
        not at the low point. A body that only swings has cycles and no circles.

    Raises
    ------
    CoachError
        If too little is read, or nothing repeats.
    ValueError
        If the trace holds no rotation.
    """
    if trace.quantity != "rotation":
        raise ValueError(f"find_turns: expected rotation, got {trace.quantity}")
    resampled = resample(trace)
    power = resampled.values.T @ resampled.values / len(resampled.values)
    main = np.linalg.eigh(power)[1][:, -1]
    about = resampled.values @ main
    spun = _spin(resampled, about) if abs(about.mean()) > SPINS * np.sqrt((about**2).mean()) else None
    try:
        rhythm = find_rhythm(resampled, period=period, order=ORDER[trace.quantity], circles=circles)
    except CoachError:
        if spun is None:
            raise
        return spun  # one that spins quite evenly shows no cycle in its rate, and its whole turns all the same
    even = abs(about.mean()) > _EVEN * np.sqrt((about**2).mean())
    if spun is not None and (even or not _holds_many(rhythm, spun)):
        return spun
    unrolled = unroll(resampled, rhythm)
    cycles = time_cycles(unrolled, rhythm, trace)
    values, vectors = np.linalg.eigh(power)
    if trace.values.shape[1] < 2 or values[-2] < _CONE * values[-1]:
        return _none(cycles)
    if spun is not None:
        return _put_inside(spun.time, int(spun.sense[0]), cycles) if spun.time.size else _none(cycles)
    plane = unrolled.values @ vectors[:, -1] + 1j * (unrolled.values @ vectors[:, -2])
    turn = np.unwrap(np.angle(low_pass(plane, unrolled.per_cycle, 4.0))) / (2 * np.pi)
    inside = np.zeros(turn.size, dtype=bool)
    for start, end in cycles.span:
        inside |= (unrolled.time >= start) & (unrolled.time <= end)
    return _gather(unrolled.time, turn, inside, cycles)


def _holds_many(rhythm: Rhythm, spun: Circles) -> bool:
    """Return True where the cycle is surely not a single turn."""
    turn = spun.cycles.rhythm.period
    return rhythm.confidence > _SURE and abs(np.log(rhythm.period / turn)) > _SAME_TURN


def _put_inside(at: Floats, sense: int, cycles: Cycles) -> Circles:
    """Return the turns inside a cycle by their phase in it; none where their number a cycle is no integer."""
    steps = np.searchsorted(cycles.time, at, side="right") - 1
    inner = (steps >= 0) & (steps < cycles.time.size - 1)
    inner[inner] &= cycles.within[steps[inner]]
    counts = np.bincount(steps[inner], minlength=cycles.time.size - 1)[cycles.within]
    if not counts.size or np.median(counts) < _INSIDE or (np.abs(counts - np.median(counts)) > 1).mean() > _WANDER:
        return _none(cycles)
    at, steps = at[inner], steps[inner]
    place = (at - cycles.time[steps]) / (cycles.time[steps + 1] - cycles.time[steps])
    order = np.full(at.size, sense)
    return Circles(at, order, place, steps.astype(np.int64), cycles, zero="mount", inside=True)


def _spin(resampled: Resampled, about: Floats) -> Circles:
    """Return the circles of a spinning body: its whole turns while it spins."""
    sense = 1 if about.mean() > 0 else -1
    turn = np.concatenate([[0.0], np.cumsum((about[1:] + about[:-1]) / 2) * resampled.step]) / (2 * np.pi)
    width = max(3, round(1.0 / resampled.step))
    smooth = sense * running_mean(about, width)
    moving = smooth > 0.25 * np.quantile(smooth, 0.9)
    # the first turn begins with the record: its zero is wherever that begins
    numbers = np.arange(np.ceil(sense * turn[0] - 1e-9), np.floor((sense * turn).max()) + 1)
    rising = np.maximum.accumulate(sense * turn) + 1e-12 * np.arange(turn.size)
    at = np.interp(numbers, rising, resampled.time)
    read = np.interp(at, resampled.time, resampled.known.astype(float)) > 0
    steps = np.diff(at)[read[1:] & read[:-1]]
    period = float(np.median(steps)) if steps.size else resampled.step * about.size
    rhythm = Rhythm(period, 1.0, (), np.array([resampled.time[0], resampled.time[-1]]), np.array([period, period]))
    gaps = find_runs(~resampled.known)
    for first, last in gaps:
        if (last - first) * resampled.step > BRIDGED * period:
            moving[first:last] = False
    span = np.array([(resampled.time[a], resampled.time[b - 1]) for a, b in find_runs(moving)])
    bout = np.searchsorted(span[:, 0], at, side="right") - 1
    kept = (bout >= 0) & (at <= span[np.maximum(bout, 0), 1])
    at, bout = at[kept], np.unique(bout[kept], return_inverse=True)[1]
    amplitude = np.full(at.size, float(np.abs(about).mean()))
    beside = resampled.time[np.clip(gaps - [1, 0], 0, about.size - 1)]
    cycles = Cycles(at, bout.astype(np.int64), rhythm, "crossing", np.array([1.0]), amplitude, span, beside)
    return Circles(at, np.full(at.size, sense), np.zeros(at.size), np.arange(at.size), cycles, zero="start")


def _gather(time: Floats, turn: Floats, inside: np.ndarray[tuple[int], np.dtype[np.bool_]], cycles: Cycles) -> Circles:
    total = turn[-1] - turn[0]
    if abs(total) < 0.5 * cycles.time.size:
        return _none(cycles)
    sense = 1 if total > 0 else -1
    if abs(total) > _INSIDE * 0.75 * cycles.time.size:
        rising = np.maximum.accumulate(sense * turn) + 1e-12 * np.arange(turn.size)
        numbers = np.arange(np.ceil(rising[0]), np.floor(rising[-1]) + 1)
        return _put_inside(np.interp(numbers, rising, time), sense, cycles)
    # Whole turns counted from where the first cycle starts, so that circles and cycles begin together.
    first = float(np.interp(cycles.time[0], time, sense * turn))
    rising = np.maximum.accumulate(sense * turn - first) + 1e-12 * np.arange(turn.size)
    numbers = np.arange(np.ceil(rising[0]), np.floor(rising[-1]) + 1)
    at = np.interp(numbers, rising, time)
    settled = settle(at[np.interp(at, time, inside.astype(float)) > 0.5], cycles, keep=True)
    if settled is None:
        return _none(cycles)
    at = settled
    bout = np.clip(np.searchsorted(cycles.span[:, 0], at, side="right") - 1, 0, None)
    amplitude = np.interp(at, cycles.time, cycles.amplitude)
    circles = Cycles(
        at, bout.astype(np.int64), cycles.rhythm, cycles.timed_by, cycles.direction, amplitude, cycles.span, cycles.gaps
    )
    return Circles(at, np.full(at.size, sense), np.zeros(at.size), np.arange(at.size), circles, zero="mount")


def _none(cycles: Cycles) -> Circles:
    nothing = np.empty(0, dtype=np.int64)
    return Circles(np.empty(0), nothing, np.empty(0), nothing, cycles, zero="mount")


#: Range of the rotating part, in g, in which it is gravity; less is a rotation about an upright axis.
_GRAVITY = (0.4, 1.6)
#: Least power of the second principal axis of a circle, relative to the first.
_ROUND = 0.25
#: Least centripetal acceleration in g that shows the radial direction.
_PULL = 0.5


def find_low_points(trace: Trace, *, period: float | None = None, circles: int | None = None) -> Circles:
    """Find the circles of an accelerometer, or only its cycles where gravity does not rotate in it.

    Parameters
    ----------
    trace : Trace
        Accelerations of one body in m/s², or in an unknown unit.
    period : float or None
        Of a circle, where it is known.

    Returns
    -------
    Circles
        At their low points, with ``sense`` 0, which an accelerometer does not show. Without a circle in it where the
        movement is no turning upright; its cycles are then counted from where the sensor's reading crosses its middle.

    Raises
    ------
    CoachError
        If too little is read, or nothing repeats.
    ValueError
        If the trace holds no accelerations.
    """
    if trace.quantity != "acceleration":
        raise ValueError(f"find_low_points: expected accelerations, got {trace.quantity}")
    resampled = resample(trace)
    rhythm = find_rhythm(resampled, period=period, order=ORDER[trace.quantity], circles=circles)
    unrolled = unroll(resampled, rhythm)
    cycles = time_cycles(unrolled, rhythm, trace)
    nothing = np.empty(0, dtype=np.int64)
    none = Circles(np.empty(0), nothing, np.empty(0), nothing, cycles, zero="mount")
    if trace.values.shape[1] < 2:
        return none
    inside = np.zeros(unrolled.time.size, dtype=bool)
    for start, end in cycles.span:
        inside |= (unrolled.time >= start) & (unrolled.time <= end)
    turning = band_pass(unrolled.values, unrolled.per_cycle, 0.5, 1.5)[inside]
    power, axes = np.linalg.eigh(turning.T @ turning / max(len(turning), 1))
    plane = axes[:, -1] + 1j * axes[:, -2]
    pull = complex(unrolled.values[inside].mean(axis=0) @ plane)
    size = float(np.sqrt(power[-1] + power[-2]))
    known = trace.unit == "m/s²"
    if power[-2] < _ROUND * power[-1] or abs(pull) < _PULL * (GRAVITY if known else size):
        return none
    if known and not _GRAVITY[0] * GRAVITY < size < _GRAVITY[1] * GRAVITY:
        return none
    # in the radial frame the rest is gravity, which points away from the hand at the low point
    felt = unrolled.values @ plane * np.conj(-pull / abs(pull))
    round_ = low_pass(felt - low_pass(felt, unrolled.per_cycle, 0.4), unrolled.per_cycle, 2.5)
    turn = np.unwrap(np.angle(-round_)) / (2 * np.pi)
    sense = 1 if turn[-1] > turn[0] else -1
    if not 0.5 < abs(turn[-1] - turn[0]) / cycles.time.size < 1.5:
        return none
    rising = np.maximum.accumulate(sense * turn) + 1e-12 * np.arange(turn.size)
    numbers = np.arange(np.ceil(rising[0]), np.floor(rising[-1]) + 1)
    at = np.interp(numbers, rising, unrolled.time)
    settled = settle(at[np.interp(at, unrolled.time, inside.astype(float)) > 0.5], cycles)
    if settled is None or settled.size < 2:
        return none
    at = settled
    bout = np.clip(np.searchsorted(cycles.span[:, 0], at, side="right") - 1, 0, None)
    amplitude = np.interp(at, cycles.time, cycles.amplitude)
    found = Cycles(
        at, bout.astype(np.int64), rhythm, cycles.timed_by, cycles.direction, amplitude, cycles.span, cycles.gaps
    )
    return Circles(at, np.zeros(at.size, dtype=np.int64), np.zeros(at.size), np.arange(at.size), found)
