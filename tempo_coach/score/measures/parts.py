"""The take in parts: bias and spread by circle, hand, count, eight and block of cues."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.score.measures.intervals import interval_of_mean

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
    """Return for each cycle whether it lies in a block with cues, with thinned cues or without.

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
    """Return eight and count of many positions, as :meth:`Plan.place` does for one.

    Parameters
    ----------
    counts : numpy.ndarray, shape (n,)
        Positions in counts, 0 being the first count 1.
    """
    starts = np.array([eight.start for eight in plan.eights])
    index = np.searchsorted(starts, counts + 1e-9, side="right") - 1
    numbers = np.array([eight.number for eight in plan.eights])
    lead = index < 0
    inside = np.maximum(index, 0)
    since = counts - starts[inside]
    lengths = np.array([eight.length for eight in plan.eights])[inside]
    # the last moment of a hand that trails may lie after the passage, in the eight that would follow
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
    number: dict[object, int] = {}
    every = np.array([number.setdefault(name, len(number)) for name in names], dtype=np.int64)
    known = np.flatnonzero(~np.isnan(asynchrony))
    values, of = asynchrony[known], every[known]
    n = np.bincount(of, minlength=len(number))
    means = np.bincount(of, weights=values, minlength=len(number)) / np.where(n > 0, n, math.nan)
    squares = np.bincount(of, weights=(values - means[of]) ** 2, minlength=len(number))
    spreads = np.sqrt(squares / np.where(n > 1, n - 1, math.nan))
    # moments of one cycle go together: the interval looks at cycles
    order = np.lexsort((cycles[known], of))
    part, cycle = of[order], cycles[known][order]
    begins = np.flatnonzero((np.diff(part, prepend=-1) != 0) | (np.diff(cycle, prepend=-1) != 0))
    by_cycle = np.add.reduceat(values[order], begins) / np.diff(begins, append=len(order)) if len(order) else values
    ends = np.cumsum(np.bincount(part[begins], minlength=len(number))).tolist()
    parts, first = {}, 0
    for name, mean, sd, many, end in zip(number, means.tolist(), spreads.tolist(), n.tolist(), ends, strict=True):
        known_here = end - first >= LEAST_CYCLES
        low, high = interval_of_mean(by_cycle[first:end], centre=mean) if known_here else (math.nan, math.nan)
        parts[name], first = Part(_say(name, by), mean, sd, many, low, high), end
    ordered = sorted(parts) if by in ("count", "eight") else list(parts)  # type: ignore[type-var]  # numbers there
    return tuple(parts[name] for name in ordered)


def _say(name: object, by: str) -> str:
    return say_count(name - 1) if by == "count" and isinstance(name, float) else str(name)
