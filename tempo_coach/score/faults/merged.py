"""All hands of a take in one series, in cycles: what the models of timing are held against."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.faults.models import Layout

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.pairing.hand import HandTake
    from tempo_coach.score.pairing.hypotheses import Hypotheses
    from tempo_coach.times import Floats, Ints


@dataclass(frozen=True, eq=False)
class Merged:
    """All hands of a take in one series, in order of the plan: columns of equal length n.

    ``late`` is in cycles of her own tempo, NaN where missed; ``moment`` is the position in the plan.
    """

    layout: Layout
    hand: Ints
    late: Floats
    moment: Ints


def merge(take: Take, hands: Sequence[HandTake], hypotheses: Hypotheses) -> Merged:
    """Return the lateness of all hands in one series, from the first onset to the last."""
    plan, moments = take.plan, take.plan.moments
    label = np.zeros(len(moments), dtype=np.int64)
    whose = np.zeros(len(moments), dtype=np.int64)
    observed = np.full(len(moments), np.nan)
    for number, hand in enumerate(hands):
        at = hand.grid.at
        there = at >= 0
        label[at[there]] = (np.broadcast_to(np.arange(at.shape[1]), at.shape) + 1000 * number)[there]
        whose[at[there]] = number
        observed[at[there]] = hand.observed[there]
    ratio = hypotheses.best.ratio
    start = float(moments.time[0]) if len(moments) else 0.0
    late = (observed - start - ratio * (moments.time - start)) / (ratio * _local_period(plan))
    position = position_of(plan)
    order = np.argsort(position, kind="stable")
    known = np.flatnonzero(~np.isnan(late[order]))
    order = order[known[0] : known[-1] + 1] if len(known) else order[:0]
    return Merged(Layout(position[order], label[order]), whose[order], late[order], order)


def position_of(plan: Plan) -> Floats:
    """Return the position of each moment in cycles: 2.25 is a quarter of a cycle after the first moment of cycle 2."""
    moments = plan.moments
    since = moments.count - plan.cycle_starts[moments.cycle] if len(moments) else moments.count
    share = (since - since.min(initial=np.inf if len(since) else 0.0)) / plan.cycle_counts
    position: Floats = moments.cycle + np.clip(share, 0.0, 0.999)
    return position


def _local_period(plan: Plan) -> Floats:
    """Return the seconds of a cycle around each moment: the median over three."""
    moments = plan.moments
    numbers, first = np.unique(moments.cycle, return_index=True)
    span = max(plan.duration - plan.start, 0.1)
    if len(numbers) < 2:
        return np.full(len(moments), span)
    starts = moments.time[first]
    lengths = np.diff(starts) / np.diff(numbers)
    lengths = np.append(lengths, lengths[-1])
    around = np.median(
        np.stack([np.append(lengths[:1], lengths[:-1]), lengths, np.append(lengths[1:], lengths[-1:])]), axis=0
    )
    around = np.where(around > 0, around, span / len(numbers))
    return around[np.searchsorted(numbers, moments.cycle)]
