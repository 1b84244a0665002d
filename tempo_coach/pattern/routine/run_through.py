"""A whole routine as one plan: everything laid on its eights, in its music."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.drill import LEAD_IN_COUNTS
from tempo_coach.pattern.drill.pattern import SAME_PLACE
from tempo_coach.pattern.plan.cycle_moments import cycle_starts, make_moments
from tempo_coach.pattern.plan.layout import check_ranges, make_plan
from tempo_coach.pattern.plan.passage import Passage
from tempo_coach.pattern.plan.plan import Moments, Section
from tempo_coach.pattern.plan.section_plans import named_apart
from tempo_coach.pattern.routine.routine import span_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.drill.drill import Cues, Drill
    from tempo_coach.pattern.plan.plan import Music, Plan
    from tempo_coach.pattern.routine.routine import Laid, Routine

    LoadDrill = Callable[[Laid], tuple[Drill, dict[str, object]]]


def run_through(
    routine: Routine,
    counts: CountMap,
    load_drill: LoadDrill,
    *,
    name: str,
    music: Music,
    from_eight: int = 1,
    eights: int | None = None,
    speed: float = 1.0,
    lead_in_counts: int = LEAD_IN_COUNTS,
    cues: Cues = "all",
    every_count: bool = False,
) -> Plan:
    """Return the plan of a routine, or of some of its eights.

    Cycles are numbered through. Between two stretches one number stays free, so that no period is taken across them.

    Parameters
    ----------
    routine : Routine
    counts : CountMap
        Of its music, corrected.
    load_drill : callable
        Returns the drill of what is laid, for the hand that does it, mirrored where it is; and its pattern as the
        file gives it.
    name : str
        What the plan's drill is called.
    music : Music
    from_eight : int
        The eight that the lead-in leads to.
    eights : int or None
        How many; by default all that follow.
    speed, lead_in_counts, cues
        As in :func:`tempo_coach.pattern.plan.layout.lay_out`. Cues do not thin out here: one drill's do.
    every_count : bool
        Whether every count of the passage clicks besides, also where nothing is laid.

    Raises
    ------
    CoachError
        If nothing is laid on these eights, they lie outside the music, or a number is out of range.
    """
    check_ranges(counts, speed=speed, from_eight=from_eight, eights=eights, lead_in_counts=lead_in_counts)
    if cues == "thinning":
        raise CoachError("routine.thinning", where="--cues")
    first = float(counts.start_of_eight(from_eight))
    end = min(counts.last_count + 1, float(counts.start_of_eight(from_eight + eights)) if eights else np.inf)
    if first >= end:
        last = counts.place(counts.last_count).eight
        raise CoachError("routine.eight", where="--from-eight", last=last, from_eight=from_eight)
    passage = Passage(counts, first, end, lead_in_counts, speed)
    stretches = [
        (drill, pattern, begins)
        for laid in sorted(routine.laid, key=lambda each: (each.at.eight, each.at.count))
        for drill, pattern in [load_drill(laid)]
        if (begins := _cycles_inside(laid, drill, passage))
    ]
    if not stretches:
        raise CoachError("routine.empty_here", where=name, routine=name)
    drills = [drill for drill, _, _ in stretches]
    names = _names_apart(drills)
    parts: list[Moments] = []
    starts: list[float] = []
    sections: list[Section] = []
    for drill, pattern, begins in stretches:
        made = make_moments(drill.pattern, begins, cues, passage, first_cycle=len(starts))
        parts.append(_rename(made, names[drill.name]))
        section = Section(
            drill.name,
            drill.title,
            drill.pattern.hand_names,
            len(starts),
            drill.pattern.cycle_counts,
            drill.allowance,
            tuple(begins),
            pattern,
        )
        sections.append(section)
        # the free number begins where the stretch is over
        starts += [*begins, section.end]
    hands = tuple(dict.fromkeys(hand for drill in drills for hand in drill.pattern.hand_names))
    return make_plan(
        passage,
        _join(parts, hands),
        way=cues,
        slowed=speed < 1,
        drill=name,
        title=routine.title,
        apparatus=routine.apparatus,
        hands=hands,
        cycle_counts=max(drill.pattern.cycle_counts for drill in drills),
        # two stretches that are done at one time, by two hands, begin out of turn
        cycle_starts=np.maximum.accumulate(starts),
        allowance=max(drill.allowance for drill in drills),
        music=music,
        sections=tuple(sections),
        every_count=every_count,
    )


def check_laid(routine: Routine, from_eight: int | None = None, to_eight: int | None = None) -> None:
    """Refuse a routine with nothing laid on it, or on the asked eights, as far as can be told without its music.

    Parameters
    ----------
    routine : Routine
    from_eight, to_eight : int or None
        The first and the last of them; by default those of the routine.

    Raises
    ------
    CoachError
        If there is nothing to be practised.
    """
    if not routine.laid:
        raise CoachError("routine.empty")
    first, last = from_eight or 1, np.inf if to_eight is None else to_eight
    # a stretch that begins within an eight ends within one
    if any(first <= each.at.eight + each.eights and each.at.eight <= last for each in routine.laid):
        return
    laid = sorted(routine.laid, key=lambda each: (each.at.eight, each.at.count))
    there = [(each.drill, each.at.eight, each.at.eight + each.eights - 1) for each in laid]
    raise CoachError("routine.eights_empty", where="--from-eight", first=first, last=to_eight, there=there)


def _cycles_inside(laid: Laid, drill: Drill, passage: Passage) -> list[float]:
    """Return the positions of the whole cycles of a stretch that lie inside the passage."""
    counts = passage.counts
    begin, end = span_of(counts, laid)
    behind = min(end, passage.end) - drill.pattern.cycle_counts + SAME_PLACE
    return [at for at in cycle_starts(drill.pattern, counts, begin, end) if passage.first - SAME_PLACE <= at <= behind]


def _names_apart(drills: Sequence[Drill]) -> dict[str, dict[tuple[str, str], str]]:
    """Return, by drill, distinct names for moments that several drills call the same."""
    owners: dict[tuple[str, str], dict[str, str]] = {}
    for drill in drills:
        for hand in drill.pattern.hands:
            for moment in hand.moments:
                owners.setdefault((hand.name, moment.label), {})[drill.name] = drill.title
    found: dict[str, dict[tuple[str, str], str]] = {drill.name: {} for drill in drills}
    for (hand_name, label), titles in owners.items():
        for name, title in titles.items() if len(titles) > 1 else ():
            found[name][hand_name, label] = named_apart(label, title)
    return found


def _rename(moments: Moments, names: Mapping[tuple[str, str], str]) -> Moments:
    pairs = zip(moments.hand, moments.label, strict=True)
    return replace(moments, label=tuple(names.get(pair, pair[1]) for pair in pairs))


def _join(parts: Sequence[Moments], hands: Sequence[str]) -> Moments:
    """Return the moments of all stretches, ordered by time and then by the order of the hands."""

    def words(name: str) -> list[str]:
        return [word for part in parts for word in getattr(part, name)]

    def numbers(name: str) -> NDArray[Any]:
        return np.concatenate([getattr(part, name) for part in parts])

    rank = np.array([hands.index(hand) for hand in words("hand")])
    order = np.lexsort((rank, numbers("time")))
    hand, label, kind = ([words(name)[k] for k in order] for name in ("hand", "label", "kind"))
    return Moments(
        time=numbers("time")[order],
        cycle=numbers("cycle")[order],
        hand=tuple(hand),
        label=tuple(label),
        count=numbers("count")[order],
        asked_lag_deg=numbers("asked_lag_deg")[order],
        cue=numbers("cue")[order],
        kind=tuple(kind),
    )
