"""A trace: a table of time against position or sensor readings.

A trace holds what a sensor or a tracked point gave, in seconds and in metres, m/s² and rad/s wherever the unit
is known. What it means (cycles, circles, flights) is found by the modules beside this one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.times import Floats, ascending, column

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import ArrayLike

    from tempo_coach.reasons import Reason

Quantity = Literal["position", "rotation", "acceleration", "other"]

#: Median steps from which a step is a gap: one lost sample may be interpolated.
GAP_STEPS = 2.5
#: End of the name of a column that gives the SD of a dial's marks; empty where it is not known.
TIMING_SD = " timing SD (s)"


@dataclass(frozen=True)
class Channel:
    """The meaning of one column of a trace.

    Parameters
    ----------
    name : str
        The column's name as it stood in the table.
    quantity : {"position", "rotation", "acceleration", "other"}
        What was measured.
    axis : {"x", "y", "z", ""}
        Along or about which axis; empty where it is not one of three.
    point : str
        Which point or sensor, empty where the table has only one.
    unit : str
        The unit of the values as they are now: m, px, m/s², rad/s, or empty where nobody said.
    """

    name: str
    quantity: Quantity
    axis: str = ""
    point: str = ""
    unit: str = ""


@dataclass(frozen=True, eq=False)
class Trace:
    """Readings over time, a column a channel.

    Parameters
    ----------
    time : array_like, shape (n,)
        Seconds, strictly ascending, n at least 2. Steps may be uneven.
    values : array_like, shape (n, m)
        One column a channel; NaN where nothing was read. The upward axis (z, or y) grows upwards, also in pixels.
    channels : sequence of Channel, length m
        What the columns are. No two share a name.
    notes : sequence of Reason
        What the reader understood or mended.
    clock_start : float or None
        The instant of time 0 as seconds since 1970 (UTC), where the table's stamps told it.
    timing_sd : mapping of str to float
        Of each point that is a dial, which shows the phase of a movement and no place: SD of the time of its marks, in
        seconds; infinite where it is not known.

    Raises
    ------
    ValueError
        If shapes, order or names do not fit together.

    Examples
    --------
    >>> trace = Trace([0.0, 0.1, 0.2], [[0.0], [1.0], [0.0]], [Channel("y", "position", "y", unit="m")])
    >>> round(trace.rate_hz, 6), trace.points
    (10.0, ('',))
    """

    time: Floats
    values: Floats
    channels: tuple[Channel, ...]
    notes: tuple[Reason, ...] = ()
    clock_start: float | None = None
    timing_sd: Mapping[str, float] = field(default_factory=dict)

    def __init__(
        self,
        time: ArrayLike,
        values: ArrayLike,
        channels: Sequence[Channel],
        *,
        notes: Sequence[Reason] = (),
        clock_start: float | None = None,
        timing_sd: Mapping[str, float] | None = None,
    ) -> None:
        stamps = ascending(time, name="time", strict=True)
        table = np.array(values, dtype=np.float64)
        if stamps.size < 2:
            raise ValueError(f"time: expected at least two readings, got {stamps.size}")
        if table.shape != (stamps.size, len(channels)) or not channels:
            raise ValueError(
                f"values: expected shape ({stamps.size}, {len(channels)}), a channel each, got {table.shape}"
            )
        if np.isinf(table).any():
            raise ValueError("values: expected finite numbers or NaN, got infinity")
        names = [channel.name for channel in channels]
        if len(set(names)) < len(names):
            raise ValueError(f"channels: expected different names, got {names}")
        table.flags.writeable = False
        object.__setattr__(self, "time", stamps)
        object.__setattr__(self, "values", table)
        object.__setattr__(self, "channels", tuple(channels))
        object.__setattr__(self, "notes", tuple(notes))
        object.__setattr__(self, "clock_start", clock_start)
        object.__setattr__(self, "timing_sd", dict(timing_sd or {}))

    @property
    def rate_hz(self) -> float:
        """Readings per second: one over the median step."""
        return float(1.0 / np.median(np.diff(self.time)))

    @property
    def duration(self) -> float:
        """Seconds from the first reading to the last."""
        return float(self.time[-1] - self.time[0])

    @property
    def points(self) -> tuple[str, ...]:
        """The points or sensors of the trace, in the order of their columns."""
        return tuple(dict.fromkeys(channel.point for channel in self.channels))

    @property
    def quantity(self) -> Quantity:
        """The quantity of a trace; ``"other"`` for a mixed one."""
        found = {channel.quantity for channel in self.channels}
        return found.pop() if len(found) == 1 else "other"

    @property
    def unit(self) -> str:
        """The unit of a trace with a single one, else empty."""
        found = {channel.unit for channel in self.channels}
        return found.pop() if len(found) == 1 else ""

    @property
    def is_dial(self) -> bool:
        """Whether the first point is a phase of movement rather than a position: it has neither flights nor sizes."""
        return self.channels[0].point in self.timing_sd

    @property
    def axes(self) -> tuple[str, ...]:
        """The axis of each column."""
        return tuple(channel.axis for channel in self.channels)

    def get(self, axis: str) -> Floats | None:
        """Return the column of that axis, or None where a trace of one body has none."""
        return self.values[:, self.axes.index(axis)] if axis in self.axes else None


def cut(trace: Trace, start: float, end: float) -> Trace:
    """Return the readings from start to end, in seconds on the trace's own clock.

    Raises
    ------
    CoachError
        If fewer than two readings lie there.
    """
    inside = (trace.time >= start) & (trace.time <= end)
    if inside.sum() < 2:
        raise CoachError(
            "trace.few_in_stretch",
            start_s=start,
            end_s=end,
            found=inside.sum(),
            first_s=trace.time[0],
            last_s=trace.time[-1],
        )
    return _replace(trace, time=trace.time[inside], values=trace.values[inside])


def add_note(trace: Trace, note: Reason) -> Trace:
    """Return the trace with one more note on how it was read."""
    return _replace(trace, notes=[*trace.notes, note])


def shift(trace: Trace, *, offset: float, rate: float = 1.0) -> Trace:
    """Return the trace on another clock: time · rate + offset.

    Parameters
    ----------
    trace : Trace
    offset : float
        Seconds that the other clock shows when this one shows 0.
    rate : float
        Seconds of the other clock a second of this one; two clocks that are 50 ppm apart have 1.00005.

    Raises
    ------
    ValueError
        If the rate is not positive.
    """
    if not rate > 0:
        raise ValueError(f"rate: expected a positive number, got {rate}")
    return _replace(trace, time=column(trace.time * rate + offset, name="time"))


def _replace(
    trace: Trace, *, time: Floats | None = None, values: Floats | None = None, notes: Sequence[Reason] | None = None
) -> Trace:
    return Trace(
        trace.time if time is None else time,
        trace.values if values is None else values,
        trace.channels,
        notes=trace.notes if notes is None else notes,
        clock_start=trace.clock_start,
        timing_sd=trace.timing_sd,
    )
