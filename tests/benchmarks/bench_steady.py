"""Which takes are called steady, and which steadier: every drill, every kind of performer, several spreads and lengths.

*Spread* is that of :mod:`tests.benchmarks.performers`: the coefficient of variation of the cycle's periods, and of a
hand's steps for ``step``. Whose clock errs from step to step is the evener over a whole cycle the more steps it has
(errors add up as their squares), so that in dense drills nearly all of her takes are steady: she is shown, not judged.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.score.measures.steadiness import LIMIT, measure_scatter
from tests.benchmarks.performers import FAMILIES, Who, draw_noise, lateness
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.measures.steadiness import Scatter

TAKES = 60
SPREADS = (0.02, 0.03, 0.04, 0.05, 0.06, 0.08)
#: Least share of steady takes at the small spreads, and largest at the largest one, in the worst drill.
LEAST, MOST = {0.02: 0.95, 0.03: 0.9}, {0.08: 0.15}
#: Largest share of pairs of takes of one who does not change of which one is called steadier; what is called a change.
FALSE, CHANGED = 0.05, 0.5


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    drills = [path.stem for path in list_drills()]
    for family in FAMILIES:
        for cycles in (8, 16, 32):
            plans = {name: coach.lay(coach.Request(name, cycles=cycles)) for name in drills}
            yield from measure_steady(family, cycles, plans)
            yield from measure_steadier(family, cycles, plans)


def measure_steady(family: str, cycles: int, plans: dict[str, Plan]) -> Iterator[Row]:
    """Shares of steady takes: the least and the most of the drills, and the SD from drill to drill beyond chance."""
    judged = family in ("cycle", "wandering")
    for spread in SPREADS:
        generator = np.random.default_rng([cycles, round(1000 * spread)])
        shares = {
            name: float(
                np.mean([_take(plan, _who(family, spread, generator), generator).size <= LIMIT for _ in range(TAKES)])
            )
            for name, plan in plans.items()
        }
        what = f"{family}, {cycles} cycles, {100 * spread:.0f} %: steady"
        for which, better, limits in ((min, "high", LEAST), (max, "low", MOST)):
            name = which(shares, key=shares.__getitem__)
            floor = limits.get(spread) if judged else None
            yield Row(f"{what}, {name}", shares[name], "", floor=floor, better=better)
        middle = float(np.mean(list(shares.values())))
        by_chance = middle * (1 - middle) / TAKES
        between = max(float(np.var(list(shares.values()), ddof=1)) - by_chance, 0.0) ** 0.5
        yield Row(f"{what}, all drills", middle, "")
        yield Row(f"{what}, SD from drill to drill", between, "")


def measure_steadier(family: str, cycles: int, plans: dict[str, Plan]) -> Iterator[Row]:
    """Of two takes one is called steadier: falsely, and where the scatter is half as large."""
    false: dict[str, float] = {}
    found = []
    for name, plan in plans.items():
        generator = np.random.default_rng([cycles, 7])
        told = []
        for _ in range(TAKES // 2):
            who = _who(family, float(generator.uniform(0.02, 0.06)), generator)
            one, other = (_take(plan, who, generator) for _ in range(2))
            told.append(one.exceeds(other) or other.exceeds(one))
            found.append(one.exceeds(_take(plan, replace(who, spread=CHANGED * who.spread), generator)))
        false[name] = float(np.mean(told))
    worst = max(false, key=false.__getitem__)
    what = f"{family}, {cycles} cycles"
    yield Row(f"{what}: steadier though nothing changed", float(np.mean(list(false.values()))), "", floor=FALSE)
    yield Row(f"{what}: steadier though nothing changed, {worst} ({TAKES // 2} pairs)", false[worst], "")
    yield Row(f"{what}: steadier at half the scatter", float(np.mean(found)), "", better="high")


def _who(family: str, spread: float, generator: np.random.Generator) -> Who:
    return Who(family, spread, float(generator.choice([0.25, 0.4, 0.6])), float(generator.choice([0.3, 0.5, 0.7])))


def _take(plan: Plan, who: Who, generator: np.random.Generator) -> Scatter:
    return measure_scatter(plan, lateness(plan, who, *draw_noise(plan, who, generator)))
