"""``GroupCard``: the scorecard of a group, and its parts. Seconds inside, ms in :meth:`GroupCard.to_dict`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from tempo_coach.score.together import Exchange, Stretch


class Member(NamedTuple):
    """One member: mean asynchrony to the plan, offset from the group's mean, spread, all in seconds, and moments."""

    member: str
    bias: float
    offset: float
    spread: float
    n: int


@dataclass(frozen=True)
class Apart:
    """A moment at which the group fell apart: where it lies, and seconds from the first member to the last."""

    eight: int
    count: float
    width: float


class Pair(NamedTuple):
    """Whether member b follows member a.

    ``gain`` is the share of what a is ahead or behind that b takes over by the next cycle; NaN under 20 cycles.
    ``correlation`` is that of a's asynchronies with b's one cycle earlier (-1), in the same cycle, and one later (1):
    a beat that both hear makes them go together as well, so it does not show who follows.
    """

    a: str
    b: str
    gain: float
    n: int
    low: float
    high: float
    correlation: dict[int, float]

    @property
    def follows(self) -> bool | None:
        """Whether the interval of the gain lies above 0; None where there is no gain."""
        return None if math.isnan(self.gain) else self.low > 0


@dataclass(frozen=True, eq=False)
class GroupCard:
    """The scorecard of a group.

    Parameters
    ----------
    members : tuple of Member
    resultant : float
        Order parameter of the asynchronies over the asked period, 0 to 1, mean over the moments.
    chance : float
        What it would be for as many members who do not listen to each other.
    sd, width : float
        Seconds, mean over the moments.
    apart : tuple of Apart
    pairs : tuple of Pair
        All ordered pairs.
    reasons : dict
        Why something is null.
    over_time : tuple of Stretch
        Eight by eight.
    exchanges : tuple of Exchange
        Apparatus thrown from one to another, where the plan has releases and catches.
    """

    members: tuple[Member, ...]
    resultant: float
    chance: float
    sd: float
    width: float
    apart: tuple[Apart, ...]
    pairs: tuple[Pair, ...]
    reasons: dict[str, str]
    over_time: tuple[Stretch, ...] = ()
    exchanges: tuple[Exchange, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """Return the card as plain values, in ms; what the contract has no name for stands under ``detail``."""
        return {
            "members": [
                {
                    "member": m.member,
                    "bias_ms": _ms(m.bias),
                    "offset_ms": _ms(m.offset),
                    "spread_ms": _ms(m.spread),
                    "n": m.n,
                }
                for m in self.members
            ],
            "group_r": _plain(self.resultant),
            "group_r_chance": _plain(self.chance),
            "group_sd_ms": _ms(self.sd),
            "group_range_ms": _ms(self.width),
            "apart": [{"eight": a.eight, "count": a.count, "range_ms": _ms(a.width)} for a in self.apart],
            "pairs": [
                {
                    "a": p.a,
                    "b": p.b,
                    "follows": p.follows,
                    "gain": _plain(p.gain),
                    "n": p.n,
                    "ci95": None if math.isnan(p.low) else [p.low, p.high],
                }
                for p in self.pairs
            ],
            "reasons": self.reasons,
            "detail": {
                "pairs": [
                    {"a": p.a, "b": p.b, "correlation": {str(lag): _plain(r) for lag, r in p.correlation.items()}}
                    for p in self.pairs
                    if p.correlation
                ],
                "over_time": [
                    {"eight": t.eight, "group_r": t.resultant, "sd_ms": _ms(t.sd), "range_ms": _ms(t.width), "n": t.n}
                    for t in self.over_time
                ],
                "exchanges": [_exchange_to_dict(exchange) for exchange in self.exchanges],
            },
        }


def _exchange_to_dict(exchange: Exchange) -> dict[str, object]:
    return {
        "eight": exchange.eight,
        "count": exchange.count,
        "release_async_ms": _ms(exchange.released),
        "release_range_ms": _ms(exchange.released_width),
        "catch_async_ms": _ms(exchange.caught),
        "catch_range_ms": _ms(exchange.caught_width),
        "throws": [
            {"from": t.thrower, "to": t.catcher, "flight_ms": _ms(t.flight), "asked_ms": _ms(t.asked)}
            for t in exchange.throws
        ],
    }


def _plain(number: float) -> float | None:
    return None if math.isnan(number) else float(number)


def _ms(seconds: float) -> float | None:
    return _plain(seconds * 1000)
