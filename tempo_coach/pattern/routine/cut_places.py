"""Places of a routine when its music is cut: what is kept moves along, the rest is lost."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.counts.count_map import Position
from tempo_coach.pattern.routine.routine import FINEST, Laid, Remark, RoutineMoment, Steps, position_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.routine.routine import PlaceKind, Routine


class Lost(NamedTuple):
    """Something that a routine had at a place that was cut out: its kind, its name, and where it was."""

    kind: PlaceKind
    name: str
    at: Position


@dataclass(frozen=True, eq=False)
class CutMove:
    """The map from counts of one piece of music to those of its cut.

    Parameters
    ----------
    old, new : CountMap
    to_new : callable
        Returns the seconds of the new music, none or several, at which a second of the old one is heard.
    """

    old: CountMap
    new: CountMap
    to_new: Callable[[float], Iterable[float]]

    def places(self, place: Position) -> list[Position]:
        """Return the new places of a position, wherever its sound is heard; none where it was cut out."""
        position = position_of(self.old, place)
        # between two counts the one before tells whether it is kept
        whole = float(np.floor(position))
        moved = []
        for time in self.to_new(float(self.old.seconds_at(whole, after=True))):
            count = round(float(self.new.counts_at(time + 1e-6)) / FINEST) * FINEST + position - whole
            if count >= 0:
                moved.append(self.new.place(round(count / FINEST) * FINEST))
        return moved


def carry_cut(routine: Routine, move: CutMove) -> tuple[Routine, tuple[Lost, ...]]:
    """Return a routine whose places still name the same music, and what was lost with the music that was cut out.

    Parameters
    ----------
    routine : Routine
    move : CutMove

    Returns
    -------
    routine : Routine
        What lies in music that is heard twice lies there twice.
    lost : tuple of Lost
        A drill that is only shortened is reported too.
    """
    lost: list[Lost] = []
    first = move.places(routine.first)[:1] if routine.first else []
    last = move.places(routine.last)[-1:] if routine.last else []
    if routine.first is not None and not first:
        lost.append(Lost("first", "", routine.first))
    if routine.last is not None and not last:
        lost.append(Lost("last", "", routine.last))
    laid: list[Laid] = []
    for each in routine.laid:
        found = _carry_laid(each, move)
        laid += found
        if sum(part.eights for part in found) < each.eights:
            lost.append(Lost("drill", each.drill, each.at))
    moments: list[RoutineMoment] = []
    for moment in routine.moments:
        there = move.places(moment.at)
        moments += [replace(moment, at=at) for at in there]
        if not there:
            lost.append(Lost("moment", moment.what, moment.at))
    steps: list[Steps] = []
    for step in routine.steps:
        rows = _carry_steps(step, move)
        steps += rows
        if not rows:
            lost.append(Lost("steps", "", step.start))
    remarks: list[Remark] = []
    for remark in routine.remarks:
        eights = _eights(remark.eight, move)
        remarks += [Remark(eight, remark.text) for eight in eights]
        if not eights:
            lost.append(Lost("remark", "", Position(remark.eight, 1.0)))
    carried = replace(
        routine,
        first=first[0] if first else None,
        last=last[0] if last else None,
        laid=tuple(sorted(laid, key=lambda each: (each.at.eight, each.at.count))),
        moments=tuple(sorted(moments, key=lambda each: (each.at.eight, each.at.count))),
        steps=tuple(sorted(steps, key=lambda each: (each.start.eight, each.start.count))),
        remarks=tuple(sorted(remarks, key=lambda each: each.eight)),
    )
    return carried, tuple(lost)


def _carry_laid(laid: Laid, move: CutMove) -> list[Laid]:
    """Return a drill on the eights that are kept whole, successive ones together."""
    length = move.old.start_of_eight
    found: list[Laid] = []
    for k in range(laid.eights):
        begin = Position(laid.at.eight + k, laid.at.count)
        counts = length(begin.eight + 1) - length(begin.eight)
        end = move.old.place(position_of(move.old, begin) + counts - 1)
        ends = {position_of(move.new, each) for each in move.places(end)}
        for at in move.places(begin):
            if position_of(move.new, at) + counts - 1 not in ends:
                continue
            before = found[-1] if found else None
            if before and at == Position(before.at.eight + before.eights, before.at.count):
                found[-1] = replace(before, eights=before.eights + 1)
            else:
                found.append(replace(laid, at=at, eights=1))
    return found


def _carry_steps(steps: Steps, move: CutMove) -> list[Steps]:
    """Return dance steps whose first and last counts are kept."""
    long = position_of(move.old, steps.end) - position_of(move.old, steps.start)
    before_end = move.old.place(position_of(move.old, steps.end) - min(1.0, long))
    ends = [position_of(move.new, each) for each in move.places(before_end)]
    found = []
    for start in move.places(steps.start):
        position = position_of(move.new, start)
        end = next((each for each in ends if position <= each <= position + long), None)
        if end is not None:
            found.append(Steps(start, move.new.place(end + min(1.0, long))))
    return found


def _eights(eight: int, move: CutMove) -> list[int]:
    """Return the new eights of the first kept count of an eight."""
    length = move.old.start_of_eight(eight + 1) - move.old.start_of_eight(eight)
    for count in range(1, length + 1):
        found = [each.eight for each in move.places(Position(eight, float(count)))]
        if found:
            return list(dict.fromkeys(found))
    return []
