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
    f"{BEFORE // 7} weeks ago",
    "within a day",
    "overnight",
    "goal",
)
_HOW = (
    (
        "Uneven: by how many per cent of a cycle the cycles differ (SD), at the tempo of the last take with every cue, "
        f"with its standard error; up to {EVEN_PCT:g} % is even. ↓ more even and ↑ less even than {BEFORE // 7} weeks "
        f"ago, by more than {SURELY:g} standard errors."
    ),
    (
        "Within a day: how uneven a day's last take is, over its first one; under 1 it got better that day. Told from "
        f"{LEAST_DAYS} days on with {LEAST_TAKES} takes and more, the first and the last alike in tempo and cues."
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
) -> str:
    """Return the table of everybody by drills, each person's least even one first, and what to look at before it.

    Parameters
    ----------
    people : mapping of name to sequence of DrillOverview
    today : date
    not_begun : mapping of name to sequence of (Goal, str), optional
        Goals of drills that somebody has no take of, with their titles.
    """
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
        about=(tr("{number} {day:%B} {year}", number=today.day, day=today, year=today.year),),
        look_at=look_at
        or [tr("Nothing stands out: no goal is off its way, nothing became worse, nothing rested long.")],
        names=_NAMES,
        people=[(name, [row_of(each) for each in overview]) for name, overview in people.items()],
        small_print=[*_HOW, CAUTION],
    )


def say_look_at(name: str, each: DrillOverview) -> list[str]:
    """Return what of one drill a coach should look at: a goal off its way, what became worse, what rested long."""
    what = f"{name}, “{each.title}”"
    lines = [
        tr(
            "{what}: {tempo_bpm:.0f} by {day} {on:%B} is not on the way.",
            what=what,
            tempo_bpm=goal.tempo_bpm,
            day=goal.on.day,
            on=goal.on,
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
        each.title,
        str(each.takes),
        str(each.rested),
        f"{each.tempo_bpm:.0f}",
        f"{each.now.pct:.1f} ± {each.now.pct * each.now.se:.1f}{sign}",
        "–" if math.isnan(each.before.log) else f"{each.before.pct:.1f}",
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
    return "–" if math.isnan(value) else f"× {value:.2f}"
