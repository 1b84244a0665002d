"""Course of a routine for a film: for each instant the count, what is done now and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.coach.routine_course import SAME

if TYPE_CHECKING:
    from tempo_coach.coach.routine_course import RoutineCourse
    from tempo_coach.music.counts.count_map import CountMap


@dataclass(frozen=True)
class FilmStep:
    """The picture from one instant on.

    Parameters
    ----------
    start : float
        Seconds of the music.
    count : int or None
        The count; None before the first, in a pause and after the last.
    eight : int or None
    now, next : str
        What is laid there, and what begins next.
    next_in : int
        Whole counts until that; 0 where nothing comes.
    remark : str
        Of this eight.
    """

    start: float
    count: int | None
    eight: int | None
    now: str = ""
    next: str = ""
    next_in: int = 0
    remark: str = ""


def follow_course(course: RoutineCourse, counts: CountMap) -> tuple[FilmStep, ...]:
    """Return the successive pictures of a routine, from its first instant on.

    Parameters
    ----------
    course : RoutineCourse
    counts : CountMap
        Of its music, corrected.
    """
    steps = [FilmStep(0.0, None, None)]
    pauses = iter([*sorted(counts.pauses), (np.inf, np.inf)])
    pause = next(pauses)
    first = counts.eights[0][0]
    for beat, time in enumerate(counts.beats.tolist()):
        while pause[0] <= time + SAME:
            steps.append(FilmStep(pause[0], None, steps[-1].eight, remark=steps[-1].remark))
            pause = next(pauses)
        position = float(beat - first)
        if position < 0:
            continue
        place = counts.place(position)
        here = course.at(position, 1.0)
        steps.append(
            FilmStep(
                time,
                int(place.count + SAME),
                place.eight,
                here.now,
                here.next,
                int(np.ceil(here.next_start - position - SAME)) if here.next else 0,
                course.remarks.get(place.eight, ""),
            )
        )
    period = float(counts.seconds_at(counts.last_count + 1)) - float(counts.beats[-1])
    steps.append(FilmStep(float(counts.beats[-1]) + max(period, 0.1), None, None))
    return tuple(sorted(steps, key=lambda each: each.start))
