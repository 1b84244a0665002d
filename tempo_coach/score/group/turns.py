"""Members who do their part in turn: rounds of a plan, in each of which everybody has one moment."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.observe.trace.trace_take import keep_moments

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Moments of a round at most, and rounds that somebody has to have done who counts.
MOST_MOMENTS, LEAST_ROUNDS = 16, 4
#: Share of the onsets that lie at a member's own place of the rounds: of the middle one of all, and of each. Where each
#: has a recorder of her own, some of another's are heard in it.
OWN_SHARE, LEAST_SHARE = 0.6, 0.3


class Turns(NamedTuple):
    """Rounds of a plan: its moments in each, and the place of each member in them, from 0."""

    moments: int
    places: tuple[int, ...]


def find_turns(asynchronies: Floats) -> Turns | None:
    """Return the rounds in which members take turns; None where they act together.

    Parameters
    ----------
    asynchronies : array, shape (m, n)
        Seconds from each moment to a member's nearest onset; NaN where she has none near it.
    """
    done = [np.flatnonzero(~np.isnan(row)) for row in asynchronies]
    present = [row for row in done if len(row) >= LEAST_ROUNDS]
    if len(present) < 2:
        return None
    # by how many more onsets lie at one place of the rounds than anywhere
    found = {
        moments: sum(np.bincount(row % moments).max() - len(row) / moments for row in present)
        for moments in range(2, min(MOST_MOMENTS, asynchronies.shape[1] // LEAST_ROUNDS) + 1)
    }
    if not found:
        return None
    moments = max(found, key=lambda tried: found[tried])
    shares = [float(np.bincount(row % moments).max()) / len(row) for row in present]
    places = tuple(int(np.bincount(row % moments).argmax()) if row.size else 0 for row in done)
    # all at one place are together, on few of the moments
    if np.median(shares) < OWN_SHARE or min(shares) < LEAST_SHARE or len(set(places)) == 1:
        return None
    return Turns(moments, places)


def gather_rounds(asynchronies: Floats, plan: Plan, turns: Turns) -> tuple[Floats, Plan]:
    """Return each member's asynchrony in each round, and the plan of the rounds' first moments.

    Parameters
    ----------
    asynchronies : array, shape (m, n)
    plan : Plan
        Of n moments.
    turns : Turns
    """
    rounds = -(-asynchronies.shape[1] // turns.moments)
    out = np.full((len(asynchronies), rounds), np.nan)
    for row, own, place in zip(out, asynchronies, turns.places, strict=True):
        taken = own[place :: turns.moments]
        row[: len(taken)] = taken
    firsts = np.arange(rounds) * turns.moments
    return out, replace(plan, moments=keep_moments(plan.moments, firsts))


def in_order(members: Sequence[str], turns: Turns) -> list[str]:
    """Return the members in the order of their turns."""
    return [member for _, member in sorted(zip(turns.places, members, strict=True), key=lambda each: each[0])]
