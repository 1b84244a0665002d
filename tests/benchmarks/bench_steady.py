"""Which takes are called steady: every drill, every kind of performer, at five spreads and two lengths.

*Spread* is that of :mod:`tests.benchmarks.performers`: the coefficient of variation of the cycle's periods, and of a
hand's steps for ``step``. Whose clock errs from step to step is the evener over a whole cycle the more steps it has
(errors add up as their squares), so that in dense drills nearly all of her takes are steady: she is shown, not judged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.score.measures.steadiness import LIMIT, scatter_of
from tests.benchmarks.performers import FAMILIES, Who, draw_noise, lateness
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.pattern.plan.plan import Plan

TAKES = 60
SPREADS = (0.02, 0.03, 0.04, 0.06, 0.08)
#: Least share of steady takes at the small spreads, and largest at the largest one, in the worst drill.
LEAST, MOST = {0.02: 0.95, 0.03: 0.9}, {0.08: 0.15}


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    generator = np.random.default_rng(1)
    for family in FAMILIES:
        for cycles in (8, 24):
            drills = {path.stem: coach.lay(coach.Request(path.stem, cycles=cycles)) for path in list_drills()}
            for spread in SPREADS:
                shares = {name: _share(plan, family, spread, generator) for name, plan in drills.items()}
                for which, better in ((min, "high"), (max, "low")):
                    name = which(shares, key=shares.__getitem__)
                    limits = LEAST if better == "high" else MOST
                    floor = limits.get(spread) if family in ("cycle", "wandering") else None
                    what = f"{family}, {cycles} cycles, {100 * spread:.0f} %: steady, {name}"
                    yield Row(what, shares[name], "", floor=floor, better=better)


def _share(plan: Plan, family: str, spread: float, generator: np.random.Generator) -> float:
    steady = 0
    for _ in range(TAKES):
        who = Who(family, spread, float(generator.choice([0.25, 0.4, 0.6])), float(generator.choice([0.3, 0.5, 0.7])))
        steady += scatter_of(plan, lateness(plan, who, *draw_noise(plan, who, generator))) <= LIMIT
    return steady / TAKES
