"""A group over time, and its exchanges: apparatus thrown from one member to another.

Both rest on the asynchronies of all members to one plan (:func:`tempo_coach.score.group.find_asynchronies`). An
exchange is a moment of release followed by the catch that the plan has for the same hand: everybody releases together,
everybody catches together, and what one throws another one catches.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.parts import place_counts

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.pattern.plan import Plan
    from tempo_coach.times import Floats

RELEASE, CATCH = "release", "catch"


class Stretch(NamedTuple):
    """How far together the group was in one eight.

    Parameters
    ----------
    eight : int
    resultant : float
        Order parameter, mean over its moments.
    sd, width : float
        Seconds, mean over its moments; width is from the first member to the last.
    n : int
        Moments at which two members or more were there.
    """

    eight: int
    resultant: float
    sd: float
    width: float
    n: int


class Throw(NamedTuple):
    """What one member throws and another one catches.

    ``flight`` and ``asked`` are seconds from the thrower's release to the catcher's catch; NaN where one was missed.
    """

    thrower: str
    catcher: str
    flight: float
    asked: float


@dataclass(frozen=True)
class Exchange:
    """One exchange.

    Parameters
    ----------
    eight : int
    count : float
        Where the release is asked, from 1.
    released, caught : float
        Mean asynchrony to the plan, in seconds; NaN where nobody was observed.
    released_width, caught_width : float
        Seconds from the first member to the last; NaN under two members.
    throws : tuple of Throw
        Partner to partner; empty where nobody said who throws to whom.
    """

    eight: int
    count: float
    released: float
    caught: float
    released_width: float
    caught_width: float
    throws: tuple[Throw, ...]


def measure_over_time(eights: Sequence[int], resultants: Floats, sds: Floats, widths: Floats) -> tuple[Stretch, ...]:
    """Return the group eight by eight.

    Parameters
    ----------
    eights : sequence of int, length n
        The eight of each moment at which two members or more were there.
    resultants, sds, widths : array, shape (n,)
    """
    where = np.asarray(eights, dtype=np.int64)
    return tuple(
        Stretch(
            int(eight),
            float(resultants[where == eight].mean()),
            float(sds[where == eight].mean()),
            float(widths[where == eight].mean()),
            int((where == eight).sum()),
        )
        for eight in np.unique(where)
    )


def find_exchanges(
    members: Sequence[str], asynchronies: Floats, plan: Plan, *, partners: Mapping[str, str] | None = None
) -> tuple[Exchange, ...]:
    """Return every exchange of a plan: each release with the catch that follows it, hand by hand.

    Parameters
    ----------
    members : sequence of str, length m
    asynchronies : array, shape (m, n)
        Seconds to the plan for each member and moment; NaN where missed.
    plan : Plan
        Of n moments.
    partners : mapping of thrower to catcher, optional
    """
    moments = plan.moments
    row = {member: k for k, member in enumerate(members)}
    found: list[tuple[int, Exchange]] = []
    for hand in plan.hands:
        mine = [int(k) for k in moments.of_hand(hand) if moments.kind[k] in (RELEASE, CATCH)]
        for release, catch in itertools.pairwise(mine):
            if (moments.kind[release], moments.kind[catch]) != (RELEASE, CATCH):
                continue
            asked = float(moments.time[catch] - moments.time[release])
            (eight,), (count,) = place_counts(plan, moments.count[[release]])
            throws = tuple(
                Throw(a, b, asked + float(asynchronies[row[b], catch] - asynchronies[row[a], release]), asked)
                for a, b in (partners or {}).items()
            )
            one, other = asynchronies[:, release], asynchronies[:, catch]
            exchange = Exchange(eight, count, _mean(one), _mean(other), _width(one), _width(other), throws)
            found.append((release, exchange))
    return tuple(exchange for _, exchange in sorted(found, key=lambda each: each[0]))


def _mean(values: Floats) -> float:
    known = values[~np.isnan(values)]
    return float(known.mean()) if known.size else math.nan


def _width(values: Floats) -> float:
    known = values[~np.isnan(values)]
    return float(np.ptp(known)) if known.size > 1 else math.nan
