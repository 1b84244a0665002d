"""What the README promises of the verdict, row by row: for each drill what is found, and the worst drill of each.

Takes of 16 cycles at 2 to 3 % of spread by performers with normal scatter, drawn by :mod:`tests.benchmarks.judging`
from its judging stream; *at best* is what a test finds that is told the pairing, the performer's correction and her
scatter, at the program's own rate of false flags. ``TEMPO_COACH_JUDGING_TAKES`` says how many takes of a drill there
are; the number stands in every row.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.measures.timekeeping import measure_asynchrony
from tempo_coach.score.pairing.hand import lay_grid
from tests.benchmarks import bench_verdict
from tests.benchmarks.bench_verdict import power_in_drill, rate_of_false_flags, worst
from tests.benchmarks.judging import JUDGING, SPREADS, Draw, cases, drills
from tests.benchmarks.seen import TAKES, Seen, by_drill, false_per_1000, see_single, share_found
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

NORMAL = ("cycle", "step", "wandering")
AS_TOLD = Draw(JUDGING, lengths=(16,), spreads=SPREADS[:1], families=NORMAL)
#: Even takes by spread and performers, each so many times the others: what happens once in 600 good cycles is counted
#: in few of a drill, and then the worst of 23 drills is the unluckiest.
EVEN = (("3 %", 0.03, NORMAL, 5), ("3 %, heavy tails", 0.03, ("heavy",), 2), ("6 %", 0.06, NORMAL, 2))


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    even = see_single("even", TAKES, AS_TOLD)
    rates = dict.fromkeys(drills(), rate_of_false_flags(even))
    long, late = (see_single(kind, TAKES, AS_TOLD, best=partial(power_in_drill, rates)) for kind in ("long", "late"))
    for kind, seen in (("long by 20 %", long), ("late", late)):
        for drill, of_drill in by_drill(seen, list).items():
            yield _found(f"{kind}, {drill}", of_drill)
            yield Row("  at best", sum(each.best for each in of_drill), f"of {len(of_drill)}", better="high")
        yield _found(f"{kind}, all drills", seen)
        yield worst(f"{kind}, worst drill", seen, share_found)
    for kind in ("missed", "extra"):
        seen = see_single(kind, TAKES, AS_TOLD)
        yield _found(f"{kind}, all drills", seen)
        yield worst(f"{kind}, worst drill", seen, share_found)
    yield from false_flags()
    yield from half_widths()


def false_flags() -> Iterator[Row]:
    """Good cycles of which something is told, in takes of 8 to 32."""
    for what, spread, families, times in EVEN:
        draw = Draw(JUDGING, spreads=((spread, spread),), families=families)
        seen = see_single("even", times * TAKES, draw)
        cycles = sum(each.cycles for each in seen)
        yield Row(f"good cycles told of 1,000, {what}", false_per_1000(seen), f"of {cycles} cycles")
        for which, dense in (("up to 5 moments a cycle", False), ("6 and more", True)):
            part = [each for each in seen if bench_verdict.is_dense(each.drill) == dense]
            row = worst(f"  worst drill, {which}", part, false_per_1000, better="low")
            number = np.median(list(by_drill(part, lambda each: sum(one.cycles for one in each)).values()))
            yield Row(row.what, row.value, f"of some {number:.0f} cycles")
            yield Row("  by chance alone, were all drills alike", worst_by_chance(part), "")


def worst_by_chance(seen: list[Seen]) -> float:
    """Return what the worst drill would show, of 1,000 cycles, if all were as good as they are together: the median."""
    from scipy.stats import poisson

    cycles = np.array(list(by_drill(seen, lambda each: sum(one.cycles for one in each)).values()))
    expected = false_per_1000(seen) / 1000 * float(cycles.mean())
    return 1000 * float(poisson.ppf(0.5 ** (1 / len(cycles)), expected)) / float(cycles.mean())


def half_widths() -> Iterator[Row]:
    """Half-width of the bias at 8 cycles and 3 %, each drill at its own tempo: the narrowest and the widest drill."""
    draw = Draw(JUDGING, lengths=(8,), spreads=((0.03, 0.03),), families=("cycle",))
    middle = {}
    for drill in drills():
        halves = []
        for performed in cases(drill, "even", TAKES, draw):
            plan = performed.take.plan
            late = performed.take.onsets.time[performed.answer] - plan.moments.time
            grids = [lay_grid(plan.moments, hand) for hand in plan.hands]
            bias = measure_asynchrony(late, plan.moments.cycle, grids)["bias_ms"]
            halves.append((bias.high - bias.low) / 2)
        middle[drill] = float(np.median(halves))
    for what, which in (("narrowest", min), ("widest", max)):
        drill = which(middle, key=lambda each: middle[each])
        yield Row(f"half-width of the bias, 8 cycles, 3 %, {what}: {drill}", middle[drill], "ms")


def _found(what: str, seen: list[Seen]) -> Row:
    return Row(what, sum(each.found for each in seen), f"of {len(seen)}", better="high")
