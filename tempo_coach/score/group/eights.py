"""A group by eights: distances of its members, eights that all left the music in, stretches that one of them left."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.group.card import Left, MemberEight, Wandered
from tempo_coach.score.measures.parts import place_counts
from tempo_coach.score.measures.period import spread

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.group.leaving import Stood
    from tempo_coach.times import Floats

#: Seconds, and standard errors between members, from which on all have left the music together in an eight; and the
#: least number of members for it.
WANDERED, WANDERED_ERRORS, LEAST_TOGETHER = 0.03, 4.0, 3


def measure_by_eight(
    members: Sequence[str], distances: Floats, plan: Plan, left: Sequence[Stood]
) -> tuple[MemberEight, ...]:
    """Return by eight each member's mean distance from the others, its spread, and whether she had left.

    Parameters
    ----------
    members : sequence of str, length m
    distances : ndarray, shape (m, n)
        Seconds from the median of the others at each moment; NaN where she was with nobody.
    plan : Plan
    left : sequence of Stood
        Stretches in which a member left the others.
    """
    eights = np.asarray(place_counts(plan, plan.moments.count)[0])
    found = []
    for b, member in enumerate(members):
        away = np.zeros(len(eights), dtype=np.bool_)
        for one in left:
            if one.member == b:
                away[one.first : one.last + 1] = True
        for eight in np.unique(eights).tolist():
            at = eights == eight
            there = distances[b, at][~np.isnan(distances[b, at])]
            mean = float(there.mean()) if there.size else math.nan
            found.append(MemberEight(member, eight, mean, spread(there), int(there.size), bool(away[at].any())))
    return tuple(found)


def find_wandered(asynchronies: Floats, plan: Plan) -> tuple[Wandered, ...]:
    """Return the eights in which the members' median lies off its own by more than scatter explains.

    Parameters
    ----------
    asynchronies : numpy.ndarray, shape (members, n)
        Seconds, a column a moment; NaN where nothing was done.
    plan : Plan
    """
    eights = np.asarray(place_counts(plan, plan.moments.count)[0])
    known = ~np.isnan(asynchronies).all(axis=1)
    rows = asynchronies[known]
    if len(rows) < LEAST_TOGETHER:
        return ()
    centred = rows - np.nanmedian(rows, axis=1, keepdims=True)
    found = []
    for eight in np.unique(eights).tolist():
        part = centred[:, eights == eight]
        part = part[~np.isnan(part).all(axis=1)]
        if len(part) < LEAST_TOGETHER:
            continue
        # the median of each: one who left for half of it does not take all with her
        own = np.nanmedian(part, axis=1)
        error = float(own.std(ddof=1)) / math.sqrt(len(own))
        if abs(float(np.median(own))) > max(WANDERED, WANDERED_ERRORS * error):
            found.append(Wandered(eight, float(np.median(own))))
    return tuple(found)


def _others_width(asynchronies: Floats, one: Stood, left: Sequence[Stood]) -> float:
    """Return the range of the means, in a stretch, of those who stayed with the group."""
    away = {each.member for each in left if each.first <= one.last and one.first <= each.last}
    others = np.delete(asynchronies, sorted(away), axis=0)[:, one.first : one.last + 1]
    others = others[~np.isnan(others).all(axis=1)]
    return float(np.ptp(np.nanmean(others, axis=1))) if len(others) > 1 else math.nan


def place_left(members: Sequence[str], left: Sequence[Stood], plan: Plan, asynchronies: Floats) -> tuple[Left, ...]:
    """Return the stretches in which a member left, by eights and counts, and whether she came back.

    Parameters
    ----------
    members : sequence of str
    left : sequence of Stood
    plan : Plan
    asynchronies : numpy.ndarray, shape (members, n)
        Seconds, a column a moment; NaN where nothing was done.
    """
    count = plan.moments.count
    eights, counts = place_counts(plan, count[[k for one in left for k in (one.first, one.last)]]) if left else ([], [])
    return tuple(
        Left(
            members[one.member],
            eights[2 * k],
            counts[2 * k],
            eights[2 * k + 1],
            counts[2 * k + 1],
            one.offset,
            one.spread,
            one.uneven,
            one.last - one.first + 1,
            _others_width(asynchronies, one, left),
            bool((~np.isnan(asynchronies[one.member, one.last + 1 :])).any()),
        )
        for k, one in enumerate(left)
    )
