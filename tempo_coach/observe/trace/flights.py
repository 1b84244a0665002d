"""Free flights in a position trace: a toss from the release to the catch.

In free flight (drag aside) the height is a parabola of curvature -g and the path over the floor is straight. A flight
is a long enough piece of such a trace. An arc that begins with a bounce was not thrown and is no flight.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.free_fall import (
    GRAVITY,
    TOLERANCE,
    find_departure,
    find_runs,
    find_scale,
    fit_curvature,
    grow,
    is_too_rough,
)
from tempo_coach.observe.trace.resampling import resample

if TYPE_CHECKING:
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.times import Floats, Ints

__all__ = ["GRAVITY", "Flight", "find_flights"]

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

#: Shorter free falls are hops of the tracker or parts of a swing.
SHORTEST = 0.3
_WINDOW = 0.24
#: Windows before a release and after a catch in seconds. Least error on generated tosses (100 Hz, 5 mm): in longer ones
#: the path of the hand no longer follows the model.
_BEFORE, _AFTER = 0.06, 0.1
#: Ratio of the speeds before and after, in opposite directions, from which it bounced; a hand moves with it.
_BOUNCED = 0.35
#: Window of the speed just outside an end in seconds, and the least readings in it.
_SPEED_WINDOW, _SEEN = 0.05, 3


@dataclass(frozen=True)
class Flight:
    """One free flight.

    Parameters
    ----------
    release, catch : float
        Seconds on the trace's clock.
    speed, angle_deg : float
        At the release: in the unit a second, and degrees above the level.
    apex, apex_time : float
        Height of the top on the trace's own axis, and its instant.
    gravity : float
        The fitted bend, in the unit a second squared: about 9.81 if the unit is the metre. The check of scale.
    drift_sd : float
        How far the way sideways leaves a straight line (SD, in the unit): large if something touched it.
    metres_a_unit : float
        What gravity makes of one unit, for pixels and tables without a unit; 1 if the unit is the metre.
    release_height, catch_height, distance : float
        On the trace's own axes, in the unit.
    begins : {"release", "edge"}
        ``edge`` where the release was not seen: it was in the air already.
    ends : {"catch", "bounce", "edge"}
        ``bounce`` where it came down on the floor, ``edge`` where it was not seen to come down.
    """

    release: float
    catch: float
    speed: float
    angle_deg: float
    apex: float
    apex_time: float
    gravity: float
    drift_sd: float
    metres_a_unit: float
    release_height: float
    catch_height: float
    distance: float
    begins: Literal["release", "edge"] = "release"
    ends: Literal["catch", "bounce", "edge"] = "catch"

    @property
    def seconds(self) -> float:
        """Observed time in the air."""
        return self.catch - self.release


class _Readings(NamedTuple):
    """Resampled readings, and the index of the height among their columns."""

    time: Floats
    values: Floats
    known: Flags
    up: int
    scale: float


class _Arc(NamedTuple):
    """The parabola of a height, in seconds from the centre of the fitted readings.

    Parameters
    ----------
    inside : numpy.ndarray of int, shape (k,)
        The readings that lie on it and were seen.
    centre : float
        Seconds on the trace's clock.
    level, slope, curvature : float
        Its coefficients, of the powers 0 to 2.
    residual : numpy.ndarray, shape (n,)
        Height of each reading above it.
    """

    inside: Ints
    centre: float
    level: float
    slope: float
    curvature: float
    residual: Floats

    @property
    def gravity(self) -> float:
        """In units per second squared, positive for a curve that bends down."""
        return -2 * self.curvature

    @property
    def top(self) -> float:
        """The instant of the apex."""
        return self.centre - self.slope / (2 * self.curvature)

    def height(self, time: float) -> float:
        """Return the height at an instant."""
        since = time - self.centre
        return self.level + self.slope * since + self.curvature * since**2

    def rise(self, time: float) -> float:
        """Return the upward speed at an instant."""
        return self.slope + 2 * self.curvature * (time - self.centre)


def find_flights(trace: Trace) -> list[Flight]:
    """Find the free flights of one tracked point.

    A parabola is fitted to windows of a quarter of a second. Where its curvature is constant and downward (-g, where
    the unit is the metre) and the path sideways is straight, the point is in free flight. The interval is extended as
    long as readings fit the parabola, and its ends are interpolated to the departure from it. A flight across a gap, as
    of a ball that leaves the picture at the top, is one flight.

    Parameters
    ----------
    trace : Trace
        Positions of one point with an upward axis (z, or y).

    Raises
    ------
    CoachError
        If there is no upward axis, the readings are too slow, or they are a dial.
    ValueError
        If the trace holds no positions.
    """
    if trace.quantity != "position":
        raise ValueError(f"find_flights: expected positions, got {trace.quantity}")
    if trace.is_dial:
        raise CoachError("flights.of_a_dial")
    axis = "z" if "z" in trace.axes else "y"
    if axis not in trace.axes:
        raise CoachError("flights.no_height", axes=trace.axes)
    resampled = resample(trace)
    half = max(2, round(_WINDOW / 2 / resampled.step))
    if len(resampled.values) < 2 * half + 1 or resampled.step > _WINDOW / 4:
        return []
    up = trace.axes.index(axis)
    curvature, left = fit_curvature(resampled.values[:, up], half, resampled.step)
    seen = np.convolve(~resampled.known, np.ones(2 * half + 1), mode="same") < 0.5
    curvature = np.where(seen, curvature, np.nan)
    scale = 1.0 if trace.unit == "m" else find_scale(curvature, left)
    if scale is None:
        return []
    readings = _Readings(resampled.time, resampled.values, np.asarray(resampled.known), up, scale)
    free = np.abs(curvature * scale + GRAVITY) < 2.5 * TOLERANCE * GRAVITY
    runs = [(max(0, a - half), min(len(free) - 1, b + half)) for a, b in find_runs(free)]
    flights: list[Flight] = []
    number = 0
    while number < len(runs):
        first, last = runs[number]
        flight = None
        if number + 1 < len(runs) and not resampled.known[last : runs[number + 1][0] + 1].all():
            flight = _measure(readings, first, runs[number + 1][1])
            number += flight is not None
        flight = flight or _measure(readings, first, last)
        if flight is not None and (not flights or flight.release >= flights[-1].catch):
            flights.append(flight)
        number += 1
    return flights


def _measure(readings: _Readings, first: int, last: int) -> Flight | None:
    """Return the flight in an interval, or None where there is none that is long enough.

    Parameters
    ----------
    readings : _Table
    first, last : int
        Indices between which the curvature is that of free fall.
    """
    arc = _fit_arc(readings, first, last)
    if arc is None or abs(arc.gravity * readings.scale - GRAVITY) > TOLERANCE * GRAVITY:
        return None
    off, level = _fit_floor(readings, arc.inside)
    away = np.column_stack([arc.residual, *off])
    a, b = int(arc.inside[0]), int(arc.inside[-1])
    if readings.time[b] - readings.time[a] < SHORTEST:
        return None
    begins, release = _find_start(readings, a, away, arc.rise(readings.time[a]))
    ends, catch = _find_end(readings, b, away, arc.rise(readings.time[b]))
    if begins == "bounce" or catch - release < SHORTEST or is_too_rough(readings.values, away, arc.inside):
        return None
    rise = arc.rise(release)
    return Flight(
        release,
        catch,
        speed=math.hypot(level, rise),
        angle_deg=math.degrees(math.atan2(rise, level)),
        apex=arc.height(arc.top),
        apex_time=arc.top,
        gravity=arc.gravity,
        drift_sd=float(np.sqrt(np.mean([np.square(each[arc.inside]) for each in off]))) if off else 0.0,
        metres_a_unit=1.0 if readings.scale == 1.0 else GRAVITY / arc.gravity,
        release_height=arc.height(release),
        catch_height=arc.height(catch),
        distance=level * (catch - release),
        begins=begins,
        ends=ends,
    )


def _fit_arc(readings: _Readings, first: int, last: int) -> _Arc | None:
    """Fit a parabola to the middle of an interval, and extend it as long as readings fit.

    None where the interval is too short, or too little of it was seen.
    """
    time, height, known = readings.time, readings.values[:, readings.up], readings.known
    a, b = _find_core(known, first, last)
    if time[last] - time[first] < SHORTEST or np.count_nonzero(known[a : b + 1]) < 5:
        return None
    for _ in range(4):
        inside = a + np.flatnonzero(known[a : b + 1])
        centre = float(time[a] + time[b]) / 2
        fitted = np.polynomial.Polynomial.fit(time[inside] - centre, height[inside], 2).convert()
        residual = height - fitted(time - centre)
        noise = float(np.std(residual[inside])) * math.sqrt(inside.size / max(inside.size - 3, 1))
        limit = 3.5 * max(noise, 1e-6 / readings.scale)
        near = np.where(known, residual, 0.0)
        grown = grow(near, a, -1, limit), grow(near, b, 1, limit)
        if grown == (a, b):
            break
        a, b = grown
    level, slope, curvature = (float(each) for each in fitted.coef)
    return _Arc(a + np.flatnonzero(known[a : b + 1]), centre, level, slope, curvature, residual)


def _fit_floor(readings: _Readings, inside: Ints) -> tuple[list[Floats], float]:
    """Fit lines to the horizontal columns; return residuals, each of shape (n,), and the horizontal speed."""
    time = readings.time
    off, slopes = [], []
    for side in (i for i in range(readings.values.shape[1]) if i != readings.up):
        line = np.polynomial.Polynomial.fit(time[inside], readings.values[inside, side], 1).convert()
        off.append(readings.values[:, side] - line(time))
        slopes.append(float(line.coef[1]))
    return off, math.hypot(*slopes)


def _find_core(known: Flags, first: int, last: int) -> tuple[int, int]:
    """Return the middle half of an interval, or more of it where too little was seen, as at the top of a picture."""
    for part in (4, 8, 16):
        core = max(3, (last - first) // part)
        a, b = first + core, last - core
        if b > a and known[a : b + 1].mean() > 0.5 and known[a] and known[b]:
            break
    return a, b


def _find_start(
    readings: _Readings, at: int, away: Floats, speed: float
) -> tuple[Literal["release", "edge", "bounce"], float]:
    """Return the kind and the time of the flight's beginning."""
    if at < _SEEN or not readings.known[at - _SEEN : at].all():
        return "edge", float(readings.time[at])
    came = _speed_outside(readings, at, -1)
    if speed > 0 and came < -_BOUNCED * speed:
        return "bounce", float(readings.time[at])
    return "release", find_departure(readings.time, away, at, -1, powers=(2,), seconds=_BEFORE)


def _find_end(
    readings: _Readings, at: int, away: Floats, speed: float
) -> tuple[Literal["catch", "edge", "bounce"], float]:
    """Return the kind and the time of the flight's end."""
    if at + _SEEN >= len(readings.time) or not readings.known[at + 1 : at + 1 + _SEEN].all():
        return "edge", float(readings.time[at])
    leaves = _speed_outside(readings, at, 1)
    how: Literal["catch", "bounce"] = "bounce" if speed < 0 and leaves > -_BOUNCED * speed else "catch"
    return how, find_departure(readings.time, away, at, 1, powers=(1, 2), seconds=_AFTER)


def _speed_outside(readings: _Readings, at: int, way: int) -> float:
    """Return the upward speed just outside an end."""
    step = float(readings.time[1] - readings.time[0])
    far = at + way * max(_SEEN, round(_SPEED_WINDOW / step))
    # the first reading outside may still lie between both: begin after it
    first, last = sorted(
        (min(max(at + 2 * way, 0), len(readings.time) - 1), min(max(far + way, 0), len(readings.time) - 1))
    )
    if last - first < 1:
        return 0.0
    return float(np.polyfit(readings.time[first : last + 1], readings.values[first : last + 1, readings.up], 1)[0])
