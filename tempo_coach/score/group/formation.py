"""Parts of a group's members as a routine marks them: a canon, mirrored hands, all in unison again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.pattern.plan.plan import Moments
from tempo_coach.score.group.canon import times_at

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from tempo_coach.music.counts.count_map import Position
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.pattern.routine.routine import Routine, RoutineMoment
    from tempo_coach.times import Ints

#: What a mark says of the members from its place on, until the next one.
UNISON, CANON, MIRRORED = "unison", "canon", "mirrored"


class Formation(NamedTuple):
    """From one place on: the delay of each member's part in counts, and who has swapped hands."""

    at: Position
    later: Mapping[str, int]
    mirrored: frozenset[str]

    def without(self, members: Collection[str]) -> Formation:
        """Return the formation of all the others."""
        later = {member: counts for member, counts in self.later.items() if member not in members}
        return Formation(self.at, later, self.mirrored.difference(members))


def read_formations(routine: Routine) -> tuple[Formation, ...]:
    """Return the formations that a routine marks, in order of place.

    Parameters
    ----------
    routine : Routine
        A moment ``canon`` has as its hand by how many counts each member is later, ``Bea:2, Cyl:4``; ``mirrored`` has
        the members, ``Dora, Eva``; ``unison`` ends both.

    Raises
    ------
    CoachError
        If a mark does not say whom it is of.

    Examples
    --------
    >>> from tempo_coach.music.counts.count_map import Position
    >>> from tempo_coach.pattern.routine.routine import MusicFile, Routine, RoutineMoment
    >>> mark = RoutineMoment("canon", Position(5, 1.0), "Bea:2, Cyl:4")
    >>> (one,) = read_formations(Routine("five balls", MusicFile("five.wav"), moments=(mark,)))
    >>> one.later
    {'Bea': 2, 'Cyl': 4}
    """
    found: list[Formation] = []
    for moment in sorted(routine.moments, key=lambda each: (each.at.eight, each.at.count)):
        before = found[-1] if found else Formation(moment.at, {}, frozenset())
        if moment.what == UNISON:
            found.append(Formation(moment.at, {}, frozenset()))
        elif moment.what == CANON:
            found.append(Formation(moment.at, _read_later(moment), before.mirrored))
        elif moment.what == MIRRORED:
            names = frozenset(name for name in map(str.strip, moment.hand.split(",")) if name)
            if not names:
                raise CoachError("formation.nobody", where=_where(moment), hand=moment.hand)
            found.append(Formation(moment.at, before.later, names))
    return tuple(found)


def mirror(plan: Plan, members: frozenset[str]) -> Formation:
    """Return the formation with the hands of some members swapped throughout."""
    from tempo_coach.music.counts.count_map import Position

    return Formation(Position(plan.eights[0].number - 1, 1.0), {}, members)


def lay_part(take: Take, member: str, formations: Sequence[Formation]) -> tuple[Take, Ints]:
    """Return the take with a member's own part as its plan, in order of time, and the original index of each moment.

    Parameters
    ----------
    take : Take
    member : str
    formations : sequence of Formation
        In order of place.
    """
    plan, moments = take.plan, take.plan.moments
    later = np.zeros(len(moments))
    hands = list(moments.hand)
    swap = dict(zip(plan.hands, plan.hands[::-1], strict=True)) if len(plan.hands) == 2 else {}
    for k, one in enumerate(formations):
        end = _count_of(plan, formations[k + 1].at) if k + 1 < len(formations) else np.inf
        inside = np.flatnonzero((moments.count >= _count_of(plan, one.at) - 1e-6) & (moments.count < end - 1e-6))
        later[inside] = one.later.get(member, 0)
        if member in one.mirrored:
            for j in inside.tolist():
                hands[j] = swap.get(hands[j], hands[j])
    if not later.any() and tuple(hands) == moments.hand:
        return take, np.arange(len(moments))
    times = times_at(plan, moments.count + later)
    order = np.lexsort((np.arange(len(times)), times))
    own = Moments(
        time=times[order],
        cycle=moments.cycle[order],
        hand=tuple(hands[k] for k in order),
        label=tuple(moments.label[k] for k in order),
        count=moments.count[order],
        asked_lag_deg=moments.asked_lag_deg[order],
        cue=moments.cue[order],
        kind=tuple(moments.kind[k] for k in order),
    )
    return replace(take, plan=replace(plan, moments=own)), order


def _count_of(plan: Plan, place: Position) -> float:
    """Return the counts of a place in a plan; its first and last eight continue beyond it."""
    starts = {eight.number: eight.start for eight in plan.eights}
    first, last = plan.eights[0], plan.eights[-1]
    if place.eight < first.number:
        return -np.inf
    if place.eight > last.number:
        return np.inf
    return float(starts[place.eight] + place.count - 1)


def _read_later(moment: RoutineMoment) -> dict[str, int]:
    later: dict[str, int] = {}
    for part in filter(None, map(str.strip, moment.hand.split(","))):
        name, mark, counts = (each.strip() for each in part.rpartition(":"))
        if not (mark and name and counts.lstrip("-").isdigit()) or name in later:
            raise CoachError("formation.no_counts", where=_where(moment), part=part)
        later[name] = int(counts)
    if not later:
        raise CoachError("formation.nobody", where=_where(moment), hand=moment.hand)
    return later


def _where(moment: RoutineMoment) -> str:
    return f"{moment.what} on eight {moment.at.eight} count {say_count(moment.at.count - 1)}"
