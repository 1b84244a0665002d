"""Whether it gets better: a trend with its interval, retention from day to day, doses, the speed that is steady.

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
    from tempo_coach.times import Floats

#: Days with a take from which on a trend is told: takes of one day share that day, and a robust line through fewer
#: points has no interval at 95 % (Sen 1968, by the exact distribution of Kendall's score: from five on).
LEAST_DAYS = 5
#: Seconds without a take after which the next one is another session (common practice: a break of an hour).
BREAK = 3600.0
#: Share of takes that have to be steady at a tempo, and how many takes at how many tempi tell it.
STEADY_SHARE = 0.8
LEAST_TAKES, LEAST_TEMPI = 10, 3
#: Beats a minute within which two takes are of one tempo.
SAME_TEMPO_BPM = 1.0


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


class SteadyTempo(NamedTuple):
    """The tempo up to which takes are steady, in beats a minute; NaN with its reason.

    ``shares`` are the tempi with their takes, the share of them that was steady, and that share smoothed so that it
    never rises with the tempo.
    """

    bpm: float
    shares: tuple[tuple[float, int, float, float], ...]
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
        reason = f"a trend needs takes on {LEAST_DAYS} days, there are {len(points)}"
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


def find_steady_tempo(rows: Sequence[Row]) -> SteadyTempo:
    """Return the tempo up to which four takes of five are steady.

    Notes
    -----
    The share of steady takes is made to fall with the tempo by pooling neighbours that do not (M. Ayer et al.,
    *Ann. Math. Stat.* 26 (1955) 641-647); between two tempi it is read off the straight line.
    """
    takes = sorted((row.tempo_bpm, row.steady) for row in rows if row.n)
    groups: list[list[tuple[float, bool]]] = []
    for tempo, steady in takes:
        if groups and tempo - groups[-1][0][0] <= SAME_TEMPO_BPM:
            groups[-1].append((tempo, steady))
        else:
            groups.append([(tempo, steady)])
    tempi = np.array([np.mean([tempo for tempo, _ in group]) for group in groups])
    numbers = np.array([len(group) for group in groups])
    shares = np.array([np.mean([steady for _, steady in group]) for group in groups])
    smooth = pool_falling(shares, numbers.astype(np.float64))
    table = tuple(zip(tempi.tolist(), numbers.tolist(), shares.tolist(), smooth.tolist(), strict=True))
    if len(takes) < LEAST_TAKES or len(groups) < LEAST_TEMPI:
        reason = f"it takes {LEAST_TAKES} takes at {LEAST_TEMPI} tempi, there are {len(takes)} at {len(groups)}"
        return SteadyTempo(math.nan, table, reason)
    if smooth[0] < STEADY_SHARE:
        return SteadyTempo(math.nan, table, f"less than {tempi[0]:.0f}, the slowest that was tried")
    if smooth[-1] >= STEADY_SHARE:
        reason = f"more than {tempi[-1]:.0f}, the fastest that was tried"
        return SteadyTempo(math.nan, table, reason)
    behind = int(np.argmax(smooth < STEADY_SHARE))
    share = (smooth[behind - 1] - STEADY_SHARE) / (smooth[behind - 1] - smooth[behind])
    return SteadyTempo(float(tempi[behind - 1] + share * (tempi[behind] - tempi[behind - 1])), table)


def pool_falling(values: Floats, weights: Floats) -> Floats:
    """Return the falling series that is nearest to the values, by weighted least squares.

    Examples
    --------
    >>> pool_falling(np.array([1.0, 0.5, 0.7]), np.array([1.0, 1.0, 1.0]))
    array([1. , 0.6, 0.6])
    """
    pools: list[tuple[float, float, int]] = []
    for value, weight in zip(values.tolist(), weights.tolist(), strict=True):
        pools.append((value, weight, 1))
        while len(pools) > 1 and pools[-1][0] > pools[-2][0]:
            (b, wb, nb), (a, wa, na) = pools.pop(), pools.pop()
            pools.append(((a * wa + b * wb) / (wa + wb), wa + wb, na + nb))
    return np.array([value for value, _, number in pools for _ in range(number)])


def _plain(number: float) -> float | None:
    return None if math.isnan(number) else float(number)
