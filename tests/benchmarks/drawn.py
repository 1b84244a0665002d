"""Performers and faults drawn at random for a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.faults import EVEN, Fault, neighbouring_steps, period_of
from tests.benchmarks.performers import FAMILIES, Who

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.plan.plan import Plan

CORRECTIONS = np.round(np.arange(0.25, 0.601, 0.05), 2)
MOTOR_SHARES = (0.3, 0.7)
#: Seconds; people tap ahead of a click by several tens of ms (Aschersleben 2002, abstract).
BIASES = (-0.05, 0.03)
LONG_BY = 0.20
#: A moment is late by the lesser of a share of the cycle and one of the shorter neighbouring step.
LATE_BY, LATE_BY_STEP = 0.12, 0.45
EXTRA_AT = (0.3, 0.7)


def draw_who(
    chance: np.random.Generator,
    *,
    spread: float,
    families: Sequence[str] = FAMILIES,
    biases: tuple[float, float] = BIASES,
) -> Who:
    """Return a performer of a spread."""
    return Who(
        family=families[int(chance.integers(len(families)))],
        spread=spread,
        correction=float(chance.choice(CORRECTIONS)),
        motor_share=float(chance.uniform(*MOTOR_SHARES)),
        bias=float(chance.uniform(*biases)),
    )


def draw_single(plan: Plan, kind: str, chance: np.random.Generator, *, size: float = 1.0) -> Fault:
    """Return a fault of one cycle or one moment, ``size`` times as large as usual; not in the first or last cycle."""
    if kind == "even":
        return EVEN
    if kind in ("long", "short"):
        by = (1 if kind == "long" else -1) * size * LONG_BY * period_of(plan)
        return Fault(kind, cycle=int(chance.integers(1, plan.cycles - 2)), by=by, kept=bool(chance.integers(2)))
    if kind == "long_and_short":
        one, other = chance.choice(np.arange(1, plan.cycles - 2), 2, replace=False).tolist()
        while abs(one - other) < 2:
            one, other = chance.choice(np.arange(1, plan.cycles - 2), 2, replace=False).tolist()
        return Fault(kind, cycle=one, short=other, by=size * LONG_BY * period_of(plan), kept=bool(chance.integers(2)))
    moment = draw_moment(plan, chance)
    if kind in ("late", "early"):
        return Fault(kind, moment=moment, by=(1 if kind == "late" else -1) * size * usual_late(plan, moment))
    if kind == "missed":
        return Fault(kind, moment=moment)
    share = chance.uniform(*EXTRA_AT)
    if kind == "extra":
        return Fault(kind, moment=moment, by=share * neighbouring_steps(plan, moment)[1])
    other = moment
    while abs(plan.moments.cycle[other] - plan.moments.cycle[moment]) < 2:
        other = draw_moment(plan, chance)
    return Fault(kind, moment=moment, other=other, by=share * neighbouring_steps(plan, other)[1])


def usual_late(plan: Plan, moment: int) -> float:
    """Return by how many seconds a moment is late that is late as usual."""
    return min(LATE_BY * period_of(plan), LATE_BY_STEP * min(neighbouring_steps(plan, moment)))


def draw_moment(plan: Plan, chance: np.random.Generator) -> int:
    """Return the position of a moment that is not in the first or last cycle."""
    cycle = plan.moments.cycle
    return int(chance.choice(np.flatnonzero((cycle > 0) & (cycle < plan.cycles - 1))))
