"""A season of one athlete: her takes as columns, her goals, and whether each of them is on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.history.drill_course import LEAST, Course, DrillLevel, Velocity, find_velocity, fit_course
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.measures.steadiness import LIMIT
from tempo_coach.times import Floats, Ints, column, whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.history.columns import BriefRow, TakeRow

#: Share of the moments that have a cue in each way of cueing; of takes that do not say, and of thinning ones, half.
CUED = {"all": 1.0, "alternate": 0.5, "ones": 0.3, "none": 0.0}
UNTOLD = 0.5
#: Per cent of the cycle up to which a take is even: what makes one steady.
EVEN_PCT = 100 * LIMIT
#: What is believed of the unevenness at which her takes are steady as often as not, for a card looks at their tempo too
#: and lets a lapse count for less: the logarithm from ``EVEN_PCT`` on, its SD, the width of its flank, and the share of
#: takes that are steady or not whatever they scatter. Tuned with the course.
OWN_LIMIT, OWN_LIMIT_SD, FLANK, STRAY = -0.06, 0.08, 0.05, 0.05
#: Those logarithms that are tried.
TRIED = np.linspace(-0.4, 0.4, 41)
#: Days with takes of a drill from which on it is said whether its goal is on the way.
LEAST_DAYS = 4
#: Chance of reaching a goal from which on it is on the way, and up to which it is not. Tuned with the course.
LIKELY, UNLIKELY = 0.7, 0.27
#: Days before a goal's date by which its tempo is to be reached: the rest is for making it sure (common practice).
SURE_BEFORE = 7


@dataclass(frozen=True, eq=False)
class Season:
    """The takes of one athlete in order of time: columns of equal length n.

    Parameters
    ----------
    drills : tuple of str
        Names, each once.
    drill : array of int, shape (n,)
        Which of them it was.
    day : array, shape (n,)
        Its day, as :meth:`datetime.date.toordinal` counts them.
    tempo_bpm, cued : array, shape (n,)
        Beats a minute, and the share of moments with a cue.
    uneven_pct : array, shape (n,)
        Scatter of its cycles, a per cent of the cycle; NaN where it is not known.
    cycles : array, shape (n,)
    steady : array of bool, shape (n,)
    """

    drills: tuple[str, ...]
    drill: Ints
    day: Floats
    tempo_bpm: Floats
    cued: Floats
    uneven_pct: Floats
    cycles: Floats
    steady: NDArray[np.bool_]

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "drill", whole(self.drill, name="drills"))
        for name in ("day", "tempo_bpm", "cued", "cycles"):
            put(self, name, column(getattr(self, name), name=name))
        put(self, "uneven_pct", column(self.uneven_pct, name="unevenness", allow_nan=True))
        steady = np.array(self.steady, dtype=np.bool_)
        steady.flags.writeable = False
        put(self, "steady", steady)
        columns = (self.day, self.tempo_bpm, self.cued, self.uneven_pct, self.cycles, self.steady)
        if any(len(each) != len(self.drill) for each in columns):
            raise ValueError(f"season: expected columns of {len(self.drill)}, got {[len(each) for each in columns]}")

    def __len__(self) -> int:
        return len(self.drill)

    def of(self, name: str) -> NDArray[np.bool_]:
        """Return which takes are of a drill."""
        number = self.drills.index(name) if name in self.drills else -1
        return np.asarray(self.drill == number)

    def limit(self, name: str) -> DrillLevel:
        """Return the unevenness at which takes of a drill are steady half the time, as estimated from them."""
        mine = self.of(name) & ~np.isnan(self.uneven_pct)
        pct, steady = np.log(np.clip(self.uneven_pct[mine], LEAST, None)), self.steady[mine]
        tried = math.log(EVEN_PCT) + TRIED
        below = np.clip(1 / (1 + np.exp((pct - tried[:, None]) / FLANK)), STRAY, 1 - STRAY)
        log = np.log(np.where(steady, below, 1 - below)).sum(axis=1) - 0.5 * ((TRIED - OWN_LIMIT) / OWN_LIMIT_SD) ** 2
        likely = np.exp(log - log.max())
        likely /= likely.sum()
        mean = float(likely @ tried)
        return DrillLevel(mean, math.sqrt(float(likely @ (tried - mean) ** 2)))

    def course(self, name: str) -> Course:
        """Return the course of a drill."""
        alone = self._alone.get(name) or self._fit(name)
        return replace(alone, velocity=self._velocity)

    @cached_property
    def _alone(self) -> dict[str, Course]:
        """The course of each drill by its own takes."""
        return {name: self._fit(name) for name in self.drills}

    @cached_property
    def _velocity(self) -> Velocity:
        return find_velocity(self._alone.values())

    def _fit(self, name: str) -> Course:
        mine = self.of(name)
        periods = np.maximum(self.cycles[mine] - 1, 2)
        return fit_course(self.day[mine], self.uneven_pct[mine], self.tempo_bpm[mine], self.cued[mine], periods)


def season_of(rows: Sequence[TakeRow | BriefRow]) -> Season:
    """Return takes as columns, those that do not count left out."""
    rows = [row for row in rows if row.cycles > 0 and row.tempo_bpm > 0]
    drills = tuple(dict.fromkeys(row.drill for row in rows))
    places = {name: k for k, name in enumerate(drills)}
    return Season(
        drills,
        np.array([places[row.drill] for row in rows], dtype=np.int64),
        np.array([float(date.fromisoformat(row.day).toordinal()) for row in rows]),
        np.array([row.tempo_bpm for row in rows]),
        np.array([CUED.get(row.cues, UNTOLD) for row in rows]),
        np.array([row.uneven_pct for row in rows]),
        np.array([float(row.cycles) for row in rows]),
        np.array([row.steady for row in rows], dtype=np.bool_),
    )


@dataclass(frozen=True)
class Goal:
    """A drill that is to be even on a day.

    Parameters
    ----------
    drill : str
    on : date
        Of the competition, or another day.
    tempo_bpm : float
    cues : str
        The way of cueing that it may have then.
    what : str
        What it is for, in the coach's words.
    """

    drill: str
    on: date
    tempo_bpm: float
    cues: str = "none"
    what: str = ""


class Outlook(StrEnum):
    """Outlook of a goal."""

    ON_THE_WAY = "on the way"
    NOT = "not"
    CANNOT_TELL = "cannot tell"
    OVER = "over"


class Verdict(NamedTuple):
    """The evidence on a goal.

    Parameters
    ----------
    outlook : Outlook
    chance : float
        Of being even on the day, as the course has it; NaN where it is not told.
    now, then : DrillLevel
        At the goal's tempo and cues, today and on the day; of NaN where they are not told.
    reason : Reason or None
        Why it is unknown.
    """

    outlook: Outlook
    chance: float = math.nan
    now: DrillLevel = DrillLevel(math.nan, math.nan)
    then: DrillLevel = DrillLevel(math.nan, math.nan)
    reason: Reason | None = None


def judge_goal(season: Season, goal: Goal, *, today: date, course: Course | None = None) -> Verdict:
    """Return the outlook of a goal.

    Parameters
    ----------
    season : Season
    goal : Goal
    today : date
    course : Course or None
        Of its drill, where that is known already.
    """
    if goal.on < today:
        return Verdict(Outlook.OVER)
    mine = season.of(goal.drill)
    known = mine & ~np.isnan(season.uneven_pct) & (season.day <= today.toordinal())
    days = len(np.unique(season.day[known]))
    if days < LEAST_DAYS:
        return Verdict(Outlook.CANNOT_TELL, reason=Reason(Why.FEW_DAYS, (LEAST_DAYS, days)))
    course = course or season.course(goal.drill)
    cued = CUED.get(goal.cues, UNTOLD)
    now, then = (course.at(day.toordinal(), tempo_bpm=goal.tempo_bpm, cued=cued) for day in (today, goal.on))
    limit = season.limit(goal.drill)
    chance = 0.5 * (1 + math.erf((limit.log - then.log) / (math.hypot(limit.se, then.se) * math.sqrt(2))))
    if chance >= LIKELY:
        return Verdict(Outlook.ON_THE_WAY, chance, now, then)
    if chance <= UNLIKELY:
        return Verdict(Outlook.NOT, chance, now, then)
    return Verdict(Outlook.CANNOT_TELL, chance, now, then, Reason(Why.EITHER_WAY))


class Week(NamedTuple):
    """A week before a goal: its first day, the tempo and the cues by its end, and the number of weeks left then."""

    begins: date
    tempo_bpm: float
    cues: str
    left: int


def weeks_back(goal: Goal, *, today: date, tempo_bpm: float, cues: str) -> tuple[Week, ...]:
    """Return the weeks from today to a goal, with tempo and cues in even steps.

    Parameters
    ----------
    goal : Goal
    today : date
    tempo_bpm : float
        At which she is steady now.
    cues : str
        With which she is.
    """
    days = (goal.on - today).days
    number = max(math.ceil(days / 7), 0)
    ladder = list(CUED)
    here = ladder.index(cues) if cues in ladder else 0
    there = max(here, ladder.index(goal.cues) if goal.cues in ladder else here)
    weeks = []
    for k in range(number):
        share = min(7 * (k + 1) / max(days - SURE_BEFORE, 1), 1.0)
        tempo = tempo_bpm + share * max(goal.tempo_bpm - tempo_bpm, 0.0)
        way = ladder[here + math.floor(share * (there - here) + 1e-9)]
        weeks.append(Week(today + timedelta(days=7 * k), float(round(tempo)), way, number - 1 - k))
    return tuple(weeks)
