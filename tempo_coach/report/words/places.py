"""Places in a take in words: cycle, eight and count, or the time since the start; and what could not be scored."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.words.amounts import say_number, several
from tempo_coach.report.words.moments import say_label
from tempo_coach.score.measures.steadiness import LIMIT, MOST_MISSED

if TYPE_CHECKING:
    from tempo_coach.score.card import Scorecard

#: Findings of a take whose ends were left out.
_ENDS = frozenset({"late_entry", "stopped"})
#: What makes everything after it late at once, in words.
_JUMPS = {"slipped": "{value}, with the slip in it", "hesitated": "{value}, with the hesitation in it"}
#: Longest list of stretches that is reported.
MOST_STRETCHES = 6


def say_cycle(card: Scorecard, cycle: int) -> str:
    """Return which cycle it is, counted from 1, or about when it came."""
    return say_number(cycle) if card.placed else say_second(card, begins_of(card)[cycle])


def say_second(card: Scorecard, time: float) -> str:
    """Return about how long after the first onset something was asked."""
    return tr("about {time:.0f} s in", time=max(time - first_second(card), 0.0))


def begins_of(card: Scorecard) -> dict[int, float]:
    """Return the take-clock seconds at which the first moment of each cycle was asked."""
    moments = card.plan.moments
    cycles, row = np.unique(moments.cycle, return_inverse=True)
    begins = np.full(len(cycles), np.inf)
    np.minimum.at(begins, row, moments.time)
    return dict(zip(cycles.tolist(), begins.tolist(), strict=True))


def first_second(card: Scorecard) -> float:
    """Return the take-clock second at which the first answered moment was asked."""
    answered = np.flatnonzero(~np.isnan(card.asynchrony))
    return float(card.plan.moments.time[answered[0] if len(answered) else 0])


def say_place(card: Scorecard, position: float) -> str:
    """Return eight and count of a position in counts, as in ``2·6&``."""
    place = card.plan.place(position)
    return f"{place.eight}·{say_count(place.count - 1)}"


def cycles_left_out(card: Scorecard) -> frozenset[int]:
    """Return the cycles before she came in and after she stopped, where a finding says so."""
    told = {found.kind for found in card.told} & _ENDS
    done = {int(cycle) for cycle in card.plan.moments.cycle[~np.isnan(card.asynchrony)]}
    if not told or not done:
        return frozenset()
    asked = {int(cycle) for cycle in card.plan.moments.cycle}
    before = {cycle for cycle in asked if cycle < min(done)} if "late_entry" in told else set()
    behind = {cycle for cycle in asked if cycle > max(done)} if "stopped" in told else set()
    return frozenset(before | behind)


def tells_lateness(card: Scorecard) -> bool:
    """Return whether lateness and spread against the plan mean anything; at another tempo they do not."""
    return tells_figures(card) and card.findings[0].kind != "other_tempo"


def with_jump(card: Scorecard, value: str) -> str:
    """Return lateness or spread, with a note where a single jump dominates it."""
    spread = card.value("spread_ms")
    kinds = {found.kind for found in card.told if abs(found.by_ms) > spread}
    return next((tr(form, value=value) for kind, form in _JUMPS.items() if kind in kinds), value)


def tells_figures(card: Scorecard) -> bool:
    """Return whether any figure means anything: without a rhythm, pairing is chance."""
    first, answered = card.findings[0], card.measures["bias_ms"].n
    if first.kind != "too_little" or not answered:
        return first.kind != "no_rhythm"
    a_cycle = (card.plan.duration - card.plan.start) / max(card.plan.cycles, 1)
    return answered >= len(card.extra_time) and float(np.nanmedian(np.abs(card.asynchrony))) < a_cycle


def say_what_is_steady() -> str:
    """Return the limit below which a take is called steady."""
    return tr(
        "Steady: from each moment to the same one of the next cycle she is off by {off:g} % of the cycle or less (SD), "
        "misses at most one moment in {missed:.0f}, and keeps the tempo.",
        off=100 * LIMIT,
        missed=1 / MOST_MISSED,
    )


def find_lost(card: Scorecard) -> list[tuple[int, int]]:
    """Return the first and last moment of each stretch that could not be scored.

    A moment that is neither answered nor missed was not scored.
    """
    if "unmeasurable" not in card.notes:
        return []
    lost = np.isnan(card.asynchrony)
    lost[card.missed] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[False], lost, [False]]).astype(int)))
    return [(int(first), int(end) - 1) for first, end in zip(edges[::2], edges[1::2], strict=True)]


def tell_lost(card: Scorecard) -> str:
    """Return which moments were not scored, by eight and count where known; empty where all could be."""
    stretches = [_tell_stretch(card, first, last) for first, last in find_lost(card)]
    if len(stretches) > MOST_STRETCHES:
        more = len(stretches) - MOST_STRETCHES
        stretches = [*stretches[:MOST_STRETCHES], tr("and at {places}", places=several(more, "more place"))]
    return "; ".join(stretches)


def _say_span(card: Scorecard, first: int, last: int) -> str:
    start, end = (card.plan.place(float(card.plan.moments.count[k])) for k in (first, last))
    same = start.eight == end.eight
    return tr(
        "eight {eight} count {count}"
        if same and start.count == end.count
        else "eight {eight} count {count} to {last_count}"
        if same
        else "eight {eight} count {count} to eight {last_eight} count {last_count}",
        eight=start.eight,
        count=say_count(start.count - 1),
        last_eight=end.eight,
        last_count=say_count(end.count - 1),
    )


def _tell_stretch(card: Scorecard, first: int, last: int) -> str:
    """Return the limits of a stretch, and the number of moments in it by hand."""
    moments, plan = card.plan.moments, card.plan
    said = _say_span(card, first, last) if card.placed else say_second(card, float(moments.time[first]))
    hands = [moments.hand[k] for k in range(first, last + 1)]
    if first == last:
        whose = say_label(moments.label[first]) + (f", {tr(hands[0])}" if len(plan.hands) > 1 else "")
        return f"{said} ({whose})"
    each = ", ".join(f"{hands.count(hand)} {tr(hand)}" for hand in plan.hands if hand in hands)
    return f"{said} ({each if len(plan.hands) > 1 else several(len(hands), 'moment')})"
