"""Members' own moments: the asynchronies of each one's own part."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.take.onsets import Onsets
from tempo_coach.observe.trace.filters import find_nearest
from tempo_coach.observe.trace.trace_take import keep_moments
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.card import judge
from tempo_coach.score.group.formation import Formation, lay_part
from tempo_coach.score.measures.period import robust_sd
from tempo_coach.score.pairing.hand import inside

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.times import Floats, Ints

#: Share of the smaller step beside a moment within which an onset is near, and of the pairs that have to be near.
NEAR, HARDLY_FEWER = 0.45, 0.9
#: Seconds within which two onsets of one hand are one: nobody acts twice in so short a time.
SAME_INSTANT = 0.001
#: Robust SDs of the changes of lateness from one onset to the next, of the window in which lateness is unchanged.
UNCHANGED_SDS = 2.0


def _asynchronies(take: Take) -> Floats:
    """Return the asynchrony of each moment of the plan in seconds; NaN where missed.

    Of even moments a take alone does not show by how many whole steps it is off, and one onset before or after the
    others may decide it. In a group it is the place beside the others that counts: what is more than half a step off
    throughout, or seems so in a stretch by one onset too many, is paired with the moments that are nearest, if these
    are hardly fewer.
    """
    found: Floats = judge(take).asynchrony
    paired = ~np.isnan(found)
    step = _step(take)
    if not (np.abs(found[paired]) > step / 2).any():
        return found
    near = measure_to_nearest(take)
    if (~np.isnan(near)).sum() < HARDLY_FEWER * paired.sum():
        return found
    if float(np.median(np.abs(found[paired]))) > step / 2:
        return near
    for hand in take.plan.hands:
        at = take.plan.moments.of_hand(hand)
        found[at] = _bring_back(found[at], near[at], step)
    return found


def _bring_back(found: Floats, near: Floats, step: float) -> Floats:
    """Return one hand's asynchronies with stretches that were paired a whole step beside the others put among them.

    One onset too many and one missed later shift all between them by a step. At one end of such a stretch at least her
    lateness only seems to change, by a step: it goes on as it was if what is in the stretch is paired with the nearest
    moments. So it is, if her lateness then changes less in all. Who drifts, or is late for a while by more than half a
    step, has no such end.
    """
    found = found.copy()
    paired = np.flatnonzero(~np.isnan(found))
    alike = np.flatnonzero(np.abs(found[paired] - near[paired]) <= step / 2)
    window = UNCHANGED_SDS * robust_sd(np.diff(found[paired[alike]])) + SAME_INSTANT

    def goes_on(outer: Ints, inner: Ints) -> bool:
        """Whether lateness is unchanged from one of two moments outside an end to one of two inside."""
        return bool((np.abs(found[paired[outer]][:, None] - near[paired[inner]]) <= window).any())

    for k, (first, last) in enumerate(pairwise(alike.tolist())):
        stretch = np.arange(first + 1, last)
        if not stretch.size:
            continue
        whole = paired[first : last + 1]
        ends = goes_on(alike[max(k - 1, 0) : k + 1], stretch[:2]) or goes_on(alike[k + 1 : k + 3], stretch[-2:])
        if ends and _changes(near[whole]) < _changes(found[whole]):
            found[whole] = near[whole]
    return found


def _changes(asynchronies: Floats) -> float:
    """Return the sum of all changes from one moment to the next."""
    return float(np.abs(np.diff(asynchronies[~np.isnan(asynchronies)])).sum())


def pair_own_part(take: Take, member: str, formations: Sequence[Formation]) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the asynchronies of a member's own part, and which of its moments can be observed.

    Parameters
    ----------
    take : Take
    member : str
    formations : sequence of Formation
        What a routine marks of the members' parts.

    Returns
    -------
    (array of float, array of bool), each of shape (n,)
        In the order of the group's plan; NaN where missed.
    """
    own, order = lay_part(take, member, formations)
    moments = own.plan.moments
    # who ends her canon as the others are in unison again has two moments at one time, and acts once: for the canon
    first: dict[tuple[str, int], int] = {}
    for k, (hand, time) in enumerate(zip(moments.hand, moments.time.tolist(), strict=True)):
        first.setdefault((hand, round(time / SAME_INSTANT)), k)
    kept = np.array([*first.values()], dtype=np.int64)
    own = replace(own, plan=replace(own.plan, moments=keep_moments(moments, kept)))
    found, times = np.full(len(order), np.nan), np.empty(len(order))
    found[order[kept]], times[order] = _asynchronies(own), moments.time
    twice = np.ones(len(order), dtype=np.bool_)
    twice[order[kept]] = False
    # while she is still in her canon the others are in unison again
    overtaken = times < np.maximum.accumulate(times)
    return found, ~(overtaken | twice | inside(times, take.unmeasurable))


def measure_to_nearest(take: Take) -> Floats:
    """Return the seconds from each moment to the nearest onset of its hand in the window; NaN without one.

    Parameters
    ----------
    take : Take
    """
    moments = take.plan.moments
    out = np.full(len(moments), np.nan)
    for hand in take.plan.hands:
        at, onsets = moments.of_hand(hand), take.onsets.of_hand(hand)
        times = moments.time[at]
        if len(times) < 2 or not len(onsets):
            continue
        gaps = np.diff(times)
        off = onsets[find_nearest(onsets, times)] - times
        window = NEAR * np.minimum(np.append(gaps, np.inf), np.append(np.inf, gaps))
        out[at] = np.where(np.abs(off) <= window, off, np.nan)
    return out


def _step(take: Take) -> float:
    """Return the median step of the active hand with the smallest steps."""
    moments = take.plan.moments
    times = [moments.time[moments.of_hand(hand)] for hand in take.plan.hands if len(take.onsets.of_hand(hand))]
    return min((float(np.median(np.diff(each))) for each in times if len(each) > 1), default=math.inf)


def keep_own_part(take: Take, *, round_of: int | None = None) -> Take:
    """Return a member's take for judging it alone, without onsets before and after her own part.

    Parameters
    ----------
    take : Take
        On the group's plan.
    round_of : int or None
        Where members take turns, the moments of a round: her plan is her own place in it.
    """
    near = ~np.isnan(measure_to_nearest(take))
    if round_of is not None and near.any():
        place = int(np.bincount(np.flatnonzero(near) % round_of).argmax())
        own = np.arange(place, len(near), round_of)
        take = replace(take, plan=replace(take.plan, moments=keep_moments(take.plan.moments, own)))
    times = take.plan.moments.time
    edge = _step(take) / 2
    inside_plan = (take.onsets.time > times[0] - edge) & (take.onsets.time < times[-1] + edge)
    at = np.flatnonzero(inside_plan) if near.any() else np.arange(len(take.onsets))
    return replace(take, onsets=Onsets(take.onsets.time[at], tuple(take.onsets.hand[k] for k in at)))


def drop_doubles(member: str, take: Take, reasons: dict[str, Reason]) -> Take:
    """Return the take without simultaneous onsets of one hand beyond the first; ``reasons`` says of whom.

    Parameters
    ----------
    member : str
    take : Take
    reasons : dict of str to Reason
        Added to where onsets were dropped.
    """
    onsets = take.onsets
    last: dict[str, float] = {}
    keep = []
    for k, (time, hand) in enumerate(zip(onsets.time.tolist(), onsets.hand, strict=True)):
        if hand not in last or time - last[hand] > SAME_INSTANT:
            keep.append(k)
            last[hand] = time
    doubles = len(onsets) - len(keep)
    if not doubles:
        return take
    reasons[f"onsets of {member}"] = Reason(Why.DOUBLE_ONSETS, (member, doubles))
    return replace(take, onsets=Onsets(onsets.time[keep], tuple(onsets.hand[k] for k in keep)))
