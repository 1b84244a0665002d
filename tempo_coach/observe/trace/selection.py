"""Selection of the columns of one tracked body, one point and one quantity, and of a second one to compare it with."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError, nearest
from tempo_coach.observe.trace.trace import Trace

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.trace import Quantity
    from tempo_coach.times import Floats

#: Preference among the quantities of a point: positions show circles best, turning rates next.
PREFERENCE: tuple[Quantity, ...] = ("position", "rotation", "acceleration")


def pick(
    trace: Trace, *, point: str | None = None, columns: Sequence[str] = (), quantity: Quantity | None = None
) -> Trace:
    """Return the columns of one body: one point and one quantity.

    Parameters
    ----------
    trace : Trace
    point : str or None
        By default the first one with usable columns.
    columns : sequence of str
        Columns by name, in this order, of any point; they override the other options.
    quantity : {"position", "rotation", "acceleration", "other"} or None
        By default position before rotation before acceleration.

    Returns
    -------
    Trace
        With one to three columns, x before y before z.

    Raises
    ------
    CoachError
        If the trace has no such point, column or quantity, or what it has never changes.
    """
    if columns:
        chosen = [_find(trace, name) for name in columns]
        mixed = {trace.channels[i].quantity for i in chosen}
        if len(mixed) > 1:
            raise CoachError("columns.mixed", where="--columns", quantities=sorted(mixed))
        return _take(trace, chosen)
    if point is not None and point not in trace.points:
        known = [name for name in trace.points if name]
        raise CoachError("point.unknown", where="--point", known=known, point=point, nearest=nearest(point, known))
    placed: dict[tuple[str, Quantity], list[int]] = {}
    for i, channel in enumerate(trace.channels):
        placed.setdefault((channel.point, channel.quantity), []).append(i)
    for name in trace.points if point is None else (point,):
        for wanted in PREFERENCE if quantity is None else (quantity,):
            chosen = [i for i in placed.get((name, wanted), ()) if _changes(trace.values[:, i])]
            if chosen:
                chosen.sort(key=lambda i: trace.channels[i].axis)
                return _take(trace, chosen[:3])
    columns_there = [channel.name for channel in trace.channels]
    raise CoachError("columns.none_changes", quantity=quantity, point=point, known=columns_there)


def pick_second(trace: Trace, first: Trace, against: Sequence[str] = ()) -> Trace | None:
    """Return the columns of a second body, or None where there is none.

    Parameters
    ----------
    trace, first : Trace
        The whole trace, and the columns of the first body.
    against : sequence of str
        Columns of the second body, or the name of its point; by default the next point with the same quantity.

    Raises
    ------
    CoachError
        As :func:`pick`.
    """
    columns = {channel.name for channel in trace.channels}
    if len(against) == 1 and against[0] in trace.points and against[0] not in columns:
        return pick(trace, point=against[0])
    if against:
        return pick(trace, columns=against)
    taken = first.channels[0].point
    measured = {(channel.point, channel.quantity) for channel in trace.channels}
    for name in trace.points:
        if name != taken and (name, first.quantity) in measured:
            return pick(trace, point=name, quantity=first.quantity)
    return None


def _take(trace: Trace, chosen: list[int]) -> Trace:
    for i in chosen:
        if not _changes(trace.values[:, i]):
            raise CoachError("columns.constant", column=trace.channels[i].name)
    return Trace(
        trace.time,
        trace.values[:, chosen],
        [replace(trace.channels[i]) for i in chosen],
        notes=trace.notes,
        clock_start=trace.clock_start,
        timing_sd=trace.timing_sd,
    )


def _find(trace: Trace, name: str) -> int:
    names = [channel.name for channel in trace.channels]
    if name in names:
        return names.index(name)
    raise CoachError("column.unknown", where="--columns", known=names, column=name, nearest=nearest(name, names))


def _changes(values: Floats) -> bool:
    known = values[~np.isnan(values)]
    return bool(known.size > 1 and np.ptp(known) > 0)
