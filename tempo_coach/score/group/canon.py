"""Undeclared canons: a member who does the others' part some counts later, or with the other hand."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Counts by which a part may come later or earlier than the others'.
MOST_COUNTS = 16
#: Moments and onsets left alone together that a canon has to make fewer: two at either end of a run of even counts.
LEAST_GAIN = 4
#: Share of the moments that may be left alone in a canon, moments and onsets together.
LEFT_ALONE = 0.2
#: Within which share of the smaller neighbouring step, and how many seconds, an onset answers a moment.
WINDOW_SHARE, LONGEST_WINDOW = 0.4, 0.25
#: Counts that are tried.
_TRIED = range(-MOST_COUNTS, MOST_COUNTS + 1)


def shift_take(take: Take, counts: float) -> Take:
    """Return the take with its moments a number of counts later, for a canon."""
    if not counts:
        return take
    plan = take.plan
    moments = replace(plan.moments, time=times_at(plan, plan.moments.count + counts))
    return replace(take, plan=replace(plan, moments=moments))


def find_canon(takes: Mapping[str, Take], *, declared: Mapping[str, float]) -> dict[str, int]:
    """Return by how many counts each member's part follows that of the others; negative is ahead.

    Parameters
    ----------
    takes : mapping of member to Take
        All of the same plan.
    declared : mapping of member to float
        Whose shift is known, and is left as it is.

    Returns
    -------
    dict of member to int
        Only those for whom a shift leaves clearly fewer moments and onsets alone than none: of even counts it shows in
        a run that begins and ends as many counts later, of a movement with a shape in its shape as well. Of shifts that
        leave as few alone it is the one by which her run begins later: the plan may begin or end within it.
    """
    those, asked = _those(takes)
    begin = float(np.median([take.onsets.time[0] for take in those.values()])) if those else 0.0
    found = {}
    for member, take in those.items():
        if member in declared:
            continue
        plan = take.plan
        step = float(np.ptp(plan.knot_times) / np.ptp(plan.knot_counts))
        later = float(take.onsets.time[0] - begin) / step
        alone = {counts: _left_alone(take, asked, counts) for counts in _TRIED}
        best = min(alone, key=lambda counts: (alone[counts], abs(counts - later)))
        if alone[0] - alone[best] >= LEAST_GAIN and alone[best] <= LEFT_ALONE * asked.sum():
            found[member] = best
    # where all seem to have moved, nobody has moved against the others
    return found if len(found) < len(those) else {}


def find_mirrored(takes: Mapping[str, Take]) -> frozenset[str]:
    """Return the members who do with one hand what the others do with the other.

    Parameters
    ----------
    takes : mapping of member to Take
        All of the same plan.

    Returns
    -------
    set of str
        Only those for whom other hands leave clearly fewer moments and onsets alone than these and than any canon.
    """
    those, asked = _those(takes)
    if not those or len(next(iter(those.values())).plan.hands) != 2:
        return frozenset()
    found = set()
    for member, take in those.items():
        as_it_is = _left_alone(take, asked, 0)
        other = _left_alone(take, asked, 0, mirrored=True)
        if as_it_is - other < LEAST_GAIN or other > LEFT_ALONE * asked.sum():
            continue
        if other < min(_left_alone(take, asked, counts) for counts in _TRIED):
            found.add(member)
    # where all seem to have other hands, nobody has other ones than the others
    return frozenset(found) if len(found) < len(those) else frozenset()


def _those(takes: Mapping[str, Take]) -> tuple[dict[str, Take], NDArray[np.bool_]]:
    """Return the takes with onsets, none if fewer than two, and the moments in the run of most members."""
    those = {member: take for member, take in takes.items() if len(take.onsets) > 1}
    if len(those) < 2:
        return {}, np.empty(0, dtype=bool)
    times = next(iter(those.values())).plan.moments.time
    # of two the earlier one's
    middle = (len(those) - 1) // 2
    begin = sorted(float(take.onsets.time[0]) for take in those.values())[middle]
    end = sorted(float(take.onsets.time[-1]) for take in those.values())[middle]
    steps = np.diff(np.unique(times))
    half = float(np.median(steps)) / 2 if steps.size else LONGEST_WINDOW
    return those, np.asarray((times >= begin - half) & (times <= end + half))


def _left_alone(take: Take, asked: NDArray[np.bool_], counts: int, *, mirrored: bool = False) -> int:
    """Return the number of unanswered moments and of unasked onsets if her part is that many counts later.

    Or is that of the other hand.
    """
    plan, alone = take.plan, 0
    for hand, does in zip(plan.hands, plan.hands[::-1] if mirrored else plan.hands, strict=True):
        at = plan.moments.of_hand(hand)
        times = times_at(plan, plan.moments.count[at[asked[at]]] + counts)
        onsets = take.onsets.of_hand(does)
        if not (times.size and onsets.size):
            alone += times.size + onsets.size
            continue
        steps = np.diff(times)
        step = np.minimum(np.append(steps, np.inf), np.append(np.inf, steps))
        behind = np.clip(np.searchsorted(onsets, times), 1, max(onsets.size - 1, 1))
        nearest = np.where(
            np.abs(onsets[behind - 1] - times) <= np.abs(onsets[np.minimum(behind, onsets.size - 1)] - times),
            behind - 1,
            np.minimum(behind, onsets.size - 1),
        )
        near = np.abs(onsets[nearest] - times) <= np.minimum(WINDOW_SHARE * step, LONGEST_WINDOW)
        pairs = len(np.unique(nearest[near]))
        alone += times.size + onsets.size - 2 * pairs
    return alone


def times_at(plan: Plan, wanted: Floats) -> Floats:
    """Return the take times of counts, extrapolated beyond the ends of the plan at its tempo there.

    Parameters
    ----------
    plan : Plan
    wanted : numpy.ndarray, shape (n,)
        Positions in counts.
    """
    knots, first = np.unique(plan.knot_counts, return_index=True)
    times = plan.knot_times[first]
    late = (times[-1] - times[-2]) / (knots[-1] - knots[-2])
    early = (times[1] - times[0]) / (knots[1] - knots[0])
    inside: Floats = (
        np.interp(wanted, knots, times)
        + np.maximum(wanted - knots[-1], 0) * late
        + np.minimum(wanted - knots[0], 0) * early
    )
    return inside
