"""``Pattern``: one cycle of a movement, its phases and circles, for each hand.

Inside a pattern every place is a float in counts from the start of the cycle: 0 is the cycle's first count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

Sense = Literal["same", "opposite"]
Frame = Literal["room", "arm"]

#: Two places closer than this many counts are the same place.
SAME_PLACE = 1e-9


@dataclass(frozen=True)
class Phase:
    """A named stretch of the cycle.

    Parameters
    ----------
    name : str
        For example low, rise, high, fall.
    start, end : float
        In counts from the start of the cycle.
    """

    name: str
    start: float
    end: float

    def __post_init__(self) -> None:
        if not 0 <= self.start < self.end:
            raise ValueError(f"phase {self.name}: expected 0 <= start < end, got {self.start} to {self.end}")

    @property
    def length(self) -> float:
        """Length in counts."""
        return self.end - self.start


@dataclass(frozen=True)
class Moment:
    """An instant of the cycle that can be seen, heard or tapped.

    Parameters
    ----------
    at : float
        In counts from the start of the cycle; a hand that trails may pass the end of the cycle.
    label : str
        What a coach calls it.
    kind : str
        ``circle``, ``contact``, ``release``, ``catch`` or another word of the trade.
    """

    at: float
    label: str
    kind: str = "circle"


@dataclass(frozen=True)
class Hand:
    """One thing that moves (a hand, a club, the rope) and its moments in the cycle, in order.

    Parameters
    ----------
    name : str
        ``right``, ``left``, ``first club`` …
    moments : tuple of Moment
        At least one; in ascending order.
    plane, direction : str
        As a coach says them, for example ``side`` and ``forward``; empty where it does not matter.
    """

    name: str
    moments: tuple[Moment, ...]
    plane: str = ""
    direction: str = ""

    def __post_init__(self) -> None:
        if not self.moments:
            raise ValueError(f"hand {self.name}: expected at least one moment")
        places = [moment.at for moment in self.moments]
        if any(b - a <= SAME_PLACE for a, b in pairwise(places)):
            raise ValueError(f"hand {self.name}: expected moments in ascending order, got {places}")


@dataclass(frozen=True)
class Carried:
    """Small circles carried round a bigger one, the cycle being one bigger circle.

    Parameters
    ----------
    circles : int
        Small circles per bigger circle, counted in ``frame``.
    frame : {"room", "arm"}
        Where the eye sits that counts them: in the room, or on the arm that carries them round.
    sense : {"same", "opposite"}
        Whether both turn the same way round.
    """

    circles: int
    frame: Frame = "room"
    sense: Sense = "same"

    def __post_init__(self) -> None:
        if self.circles < 1:
            raise ValueError(f"carried circles: expected 1 or more, got {self.circles}")
        if self.in_frame("arm") < 1 or self.in_frame("room") < 1:
            raise ValueError("carried circles: expected at least one turn in the room and on the arm")

    def in_frame(self, frame: Frame) -> int:
        """Return the number of small circles per bigger circle as seen from that frame.

        The arm itself turns once a cycle: turning the same way it adds one turn in the room, turning the other way
        it takes one off.
        """
        if frame == self.frame:
            return self.circles
        own_turn = 1 if self.sense == "same" else -1
        return self.circles + (own_turn if frame == "room" else -own_turn)


@dataclass(frozen=True)
class Pattern:
    """One cycle of a movement.

    Parameters
    ----------
    cycle_counts : float
        Length of the cycle in counts.
    phases : tuple of Phase
        In order, without overlap, inside the cycle.
    hands : tuple of Hand
        The first one is the reference of all lags.
    carried : Carried or None
        For small circles carried round a bigger one.
    restart : {"never", "eight"}
        Whether a cycle that does not divide the eight runs on or starts anew with every eight.

    Raises
    ------
    ValueError
        If phases overlap or leave the cycle, or two hands have one name.
    """

    cycle_counts: float
    phases: tuple[Phase, ...]
    hands: tuple[Hand, ...]
    carried: Carried | None = None
    restart: Literal["never", "eight"] = "never"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.cycle_counts) and self.cycle_counts > 0):
            raise ValueError(f"cycle: expected a length above 0 counts, got {self.cycle_counts}")
        if not self.hands:
            raise ValueError("pattern: expected at least one hand")
        names = [hand.name for hand in self.hands]
        if len(set(names)) < len(names):
            raise ValueError(f"pattern: expected each hand once, got {names}")
        end = 0.0
        for phase in self.phases:
            if phase.start < end - SAME_PLACE or phase.end > self.cycle_counts + SAME_PLACE:
                raise ValueError(f"phase {phase.name}: expected it after the one before and inside the cycle")
            end = phase.end

    @property
    def hand_names(self) -> tuple[str, ...]:
        """Names of the hands, the reference first."""
        return tuple(hand.name for hand in self.hands)

    def asked_lags_deg(self, hand: Hand) -> tuple[float, ...]:
        """Return the asked lag of each moment of a hand in degrees of the cycle, NaN where none is asked.

        Moment k of another hand trails moment k of the reference hand, where both have as many. The later moments
        of the reference hand trail its own first one, its anchor.

        Returns
        -------
        tuple of float
            Each in (-180, 180].
        """
        reference = self.hands[0]
        if hand.name == reference.name:
            anchor = reference.moments[0].at
            return (math.nan, *(self._degrees(m.at - anchor) for m in reference.moments[1:]))
        if len(hand.moments) != len(reference.moments):
            return (math.nan,) * len(hand.moments)
        pairs = zip(hand.moments, reference.moments, strict=True)
        return tuple(self._degrees(moment.at - leader.at) for moment, leader in pairs)

    def mirrored(self) -> Pattern:
        """Return the pattern with left and right exchanged; the leading hand becomes the following one."""
        other = {"left": "right", "right": "left"}
        hands = tuple(replace(hand, name=other.get(hand.name, hand.name)) for hand in self.hands)
        return replace(self, hands=hands)

    def _degrees(self, counts: float) -> float:
        """Counts as degrees of the cycle in (-180, 180]."""
        degrees = (counts / self.cycle_counts * 360.0) % 360.0
        return degrees - 360.0 if degrees > 180.0 + 1e-9 else degrees


def place_circles(phase: Phase, circles: int) -> tuple[Moment, ...]:
    """Return the moments of the circles of one phase: circle k of n at (k + 1/2)/n of it.

    Parameters
    ----------
    phase : Phase
    circles : int
        How many; 0 gives none.

    Examples
    --------
    >>> [m.at for m in place_circles(Phase("high", 2, 4), 2)]
    [2.5, 3.5]
    """
    return tuple(
        Moment(
            phase.start + (k + 0.5) / circles * phase.length,
            phase.name if circles == 1 else f"{phase.name} {k + 1}",
        )
        for k in range(circles)
    )


def place_moments(
    phases: Sequence[Phase],
    circles: Mapping[str, int],
    by_hand: Iterable[Moment] = (),
    *,
    lag_counts: float = 0.0,
) -> tuple[Moment, ...]:
    """Return all moments of a hand in order: its circles per phase, and moments given explicitly.

    Parameters
    ----------
    phases : sequence of Phase
    circles : mapping of phase name to number
        Phases that are not named have none.
    by_hand : iterable of Moment
        They replace the circles of the phase that they lie in.
    lag_counts : float
        By how many counts all of them come later.

    Returns
    -------
    tuple of Moment
    """
    given = tuple(by_hand)
    placed = list(given)
    for phase in phases:
        if not any(phase.start <= moment.at < phase.end for moment in given):
            placed.extend(place_circles(phase, circles.get(phase.name, 0)))
    placed.sort(key=lambda moment: moment.at)
    return tuple(replace(moment, at=moment.at + lag_counts) for moment in placed)


def place_carried(cycle_counts: float, carried: Carried, *, lag_counts: float = 0.0) -> tuple[Moment, ...]:
    """Return the moments of small circles carried round a bigger one, evenly over the cycle.

    They are the low points as seen in the frame that the circles are counted in.

    Parameters
    ----------
    cycle_counts : float
        Length of the bigger circle in counts.
    carried : Carried
    lag_counts : float
        By how many counts all of them come later.
    """
    whole_cycle = Phase("circle", 0.0, cycle_counts)
    return place_moments((whole_cycle,), {"circle": carried.circles}, lag_counts=lag_counts)
