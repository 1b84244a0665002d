"""Progress: her level with its interval, a change beyond chance, what a night keeps, doses.

Everything is reckoned from the figures of takes of one athlete and one drill (:class:`TakeRow`), in the order of
time. What can only be above 0 is compared as a ratio, so that no formula makes it less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.reasons import Reason, Why
from tempo_coach.score.measures.period import robust_slope

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from tempo_coach.history.columns import BriefRow, TakeRow
    from tempo_coach.times import Floats

#: Days of practice whose middle is the level. The smallest and the largest of six hold a median in 31 of 32 cases
#: (exact: 1 - 2 / 2**6), whatever days scatter like.
LEVEL_DAYS = 6
#: Days of practice among which a change is looked for: with more, what was long ago counts for now; with fewer, a slow
#: change is not found. With the confidence of its interval chosen on seasons of normal scatter (the benchmarks).
CHANGE_DAYS, CONFIDENCE = 24, 0.98
#: Least days for a change: five in order are rarer than 2 in 100 (Kendall's score, exact).
LEAST_DAYS = 5
#: Least nights for the interval of retention, which then holds in 31 of 32 cases.
LEAST_NIGHTS = 6
#: Milliseconds or per cent below which a day's value counts as so much: nobody's is 0.
LEAST_VALUE = 0.1
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
    """Her level, and whether it changes.

    Parameters
    ----------
    measure : str
    points : tuple of Point
        All days of practice.
    level, low, high : float
        Median of the last ``LEVEL_DAYS`` days, their least and their greatest: its 95 % interval at the least. Without
        so many days no interval; NaN without any.
    days : int
        How many days the change is taken from, the last ones.
    ratio, ratio_low, ratio_high : float
        Last over first of them along a robust line, with its interval of ``CONFIDENCE``; NaN with a reason.
    beyond_chance : bool
        Whether the interval leaves 1 out, and her level has left that of the days before to the same side.
    reason : Reason or None
        Why no change can be estimated; None where one can.
    """

    measure: str
    points: tuple[Point, ...]
    level: float = math.nan
    low: float = math.nan
    high: float = math.nan
    days: int = 0
    ratio: float = math.nan
    ratio_low: float = math.nan
    ratio_high: float = math.nan
    beyond_chance: bool = False
    reason: Reason | None = None

    def to_dict(self) -> dict[str, object]:
        """Return plain values."""
        return {
            "measure": self.measure,
            "level": _plain(self.level),
            "level_ci95": None if math.isnan(self.low) else [self.low, self.high],
            "change": {
                "days": self.days,
                "ratio": _plain(self.ratio),
                "ci98": None if math.isnan(self.ratio_low) else [self.ratio_low, self.ratio_high],
                "beyond_chance": self.beyond_chance,
            },
            "reason": self.reason and self.reason.to_dict(),
            "days": [{"day": p.day, "value": p.value, "takes": p.takes} for p in self.points],
        }


class Session(NamedTuple):
    """The takes of one session, without a long break between them."""

    begun: str
    takes: int
    seconds: float
    cycles: int
    moments: int
    steady: int


class Overnight(NamedTuple):
    """Retention over one night: spread in ms of the last take of a day and of the first of the next."""

    from_day: str
    to_day: str
    before_ms: float
    after_ms: float
    without_cues: bool = False


class Retention(NamedTuple):
    """Retention over all nights; ``ratio`` is the median of spread after over before: above 1 is loss. NaN without any.

    ``low`` and ``high`` are its interval, from ``LEAST_NIGHTS`` nights on.
    """

    nights: tuple[Overnight, ...]
    ratio: float
    reason: Reason | None = None
    low: float = math.nan
    high: float = math.nan


def measure_progress(rows: Sequence[TakeRow], *, measure: str = "spread_ms", among: int = 1) -> Trend:
    """Return her level and whether it changes.

    Parameters
    ----------
    rows : sequence of TakeRow
    measure : str
        A figure of :class:`TakeRow`; of ``bias_ms`` the absolute value counts.
    among : int
        Number of candidates of which the clearest is reported: a correction for multiple tests (C. E. Bonferroni).

    Notes
    -----
    A day is the median of its takes, so that no single take moves it far; the days are compared in their order and on a
    logarithmic scale by a line through the medians of all pairs (H. Theil 1950; P. K. Sen, *J. Am. Stat. Assoc.* 63
    (1968) 1379-1389), with Sen's interval. The line says whether there is a change; it says nothing of where she is.
    """
    values = ((row.day, float(getattr(row, measure))) for row in rows)
    dated = ((day, abs(value) if measure.endswith("bias_ms") else value) for day, value in values)
    return trend_of(measure, dated, among=among)


def trend_of(measure: str, dated: Iterable[tuple[str, float]], *, among: int = 1) -> Trend:
    """Return the level of values and whether it changes, as :func:`measure_progress` does.

    Parameters
    ----------
    measure : str
        What they are.
    dated : iterable of (day, value)
        ISO 8601 and 0 or more, in the order of time; NaN is left out.
    among : int
    """
    by_day: dict[str, list[float]] = {}
    for day, value in dated:
        if not math.isnan(value):
            by_day.setdefault(day, []).append(value)
    points: list[Point] = []
    for day in sorted(by_day):
        since = (date.fromisoformat(day) - date.fromisoformat(min(by_day))).days
        points.append(Point(day, float(since), float(np.median(by_day[day])), len(by_day[day])))
    if not points:
        return Trend(measure, (), reason=Reason(Why.NO_TAKE))
    values = np.array([point.value for point in points])
    last = values[-LEVEL_DAYS:]
    level = float(np.median(last))
    low, high = (float(last.min()), float(last.max())) if len(last) == LEVEL_DAYS else (math.nan, math.nan)
    days = min(len(values), CHANGE_DAYS)
    if days < LEAST_DAYS:
        reason = Reason(Why.FEW_DAYS, (LEAST_DAYS, days))
        return Trend(measure, tuple(points), level, low, high, days, reason=reason)
    return Trend(measure, tuple(points), level, low, high, days, *change_of(values, among=among))


def change_of(values: Floats, *, among: int = 1) -> tuple[float, float, float, bool]:
    """Return the change of the last days, last over first, its interval, and whether it is significant.

    Parameters
    ----------
    values : array, shape (n,)
        Of at least ``LEAST_DAYS`` days in their order, 0 or more; the last ``CHANGE_DAYS`` count.
    among : int
        As of :func:`measure_progress`.
    """
    window = np.log(np.maximum(values[-CHANGE_DAYS:], LEAST_VALUE))
    slope, low, high = robust_slope(np.arange(len(window)), window, level=1 - (1 - CONFIDENCE) / among)
    recent = min(LEVEL_DAYS, len(window) // 2)
    moved = float(np.median(window[-recent:]) - np.median(window[:-recent]))
    beyond = (low > 0 and moved > 0) or (high < 0 and moved < 0)
    span = len(window) - 1
    return math.exp(slope * span), math.exp(low * span), math.exp(high * span), beyond


def find_sessions(rows: Sequence[TakeRow]) -> tuple[Session, ...]:
    """Return the sessions, the oldest first."""
    sessions: list[list[TakeRow]] = []
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


def measure_retention(rows: Sequence[TakeRow | BriefRow]) -> Retention:
    """Return the retention between the last take of a day of practice and the first take of the next.

    Spreads without cues are compared where both takes have such a block, those of the whole takes where one has not.
    """
    by_day: dict[str, list[TakeRow | BriefRow]] = {}
    for row in rows:
        if row.spread_ms > 0:
            by_day.setdefault(row.day, []).append(row)
    nights = []
    for a, b in pairwise(sorted(by_day)):
        last, first = by_day[a][-1], by_day[b][0]
        free = last.without_cues_spread_ms > 0 and first.without_cues_spread_ms > 0
        before, after = (row.without_cues_spread_ms if free else row.spread_ms for row in (last, first))
        nights.append(Overnight(a, b, before, after, free))
    if not nights:
        return Retention((), math.nan, Reason(Why.NO_NIGHTS))
    ratios = [night.after_ms / night.before_ms for night in nights]
    middle = math.exp(float(np.median(np.log(ratios))))
    if len(nights) < LEAST_NIGHTS:
        return Retention(tuple(nights), middle)
    low, high = _interval_of_median(ratios)
    return Retention(tuple(nights), middle, low=low, high=high)


def _interval_of_median(values: Sequence[float]) -> tuple[float, float]:
    """Return the pair of order statistics that covers the median in at least 95 % of cases (binomial, exact)."""
    n = len(values)
    ordered = sorted(values)
    outside, k = 2.0 ** (1 - n), 0
    while outside + 2.0 ** (1 - n) * math.comb(n, k + 1) <= 0.05:
        k += 1
        outside += 2.0 ** (1 - n) * math.comb(n, k)
    return ordered[k], ordered[n - 1 - k]


def _plain(number: float) -> float | None:
    return None if math.isnan(number) else float(number)
