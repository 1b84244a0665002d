"""Sizes of circles on a take: which of the plan's came out bigger or smaller, and one hand's against another's."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.sizes import compare_sizes, find_odd_sizes
from tempo_coach.score.scorecard import OddSize, TakeSizes
from tempo_coach.score.trace.study import SURE

if TYPE_CHECKING:
    from tempo_coach.observe.trace.trace_take import FollowedTrace
    from tempo_coach.observe.trace.uneven import Uneven

#: Part of a step by which a circle may begin after its moment and still be the one of that moment.
_BESIDE = 0.25


def find_take_sizes(followed: FollowedTrace, *, offset: float) -> TakeSizes:
    """Return the outlying sizes in a trace, at the moments of its plan.

    Parameters
    ----------
    followed : FollowedTrace
    offset : float
        Seconds from the trace's clock to the take clock.
    """
    sure = {hand: body for hand, body in followed.bodies.items() if body.cycles.rhythm.confidence >= SURE}
    odd = [
        found
        for hand, body in sure.items()
        for flag in find_odd_sizes(body)
        if (found := put_on_plan(flag, followed, hand, offset)) is not None
    ]
    ratios = [
        replace(ratio, of=other, to=first)
        for first, other in pairwise(sure)
        if (ratio := compare_sizes(sure[other], sure[first])) is not None
    ]
    return TakeSizes(tuple(sorted(set(odd), key=lambda each: (each.time, each.hand))), tuple(ratios))


def put_on_plan(flag: Uneven, followed: FollowedTrace, hand: str, offset: float) -> OddSize | None:
    """Return the circle or cycle of the plan that has a size; None where it lies outside the plan."""
    moments = followed.plan.moments
    at = moments.of_hand(hand)
    asked = moments.time[at]
    if asked.size < 2:
        return None
    step = float(np.median(np.diff(asked)))
    start, end = flag.start + offset, flag.end + offset
    if flag.circle is not None:  # it was measured from half a circle before its low point to half a circle after
        nearest = int(np.abs(asked - (start + end) / 2).argmin())
        inside = np.flatnonzero(np.abs(asked - asked[nearest]) < 1e-9)[:1]
        inside = inside[np.abs(asked[inside] - (start + end) / 2) < step]
    else:
        inside = np.flatnonzero((asked > start - _BESIDE * step) & (asked < end - _BESIDE * step))
    if not inside.size:
        return None
    first = int(at[inside[0]])
    of_cycle = moments.cycle[at] == moments.cycle[first]
    is_one_of_many = inside.size == 1 and int(of_cycle.sum()) > 1
    label = moments.label[first] if is_one_of_many else ""
    time = float(asked[inside[0]] if is_one_of_many else asked[of_cycle][0])
    return OddSize(int(moments.cycle[first]), hand, label, flag.ratio, time)
