"""The moments of a take that could not be scored, because sound or clock failed there: where they lie, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.places import say_second

if TYPE_CHECKING:
    from tempo_coach.score.card import Scorecard

#: Longest list of stretches that is told.
MOST_STRETCHES = 6


def find_lost(card: Scorecard) -> list[tuple[int, int]]:
    """Return the first and the last moment of each stretch of which none was scored; none where all could be.

    A moment that is neither answered nor missed was not scored.
    """
    if "unmeasurable" not in card.notes:
        return []
    lost = np.isnan(card.asynchrony)
    lost[card.missed] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[False], lost, [False]]).astype(int)))
    return [(int(first), int(end) - 1) for first, end in zip(edges[::2], edges[1::2], strict=True)]


def tell_lost(card: Scorecard) -> str:
    """Return which moments were not scored, by eight and count where they are known; empty where all could be."""
    stretches = [_tell_stretch(card, first, last) for first, last in find_lost(card)]
    if len(stretches) > MOST_STRETCHES:
        more = len(stretches) - MOST_STRETCHES
        stretches = [*stretches[:MOST_STRETCHES], f"and at {several(more, 'more place')}"]
    return "; ".join(stretches)


def _say_span(card: Scorecard, first: int, last: int) -> str:
    start, end = (card.plan.place(float(card.plan.moments.count[k])) for k in (first, last))
    said = f"eight {start.eight} count {say_count(start.count - 1)}"
    if (start.eight, start.count) != (end.eight, end.count):
        other = f"eight {end.eight} count " if end.eight != start.eight else ""
        said += f" to {other}{say_count(end.count - 1)}"
    return said


def _tell_stretch(card: Scorecard, first: int, last: int) -> str:
    """Where a stretch begins and ends, and how many moments of whose are in it."""
    moments, plan = card.plan.moments, card.plan
    said = _say_span(card, first, last) if card.placed else say_second(card, float(moments.time[first]))
    hands = [moments.hand[k] for k in range(first, last + 1)]
    if first == last:
        whose = moments.label[first] + (f", {hands[0]}" if len(plan.hands) > 1 else "")
        return f"{said} ({whose})"
    each = ", ".join(f"{hands.count(hand)} {hand}" for hand in plan.hands if hand in hands)
    return f"{said} ({each if len(plan.hands) > 1 else several(len(hands), 'moment')})"
