"""Circles of a tracked point: found by the winding of the velocity's direction, timed at their low point.

A circle is one turn of the direction in which the point moves. Where an arm carries the circles (the rope's figure
eight, mills round a bigger circle), the path's loops lean over and the winding only counts; the two movements are
then separated, and a circle's time is the low point of the small circle itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from tempo_coach.observe.cycles import Cycles, time_cycles
from tempo_coach.observe.even_steps import to_grid
from tempo_coach.observe.rhythm import find_rhythm, refuse_slow
from tempo_coach.observe.separate import Separation, separate
from tempo_coach.observe.warp import Complexes, Unrolled, band, low, unroll
from tempo_coach.times import Floats, Ints, ascending, column, whole

if TYPE_CHECKING:
    from tempo_coach.observe.trace import Trace

Zero = Literal["low", "mount", "start"]

#: Turns of the velocity's direction a cycle, from which circles lie inside a cycle; under the lower one it swings.
_CARRIED, _CIRCLING = 1.5, 0.6
#: Readings a small circle that are kept for the separation, once it has been filtered.
_READINGS = 16
#: A small circle hidden in a bigger one must reach this part of its radius to be looked for.
_HIDDEN = 0.08
_MOST_CIRCLES = 12


@dataclass(frozen=True, eq=False)
class Circles:
    """Every circle of one mover, and the cycle that carries them.

    Parameters
    ----------
    time : array_like, shape (n,)
        Seconds at which each circle passes its low point, ascending.
    sense : array_like of int, shape (n,)
        +1 against the clock, -1 with it, looking at the plane; 0 where it does not show.
    place : array_like, shape (n,)
        Where in the carrying cycle it fell, 0 to 1 from the cycle's low point; 0 where the circle is the cycle.
    cycle : array_like of int, shape (n,)
        Number of the carrying cycle, from 0 through all bouts.
    cycles : Cycles
        The carrying cycles; their times are its low points where it was separated or is the circle itself.
    separations : tuple of Separation
        One a bout, where circles are carried; else empty.
    radius : float
        Of the circles, in the trace's unit; 0 where there are none.
    zero : {"low", "mount", "start"}
        What circles and cycles are counted from: their low point; a place that depends on how the sensor sits; or
        where the mover was when the readings begin.
    """

    time: Floats
    sense: Ints
    place: Floats
    cycle: Ints
    cycles: Cycles
    separations: tuple[Separation, ...] = ()
    radius: float = 0.0
    zero: Zero = "low"

    def __post_init__(self) -> None:
        object.__setattr__(self, "time", ascending(self.time, name="time"))
        object.__setattr__(self, "sense", whole(self.sense, name="sense"))
        object.__setattr__(self, "place", column(self.place, name="place"))
        object.__setattr__(self, "cycle", whole(self.cycle, name="cycle"))
        if not self.time.size == self.sense.size == self.place.size == self.cycle.size:
            raise ValueError("Circles: expected columns of equal length")

    @property
    def carried(self) -> bool:
        """Whether the circles lie inside a bigger cycle."""
        return bool(self.separations)


@dataclass(frozen=True, eq=False)
class _Bout:
    """A stretch of unrolled readings in which the movement goes on."""

    number: int
    time: Floats
    path: Complexes
    known: np.ndarray[tuple[int], np.dtype[np.bool_]]
    per_cycle: int


def find_circles(trace: Trace, *, period: float | None = None) -> Circles:
    """Find every circle of a tracked point.

    Parameters
    ----------
    trace : Trace
        Positions of one mover, as :func:`tempo_coach.observe.trace.pick` gives it. With a single column there are
        cycles and no circles.
    period : float or None
        Of the whole cycle, where it is known.

    Raises
    ------
    CoachError
        As :func:`tempo_coach.observe.cycles.find_cycles`.
    ValueError
        If the trace holds no positions.
    """
    if trace.quantity != "position":
        raise ValueError(f"find_circles: expected positions, got {trace.quantity}")
    grid = to_grid(trace)
    rhythm = find_rhythm(grid, period=period)
    unrolled = unroll(grid, rhythm)
    cycles = time_cycles(unrolled, rhythm, trace)
    nothing = np.empty(0, dtype=np.int64)
    empty = Circles(np.empty(0), nothing, np.empty(0), nothing, cycles)
    if trace.values.shape[1] < 2:
        return empty
    bouts = _cut_bouts(unrolled, to_plane(unrolled.values, trace.axes), cycles)
    turns = float(np.median(np.concatenate([_turns_a_cycle(bout) for bout in bouts])))
    if abs(turns) < _CIRCLING:
        return empty
    found = [_carried(bout, turns) for bout in bouts]
    if all(separation is not None for _, separation in found):
        circles = _gather_carried(found, cycles)
    else:
        circles = _gather_plain(bouts, 1 if turns > 0 else -1, abs(turns), cycles)
    refuse_slow(circles.time, grid.step)
    return circles


def to_plane(values: Floats, axes: tuple[str, ...]) -> Complexes:
    """Return positions in their plane of movement, real to the right and imaginary upwards.

    Parameters
    ----------
    values : numpy.ndarray, shape (n, 2) or (n, 3)
    axes : tuple of str
        What the columns are. Upwards is z if there is one, else y, else the second column.

    Returns
    -------
    numpy.ndarray of complex, shape (n,)
        With two columns the picture as it is; with three the plane that holds most of the movement, seen from the
        side on which the first column runs to the right. A level plane is seen from above.
    """
    if values.shape[1] == 2:
        flip = "y" in axes and axes.index("y") == 0 and "x" in axes
        first, second = (1, 0) if flip else (0, 1)
        return np.asarray(values[:, first] + 1j * values[:, second])
    centred = values - values.mean(axis=0)
    normal = np.linalg.eigh(centred.T @ centred)[1][:, 0]
    up = np.eye(3)[2]
    if abs(normal @ up) > 0.9:
        up = np.eye(3)[1]
    up = up - (up @ normal) * normal
    up /= np.linalg.norm(up)
    right = np.cross(up, normal)
    lead = right[np.argmax(np.abs(right))]
    if lead < 0:
        right = -right
    return np.asarray(centred @ right + 1j * (centred @ up))


def _cut_bouts(unrolled: Unrolled, path: Complexes, cycles: Cycles) -> list[_Bout]:
    """One stretch a bout."""
    bouts = []
    for number, (start, end) in enumerate(cycles.span):
        part = slice(int(np.searchsorted(unrolled.time, start)), int(np.searchsorted(unrolled.time, end)) + 1)
        bouts.append(_Bout(number, unrolled.time[part], path[part], unrolled.known[part], unrolled.per_cycle))
    return bouts


def _direction(bout: _Bout, corner: float) -> Floats:
    """Direction of the velocity in turns, unwrapped; whole at the low point of a circle against the clock."""
    path = low(bout.path, bout.per_cycle, corner)
    velocity = np.gradient(path.real) + 1j * np.gradient(path.imag)
    return np.asarray(np.unwrap(np.angle(velocity)) / (2 * np.pi))


def _turns_a_cycle(bout: _Bout) -> Floats:
    direction = _direction(bout, float(_MOST_CIRCLES))
    if direction.size <= bout.per_cycle:
        return np.array([direction[-1] - direction[0]])
    return np.asarray(direction[bout.per_cycle :: bout.per_cycle] - direction[: -bout.per_cycle : bout.per_cycle])


def _carried(bout: _Bout, turns: float) -> tuple[_Bout, Separation | None]:
    """Separate small circles from what carries them, or return None where there is nothing to separate."""
    if abs(turns) >= _CARRIED:
        small = _direction(bout, 4 * abs(turns)) - 0.25
        many = abs(turns)
    else:
        hidden = _hidden_circle(bout, 1 if turns > 0 else -1)
        if hidden is None:
            return bout, None
        small, many = hidden
    carrier = low(bout.path, bout.per_cycle, np.sqrt(max(many, 1.5)))
    carrier = carrier - low(carrier, bout.per_cycle, 0.4)
    slow = _carrier_phase(carrier)
    step = max(1, int(bout.per_cycle / (_READINGS * many)))
    smooth = low(bout.path, bout.per_cycle, 5 * many)
    slow = _straighten(slow, bout.per_cycle // 4)
    small = _straighten(small, int(bout.per_cycle / (4 * many)))
    kept = slice(None, None, step)
    thinned = _Bout(bout.number, bout.time[kept], smooth[kept], bout.known[kept], bout.per_cycle)
    separation = separate(thinned.time, thinned.path, slow[kept], small[kept], known=thinned.known)
    return thinned, separation


def _straighten(phase: Floats, width: int) -> Floats:
    """Replace both ends of a first guess by straight lines: filters leave it no meaning there."""
    n = phase.size
    if width < 1 or n < 6 * width:
        return phase
    out = phase.copy()
    start = (phase[3 * width] - phase[width]) / (2 * width)
    end = (phase[n - 1 - width] - phase[n - 1 - 3 * width]) / (2 * width)
    out[:width] = phase[width] - start * np.arange(width, 0, -1)
    out[n - width :] = phase[n - 1 - width] + end * np.arange(1, width + 1)
    return out


def _carrier_phase(carrier: Complexes) -> Floats:
    """Phase of the carrying ellipse in turns: of its main axis, by the analytic signal."""
    from scipy.signal import hilbert

    axis = np.exp(0.5j * np.angle((carrier**2).sum()))
    main = (carrier * axis.conj()).real
    return np.asarray(np.unwrap(np.angle(hilbert(main))) / (2 * np.pi))


def _hidden_circle(bout: _Bout, sense: int) -> tuple[Floats, float] | None:
    """Find a small circle inside one that moves faster: its phase in turns, and how many there are a cycle.

    What the first harmonic of the cycle leaves is searched for the strongest line at two circles a cycle or more.
    """
    n = bout.path.size
    if n < 3 * bout.per_cycle:
        return None
    left = bout.path - low(bout.path, bout.per_cycle, 1.6)
    window = np.hanning(n)
    spectrum = np.abs(np.fft.fft(left * window)) / window.sum()
    cycles_a_cycle = np.fft.fftfreq(n, 1 / bout.per_cycle)
    range_ = (np.abs(cycles_a_cycle) >= 1.7) & (np.abs(cycles_a_cycle) <= _MOST_CIRCLES)
    at = int(np.argmax(np.where(range_, spectrum, 0)))
    main = float(np.std(bout.path))
    if spectrum[at] < _HIDDEN * main or spectrum[at] < 8 * np.median(spectrum[range_]):
        return None
    many = float(cycles_a_cycle[at])
    shift = np.exp(-2j * np.pi * many * np.arange(n) / bout.per_cycle)
    slow = low(left * shift, bout.per_cycle, 0.6)
    phase = np.unwrap(np.angle(slow * shift.conj())) / (2 * np.pi)
    # One circle that broke has such a line too, but only where it broke.
    if abs(many - sense) < 0.5 or np.median(np.abs(slow)) < 0.5 * _HIDDEN * main:
        return None
    return np.asarray(phase), abs(many)


def _low_points(time: Floats, phase: Floats) -> tuple[Floats, Floats]:
    """Instants at which an ascending phase is whole, and the whole numbers."""
    numbers = np.arange(np.ceil(phase[0]), np.floor(phase[-1]) + 1)
    rising = np.concatenate([[True], np.diff(phase) > 0])
    return np.asarray(np.interp(numbers, phase[rising], time[rising])), numbers


def _gather_carried(found: list[tuple[_Bout, Separation | None]], cycles: Cycles) -> Circles:
    time, place, cycle, sense, starts, numbers = [], [], [], [], [], []
    before = 0
    separations = []
    for bout, separation in found:
        if separation is None:
            continue
        separations.append(separation)
        at, _ = _low_points(bout.time, separation.small)
        where = np.interp(at, bout.time, separation.carrying)
        time.append(at)
        place.append(where % 1)
        # Circles near the cycle's low point fall now before it and now after: count from the widest empty arc.
        edge = _widest_gap(where % 1)
        cycle.append(np.floor(where - edge) - np.floor(where[0] - edge) + before if at.size else where)
        sense.append(np.full(at.size, separation.small_sense))
        low_at, _ = _low_points(bout.time, separation.carrying)
        starts.append(low_at)
        numbers.append(np.full(low_at.size, bout.number))
        before = int(cycle[-1][-1]) + 1 if at.size else before
    begun = np.concatenate(starts)
    order = np.concatenate(numbers)
    carrying = Cycles(
        begun,
        order,
        cycles.rhythm,
        cycles.timed_by,
        cycles.direction,
        np.interp(begun, cycles.time, cycles.reach),
        cycles.span,
    )
    at_all = np.concatenate(time)
    return Circles(
        at_all,
        np.concatenate(sense),
        np.concatenate(place),
        np.concatenate(cycle),
        carrying,
        tuple(separations),
        float(np.mean([s.small_radius for s in separations])),
    )


def _widest_gap(places: Floats) -> float:
    """Return the middle of the widest stretch of the cycle, 0 to 1, in which no place lies."""
    if not places.size:
        return 0.0
    ordered = np.sort(places)
    gaps = np.diff(np.concatenate([ordered, [ordered[0] + 1]]))
    widest = int(np.argmax(gaps))
    return float((ordered[widest] + gaps[widest] / 2) % 1)


def _gather_plain(bouts: list[_Bout], sense: int, turns: float, cycles: Cycles) -> Circles:
    """Circles that are the cycle itself, timed where the velocity is level at the bottom."""
    time, numbers, radii = [], [], []
    for bout in bouts:
        seen = bout if sense > 0 else _Bout(bout.number, bout.time, -bout.path.conj(), bout.known, bout.per_cycle)
        phase = np.maximum.accumulate(_direction(seen, 4.0 * max(turns, 1.0)))
        at, _ = _low_points(bout.time, phase)
        time.append(at)
        numbers.append(np.full(at.size, bout.number))
        radii.append(np.sqrt(2) * np.std(band(bout.path, bout.per_cycle, 0.3, 4.0)) / np.sqrt(2))
    at_all, order = np.concatenate(time), np.concatenate(numbers)
    reach = np.interp(at_all, cycles.time, cycles.reach)
    circles = Cycles(at_all, order, cycles.rhythm, cycles.timed_by, cycles.direction, reach, cycles.span)
    return Circles(
        at_all,
        np.full(at_all.size, sense),
        np.zeros(at_all.size),
        np.arange(at_all.size),
        circles,
        (),
        float(np.mean(radii)),
    )
