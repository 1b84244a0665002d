"""``judge(take)``: one scorecard. The formulas know no limits; here it is decided what the data can carry."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.align import find_nearest
from tempo_coach.score.flags import Broken, Table, find_broken
from tempo_coach.score.hand import HandTake, follow_hand, inside
from tempo_coach.score.keeping import Rows, measure_asynchrony, measure_periods, measure_split
from tempo_coach.score.lags import measure_lags
from tempo_coach.score.parts import find_parts, name_blocks, place_counts
from tempo_coach.score.scorecard import CycleCard, Flag, Measure, Scorecard

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.observe.onsets import Take
    from tempo_coach.pattern.plan import Plan

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
    """
    plan, moments = take.plan, take.plan.moments
    measurable = ~inside(moments.time, take.unmeasurable)
    hands = [follow_hand(take, hand) for hand in plan.hands if hand in set(moments.hand)]
    asynchrony = np.full(len(moments), np.nan)
    for hand in hands:
        at = hand.grid.at >= 0
        asynchrony[hand.grid.at[at]] = (hand.observed - hand.asked)[at]
    extra = np.concatenate([hand.extra for hand in hands]) if hands else np.array([])
    extra_hand = [hand.grid.hand for hand in hands for _ in hand.extra]
    order = np.argsort(extra, kind="stable")
    missed = np.sort(np.concatenate([hand.missed for hand in hands])) if hands else np.array([], dtype=np.int64)
    blocks = name_blocks(moments)
    rows = [Rows(hand.grid.cycles, hand.periods, hand.ratios, hand.levels) for hand in hands]
    measures = {
        **measure_asynchrony(asynchrony, moments.cycle, [hand.grid for hand in hands]),
        **measure_periods(rows, blocks, music=plan.music is not None),
        **measure_split(rows, blocks, observed_by=take.observed_by),
        "f_measure": _f_measure(int((~np.isnan(asynchrony)).sum()), len(missed), len(extra)),
    }
    return Scorecard(
        plan=plan,
        observed_by=take.observed_by,
        noise_floor_ms=math.nan if take.noise_floor_ms is None else float(take.noise_floor_ms),
        measures=measures,
        cycles=_cycle_cards(plan, hands),
        lags=measure_lags(plan, hands),
        parts=find_parts(plan, asynchrony, blocks),
        asynchrony=asynchrony,
        missed=missed,
        extra_time=extra[order],
        extra_hand=tuple(extra_hand[k] for k in order),
        notes=_notes(take, hands, measurable),
    )


def _f_measure(paired: int, missed: int, extra: int) -> Measure:
    both = 2 * paired + missed + extra
    if not both:
        return Measure(math.nan, 0, reason="there is neither a moment nor an onset")
    return Measure(2 * paired / both, both - paired)


def _cycle_cards(plan: Plan, hands: list[HandTake]) -> tuple[CycleCard, ...]:
    cards: list[CycleCard] = []
    broken = find_broken([Table(h.observed, h.asked, h.ratios) for h in hands], allowance=plan.allowance)
    for number, hand in enumerate(hands):
        present = [[k for k in row if k >= 0] for row in hand.grid.at.tolist()]
        labels = [tuple(plan.moments.label[k] for k in row) for row in present]
        positions = plan.moments.count.tolist()
        flags = _flags(plan, hand, labels, [found for found in broken if found.hand == number])
        eights, counts = place_counts(plan, plan.moments.count[hand.grid.at[:, 0]])
        asynchronies = (hand.observed - hand.asked).tolist()
        columns = zip(
            hand.grid.cycles.tolist(), eights, counts, hand.periods.tolist(), hand.ratios.tolist(), strict=True
        )
        cards.extend(
            CycleCard(
                cycle=cycle,
                eight=eight,
                count=count,
                hand=hand.grid.hand,
                period=period,
                ratio=ratio,
                labels=labels[row],
                kinds=tuple(plan.moments.kind[k] for k in present[row]),
                positions=tuple(positions[k] for k in present[row]),
                asynchronies=tuple(asynchronies[row][: len(labels[row])]),
                flags=tuple(flags.get(row, ())),
            )
            for row, (cycle, eight, count, period, ratio) in enumerate(columns)
        )
    order = {hand: k for k, hand in enumerate(plan.hands)}
    return tuple(sorted(cards, key=lambda card: (card.cycle, order[card.hand])))


def _flags(plan: Plan, hand: HandTake, labels: list[tuple[str, ...]], broken: list[Broken]) -> dict[int, list[Flag]]:
    """Flags of each row of one hand: what stands out, what is missed, what is too many."""
    flags: dict[int, list[Flag]] = {}
    for found in broken:
        label = labels[found.row][found.column] if found.column is not None else ""
        flags.setdefault(found.row, []).append(Flag(found.kind, label, found.by))
    row_of = {int(k): row for row in range(len(hand.grid.at)) for k in hand.grid.at[row] if k >= 0}
    for k in hand.missed.tolist():
        flags.setdefault(row_of[k], []).append(Flag("missed", plan.moments.label[k]))
    positions = plan.moments.of_hand(hand.grid.hand)
    for nearest in find_nearest(plan.moments.time[positions], hand.extra).tolist():
        flags.setdefault(row_of[int(positions[nearest])], []).append(Flag("extra"))
    return flags


def _notes(take: Take, hands: list[HandTake], measurable: NDArray[np.bool_]) -> dict[str, str]:
    notes: dict[str, str] = {}
    said: list[str] = []
    for hand in hands:
        name, answers = hand.grid.hand, hand.answers
        if answers.half_off:
            said.append(f"{name}: about half a cycle off the plan; scored against the nearest moments all the same")
        if answers.slipped:
            cycles = "a whole cycle" if abs(answers.slipped) == 1 else f"{abs(answers.slipped)} whole cycles"
            way = "late" if answers.slipped > 0 else "early"
            said.append(f"{name}: {cycles} {way}; what that leaves over at both ends is neither missed nor extra")
        if answers.followed:
            said.append(f"{name}: strays from the plan by more than the reach; followed from cycle to cycle")
    if said:
        notes["matching"] = "; ".join(said)
    left_out = int((~measurable).sum()) + sum(len(hand.unseen) for hand in hands)
    if left_out:
        notes["unmeasurable"] = f"{left_out} of {len(measurable)} moments lie where sound or clock failed; not scored"
    if not len(take.plan.moments):
        notes["moments"] = "the plan has no moment"
    return notes
