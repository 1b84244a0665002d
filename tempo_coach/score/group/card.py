"""``GroupCard``: the scorecard of a group, and its parts. Seconds inside, ms in :meth:`GroupCard.to_dict`."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, NamedTuple

from tempo_coach.reasons import Why
from tempo_coach.score.plain_values import group_to_dict

if TYPE_CHECKING:
    from tempo_coach.reasons import Reason
    from tempo_coach.score.group.together import EightSynchrony, Exchange

Reference = Literal["music", "cues", "nothing"]


class Member(NamedTuple):
    """One member: mean asynchrony to the plan, offset from the group's mean, spread, all in seconds, and moments.

    ``median_offset`` is the median of her distance from the median of the others, robust against another late member
    and against a stretch in which she left the group; NaN where it is not known. ``unsure`` is by how many seconds her
    distance from the others may be that of the loudspeaker, hers or theirs, or of a film's picture from its sound;
    ``observed_by`` is the way of observing, ``noise`` the SD in seconds that it adds by itself, NaN where nobody
    measured it. ``pace`` is by how many seconds a second she falls
    behind the plan.
    """

    member: str
    bias: float
    offset: float
    spread: float
    n: int
    median_offset: float = math.nan
    unsure: float = 0.0
    observed_by: str = "file"
    noise: float = math.nan
    pace: float = math.nan

    @property
    def steady(self) -> float:
        """Her typical distance from the others, robust where it is known; else her offset."""
        return self.offset if math.isnan(self.median_offset) else self.median_offset

    @property
    def sure(self) -> float:
        """The part of it that no distance from the loudspeaker can explain; 0 where one may."""
        return math.copysign(max(abs(self.steady) - self.unsure, 0.0), self.steady)


@dataclass(frozen=True)
class Apart:
    """A moment at which the group fell apart: its place, and seconds from the first member to the last."""

    eight: int
    count: float
    width: float


class Left(NamedTuple):
    """A stretch in which a member left the group, first and last place included.

    ``offset`` is her mean distance from the median of the others in seconds, late positive, and ``spread`` its SD; both
    NaN where she was not there at all. ``uneven`` says that her scatter stands out and not her distance. ``others`` is
    how far the means of the others lie apart there, from the first to the last, NaN under two; ``back`` whether she was
    with the group again behind it.
    """

    member: str
    from_eight: int
    from_count: float
    to_eight: int
    to_count: float
    offset: float
    spread: float
    uneven: bool
    n: int
    others: float = math.nan
    back: bool = True


class MemberEight(NamedTuple):
    """One member in one eight: her mean distance from the median of the others and its SD in seconds, and moments.

    ``away`` says that it is in a stretch in which she left the group, beyond chance.
    """

    member: str
    eight: int
    offset: float
    spread: float
    n: int
    away: bool


class Wandered(NamedTuple):
    """An eight in which all were early or late together, by seconds beside their own median."""

    eight: int
    offset: float


class Sides(NamedTuple):
    """Two sides of a group: who is ahead, who is behind, and the mean distance in seconds."""

    ahead: tuple[str, ...]
    behind: tuple[str, ...]
    gap: float


class Pair(NamedTuple):
    """Whether member b follows member a.

    ``gain`` is the share of what a is ahead or behind that b takes over by the next cycle, beside b's own correction
    and what she takes over from all others, with its 95 % interval; NaN where there are too few cycles. ``follows`` is
    told over all pairs at once, which asks for more than that this one interval lies above 0; None where there is no
    gain. ``correlation`` is that of a's asynchronies with b's one cycle earlier (-1), in the same cycle, and one later
    (1): a beat that both hear makes them go together as well, so it does not show who follows.
    """

    a: str
    b: str
    gain: float
    n: int
    low: float
    high: float
    correlation: dict[int, float]
    follows: bool | None


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
    reasons : dict of str to Reason
        Why something is null.
    over_time : tuple of EightSynchrony
        Eight by eight.
    exchanges : tuple of Exchange
        Apparatus thrown from one to another, where the plan has releases and catches.
    left : tuple of Left
        Who left the group, and where, in order of place.
    reference : str
        What the members were held against beside each other: the music, the cues of a plan without music, or nothing.
    canon : dict of member to counts
        By how many counts a part was taken to come later than those of the others, though nobody declared it.
    by_eight : tuple of MemberEight
        Members in order, eight by eight.
    wandered : tuple of Wandered
        Where all left the music together.
    sides : Sides or None
        Where some are together and others together behind them.
    """

    members: tuple[Member, ...]
    resultant: float
    chance: float
    sd: float
    width: float
    apart: tuple[Apart, ...]
    pairs: tuple[Pair, ...]
    reasons: dict[str, Reason]
    over_time: tuple[EightSynchrony, ...] = ()
    exchanges: tuple[Exchange, ...] = ()
    left: tuple[Left, ...] = ()
    reference: Reference = "music"
    canon: dict[str, int] = field(default_factory=dict)
    by_eight: tuple[MemberEight, ...] = ()
    wandered: tuple[Wandered, ...] = ()
    sides: Sides | None = None

    @property
    def without_zero(self) -> frozenset[str]:
        """Members whose sensors do not show at which phase of the movement they were timed."""
        return frozenset(str(each.args[0]) for each in self.reasons.values() if each.code is Why.NO_ZERO)

    def to_dict(self) -> dict[str, object]:
        """Return the card as plain values, in ms; extra names stand under ``detail``."""
        return group_to_dict(self)
