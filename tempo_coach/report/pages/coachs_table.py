"""A table of all by drills for the coach: how even now and before, within a day, over a night, and the goals."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.history.overview import BEFORE, LEAST_DAYS, LEAST_TAKES, SURELY
from tempo_coach.history.planner import DROPPED, LONGEST_REST
from tempo_coach.history.season import EVEN_PCT, Outlook
from tempo_coach.languages import tr
from tempo_coach.report.pages.page import render
from tempo_coach.report.pages.take import CAUTION
from tempo_coach.report.words.amounts import say_day, say_decimal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from tempo_coach.history.overview import DrillOverview
    from tempo_coach.history.season import Goal, Verdict

_NAMES = (
    "drill",
    "takes",
    "days since",
    "beats a minute",
    "uneven now, %",
    "{weeks} weeks ago",
    "within a day",
    "overnight",
    "goal",
)
#: What is put into these.
_FIGURES = {
    "weeks": BEFORE // 7,
    "even_pct": EVEN_PCT,
    "surely": SURELY,
    "days": LEAST_DAYS,
    "takes": LEAST_TAKES,
}
_HOW = (
    (
        "Uneven: by how many per cent of a cycle the cycles differ (SD), at the tempo of the last take with every cue, "
        "with its standard error; up to {even_pct:g} % is even. ↓ more even and ↑ less even than {weeks} weeks ago, by "
        "more than {surely:g} standard errors."
    ),
    (
        "Within a day: how uneven a day's last take is, over its first one; under 1 it got better that day. Told from "
        "{days} days on with {takes} takes and more, the first and the last alike in tempo and cues."
    ),
    (
        "Overnight: spread of the first take of a day over that of the last one of the day before; about 1 is kept, "
        "above 1 some of it is lost until the next day."
    ),
    "Nothing here sets one person beside another.",
)


def coachs_page(
    people: Mapping[str, Sequence[DrillOverview]],
    *,
    today: date,
    not_begun: Mapping[str, Sequence[tuple[Goal, str]]] | None = None,
    levels: Mapping[str, str] | None = None,
) -> str:
    """Return the table of everybody by drills, the least even one first, with what to look at above it.

    Parameters
    ----------
    people : mapping of name to sequence of DrillOverview
    today : date
    not_begun : mapping of name to sequence of (Goal, str), optional
        Goals of drills that somebody has no take of, with their titles.
    levels : mapping of name to str, optional
        Level or age class, of whom one is known: those of one stand together.
    """
    levels = levels or {}
    in_order = sorted(people, key=lambda name: levels.get(name, ""))
    look_at = [line for name, overview in people.items() for each in overview for line in say_look_at(name, each)]
    look_at += [
        tr(
            "{name}, “{title}”: {tempo_bpm:.0f} by {day} {on:%B}, and no take of it so far.",
            name=name,
            title=title,
            tempo_bpm=goal.tempo_bpm,
            day=goal.on.day,
            on=goal.on,
        )
        for name, goals in (not_begun or {}).items()
        for goal, title in goals
    ]
    return render(
        "coachs_table.html",
        title="All by drills",
        about=(say_day(today),),
        look_at=look_at
        or [tr("Nothing stands out: no goal is off its way, nothing became worse, nothing rested long.")],
        names=[tr(name, **_FIGURES) for name in _NAMES],
        people=[
            (", ".join(filter(None, (name, levels.get(name)))), [row_of(each) for each in people[name]])
            for name in in_order
        ],
        small_print=[*(tr(line, **_FIGURES) for line in _HOW), tr(CAUTION)],
    )


def say_look_at(name: str, each: DrillOverview) -> list[str]:
    """Return what a coach should look at in one drill: a goal out of reach, a decline, a long rest."""
    what = tr("{name}, “{title}”", name=name, title=tr(each.title))
    lines = [
        tr(
            "{what}: {tempo_bpm:.0f} by {on} is not on the way.",
            what=what,
            tempo_bpm=goal.tempo_bpm,
            on=say_day(goal.on),
        )
        for goal, verdict in each.goals
        if verdict.outlook is Outlook.NOT
    ]
    if each.change < -SURELY:
        lines.append(
            tr(
                "{what}: less even than {before} weeks ago, {pct:.1f} % and then {pct_2:.1f} %.",
                what=what,
                before=BEFORE // 7,
                pct=each.now.pct,
                pct_2=each.before.pct,
            )
        )
    if LONGEST_REST < each.rested <= DROPPED:
        lines.append(tr("{what}: not done for {rested} days.", what=what, rested=each.rested))
    return lines


def row_of(each: DrillOverview) -> list[str]:
    """Return the row of one drill."""
    sign = "" if math.isnan(each.change) or abs(each.change) <= SURELY else " ↓" if each.change > 0 else " ↑"
    return [
        tr(each.title),
        str(each.takes),
        str(each.rested),
        f"{each.tempo_bpm:.0f}",
        tr("{pct:.1f} ± {se:.1f}{sign}", pct=each.now.pct, se=each.now.pct * each.now.se, sign=sign),
        "–" if math.isnan(each.before.log) else say_decimal(each.before.pct, ".1f"),
        _ratio(each.within_day),
        _ratio(each.retention.ratio),
        "; ".join(_say_goal(goal, verdict) for goal, verdict in each.goals) or "–",
    ]


def _say_goal(goal: Goal, verdict: Verdict) -> str:
    outlook = {Outlook.NOT: tr("not on the way"), Outlook.OVER: tr("over")}.get(verdict.outlook, str(verdict.outlook))
    return tr(
        "{tempo_bpm:.0f} by {day} {on:%b}: {outlook}",
        tempo_bpm=goal.tempo_bpm,
        day=goal.on.day,
        on=goal.on,
        outlook=outlook,
    )


def _ratio(value: float) -> str:
    return "–" if math.isnan(value) else f"× {say_decimal(value, '.2f')}"
