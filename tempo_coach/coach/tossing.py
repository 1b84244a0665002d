"""Tosses: planned of what is known, their counts taken from music, and those of a trace beside what is asked.

::

    planned = plan_toss({"counts": 4, "tempo_bpm": 120})
    tossed = find_tosses(trace, {"counts": 4, "tempo_bpm": 120})
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.pattern.toss.planned import plan_table, plan_toss

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.reasons import Warn
    from tempo_coach.score.trace.throws import Tossed

__all__ = ["find_tosses", "hear_flight", "plan_table", "plan_toss"]
#: Most counts of a flight in music.
_MOST_COUNTS = 64


def hear_flight(
    counts: float,
    music: str | Path,
    *,
    is_routine: bool = False,
    from_eight: int = 1,
    on: int = 1,
    tempo_bpm: float | None = None,
    warn: Warn | None = None,
    progress: Callable[[float], None] | None = None,
) -> float:
    """Return the duration of counts at a place of music, s.

    Parameters
    ----------
    counts : float
    music : path
        A piece of music, or a routine.
    is_routine : bool
    from_eight, on : int
        The eight and the count of the release, from 1.
    tempo_bpm : float or None
        About how fast the music is counted.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If the music cannot be read, or the counts lie beyond it.
    """
    from tempo_coach.coach import hear, open_routine

    if is_routine:
        opened = open_routine(music, warn=warn, progress=progress)
        heard = opened.counts
        for note in opened.said:
            if warn:
                warn(note)
    else:
        heard = hear(music, tempo_bpm=tempo_bpm, warn=warn, progress=progress).counts
    first = float(heard.start_of_eight(from_eight)) + on - 1
    last = first + counts
    if not (0 < counts <= _MOST_COUNTS and heard.first_count <= first and last <= heard.last_count + 1):
        raise CoachError("toss.beyond_music", where=str(music), counts=counts, from_eight=from_eight, on=on)
    return float(heard.seconds_at(last) - heard.seconds_at(first, after=True))


def find_tosses(
    trace: Trace, asked: Mapping[str, float], *, point: str | None = None, columns: Sequence[str] = ()
) -> list[Tossed]:
    """Return the flights of a trace beside the asked toss.

    Parameters
    ----------
    trace : Trace
    asked : mapping
        Arguments of :func:`~tempo_coach.pattern.toss.solver.solve_toss`; an empty one where nothing is asked.
    point, columns
        What is followed, as in :func:`tempo_coach.observe.trace.selection.pick`.

    Raises
    ------
    CoachError
        If nothing flies in it, or the toss that is asked cannot be thrown.
    """
    from tempo_coach.observe.trace.flights import find_flights
    from tempo_coach.observe.trace.selection import pick
    from tempo_coach.score.trace.throws import set_tosses_beside

    flights = find_flights(pick(trace, point=point, columns=columns, quantity="position"))
    if not flights:
        raise CoachError("toss.no_flight_in_trace")
    return set_tosses_beside(flights, asked)
