"""Tables of sensors and trackers as both front ends use them: a part of one studied, a drill learned of it.

::

    trace = read_answered("wrist.csv")
    found = study(trace, point="wrist")
    learned = learn_drill(found, title="mills", apparatus="clubs", counts=4)
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError, nearest
from tempo_coach.observe.trace import trace as traces
from tempo_coach.observe.trace.trace import Trace
from tempo_coach.pattern.drill.drill_file import APPARATUS
from tempo_coach.score.trace.learn import Learned, learn_drill, place_taught
from tempo_coach.score.trace.study import Study, study

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.pattern.drill.drill import Drill

__all__ = [
    "APPARATUS",
    "Learned",
    "Study",
    "Trace",
    "asked_toss",
    "check_apparatus",
    "count_circles",
    "cut_trace",
    "learn_drill",
    "place_taught",
    "read_instant",
    "study",
]
#: Seconds since 1970 below which a date is none: the year 1973.
_LEAST_INSTANT = 1e8


def cut_trace(trace: Trace, start: float | None, end: float | None) -> Trace:
    """Return the part of a trace between two times of its clock, s; None leaves an end as it is."""
    if start is None and end is None:
        return trace
    return traces.cut(trace, -math.inf if start is None else start, math.inf if end is None else end)


def count_circles(drill: Drill) -> int:
    """Return the circles of a cycle in the hand that has most of them."""
    return max(len(hand.moments) for hand in drill.pattern.hands)


def asked_toss(path: str | Path) -> dict[str, float]:
    """Return the toss that a plan's file asks for.

    Raises
    ------
    CoachError
        If it cannot be read, or nothing is thrown in it.
    """
    from tempo_coach.pattern.plan.plan_file import read_plan
    from tempo_coach.score.trace.throws import asked_flight

    toss = asked_flight(read_plan(path))
    if not toss:
        raise CoachError("trace.nothing_thrown", where=str(path))
    return toss


def check_apparatus(name: str, *, where: str) -> None:
    """Refuse a name of no apparatus.

    Raises
    ------
    CoachError
        If it is none.
    """
    if name not in APPARATUS:
        close = nearest(name, list(APPARATUS))
        raise CoachError("learn.apparatus", where=where, known=[*APPARATUS], apparatus=name, nearest=close)


def read_instant(text: str, *, where: str) -> float:
    """Return a date and time as seconds since 1970.

    Raises
    ------
    CoachError
        If it is none.
    """
    from tempo_coach.observe.trace.stamps import parse_moments

    found = parse_moments([text])
    if found is None or not found[0] > _LEAST_INSTANT:
        raise CoachError("score.started", where=where, text=text)
    return float(found[0])
