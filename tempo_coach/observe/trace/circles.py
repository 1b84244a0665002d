"""Circles of a tracked point in its plane: found by the winding of its velocity, timed at their low points."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from tempo_coach.observe.trace.carried import CARRIED, MOST_CIRCLES, Bout, as_line, find_direction, separate_carried
from tempo_coach.observe.trace.cycles import Cycles, time_cycles
from tempo_coach.observe.trace.filters import Complexes, band_pass, find_analytic, find_nearest
from tempo_coach.observe.trace.phase_following import CONCENTRATED, EDGE, NEAR_PHASE, TOO_SOON
from tempo_coach.observe.trace.resampling import Unrolled, resample, unroll
from tempo_coach.observe.trace.rhythm import ORDER, find_rhythm, refuse_slow
from tempo_coach.times import Floats, Ints, ascending, column, whole

if TYPE_CHECKING:
    from tempo_coach.observe.trace.carried import Separation
    from tempo_coach.observe.trace.trace import Trace


def to_plane(values: Floats, axes: tuple[str, ...]) -> Complexes:
    """Return positions in their plane of movement as complex numbers: real to the right, imaginary upwards.

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


Zero = Literal["low", "mount", "start"]

#: Winding of the velocity a cycle below which the point swings and makes no circles.
_CIRCLING = 0.6
#: Least area round which a path goes each cycle, relative to that of a circle of its size: 1 is a circle, 0 a line
#: there and back, whose velocity turns over at either end, to whichever side.
_LEAST_AREA = 0.03
#: Extent across the main axis, relative to that along it, below which circles are seen edge on: as a line.
_EDGE_ON = 0.25
#: Tolerance of the number of circles against that of cycles, where the circle is the cycle.
_AS_MANY = 0.1
#: Deviation of a cycle from the usual one below which it is even.
_EVEN = 0.25
#: Range in cycles of the rate that extrapolates a phase to its ends, and least cycles for that.
_STRAIGHT = (0.25, 1.25, 3.0)


@dataclass(frozen=True, eq=False)
class Circles:
    """Every circle of one tracked body, and the cycle that carries them.

    Parameters
    ----------
    time : array_like, shape (n,)
        Seconds at which each circle passes its low point, ascending.
    sense : array_like of int, shape (n,)
        +1 against the clock, -1 with it, looking at the plane; 0 where it does not show.
    place : array_like, shape (n,)
        Phase in the carrying cycle, 0 to 1 from its low point; 0 where the circle is the cycle.
    cycle : array_like of int, shape (n,)
        Number of the carrying cycle, from 0 through all bouts.
    cycles : Cycles
        The carrying cycles; their times are its low points where it was separated or is the circle itself.
    separations : tuple of Separation
        One a bout, where circles are carried; else empty.
    radius : float
        Of the circles, in the trace's unit; 0 where there are none.
    zero : {"low", "mount", "start"}
        Zero of the phase: the low point; a phase that depends on how the sensor is mounted; or the phase at the first
        reading.
    inside : bool
        Whether the circles lie inside a bigger cycle that was not separated.
    """

    time: Floats
    sense: Ints
    place: Floats
    cycle: Ints
    cycles: Cycles
    separations: tuple[Separation, ...] = ()
    radius: float = 0.0
    zero: Zero = "low"
    inside: bool = False

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
        return bool(self.separations) or self.inside


def find_circles(trace: Trace, *, period: float | None = None, circles: int | None = None) -> Circles:
    """Find every circle of a tracked point.

    Parameters
    ----------
    trace : Trace
        Positions of one body, as :func:`tempo_coach.observe.trace.selection.pick` gives it. With a single column there
        are cycles and no circles.
    period : float or None
        Of the whole cycle, where it is known.

    Raises
    ------
    CoachError
        As :func:`tempo_coach.observe.trace.cycles.find_cycles`.
    ValueError
        If the trace holds no positions.
    """
    if trace.quantity != "position":
        raise ValueError(f"find_circles: expected positions, got {trace.quantity}")
    resampled = resample(trace)
    rhythm = find_rhythm(resampled, period=period, order=ORDER[trace.quantity], circles=circles)
    unrolled = unroll(resampled, rhythm)
    cycles = time_cycles(unrolled, rhythm, trace)
    nothing = np.empty(0, dtype=np.int64)
    empty = Circles(np.empty(0), nothing, np.empty(0), nothing, cycles)
    inner = rhythm.period / rhythm.inner if rhythm.inner else 0.0
    is_height = trace.axes in (("y",), ("z",))
    if trace.values.shape[1] < 2 and not (inner and is_height):
        return empty
    path = np.asarray(1j * unrolled.values[:, 0]) if is_height else to_plane(unrolled.values, trace.axes)
    bouts = _cut_bouts(unrolled, path, cycles)
    edge_on = inner > 0 and _is_edge_on(bouts)
    if edge_on:
        bouts = [replace(bout, path=_round(bout.path)) for bout in bouts]
    turns = float(np.median(np.concatenate([_turns_a_cycle(bout) for bout in bouts])))
    if abs(turns) < _CIRCLING or (abs(turns) < CARRIED and _is_line(bouts)):
        return empty
    found = [separate_carried(bout, turns, inner=inner, circles=circles) for bout in bouts]
    if edge_on:
        found = [(bout, separation and as_line(separation)) for bout, separation in found]
    if all(separation is not None for _, separation in found):
        gathered = _gather_carried(found, cycles)
    else:
        gathered = _gather_plain(bouts, 1 if turns > 0 else -1, abs(turns), cycles)
        if abs(gathered.time.size - cycles.time.size) > max(2, _AS_MANY * cycles.time.size):
            return empty
    refuse_slow(gathered.time, resampled.step)
    return gathered


def settle(at: Floats, cycles: Cycles, *, keep: bool = False) -> Floats | None:
    """Return circles at one a cycle and their median phase where cycles are even, else as they were found.

    Parameters
    ----------
    at : numpy.ndarray, shape (k,)
        Seconds of the circles, ascending, of a body whose circle is its cycle.
    cycles : Cycles
        Of the same body.
    keep : bool
        True to put lost ones back only: a path that winds twice has two circles, however even its cycles look.

    Returns
    -------
    numpy.ndarray or None
        None where the circles fall at any phase of the cycles, so that they are none.
    """
    steps = np.diff(cycles.time)
    if at.size < 3 or steps.size < 3:
        return at
    typical = float(np.median(cycles.periods)) if cycles.periods.size else float(np.median(steps))
    even = np.concatenate([[False], cycles.within & (np.abs(steps / typical - 1) < _EVEN), [False]])
    # a cycle is even with its neighbours, so that what belongs to one that broke stays with it
    even[1:-1] &= (even[:-2] | (np.arange(steps.size) == 0)) & (even[2:] | (np.arange(steps.size) == steps.size - 1))
    turns = np.interp(at, cycles.time, np.arange(cycles.time.size))
    number = np.clip(np.searchsorted(cycles.time, at, side="right"), 0, steps.size + 1)
    inner = even[number]
    if inner.sum() < 3:
        return at
    mean = np.exp(2j * np.pi * turns[inner]).mean()
    if abs(mean) < CONCENTRATED:
        return None
    wanted = np.flatnonzero(even[1:-1]) + float(np.angle(mean) / (2 * np.pi)) % 1
    nearest = find_nearest(turns, wanted)
    found = np.abs(turns[nearest] - wanted) < NEAR_PHASE
    timed = np.where(found, at[nearest], np.interp(wanted, np.arange(cycles.time.size), cycles.time))
    if keep:
        return np.unique(np.concatenate([at, timed[~found]]))
    others = at[~inner]
    away = np.abs(others - timed[find_nearest(timed, others)])
    return np.unique(np.concatenate([timed, others[away > TOO_SOON * typical]]))


def _cut_bouts(unrolled: Unrolled, path: Complexes, cycles: Cycles) -> list[Bout]:
    """Return the readings as one stretch a bout."""
    bouts = []
    for number, (start, end) in enumerate(cycles.span):
        part = slice(int(np.searchsorted(unrolled.time, start)), int(np.searchsorted(unrolled.time, end)) + 1)
        bouts.append(Bout(number, unrolled.time[part], path[part], unrolled.known[part], unrolled.per_cycle))
    return bouts


def _is_line(bouts: list[Bout]) -> bool:
    """Return True for a path to and fro along a line or an arc."""
    area, whole = 0.0, 0.0
    for bout in bouts:
        path = bout.path - bout.path.mean()
        area += float((path[:-1].conj() * path[1:]).imag.sum()) / 2
        whole += np.pi * float(np.mean(np.abs(path) ** 2)) * path.size / bout.per_cycle
    return abs(area) < _LEAST_AREA * whole


def _is_edge_on(bouts: list[Bout]) -> bool:
    """Return True where a path has hardly any extent across its main axis, so that its sense does not show."""
    moved = np.concatenate([bout.path - bout.path.mean() for bout in bouts])
    across, along = np.linalg.eigvalsh(np.cov(moved.real, moved.imag))
    return bool(across < _EDGE_ON**2 * along)


def _round(path: Complexes) -> Complexes:
    """Return a path along a line as a rotation: its component across is replaced by the Hilbert transform."""
    moved = path - path.mean()
    axis = np.exp(0.5j * np.angle((moved**2).sum()))
    upright = (moved * axis.conj()).real * (1 if axis.imag >= 0 else -1)
    return np.asarray(1j * find_analytic(upright))


def _turns_a_cycle(bout: Bout) -> Floats:
    direction = find_direction(bout, float(MOST_CIRCLES))
    if direction.size <= bout.per_cycle:
        return np.array([direction[-1] - direction[0]])
    return np.asarray(direction[bout.per_cycle :: bout.per_cycle] - direction[: -bout.per_cycle : bout.per_cycle])


def _low_points(time: Floats, phase: Floats, *, edge: float = 0.0) -> tuple[Floats, Floats]:
    """Return the instants at which an ascending phase is an integer, and the integers; near the edges too."""
    numbers = np.arange(np.ceil(phase[0] - edge), np.floor(phase[-1] + edge) + 1)
    rising = np.concatenate([[True], np.diff(phase) > 0])
    return np.asarray(np.interp(numbers, phase[rising], time[rising])), numbers


def _gather_carried(found: list[tuple[Bout, Separation | None]], cycles: Cycles) -> Circles:
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
        low_at, _ = _low_points(bout.time, _straight_ends(separation.carrying), edge=EDGE)
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
        np.interp(begun, cycles.time, cycles.amplitude),
        cycles.span,
        cycles.gaps,
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


def _straight_ends(phase: Floats) -> Floats:
    """Extrapolate a phase linearly at both ends, from a quarter of a cycle inside, where the fit is poor."""
    turns = phase[-1] - phase[0]
    if turns < _STRAIGHT[2]:
        return phase
    quarter, more = (round(phase.size * part / turns) for part in _STRAIGHT[:2])
    out = phase.copy()
    rate = (phase[more] - phase[quarter]) / (more - quarter)
    out[:quarter] = phase[quarter] - rate * np.arange(quarter, 0, -1)
    rate = (phase[-1 - quarter] - phase[-1 - more]) / (more - quarter)
    out[phase.size - quarter :] = phase[-1 - quarter] + rate * np.arange(1, quarter + 1)
    return out


def _widest_gap(places: Floats) -> float:
    """Return the midpoint of the widest gap between phases, 0 to 1."""
    if not places.size:
        return 0.0
    ordered = np.sort(places)
    gaps = np.diff(np.concatenate([ordered, [ordered[0] + 1]]))
    widest = int(np.argmax(gaps))
    return float((ordered[widest] + gaps[widest] / 2) % 1)


def _gather_plain(bouts: list[Bout], sense: int, turns: float, cycles: Cycles) -> Circles:
    """Return circles that are the cycle itself, timed where the velocity is horizontal at the bottom."""
    time, radii = [], []
    for bout in bouts:
        seen = bout if sense > 0 else Bout(bout.number, bout.time, -bout.path.conj(), bout.known, bout.per_cycle)
        phase = np.maximum.accumulate(find_direction(seen, 4.0 * max(turns, 1.0)))
        at, _ = _low_points(bout.time, phase)
        time.append(at)
        radii.append(np.std(band_pass(bout.path, bout.per_cycle, 0.3, 4.0)))
    at_all = np.concatenate(time)
    settled = settle(at_all, cycles, keep=True)
    at_all = at_all if settled is None else settled
    order = np.clip(np.searchsorted(cycles.span[:, 0], at_all, side="right") - 1, 0, None)
    amplitude = np.interp(at_all, cycles.time, cycles.amplitude)
    circles = Cycles(
        at_all, order, cycles.rhythm, cycles.timed_by, cycles.direction, amplitude, cycles.span, cycles.gaps
    )
    return Circles(
        at_all,
        np.full(at_all.size, sense),
        np.zeros(at_all.size),
        np.arange(at_all.size),
        circles,
        (),
        float(np.mean(radii)),
    )
