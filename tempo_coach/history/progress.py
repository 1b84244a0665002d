"""Whether it gets better: a trend with its interval, retention from day to day, doses.

Everything is reckoned from the figures of takes of one athlete and one drill (:class:`Row`), in the order of time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.period import robust_slope

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.history.records import Row

#: Days with a take from which on a trend is told: takes of one day share that day, and a robust line through fewer
#: points has no interval at 95 % (Sen 1968, by the exact distribution of Kendall's score: from five on).
LEAST_DAYS = 5
#: Seconds without a take after which the next one is another session (common practice: a break of an hour).
BREAK = 3600.0


class Point(NamedTuple):
    """One day: days since the first one, the median of its takes, and how many there were."""

    day: str
    since: float
    value: float
    takes: int


@dataclass(frozen=True)
class Trend:
    """A robust line through the days.

    Parameters
    ----------
    measure : str
    points : tuple of Point
    per_week, low, high : float
        Slope a week with its 95 % interval; NaN with a reason.
    level : float
        What the line says for the last day.
    reason : str
        Why there is no slope; empty where there is one.
    """

    measure: str
    points: tuple[Point, ...]
    per_week: float
    low: float
    high: float
    level: float
    reason: str = ""

    @property
    def beyond_chance(self) -> bool:
        """Whether the interval leaves 0 out."""
        return not math.isnan(self.low) and (self.low > 0 or self.high < 0)

    def to_dict(self) -> dict[str, object]:
        """Return plain values."""
        return {
            "measure": self.measure,
            "per_week": _plain(self.per_week),
            "ci95": None if math.isnan(self.low) else [self.low, self.high],
            "level": _plain(self.level),
            "reason": self.reason or None,
            "days": [{"day": p.day, "value": p.value, "takes": p.takes} for p in self.points],
        }


class Session(NamedTuple):
    """What was done in one session: takes without a long break between them."""

    begun: str
    takes: int
    seconds: float
    cycles: int
    moments: int
    steady: int


class Overnight(NamedTuple):
    """What was kept overnight: spread in ms without cues, of the last block and of the next day's first one."""

    from_day: str
    to_day: str
    before_ms: float
    after_ms: float


class Retention(NamedTuple):
    """All nights; ``ratio`` is the median of spread after over before: 1 is kept, above 1 is lost. NaN with none."""

    nights: tuple[Overnight, ...]
    ratio: float
    reason: str = ""


def measure_trend(rows: Sequence[Row], *, measure: str = "spread_ms") -> Trend:
    """Return the trend of a measure over the days.

    Parameters
    ----------
    rows : sequence of Row
    measure : str
        A figure of :class:`Row`; of ``bias_ms`` the absolute value counts.

    Notes
    -----
    The median of each day's takes, then a line through the medians of all pairs of days (H. Theil 1950; P. K. Sen,
    *J. Am. Stat. Assoc.* 63 (1968) 1379-1389), with Sen's interval.
    """
    by_day: dict[str, list[float]] = {}
    for row in rows:
        value = abs(getattr(row, measure)) if measure.endswith("bias_ms") else getattr(row, measure)
        if not math.isnan(value):
            by_day.setdefault(row.day, []).append(value)
    points: list[Point] = []
    for day in sorted(by_day):
        since = (date.fromisoformat(day) - date.fromisoformat(min(by_day))).days
        points.append(Point(day, float(since), float(np.median(by_day[day])), len(by_day[day])))
    if len(points) < LEAST_DAYS:
        reason = f"a trend needs takes on {LEAST_DAYS} days; days so far: {len(points)}"
        return Trend(measure, tuple(points), math.nan, math.nan, math.nan, math.nan, reason)
    days, values = np.array([p.since for p in points]), np.array([p.value for p in points])
    slope, low, high = robust_slope(days, values)
    level = float(np.median(values - slope * days) + slope * days[-1])
    return Trend(measure, tuple(points), 7 * slope, 7 * low, 7 * high, level)


def find_sessions(rows: Sequence[Row]) -> tuple[Session, ...]:
    """Return what was done in each session, the oldest first."""
    sessions: list[list[Row]] = []
    end = -math.inf
    for row in rows:
        begun = row.time.timestamp()
        if begun - end > BREAK:
            sessions.append([])
        sessions[-1].append(row)
        end = max(end, begun + row.seconds)
    return tuple(
        Session(
            mine[0].begun,
            len(mine),
            sum(row.seconds for row in mine),
            sum(row.cycles for row in mine),
            sum(row.moments for row in mine),
            sum(row.steady for row in mine),
        )
        for mine in sessions
    )


def measure_retention(rows: Sequence[Row]) -> Retention:
    """Return what was kept overnight: the first block without cues of a day against the last one of the day before.

    Takes without such a block say nothing here. ``before`` is the last day with one, however long ago.
    """
    by_day: dict[str, list[Row]] = {}
    for row in rows:
        if row.without_cues_spread_ms > 0:
            by_day.setdefault(row.day, []).append(row)
    days = sorted(by_day)
    nights = tuple(
        Overnight(a, b, by_day[a][-1].without_cues_spread_ms, by_day[b][0].without_cues_spread_ms)
        for a, b in pairwise(days)
    )
    if not nights:
        return Retention((), math.nan, "no two days have a block without cues")
    logs = [math.log(night.after_ms / night.before_ms) for night in nights]
    return Retention(nights, math.exp(float(np.median(logs))))


def _plain(number: float) -> float | None:
    return None if math.isnan(number) else float(number)
