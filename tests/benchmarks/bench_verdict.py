"""Faults of one cycle or moment in every drill of the library, in takes that nothing was tuned on.

Each row names the drill in which the program is worst. *Steps* and *periods* say of what the spread is the coefficient
of variation: of a hand's steps for performers whose clock errs from moment to moment, of the cycle's periods for the
others (:mod:`tests.benchmarks.performers`). Takes are drawn by :mod:`tests.benchmarks.judging`;
``TEMPO_COACH_JUDGING_TAKES`` says how many of a drill a row rests on (2,000 for figures that are told to others: with
few takes the worst of 23 drills is largely the unluckiest).
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.faults import lay
from tests.benchmarks.heavy_oracle import simulate_power
from tests.benchmarks.judging import JUDGING, SPREADS, Draw
from tests.benchmarks.oracle import power
from tests.benchmarks.performers import Who
from tests.benchmarks.seen import CORES, TAKES, Seen, by_drill, false_per_1000, see_single, share_found
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.pattern.plan.plan import Plan
    from tests.benchmarks.faults import Fault

NATURAL = SPREADS[0]
#: Whose spread is meant of what.
GROUPS = {"periods": ("cycle", "heavy", "wandering"), "steps": ("step",)}
NORMAL = {"periods": ("cycle", "wandering"), "steps": ("step",)}
SIZES = {"long": (0.25, 0.5, 0.75, 1.0, 1.5), "late": (0.5, 1.0, 1.5)}
#: Share of what a test that is told everything finds: floor and aim by the number of cycles.
OF_BEST = {8: (0.60, 0.75), 16: (0.80, 0.90), 32: (0.90, 0.95)}
#: Moments a cycle from which on a drill is dense.
DENSE = 6


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    yield from measure_long()
    yield from measure_missed_and_extra()
    yield from measure_false_flags()
    yield from measure_power()
    yield from measure_power_of_heavy_tails()


def measure_long() -> Iterator[Row]:
    """A cycle 20 % long, told as such at its place."""
    seen = see_single("long", TAKES, Draw(JUDGING))
    for group, families in GROUPS.items():
        mine = [each for each in seen if each.who.family in families]
        for what, least, most, floor, aim in (("8 cycles", 8, 8, 0.75, 0.90), ("16 and more", 16, 99, 0.95, 0.98)):
            natural = [each for each in mine if least <= each.cycles <= most and each.who.spread <= NATURAL[1]]
            yield worst(f"long by 20 %, {group} to 3 %, {what}", natural, share_found, floor=floor, aim=aim)
    yield worst("long: other cycles told, of 1,000", seen, false_per_1000, better="low")
    yield from marginal("long by 20 %", seen)


def marginal(what: str, seen: list[Seen]) -> Iterator[Row]:
    """Shares by length, performer and spread, all drills together."""
    parts = {f"{n} cycles": [each for each in seen if each.cycles == n] for n in sorted({s.cycles for s in seen})}
    parts |= {
        name: [each for each in seen if each.who.family == name] for name in ("cycle", "step", "heavy", "wandering")
    }
    for low, high in SPREADS:
        parts[f"spread {low:.0%} to {high:.0%}"] = [each for each in seen if low <= each.who.spread < high]
    for name, part in parts.items():
        yield Row(f"{what}: {name}, all drills", share_found(part), "", better="high")


def measure_missed_and_extra() -> Iterator[Row]:
    """A missed moment, an extra onset, and both in one take; a long cycle and a short one."""
    for kind, floor in (("missed", 0.99), ("extra", 0.99), ("both", 0.98), ("long_and_short", None)):
        seen = see_single(kind, TAKES, Draw(JUDGING))
        for what, low, high in (("to 3 %", 0.0, 0.03), ("3 to 5 %", 0.03, 1.0)):
            part = [each for each in seen if low < each.who.spread <= high]
            yield worst(f"{kind}, {what}", part, share_found, floor=floor if high == 0.03 else None)


def measure_false_flags() -> Iterator[Row]:
    """Good cycles of which something is told."""
    rows = [(f"{group} 3 %", families, 0.03, 5.0, 3.0) for group, families in NORMAL.items()]
    rows += [(f"{group} 6 %", families, 0.06, 35.0, None) for group, families in NORMAL.items()]
    for what, families, spread, floor, aim in rows:
        seen = see_single("even", TAKES, Draw(JUDGING, spreads=((spread, spread),), families=families))
        yield worst(f"good cycles told of 1,000, {what}", seen, false_per_1000, floor=floor, aim=aim, better="low")
    seen = see_single("even", TAKES, Draw(JUDGING, spreads=((0.03, 0.03),), families=("heavy",)))
    for what, dense, floor in (("up to 5 moments a cycle", False, 20.0), ("6 and more", True, 30.0)):
        part = [each for each in seen if is_dense(each.drill) == dense]
        yield worst(f"the same, heavy tails 3 %, {what}", part, false_per_1000, floor=floor, better="low")


def is_dense(drill: str) -> bool:
    """Return whether a drill has many moments a cycle."""
    plan = lay(drill, 8)
    return len(plan.moments) / plan.cycles >= DENSE


def measure_power() -> Iterator[Row]:
    """Long cycles and late moments of many sizes: what is found over what is found at best at as many false flags.

    The rate of false flags is that of all drills together: in the takes of one a few would decide.
    """
    for cycles, (floor, aim) in OF_BEST.items():
        for group, families in NORMAL.items():
            draw = partial(Draw, JUDGING, lengths=(cycles,), spreads=(NATURAL,), families=families)
            good = see_single("even", TAKES, draw())
            rates = dict.fromkeys(by_drill(good, len), rate_of_false_flags(good))
            for kind, sizes in SIZES.items():
                seen = see_single(kind, TAKES, draw(sizes=sizes), best=partial(power_in_drill, rates))
                what = f"{kind} of its best, {group} to 3 %, {cycles} cycles"
                yield worst(what, seen, share_of_best, floor=floor, aim=aim)
                for k, size in enumerate(sizes):
                    part = [each for each in seen if each.turn % len(sizes) == k]
                    yield Row(f"  {size:g} of the usual size, all drills", share_of_best(part), "", better="high")


def measure_power_of_heavy_tails() -> Iterator[Row]:
    """The same for heavy tails at 16 cycles and 3 %, where what is found at best is simulated."""
    draw = Draw(JUDGING, lengths=(16,), spreads=((0.03, 0.03),), families=("heavy",))
    rates = by_drill(see_single("even", TAKES, draw), rate_of_false_flags)
    at_best = _simulate_in_every_drill(rates)
    for kind in SIZES:
        found = by_drill(see_single(kind, TAKES, draw), share_found)
        of_best = {drill: share / at_best[drill][kind] for drill, share in found.items() if at_best[drill][kind] > 0.1}
        drill = min(of_best, key=lambda each: of_best[each])
        mean = float(np.mean(list(of_best.values())))
        yield Row(f"{kind} of its best, heavy tails 3 %, 16 cycles: {drill} (mean {mean:.3g})", of_best[drill])


def _simulate_in_every_drill(rates: dict[str, float]) -> dict[str, dict[str, float]]:
    from joblib import Parallel, delayed

    who, few = Who("heavy", spread=0.03), min(TAKES, 200)
    found = Parallel(n_jobs=CORES)(
        delayed(simulate_power)(lay(drill, 16), who, rate=rate, good_cycles=16 * few, faults=few)
        for drill, rate in rates.items()
    )
    return dict(zip(rates, found, strict=True))


def power_in_drill(rates: dict[str, float], plan: Plan, who: Who, fault: Fault) -> float:
    """Return the chance of finding a fault at best at the program's rate of false flags in the drill."""
    return power(plan, who, fault, rate=rates[plan.drill])


def rate_of_false_flags(seen: list[Seen]) -> float:
    """Return the share of good cycles of which something is told; one in what was looked at where none was seen."""
    return max(sum(each.elsewhere for each in seen), 1) / sum(each.cycles for each in seen)


def share_of_best(seen: list[Seen]) -> float:
    """Return the faults found over those that would be at best."""
    best = sum(each.best for each in seen)
    return sum(each.found for each in seen) / best if best else np.nan


def worst(
    what: str,
    seen: list[Seen],
    value: Callable[[list[Seen]], float],
    *,
    floor: float | None = None,
    aim: float | None = None,
    better: str = "high",
) -> Row:
    """Return the row of the worst drill, which is named in it."""
    values = by_drill(seen, value)
    drill = (min if better == "high" else max)(values, key=lambda each: values[each])
    mean = float(np.mean(list(values.values())))
    return Row(f"{what}: {drill} (mean {mean:.3g})", values[drill], "", floor=floor, aim=aim, better=better)
