"""One tracked body of a trace, a point or a sensor: its cycles, circles and events."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.circles import Circles, find_circles
from tempo_coach.observe.trace.cycles import Cycles, find_cycles
from tempo_coach.observe.trace.inertial import find_low_points, find_turns
from tempo_coach.observe.trace.selection import pick

if TYPE_CHECKING:
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.times import Floats


@dataclass(frozen=True, eq=False)
class TrackedBody:
    """A tracked point or sensor, with its cycles and circles.

    Parameters
    ----------
    name : str
        The point or sensor; the columns' names where it has none.
    trace : Trace
        Its own columns.
    circles : Circles
        Empty where it only swings.
    """

    name: str
    trace: Trace
    circles: Circles

    @property
    def cycles(self) -> Cycles:
        """Its cycles; for carried circles, the carrying ones."""
        return self.circles.cycles

    @property
    def events(self) -> Floats:
        """Times of its circles, or else of the starts of its cycles."""
        return self.circles.time if self.circles.time.size else self.cycles.time


def observe(trace: Trace, *, period: float | None = None, circles: int | None = None) -> TrackedBody:
    """Find cycles and circles of one body.

    Parameters
    ----------
    trace : Trace
        As :func:`tempo_coach.observe.trace.selection.pick` gives it.
    period : float or None
        Of its whole cycle, where it is known.

    Raises
    ------
    CoachError
        If nothing repeats, or too little was read.
    """
    name = name_body(trace)
    if trace.is_dial and circles is None:
        circles = 1  # it turns once a cycle
    if trace.quantity == "position":
        return TrackedBody(name, trace, find_circles(trace, period=period, circles=circles))
    if trace.quantity == "rotation":
        return TrackedBody(name, trace, find_turns(trace, period=period, circles=circles))
    if trace.quantity == "acceleration":
        return TrackedBody(name, trace, find_low_points(trace, period=period, circles=circles))
    nothing = np.empty(0, dtype=np.int64)
    cycles = find_cycles(trace, period=period, circles=circles)
    return TrackedBody(name, trace, Circles(np.empty(0), nothing, np.empty(0), nothing, cycles))


def name_body(trace: Trace) -> str:
    """Return the name of a body: its point, else the names of its columns."""
    return trace.channels[0].point or " ".join(channel.name for channel in trace.channels)


def observe_low(trace: Trace, body: TrackedBody) -> TrackedBody:
    """Return a body timed at low points where an accelerometer at the same point shows them, else unchanged.

    Parameters
    ----------
    trace : Trace
        The whole one.
    body : TrackedBody
        Of it.
    """
    point = body.trace.channels[0].point
    accelerations = [c for c in trace.channels if c.point == point and c.quantity == "acceleration"]
    if body.circles.zero == "low" or body.trace.quantity != "rotation" or not accelerations:
        return body
    try:
        other = observe(pick(trace, point=point, quantity="acceleration"), period=body.cycles.rhythm.period)
    except CoachError:
        # the other sensor shows nothing that repeats: what the first one shows stands
        return body
    return TrackedBody(body.name, other.trace, other.circles) if other.circles.zero == "low" else body
