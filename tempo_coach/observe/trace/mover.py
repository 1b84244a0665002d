"""One mover of a trace, whatever was measured: its cycles, circles and events under one roof."""

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
class Mover:
    """What one mover did.

    Parameters
    ----------
    name : str
        The point or sensor; the columns' names where it has none.
    trace : Trace
        Its own columns.
    circles : Circles
        With no circle in it where it only swings.
    """

    name: str
    trace: Trace
    circles: Circles

    @property
    def cycles(self) -> Cycles:
        """Its cycles; of circles that are carried, the carrying ones."""
        return self.circles.cycles

    @property
    def events(self) -> Floats:
        """The instants that stand for it in a comparison: its circles, or the starts of its cycles."""
        return self.circles.time if self.circles.time.size else self.cycles.time


def observe(trace: Trace, *, period: float | None = None, circles: int | None = None) -> Mover:
    """Find cycles and circles of one mover.

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
    name = name_mover(trace)
    if trace.quantity == "position":
        return Mover(name, trace, find_circles(trace, period=period, circles=circles))
    if trace.quantity == "rotation":
        return Mover(name, trace, find_turns(trace, period=period, circles=circles))
    if trace.quantity == "acceleration":
        return Mover(name, trace, find_low_points(trace, period=period, circles=circles))
    nothing = np.empty(0, dtype=np.int64)
    cycles = find_cycles(trace, period=period, circles=circles)
    return Mover(name, trace, Circles(np.empty(0), nothing, np.empty(0), nothing, cycles))


def name_mover(trace: Trace) -> str:
    """Return what one mover's columns are called: their point, else their own names."""
    return trace.channels[0].point or " ".join(channel.name for channel in trace.channels)


def observe_low(trace: Trace, mover: Mover) -> Mover:
    """Return a mover by its low points where another sensor at the same point shows them, else as it is.

    Parameters
    ----------
    trace : Trace
        The whole one.
    mover : Mover
        Of it.
    """
    point = mover.trace.channels[0].point
    beside = [c for c in trace.channels if c.point == point and c.quantity == "acceleration"]
    if mover.circles.zero == "low" or mover.trace.quantity != "rotation" or not beside:
        return mover
    try:
        other = observe(pick(trace, point=point, quantity="acceleration"), period=mover.cycles.rhythm.period)
    except CoachError:
        # the other sensor shows nothing that repeats: what the first one shows stands
        return mover
    return Mover(mover.name, other.trace, other.circles) if other.circles.zero == "low" else mover
