"""The members of a group: their onsets from one table or from a file each, on one take clock."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from tempo_coach.errors import CoachError, WrongUsage
from tempo_coach.observe.member_rows import TOGETHER, MemberRows, read_members
from tempo_coach.observe.table_text import (
    HAND_WORDS,
    MEMBER_WORDS,
    find_column,
)
from tempo_coach.observe.take.onsets import FURTHEST, Onsets, Take
from tempo_coach.observe.take.take_file import ENDING, read_take_file
from tempo_coach.observe.trace.header import is_header_of_trace, peek_header
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import check_file, saying_why

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn

#: Members that a group has at least.
FEWEST = 2
#: Code of the error that asks what a column holds: whoever is asked can answer, and nobody has to be left out.
ASKED = "unit.untold"

#: How names of films end, and those of recordings of sound.
FILMS = frozenset((".mp4", ".mov", ".mkv", ".avi", ".webm", ".3gp"))
SOUND_FILES = frozenset((".wav", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".m4a", ".aac", ".aif", ".aiff", ".caf"))


_Heard = TypeVar("_Heard", "Take", "MemberRows")


class Gathered(NamedTuple):
    """The takes of members; the mix where one recording holds them all; who takes turns in which of the takes.

    Of ``without_zero`` nothing shows how early or late all of it was; who is ``left_out`` could not be read or heard.
    """

    takes: dict[str, Take]
    mixed: Take | None
    in_turn: Mapping[str, tuple[str, ...]]
    without_zero: frozenset[str] = frozenset()
    left_out: frozenset[str] = frozenset()


def gather(
    sources: Sequence[str],
    *,
    lay_plan: Callable[[float], Plan] | None,
    later: Mapping[str, float],
    own_clock: bool = False,
    look_up: Callable[[str], tuple[str, Take] | None] | None = None,
    hear: Callable[[Mapping[str, str], Plan], Mapping[str, Take | CoachError]] | None = None,
    read_table: Callable[[str], Trace] | None = None,
    hear_alone: Callable[[Mapping[str, str]], Mapping[str, MemberRows | CoachError]] | None = None,
    needs: Mapping[str, frozenset[str]] | None = None,
    warn: Warn | None = None,
) -> Gathered:
    """Return the take of each member, and the mix where one recording holds them all.

    Parameters
    ----------
    sources : sequence of str
        ``NAME=FILE`` or a file, whose name is then the member's; a folder is its files. ``NAME,NAME,NAME=FILE`` is
        one file of several who take turns in that order.
    lay_plan : callable or None
        Returns the plan of what brings none, told the take time of the last onset; None for that of the takes.
    later : mapping of member to float
        Seconds from the clock of a member's file to the take clock.
    own_clock : bool
        Whether the start of the tables' clock means nothing, so that the plan has to be as long as what they hold.
    look_up : callable or None
        Returns who is meant and the take of what stands for a take elsewhere, such as a number; None of a file.
    hear : callable or None
        Returns the takes of recordings and films, given by member, on a plan, or why one could not be heard.
    read_table : callable or None
        Returns the trace in a table of readings; None for what its header says.
    hear_alone : callable or None
        Returns what is heard in recordings without music, on one clock, or why it could not be. None where there is
        music in them.
    needs : mapping of str to set of str, optional
        Options that were given, and how the names of files end that they are for: one is refused where it has none.
    warn : callable or None

    Raises
    ------
    CoachError
        If nothing says what the plan is, an option is for nobody, or what a column holds has to be asked. A file that
        cannot be read, and the second one of a name, is left out, and that is said, where there is somebody to be told
        it and two others are there.
    """
    found, in_turn, errors = _read_each(sources, look_up, recordings=hear is not None, read_table=read_table, warn=warn)
    _tell_left_out(errors, found, in_turn, warn)
    unknown = sorted({*later} - {*found, *errors})
    if unknown:
        raise CoachError("member.unknown", where="--clock", members=[*found], found=unknown[0])
    rows = {member: what for member, what in found.items() if isinstance(what, MemberRows)}
    takes = {member: what for member, what in found.items() if isinstance(what, Take)}
    recorded = {member: str(what) for member, what in found.items() if isinstance(what, Path)}
    # who is left out was meant too
    _refuse_for_nobody(needs or {}, [one for source in sources for one in _open_folder(source)])
    if recorded and hear_alone is not None:
        alone = _tell_unheard(hear_alone(recorded), found, in_turn, warn)
        rows, recorded = {**rows, **alone}, {}
        found = {member: alone.get(member, what) for member, what in found.items()}
    if recorded and (own_clock or hear is None):
        raise CoachError("group.recording_without_music", where=next(iter(recorded.values())))
    plan = _find_plan(rows, takes, lay_plan, later, own_clock=own_clock, recorded=bool(recorded))
    if recorded and plan is not None and hear is not None:
        found = {**found, **_tell_unheard(hear(recorded, plan), found, in_turn, warn)}
    made, wrong = _make_takes(found, plan, later)
    _tell_left_out(wrong, made, in_turn, warn)
    if list(made) == [TOGETHER]:
        return Gathered({}, made[TOGETHER], {})
    without_zero = frozenset(member for member, what in rows.items() if not what.has_zero)
    return Gathered(made, None, in_turn, without_zero, frozenset({*errors, *found} - {*made}))


def _read_each(
    sources: Sequence[str],
    look_up: Callable[[str], tuple[str, Take] | None] | None,
    *,
    recordings: bool,
    read_table: Callable[[str], Trace] | None,
    warn: Warn | None,
) -> tuple[dict[str, Take | MemberRows | Path], dict[str, tuple[str, ...]], dict[str, CoachError]]:
    """Return what each member's source holds, who takes turns in one, and why others' cannot be read."""
    found: dict[str, Take | MemberRows | Path] = {}
    in_turn: dict[str, tuple[str, ...]] = {}
    errors: dict[str, CoachError] = {}
    sources = [file for source in sources for file in _open_folder(source)]
    for source in sources:
        try:
            own = _read_apart(source, look_up, recordings=recordings)
            own = own or dict(_read(source, alone=len(sources) == 1, read_table=read_table, warn=warn))
        except CoachError as error:
            if error.code == ASKED or isinstance(error, WrongUsage):
                raise
            errors[_name(source)] = error
            continue
        for member, what in own.items():
            if "," in member and member == _split(source)[0]:
                in_turn[member] = tuple(map(str.strip, member.split(",")))
            again = _find_again(in_turn.get(member, (member,)), {*found} - {*in_turn}, in_turn.values(), where=source)
            if again is None:
                found[member] = what
            elif warn is None or len(sources) == 1:
                raise again
            else:  # the one that came first, and the others, are judged
                in_turn.pop(member, None)
                warn(again)
    return found, in_turn, errors


def _make_takes(
    found: Mapping[str, Take | MemberRows | Path], plan: Plan | None, later: Mapping[str, float]
) -> tuple[dict[str, Take], dict[str, CoachError]]:
    """Return the take of each member, and why others' rows are none; recordings that were not heard are neither."""
    made, wrong = {}, {}
    for member, what in found.items():
        if isinstance(what, Path):
            continue
        try:
            made[member] = _to_take(what, plan, later.get(member, 0.0))
        except CoachError as error:
            wrong[member] = error
    return made, wrong


def _tell_left_out(
    errors: Mapping[str, CoachError],
    others: Collection[str],
    in_turn: Mapping[str, Sequence[str]],
    warn: Warn | None,
) -> None:
    """Report who is left out and why; raise the first error where fewer than two are left, or nobody listens."""
    left = sum(len(in_turn.get(member, (member,))) for member in others)
    for member, error in errors.items():
        if warn is None or left < FEWEST:
            raise error
        warn(Reason(Why.MEMBER_LEFT_OUT, (member, error)))


def _tell_unheard(
    heard: Mapping[str, _Heard | CoachError],
    found: Collection[str],
    in_turn: Mapping[str, Sequence[str]],
    warn: Warn | None,
) -> dict[str, _Heard]:
    """Return what was heard; who was not is left out, and that is said."""
    errors: dict[str, CoachError] = {}
    there: dict[str, _Heard] = {}
    for member, what in heard.items():
        if isinstance(what, CoachError):
            errors[member] = what
        else:
            there[member] = what
    _tell_left_out(errors, {*found} - {*errors}, in_turn, warn)
    return there


def _find_again(
    names: Sequence[str], found: Collection[str], in_turn: Iterable[Sequence[str]], *, where: str
) -> CoachError | None:
    """Return the error of a name that is a duplicate or invalid; None without one."""
    known = [*found, *(name for each in in_turn if each is not names for name in each)]
    for k, name in enumerate(names):
        if not name and len(names) > 1:
            return CoachError("member.unnamed", where=where, found=", ".join(names))
        if name in known or name in names[:k]:
            return CoachError("member.twice", where=where, member=name)
    return None


def _refuse_for_nobody(needs: Mapping[str, frozenset[str]], files: Iterable[str]) -> None:
    """Refuse an option for files when there are none."""
    endings = {Path(file).suffix.lower() for file in files}
    for option, those in needs.items():
        if not endings & those:
            raise CoachError("member.no_film" if those == FILMS else "member.no_recording", where=option)


def _find_plan(
    rows: Mapping[str, MemberRows],
    takes: Mapping[str, Take],
    lay_plan: Callable[[float], Plan] | None,
    later: Mapping[str, float],
    *,
    own_clock: bool,
    recorded: bool,
) -> Plan | None:
    if not (rows or recorded):
        return None
    if lay_plan is not None:
        spans = {
            member: (min(mine.time) + later.get(member, 0.0), max(mine.time) + later.get(member, 0.0))
            for member, mine in rows.items()
            if mine.time
        }
        those = who_overlap(spans)
        end, member = max(((spans[member][1], member) for member in those), default=(0.0, ""))
        start = min((spans[member][0] for member in those), default=0.0) if own_clock else 0.0
        if end - start > FURTHEST:
            raise CoachError("group.beyond_take", where="group", member=member, end_s=end)
        return lay_plan(end - start)
    if not takes:
        raise CoachError("group.nothing_asked", where="group")
    return next(iter(takes.values())).plan


def who_overlap(spans: Mapping[str, tuple[float, float]]) -> list[str]:
    """Return whose span of time overlaps that of most members; the others had different clocks.

    Parameters
    ----------
    spans : mapping of member to (first, last)
    """
    counts = {one: sum(a[0] <= b[1] and b[0] <= a[1] for b in spans.values()) for one, a in spans.items()}
    most = max(counts.values(), default=0)
    middle = next((one for one, count in counts.items() if count == most), None)
    if middle is None:
        return []
    first, last = spans[middle]
    return [one for one, span in spans.items() if span[0] <= last and first <= span[1]]


def _to_take(what: Take | MemberRows, plan: Plan | None, later: float) -> Take:
    if isinstance(what, MemberRows):
        if plan is None:
            raise ValueError("expected a plan for what brings none")
        return Take(
            plan,
            what.onsets(plan.hands, later=later),
            observed_by=what.observed_by,
            noise_floor_ms=what.noise_floor_ms,
        )
    if not later:
        return what
    onsets = Onsets(what.onsets.time + later, what.onsets.hand)
    unmeasurable = tuple((start + later, end + later) for start, end in what.unmeasurable)
    return replace(what, onsets=onsets, unmeasurable=unmeasurable)


def _split(source: str) -> tuple[str, str]:
    """Name and file of a source; no name where it says none."""
    name, mark, file = source.partition("=")
    if mark and not file.strip():
        raise CoachError("member.no_file", where="group", member=name)
    return ("", source) if not mark or Path(source).exists() else (name, file)


def _open_folder(source: str) -> list[str]:
    """The files of a folder, in order of their names; else the source itself."""
    folder = Path(source)
    if not folder.is_dir():
        return [source]
    files = sorted(str(each) for each in folder.iterdir() if each.is_file() and not each.name.startswith("."))
    if not files:
        raise CoachError("group.empty_folder", where=source)
    return files


def _read_apart(
    source: str, look_up: Callable[[str], tuple[str, Take] | None] | None, *, recordings: bool
) -> dict[str, Take | MemberRows | Path]:
    """What is no text: a take that is looked up, or a recording to be heard later; nothing of anything else."""
    name, file = _split(source)
    looked_up = look_up(file) if look_up is not None else None
    if looked_up is not None:
        return {name or looked_up[0]: looked_up[1]}
    path = Path(file)
    if recordings and path.suffix.lower() in FILMS | SOUND_FILES:
        check_file(file, what="recording")
        return {name or path.stem: path}
    return {}


def _read(
    source: str,
    *,
    alone: bool,
    read_table: Callable[[str], Trace] | None = None,
    warn: Warn | None = None,
) -> Mapping[str, Take | MemberRows]:
    name, file = _split(source)
    given = _name(source)
    if _first_line(file).lstrip().startswith("{"):
        held = read_take_file(file, warn=warn)
        return {name or held.member or given: held.take}
    header = peek_header(file)
    has_members = find_column(header, MEMBER_WORDS) is not None
    if is_header_of_trace(header) or (len(header) > 1 and not has_members and find_column(header, HAND_WORDS) is None):
        followed = _follow_trace(file, read_table, apart=has_members)
        return {given: followed[TOGETHER]} if TOGETHER in followed else dict(followed)
    members = read_members(file, may_be_empty=not alone)
    if TOGETHER not in members:
        return dict(members)
    return dict(members) if alone and not name else {given: members[TOGETHER]}


def _name(source: str) -> str:
    """The member of a source: as it says, or the name of the file."""
    name, mark, file = source.partition("=")
    if mark and not file.strip():
        return name
    name, file = _split(source)
    return name or Path(file).name.removesuffix(ENDING).removesuffix(Path(file).suffix)


def _first_line(file: str) -> str:
    check_file(file, what="take_or_table")
    with saying_why(file, "take_or_table"), Path(file).open("rb") as stream:
        return stream.readline(10_000).decode("utf-8-sig", errors="replace")


def _follow_trace(file: str, read_table: Callable[[str], Trace] | None, *, apart: bool) -> dict[str, MemberRows]:
    """The events of each member of a trace, on its clock; else of the one that moves most clearly."""
    from tempo_coach.observe.trace.selection import pick
    from tempo_coach.observe.trace.tables import read_trace
    from tempo_coach.observe.trace.trace_take import find_noise_floor
    from tempo_coach.observe.trace.tracked_body import observe, observe_low

    trace = (read_table or read_trace)(file)
    found = {}
    for member in trace.points if apart else (TOGETHER,):
        try:
            body = observe_low(trace, observe(pick(trace, point=member or None)))
        except CoachError as error:
            raise error.at(error.where or file) from error
        times = tuple(body.events.tolist())
        floor = find_noise_floor(body)
        found[member] = MemberRows(
            times,
            ("",) * len(times),
            (file,) * len(times),
            observed_by="sensor",
            noise_floor_ms=None if math.isnan(floor) else 1000 * floor,
            has_zero=body.circles.zero == "low",
        )
    return found
