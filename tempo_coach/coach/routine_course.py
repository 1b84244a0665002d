"""Course of a routine along its counts: what is laid at a position, what begins next, and the remark of an eight."""

from __future__ import annotations

import math
from bisect import bisect
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.coach.drills import drill_beside, load_drill
from tempo_coach.languages import tr
from tempo_coach.pattern.routine.routine import position_of, span_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.routine.routine import Routine

#: Counts within which two positions are one.
SAME = 1e-6


class LaidStretch(NamedTuple):
    """A stretch of a routine in counts with its name, also in a few words."""

    start: float
    end: float
    name: str
    short: str = ""


class CourseStep(NamedTuple):
    """The laid drill at a position, also in a few words; and the next one with its beginning: empty and NaN without."""

    now: str
    short: str = ""
    next: str = ""
    next_start: float = math.nan


@dataclass(frozen=True)
class RoutineCourse:
    """A routine along its counts.

    Parameters
    ----------
    stretches : tuple of LaidStretch
        In order of place.
    remarks : mapping of int to str
        By the eight.
    """

    stretches: tuple[LaidStretch, ...]
    remarks: Mapping[int, str] = field(default_factory=dict)

    def at(self, position: float, counts: float = 0.0) -> CourseStep:
        """Return the step at a position in counts.

        Parameters
        ----------
        position : float
        counts : float
            Whatever begins within this many counts counts as begun: 1 for a picture that stays for a whole count.
        """
        behind = position + max(counts - SAME, SAME)
        doing = [each for each in self.stretches if each.start < behind and position < each.end - SAME]
        now = " · ".join(dict.fromkeys(each.name for each in doing))
        # of what begins while something else goes on, the newest says in few words what is to be done
        here = CourseStep(now, doing[-1].short if doing else "")
        index = bisect(self.stretches, behind, key=lambda each: each.start)
        if index == len(self.stretches):
            return here
        coming = self.stretches[index]
        return here._replace(next=coming.name, next_start=coming.start)


def course_of(routine: Routine, counts: CountMap, path: Path | None) -> RoutineCourse:
    """Return the course of a routine.

    Parameters
    ----------
    routine : Routine
    counts : CountMap
        Of its music, corrected.
    path : Path or None
        Its file, beside which its drills lie.

    Raises
    ------
    CoachError
        If a drill cannot be read.
    """
    remarks = {each.eight: each.text for each in routine.remarks}
    return RoutineCourse(tuple(sorted(_stretches(routine, counts, path))), remarks)


def _stretches(routine: Routine, counts: CountMap, path: Path | None) -> Iterator[LaidStretch]:
    for laid in routine.laid:
        drill = load_drill(laid.drill if path is None else drill_beside(path, laid.drill), mirrored=laid.mirrored)
        begin, over = span_of(counts, laid)
        title = tr(drill.title)
        # a title names the apparatus, the movement and its manner: "Rope: figure eight, as taught"
        short = title.partition(":")[2].strip().split(",")[0] or title
        yield LaidStretch(begin, over, f"{title}{f', {tr(laid.hand)}' if laid.hand else ''}", short)
    for moment in routine.moments:
        at = position_of(counts, moment.at)
        what = moment.what if moment.what != "other" else ""
        name = " ".join(part for part in (what, moment.hand, moment.text) if part)
        yield LaidStretch(at, at + 1, name, what or moment.text)
    for steps in routine.steps:
        yield LaidStretch(position_of(counts, steps.start), position_of(counts, steps.end), "dance steps", "steps")
