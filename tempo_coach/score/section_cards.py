"""Sections of a run-through, each judged by itself: what became of it, in one kind and its number."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.observe.take.onsets import Onsets
from tempo_coach.pattern.plan.section_plans import eights_of_section, section_plan
from tempo_coach.score.faults.verdict import EARLY_FROM, LATE_FROM
from tempo_coach.score.measures.steadiness import LIMIT, MOST_MISSED, measure_scatter

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan, Section
    from tempo_coach.score.scorecard import Scorecard
    from tempo_coach.times import Floats

#: Share of missed moments above which a section is described by them before anything else.
MANY_MISSED = 1 / 4
#: Standard errors by which a section has to be early or late before it is called so.
SURE = 2.0
#: What a missed moment counts in the order of sections, as a share of the cycle: nothing that was done is further off.
MISSED_IS_OFF = 0.5


class SectionKind(StrEnum):
    """Outcome of a section, the worst first."""

    NOT_DONE = "not_done"
    MANY_MISSED = "many_missed"
    LATE = "late"
    EARLY = "early"
    UNEVEN = "uneven"
    MISSED = "missed"
    IN_TIME = "in_time"
    NOT_REACHED = "not_reached"


@dataclass(frozen=True, eq=False)
class SectionCard:
    """One section of a run-through, judged.

    Parameters
    ----------
    section : Section
    first_eight, last_eight : int
        That it lies in.
    kind : SectionKind
    asked, answered : int
        Moments that could be scored, and those of them that were done.
    bias, scatter : float
        Mean lateness in seconds, and by how much its cycles scatter as a share of the cycle; NaN where not known.
    off : float
        Mean distance of its moments from where they were asked, as a share of the cycle: by that sections are ordered.
    relative : bool
        Whether lateness is told beside the rest of the take: where its own place, or the delay of keyboard and
        loudspeaker, is not known.
    card : Scorecard or None
        Of the section alone; None where the take ended before it.
    """

    section: Section
    first_eight: int
    last_eight: int
    kind: SectionKind
    asked: int = 0
    answered: int = 0
    bias: float = math.nan
    scatter: float = math.nan
    off: float = math.nan
    relative: bool = False
    card: Scorecard | None = None


def judge_sections(take: Take, card: Scorecard, judge: Callable[[Take], Scorecard]) -> tuple[SectionCard, ...]:
    """Return the sections of a take, in the order of the routine.

    Parameters
    ----------
    take : Take
        Of a plan with sections.
    card : Scorecard
        Of the whole take.
    judge : callable
        Judges a take of one drill.
    """
    plans = [section_plan(take.plan, each) for each in take.plan.sections]
    reached = [plan for plan in plans if plan is not None]
    takes = iter(_share_out(take, reached))
    cards = [None if plan is None else judge(next(takes)) for plan in plans]
    relative = not card.placed or (OBSERVERS[take.observed_by].is_pressed and not take.calibrated)
    return compare_sections(take.plan, cards, relative=relative)


def compare_sections(plan: Plan, cards: Sequence[Scorecard | None], *, relative: bool) -> tuple[SectionCard, ...]:
    """Return the outcome of each section, given its own card.

    Parameters
    ----------
    plan : Plan
        Of the whole take.
    cards : sequence of Scorecard or None
        One a section; None where the take ended before it.
    relative : bool
        Whether lateness is taken from the median of all sections.
    """
    late = np.concatenate([np.array([]), *(card.asynchrony for card in cards if card is not None)])
    middle = float(np.nanmedian(late)) if relative and np.isfinite(late).any() else 0.0
    return tuple(
        _compare(plan, section, card, middle=middle, relative=relative)
        for section, card in zip(plan.sections, cards, strict=True)
    )


def worst_first(sections: Sequence[SectionCard]) -> list[SectionCard]:
    """Return the sections in order of their deviation; those not reached last."""
    order = list(SectionKind)
    fine = (SectionKind.IN_TIME, SectionKind.NOT_REACHED)

    def place(each: SectionCard) -> tuple[int, float]:
        return order.index(each.kind) if each.kind in fine else -1, -each.off

    return sorted(sections, key=place)


def _compare(plan: Plan, section: Section, card: Scorecard | None, *, middle: float, relative: bool) -> SectionCard:
    eights = eights_of_section(plan, section)
    if card is None:
        return SectionCard(section, *eights, SectionKind.NOT_REACHED)
    late: Floats = card.asynchrony - middle
    answered = int(np.isfinite(late).sum())
    # after where she stopped the section's own card has nothing missed: in the routine it was left out
    lost = card.notes.get("unmeasurable")
    asked = len(late) - (int(str(lost.args[0])) if lost else 0)
    missed = asked - answered
    period = _period(card.plan)
    bias = float(np.nanmean(late)) if answered else math.nan
    scatter = measure_scatter(card.plan, card.asynchrony)
    kind = _kind(card, late, bias, missed / asked if asked else 1.0, uneven=_exceeds(scatter.size, scatter.error))
    if not asked:
        kind = SectionKind.NOT_REACHED  # nothing of it could be scored
    off = [*np.minimum(np.abs(late[np.isfinite(late)]) / period, MISSED_IS_OFF), *[MISSED_IS_OFF] * missed]
    return SectionCard(
        section,
        *eights,
        kind,
        asked=asked,
        answered=answered,
        bias=bias,
        scatter=scatter.size,
        off=float(np.mean(off)) if off else math.nan,
        relative=relative,
        card=card,
    )


def _exceeds(size: float, error: float) -> bool:
    """Return whether a scatter exceeds that of a steady take by its standard error."""
    return bool(math.isfinite(size) and size > LIMIT * math.exp(error if math.isfinite(error) else 0.0))


def _kind(card: Scorecard, late: Floats, bias: float, missed: float, *, uneven: bool) -> SectionKind:
    if missed >= 1 - MOST_MISSED:
        return SectionKind.NOT_DONE
    if missed > MANY_MISSED:
        return SectionKind.MANY_MISSED
    cycles = card.plan.moments.cycle
    by_cycle = np.array([np.nanmean(late[cycles == k]) for k in np.unique(cycles[np.isfinite(late)])])
    error = float(by_cycle.std(ddof=1)) / math.sqrt(len(by_cycle)) if len(by_cycle) > 1 else 0.0
    if bias > LATE_FROM and bias > SURE * error:
        return SectionKind.LATE
    if bias < -EARLY_FROM and -bias > SURE * error:
        return SectionKind.EARLY
    if uneven:
        return SectionKind.UNEVEN
    return SectionKind.MISSED if missed else SectionKind.IN_TIME


def _period(plan: Plan) -> float:
    """Return the asked seconds of a section's cycle."""
    start = float(plan.cycle_starts[0])
    begin, end = np.interp([start, start + plan.cycle_counts], plan.knot_counts, plan.knot_times)
    return max(float(end - begin), 1e-3)


def _share_out(take: Take, plans: Sequence[Plan]) -> list[Take]:
    """Return the takes of the sections: each onset belongs to its hand's section around or nearest to it.

    What lies further from all of them than one of their cycles belongs to none.
    """
    rows: list[list[tuple[float, str]]] = [[] for _ in plans]
    for hand in take.plan.hands:
        mine = [
            (k, plan.moments.time[plan.moments.of_hand(hand)]) for k, plan in enumerate(plans) if hand in plan.hands
        ]
        spans = [(k, float(times[0]), float(times[-1]), _period(plans[k])) for k, times in mine if len(times)]
        for time in take.onsets.of_hand(hand).tolist():
            near = [(max(first - time, time - last, 0.0), k) for k, first, last, reach in spans
                    if first - reach < time < last + reach]  # fmt: skip
            if near:
                rows[min(near)[1]].append((time, hand))
    return [
        replace(take, plan=plan, onsets=Onsets.unsorted([time for time, _ in each], [hand for _, hand in each]))
        for plan, each in zip(plans, rows, strict=True)
    ]
