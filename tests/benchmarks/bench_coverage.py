"""How often the intervals of bias and spread hold, and how wide they are: every drill, every performer, short takes.

Where :mod:`tests.benchmarks.bench_intervals` looks at every measure in eight drills, this looks at the two that lead
the card in all drills of the library, each at its own tempo. Correction and the share of the movements are drawn at
random for each take (:mod:`tests.benchmarks.drawn`); ``skewed`` is ``cycle`` with errors of a gamma distribution of
shape 2, a law that no interval was chosen on. Pairs are taken as they are.

An interval of 95 % that holds in more than 97 of 100 is wider than it has to be, one that holds in fewer than 93 is
not what it says. The worst drill is named with what chance alone does to it: of 23 drills that all hold in 95 of 100
the least is seen at some 92 (400 takes of each).
"""

from __future__ import annotations

import zlib
from functools import cache
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.measures.timekeeping import measure_asynchrony
from tempo_coach.score.pairing.hand import lay_grid
from tests.benchmarks.bench_intervals import draw_errors, root_of_variance
from tests.benchmarks.drawn import draw_who
from tests.benchmarks.faults import lay, period_of
from tests.benchmarks.judging import drills
from tests.benchmarks.performers import FAMILIES, Who, clock_errors, follow_clock, lateness, scales
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.pattern.plan.plan import Plan

LAWS = (*FAMILIES, "skewed")
LENGTHS = (8, 16, 32)
SPREAD, TAKES = 0.03, 400
#: Share of intervals that hold in all drills together; in the worst drill what chance leaves of the least.
HELD, MOST_HELD, HELD_IN_WORST = 0.93, 0.97, 0.90


class Held(NamedTuple):
    """Of takes of one drill: the share of intervals that hold, of those that miss the share that lie too low; width."""

    share: float
    too_low: float
    half: float


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    for law, cycles in product(LAWS, LENGTHS):
        of_drill = {drill: cover(lay(drill, cycles), law) for drill in drills()}
        for k, (name, unit) in enumerate((("bias", "SDs of a period"), ("spread", "of the true one"))):
            held = {drill: each[k] for drill, each in of_drill.items()}
            what = f"{law}, {cycles} cycles: {name}"
            share = float(np.mean([each.share for each in held.values()]))
            yield Row(f"{what} held, all drills", share, "", floor=HELD, better="high")
            yield Row("  and no more often than", share, "", aim=MOST_HELD)
            worst = min(held, key=lambda each: held[each].share)
            yield Row(f"  worst drill, {worst}", held[worst].share, "", floor=HELD_IN_WORST, better="high")
            missed = [each.too_low for each in held.values() if each.share < 1]
            yield Row("  of those that miss, too low", float(np.mean(missed)) if missed else np.nan, "")
            halves = {drill: each.half for drill, each in held.items()}
            yield Row("  half-width, median drill", float(np.median(list(halves.values()))), unit)
            for which, called in ((min, "narrowest"), (max, "widest")):
                drill = which(halves, key=halves.__getitem__)
                yield Row(f"  {called}, {drill}", halves[drill], unit)


def cover(plan: Plan, law: str, takes: int = TAKES) -> tuple[Held, Held]:
    """Return what becomes of the intervals of bias and spread in takes of a plan."""
    chance = np.random.default_rng([zlib.crc32(plan.drill.encode()), plan.cycles, LAWS.index(law)])
    grids = [lay_grid(plan.moments, hand) for hand in plan.hands]
    family, unit = "cycle" if law == "skewed" else law, SPREAD * 1000 * period_of(plan)
    held, low, halves = np.zeros((takes, 2), dtype=bool), np.zeros((takes, 2), dtype=bool), np.zeros((takes, 2))
    for take in range(takes):
        who = draw_who(chance, spread=SPREAD, families=(family,))
        late = who.bias + lateness(plan, who, *draw_errors(plan, who, law, chance))
        found = measure_asynchrony(late, plan.moments.cycle, grids)
        truths = 1000 * who.bias, 1000 * true_spread(plan, who)
        for k, (name, of) in enumerate((("bias_ms", unit), ("spread_ms", truths[1]))):
            measure = found[name]
            held[take, k] = measure.low <= truths[k] <= measure.high
            low[take, k] = measure.high < truths[k]
            halves[take, k] = (measure.high - measure.low) / 2 / of
    missed = np.maximum((~held).sum(axis=0), 1)
    columns = held.mean(axis=0), low.sum(axis=0) / missed, np.median(halves, axis=0)
    bias, spread = (Held(*(float(column[k]) for column in columns)) for k in range(2))
    return bias, spread


def true_spread(plan: Plan, who: Who) -> float:
    """Return the root of the expected square of the spread of a take of this length, in seconds."""
    of_clock, of_motor = scales(plan, who)
    return float(np.hypot(of_clock * _unit_spread(plan, who.family, who.correction), of_motor))


@cache
def _unit_spread(plan: Plan, family: str, correction: float) -> float:
    kind = "cycle" if family == "heavy" else family
    return root_of_variance(follow_clock(plan, kind, correction, np.eye(clock_errors(plan, Who(kind)))))
