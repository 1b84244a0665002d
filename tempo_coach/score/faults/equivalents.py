"""Kinds of findings that a plan cannot tell apart, ends aside, since its pattern or its hands repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.faults.merged import position_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.faults.findings import Happened
    from tempo_coach.times import Floats

#: Places in the cycle that are nearer than this are the same, in cycles.
SAME_PLACE = 0.04


def same_kinds(plan: Plan, places: Mapping[str, Floats], *, but: str) -> tuple[Happened, ...]:
    """Return the kinds of the whole take that would put each hand's onsets at these phases of the cycle.

    Parameters
    ----------
    plan : Plan
    places : mapping of hand to array, shape (n,)
        Places in the cycle, 0 to 1, cycle after cycle the same.
    but : str
        A kind that is left out: the one that was found.

    Notes
    -----
    Looked at are: nothing at all, the hands swapped, everything shifted (by half a cycle, as by any other share of it,
    which a late entry gives too), and one hand shifted.
    """
    position, hands = position_of(plan) % 1.0, np.array(plan.moments.hand)
    asked = {hand: np.unique(np.round(position[hands == hand], 4)) for hand in plan.hands if (hands == hand).any()}
    names = list(asked)
    found: list[Happened] = []
    if all(_alike(places[hand], asked[hand]) for hand in names):
        found.append("even")
    if len(names) == 2 and all(
        _alike(places[hand], asked[other]) for hand, other in zip(names, names[::-1], strict=True)
    ):
        found.append("hands_swapped")
    if all(_alike(places[hand], asked[hand] + 0.5) for hand in names):
        found.append("half_cycle_off")
    shifts = _shifts(places[names[0]], asked[names[0]])
    if any(all(_alike(places[hand], asked[hand] + shift) for hand in names) for shift in shifts):
        found += ["all_late", "all_early", "late_entry", "slipped"]
    if len(names) == 2 and any(
        _alike(places[other], asked[other])
        and any(_alike(places[hand], asked[hand] + s) for s in _shifts(places[hand], asked[hand]))
        for hand, other in zip(names, names[::-1], strict=True)
    ):
        found.append("lag_off")
    return tuple(kind for kind in found if kind != but)


def _shifts(places: Floats, asked: Floats) -> list[float]:
    """Return the non-zero shifts that bring the first asked phase onto any of the phases."""
    return [shift for shift in (places - asked[0]).tolist() if abs((shift + 0.5) % 1.0 - 0.5) >= SAME_PLACE]


def _alike(one: Floats, other: Floats) -> bool:
    """Return whether two sets of phases are equal on the circle."""
    if len(one) != len(other):
        return False
    apart = np.abs((one[:, None] - other[None, :] + 0.5) % 1.0 - 0.5)
    return bool((apart.min(axis=1) < SAME_PLACE).all() and (apart.min(axis=0) < SAME_PLACE).all())
