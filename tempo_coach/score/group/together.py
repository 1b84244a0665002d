"""Synchrony of a group over time, and its exchanges of apparatus."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.score.measures.parts import place_counts

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.music.counts.count_map import Position
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.pattern.routine.routine import Routine, RoutineMoment
    from tempo_coach.times import Floats

RELEASE, CATCH = "release", "catch"
#: Counts within which a moment of the plan is the one that is meant by a place.
SAME_PLACE = 0.05


class EightSynchrony(NamedTuple):
    """Synchrony of the group in one eight.

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


class PartnerThrow(NamedTuple):
    """A throw from one member to another.

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
    throws : tuple of PartnerThrow
        Partner to partner; empty where nobody said who throws to whom.
    """

    eight: int
    count: float
    released: float
    caught: float
    released_width: float
    caught_width: float
    throws: tuple[PartnerThrow, ...]


def measure_over_time(
    eights: Sequence[int], resultants: Floats, sds: Floats, widths: Floats
) -> tuple[EightSynchrony, ...]:
    """Return the group eight by eight.

    Parameters
    ----------
    eights : sequence of int, length n
        The eight of each moment at which two members or more were there.
    resultants, sds, widths : array, shape (n,)
    """
    numbers, row, n = np.unique(np.asarray(eights, dtype=np.int64), return_inverse=True, return_counts=True)
    means = [(np.bincount(row, weights=each) / n).tolist() for each in (resultants, sds, widths)]
    return tuple(EightSynchrony(*each) for each in zip(numbers.tolist(), *means, n.tolist(), strict=True))


class AskedExchange(NamedTuple):
    """An exchange in a routine: places of release and catch, and who throws to whom (may be empty)."""

    release: Position
    catch: Position
    partners: Mapping[str, str]


def find_exchanges(
    members: Sequence[str],
    asynchronies: Floats,
    plan: Plan,
    *,
    partners: Mapping[str, str] | None = None,
    asked: Sequence[AskedExchange] = (),
) -> tuple[Exchange, ...]:
    """Return every exchange: the given ones, or each release of the plan with the catch after it, by hand.

    Parameters
    ----------
    members : sequence of str, length m
    asynchronies : array, shape (m, n)
        Seconds to the plan for each member and moment; NaN where missed.
    plan : Plan
        Of n moments.
    partners : mapping of thrower to catcher, optional
        For those exchanges that do not say it themselves.
    asked : sequence of AskedExchange
        On moments of the plan, of whatever kind these are.

    Raises
    ------
    CoachError
        If the plan has no moment where an exchange is asked, or nobody of that name is there.
    """
    moments = plan.moments
    if asked:
        ends = [(_moment_at(plan, one.release), _moment_at(plan, one.catch), one.partners or partners) for one in asked]
    else:
        mine = [[int(k) for k in moments.of_hand(hand) if moments.kind[k] in (RELEASE, CATCH)] for hand in plan.hands]
        pairs = sorted(pair for of_hand in mine for pair in itertools.pairwise(of_hand))
        ends = [(a, b, partners) for a, b in pairs if (moments.kind[a], moments.kind[b]) == (RELEASE, CATCH)]
    return tuple(
        _measure_exchange(members, asynchronies, plan, release, catch, who or {}) for release, catch, who in ends
    )


def _measure_exchange(
    members: Sequence[str], asynchronies: Floats, plan: Plan, release: int, catch: int, partners: Mapping[str, str]
) -> Exchange:
    unknown = sorted({*partners, *partners.values()} - set(members))
    if unknown:
        raise CoachError("exchange.member", where="exchange", members=[*members], found=unknown[0])
    row = {member: k for k, member in enumerate(members)}
    asked = float(plan.moments.time[catch] - plan.moments.time[release])
    (eight,), (count,) = place_counts(plan, plan.moments.count[[release]])
    throws = tuple(
        PartnerThrow(a, b, asked + float(asynchronies[row[b], catch] - asynchronies[row[a], release]), asked)
        for a, b in partners.items()
    )
    one, other = asynchronies[:, release], asynchronies[:, catch]
    return Exchange(eight, count, _mean(one), _mean(other), _width(one), _width(other), throws)


def _moment_at(plan: Plan, place: Position) -> int:
    """Return the moment of a plan at a place; the first one of several."""
    starts = {eight.number: eight.start for eight in plan.eights}
    if place.eight in starts:
        apart = np.abs(plan.moments.count - (starts[place.eight] + place.count - 1))
        if len(apart) and apart.min() <= SAME_PLACE:
            return int(apart.argmin())
    raise CoachError("exchange.no_moment", where="exchange", eight=place.eight, count=say_count(place.count - 1))


def _mean(values: Floats) -> float:
    known = values[~np.isnan(values)]
    return float(known.mean()) if known.size else math.nan


def _width(values: Floats) -> float:
    known = values[~np.isnan(values)]
    return float(np.ptp(known)) if known.size > 1 else math.nan


def read_exchanges(routine: Routine) -> tuple[AskedExchange, ...]:
    """Return the exchanges of a routine, in order of place.

    Parameters
    ----------
    routine : Routine
        A moment ``exchange`` says who throws to whom as its hand, ``Ada:Bea, Bea:Ada``, or leaves it empty. It is
        caught at the next moment ``catch``.

    Raises
    ------
    CoachError
        If one is never caught, or who throws to whom cannot be read.

    Examples
    --------
    >>> from tempo_coach.music.counts.count_map import Position
    >>> from tempo_coach.pattern.routine.routine import MusicFile, Routine, RoutineMoment
    >>> thrown = RoutineMoment("exchange", Position(5, 1.0), "Ada:Bea, Bea:Ada")
    >>> caught = RoutineMoment("catch", Position(5, 5.0))
    >>> (one,) = read_exchanges(Routine("five balls", MusicFile("five.wav"), moments=(thrown, caught)))
    >>> one.catch.count, one.partners
    (5.0, {'Ada': 'Bea', 'Bea': 'Ada'})
    """
    found = []
    moments = sorted(routine.moments, key=lambda moment: (moment.at.eight, moment.at.count))
    for k, moment in enumerate(moments):
        if moment.what != "exchange":
            continue
        where = f"exchange on eight {moment.at.eight} count {say_count(moment.at.count - 1)}"
        behind = (each.what for each in moments[k + 1 :] if each.what == "catch" or each.at != moment.at)
        if next(behind, "") != "catch":
            raise CoachError("exchange.no_catch", where=where)
        caught = next(each for each in moments[k + 1 :] if each.what == "catch")
        found.append(AskedExchange(moment.at, caught.at, _read_partners(moment, where)))
    return tuple(found)


def _read_partners(moment: RoutineMoment, where: str) -> dict[str, str]:
    partners: dict[str, str] = {}
    for pair in filter(None, (part.strip() for part in moment.hand.split(","))):
        thrower, mark, catcher = (part.strip() for part in pair.partition(":"))
        if not (mark and thrower and catcher) or thrower in partners:
            raise CoachError("exchange.no_pair", where=where, pair=pair)
        partners[thrower] = catcher
    return partners
