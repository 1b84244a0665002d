"""Judging takes as a column of what was seen of each, on two cores; and shares of them by drill."""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.faults.verdict import find_what_happened
from tempo_coach.score.measures.lags import measure_lags
from tempo_coach.score.pairing.hand import follow_hands
from tests.benchmarks.faults import ramp
from tests.benchmarks.judging import cases, drills, ways
from tests.benchmarks.oracle import seen_in
from tests.benchmarks.told import beside, broken_cycles, is_right, is_told, names_too_much, tellings

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.faults.findings import Finding
    from tests.benchmarks.judging import Draw
    from tests.benchmarks.performers import Performance, Who

CORES = int(os.environ.get("TEMPO_COACH_JUDGING_CORES", "2"))
#: Takes of a drill in a row; 2,000 for what is told to others.
TAKES = int(os.environ.get("TEMPO_COACH_JUDGING_TAKES", "200"))
#: SDs beyond which normal scatter puts one of 16,000.
PLAIN_BY_CHANCE = 4.0


@dataclass(frozen=True)
class Seen:
    """What was seen of one take.

    Parameters
    ----------
    drill : str
    cycles : int
    who : Who
    turn : int
        The number of the take, by which sizes go.
    found : bool
        Whether what was done is told, and at its place.
    elsewhere : int
        Cycles that are told where nothing was done.
    best : float
        The chance that a test that is told everything finds it; NaN where that was not asked.
    confidence : float
        Of the first finding.
    too_much : bool
        Whether the first finding names kinds as alike that are not.
    plain : bool
        Of a take in which nothing was done on purpose: whether what is told first is there all the same, in
        ``PLAIN_BY_CHANCE`` SDs or more of the test that is told everything.
    """

    drill: str
    cycles: int
    who: Who
    turn: int
    found: bool = False
    elsewhere: int = 0
    best: float = np.nan
    confidence: float = np.nan
    too_much: bool = False
    plain: bool = False


class Verdict(NamedTuple):
    """What a scorecard says that is judged here."""

    plan: Plan
    findings: tuple[Finding, ...]


def find(take: Take) -> Verdict:
    """Return the findings that ``judge`` gives, without the measures, which take half of its time."""
    hands, hypotheses = follow_hands(take)
    return Verdict(take.plan, find_what_happened(take, hands, hypotheses, lags=measure_lags(take.plan, hands)))


def see_single(kind: str, takes: int, draw: Draw, *, best: Callable[..., float] | None = None) -> list[Seen]:
    """Return what is seen of takes of every drill with a fault of one cycle or moment, or none.

    ``best(plan, who, fault)`` is the chance of finding the fault at best.
    """
    return _in_every_drill(partial(_see_single, kind, takes, draw, best))


def _see_single(kind: str, takes: int, draw: Draw, best: Callable[..., float] | None, drill: str) -> list[Seen]:
    seen = []
    for turn, performed in enumerate(cases(drill, kind, takes, draw)):
        plan, who, fault = performed.take.plan, performed.who, performed.fault
        told = tellings(find(performed.take))
        cycles = broken_cycles(told)
        if kind == "even":
            seen.append(Seen(drill, plan.cycles, who, turn, elsewhere=len(cycles)))
            continue
        at_best = best(plan, who, fault) if best else np.nan
        found = is_told(told, performed)
        seen.append(Seen(drill, plan.cycles, who, turn, found, beside(cycles, performed), at_best))
    return seen


def see_way(way: str, takes: int, draw: Draw) -> list[Seen]:
    """Return what is seen of takes of every drill in which it makes sense to go wrong in that way."""
    return _in_every_drill(partial(_see_way, way, takes, draw))


def _see_way(way: str, takes: int, draw: Draw, drill: str) -> list[Seen]:
    seen = []
    for turn, (performed, right) in enumerate(ways(drill, way, takes, draw)):
        card = find(performed.take)
        first = card.findings[0]
        seen.append(
            Seen(
                drill,
                performed.take.plan.cycles,
                performed.who,
                turn,
                found=is_right(card, performed, right),
                confidence=first.confidence,
                too_much=names_too_much(card, right),
                plain=way == "even" and _is_there(performed, first),
            )
        )
    return seen


def _is_there(performed: Performance, found: Finding) -> bool:
    """Whether a cycle, a moment or a level is off by more than normal scatter would make it, though not on purpose."""
    plan, moments = performed.take.plan, performed.take.plan.moments
    if found.kind in ("long", "short"):
        shapes = [
            ramp(plan, found.cycle, correction=performed.who.correction, kept=kept, stepwise=False)
            for kept in (True, False)
        ]
    elif found.kind in ("late", "early"):
        at = np.array(moments.label) == found.moment
        shapes = [(at & (moments.cycle == found.cycle) & (np.array(moments.hand) == found.hand)).astype(float)]
    elif found.kind in ("all_late", "all_early"):
        shapes = [np.ones(len(moments))]
    else:
        return False
    late = np.where(performed.answer >= 0, performed.take.onsets.time[performed.answer] - moments.time, np.nan)
    return any(abs(seen_in(plan, performed.who, late, shape)) >= PLAIN_BY_CHANCE for shape in shapes)


def _in_every_drill(see: Callable[[str], list[Seen]]) -> list[Seen]:
    from joblib import Parallel, delayed

    found = Parallel(n_jobs=CORES)(delayed(see)(drill) for drill in drills())
    return [each for of_drill in found for each in of_drill]


def by_drill(seen: Iterable[Seen], value: Callable[[list[Seen]], float]) -> dict[str, float]:
    """Return a value of each drill's takes."""
    groups: dict[str, list[Seen]] = {}
    for each in seen:
        groups.setdefault(each.drill, []).append(each)
    return {drill: value(group) for drill, group in groups.items()}


def share_found(seen: Iterable[Seen]) -> float:
    """Return the share of the takes in which what was done is told; NaN of none."""
    found = [each.found for each in seen]
    return float(np.mean(found)) if found else np.nan


def false_per_1000(seen: Iterable[Seen]) -> float:
    """Return the good cycles of which something is told, in 1,000."""
    seen = list(seen)
    return 1000 * sum(each.elsewhere for each in seen) / sum(each.cycles for each in seen)
