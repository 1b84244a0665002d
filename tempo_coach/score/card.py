"""``judge(take)``: one scorecard. The formulas know no limits; here it is decided what the data can carry."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.align import Answers, answer, find_nearest
from tempo_coach.score.circular import wrap
from tempo_coach.score.flags import Broken, Table, find_broken
from tempo_coach.score.grid import Grid, lay_grid
from tempo_coach.score.keeping import Rows, measure_asynchrony, measure_periods, measure_split
from tempo_coach.score.parts import find_parts, name_blocks, place_counts
from tempo_coach.score.period import lag_one, periods
from tempo_coach.score.phase import lag_degrees, summarise_lag
from tempo_coach.score.scorecard import CycleCard, Flag, LagCard, Measure, Scorecard

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.observe.onsets import Take
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.times import Floats, Ints

#: Lags from which on their correlation can be told; with fewer they are taken for separate ones.
ENOUGH_FOR_CORRELATION = 8

__all__ = ["Scorecard", "judge"]


@dataclass(frozen=True, eq=False)
class HandTake:
    """What one hand did, cycle by cycle, and what was left over.

    Parameters
    ----------
    grid : Grid
    observed, asked : array, shape (c, k)
        Seconds; NaN where nothing was observed.
    periods, ratios : array, shape (c,)
        To the next anchor, in seconds and over what was asked; NaN for the last and beside a missed anchor.
    answers : Answers
    missed : array of int
        Positions in the plan.
    extra : array
        Seconds.
    unseen : array of int
        Positions in the plan of what may have been answered where sound or clock failed, beside those that lie there.
    """

    grid: Grid
    observed: Floats
    asked: Floats
    periods: Floats
    ratios: Floats
    answers: Answers
    missed: Ints
    extra: Floats
    unseen: Ints

    @property
    def levels(self) -> Floats:
        """How far each anchor is off, over the period asked there (for the last one, the usual one)."""
        asked = periods(self.asked[:, 0], self.grid.cycles)
        usual = float(np.nanmedian(asked)) if (~np.isnan(asked)).any() else math.nan
        return (self.observed - self.asked)[:, 0] / np.where(np.isnan(asked), usual, asked)


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
    measurable = ~_inside(moments.time, take.unmeasurable)
    hands = [_follow_hand(take, hand, measurable) for hand in plan.hands if hand in set(moments.hand)]
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
        lags=_lags(plan, hands),
        parts=find_parts(plan, asynchrony, blocks),
        asynchrony=asynchrony,
        missed=missed,
        extra_time=extra[order],
        extra_hand=tuple(extra_hand[k] for k in order),
        notes=_notes(take, hands, measurable),
    )


def _inside(times: Floats, stretches: tuple[tuple[float, float], ...]) -> NDArray[np.bool_]:
    inside = np.zeros(len(times), dtype=np.bool_)
    for start, end in stretches:
        inside |= (times >= start) & (times <= end)
    return inside


def _follow_hand(take: Take, hand: str, measurable: NDArray[np.bool_]) -> HandTake:
    moments = take.plan.moments
    grid = lay_grid(moments, hand)
    mine = moments.of_hand(hand)
    mine = mine[measurable[mine]]
    onsets = take.onsets.of_hand(hand)
    onsets = onsets[~_inside(onsets, take.unmeasurable)]
    answers = answer(moments.time[mine], moments.cycle[mine], onsets)
    observed = np.full(len(moments), np.nan)
    answered = answers.onset >= 0
    observed[mine[answered]] = onsets[answers.onset[answered]]
    missed, extra = mine[~answered], onsets[answers.extra]
    if answers.slipped:
        number = abs(answers.slipped) * grid.at.shape[1]
        late = answers.slipped > 0
        missed = missed[number:] if late else missed[:-number]
        extra = extra[:-number] if late else extra[number:]
    gone = _near(moments.time[missed] + _usual_near(take, observed, missed), take.unmeasurable, answers.reach)
    lost = moments.of_hand(hand)
    lost = lost[~measurable[lost]]
    expected = moments.time[lost] + _usual_near(take, observed, lost)
    # an onset just outside may answer a moment inside
    answering = (np.abs(np.subtract.outer(extra, expected)) <= answers.reach).any(axis=1)
    answering &= _near(extra, take.unmeasurable, answers.reach)
    missed, unseen, extra = missed[~gone], missed[gone], extra[~answering]
    table, asked = grid.fill(observed), grid.fill(moments.time)
    done, wanted = (periods(anchors, grid.cycles) for anchors in (table[:, 0], asked[:, 0]))
    return HandTake(grid, table, asked, done, done / wanted, answers, missed, extra, unseen)


def _near(times: Floats, stretches: tuple[tuple[float, float], ...], reach: float) -> NDArray[np.bool_]:
    return _inside(times, tuple((start - reach, end + reach) for start, end in stretches))


def _usual_near(take: Take, observed: Floats, positions: Ints) -> Floats:
    """How late the moments on both sides of some moments of the plan are; 0 where nothing was observed."""
    known = np.flatnonzero(~np.isnan(observed))
    time = take.plan.moments.time
    return np.interp(time[positions], time[known], (observed - time)[known]) if len(known) else np.zeros(len(positions))


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


def _lags(plan: Plan, hands: list[HandTake]) -> tuple[LagCard, ...]:
    """Every moment against its reference: moment k of the first hand, or that hand's anchor."""
    if not hands or hands[0].grid.hand != plan.hands[0]:
        return ()
    leader = hands[0]
    known = leader.periods[~np.isnan(leader.periods)]
    mean_period = float(known.mean()) if len(known) else math.nan
    cards: list[LagCard] = []
    for hand in hands:
        shared, ours, theirs = np.intersect1d(hand.grid.cycles, leader.grid.cycles, return_indices=True)
        width = hand.grid.at.shape[1]
        alike = hand is not leader and width == leader.grid.at.shape[1]
        for k in range(1 if hand is leader else 0, width):
            column = k if alike else 0
            reference = leader.observed[:, column]
            lags = lag_degrees(reference[theirs], _local_period(reference, leader.grid)[theirs], hand.observed[ours, k])
            asked = _asked_lag(plan, hand.grid, k)
            around = asked if not math.isnan(asked) else _laid_lag(leader, hand, column, k, theirs, ours)
            lag = summarise_lag(lags, period=mean_period, asked=around, together=_together(lags, around))
            if len(shared) and lag.n:
                label = plan.moments.label[hand.grid.at[0, k]]
                cards.append(LagCard(hand.grid.hand, leader.grid.hand, label, around, lag))
    return tuple(cards)


def _together(lags: Floats, around: float) -> float:
    """Correlation of neighbouring lags, which share an anchor through the local period; 0 where too few show it.

    A short series hides part of it (Kendall 1954, from memory). Its scatter has to be estimated as well: as if they
    went together a little more, so that the interval has the width of Student's t (Student 1908), not of a normal one.
    """
    from scipy.special import ndtri, stdtrit

    known = int((~np.isnan(lags)).sum())
    if known < ENOUGH_FOR_CORRELATION:
        return 0.0
    one = lag_one(wrap(lags - (0.0 if math.isnan(around) else around)))
    together = 0.0 if math.isnan(one) else max(one + (1 + 3 * one) / known, 0.0)
    wider = (float(stdtrit(known - 1, 0.975)) / float(ndtri(0.975))) ** 2
    return ((1 + 2 * together) * wider - 1) / 2


def _local_period(reference: Floats, grid: Grid) -> Floats:
    """Seconds to the same moment of the next cycle; where that is missing, from the one before."""
    ahead = periods(reference, grid.cycles)
    return np.where(np.isnan(ahead), np.concatenate([[np.nan], ahead[:-1]]), ahead)


def _asked_lag(plan: Plan, grid: Grid, k: int) -> float:
    column = grid.at[:, k]
    asked = plan.moments.asked_lag_deg[column[column >= 0]]
    return float(asked[0]) if len(asked) else math.nan


def _laid_lag(leader: HandTake, hand: HandTake, column: int, k: int, theirs: Ints, ours: Ints) -> float:
    """Lag as the plan's times have it, where the drill asks for none by number."""
    reference = leader.asked[:, column]
    laid = lag_degrees(reference[theirs], _local_period(reference, leader.grid)[theirs], hand.asked[ours, k])
    laid = laid[~np.isnan(laid)]
    return float(wrap(float(np.median(laid)))) if len(laid) else math.nan


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
