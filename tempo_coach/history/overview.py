"""An overview of somebody's drills: now, four weeks ago, within a day, over a night, towards her goals."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.history.drill_course import DrillLevel
from tempo_coach.history.progress import measure_retention
from tempo_coach.history.season import Outlook, judge_goal, season_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.history.columns import BriefRow
    from tempo_coach.history.progress import Retention
    from tempo_coach.history.season import Goal, Season, Verdict

#: Days over which a change is reported.
BEFORE = 28
#: Standard errors above which a difference is reported.
SURELY = 2.0
#: Least takes of a drill on a day for comparing its first and last one, and least number of such days.
LEAST_TAKES, LEAST_DAYS = 3, 6
#: Tempi that differ by no more than this share are compared.
SAME_TEMPO = 0.04


@dataclass(frozen=True, eq=False)
class DrillOverview:
    """Somebody's standing in one drill.

    Parameters
    ----------
    drill, title : str
    takes : int
    since : date
        Day of the first one.
    rested : int
        Days since the last one.
    tempo_bpm : float
        Of the last take.
    now, before : DrillLevel
        At that tempo with every cue, today and ``BEFORE`` days ago; ``before`` of NaN without takes by then.
    within_day : float
        Unevenness of the last take of a day over that of its first, the median; NaN with too few such days.
    retention : Retention
    goals : tuple of (Goal, Verdict)
    """

    drill: str
    title: str
    takes: int
    since: date
    rested: int
    tempo_bpm: float
    now: DrillLevel
    before: DrillLevel
    within_day: float
    retention: Retention
    goals: tuple[tuple[Goal, Verdict], ...] = ()

    @property
    def change(self) -> float:
        """Improvement in standard errors, positive is better; NaN where unknown."""
        return (self.before.log - self.now.log) / math.hypot(self.before.se, self.now.se)


def overview_of(rows: Sequence[BriefRow], *, today: date, goals: Sequence[Goal] = ()) -> tuple[DrillOverview, ...]:
    """Return somebody's standing in each drill that she has taken, the least even first.

    Parameters
    ----------
    rows : sequence of BriefRow
        Takes of one athlete, the oldest first.
    today : date
    goals : sequence of Goal
    """
    season = season_of(rows)
    titles = {row.drill: row.title for row in rows}
    by_drill: dict[str, list[BriefRow]] = {name: [] for name in titles}
    for row in rows:
        by_drill[row.drill].append(row)
    found = [_overview(season, name, titles[name], by_drill[name], today, goals) for name in season.drills]
    return tuple(sorted(found, key=lambda each: (-each.now.log, each.drill)))


def _overview(
    season: Season, name: str, title: str, rows: Sequence[BriefRow], today: date, goals: Sequence[Goal]
) -> DrillOverview:
    mine = np.flatnonzero(season.of(name))
    course, day = season.course(name), float(today.toordinal())
    tempo = float(season.tempo_bpm[mine[-1]])
    ago = day - BEFORE
    before = DrillLevel(math.nan, math.nan)
    known = ~np.isnan(season.uneven_pct[mine])
    if (season.day[mine][known] <= ago).any():
        before = course.at(ago, tempo_bpm=tempo)
    return DrillOverview(
        name,
        title,
        len(mine),
        date.fromordinal(int(season.day[mine[0]])),
        int(day - season.day[mine[-1]]),
        tempo,
        course.at(day, tempo_bpm=tempo),
        before,
        measure_within_day(rows),
        measure_retention(rows),
        tuple((goal, judge_goal(season, goal, today=today, course=course)) for goal in goals if goal.drill == name),
    )


def measure_within_day(rows: Sequence[BriefRow]) -> float:
    """Return the ratio of unevenness of the last take of a day to its first: the median over days, NaN with too few.

    Days count on which a drill was taken ``LEAST_TAKES`` times, first and last at one tempo with the
    same cues. Getting better within a day is told apart from what stays until the next one
    (:func:`tempo_coach.history.progress.measure_retention`): what is gained in a session is often lost overnight
    (R. A. Schmidt & R. A. Bjork 1992, from memory).

    Parameters
    ----------
    rows : sequence of BriefRow
        Takes of one athlete and one drill, the oldest first.
    """
    by_day: dict[str, list[BriefRow]] = {}
    for row in rows:
        if row.uneven_pct > 0:
            by_day.setdefault(row.day, []).append(row)
    ratios = [
        math.log(mine[-1].uneven_pct / mine[0].uneven_pct)
        for mine in by_day.values()
        if len(mine) >= LEAST_TAKES
        and abs(mine[-1].tempo_bpm - mine[0].tempo_bpm) <= SAME_TEMPO * mine[0].tempo_bpm
        and mine[-1].cues == mine[0].cues
    ]
    return math.exp(float(np.median(ratios))) if len(ratios) >= LEAST_DAYS else math.nan


def best_change(overview: Sequence[DrillOverview]) -> DrillOverview | None:
    """Return the drill with the most certain improvement; None without any."""
    surely = [each for each in overview if each.change > SURELY]
    return max(surely, key=lambda each: each.change) if surely else None


def nearest_goal(overview: Sequence[DrillOverview]) -> tuple[DrillOverview, Goal, Verdict] | None:
    """Return the next goal to come, with its drill; None without one."""
    ahead = [
        (each, goal, verdict)
        for each in overview
        for goal, verdict in each.goals
        if verdict.outlook is not Outlook.OVER
    ]
    return min(ahead, key=lambda each: each[1].on) if ahead else None
