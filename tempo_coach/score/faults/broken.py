"""Broken cycles and single moments of a take, each with its confidence."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.faults.findings import SURE_OF, Finding
from tempo_coach.score.faults.models import MOMENT, RAMP, STEP
from tempo_coach.score.pairing.hand import unasked

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.faults.detection import Explained, Fault
    from tempo_coach.score.faults.findings import Happened
    from tempo_coach.score.faults.merged import Merged
    from tempo_coach.score.pairing.hand import HandTake
    from tempo_coach.score.pairing.hypotheses import Hypotheses
    from tempo_coach.times import Floats

#: Seconds under which a displaced moment cannot be heard, however short the interval (Friberg & Sundberg 1995,
#: abstract).
LEAST_HEARD = 0.006
#: How sure it is of what broke, as log odds: constant, and weights of the logarithm of 1 + what the log odds for it are
#: beyond the least (of a moment: of 1 + all of them), of the excess kurtosis of what is left, in its SDs and in limits
#: (heavy tails look like late moments), of the logarithm of the moments over 64 (in many something looks so), of that
#: of how many faults there are, and of how many were found before it; of a moment, besides, of the nats by which heavy
#: tails explain better what is left, in fives, of these times the first, and of the logarithm of its share of what is
#: plainly seen. By logistic regression on tuning takes of all drills and kinds of performer: cycles and steps on 4,500
#: that went wrong in each way as often, and with long cycles, late moments, a long and a short cycle, and two late
#: moments of all sizes; moments on 4,800, even and with a late moment or a long cycle of any size. Of these then what
#: few moments show is believed a little less and what many show more than was fitted: of 1,000 good cycles 1.8 are
#: told with normal scatter for 1.9, with heavy tails 13.5 for 13.7 in drills of up to five moments (worst 18.3 for
#: 19.4), and of what is late as much at 16 and 32 cycles, 1 of 279 less at 8.
SURE = {
    RAMP: (-0.85, 1.94, 0.23, -1.21, 0.56, -1.34),
    STEP: (1.24, 0.46, 0.33, -1.0, -1.28, -2.29),
    MOMENT: (-4.76, 2.3, -0.28, -0.66, -1.65, -1.6, -2.07, 0.55, -0.44),
}
#: Limits of heaviness in fives, and of the share of what is plainly seen.
HEAVINESS, MOST_PLAIN = (-1.2, 2.4), 4.0
KURTOSIS, MOMENTS, MOST_BEFORE = (-2.0, 8.0), 64, 2
#: Confidence from which on it comes before what was missed: chosen on the same takes, where the first finding was right
#: most often so.
PLAIN = 0.95
#: How near to whole counts a step has to be for a slip, in counts.
SLIP_WITHIN = 0.2
#: Standard errors within which a step is as long as whole counts as far as can be told: then both are said.
WHOLE_WITHIN = 2.0
#: What may be a slip: a step that is too long or too short, and a cycle.
JUMPS = frozenset({"hesitated", "slipped"})
AT_A_SLIP = JUMPS | {"long", "short"}
#: A missing moment lies in a jump if it is no further from its begin than the jump is long, and so many counts.
JUMP_WITHIN = 0.5


class Case(NamedTuple):
    """What is known of a take before any finding.

    Parameters
    ----------
    take : Take
    hands : sequence of HandTake
    hypotheses : Hypotheses
        What the whole of it may have been.
    merged : Merged
        All hands in one series.
    explained : Explained
        That series by the models of timing.
    period : float
        Seconds asked for a cycle.
    tolerance : float
        Share of a cycle by which it may be off.
    """

    take: Take
    hands: Sequence[HandTake]
    hypotheses: Hypotheses
    merged: Merged
    explained: Explained
    period: float
    tolerance: float

    @property
    def plan(self) -> Plan:
        """What was asked."""
        return self.take.plan


def find_broken(case: Case, told: set[str]) -> list[Finding]:
    """Return clear breaks, the longest first, then missed and extra ones, then the rest, the surest first.

    Parameters
    ----------
    case : Case
    told : set of str
        Kinds of the findings of the whole take, which account for what was left out at its ends.
    """
    found: list[Finding] = []
    jumped_over: set[int] = set()
    for fault in case.explained.faults:
        each = _fault(case, fault)
        if each is None:
            continue
        missing = _jumped_over(case, fault, each)
        if missing:  # the jump and what is missing in it say the same
            each = each._replace(confidence=max(each.confidence, SURE_OF["missed"]))
            jumped_over.update(missing)
        found.append(each)
    found, left_out = _as_slip(case, found)
    jumped_over.update(left_out)
    plain = [each for each in found if each.kind in AT_A_SLIP and each.confidence >= PLAIN]
    rest = [each for each in found if each not in plain]
    plain.sort(key=lambda each: -abs(each.by_ms))
    rest.sort(key=lambda each: -each.confidence)
    return [*plain, *_left_over(case, jumped_over, told), *rest]


def _as_slip(case: Case, found: list[Finding]) -> tuple[list[Finding], list[int]]:
    """Return findings with breaks at a slip of the whole take told as that slip, and the moments it jumps over.

    Unchanged, and none, where a long cycle is likelier.
    """
    slip, moments = case.hypotheses.best.slip, case.plan.moments
    if slip is None:
        return found, []
    at = int(np.searchsorted(moments.time, slip.at - 1e-6))
    count, cycle = case.period / case.plan.cycle_counts, int(moments.cycle[at])
    same = [
        each
        for each in found
        if each.kind in AT_A_SLIP
        and each.cycle is not None
        and abs(each.cycle - cycle) <= 1
        and abs(each.by_ms / 1000 - slip.by) < count / 2
    ]
    if any(each.kind in ("long", "short") and not JUMPS & {*each.same_as} for each in same):
        return found, []
    by = slip.by if not same else max(same, key=lambda each: abs(each.by_ms)).by_ms / 1000
    if by > 0 and abs(by - slip.by) > SLIP_WITHIN * count:  # as long as no number of counts
        return found, []
    sure = max([SURE_OF["slipped"], *(each.confidence for each in same)])
    whole = Finding("slipped", cycle, "", moments.label[at], by * 1000, by / count, math.nan, sure, ("hesitated",))
    left_out: list[int] = np.flatnonzero(slip.left_out(moments.time)).tolist()
    return [*(each for each in found if each not in same), whole], left_out


def _jumped_over(case: Case, fault: Fault, found: Finding) -> list[int]:
    """Return the moments that are missing because she jumped ahead over them."""
    if found.kind != "slipped" or not found.by_counts < 0:
        return []
    hands = case.hands if fault.hand < 0 else [case.hands[fault.hand]]
    missed, count = np.concatenate([hand.missed for hand in hands]), case.plan.moments.count
    away = np.abs(count[missed] - count[case.merged.moment[fault.moment]])
    jumped: list[int] = missed[away <= JUMP_WITHIN - found.by_counts].tolist()
    return jumped


def _fault(case: Case, fault: Fault) -> Finding | None:
    moments, confidence = case.plan.moments, _confidence(case, fault)
    at = int(case.merged.moment[fault.moment]) if fault.moment >= 0 else -1
    seconds = fault.by * case.period * case.hypotheses.best.ratio
    hand = "" if fault.hand < 0 else case.hands[fault.hand].grid.hand
    by_ms, by_counts = seconds * 1000, fault.by * case.plan.cycle_counts
    same = tuple(kind for shape, size in fault.rivals for kind in kinds_of(case.plan, shape, *size))
    if fault.kind == RAMP:
        if abs(fault.by) <= case.tolerance:
            return None
        kind, *_ = kinds_of(case.plan, RAMP, fault.by)
        return Finding(kind, fault.cycle, hand, "", by_ms, by_counts, 1 + fault.by, confidence, same)
    if fault.kind == MOMENT:
        mine = moments.of_hand(moments.hand[at])
        step = float(np.median(np.diff(moments.time[mine]))) if len(mine) > 1 else case.period
        if abs(seconds) <= max(case.plan.allowance * step, LEAST_HEARD):
            return None
        (kind,), label, whose = kinds_of(case.plan, MOMENT, fault.by), moments.label[at], moments.hand[at]
        return Finding(kind, fault.cycle, whose, label, by_ms, by_counts, math.nan, confidence, same)
    if abs(fault.by) <= case.tolerance:
        return None
    (kind, *alike), label = kinds_of(case.plan, STEP, fault.by, fault.by_sd), moments.label[at]
    return Finding(kind, fault.cycle, hand, label, by_ms, by_counts, math.nan, confidence, (*alike, *same))


def kinds_of(plan: Plan, shape: int, by: float, by_sd: float = 0.0) -> tuple[Happened, ...]:
    """Return the kind of a fault of a given shape and size in cycles, and what it may as well be, given its error."""
    if shape == RAMP:
        return ("long",) if by > 0 else ("short",)
    if shape == MOMENT:
        return ("late",) if by > 0 else ("early",)
    counts, sd = by * plan.cycle_counts, by_sd * plan.cycle_counts
    away = abs(counts - max(round(counts), 1))
    if counts < 0 or away < SLIP_WITHIN:
        return "slipped", "hesitated"
    return ("hesitated", "slipped") if away < WHOLE_WITHIN * sd else ("hesitated",)


def _left_over(case: Case, told_already: set[int], told: set[str]) -> list[Finding]:
    moments = case.plan.moments
    positions = [k for hand in case.hands for k in hand.missed.tolist()]
    if "late_entry" not in told:
        positions += [k for hand in case.hands for k in hand.before.tolist()]
    if "stopped" not in told:
        positions += [k for hand in case.hands for k in hand.behind.tolist()]
    found = [
        Finding("missed", int(moments.cycle[k]), moments.hand[k], moments.label[k], confidence=SURE_OF["missed"])
        for k in sorted(set(positions) - told_already)
    ]
    for hand in case.hands:
        mine, done = moments.of_hand(hand.grid.hand), _times_of(case, hand)
        before = np.clip(np.searchsorted(done, hand.extra) - 1, 0, len(mine) - 1)
        found += [
            Finding("extra", cycle, hand.grid.hand, confidence=SURE_OF["extra"])
            for cycle in moments.cycle[mine[before]].tolist()
        ]
    for name, times in unasked(case.take, list(case.hands)).items():
        before = np.clip(np.searchsorted(moments.time, times) - 1, 0, len(moments) - 1)
        found += [
            Finding("extra", cycle, name, confidence=SURE_OF["extra"]) for cycle in moments.cycle[before].tolist()
        ]
    return found


def _times_of(case: Case, hand: HandTake) -> Floats:
    """Return when each moment of a hand was done, or would have been; ascending."""
    order = hand.grid.in_order
    asked = case.plan.moments.time[order]
    done = hand.observed[hand.grid.at >= 0]
    known = ~np.isnan(done)
    late = np.interp(asked, asked[known], (done - asked)[known]) if known.any() else 0.0
    return np.maximum.accumulate(asked + late)


def _confidence(case: Case, fault: Fault) -> float:
    """Return the probability that a fault is what happened."""
    number = len(case.plan.moments)
    # 24 / n is the variance of the excess kurtosis of n normal values
    kurtosis = min(max(fault.kurtosis * math.sqrt(number / 24), KURTOSIS[0]), KURTOSIS[1])
    odds = math.log1p(fault.odds if fault.kind == MOMENT else fault.gain)
    looks = [
        1.0,
        odds,
        kurtosis,
        math.log(number / MOMENTS),
        math.log(len(case.explained.faults)),
        float(min(fault.order, MOST_BEFORE)),
    ]
    if fault.kind == MOMENT:
        heaviness = min(max(fault.heaviness / 5, HEAVINESS[0]), HEAVINESS[1])
        looks += [heaviness, heaviness * odds, math.log(min(fault.share, MOST_PLAIN))]
    return 1 / (1 + math.exp(-sum(weight * look for weight, look in zip(SURE[fault.kind], looks, strict=True))))
