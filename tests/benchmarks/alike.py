"""Which kinds of finding are right for a take: what was done, and what cannot be told from it.

Two ways to be alike. *By scatter*: another fault of one cycle or moment leaves so little of the true one's lateness
unexplained that it shows in less than two SDs of the test that is told everything. *By the plan*: without any scatter
the onsets are those of another way of going wrong, ends aside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tests.benchmarks.faults import Fault, period_of, ramp
from tests.benchmarks.oracle import distinctness, shape_of, whiten
from tests.benchmarks.performers import Who, perform
from tests.benchmarks.told import may_be_missed

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan
    from tests.benchmarks.performers import Performance

#: What is left unexplained in so many SDs cannot be told.
HIDDEN = 2.0
#: Faults that add lateness and leave every moment where the others are.
BY_SCATTER = ("long", "short", "late", "early", "hesitated")
BY_PLAN = ("slipped", "other_tempo", "hands_swapped", "half_cycle_off", "lag_off")
#: Times are equal within this share of the cycle.
EQUAL = 0.02


def right_kinds(performed: Performance) -> frozenset[str]:
    """Return the kinds that are right as the first finding."""
    plan, who, fault = performed.take.plan, performed.who, performed.fault
    if fault.kind == "both":
        return frozenset({"missed", "extra"})
    right = {fault.kind}
    if fault.kind in ("late", "early") and may_be_missed(performed):
        right.add("missed")
    if fault.kind == "hesitated" and _is_whole(plan, who, fault):
        right.add("slipped")
    if fault.kind == "stopped" and plan.moments.cycle[fault.moment] < 2:
        right.add("too_little")
    if fault.kind in BY_SCATTER:
        right |= _alike_by_scatter(plan, who, fault)
    if fault.kind in BY_PLAN:
        right |= alike_by_plan(plan, fault)
    return frozenset(right)


def _is_whole(plan: Plan, who: Who, fault: Fault) -> bool:
    """Whether a hesitation is as long as whole counts, as far as can be told."""
    count = period_of(plan) / plan.cycle_counts
    left = abs(fault.by - max(round(fault.by / count), 1) * count)
    return bool(left / fault.by * distinctness(plan, who, shape_of(plan, who, fault)[:, None])[0] < HIDDEN)


def _alike_by_scatter(plan: Plan, who: Who, fault: Fault) -> set[str]:
    cycle = fault.cycle if fault.cycle >= 0 else int(plan.moments.cycle[fault.moment])
    shapes, kinds = [shape_of(plan, who, fault)], [("", "")]
    near = np.flatnonzero(abs(plan.moments.cycle - cycle) <= 1)
    for each in range(max(cycle - 1, 0), min(cycle + 2, plan.cycles)):
        for kept in (True, False):
            shapes.append(ramp(plan, each, correction=who.correction, kept=kept, stepwise=who.family == "step"))
            kinds.append(("long", "short"))
    for k in near.tolist():
        shapes += [np.arange(len(plan.moments)) == k, plan.moments.time > plan.moments.time[k] + 1e-6]
        kinds += [("late", "early"), ("hesitated", "")]
    white = whiten(plan, who, np.stack([np.ones(len(plan.moments)), *shapes], axis=1).astype(np.float64))
    level = white[:, :1] / np.linalg.norm(white[:, 0])
    white = white[:, 1:] - level @ (level.T @ white[:, 1:])
    true, others = white[:, 0], white[:, 1:]
    sizes = np.maximum((others**2).sum(axis=0), 1e-12)
    along = true @ others
    left = np.sqrt(np.maximum(true @ true - along**2 / sizes, 0))
    hidden = np.flatnonzero(left < HIDDEN)
    return {kinds[1 + k][0 if along[k] > 0 else 1] for k in hidden} - {""}


def alike_by_plan(plan: Plan, fault: Fault) -> set[str]:
    """Return the kinds that give the same onsets on a plan without any scatter, ends aside; ``even`` is one of them."""
    onsets = perform(plan, Who(spread=1e-9), np.random.default_rng(0), fault).take.onsets
    done = {hand: onsets.of_hand(hand) for hand in plan.hands}
    asked = {hand: plan.moments.time[plan.moments.of_hand(hand)] for hand in plan.hands}
    equal, most = EQUAL * period_of(plan), len(plan.moments) / plan.cycles
    alike = set()
    left = _left_over(asked, done, equal)
    if not left.over:
        alike |= {"missed"} if left.missing else {"even"} if left.ends <= most else set()
    elif not left.missing and left.over > most:
        alike.add("extra")
    swapped = dict(zip(plan.hands, list(asked.values())[::-1], strict=True))
    if len(plan.hands) == 2 and _left_over(swapped, done, equal).is_little(most):
        alike.add("hands_swapped")
    for by in _shifts(plan):
        late = {hand: times + by for hand, times in asked.items()}
        if not _left_over(late, done, equal).is_little(most):
            continue
        if abs(abs(by) - period_of(plan) / 2) < equal:
            alike.add("half_cycle_off")
        elif fault.kind == "hands_swapped" and abs(by) > equal:
            alike.add("all_late" if by > 0 else "all_early")
    return alike


def _shifts(plan: Plan) -> np.ndarray:
    """By how much a plan may be shifted to look like another: differences of its moments, up to half a cycle."""
    first = plan.moments.time[plan.moments.cycle <= 1]
    apart = np.unique(np.round(np.subtract.outer(first, first), 6))
    half = period_of(plan) / 2
    return np.append(apart[(abs(apart) < half - 1e-6) & (apart != 0)], [-half, half])


class _Left(NamedTuple):
    """How many moments and onsets have no partner between the first and last pair, and how many of both outside."""

    missing: int
    over: int
    ends: int

    def is_little(self, most: float) -> bool:
        return not (self.missing or self.over) and self.ends <= 2 * most


def _left_over(asked: dict[str, np.ndarray], done: dict[str, np.ndarray], equal: float) -> _Left:
    """What has no partner, all hands together."""
    missing = over = ends = 0
    for hand, moments in asked.items():
        apart = abs(np.subtract.outer(moments, done[hand])) <= equal
        for number, paired in enumerate((apart.any(axis=1), apart.any(axis=0))):
            places = np.flatnonzero(paired)
            inside = int(places[-1] - places[0] + 1 - len(places)) if len(places) else 0
            missing, over = missing + inside * (1 - number), over + inside * number
            ends += len(paired) - len(places) - inside
    return _Left(missing, over, ends)
