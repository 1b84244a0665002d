"""A trace by itself, put together: cycles, circles, places, lags, flights and the cycles that broke."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.flights import find_flights
from tempo_coach.observe.trace.selection import pick, pick_second
from tempo_coach.observe.trace.sizes import compare_sizes, find_odd_sizes
from tempo_coach.observe.trace.tracked_body import observe, observe_low
from tempo_coach.observe.trace.uneven import count_circles, find_uneven
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.measures.circular import circular_sd, mean_direction, resultant_length
from tempo_coach.score.trace.body_lag import measure_lag
from tempo_coach.score.trace.throws import set_tosses_beside

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.trace.circles import Circles
    from tempo_coach.observe.trace.flights import Flight
    from tempo_coach.observe.trace.sizes import SizeRatio
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.observe.trace.tracked_body import TrackedBody
    from tempo_coach.observe.trace.uneven import Uneven
    from tempo_coach.score.trace.body_lag import BodyLag
    from tempo_coach.score.trace.throws import Tossed
    from tempo_coach.times import Floats

#: Below this confidence the period is doubtful: then no cycle is said to have broken.
SURE = 0.5


@dataclass(frozen=True)
class CirclePhase:
    """Phase of one of the circles in the carrying cycle.

    Parameters
    ----------
    at : float
        Circular mean, 0 to 1 from the cycle's low point.
    sd : float
        Circular SD, in parts of the cycle.
    n : int
        Cycles that it rests on.
    """

    at: float
    sd: float
    n: int


@dataclass(frozen=True, eq=False)
class Study:
    """The findings in a trace.

    Parameters
    ----------
    bodies : tuple of TrackedBody
        The one that was asked for, and the one that it is set against; none where nothing repeats and something flies.
    places : tuple of CirclePhase
        Of the first body's circles in their carrying cycle; empty where nothing carries them.
    lags : tuple of BodyLag
    tossed : tuple of Tossed
        Its flights, beside what was asked.
    uneven : tuple of tuple
        ``(body's name, Uneven)``; none of a body whose period is doubtful.
    left_out : tuple of Reason
        What could not be had, and why.
    size_ratios : tuple of SizeRatio
        Of the second body's circles to the first's; empty where no sizes show.
    """

    bodies: tuple[TrackedBody, ...]
    places: tuple[CirclePhase, ...]
    lags: tuple[BodyLag, ...]
    tossed: tuple[Tossed, ...]
    uneven: tuple[tuple[str, Uneven], ...]
    left_out: tuple[Reason, ...] = ()
    size_ratios: tuple[SizeRatio, ...] = ()

    @property
    def main(self) -> TrackedBody:
        """The requested body.

        Raises
        ------
        CoachError
            If nothing in the trace repeats: it has flights only.
        """
        if not self.bodies:
            raise CoachError("trace.only_flies")
        return self.bodies[0]


def study(
    trace: Trace,
    *,
    point: str | None = None,
    columns: Sequence[str] = (),
    against: Sequence[str] = (),
    asked_deg: float | None = None,
    period: float | None = None,
    circles: int | None = None,
    toss: Mapping[str, float] | None = None,
) -> Study:
    """Analyse one tracked body of a trace, and optionally a second one.

    Parameters
    ----------
    trace : Trace
    point : str or None
        As in :func:`tempo_coach.observe.trace.selection.pick`.
    columns, against : sequence of str
        Columns of the body and of the second one, or a single name of a point in ``against``. Without either the
        next point of the trace is the second body, where there is one with the same quantity; who names columns has
        said what to look at.
    asked_deg : float or None
        Expected lag of the second body.
    period : float or None
        Of the cycle, where it is known.
    circles : int or None
        Of each cycle, where a pattern says so.
    toss : mapping or None
        The toss that was asked for, as in :func:`tempo_coach.score.trace.throws.set_tosses_beside`.

    Raises
    ------
    CoachError
        If nothing can be read, or nothing repeats or flies.
    """
    first = pick(trace, point=point, columns=columns)
    left_out: list[Reason] = []
    flights: list[Flight] = []
    if first.quantity == "position":
        try:
            flights = find_flights(first)
        except CoachError as error:
            left_out.append(Reason(Why.NO_FLIGHTS, (error,)))
    tossed = set_tosses_beside(flights, toss)
    try:
        bodies = [observe(first, period=period, circles=circles)]
    except CoachError as error:
        if not tossed:
            raise
        return Study((), (), (), tuple(tossed), (), (*left_out, Reason(Why.NO_CYCLES, (error,))))
    try:
        other = None if columns and not against else pick_second(trace, first, against)
        if other is not None:
            bodies.append(observe(other, period=period, circles=circles))
    except CoachError as error:
        if against:
            raise
        left_out.append(Reason(Why.NO_SECOND, (error,)))
    low = [observe_low(trace, body) for body in bodies] if len(bodies) > 1 else bodies
    asked = math.nan if asked_deg is None else asked_deg
    lags = [measure_lag(body, low[0], asked_deg=asked) for body in low[1:]]
    sure = [body for body in bodies if body.cycles.rhythm.confidence >= SURE]
    uneven = [(body.name, flag) for body in sure for flag in _find_flags(trace, body)]
    left_out += [Reason(Why.CAMERA_UNKNOWN_UNMARKED) for body in bodies[:1] if not math.isfinite(_noise(body))]
    sized = [body for body in bodies[1:] if not (body.trace.is_dial or bodies[0].trace.is_dial)]
    ratios = tuple(ratio for body in sized if (ratio := compare_sizes(body, bodies[0])))
    places = find_places(bodies[0].circles, without=_spans(bodies[0], uneven))
    return Study(
        tuple(bodies), places, tuple(lags), tuple(tossed), tuple(uneven), tuple(left_out), tuple(r for r in ratios if r)
    )


def _find_flags(trace: Trace, body: TrackedBody) -> list[Uneven]:
    """Return the uneven cycles of a body; of a phase only those beyond its noise and surely observed."""
    found = find_uneven(body.circles, noise=_noise(body))
    if not body.trace.is_dial:
        return [*found, *find_odd_sizes(body)]
    sure = [k for k, channel in enumerate(trace.channels) if channel.name == f"{body.name} confidence"]
    unsure = trace.time[(trace.values[:, sure] <= 0).any(axis=1)]
    return [flag for flag in found if not ((unsure > flag.start) & (unsure < flag.end)).any()]


def _noise(body: TrackedBody) -> float:
    return body.trace.timing_sd.get(body.trace.channels[0].point, 0.0)


def find_places(circles: Circles, *, without: Sequence[tuple[float, float]] = ()) -> tuple[CirclePhase, ...]:
    """Return the circular mean phase of each circle in its carrying cycle, over the whole cycles.

    Only cycles with the median number of circles are used, so that the k-th circle of each is the same circle; those
    that lie in one of the stretches ``without`` are left out. None where
    the sensor does not show the cycle's low point.
    """
    if not circles.carried or circles.zero != "low":
        return ()
    numbers, counts = count_circles(circles)
    if not numbers.size:
        return ()
    median = int(np.median(counts))
    fair = []
    for number in numbers[counts == median]:
        mine = slice(*np.searchsorted(circles.cycle, [number, number + 1]))
        middle = float(circles.time[mine].mean())
        if not any(start <= middle <= end for start, end in without):
            fair.append(circles.place[mine])
    rows = np.array(fair)
    if not rows.size:
        return ()
    places = [_summarise(column) for column in rows.T]
    return tuple(sorted(places, key=lambda place: place.at))


def _spans(body: TrackedBody, uneven: Sequence[tuple[str, Uneven]]) -> list[tuple[float, float]]:
    return [(flag.start, flag.end) for name, flag in uneven if name == body.name]


def _summarise(places: Floats) -> CirclePhase:
    degrees = np.asarray(places) * 360.0
    mean = mean_direction(degrees) % 360.0
    return CirclePhase(mean / 360.0 % 1.0, circular_sd(resultant_length(degrees)) / 360.0, int(degrees.size))
