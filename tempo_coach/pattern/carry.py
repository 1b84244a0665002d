"""What is laid on a routine stays on its music when the counts under it are put right."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.music.countmap import Place
from tempo_coach.pattern.routine import Laid, Note, Routine, RoutineMoment, Steps, position_of

if TYPE_CHECKING:
    from tempo_coach.music.countmap import CountMap

#: Places are kept to this part of a count: a coach says "and", seldom anything finer.
FINEST = 0.25


def carry_places(routine: Routine, old: CountMap, new: CountMap) -> Routine:
    """Return a routine whose places name the same music in new counts as before in old ones.

    Parameters
    ----------
    routine : Routine
    old, new : CountMap
        Of the same music.

    Returns
    -------
    Routine
        A place that would come before the first count 1 keeps its number.

    Examples
    --------
    >>> from tempo_coach.music.countmap import CountMap
    >>> from tempo_coach.pattern.routine import MusicFile
    >>> routine = Routine("x", MusicFile("x.wav"), remarks=(Note(3, "higher"),))
    >>> carry_places(routine, CountMap.steady(120), CountMap.steady(120, start=4.0)).remarks[0].eight
    2
    """

    def place(each: Place) -> Place:
        return _carry(each, old, new)

    laid = tuple(_carry_laid(each, old, new) for each in routine.laid)
    moments = tuple(replace(each, at=place(each.at)) for each in routine.moments)
    remarks = tuple(Note(place(Place(each.eight, 1.0)).eight, each.text) for each in routine.remarks)
    return replace(
        routine,
        first=routine.first and place(routine.first),
        last=routine.last and place(routine.last),
        laid=tuple(sorted(laid, key=_where)),
        moments=tuple(sorted(moments, key=_where)),
        steps=tuple(_carry_steps(each, old, new) for each in routine.steps),
        remarks=tuple(sorted(remarks, key=lambda each: each.eight)),
    )


def _where(each: Laid | RoutineMoment) -> tuple[int, float]:
    return each.at.eight, each.at.count


def _carry(place: Place, old: CountMap, new: CountMap) -> Place:
    position = position_of(old, place)
    time = old.seconds_at(position, after=True)
    there = round(float(new.counts_at(time)) / FINEST) * FINEST
    return new.place(there) if there >= 0 else place


def _carry_laid(laid: Laid, old: CountMap, new: CountMap) -> Laid:
    start = _carry(laid.at, old, new)
    # on which eight its end lies says how many there are now
    end = _carry(Place(laid.at.eight + laid.eights, laid.at.count), old, new)
    return replace(laid, at=start, eights=max(1, end.eight - start.eight))


def _carry_steps(steps: Steps, old: CountMap, new: CountMap) -> Steps:
    start, end = _carry(steps.start, old, new), _carry(steps.end, old, new)
    return Steps(start, end) if (end.eight, end.count) > (start.eight, start.count) else steps
