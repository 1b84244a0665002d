"""Performances of groups in the history: a group's figures and its members', under the name that the group goes by."""

from __future__ import annotations

import hashlib
import math
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach import __version__
from tempo_coach.errors import CoachError, nearest
from tempo_coach.history.columns import encode
from tempo_coach.history.records import read_begun, read_name

if TYPE_CHECKING:
    from tempo_coach.history.takes import History
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.group.card import GroupCard


class MemberFigures(NamedTuple):
    """A member in one performance: ms to the plan, from the median of the others, and SD; moments; eights left out.

    Of what is not known NaN. ``away`` is the number of eights in which she had left the group.
    """

    member: str
    bias_ms: float
    offset_ms: float
    spread_ms: float
    n: int
    away: int


class GroupPerformance(NamedTuple):
    """A group's figures of one performance, the means over its moments; NaN where they are not known."""

    number: int
    team: str
    begun: str
    drill: str
    title: str
    moments: int
    together: float
    width_ms: float
    sd_ms: float
    members: tuple[MemberFigures, ...]

    @property
    def day(self) -> str:
        """The day on which it was, as it was there."""
        return self.begun[:10]


def keep_performance(history: History, card: GroupCard, plan: Plan | None, *, team: str, begun: str) -> int:
    """Store the figures of a group, and return the number of the performance; a known one keeps its number.

    Parameters
    ----------
    history : History
    card : GroupCard
        With members: of one recording of all nobody is known.
    plan : Plan or None
        None where there is no member.
    team : str
        The name that the group goes by.
    begun : str
        ISO 8601.

    Raises
    ------
    CoachError
        If a name or the time cannot be read, nobody is known, or the file cannot be written.
    """
    if plan is None or not card.members:
        raise CoachError("performance.nobody", where="--keep")
    team, begun = read_name(team), read_begun(begun)
    away = {m.member: sum(one.away for one in card.by_eight if one.member == m.member) for m in card.members}
    figures = (plan.drill, sum(one.n for one in card.over_time), card.resultant, card.width, card.sd)
    mark = hashlib.sha256(encode({"of": [team, begun, *map(repr, figures)]})).digest()
    with history.writing() as connection:
        known = connection.execute("SELECT id FROM performance WHERE mark = ?", (mark,)).fetchone()
        if known is not None:
            return int(known[0])
        of_group = _ms(card.resultant, 1), _ms(card.width), _ms(card.sd), __version__
        number = connection.execute(
            "INSERT INTO performance (mark, team, begun, drill, title, moments, together, width_ms, sd_ms, program) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (mark, team, begun, plan.drill, plan.title, figures[1], *of_group),
        ).lastrowid
        for m in card.members:
            name = read_name(m.member)
            connection.execute("INSERT INTO athlete (name) VALUES (?) ON CONFLICT DO NOTHING", (name,))
            connection.execute(
                "INSERT INTO performer (performance, athlete, bias_ms, offset_ms, spread_ms, n, away) "
                "SELECT ?, id, ?, ?, ?, ?, ? FROM athlete WHERE name = ?",
                (number, *map(_ms, (m.bias, m.steady, m.spread)), m.n, away[m.member], name),
            )
    return int(number or 0)


def list_teams(history: History) -> tuple[str, ...]:
    """Return the names of all groups, in order."""
    return tuple(str(row[0]) for row in history.ask("SELECT DISTINCT team FROM performance ORDER BY team"))


def find_performances(
    history: History, team: str, *, drill: str | None = None, since: str | None = None, until: str | None = None
) -> tuple[GroupPerformance, ...]:
    """Return the performances of a group, the oldest first.

    Parameters
    ----------
    history : History
    team : str
    drill : str or None
        Only those of this drill.
    since, until : str or None
        The first and the last day, ISO 8601.

    Raises
    ------
    CoachError
        If there is no group of that name.
    """
    name = read_name(team)
    teams = list_teams(history)
    if name not in teams:
        raise CoachError("performance.unknown", where=str(history.path), name=name, nearest=nearest(name, [*teams]))
    members: dict[int, list[MemberFigures]] = {}
    for row in history.ask(
        "SELECT performance, name, bias_ms, offset_ms, spread_ms, n, away FROM performer "
        "JOIN athlete ON athlete.id = athlete JOIN performance ON performance.id = performance "
        "WHERE team = ? ORDER BY performer.rowid",
        (name,),
    ):
        figures = MemberFigures(row[1], _or_nan(row[2]), _or_nan(row[3]), _or_nan(row[4]), row[5], row[6])
        members.setdefault(row[0], []).append(figures)
    rows = history.ask(
        "SELECT id, team, begun, drill, title, moments, together, width_ms, sd_ms FROM performance "
        "WHERE team = ? AND (? IS NULL OR drill = ?) ORDER BY begun, id",
        (name, drill, drill),
    )
    found = (
        GroupPerformance._make((*row[:6], *map(_or_nan, row[6:]), tuple(members.get(row[0], ()))))
        for row in map(tuple, rows)
    )
    return tuple(one for one in found if (since or "") <= one.day <= (until or "9999"))


def _ms(seconds: float, times: float = 1000.0) -> float | None:
    return None if math.isnan(seconds) else times * seconds


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value
