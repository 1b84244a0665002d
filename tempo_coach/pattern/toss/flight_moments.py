"""Release and catch moments of a plan, paired to flights."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.pattern.toss.bodies import NOT_BALLISTIC

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan

_ON_THE_WAY = ("contact", "pull")


def find_thrown(plan: Plan, hand: str) -> list[tuple[int, int]]:
    """Return the indices of release and catch of every flight that a plan asks of a hand.

    A release and the catch that follows it are the ends of a flight, unless a contact or a pull lies between them (a
    roll along the floor has both and flies nowhere), and unless the apparatus is a rope or a ribbon.

    Parameters
    ----------
    plan : Plan
    hand : str
        One of the plan's hands.

    Returns
    -------
    list of (int, int)
        Positions among the plan's moments.

    Examples
    --------
    >>> from tempo_coach.coach import Request, lay
    >>> find_thrown(lay(Request("ball_toss_turn", cycles=2)), "right")
    [(0, 2), (3, 5)]
    >>> find_thrown(lay(Request("hoop_floor_roll", cycles=2)), "right")
    []
    """
    if plan.apparatus in NOT_BALLISTIC:
        return []
    found: list[tuple[int, int]] = []
    released: int | None = None
    for k in plan.moments.of_hand(hand).tolist():
        kind = plan.moments.kind[k]
        if kind == "release":
            released = k
        elif kind in _ON_THE_WAY:
            released = None
        elif kind == "catch" and released is not None:
            found.append((released, k))
            released = None
    return found
