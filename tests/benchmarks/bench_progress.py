"""Progress over days: what is told of somebody who does not change, and what one bad last day moves.

A day's spread scatters by 15 % (SD of its logarithm), with normal or heavy tails (Student's t, 3 degrees of freedom);
the last day is then so many times what it would have been.
"""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.history.progress import trend_of
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.history.progress import Trend

SEASONS, DAYS, BAD = 250, (6, 8, 12, 20, 30), (1.0, 2.0, 3.0)
SPREAD, SCATTER = 30.0, 0.15
#: Share of seasons of which a change is told though there is none, and one bad last day; by how much that day moves the
#: level, as a share of it, in 95 of 100 seasons.
FALSE, FALSE_AFTER_A_BAD_DAY, MOVED = 0.05, 0.06, SCATTER


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    for law, days in product(("normal", "heavy tails"), DAYS):
        generator = np.random.default_rng([days, len(law)])
        told = dict.fromkeys(BAD, 0)
        moved = []
        for _ in range(SEASONS):
            chance = generator.standard_normal(days) if law == "normal" else generator.standard_t(3, days) / 3**0.5
            values = SPREAD * np.exp(SCATTER * chance)
            trends = {bad: trend_of("spread_ms", _dated(values, bad)) for bad in BAD}
            for bad, trend in trends.items():
                told[bad] += trend.beyond_chance
            moved.append(_apart(trends[BAD[0]], trends[BAD[-1]]))
        for bad, number in told.items():
            what = "" if bad == 1 else f", the last one {bad:g} times as uneven"
            floor = FALSE if bad == 1 else FALSE_AFTER_A_BAD_DAY
            yield Row(f"{law}, {days} days{what}: a change told that is none", number / SEASONS, "", floor=floor)
        what = f"{law}, {days} days: a last day {BAD[-1]:g} times as uneven moves the level, in 95 of 100 seasons"
        yield Row(what, float(np.quantile(moved, 0.95)), "", floor=MOVED)


def _dated(values: np.ndarray, bad: float) -> list[tuple[str, float]]:
    begin = date(2026, 1, 1)
    days = [((begin + timedelta(days=k)).isoformat(), float(value)) for k, value in enumerate(values)]
    return [*days[:-1], (days[-1][0], bad * days[-1][1])]


def _apart(one: Trend, other: Trend) -> float:
    return abs(other.level / one.level - 1)
