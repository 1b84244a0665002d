"""Judging: tables, takes, placed observations and groups to scorecards."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.errors import CoachError
from tempo_coach.score.measures.parts import Part
from tempo_coach.score.measures.steadiness import compare_takes, measure_scatter
from tempo_coach.score.scorecard import Scorecard

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from tempo_coach.coach.placing import Placed
    from tempo_coach.coach.recording_members import HeardRows, RecordingOptions
    from tempo_coach.observe.member_rows import MemberRows
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.observe.sound.sound_take import HeardTake
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn
    from tempo_coach.score.group.card import GroupCard
    from tempo_coach.score.trace.boomerang import Boomerang
    from tempo_coach.score.trace.throws import Throw
    from tempo_coach.share_done import Progress
    from tempo_coach.times import Floats


__all__ = [
    "JudgedGroup",
    "Part",
    "Scorecard",
    "compare_takes",
    "judge_file",
    "judge_flights",
    "judge_members",
    "judge_placed",
    "judge_take",
    "measure_scatter",
]


class JudgedGroup(NamedTuple):
    """The card of a group, and its takes.

    ``takes`` is empty for one recording of all; ``known`` are those whose takes the history has. With ``own_clock`` the
    takes lie on the plan by the group's own beat.
    """

    card: GroupCard
    takes: Mapping[str, Take]
    known: frozenset[str]
    own_clock: bool


def judge_file(
    onsets: str | Path, plan: Plan, *, observed_by: ObservedBy = "file", warn: Warn | None = None
) -> Scorecard:
    """Judge a table of onsets against a plan.

    Raises
    ------
    CoachError
        If the table cannot be read.
    """
    from tempo_coach.observe.take.onsets import Take, read_onsets

    return judge_take(Take(plan, read_onsets(onsets, hands=plan.hands, warn=warn), observed_by=observed_by))


def judge_take(take: Take) -> Scorecard:
    """Judge a take: one scorecard."""
    from tempo_coach.score.card import judge

    return judge(take)


def judge_flights(card: Scorecard) -> tuple[Sequence[Boomerang], Sequence[Throw]]:
    """Return the boomerangs and the throws of a judged take; empty where its drill has none."""
    from tempo_coach.score.trace.boomerang import has_boomerangs, judge_boomerangs
    from tempo_coach.score.trace.throws import judge_throws

    boomerangs = judge_boomerangs(card.plan, card.asynchrony) if has_boomerangs(card.plan) else ()
    return boomerangs, judge_throws(card.plan, card.asynchrony)


def judge_placed(placed: Placed) -> Scorecard:
    """Judge a take from a trace: one scorecard, without a bias where its place is unknown."""
    from tempo_coach.score.card import judge_fitted, without_noise

    card = judge_take(placed.take) if placed.absolute else judge_fitted(placed.take, confidence=placed.confidence)
    if placed.mark_sd is not None:
        card = without_noise(card, placed.mark_sd)
    return card if placed.sizes is None else replace(card, sizes=placed.sizes)


def judge_members(
    sources: Sequence[str],
    *,
    lay_plan: Callable[[float], Plan] | None = None,
    lay_at_tempo: Callable[[float], Plan] | None = None,
    later: Mapping[str, float] | None = None,
    metres: Mapping[str, float] | None = None,
    shifts: Mapping[str, float] | None = None,
    partners: Mapping[str, str] | None = None,
    routine: str | Path | None = None,
    own_clock: bool = False,
    hall: float | None = None,
    listening: RecordingOptions | None = None,
    history: Path | None = None,
    units: Mapping[str, str] | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> JudgedGroup:
    """Judge a group from its files.

    Parameters
    ----------
    sources : sequence of str
        Takes, tables of onsets, traces, recordings and films, a member each, or tables with a column member, or folders
        of these; a number of the history or ``ATHLETE:last``. ``NAME=FILE`` says whose.
    lay_plan : callable or None
        Returns the plan of tables and traces, given the time of the last onset; None for that of the takes.
    lay_at_tempo : callable or None
        Returns the plan at about another tempo in beats a minute, for members who do twice as much as was laid; None
        where the level is as asked.
    later : mapping of member to float, optional
        Seconds from the clock of a member's file to the take clock.
    metres, shifts, partners
        As in :func:`tempo_coach.score.group.group.judge_group`.
    routine : str, Path or None
        A routine whose exchanges are looked at, and its marks of canon, mirrored hands and unison.
    own_clock : bool
        Whether the plan that is laid has no music, so that the clock of tables says nothing of early and late.
    hall : float or None
        Metres within which those stood of whom nobody said how far; see
        :func:`tempo_coach.score.group.group.judge_group`.
    listening : RecordingOptions or None
        How recordings and films are read.
    history : Path or None
        The file of the history that numbers are looked up in; without it there are none.
    units : mapping of quantity to unit or None
        What the columns of traces are, as in :func:`tempo_coach.observe.trace.tables.read_trace`.
    warn, progress : callable or None
        Progress is that of hearing recordings and films.

    Raises
    ------
    CoachError
        If a file cannot be read, a name comes twice, nothing says what the plan is, or an option is for nobody.
    """
    from tempo_coach.coach.answered_tables import read_answered
    from tempo_coach.coach.recording_members import RecordingOptions, find_in_history, hear_by_first_clap, hear_members
    from tempo_coach.observe.members import gather
    from tempo_coach.pattern.routine.routine_file import read_routine
    from tempo_coach.score.group.crosstalk import leave_to_others
    from tempo_coach.score.group.formation import read_formations
    from tempo_coach.score.group.group import judge_group
    from tempo_coach.score.group.one_recording import judge_mix
    from tempo_coach.score.group.own_beat import set_on_own_beat
    from tempo_coach.score.group.together import read_exchanges
    from tempo_coach.score.group.turns import split_turns

    known: set[str] = set()

    def look_up(said: str) -> tuple[str, Take] | None:
        found = None if history is None else find_in_history(said, history)
        known.update(() if found is None else (found[0],))
        return found

    tables: list[str] = []

    def read_table(file: str) -> Trace:
        tables.append(file)
        return read_answered(file, units=units)

    marked = None if routine is None else read_routine(routine)
    exchanges = () if marked is None else read_exchanges(marked)
    formations = () if marked is None else read_formations(marked)
    how = listening or RecordingOptions()
    loudness: dict[str, Floats] = {}

    def keep_loudness(found: Mapping[str, HeardTake | HeardRows | CoachError]) -> None:
        for member, one in found.items():
            if not isinstance(one, CoachError) and one.loudness is not None:
                loudness[member] = one.loudness

    def hear(files: Mapping[str, str], plan: Plan) -> dict[str, Take | CoachError]:
        found = hear_members(files, plan, how, warn=warn, progress=progress)
        keep_loudness(found)
        return {member: one if isinstance(one, CoachError) else one.take for member, one in found.items()}

    def hear_alone(files: Mapping[str, str]) -> dict[str, MemberRows | CoachError]:
        found = hear_by_first_clap(files, how, warn=warn, progress=progress)
        keep_loudness(found)
        return {member: one if isinstance(one, CoachError) else one.rows for member, one in found.items()}

    takes, mixed, in_turn, without_zero, left_out = gather(
        sources,
        lay_plan=lay_plan,
        later=later or {},
        own_clock=own_clock,
        look_up=look_up,
        hear=hear,
        read_table=read_table,
        hear_alone=hear_alone if how.first_clap else None,
        needs=how.needs,
        warn=warn,
    )
    if units and not tables:
        raise CoachError("member.no_readings", where="--unit")
    takes = _at_their_level(takes, lay_at_tempo, warn)
    if mixed is not None:
        mixed = _at_their_level({"": mixed}, lay_at_tempo, warn)[""]
        card = judge_mix(set_on_own_beat({"": mixed})[""] if own_clock else mixed)
        return JudgedGroup(card, {}, frozenset(), own_clock)
    # takes bring their clock with their plan; what is laid here is one plan for all
    own_clock = own_clock and len({id(take.plan) for take in takes.values()}) == 1
    if loudness:
        takes = leave_to_others(takes, loudness, own_clock=own_clock)
    if in_turn:
        takes = set_on_own_beat(takes) if own_clock else takes
        takes = {
            name: own
            for member, take in takes.items()
            for name, own in (split_turns(take, in_turn[member]) if member in in_turn else {member: take}).items()
        }
    # what was said of who is left out is for nobody
    formations = tuple(one.without(left_out) for one in formations)
    card = judge_group(
        takes,
        metres={member: far for member, far in (metres or {}).items() if member not in left_out},
        shifts={member: counts for member, counts in (shifts or {}).items() if member not in left_out},
        partners={one: other for one, other in (partners or {}).items() if not {one, other} & left_out},
        exchanges=exchanges,
        formations=formations,
        own_clock=own_clock,
        hall=hall,
        without_zero=without_zero,
    )
    return JudgedGroup(card, takes, frozenset(known), own_clock)


def _at_their_level(
    takes: dict[str, Take], lay_at_tempo: Callable[[float], Plan] | None, warn: Warn | None
) -> dict[str, Take]:
    """Return the takes with the counts that the members do, where these are twice or three times those of the plan."""
    import numpy as np

    from tempo_coach.reasons import Reason, Why
    from tempo_coach.score.group.pace import find_level

    if lay_at_tempo is None:
        return takes
    plans = {id(take.plan): take.plan for take in takes.values()}
    for one, plan in plans.items():
        level = find_level([take for take in takes.values() if id(take.plan) == one])
        if level > 1:
            heard = 60 / float(np.median(np.diff(plan.moments.time)))
            finer = lay_at_tempo(level * heard)
            if warn:
                warn(Reason(Why.OTHER_LEVEL, (heard, level * heard)))
            takes = {
                member: _onto_finer(take, finer) if id(take.plan) == one else take for member, take in takes.items()
            }
    return takes


def _onto_finer(take: Take, finer: Plan) -> Take:
    """Return the take on a plan that may begin earlier and end later: a recording was not listened to there."""
    import numpy as np

    from tempo_coach.observe.observers import OBSERVERS, Source

    outside: list[tuple[float, float]] = []
    if OBSERVERS[take.observed_by].source in (Source.SOUND, Source.FILM):
        (first, last), times = take.plan.moments.time[[0, -1]], finer.moments.time
        edge = float(np.median(np.diff(times))) / 2
        ends = ((float(times[0]) - edge, float(first) - edge), (float(last) + edge, float(times[-1]) + edge))
        outside = [(start, end) for start, end in ends if end > start]
    return replace(take, plan=finer, unmeasurable=(*take.unmeasurable, *outside))
