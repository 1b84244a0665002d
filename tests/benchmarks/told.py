"""What a scorecard tells of single cycles and moments, and whether that is what was done."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tests.benchmarks.faults import neighbouring_steps
from tests.benchmarks.oracle import distinctness

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tempo_coach.score.scorecard import Scorecard
    from tests.benchmarks.performers import Performance

#: Kinds that name one cycle.
OF_A_CYCLE = frozenset({"long", "short", "late", "early", "missed", "extra", "hesitated", "slipped"})


class Told(NamedTuple):
    """One thing told of a cycle; ``moment`` is a label, empty where the whole cycle is meant."""

    kind: str
    cycle: int | None
    hand: str
    moment: str


def tellings(card: Scorecard) -> list[Told]:
    """Return what is told of single cycles: the findings, or the flags where there are no findings."""
    findings = getattr(card, "findings", None)
    if findings is None:
        return [Told(flag.kind, row.cycle, row.hand, flag.label) for row in card.flagged for flag in row.flags]
    return [
        Told(each.kind, each.cycle, each.hand or "", _label(card, each.moment))
        for each in findings
        if each.kind in OF_A_CYCLE and each.cycle is not None
    ]


def _label(card: Scorecard, moment: object) -> str:
    """Return a moment's label, whether it is named or its position in the plan is given."""
    if isinstance(moment, (int, np.integer)):
        return card.plan.moments.label[int(moment)]
    return str(moment or "")


def broken_cycles(card: Scorecard) -> set[int]:
    """Return the cycles of which anything is told."""
    return {each.cycle for each in tellings(card)}


def is_told(card: Scorecard, performed: Performance) -> bool:
    """Return whether a fault of one cycle or moment is told as such and at its place.

    A moment that is displaced by half a step or more, or by less than that by no more than two SDs, may be told as
    missed as well.
    """
    plan, fault, told = performed.take.plan, performed.fault, tellings(card)
    if fault.kind in ("long", "short"):
        return any(each.kind == fault.kind and each.cycle == fault.cycle for each in told)
    found = True
    if fault.kind in ("late", "early"):
        kinds = {fault.kind, "missed"} if may_be_missed(performed) else {fault.kind}
        return any(each.kind in kinds and _is_at(card, each, fault.moment) for each in told)
    if fault.kind in ("missed", "both"):
        found &= any(each.kind == "missed" and _is_at(card, each, fault.moment) for each in told)
    if fault.kind in ("extra", "both"):
        before = fault.moment if fault.kind == "extra" else fault.other
        hand = plan.moments.hand[before]
        mine = plan.moments.of_hand(hand)
        near = plan.moments.cycle[mine[np.searchsorted(mine, before) :][:2]]
        found &= any(each.kind == "extra" and each.cycle in near and each.hand in (hand, "") for each in told)
    return found


def _is_at(card: Scorecard, told: Told, moment: int) -> bool:
    moments = card.plan.moments
    return (
        told.cycle == moments.cycle[moment]
        and told.hand in (moments.hand[moment], "")
        and told.moment in (moments.label[moment], "")
    )


def may_be_missed(performed: Performance) -> bool:
    """Return whether a displaced moment is as near to its neighbour's place as two SDs."""
    plan, who, fault = performed.take.plan, performed.who, performed.fault
    step = neighbouring_steps(plan, fault.moment)[1 if fault.by > 0 else 0]
    spike = np.zeros((len(plan.moments), 1))
    spike[fault.moment] = 1.0
    return abs(fault.by) >= step / 2 - 2 / distinctness(plan, who, spike)[0]


def beside(told: Iterable[int], performed: Performance) -> int:
    """Return how many cycles are told that lie more than one cycle from where anything was done."""
    cycle, fault = performed.take.plan.moments.cycle, performed.fault
    places = [fault.cycle] if fault.cycle >= 0 else [int(cycle[k]) for k in (fault.moment, fault.other) if k >= 0]
    return sum(all(abs(each - place) > 1 for place in places) for each in told)
