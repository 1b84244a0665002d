"""Circles of a gyroscope by the turn about its main axis, of an accelerometer by its low points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.circles import Circles
from tempo_coach.observe.trace.cycle_time import band, low, unroll
from tempo_coach.observe.trace.cycles import Cycles, time_cycles
from tempo_coach.observe.trace.free_fall import GRAVITY
from tempo_coach.observe.trace.period import ORDER, Rhythm, find_rhythm
from tempo_coach.observe.trace.resampling import to_grid

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Grid
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.times import Floats

#: A rate whose mean reaches this part of its root mean square spins; a pure swing has 0, an even spin 1.
SPINS = 0.6
#: On a cone the second direction of the rate has at least this part of the first one's power; a swing has less.
_CONE = 0.15
#: A rate whose mean reaches this part spins so evenly that what it does besides is jitter.
_EVEN = 0.996
#: A rhythm as sure as this that differs from the turn by more than this (as a logarithm) decides what the cycle is.
_SURE, _SAME_TURN = 0.5, 0.15
#: Turns a cycle from which they lie inside it, and the part of the cycles that may have another number of them.
_INSIDE, _WANDER = 2, 0.2


def find_turns(trace: Trace, *, period: float | None = None, circles: int | None = None) -> Circles:
    """Find the circles of a rotation sensor.

    Parameters
    ----------
    trace : Trace
        Rotation rates of one mover in rad/s.
    period : float or None
        Of a circle, where it is known.

    Returns
    -------
    Circles
        Timed at equal turns; where the turn is zero is not known from a rate, so times are those of the same place in
        every circle, not of its low point. A mover that only swings has cycles and no circles.

    Raises
    ------
    CoachError
        If too little is read, or nothing repeats.
    ValueError
        If the trace holds no rotation.
    """
    if trace.quantity != "rotation":
        raise ValueError(f"find_turns: expected rotation, got {trace.quantity}")
    grid = to_grid(trace)
    power = grid.values.T @ grid.values / len(grid.values)
    main = np.linalg.eigh(power)[1][:, -1]
    about = grid.values @ main
    spun = _spin(grid, about) if abs(about.mean()) > SPINS * np.sqrt((about**2).mean()) else None
    try:
        rhythm = find_rhythm(grid, period=period, order=ORDER[trace.quantity], circles=circles)
    except CoachError:
        if spun is None:
            raise
        return spun  # one that spins quite evenly shows no cycle in its rate, and its whole turns all the same
    even = abs(about.mean()) > _EVEN * np.sqrt((about**2).mean())
    if spun is not None and (even or not _holds_many(rhythm, spun)):
        return spun
    unrolled = unroll(grid, rhythm)
    cycles = time_cycles(unrolled, rhythm, trace)
    values, vectors = np.linalg.eigh(power)
    if trace.values.shape[1] < 2 or values[-2] < _CONE * values[-1]:
        return _none(cycles)
    if spun is not None:
        return _put_inside(spun.time, int(spun.sense[0]), cycles) if spun.time.size else _none(cycles)
    plane = unrolled.values @ vectors[:, -1] + 1j * (unrolled.values @ vectors[:, -2])
    turn = np.unwrap(np.angle(low(plane, unrolled.per_cycle, 4.0))) / (2 * np.pi)
    inside = np.zeros(turn.size, dtype=bool)
    for start, end in cycles.span:
        inside |= (unrolled.time >= start) & (unrolled.time <= end)
    return _gather(unrolled.time, turn, inside, cycles)


def _holds_many(rhythm: Rhythm, spun: Circles) -> bool:
    """Tell whether a cycle is surely something else than one turn."""
    turn = spun.cycles.rhythm.period
    return rhythm.confidence > _SURE and abs(np.log(rhythm.period / turn)) > _SAME_TURN


def _put_inside(at: Floats, sense: int, cycles: Cycles) -> Circles:
    """Turns that lie inside a cycle: where in it each falls; none where they are no whole number a cycle."""
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


def _spin(grid: Grid, about: Floats) -> Circles:
    """Circles of a mover that spins: its whole turns while it does."""
    from scipy.ndimage import uniform_filter1d

    sense = 1 if about.mean() > 0 else -1
    turn = np.concatenate([[0.0], np.cumsum((about[1:] + about[:-1]) / 2) * grid.step]) / (2 * np.pi)
    width = max(3, round(1.0 / grid.step))
    smooth = sense * uniform_filter1d(about, width, mode="nearest")
    moving = smooth > 0.25 * np.quantile(smooth, 0.9)
    numbers = np.arange(np.ceil(sense * turn[0] + 1e-9), np.floor((sense * turn).max()) + 1)
    rising = np.maximum.accumulate(sense * turn) + 1e-12 * np.arange(turn.size)
    at = np.interp(numbers, rising, grid.time)
    period = float(np.median(np.diff(at))) if at.size > 1 else grid.step * about.size
    rhythm = Rhythm(period, 1.0, (), np.array([grid.time[0], grid.time[-1]]), np.array([period, period]))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], moving.astype(np.int8), [0]]))).reshape(-1, 2)
    span = np.array([(grid.time[a], grid.time[b - 1]) for a, b in edges])
    bout = np.searchsorted(span[:, 0], at, side="right") - 1
    kept = (bout >= 0) & (at <= span[np.maximum(bout, 0), 1])
    at, bout = at[kept], np.unique(bout[kept], return_inverse=True)[1]
    reach = np.full(at.size, float(np.abs(about).mean()))
    cycles = Cycles(at, bout.astype(np.int64), rhythm, "crossing", np.array([1.0]), reach, span)
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
    at = at[np.interp(at, time, inside.astype(float)) > 0.5]
    bout = np.clip(np.searchsorted(cycles.span[:, 0], at, side="right") - 1, 0, None)
    reach = np.interp(at, cycles.time, cycles.reach)
    circles = Cycles(at, bout.astype(np.int64), cycles.rhythm, cycles.timed_by, cycles.direction, reach, cycles.span)
    return Circles(at, np.full(at.size, sense), np.zeros(at.size), np.arange(at.size), circles, zero="mount")


def _none(cycles: Cycles) -> Circles:
    nothing = np.empty(0, dtype=np.int64)
    return Circles(np.empty(0), nothing, np.empty(0), nothing, cycles, zero="mount")


#: The turning part is gravity if it has this part of g; less turns about an upright axis, more is something else.
_GRAVITY = (0.4, 1.6)
#: The turning part is a circle if its second direction has this part of the first one's power.
_ROUND = 0.25
#: The steady pull must reach this part of g, or it does not say which way is outwards.
_PULL = 0.5


def find_low_points(trace: Trace, *, period: float | None = None, circles: int | None = None) -> Circles:
    """Find the circles of an accelerometer, or its cycles alone where gravity does not go round in it.

    Parameters
    ----------
    trace : Trace
        Accelerations of one mover in m/s², or in units that are not known.
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
    grid = to_grid(trace)
    rhythm = find_rhythm(grid, period=period, order=ORDER[trace.quantity], circles=circles)
    unrolled = unroll(grid, rhythm)
    cycles = time_cycles(unrolled, rhythm, trace)
    nothing = np.empty(0, dtype=np.int64)
    none = Circles(np.empty(0), nothing, np.empty(0), nothing, cycles, zero="mount")
    if trace.values.shape[1] < 2:
        return none
    inside = np.zeros(unrolled.time.size, dtype=bool)
    for start, end in cycles.span:
        inside |= (unrolled.time >= start) & (unrolled.time <= end)
    turning = band(unrolled.values, unrolled.per_cycle, 0.5, 1.5)[inside]
    power, axes = np.linalg.eigh(turning.T @ turning / max(len(turning), 1))
    plane = axes[:, -1] + 1j * axes[:, -2]
    steady = complex(unrolled.values[inside].mean(axis=0) @ plane)
    size = float(np.sqrt(power[-1] + power[-2]))
    known = trace.unit == "m/s²"
    if power[-2] < _ROUND * power[-1] or abs(steady) < _PULL * (GRAVITY if known else size):
        return none
    if known and not _GRAVITY[0] * GRAVITY < size < _GRAVITY[1] * GRAVITY:
        return none
    # seen from the hand outwards, what is left of the pull is gravity: it points outwards at the low point
    felt = unrolled.values @ plane * np.conj(-steady / abs(steady))
    round_ = low(felt - low(felt, unrolled.per_cycle, 0.4), unrolled.per_cycle, 2.5)
    turn = np.unwrap(np.angle(-round_)) / (2 * np.pi)
    sense = 1 if turn[-1] > turn[0] else -1
    if not 0.5 < abs(turn[-1] - turn[0]) / cycles.time.size < 1.5:
        return none
    rising = np.maximum.accumulate(sense * turn) + 1e-12 * np.arange(turn.size)
    numbers = np.arange(np.ceil(rising[0]), np.floor(rising[-1]) + 1)
    at = np.interp(numbers, rising, unrolled.time)
    at = at[np.interp(at, unrolled.time, inside.astype(float)) > 0.5]
    if at.size < 2:
        return none
    bout = np.clip(np.searchsorted(cycles.span[:, 0], at, side="right") - 1, 0, None)
    reach = np.interp(at, cycles.time, cycles.reach)
    found = Cycles(at, bout.astype(np.int64), rhythm, cycles.timed_by, cycles.direction, reach, cycles.span)
    return Circles(at, np.zeros(at.size, dtype=np.int64), np.zeros(at.size), np.arange(at.size), found)
