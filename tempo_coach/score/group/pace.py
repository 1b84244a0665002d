"""Pace of a group's members: the drift of each against the plan, who keeps another tempo, at which level all are."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.measures.period import robust_sd, robust_slope

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.group.card import Member
    from tempo_coach.times import Floats

#: Seconds a second from which on a tempo is another one: over three eights of music that is a whole quick count.
OTHER_PACE = 0.03
#: Least moments for a member's own pace.
LEAST_PACE = 12
#: Part of it that each half of the moments has at least where it is a tempo: who slips by half a cycle has it in one.
SAME_SLOPE = 0.5
#: Steps of a plan that are even enough: the largest over the smallest one.
EVEN = 1.3
#: A median interval between these, in steps of the plan, is one of each moment; and its largest robust SD.
STEPS, STEADY = (0.75, 1.4), 0.1
#: Metrical levels above that of the plan: onsets for each of its moments. All on one level have a resultant length of 1
#: there and 0 below; where there is half as much in between as on the moments it is a rhythm, with one of 0.33 below.
LEVELS, ON_LEVEL, OFF_PLAN = (2, 3), 0.6, 0.25


def find_level(takes: Collection[Take]) -> int:
    """Return how many onsets most members have evenly for each moment of their plan; 1 where that is not so.

    By phases, since in a recording each neighbour's claps are heard besides.

    Parameters
    ----------
    takes : collection of Take
        Of one plan with one thing that moves.
    """
    phases = []
    for take in takes:
        times = take.plan.moments.time
        onsets = take.onsets.time[(take.onsets.time >= times[0]) & (take.onsets.time <= times[-1])]
        if len(onsets) > LEAST_PACE:
            phases.append(2j * np.pi * np.interp(onsets, times, np.arange(len(times))))
    if 2 * len(phases) <= len(takes):
        return 1
    lengths = {
        level: float(np.median([abs(np.exp(level * phase).mean()) for phase in phases])) for level in (1, *LEVELS)
    }
    if lengths[1] > OFF_PLAN:
        return 1
    return next((level for level in LEVELS if lengths[level] > ON_LEVEL), 1)


def find_pace(row: Floats, plan: Plan, onsets: Floats | None = None) -> float:
    """Return the drift of a member behind the plan in seconds a second; NaN with too few moments.

    Whoever keeps another tempo is soon more than half a step off and paired with the moment beside: her intervals say
    it then, where each is a step of the plan.

    Parameters
    ----------
    row : array, shape (n,)
        Seconds to each moment; NaN where missed.
    plan : Plan
        Of n moments.
    onsets : array or None
        All that she did, in seconds on the take clock.
    """
    times = plan.moments.time
    there = ~np.isnan(row)
    paired = _find_slope(times[there], row[there]) if there.sum() >= LEAST_PACE else math.nan
    steps = np.diff(times)
    even = len(steps) > 0 and steps.min() > 0 and steps.max() <= EVEN * steps.min()
    if onsets is None or len(onsets) <= LEAST_PACE or not even:
        return paired
    # in steps of the plan, beyond its ends as long as the middle one
    middle = float(np.median(steps))
    at = np.interp(onsets, times, np.arange(len(times)))
    at += (np.minimum(onsets - times[0], 0.0) + np.maximum(onsets - times[-1], 0.0)) / middle
    intervals = np.diff(at)
    own = float(np.median(intervals))
    if not STEPS[0] < own < STEPS[1] or robust_sd(intervals) > STEADY or abs(own - 1) <= OTHER_PACE:
        return paired
    return own - 1


def _find_slope(times: Floats, row: Floats) -> float:
    """Return the slope; of a changed tempo the smaller one of both halves, since a difference means a slip."""
    slope = robust_slope(times, row)[0]
    if abs(slope) <= OTHER_PACE:
        return slope
    middle = len(times) // 2
    halves = [robust_slope(times[part], row[part])[0] for part in (slice(middle), slice(middle, None))]
    least = min(halves, key=lambda half: half * np.sign(slope))
    return slope if least * np.sign(slope) >= SAME_SLOPE * abs(slope) else least


def keep_one_tempo(paces: Sequence[float]) -> NDArray[np.bool_]:
    """Return who keeps the group's median tempo, or may; everybody if hardly anybody does."""
    known = np.array(paces)
    if np.isnan(known).all():
        return np.ones(len(known), dtype=np.bool_)
    one = ~(np.abs(known - find_middle_pace(paces)) > OTHER_PACE)
    return one if one.sum() > 1 else np.ones(len(known), dtype=np.bool_)


def keeps_another_pace(member: Member, members: Sequence[Member]) -> bool:
    """Return whether a member's tempo surely differs from the group's median."""
    return abs(pace_beside(member, members)) > OTHER_PACE


def pace_beside(member: Member, members: Sequence[Member]) -> float:
    """Return by what share a member is slower than the median one; NaN where unknown."""
    return (1 + member.pace) / (1 + find_middle_pace([m.pace for m in members])) - 1


def find_middle_pace(paces: Sequence[float]) -> float:
    """Return the pace of the median member; NaN where nobody's is known."""
    known = sorted(pace for pace in paces if not math.isnan(pace))
    return known[len(known) // 2] if known else math.nan


def list_onsets(take: Take) -> Floats | None:
    """Return all onsets of a member, where one thing moves; else None."""
    return take.onsets.time if len(take.plan.hands) == 1 else None
