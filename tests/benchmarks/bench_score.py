"""The scorecard on simulated performers: what it finds, what it flags for nothing, time.

The performers are those of :mod:`tests.benchmarks.performer`. *Natural spread of 3 %* means that the periods of a good
take have a coefficient of variation of 3 %, of which the clock and the movements have a part each.

How much could be found at best? With the performer's correction and the parts of clock and movement known, a fault of
known shape is found by generalised least squares, and nothing finds more at the same rate of false flags (Neyman &
Pearson 1933). Computed for this performer at 1.8 and 2.8 false flags of periods and moments in 1,000 cycles, as in
short takes (in longer ones the program allows fewer): a cycle 20 % long is found in 999 of 1,000 takes of 8 cycles and
always in longer ones, whether the size of her scatter is known or has to come from the take (then by Student's t). A
circle 12 % late:

====== ================= ==================
clubs  scatter known     scatter from take
====== ================= ==================
8      .996              .941
16     .998              .990
24     .998              .995
48     .998              .997
====== ================= ==================

The rope, with three moments a cycle, .999 and .985 at 8 cycles, above .997 from 16 on. The program knows none of it.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.score.card import judge
from tempo_coach.score.pairing.search import pair
from tests.benchmarks.performer import Faults, Performer, perform
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.pattern.plan.plan import Plan

SEEDS = 1000
#: Correction of half of each asynchrony by the next cycle; 3 % of spread in the periods.
NATURAL = Performer(gain=0.5, clock=0.019, motor=0.015)
#: Share of the faults that has to be found, by the number of cycles: at 8 a fault
#: is told against a scatter that six or seven good periods show.
FOUND = {8: 0.94, 16: 0.95, 24: 0.96, 48: 0.97}
DRILLS = {"clubs": "clubs_mills", "rope": "rope_figure_eight"}


def lay(drill: str, cycles: int) -> Plan:
    """Return a plan of a drill at 100 beats a minute."""
    return coach.lay(coach.Request(drill, tempo_bpm=100, cycles=cycles))


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    yield from measure_time()
    yield from measure_false_flags()
    yield from measure_detection()


def measure_time() -> Iterator[Row]:
    """Time of pairing and judging; twice as many moments may take little more than twice as long."""
    asked = np.arange(10_000) * 0.6
    done = np.sort(asked + np.random.default_rng(1).normal(0, 0.03, len(asked)))
    seconds_of_pairing = min(_time(lambda: pair(asked, done, step=0.6, period=1.2)) for _ in range(3))
    yield Row("pairing 10,000 moments of a hand", seconds_of_pairing, "s of CPU", floor=1.0)
    for what, broken in (("", 0.0), (", one cycle of 500 broken", 0.002), (", every 20th cycle broken", 0.05)):
        seconds = {}
        for moments in (10_000, 20_000):
            plan = lay("clubs_mills", moments // 2)
            generator = np.random.default_rng(1)
            times = plan.moments.time + generator.normal(0, 0.03, len(plan.moments))
            late = (generator.random(plan.cycles) < broken)[plan.moments.cycle] & (np.arange(len(times)) % 2 == 1)
            take = Take(plan, Onsets.unsorted((times + 0.25 * late).tolist(), plan.moments.hand))
            seconds[moments] = min(_time(lambda take=take: judge(take)) for _ in range(3))
        yield Row(f"judging 10,000 moments{what}", seconds[10_000], "s of CPU", floor=1.0 if broken < 0.01 else None)
        yield Row(f"judging 20,000 over judging 10,000{what}", seconds[20_000] / seconds[10_000], "", floor=2.6)


def measure_false_flags() -> Iterator[Row]:
    """Good cycles that are flagged."""
    for name, drill in DRILLS.items():
        for cycles in (8, 16, 24, 48):
            plan = lay(drill, cycles)
            takes = 12_000 // cycles
            flagged = sum(
                len({c.cycle for c in judge(perform(plan, NATURAL, np.random.default_rng(seed))).flagged})
                for seed in range(takes)
            )
            yield Row(f"{name}, {cycles} cycles: good cycles flagged", flagged / takes / cycles, "", floor=0.005)


def measure_detection() -> Iterator[Row]:
    """Faults that are found in their cycle."""
    for name, drill in DRILLS.items():
        for cycles in (8, 16, 24, 48):
            plan = lay(drill, cycles)
            floor = FOUND[cycles]
            for what, options, kinds in (
                ("a cycle 20 % long", "long_cycle", {"long"}),
                ("a circle 12 % of the cycle late", "late_cycle", {"late"}),
                ("a missed moment", "missed_cycle", {"missed"}),
                ("an extra onset", "extra_cycle", {"extra"}),
            ):
                found = sum(_found(plan, options, kinds, seed) for seed in range(SEEDS // 2))
                share = found / (SEEDS // 2)
                yield Row(f"{name}, {cycles} cycles: {what} found", share, "", floor=floor, aim=0.95, better="high")


def _found(plan: Plan, option: str, kinds: set[str], seed: int) -> bool:
    generator = np.random.default_rng(seed)
    cycle = int(generator.integers(1, plan.cycles - 2))
    card = judge(perform(plan, NATURAL, generator, faults=Faults(**{option: cycle})))
    near = {cycle, cycle + 1} if "extra" in kinds else {cycle}
    return bool(kinds & {flag.kind for c in card.flagged if c.cycle in near for flag in c.flags})


def _time(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start
