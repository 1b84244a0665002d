"""Exchanges as a routine has them: an ``exchange`` where it is thrown, and the ``catch`` behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.pattern.counts import say_count
from tempo_coach.score.together import AskedExchange

if TYPE_CHECKING:
    from tempo_coach.pattern.routine import Routine, RoutineMoment

_HINT = 'who throws to whom is its hand, as in hand = "Ada:Bea, Bea:Ada"'


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
    >>> from tempo_coach.music.countmap import Place
    >>> from tempo_coach.pattern.routine import MusicFile, Routine, RoutineMoment
    >>> thrown = RoutineMoment("exchange", Place(5, 1.0), "Ada:Bea, Bea:Ada")
    >>> caught = RoutineMoment("catch", Place(5, 5.0))
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
            raise CoachError(
                "expected a catch behind the exchange, before anything else",
                where=where,
                hint='add a [[moment]] with what = "catch"',
            )
        caught = next(each for each in moments[k + 1 :] if each.what == "catch")
        found.append(AskedExchange(moment.at, caught.at, _read_partners(moment, where)))
    return tuple(found)


def _read_partners(moment: RoutineMoment, where: str) -> dict[str, str]:
    partners: dict[str, str] = {}
    for pair in filter(None, (part.strip() for part in moment.hand.split(","))):
        thrower, mark, catcher = (part.strip() for part in pair.partition(":"))
        if not (mark and thrower and catcher) or thrower in partners:
            raise CoachError(
                f"expected MEMBER:MEMBER, each throwing to one other, found {pair!r}", where=where, hint=_HINT
            )
        partners[thrower] = catcher
    return partners
