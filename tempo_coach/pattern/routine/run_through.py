"""A whole routine as one plan: what is laid on its eights, one stretch after the other, in its music."""

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
from tempo_coach.pattern.plan.plan import Moments
from tempo_coach.pattern.routine.routine import span_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.drill.drill import Cues, Drill
    from tempo_coach.pattern.plan.plan import Music, Plan
    from tempo_coach.pattern.routine.routine import Laid, Routine

    LoadDrill = Callable[[Laid], Drill]


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
) -> Plan:
    """Return the plan of a routine, or of some of its eights.

    Cycles are numbered through. Between two stretches one number stays free, so that no period is taken across them.

    Parameters
    ----------
    routine : Routine
    counts : CountMap
        Of its music, corrected.
    load_drill : callable
        Returns the drill of what is laid, for the hand that does it, mirrored where it is.
    name : str
        What the plan's drill is called.
    music : Music
    from_eight : int
        The eight that the lead-in leads to.
    eights : int or None
        How many; by default all that follow.
    speed, lead_in_counts, cues
        As in :func:`tempo_coach.pattern.plan.layout.lay_out`. Cues do not thin out here: one drill's do.

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
        (drill, begins)
        for laid in sorted(routine.laid, key=lambda each: (each.at.eight, each.at.count))
        for drill in [load_drill(laid)]
        if (begins := _cycles_inside(laid, drill, passage))
    ]
    if not stretches:
        raise CoachError("routine.empty_here", where=name, routine=name)
    names = _names_apart([drill for drill, _ in stretches])
    parts: list[Moments] = []
    starts: list[float] = []
    for drill, begins in stretches:
        made = make_moments(drill.pattern, begins, cues, passage, first_cycle=len(starts))
        parts.append(_rename(made, names[drill.name]))
        # the free number begins where the stretch is over
        starts += [*begins, begins[-1] + drill.pattern.cycle_counts]
    hands = tuple(dict.fromkeys(hand for drill, _ in stretches for hand in drill.pattern.hand_names))
    return make_plan(
        passage,
        _join(parts, hands),
        way=cues,
        slowed=speed < 1,
        drill=name,
        title=routine.title,
        apparatus=routine.apparatus,
        hands=hands,
        cycle_counts=max(drill.pattern.cycle_counts for drill, _ in stretches),
        # two stretches that are done at one time, by two hands, begin out of turn
        cycle_starts=np.maximum.accumulate(starts),
        allowance=max(drill.allowance for drill, _ in stretches),
        music=music,
    )


def stretch_at(routine: Routine, counts: CountMap, from_eight: int | None = None) -> Laid:
    """Return what is laid on an eight, or what is laid first.

    Parameters
    ----------
    routine : Routine
    counts : CountMap
        Of its music, corrected.
    from_eight : int or None
        Without it the first that is laid is meant.

    Raises
    ------
    CoachError
        If nothing is.
    """
    laid = sorted(routine.laid, key=lambda each: (each.at.eight, each.at.count))
    check_laid(routine, from_eight)
    if from_eight is None:
        return laid[0]
    begin, behind = counts.start_of_eight(from_eight), counts.start_of_eight(from_eight + 1)
    for each in laid:
        first, end = span_of(counts, each)
        if first < behind and begin < end:
            return each
    raise _not_laid(routine, from_eight)


def check_laid(routine: Routine, from_eight: int | None = None, *, onwards: bool = False) -> None:
    """Refuse a routine on which nothing is laid, or not on an eight, as far as that can be told without its music.

    Parameters
    ----------
    routine : Routine
    from_eight : int or None
    onwards : bool
        Whether what is laid on later eights will do as well.

    Raises
    ------
    CoachError
        If there is nothing to be practised.
    """
    if not routine.laid:
        raise CoachError("routine.empty")
    # a stretch that begins within an eight ends within one
    if from_eight is not None and not any(
        (onwards or each.at.eight <= from_eight) and from_eight <= each.at.eight + each.eights for each in routine.laid
    ):
        raise _not_laid(routine, from_eight)


def _not_laid(routine: Routine, from_eight: int) -> CoachError:
    laid = sorted(routine.laid, key=lambda each: (each.at.eight, each.at.count))
    there = [(each.drill, each.at.eight, each.at.eight + each.eights - 1) for each in laid]
    return CoachError("routine.eight_empty", where="--from-eight", eight=from_eight, there=there)


def _cycles_inside(laid: Laid, drill: Drill, passage: Passage) -> list[float]:
    """Positions at which the whole cycles of a stretch begin that lie inside the passage."""
    counts = passage.counts
    begin, end = span_of(counts, laid)
    behind = min(end, passage.end) - drill.pattern.cycle_counts + SAME_PLACE
    return [at for at in cycle_starts(drill.pattern, counts, begin, end) if passage.first - SAME_PLACE <= at <= behind]


def _names_apart(drills: Sequence[Drill]) -> dict[str, dict[tuple[str, str], str]]:
    """For each drill, another name for those of its moments that another drill calls the same."""
    owners: dict[tuple[str, str], dict[str, str]] = {}
    for drill in drills:
        for hand in drill.pattern.hands:
            for moment in hand.moments:
                owners.setdefault((hand.name, moment.label), {})[drill.name] = drill.title
    found: dict[str, dict[tuple[str, str], str]] = {drill.name: {} for drill in drills}
    for (hand_name, label), titles in owners.items():
        for name, title in titles.items() if len(titles) > 1 else ():
            found[name][hand_name, label] = f"{label} ({title})"
    return found


def _rename(moments: Moments, names: Mapping[tuple[str, str], str]) -> Moments:
    pairs = zip(moments.hand, moments.label, strict=True)
    return replace(moments, label=tuple(names.get(pair, pair[1]) for pair in pairs))


def _join(parts: Sequence[Moments], hands: Sequence[str]) -> Moments:
    """The moments of all stretches, ordered by time and then by the order of the hands."""

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
