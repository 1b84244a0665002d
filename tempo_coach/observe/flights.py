"""Flights in a position trace: stretches of free fall, with release, catch, speed, angle and top.

In free flight the height is a parabola that bends by g, and the way sideways is a straight line. Air drag bends a
club's or a ball's path by a few per cent; a hoop seen face on feels more (its own g then comes out larger going up).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.rhythm import to_grid

if TYPE_CHECKING:
    from tempo_coach.observe.trace import Trace
    from tempo_coach.times import Floats

#: Standard gravity in m/s² (CGPM 1901).
GRAVITY = 9.80665
#: Shorter free falls are hops of the tracker or parts of a swing.
SHORTEST = 0.3
#: How far g may come out beside its value and still be free fall, where the unit is the metre.
_TOLERANCE = 0.15
#: A fit to a piece of a circle leaves several times the noise; one to a flight leaves the noise.
_ROUGH = 1.6
_WINDOW = 0.24


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

    @property
    def seconds(self) -> float:
        """Time in the air."""
        return self.catch - self.release


def find_flights(trace: Trace) -> list[Flight]:
    """Find the free flights of one tracked point.

    Windows of a quarter of a second are fitted with a parabola; where it bends downwards by one steady amount (g, where
    the unit is the metre) and the way sideways is straight, the point flies free. The stretch is grown at both ends
    for as long as the readings stay on the parabola, and its ends are interpolated to where they leave it.

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
    bend, left = _bends(grid.values[:, up], half, grid.step)
    scale = 1.0 if trace.unit == "m" else _scale(bend, left)
    if scale is None:
        return []
    free = np.abs(bend * scale + GRAVITY) < 2.5 * _TOLERANCE * GRAVITY
    flights: list[Flight] = []
    for first, last in _runs(free):
        flight = _measure(grid.time, grid.values, up, max(0, first - half), min(len(free) - 1, last + half), scale)
        if flight is not None and (not flights or flight.release >= flights[-1].catch):
            flights.append(flight)
    return flights


def _bends(height: Floats, half: int, step: float) -> tuple[Floats, Floats]:
    """Return the second derivative of the parabola through each window, and what it leaves (SD); NaN at the ends."""
    at = np.arange(-half, half + 1) * step
    design = np.column_stack([np.ones(at.size), at, at**2 / 2])
    fit = np.linalg.pinv(design)
    windows = np.lib.stride_tricks.sliding_window_view(height, at.size)
    coefs = windows @ fit.T
    rest = windows - coefs @ design.T
    pad = np.full(half, np.nan)
    sd = np.sqrt((rest**2).sum(axis=1) / max(at.size - 3, 1))
    return np.concatenate([pad, coefs[:, 2], pad]), np.concatenate([pad, sd, pad])


def _scale(bend: Floats, left: Floats) -> float | None:
    """Metres a unit, from the bend that holds longest; None where no steady downward bend lasts."""
    known = np.nan_to_num(bend, nan=0.0)
    down = known < -1e-9
    if not down.any():
        return None
    best, longest = None, 0.0
    quiet = left < 3 * np.nanmedian(left) + 1e-12
    for trial in np.quantile(known[down], np.linspace(0.02, 0.98, 49)):
        steady = (np.abs(known - trial) < _TOLERANCE * abs(trial)) & quiet
        runs = _runs(steady)
        # A long flight is worth more than two short ones: count squared lengths.
        worth = float(sum((b - a) ** 2 for a, b in runs))
        if worth > longest:
            best, longest = float(trial), worth
    return GRAVITY / -best if best is not None else None


def _runs(flags: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))).reshape(-1, 2)
    return [(int(a), int(b) - 1) for a, b in edges]


def _measure(time: Floats, values: Floats, up: int, first: int, last: int, scale: float) -> Flight | None:
    """Fit one flight: from its middle outwards for as long as readings stay on the parabola."""
    if time[last] - time[first] < SHORTEST:
        return None
    core = max(3, (last - first) // 4)
    a, b = first + core, last - core
    if b - a < 4:
        return None
    height = None
    for _ in range(4):
        inside = slice(a, b + 1)
        centre = (time[a] + time[b]) / 2
        height = np.polynomial.Polynomial.fit(time[inside] - centre, values[inside, up], 2).convert()
        rest = values[:, up] - height(time - centre)
        noise = max(float(np.std(rest[inside])) * math.sqrt((b - a + 1) / max(b - a - 2, 1)), 1e-6 / scale)
        grown_a, grown_b = _grow(rest, a, -1, 3.5 * noise), _grow(rest, b, 1, 3.5 * noise)
        if (grown_a, grown_b) == (a, b):
            break
        a, b = grown_a, grown_b
    if height is None:
        return None
    gravity = -2 * float(height.coef[2])
    if abs(gravity * scale - GRAVITY) > _TOLERANCE * GRAVITY or time[b] - time[a] < SHORTEST:
        return None
    side = [i for i in range(values.shape[1]) if i != up]
    lines = [np.polynomial.Polynomial.fit(time[a : b + 1], values[a : b + 1, i], 1).convert() for i in side]
    away = np.column_stack([rest, *(values[:, i] - line(time) for i, line in zip(side, lines, strict=True))])
    release = _leave(time, away, a, -1, powers=(2, 3))
    catch = _leave(time, away, b, 1, powers=(1, 2))
    if catch - release < SHORTEST or _too_rough(values[a : b + 1], away[a : b + 1]):
        return None
    off = [values[a : b + 1, i] - line(time[a : b + 1]) for i, line in zip(side, lines, strict=True)]
    level = math.hypot(*(float(line.coef[1]) for line in lines)) if lines else 0.0
    rise = float(height.deriv()(release - centre))
    top = -float(height.coef[1]) / (2 * float(height.coef[2]))
    return Flight(
        release,
        catch,
        math.hypot(level, rise),
        math.degrees(math.atan2(rise, level)),
        float(height(top)),
        float(top + centre),
        gravity,
        float(np.sqrt(np.mean(np.square(off)))) if off else 0.0,
        1.0 if scale == 1.0 else GRAVITY / gravity,
    )


def _too_rough(readings: Floats, away: Floats) -> bool:
    """Whether the readings leave the free path by more than their own noise, which their third differences show."""
    noise = np.std(np.diff(readings, 3, axis=0)) / math.sqrt(20)
    return bool(np.std(away) > _ROUGH * noise + 1e-4 * np.ptp(readings))


def _leave(time: Floats, away: Floats, at: int, way: int, *, powers: tuple[int, int]) -> float:
    """Return the instant at which the readings leave the free path, to a fraction of a step.

    Beyond it they bend away like the given powers of the time since: smoothly at a release, where hand and apparatus
    still move together, and with a kink at a catch. Every instant near the reading that was found is tried, and the
    one with the least squares is taken.
    """
    step = float(time[1] - time[0])
    reach = max(4, round(0.06 / step))
    inner = max(6, round(0.15 / step))
    first, last = (at - reach, at + inner) if way < 0 else (at - inner, at + reach)
    window = slice(max(0, first), min(time.size, last + 1))
    near, rest = time[window], away[window]
    best, least = float(time[at]), math.inf
    for trial in np.linspace(time[at] - reach * step, time[at] + reach * step, 16 * reach + 1):
        since = np.maximum(way * (near - trial), 0.0) / step
        if np.count_nonzero(since) < 3:
            continue
        design = np.column_stack([since**power for power in powers])
        fit, *_ = np.linalg.lstsq(design, rest, rcond=None)
        left = float(((rest - design @ fit) ** 2).sum())
        if left < least:
            best, least = float(trial), left
    return best


def _grow(rest: Floats, at: int, way: int, limit: float) -> int:
    """Step outwards while readings stay within the limit; two in a row outside end it."""
    while 0 <= at + way < rest.size:
        beyond = at + 2 * way
        if abs(rest[at + way]) > limit and (not 0 <= beyond < rest.size or abs(rest[beyond]) > limit):
            break
        at += way
    return at
