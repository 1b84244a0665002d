"""What a scorecard tells, and whether that is what was done."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from tests.benchmarks.faults import neighbouring_steps, period_of
from tests.benchmarks.oracle import distinctness

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.scorecard import Scorecard
    from tests.benchmarks.performers import Performance
    from tests.benchmarks.seen import Verdict

#: Kinds that name one cycle.
OF_A_CYCLE = frozenset({"long", "short", "late", "early", "missed", "extra", "hesitated", "slipped"})


class Told(NamedTuple):
    """One thing told of a cycle, numbered from 0; ``moment`` is a label, empty where the whole cycle is meant."""

    kind: str
    cycle: int
    hand: str
    moment: str


def tellings(card: Scorecard | Verdict) -> list[Told]:
    """Return what is told of single cycles as what happened: the findings that are not doubtful."""
    return tellings_of(card, [each for each in card.findings if not each.is_doubtful])


def tellings_of(card: Scorecard | Verdict, findings: Iterable[Any]) -> list[Told]:
    """Return what findings tell of single cycles."""
    return [
        Told(each.kind, each.cycle, each.hand or "", _label(card, each.moment))
        for each in findings
        if each.kind in OF_A_CYCLE and each.cycle is not None
    ]


def _label(card: Scorecard | Verdict, moment: object) -> str:
    """Return a moment's label, whether it is named or its position in the plan is given."""
    if isinstance(moment, (int, np.integer)):
        return card.plan.moments.label[int(moment)]
    return str(moment or "")


def broken_cycles(told: Iterable[Told]) -> set[int]:
    """Return the cycles of which anything is told."""
    return {each.cycle for each in told}


def is_told(told: Sequence[Told], performed: Performance) -> bool:
    """Return whether a fault of one cycle or moment is told as such and at its place.

    A moment that is displaced by half a step or more, or by less than that by no more than two SDs, may be told as
    missed as well.
    """
    plan, fault = performed.take.plan, performed.fault
    if fault.kind in ("long", "short"):
        return any(each.kind == fault.kind and each.cycle == fault.cycle for each in told)
    if fault.kind == "long_and_short":
        places = {"long": fault.cycle, "short": fault.short}
        return all(any((each.kind, each.cycle) == place for each in told) for place in places.items())
    found = True
    if fault.kind in ("late", "early"):
        kinds = {fault.kind, "missed"} if may_be_missed(performed) else {fault.kind}
        return any(each.kind in kinds and _is_at(plan, each, fault.moment) for each in told)
    if fault.kind in ("missed", "both"):
        found &= any(each.kind == "missed" and _is_at(plan, each, fault.moment) for each in told)
    if fault.kind in ("extra", "both"):
        before = fault.moment if fault.kind == "extra" else fault.other
        hand = plan.moments.hand[before]
        mine = plan.moments.of_hand(hand)
        near = plan.moments.cycle[mine[np.searchsorted(mine, before) :][:2]]
        found &= any(each.kind == "extra" and each.cycle in near and each.hand in (hand, "") for each in told)
    return found


def is_right(card: Scorecard | Verdict, performed: Performance, right: Collection[str]) -> bool:
    """Return whether the first finding, or one that its ``same_as`` names, is one of the ``right`` kinds.

    Where it is what was done it has to lie where that was done, and tempo and counts have to be hers: ``ratio`` is her
    tempo over the tempo asked; a slip and a late entry are told in counts, or in ms.
    """
    findings, fault = list(getattr(card, "findings", ())), performed.fault
    if not findings:
        return "even" in right
    first = findings[0]
    if not {first.kind, *first.same_as} & set(right):
        return False
    return first.kind not in _HELD or first.kind != fault.kind or _HELD[first.kind](card, first, performed)


def names_too_much(card: Scorecard | Verdict, right: Collection[str]) -> bool:
    """Return whether the first finding is right and names as alike what is not."""
    first = next(iter(getattr(card, "findings", ())), None)
    return first is not None and first.kind in right and not set(right) >= set(first.same_as)


def _is_single(card: Scorecard, first: Any, performed: Performance) -> bool:
    return is_told(tellings_of(card, [first]), performed)


def _is_hesitation(card: Scorecard, first: Any, performed: Performance) -> bool:
    return first.cycle is not None and abs(first.cycle - _cycle_of(performed)) <= 1


def _is_slip(card: Scorecard, first: Any, performed: Performance) -> bool:
    return _is_hesitation(card, first, performed) and _counts(card, first) == performed.fault.counts


def _is_entry(card: Scorecard, first: Any, performed: Performance) -> bool:
    return _counts(card, first) == round(performed.fault.cycle * card.plan.cycle_counts)


def _is_tempo(card: Scorecard, first: Any, performed: Performance) -> bool:
    return first.ratio is not None and abs(first.ratio / performed.fault.ratio - 1) < 0.04


def _cycle_of(performed: Performance) -> int:
    fault = performed.fault
    return fault.cycle if fault.cycle >= 0 else int(performed.take.plan.moments.cycle[fault.moment])


def _counts(card: Scorecard, first: Any) -> float:
    """By how many whole counts a finding says that it is; NaN where it does not."""
    if first.by_counts is not None and math.isfinite(first.by_counts):
        return round(first.by_counts)
    if first.by_ms is not None and math.isfinite(first.by_ms):
        return round(first.by_ms / 1000 / period_of(card.plan) * card.plan.cycle_counts)
    return math.nan


#: What else has to be true of a finding of what was done.
_HELD = {
    **dict.fromkeys(("long", "short", "late", "early", "missed", "extra"), _is_single),
    "hesitated": _is_hesitation,
    "slipped": _is_slip,
    "late_entry": _is_entry,
    "other_tempo": _is_tempo,
}


def _is_at(plan: Plan, told: Told, moment: int) -> bool:
    moments = plan.moments
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
    cycles = [each for each in (fault.cycle, fault.short) if each >= 0]
    places = cycles or [int(cycle[k]) for k in (fault.moment, fault.other) if k >= 0]
    return sum(all(abs(each - place) > 1 for place in places) for each in told)
