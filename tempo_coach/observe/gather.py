"""The takes of a group brought together from their files: each member's on the same take clock."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.observe.members import TOGETHER, Rows, read_members
from tempo_coach.observe.onsets import FURTHEST, Onsets, Take
from tempo_coach.observe.takefile import ENDING, read_take
from tempo_coach.resources import check_file, saying_why

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.pattern.plan import Plan

#: Columns of a table of onsets; a table with others and without a member is a trace.
_OF_ONSETS = {"time", "member", "hand"}


def gather(
    sources: Sequence[str],
    *,
    lay_plan: Callable[[float], Plan] | None,
    later: Mapping[str, float],
    own_clock: bool = False,
    warn: Callable[[str], None] | None = None,
) -> tuple[dict[str, Take], Take | None]:
    """Return the take of each member, and the mix where one recording holds them all.

    Parameters
    ----------
    sources : sequence of str
        ``NAME=FILE`` or a file, whose name is then the member's.
    lay_plan : callable or None
        Returns the plan of what brings none, told the take time of the last onset; None for that of the takes.
    later : mapping of member to float
        Seconds from the clock of a member's file to the take clock.
    own_clock : bool
        Whether the start of the tables' clock means nothing, so that the plan has to be as long as what they hold.
    warn : callable or None

    Raises
    ------
    CoachError
        If a file cannot be read, a name comes twice, or nothing says what the plan is.
    """
    found: dict[str, Take | Rows] = {}
    for source in sources:
        for member, what in _read(source, alone=len(sources) == 1, warn=warn).items():
            if member in found:
                raise CoachError(
                    f"expected each member once, found {member!r} again", where=source, hint="say NAME=FILE"
                )
            found[member] = what
    unknown = sorted(set(later) - set(found))
    if unknown:
        raise CoachError(f"expected a member ({', '.join(found)}), found {unknown[0]}", where="--clock")
    rows = {member: what for member, what in found.items() if isinstance(what, Rows)}
    takes = {member: what for member, what in found.items() if isinstance(what, Take)}
    plan = _find_plan(rows, takes, lay_plan, later, own_clock=own_clock)
    made = {member: _to_take(what, plan, later.get(member, 0.0)) for member, what in found.items()}
    if list(made) == [TOGETHER]:
        return {}, made[TOGETHER]
    return made, None


def _find_plan(
    rows: Mapping[str, Rows],
    takes: Mapping[str, Take],
    lay_plan: Callable[[float], Plan] | None,
    later: Mapping[str, float],
    *,
    own_clock: bool,
) -> Plan | None:
    if not rows:
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
            raise CoachError(
                f"the last onset of {member or 'the table'} lies at {end:.10g} s, where no take goes on",
                where="group",
                hint="say how much later the take clock shows the same: --clock MEMBER=SECONDS",
            )
        return lay_plan(end - start)
    if not takes:
        raise CoachError(
            "nothing says what was asked for",
            where="group",
            hint="give --tempo BPM, --music FILE, --plan PLAN.json or --drill DRILL",
        )
    return next(iter(takes.values())).plan


def who_overlap(spans: Mapping[str, tuple[float, float]]) -> list[str]:
    """Return whose span of time has some of it in common with that of most: the others' clocks were other ones.

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


def _to_take(what: Take | Rows, plan: Plan | None, later: float) -> Take:
    if isinstance(what, Rows):
        if plan is None:
            raise ValueError("expected a plan for what brings none")
        return Take(plan, what.onsets(plan.hands, later=later))
    if not later:
        return what
    onsets = Onsets(what.onsets.time + later, what.onsets.hand)
    unmeasurable = tuple((start + later, end + later) for start, end in what.unmeasurable)
    return replace(what, onsets=onsets, unmeasurable=unmeasurable)


def _read(source: str, *, alone: bool, warn: Callable[[str], None] | None) -> dict[str, Take | Rows]:
    name, mark, file = source.partition("=")
    if not mark or Path(source).exists():
        name, file = "", source
    given = name or Path(file).name.removesuffix(ENDING).removesuffix(Path(file).suffix)
    header = _first_line(file)
    if header.lstrip().startswith("{"):
        return {given: read_take(file, warn=warn)}
    columns = {word.strip().strip('"').lower() for word in header.replace(";", ",").replace("\t", ",").split(",")}
    if "member" not in columns and columns - _OF_ONSETS:
        return {given: _follow_trace(file)}
    members = read_members(file, may_be_empty=not alone)
    if TOGETHER not in members:
        return dict(members)
    return dict(members) if alone and not name else {given: members[TOGETHER]}


def _first_line(file: str) -> str:
    check_file(file, what="a take or a table")
    with saying_why(file, "a take or a table"), Path(file).open("rb") as stream:
        return stream.readline(10_000).decode("utf-8-sig", errors="replace")


def _follow_trace(file: str) -> Rows:
    """The events of the one that moves most clearly in a trace, on the trace's clock."""
    from tempo_coach.observe.mover import observe
    from tempo_coach.observe.picking import pick
    from tempo_coach.observe.tables import read_trace

    try:
        mover = observe(pick(read_trace(file)))
    except CoachError as error:
        raise CoachError(error.message, where=error.where or file, hint=error.hint) from error
    times = tuple(mover.events.tolist())
    return Rows(times, ("",) * len(times), (file,) * len(times))
