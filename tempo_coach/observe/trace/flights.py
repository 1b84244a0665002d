"""Free flights in a position trace: a toss from the release to the catch.

In the air nothing but gravity works (drag aside): the height bends downwards by g all the time and the way along the
floor is straight. Where a trace does so for long enough it flies; the flight ends where it stops doing so. An arc that
begins with a bounce was thrown by no hand and is no flight.
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
    find_bends,
    find_leaving,
    find_runs,
    find_scale,
    grow,
    is_too_rough,
)
from tempo_coach.observe.trace.resampling import to_grid

if TYPE_CHECKING:
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.times import Floats, Ints

__all__ = ["GRAVITY", "Flight", "find_flights"]

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

#: Shorter free falls are hops of the tracker or parts of a swing.
SHORTEST = 0.3
_WINDOW = 0.24
#: Seconds that are looked at before a release and after a catch. On generated tosses (100 Hz, 5 mm) these gave the
#: least error: shorter ones see too little, in longer ones the hand's path bends in another way.
_BEFORE, _AFTER = 0.06, 0.1
#: It bounced where it comes with this part of the speed, the other way, with which it goes; a hand goes with it.
_BOUNCED = 0.35
#: Seconds beside an end over which its speed there is taken, and readings that have to be seen.
_BESIDE, _SEEN = 0.05, 3


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
        """Time in the air, as far as it was seen."""
        return self.catch - self.release


class _Table(NamedTuple):
    """Readings at even steps, and which of their columns is the height."""

    time: Floats
    values: Floats
    known: Flags
    up: int
    scale: float


class _Arc(NamedTuple):
    """The parabola of a height, in seconds from the centre of what it was fitted to.

    Parameters
    ----------
    inside : numpy.ndarray of int, shape (k,)
        The readings that lie on it and were seen.
    centre : float
        Seconds on the trace's clock.
    level, slope, bend : float
        Its coefficients, of the powers 0 to 2.
    rest : numpy.ndarray, shape (n,)
        How far each reading of the table lies above it.
    """

    inside: Ints
    centre: float
    level: float
    slope: float
    bend: float
    rest: Floats

    @property
    def gravity(self) -> float:
        """In the unit a second squared, positive where it bends downwards."""
        return -2 * self.bend

    @property
    def top(self) -> float:
        """The instant of the apex."""
        return self.centre - self.slope / (2 * self.bend)

    def height(self, time: float) -> float:
        """Return the height at an instant."""
        since = time - self.centre
        return self.level + self.slope * since + self.bend * since**2

    def rise(self, time: float) -> float:
        """Return the upward speed at an instant."""
        return self.slope + 2 * self.bend * (time - self.centre)


def find_flights(trace: Trace) -> list[Flight]:
    """Find the free flights of one tracked point.

    Windows of a quarter of a second are fitted with a parabola; where it bends downwards by one steady amount (g, where
    the unit is the metre) and the way sideways is straight, the point flies free. The stretch is grown at both ends
    for as long as the readings stay on the parabola, and its ends are interpolated to where they leave it. A flight
    that goes on behind a gap, as that of a ball that leaves the picture at the top, is one flight.

    Parameters
    ----------
    trace : Trace
        Positions of one point with an upward axis (z, or y).

    Raises
    ------
    CoachError
        If there is no upward axis, or the readings are too slow.
    ValueError
        If the trace holds no positions.
    """
    if trace.quantity != "position":
        raise ValueError(f"find_flights: expected positions, got {trace.quantity}")
    axis = "z" if "z" in trace.axes else "y"
    if axis not in trace.axes:
        raise CoachError(
            f"expected a column for the height (y or z), got {', '.join(trace.axes)}",
            hint="name it with --columns, the height last",
        )
    grid = to_grid(trace)
    half = max(2, round(_WINDOW / 2 / grid.step))
    if len(grid.values) < 2 * half + 1 or grid.step > _WINDOW / 4:
        return []
    up = trace.axes.index(axis)
    bend, left = find_bends(grid.values[:, up], half, grid.step)
    seen = np.convolve(~grid.known, np.ones(2 * half + 1), mode="same") < 0.5
    bend = np.where(seen, bend, np.nan)
    scale = 1.0 if trace.unit == "m" else find_scale(bend, left)
    if scale is None:
        return []
    table = _Table(grid.time, grid.values, np.asarray(grid.known), up, scale)
    free = np.abs(bend * scale + GRAVITY) < 2.5 * TOLERANCE * GRAVITY
    runs = [(max(0, a - half), min(len(free) - 1, b + half)) for a, b in find_runs(free)]
    flights: list[Flight] = []
    number = 0
    while number < len(runs):
        first, last = runs[number]
        flight = None
        if number + 1 < len(runs) and not grid.known[last : runs[number + 1][0] + 1].all():
            flight = _measure(table, first, runs[number + 1][1])
            number += flight is not None
        flight = flight or _measure(table, first, last)
        if flight is not None and (not flights or flight.release >= flights[-1].catch):
            flights.append(flight)
        number += 1
    return flights


def _measure(table: _Table, first: int, last: int) -> Flight | None:
    """Return the flight in a stretch of a table, or None where nothing flies freely there for long enough.

    Parameters
    ----------
    table : _Table
    first, last : int
        Readings between which the height bends as it should.
    """
    arc = _fit_arc(table, first, last)
    if arc is None or abs(arc.gravity * table.scale - GRAVITY) > TOLERANCE * GRAVITY:
        return None
    off, level = _fit_floor(table, arc.inside)
    away = np.column_stack([arc.rest, *off])
    a, b = int(arc.inside[0]), int(arc.inside[-1])
    if table.time[b] - table.time[a] < SHORTEST:
        return None
    begins, release = _find_start(table, a, away, arc.rise(table.time[a]))
    ends, catch = _find_end(table, b, away, arc.rise(table.time[b]))
    if begins == "bounce" or catch - release < SHORTEST or is_too_rough(table.values, away, arc.inside):
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
        metres_a_unit=1.0 if table.scale == 1.0 else GRAVITY / arc.gravity,
        release_height=arc.height(release),
        catch_height=arc.height(catch),
        distance=level * (catch - release),
        begins=begins,
        ends=ends,
    )


def _fit_arc(table: _Table, first: int, last: int) -> _Arc | None:
    """Fit a parabola to the height from the middle of a stretch outwards, for as long as readings stay on it.

    None where the stretch is too short, or too little of it was seen.
    """
    time, height, known = table.time, table.values[:, table.up], table.known
    a, b = _find_core(known, first, last)
    if time[last] - time[first] < SHORTEST or np.count_nonzero(known[a : b + 1]) < 5:
        return None
    for _ in range(4):
        inside = a + np.flatnonzero(known[a : b + 1])
        centre = float(time[a] + time[b]) / 2
        fitted = np.polynomial.Polynomial.fit(time[inside] - centre, height[inside], 2).convert()
        rest = height - fitted(time - centre)
        noise = float(np.std(rest[inside])) * math.sqrt(inside.size / max(inside.size - 3, 1))
        limit = 3.5 * max(noise, 1e-6 / table.scale)
        near = np.where(known, rest, 0.0)
        grown = grow(near, a, -1, limit), grow(near, b, 1, limit)
        if grown == (a, b):
            break
        a, b = grown
    level, slope, bend = (float(each) for each in fitted.coef)
    return _Arc(a + np.flatnonzero(known[a : b + 1]), centre, level, slope, bend, rest)


def _fit_floor(table: _Table, inside: Ints) -> tuple[list[Floats], float]:
    """Fit straight lines to the ways along the floor: what each leaves, shape (n,), and the speed along it."""
    time = table.time
    off, slopes = [], []
    for side in (i for i in range(table.values.shape[1]) if i != table.up):
        line = np.polynomial.Polynomial.fit(time[inside], table.values[inside, side], 1).convert()
        off.append(table.values[:, side] - line(time))
        slopes.append(float(line.coef[1]))
    return off, math.hypot(*slopes)


def _find_core(known: Flags, first: int, last: int) -> tuple[int, int]:
    """Return the middle half of a stretch; more of it where too little there was seen, as at the top of a picture."""
    for part in (4, 8, 16):
        core = max(3, (last - first) // part)
        a, b = first + core, last - core
        if b > a and known[a : b + 1].mean() > 0.5 and known[a] and known[b]:
            break
    return a, b


def _find_start(
    table: _Table, at: int, away: Floats, speed: float
) -> tuple[Literal["release", "edge", "bounce"], float]:
    """Return how the flight begins and when."""
    if at < _SEEN or not table.known[at - _SEEN : at].all():
        return "edge", float(table.time[at])
    came = _speed_beside(table, at, -1)
    if speed > 0 and came < -_BOUNCED * speed:
        return "bounce", float(table.time[at])
    return "release", find_leaving(table.time, away, at, -1, powers=(2,), seconds=_BEFORE)


def _find_end(table: _Table, at: int, away: Floats, speed: float) -> tuple[Literal["catch", "edge", "bounce"], float]:
    """Return how the flight ends and when."""
    if at + _SEEN >= len(table.time) or not table.known[at + 1 : at + 1 + _SEEN].all():
        return "edge", float(table.time[at])
    leaves = _speed_beside(table, at, 1)
    how: Literal["catch", "bounce"] = "bounce" if speed < 0 and leaves > -_BOUNCED * speed else "catch"
    return how, find_leaving(table.time, away, at, 1, powers=(1, 2), seconds=_AFTER)


def _speed_beside(table: _Table, at: int, way: int) -> float:
    """Upward speed just outside of an end."""
    step = float(table.time[1] - table.time[0])
    far = at + way * max(_SEEN, round(_BESIDE / step))
    # the first reading outside may still lie between both: begin behind it
    first, last = sorted((min(max(at + 2 * way, 0), len(table.time) - 1), min(max(far + way, 0), len(table.time) - 1)))
    if last - first < 1:
        return 0.0
    return float(np.polyfit(table.time[first : last + 1], table.values[first : last + 1, table.up], 1)[0])
