"""Cycles of a pattern laid on counts: their starts and ends, and their expected moments."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.drill import way_of_cycle
from tempo_coach.pattern.drill.pattern import SAME_PLACE
from tempo_coach.pattern.plan.passage import eights_between
from tempo_coach.pattern.plan.plan import Moments

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.drill.drill import Cues
    from tempo_coach.pattern.drill.pattern import Pattern
    from tempo_coach.pattern.plan.laid_anew import HeardCounts
    from tempo_coach.pattern.plan.passage import Passage


def cycle_starts(pattern: Pattern, counts: CountMap, first: float, end: float) -> list[float]:
    """Return the positions at which whole cycles of a pattern begin between two positions.

    Parameters
    ----------
    pattern : Pattern
    counts : CountMap
        It says where eights begin, for a pattern that restarts with each.
    first, end : float
        In counts, 0 being the first count 1.
    """
    if pattern.restart == "never":
        return _starts_between(pattern.cycle_counts, first, end)
    starts: list[float] = []
    for eight in eights_between(counts, first, end):
        behind = min(end, eight.start + eight.length)
        starts.extend(_starts_between(pattern.cycle_counts, max(first, eight.start), behind))
    return starts


def end_of_cycles(pattern: Pattern, counts: CountMap, first: float, cycles: int) -> float:
    """Return the position at which a number of cycles end that begin at a position.

    Raises
    ------
    CoachError
        If a cycle that restarts with every eight is longer than one.
    """
    if pattern.restart == "never":
        return first + cycles * pattern.cycle_counts
    starts: list[float] = []
    eight = counts.place(first).eight
    while len(starts) < cycles:
        begin, end = float(counts.start_of_eight(eight)), float(counts.start_of_eight(eight + 1))
        if pattern.cycle_counts > end - begin + SAME_PLACE:
            raise CoachError("cycle.longer_than_eight", cycle_counts=pattern.cycle_counts)
        starts.extend(_starts_between(pattern.cycle_counts, max(first, begin), end))
        eight += 1
    return starts[cycles - 1] + pattern.cycle_counts


def _starts_between(cycle_counts: float, first: float, end: float) -> list[float]:
    number = math.floor((end - first) / cycle_counts + SAME_PLACE)
    return [first + k * cycle_counts for k in range(number)]


def make_moments(
    pattern: Pattern, starts: Sequence[float], way: Cues, passage: Passage | HeardCounts, *, first_cycle: int = 0
) -> Moments:
    """Return all moments of all cycles and hands, ordered by time and then by the order of the hands.

    Parameters
    ----------
    pattern : Pattern
    starts : sequence of float
        Positions at which its cycles begin.
    way : {"all", "alternate", "ones", "none", "thinning"}
    passage : Passage or HeardCounts
    first_cycle : int
        Number of the first of the cycles.
    """
    columns = []
    for order, hand in enumerate(pattern.hands):
        lags = pattern.asked_lags_deg(hand)
        for k, (moment, lag) in enumerate(zip(hand.moments, lags, strict=True)):
            for cycle, start in enumerate(starts):
                here, number = way_of_cycle(way, cycle, len(starts))
                cue = here == "all" or (here == "alternate" and number % 2 == 0) or (here == "ones" and k == 0)
                columns.append((start + moment.at, order, first_cycle + cycle, hand.name, moment, lag, cue))
    columns.sort(key=lambda row: (row[0], row[1]))
    positions = np.array([row[0] for row in columns])
    return Moments(
        time=passage.on_take_clock(positions),
        cycle=np.array([row[2] for row in columns]),
        hand=tuple(row[3] for row in columns),
        label=tuple(row[4].label for row in columns),
        count=positions,
        asked_lag_deg=np.array([row[5] for row in columns]),
        cue=np.array([row[6] for row in columns]),
        kind=tuple(row[4].kind for row in columns),
    )
