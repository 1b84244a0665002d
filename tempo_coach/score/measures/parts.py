"""The take in parts: bias and spread by circle, hand, count, eight and block of cues."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.score.measures.intervals import interval_of_mean
from tempo_coach.score.measures.period import spread

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.plan.plan import Moments, Plan
    from tempo_coach.times import Floats, Ints

#: Cycles below which the interval of a part says nothing that could be used.
LEAST_CYCLES = 6


class Part(NamedTuple):
    """Bias and spread of a part of the take: a circle, a hand, a count, an eight, a block of cues."""

    name: str
    bias: float
    spread: float
    n: int
    low: float
    high: float


WITH_CUES, THINNED, WITHOUT_CUES = "with cues", "thinned cues", "without cues"


def name_blocks(moments: Moments) -> dict[int, str]:
    """Return for each cycle whether it lies in a block with cues, with thinned ones or without.

    A cycle without any between two that have some belongs to a thinned block (every other cycle), and so does one with
    all of them between two that have none.
    """
    if not len(moments):
        return {}
    cycles, inverse = np.unique(moments.cycle, return_inverse=True)
    share = np.bincount(inverse, weights=moments.cue) / np.bincount(inverse)
    full, none = share == 1, share == 0
    beside = np.pad(none, 1, mode="reflect")  # at an end the one neighbour stands on both sides
    before, after = beside[:-2], beside[2:]
    thinned = (~full & ~none) | (full & before & after) | (none & ~before & ~after)
    names = np.where(thinned, THINNED, np.where(full, WITH_CUES, WITHOUT_CUES))
    return dict(zip(cycles.tolist(), names.tolist(), strict=True))


def place_counts(plan: Plan, counts: Floats) -> tuple[list[int], list[float]]:
    """Return eight and count of many positions, as :meth:`Plan.place` does for one."""
    starts = np.array([eight.start for eight in plan.eights])
    index = np.searchsorted(starts, counts + 1e-9, side="right") - 1
    numbers = np.array([eight.number for eight in plan.eights])
    lead = index < 0
    inside = np.maximum(index, 0)
    since = counts - starts[inside]
    lengths = np.array([eight.length for eight in plan.eights])[inside]
    # the last moment of a hand that trails may lie behind the passage, in the eight that would follow
    more = np.where(lead, 0, (since + 1e-9) // lengths).astype(np.int64)
    eights = np.where(lead, plan.eights[0].number - 1, numbers[inside] + more)
    behind = np.where(lead, plan.lead_in_counts, -more * lengths)
    return eights.tolist(), (since + behind + 1).tolist()


def find_parts(plan: Plan, asynchrony: Floats, blocks: dict[int, str]) -> dict[str, tuple[Part, ...]]:
    """Return bias and spread of the take's parts.

    Parameters
    ----------
    plan : Plan
    asynchrony : array, shape (n,)
        Seconds for each moment of the plan; NaN where missed.
    blocks : dict
        As :func:`name_blocks` gives it.
    """
    moments = plan.moments
    eights, counts = place_counts(plan, moments.count)
    two = len(plan.hands) > 1
    circles = [f"{hand} {label}" if two else label for hand, label in zip(moments.hand, moments.label, strict=True)]
    named: dict[str, Sequence[object]] = {
        "circle": circles,
        "hand": moments.hand,
        "count": [round(count, 6) for count in counts],
        "eight": eights,
        "cues": [blocks[cycle] for cycle in moments.cycle.tolist()],
    }
    return {by: _split(names, asynchrony, moments.cycle, by=by) for by, names in named.items()}


def _split(names: Sequence[object], asynchrony: Floats, cycles: Ints, *, by: str) -> tuple[Part, ...]:
    places: dict[object, list[int]] = {}
    for k, name in enumerate(names):
        places.setdefault(name, []).append(k)
    ordered = sorted(places) if by in ("count", "eight") else list(places)  # type: ignore[type-var]  # numbers there
    return tuple(_measure(_say(name, by), asynchrony[places[name]], cycles[places[name]]) for name in ordered)


def _say(name: object, by: str) -> str:
    return say_count(name - 1) if by == "count" and isinstance(name, float) else str(name)


def _measure(name: str, values: Floats, cycles: Ints) -> Part:
    known = ~np.isnan(values)
    values = values[known]
    mean = float(values.mean()) if len(values) else math.nan
    # moments of one cycle go together: the interval looks at cycles
    _, of = np.unique(cycles[known], return_inverse=True)
    by_cycle = np.bincount(of, weights=values) / np.bincount(of) if len(of) else values
    low, high = interval_of_mean(by_cycle, centre=mean) if len(by_cycle) >= LEAST_CYCLES else (math.nan, math.nan)
    return Part(name, mean, spread(values), len(values), low, high)
