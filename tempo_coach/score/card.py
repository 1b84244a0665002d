"""``judge(take)``: one scorecard, and the limits of what its data can say."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.reasons import Reason, Why
from tempo_coach.score.faults.findings import Finding
from tempo_coach.score.faults.verdict import find_what_happened
from tempo_coach.score.measures.lags import measure_lags
from tempo_coach.score.measures.parts import find_parts, name_blocks, place_counts
from tempo_coach.score.measures.timekeeping import Material, measure_take
from tempo_coach.score.pairing.hand import HandTake, follow_hands, inside, unasked
from tempo_coach.score.scorecard import CycleCard, Flag, Scorecard, is_flagged
from tempo_coach.score.section_cards import compare_sections, judge_sections

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats, Ints

__all__ = ["Scorecard", "judge"]


def judge(take: Take) -> Scorecard:
    """Judge a take.

    Parameters
    ----------
    take : Take

    Returns
    -------
    Scorecard
        Every measure is NaN with a reason where the take cannot support it. Time grows with the number of moments.
        Of a run-through with each of its sections judged by itself.
    """
    card = _judge_whole(take)
    return replace(card, sections=judge_sections(take, card, judge)) if take.plan.sections else card


def _judge_whole(take: Take) -> Scorecard:
    plan, moments = take.plan, take.plan.moments
    measurable = ~inside(moments.time, take.unmeasurable)
    hands, hypotheses = follow_hands(take)
    asynchrony = np.full(len(moments), np.nan)
    for hand in hands:
        at = hand.grid.at >= 0
        asynchrony[hand.grid.at[at]] = (hand.observed - hand.asked)[at]
    blocks = name_blocks(moments)
    lags = measure_lags(plan, hands)
    findings = find_what_happened(take, hands, hypotheses, lags=lags)
    missed, extra, extra_hand = _left_over(take, hands, {finding.kind for finding in findings})
    material = Material(plan, take.observed_by, asynchrony, hands, blocks, len(missed), len(extra))
    return Scorecard(
        plan=plan,
        observed_by=take.observed_by,
        noise_floor_ms=math.nan if take.noise_floor_ms is None else float(take.noise_floor_ms),
        measures=measure_take(material),
        cycles=_cycle_cards(plan, hands, findings, asynchrony),
        lags=lags,
        parts=find_parts(plan, asynchrony, blocks),
        asynchrony=asynchrony,
        missed=missed,
        extra_time=extra,
        extra_hand=extra_hand,
        findings=findings,
        calibrated=take.calibrated,
        notes=_notes(take, hands, measurable),
    )


def _left_over(take: Take, hands: list[HandTake], told: set[str]) -> tuple[Ints, Floats, tuple[str, ...]]:
    """Return missed moments and extra onsets with their hands, less those that a finding accounts for."""
    missed = [np.array([], dtype=np.int64), *(hand.missed for hand in hands)]
    if "late_entry" not in told:
        missed += [hand.before for hand in hands]
    if "stopped" not in told:
        missed += [hand.behind for hand in hands]
    too_many = {**{hand.grid.hand: hand.extra for hand in hands}, **unasked(take, hands)}
    extra = np.concatenate([np.array([]), *too_many.values()])
    names = [hand for hand, times in too_many.items() for _ in times]
    order = np.argsort(extra, kind="stable")
    return np.sort(np.concatenate(missed)), extra[order], tuple(names[k] for k in order)


def _cycle_cards(
    plan: Plan, hands: list[HandTake], findings: tuple[Finding, ...], asynchrony: Floats
) -> tuple[CycleCard, ...]:
    cards: list[CycleCard] = []
    flags = _flags(findings, plan, asynchrony)
    kinds, names, positions = plan.moments.kind, plan.moments.label, plan.moments.count.tolist()
    for hand in hands:
        present = [[k for k in row if k >= 0] for row in hand.grid.at.tolist()]
        labels = [tuple([names[k] for k in row]) for row in present]
        eights, counts = place_counts(plan, plan.moments.count[hand.grid.at[:, 0]])
        asynchronies = (hand.observed - hand.asked).tolist()
        columns = zip(
            hand.grid.cycles.tolist(),
            eights,
            counts,
            plan.moments.time[hand.grid.at[:, 0]].tolist(),
            hand.periods.tolist(),
            hand.ratios.tolist(),
            strict=True,
        )
        cards.extend(
            CycleCard(
                cycle=cycle,
                eight=eight,
                count=count,
                hand=hand.grid.hand,
                time=time,
                period=period,
                ratio=ratio,
                labels=labels[row],
                kinds=tuple([kinds[k] for k in present[row]]),
                positions=tuple([positions[k] for k in present[row]]),
                asynchronies=tuple(asynchronies[row][: len(labels[row])]),
                flags=tuple(flags.get((cycle, hand.grid.hand), ())),
            )
            for row, (cycle, eight, count, time, period, ratio) in enumerate(columns)
        )
    order = {hand: k for k, hand in enumerate(plan.hands)}
    return tuple(sorted(cards, key=lambda card: (card.cycle, order[card.hand])))


def _flags(findings: tuple[Finding, ...], plan: Plan, asynchrony: Floats) -> dict[tuple[int, str], list[Flag]]:
    """Return the flags of each cycle and hand from the sure findings; findings of all hands flag every hand.

    Where all hands are late from a moment on, the flag stands at the hand whose moment it is.
    """
    flags: dict[tuple[int, str], list[Flag]] = {}
    for found in findings:
        if found.is_doubtful or found.cycle is None or not is_flagged(found.kind):
            continue
        flag = Flag(found.kind, found.moment, found.by_ms / 1000, bool(found.hand) and len(plan.hands) > 1)
        whose = (found.hand,) if found.hand else _begins_with(found, plan, asynchrony) if found.moment else plan.hands
        for hand in whose:
            flags.setdefault((found.cycle, hand), []).append(flag)
    return flags


def _begins_with(found: Finding, plan: Plan, asynchrony: Floats) -> tuple[str, ...]:
    """Return the hand with whose moment a general lateness begins, where several have that label in the cycle."""
    moments = plan.moments
    known = np.flatnonzero(~np.isnan(asynchrony))
    change = np.full(len(moments), -np.inf)
    change[known[1:]] = np.diff(asynchrony[known]) * np.sign(found.by_ms)
    here = [k for k in np.flatnonzero(moments.cycle == found.cycle).tolist() if moments.label[k] == found.moment]
    return (moments.hand[max(here, key=lambda k: float(change[k]))],) if here else plan.hands


def _notes(take: Take, hands: list[HandTake], measurable: NDArray[np.bool_]) -> dict[str, Reason]:
    notes: dict[str, Reason] = {}
    left_out = int((~measurable).sum()) + sum(len(hand.unseen) for hand in hands)
    if left_out:
        notes["unmeasurable"] = Reason(Why.NOT_MEASURABLE, (left_out, len(measurable)))
    if not len(take.plan.moments):
        notes["moments"] = Reason(Why.NO_MOMENTS)
    return notes


#: Findings that say where a take lies, which is what is not known.
OF_THE_PLACE = frozenset({"all_late", "all_early", "late_entry", "half_cycle_off"})
#: Findings that say what is missing or too many.
OF_MISSING = frozenset({"missed", "extra", "stopped"})
#: Confidence in the place under which nothing is said of missing moments and ends: they may be its doing.
SURE_OF_PLACE = 0.5


#: SDs of a period's error that the noise of what was seen makes, in one of a thousand takes at most.
_NOISY = 4.5


def without_noise(card: Scorecard, mark_sd: float) -> Scorecard:
    """Return a card without flags that the noise of observation could have caused.

    Parameters
    ----------
    card : Scorecard
    mark_sd : float
        SD in seconds of the time of a mark; infinite where it could be anything, so that no cycle is told apart.
    """
    limit = 1000 * _NOISY * math.sqrt(2) * mark_sd

    def stands(kind: str, by_ms: float) -> bool:
        return not is_flagged(kind) or (math.isfinite(limit) and not abs(by_ms) < limit)

    findings = tuple(found for found in card.findings if stands(found.kind, found.by_ms))
    cycles = tuple(
        replace(cycle, flags=tuple(flag for flag in cycle.flags if stands(flag.kind, 1000 * flag.by)))
        for cycle in card.cycles
    )
    if not findings or findings[0].is_doubtful:
        findings = (Finding("even", confidence=card.findings[0].confidence), *findings)
    notes = card.notes if math.isfinite(limit) else {**card.notes, "cycles": Reason(Why.CAMERA_UNKNOWN_UNMARKED)}
    sections = tuple(
        replace(each, card=without_noise(each.card, mark_sd) if each.card else None) for each in card.sections
    )
    return replace(card, findings=findings, cycles=cycles, notes=notes, sections=sections)


def judge_fitted(take: Take, *, confidence: float | None = None) -> Scorecard:
    """Judge a take that was placed where it fits the plan best, so that its bias means nothing.

    Parameters
    ----------
    take : Take
    confidence : float or None
        Of the fit, 0 to 1; None where the clock is known and only the place in the circle is not, as with a rotation
        sensor.

    Returns
    -------
    Scorecard
        Without a bias, eights and counts. Every other measure is free of a constant: spread, periods, drift, lags,
        missed and extra; the last two are not told where the fit is doubtful.
    """
    card = _without_place(judge(take), confidence)
    if not card.sections:
        return card
    cards = [each.card and _without_place(each.card, confidence) for each in card.sections]
    return replace(card, sections=compare_sections(card.plan, cards, relative=True))


def _without_place(card: Scorecard, confidence: float | None) -> Scorecard:
    reason = Reason(Why.ANY_CIRCLE) if confidence is None else Reason(Why.FITTED, (confidence,))
    bias = card.measures["bias_ms"]
    measures = dict(card.measures)
    measures["bias_ms"] = bias._replace(value=math.nan, low=math.nan, high=math.nan, reason=bias.reason or reason)
    findings = tuple(found for found in card.findings if found.kind not in OF_THE_PLACE)
    cycles, missing_known = card.cycles, confidence is None or confidence >= SURE_OF_PLACE
    if not missing_known:
        findings = tuple(found for found in findings if found.kind not in OF_MISSING)
        cycles = tuple(
            replace(cycle, flags=tuple(flag for flag in cycle.flags if flag.kind not in OF_MISSING))
            for cycle in card.cycles
        )
    if not findings or findings[0].is_doubtful:
        findings = (Finding("even", confidence=card.findings[0].confidence), *findings)
    parts = {by: each for by, each in card.parts.items() if by not in ("count", "eight")}
    notes = {**card.notes, "placing": reason}
    if not missing_known:
        notes["missed"] = Reason(Why.MISSED_NOT_KNOWN)
    return replace(
        card,
        measures=measures,
        cycles=cycles,
        findings=findings,
        parts=parts,
        placed=False,
        missing_known=missing_known,
        notes=notes,
    )
