"""Layout of a drill on counts: a :class:`Plan` from a :class:`Drill` and a :class:`CountMap`."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.drill import LEAST_THINNING, TEMPO_RANGE_BPM, Cues, Drill
from tempo_coach.pattern.drill.pattern import SAME_PLACE
from tempo_coach.pattern.plan.cues import make_cues
from tempo_coach.pattern.plan.cycle_moments import cycle_starts, end_of_cycles, make_moments
from tempo_coach.pattern.plan.passage import Passage
from tempo_coach.pattern.plan.plan import Moments, Plan

if TYPE_CHECKING:
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.plan.plan import Music, Section
    from tempo_coach.times import Floats

#: Most eights or cycles of one take: hours of it.
_MOST_EIGHTS = 20_000
#: Speeds at which stretched music is still music.
SPEED_RANGE = (0.5, 1.2)


def lay_out(
    drill: Drill,
    counts: CountMap,
    *,
    music: Music | None = None,
    tempo_bpm: float | None = None,
    from_eight: int = 1,
    from_count: float = 1.0,
    eights: int | None = None,
    cycles: int | None = None,
    speed: float = 1.0,
    lead_in_counts: int | None = None,
    cues: Cues | None = None,
    every_count: bool = False,
    pattern: dict[str, object] | None = None,
) -> Plan:
    """Return the plan of a drill on the counts of a piece of music or of an even tempo.

    Parameters
    ----------
    drill : Drill
    counts : CountMap
        Of the music, or :meth:`CountMap.steady`.
    music : Music or None
        The file that ``counts`` belongs to.
    tempo_bpm : float or None
        The tempo that was asked for, where there is no music.
    from_eight : int
        The eight that the lead-in leads to.
    from_count : float
        The count of that eight on which the first cycle begins.
    eights : int or None
        How many eights; by default as many as ``cycles`` needs, or, with music and without ``cycles``, all that follow.
    cycles : int or None
        How many cycles; by default as many as fit into ``eights``, or what the drill says.
    speed : float
        Share of the music's own speed, 0.5 to 1.2.
    lead_in_counts : int or None
        Counts before the first cycle; by default what the drill says.
    cues : {"all", "alternate", "ones", "none", "thinning"} or None
        By default what the drill says.
    every_count : bool
        Whether every count of the passage clicks besides.
    pattern : dict or None
        The pattern as its file gave it, to be kept with the plan.

    Returns
    -------
    Plan

    Raises
    ------
    CoachError
        If the passage lies outside the music, no whole cycle fits, or a number is out of range.
    """
    lead_in = drill.practice.lead_in_counts if lead_in_counts is None else lead_in_counts
    check_ranges(counts, speed=speed, from_eight=from_eight, eights=eights, cycles=cycles, lead_in_counts=lead_in)
    way = drill.practice.cues if cues is None else cues
    first = float(counts.start_of_eight(from_eight))
    begin = first + from_count - 1
    end = _end_of_passage(drill, counts, music, begin, eights, cycles)
    starts = cycle_starts(drill.pattern, counts, begin, end)
    if cycles is not None:
        starts = starts[:cycles]
    if not starts:
        code = "passage.no_cycle_from_there" if eights is None else "passage.no_cycle_in_eights"
        raise CoachError(code, where=drill.name, cycle_counts=drill.pattern.cycle_counts)
    if way == "thinning" and len(starts) < LEAST_THINNING:
        raise CoachError("cues.few_cycles", where="--cues", least=LEAST_THINNING, cycles=len(starts))
    end = max(end, starts[-1] + drill.pattern.cycle_counts) if eights is None else end
    passage = Passage(counts, first, end, lead_in, speed)
    slowed = speed < 1 or (tempo_bpm is not None and tempo_bpm < drill.practice.tempo_bpm)
    return make_plan(
        passage,
        make_moments(drill.pattern, starts, way, passage),
        way=way,
        slowed=slowed,
        drill=drill.name,
        title=drill.title,
        apparatus=drill.apparatus,
        hands=drill.pattern.hand_names,
        cycle_counts=drill.pattern.cycle_counts,
        cycle_starts=np.array(starts),
        allowance=drill.allowance,
        music=music,
        tempo_bpm=tempo_bpm,
        pattern=pattern,
        every_count=every_count,
    )


def make_plan(
    passage: Passage,
    moments: Moments,
    *,
    way: Cues,
    slowed: bool,
    drill: str,
    title: str,
    apparatus: str,
    hands: tuple[str, ...],
    cycle_counts: float,
    cycle_starts: Floats,
    allowance: float,
    music: Music | None,
    tempo_bpm: float | None = None,
    pattern: dict[str, object] | None = None,
    sections: tuple[Section, ...] = (),
    every_count: bool = False,
) -> Plan:
    """Return the plan of moments on a passage, with the clocks and cues that follow from both.

    Parameters
    ----------
    passage : Passage
    moments : Moments
        At least one.
    way : {"all", "alternate", "ones", "none", "thinning"}
    slowed : bool
        True below the drill's default tempo: counts then click in waits that are too long.
    drill, title, apparatus, hands, cycle_counts, cycle_starts, allowance, music, tempo_bpm, pattern, sections
        As in :class:`Plan`.
    every_count : bool
        Whether every count of the passage clicks besides.
    """
    knot_times, knot_counts = passage.knots()
    return Plan(
        drill=drill,
        title=title,
        apparatus=apparatus,
        hands=hands,
        cycle_counts=cycle_counts,
        tempo_bpm=tempo_bpm,
        music=music,
        speed=passage.speed,
        lead_in_counts=passage.lead_in_counts,
        cue_way=way,
        allowance=allowance,
        eights=passage.eights,
        pieces=(passage.piece,),
        knot_times=knot_times,
        knot_counts=knot_counts,
        duration=max(passage.duration, float(moments.time[-1])),
        moments=moments,
        cues=make_cues(moments, passage, way, hands=hands, slowed=slowed, every_count=every_count),
        pattern=pattern or {},
        cycle_starts=cycle_starts,
        sections=sections,
    )


def cut_short(plan: Plan, end: float) -> Plan:
    """Return the plan of a take that was ended early: only the cycles that were over by then.

    Parameters
    ----------
    plan : Plan
    end : float
        Seconds on the take clock.
    """
    moments = plan.moments
    unfinished = set(moments.cycle[moments.time > end].tolist())
    if not unfinished:
        return plan
    kept = np.flatnonzero([int(cycle) not in unfinished for cycle in moments.cycle])
    return replace(
        plan,
        duration=min(plan.duration, max(end, 0.0)),
        moments=Moments(
            time=moments.time[kept],
            cycle=moments.cycle[kept],
            hand=tuple(moments.hand[k] for k in kept),
            label=tuple(moments.label[k] for k in kept),
            count=moments.count[kept],
            asked_lag_deg=moments.asked_lag_deg[kept],
            cue=moments.cue[kept],
            kind=tuple(moments.kind[k] for k in kept),
        ),
    )


def check_tempo(tempo_bpm: float, *, where: str = "--tempo") -> float:
    """Return a tempo that can be counted, in beats a minute.

    Parameters
    ----------
    tempo_bpm : float
    where : str
        The option it came from, for the error.

    Raises
    ------
    CoachError
        If it lies outside ``TEMPO_RANGE_BPM``.
    """
    low, high = TEMPO_RANGE_BPM
    if not low <= tempo_bpm <= high:
        raise CoachError("plan.tempo", where=where, low_bpm=low, high_bpm=high, tempo_bpm=tempo_bpm)
    return tempo_bpm


def check_ranges(
    counts: CountMap,
    *,
    speed: float,
    from_eight: int,
    eights: int | None = None,
    cycles: int | None = None,
    lead_in_counts: int,
) -> None:
    """Refuse a passage whose numbers cannot be meant.

    Parameters
    ----------
    counts : CountMap
        Its tempo has to be one that can be counted.
    speed, from_eight, eights, cycles, lead_in_counts
        As in :func:`lay_out`.

    Raises
    ------
    CoachError
        With the option to put right.
    """
    check_tempo(counts.tempo_bpm)
    check_numbers(speed=speed, from_eight=from_eight, eights=eights, cycles=cycles, lead_in_counts=lead_in_counts)


def check_numbers(
    *,
    speed: float,
    from_eight: int,
    eights: int | None = None,
    cycles: int | None = None,
    lead_in_counts: int | None = None,
) -> None:
    """Refuse whatever of a passage can be refused before its music is heard.

    Parameters
    ----------
    speed, from_eight, eights, cycles, lead_in_counts
        As in :func:`lay_out`.

    Raises
    ------
    CoachError
        With the option to put right.
    """
    if lead_in_counts is not None and not 0 <= lead_in_counts <= 32:
        raise CoachError("plan.lead_in", where="--lead-in", lead_in_counts=lead_in_counts)
    low, high = SPEED_RANGE
    if not low <= speed <= high:
        raise CoachError("plan.speed", where="--speed", low=low, high=high, speed=speed)
    for number, option in ((from_eight, "--from-eight"), (eights, "--eights"), (cycles, "--cycles")):
        if number is not None and not 1 <= number <= _MOST_EIGHTS:
            raise CoachError("plan.number", where=option, most=_MOST_EIGHTS, number=number)


def _end_of_passage(
    drill: Drill,
    counts: CountMap,
    music: Music | None,
    begin: float,
    eights: int | None,
    cycles: int | None,
) -> float:
    """Return the position at which the passage ends; with music it has to lie inside it."""
    music_end = counts.last_count + 1
    if eights is not None:
        place = counts.place(begin)
        end = float(counts.start_of_eight(place.eight + eights) + place.count - 1)
    elif cycles is None and music is not None:
        return music_end
    else:
        end = end_of_cycles(drill.pattern, counts, begin, cycles or drill.practice.cycles)
    if music is not None and end > music_end + SAME_PLACE:
        last = counts.place(counts.last_count).eight
        raise CoachError("passage.beyond_music", where=music.path, eight=counts.place(end - 1).eight, last_eight=last)
    return end
