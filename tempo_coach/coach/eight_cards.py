"""Cards for the eights of a routine: the counts of each, what begins on them, what continues, what comes next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.coach.counting.setting import rows_of
from tempo_coach.coach.routine_course import SAME
from tempo_coach.report.pages.cards import EightCard

if TYPE_CHECKING:
    from tempo_coach.coach.routine_course import RoutineCourse
    from tempo_coach.music.counts.count_map import CountMap


def make_cards(course: RoutineCourse, counts: CountMap) -> tuple[EightCard, ...]:
    """Return the cards of a routine, from its first eight to its last.

    Parameters
    ----------
    course : RoutineCourse
    counts : CountMap
        Of its music, corrected.
    """
    pauses = [(int(np.searchsorted(counts.beats, begin)) - 1, end - begin) for begin, end in counts.pauses]
    cards = []
    for row in rows_of(counts):
        if row.number < 1:
            continue
        start = float(row.beat - counts.eights[0][0])
        end = start + row.length
        begun = [each for each in course.stretches if start - SAME <= each.start < end - SAME]
        before = [each.name for each in course.stretches if each.start < start - SAME and each.end > start + SAME]
        behind = next((each for each in course.stretches if each.start >= end - SAME), None)
        # after the last count that is heard before it
        waits = ((beat - row.beat, seconds) for beat, seconds in pauses)
        cards.append(
            EightCard(
                row.number,
                row.length,
                float(counts.beats[row.beat]),
                tuple(dict.fromkeys(before)),
                tuple((each.start - start + 1, each.name) for each in begun),
                tuple((inside + 1.0, seconds) for inside, seconds in waits if 0 <= inside < row.here),
                behind.name if behind else "",
                counts.place(behind.start) if behind else None,
                course.remarks.get(row.number, ""),
            )
        )
    return tuple(cards)
