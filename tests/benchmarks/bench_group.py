"""Groups of five whose truth is known: who follows whom, who left the group and where, canons, and time.

A group counts as wrong where any pair is said to follow that does not, or anybody is said to have left who did not. By
default there are 200 groups a row; ``TEMPO_COACH_GROUPS=2000`` in the environment makes the table of which the floors
speak (an hour and a half), and with fewer the floors are widened by three SDs of so few.
"""

from __future__ import annotations

import math
import os
import time
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.countmap import CountMap
from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.pattern.every_count import lay_every_count
from tempo_coach.score.following import measure_following
from tempo_coach.score.group import judge_group, measure_group
from tempo_coach.score.leaving import find_left
from tests.benchmarks.groups import JUDGES, MEMBERS, USUAL, Kind, chain, lead, leave, perform
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

GROUPS = int(os.environ.get("TEMPO_COACH_GROUPS", "200"))
CYCLES = (24, 48, 96)
CORRECTIONS = (0.0, 0.25, 0.5)
#: Share of groups with any false pair, or anybody said to have left who did not; and shares that have to be found.
FALSE, FALSE_LEFT, FOUND, FOUND_LEFT = 0.06, 0.05, 0.80, 0.95


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    yield from measure_time()
    yield from measure_false_pairs()
    yield from measure_leaders()
    yield from measure_leaving()
    yield from measure_canons()


def measure_time() -> Iterator[Row]:
    """A group of ten, 100 cycles."""
    plan = lay_every_count(CountMap.steady(120), end=49.9, tempo_bpm=120)
    (group,) = perform(np.random.default_rng(1), 1, len(plan.moments), members=10)
    seconds = []
    for _ in range(3):
        start = time.perf_counter()
        measure_group(tuple("abcdefghij"), group, plan)
        seconds.append(time.perf_counter() - start)
    yield Row("ten members, 104 cycles", min(seconds), "s", floor=1.0)


def measure_false_pairs() -> Iterator[Row]:
    """Groups in which nobody follows anybody."""
    for name, kind in {"usual": USUAL, **JUDGES}.items():
        for cycles in CYCLES:
            for correction in CORRECTIONS:
                wrong, _, _ = _follow(kind, cycles, correction, np.zeros((5, 5)))
                yield _false(f"{name}, {cycles} cycles, correction {correction:g}: a false pair", wrong, FALSE)


def measure_leaders() -> Iterator[Row]:
    """Groups with one leader, and chains."""
    for name, kind in {"usual": USUAL, "heavy tails": JUDGES["heavy tails"], "unlike": JUDGES["unlike"]}.items():
        for cycles in CYCLES:
            for correction in (0.0, 0.25):
                for what, gains in {"leader .3": lead(0.3), "leader .6": lead(0.6), "chain .6": chain(0.6)}.items():
                    said = f"{name}, {cycles} cycles, correction {correction:g}, {what}"
                    wrong, found, held = _follow(kind, cycles, correction, gains)
                    yield _false(f"{said}: a false pair", wrong, FALSE)
                    floor = FOUND if cycles >= 48 and "6" in what else None
                    yield _found(f"{said}: true pairs", found, floor)
                    yield Row(f"{said}: gain in its interval", held, aim=0.95, better="high")


def _follow(kind: Kind, cycles: int, correction: float, gains: NDArray[np.float64]) -> tuple[float, float, float]:
    generator = np.random.default_rng([cycles, round(100 * correction), round(100 * gains.sum())])
    wrong = found = held = 0
    for group in perform(generator, GROUPS, cycles, kind=kind, correction=correction, follows=gains):
        pairs = measure_following(MEMBERS, group)
        truth = [gains[MEMBERS.index(pair.b), MEMBERS.index(pair.a)] for pair in pairs]
        wrong += any(pair.follows and not gain for pair, gain in zip(pairs, truth, strict=True))
        found += sum(bool(pair.follows and gain) for pair, gain in zip(pairs, truth, strict=True))
        held += sum(pair.low <= gain <= pair.high for pair, gain in zip(pairs, truth, strict=True))
    return wrong / GROUPS, found / max(GROUPS * (gains > 0).sum(), 1), held / GROUPS / 20


def measure_leaving() -> Iterator[Row]:
    """One who leaves the group for 4 to 16 counts; a third of the take at most."""
    for name, kind in {"usual": USUAL, **JUDGES}.items():
        for cycles in CYCLES:
            for correction in CORRECTIONS:
                said = f"{name}, {cycles} counts, correction {correction:g}"
                generator = np.random.default_rng([cycles, round(100 * correction)])
                groups = perform(generator, GROUPS, cycles, kind=kind, correction=correction)
                hands = ["body"] * cycles
                yield _false(
                    f"{said}: named though nobody left",
                    float(np.mean([bool(find_left(group, hands)) for group in groups])),
                    FALSE_LEFT,
                )
                for what, by, another in (
                    ("60 to 250 ms", (0.06, 0.25), 0.0),
                    ("60 ms", (0.06, 0.06), 0.0),
                    ("100 to 250 ms, another late", (0.1, 0.25), 0.1),
                ):
                    found = wrong = 0
                    for group in groups.copy():
                        away = leave(generator, group, by=by, another=another)
                        told = [
                            one.member == away.member and one.first <= away.last and one.last >= away.first
                            for one in find_left(group, hands)
                        ]
                        found += any(told)
                        wrong += not all(told)
                    floor = FOUND_LEFT if correction > 0 and what != "60 ms" else None
                    yield _found(f"{said}: {what}: named", found / GROUPS, floor)
                    yield _false(f"{said}: {what}: another named", wrong / GROUPS, FALSE_LEFT)


def measure_canons() -> Iterator[Row]:
    """From onsets: one member 2 to 8 counts behind all the others, and groups without a canon."""
    found = wrong = 0
    groups = max(GROUPS // 10, 10)
    for seed in range(groups):
        generator = np.random.default_rng(seed)
        plan = lay_every_count(CountMap.steady(120), end=31.9, tempo_bpm=120)
        (group,) = perform(generator, 1, 48)
        counts = int(generator.integers(2, 9))
        for later in (0, counts):
            takes = {
                member: Take(plan, Onsets.unsorted(times.tolist(), ["body"] * 48))
                for member, times in zip(MEMBERS, np.arange(48) * 0.5 + group, strict=True)
            }
            eva = takes["Eva"].onsets
            takes["Eva"] = Take(plan, Onsets(eva.time + 0.5 * later, eva.hand))
            card = judge_group(takes, own_clock=True)
            if later:
                found += card.canon == {"Eva": counts} and not card.left
            else:
                wrong += bool(card.canon)
    yield _found("a canon of 2 to 8 counts is recognised, and nobody said to have left", found / groups, FOUND_LEFT)
    yield _false("a canon where there is none", wrong / groups, FALSE_LEFT)


def _false(what: str, share: float, floor: float) -> Row:
    return Row(what, share, floor=floor + 3 * math.sqrt(floor * (1 - floor) * max(1 / GROUPS - 1 / 2000, 0)))


def _found(what: str, share: float, floor: float | None) -> Row:
    if floor is not None:
        floor -= 3 * math.sqrt(floor * (1 - floor) * max(1 / GROUPS - 1 / 2000, 0))
    return Row(what, share, floor=floor, better="high")
