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
#: How sure it is of what broke, as log odds: at the least gain, alone in a take of 64 moments with normal scatter; and
#: by how much they grow with the logarithm of 1 + the gain, with the excess kurtosis of what is left, in its SDs and in
#: limits (heavy tails look like late moments), with the logarithm of the moments over 64 (in many something looks like
#: a fault), and with that of how many such faults there are. By logistic regression on 5,200 tuning takes of all drills
#: and kinds of performer: each way of going wrong as often, and long cycles, late moments, a long and a short cycle,
#: and two late moments of all sizes. Fitted to one half and held against the other, of those that it puts at .5 to .7,
#: .7 to .85, .85 to .95 and above .6, .79, .92 and .98 were right.
SURE = {
    RAMP: (-1.0, 1.8, 0.15, -1.0, 0.0),
    STEP: (0.4, 0.65, 0.15, -0.6, -3.5),
    MOMENT: (-0.9, 1.45, -0.17, -1.1, -1.75),
}
KURTOSIS, MOMENTS = (-2.0, 8.0), 64
#: Confidence from which on it comes before what was missed: chosen on the same takes, where the first finding was right
#: most often so.
PLAIN = 0.95
#: How near to whole counts a step has to be for a slip, in counts.
SLIP_WITHIN = 0.2
#: A missing moment lies in a jump if it is no further from its begin than the jump is long, and so many counts.
JUMP_WITHIN = 0.5


class Case(NamedTuple):
    """What is known of a take before it is said what happened in it.

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
    """Return what broke, the longest first, then what was missed or too many, then single moments.

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
    whole = [each for each in found if each.kind not in ("late", "early")]
    single = [each for each in found if each.kind in ("late", "early")]
    whole.sort(key=lambda each: (each.confidence < PLAIN, -abs(each.by_ms)))
    single.sort(key=lambda each: -abs(each.by_ms))
    plain = [each for each in whole if each.confidence >= PLAIN]
    return [*plain, *_left_over(case, jumped_over, told), *whole[len(plain) :], *single]


def _jumped_over(case: Case, fault: Fault, found: Finding) -> list[int]:
    """Moments that are missing because she jumped ahead over them."""
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
    same = tuple(_kind_of(case, *rival) for rival in fault.rivals)
    if fault.kind == RAMP:
        if abs(fault.by) <= case.tolerance:
            return None
        kind = _kind_of(case, RAMP, fault.by)
        return Finding(kind, fault.cycle, hand, "", by_ms, by_counts, 1 + fault.by, confidence, same)
    if fault.kind == MOMENT:
        mine = moments.of_hand(moments.hand[at])
        step = float(np.median(np.diff(moments.time[mine]))) if len(mine) > 1 else case.period
        if abs(seconds) <= max(case.plan.allowance * step, LEAST_HEARD):
            return None
        kind, label, whose = _kind_of(case, MOMENT, fault.by), moments.label[at], moments.hand[at]
        return Finding(kind, fault.cycle, whose, label, by_ms, by_counts, math.nan, confidence, same)
    if abs(fault.by) <= case.tolerance:
        return None
    kind, label = _kind_of(case, STEP, fault.by), moments.label[at]
    same = ("hesitated", *same) if kind == "slipped" else same
    return Finding(kind, fault.cycle, hand, label, by_ms, by_counts, math.nan, confidence, same)


def _kind_of(case: Case, shape: int, by: float) -> Happened:
    """How a fault of a shape and a size in cycles is called."""
    if shape == RAMP:
        return "long" if by > 0 else "short"
    if shape == MOMENT:
        return "late" if by > 0 else "early"
    counts = by * case.plan.cycle_counts
    slip = abs(counts - round(counts)) < SLIP_WITHIN and round(counts) != 0
    return "slipped" if slip or counts < 0 else "hesitated"


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
    """When each moment of a hand was done, or would have been; ascending."""
    order = hand.grid.in_order
    asked = case.plan.moments.time[order]
    done = hand.observed[hand.grid.at >= 0]
    known = ~np.isnan(done)
    late = np.interp(asked, asked[known], (done - asked)[known]) if known.any() else 0.0
    return np.maximum.accumulate(asked + late)


def _confidence(case: Case, fault: Fault) -> float:
    """How likely a fault is what happened."""
    number = len(case.plan.moments)
    # 24 / n is the variance of the excess kurtosis of n normal values
    kurtosis = min(max(fault.kurtosis * math.sqrt(number / 24), KURTOSIS[0]), KURTOSIS[1])
    # a late moment makes no long cycle less likely
    faults = [each for each in case.explained.faults if fault.kind == MOMENT or each.kind != MOMENT]
    looks = (1.0, math.log1p(fault.gain), kurtosis, math.log(number / MOMENTS), math.log(len(faults)))
    return 1 / (1 + math.exp(-sum(weight * look for weight, look in zip(SURE[fault.kind], looks, strict=True))))
