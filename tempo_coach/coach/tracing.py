"""Tables of sensors and trackers as both front ends use them: a part of one studied, a drill learned of it.

::

    trace = read_answered("wrist.csv")
    found = study_trace(trace, point="wrist")
    learned = learn_drill(found, title="mills", apparatus="clubs", counts=4)
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError, nearest
from tempo_coach.observe.trace import trace as traces
from tempo_coach.observe.trace.trace import Trace
from tempo_coach.pattern.drill.drill_file import APPARATUS
from tempo_coach.score.trace.learn import Learned, place_taught
from tempo_coach.score.trace.study import Study

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
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
    "study_trace",
]
#: Seconds since 1970 below which a date is none: the year 1973.
_LEAST_INSTANT = 1e8


def cut_trace(trace: Trace, start: float | None, end: float | None) -> Trace:
    """Return the part of a trace between two times of its clock, s; None leaves an end as it is."""
    if start is None and end is None:
        return trace
    return traces.cut(trace, -math.inf if start is None else start, math.inf if end is None else end)


def study_trace(
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
    """Study the movement in a trace.

    Parameters
    ----------
    trace : Trace
    point, columns, against
        What is followed, and what is beside it.
    asked_deg : float or None
        Lag that is asked for, in degrees of the cycle.
    period : float or None
        About how long a cycle takes, s.
    circles : int or None
        Of a cycle.
    toss : mapping or None
        As :func:`asked_toss` gives it.

    Raises
    ------
    CoachError
        If there is no movement that could be studied.
    """
    from tempo_coach.score.trace.study import study

    return study(
        trace,
        point=point,
        columns=columns,
        against=against,
        asked_deg=math.nan if asked_deg is None else asked_deg,
        period=period,
        circles=circles,
        toss=toss,
    )


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


def learn_drill(
    found: Study,
    *,
    title: str,
    apparatus: str = "none",
    counts: float | None = None,
    tempo_bpm: float | None = None,
    hand: str | None = None,
) -> Learned:
    """Make a drill of what was studied. See :func:`tempo_coach.score.trace.learn.learn_drill`."""
    from tempo_coach.score.trace import learn

    return learn.learn_drill(found, title=title, apparatus=apparatus, counts=counts, tempo_bpm=tempo_bpm, hand=hand)


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
