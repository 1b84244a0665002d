"""Members who do their part in turn: rounds of a plan, in each of which everybody has one moment."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.take.onsets import Onsets
from tempo_coach.observe.trace.trace_take import keep_moments
from tempo_coach.score.group.own_moments import measure_to_nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Moments of a round at most, and rounds that somebody has to have done who counts.
MOST_MOMENTS, LEAST_ROUNDS = 16, 4
#: Share of the onsets that lie at a member's own place of the rounds: of the middle one of all, and of each. Where each
#: has a recorder of her own, some of another's are heard in it.
OWN_SHARE, LEAST_SHARE = 0.6, 0.3
#: Of one recording of all: how likely a member does what is hers, and how likely something is heard where nobody is.
DONE, STRAY = 0.92, 0.05
#: Share of the rounds in which each has to be there.
LEAST_DONE = 0.5


class Turns(NamedTuple):
    """Rounds of a plan: the moments of each, and the position of each member in them, from 0."""

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
    tried = list_rounds(asynchronies.shape[1])
    if len(present) < 2 or not tried:
        return None
    # by how many more onsets lie at one place of the rounds than anywhere
    moments = max(tried, key=lambda each: sum(np.bincount(row % each).max() - len(row) / each for row in present))
    shares = [float(np.bincount(row % moments).max()) / len(row) for row in present]
    places = tuple(int(np.bincount(row % moments).argmax()) if row.size else 0 for row in done)
    # all at one place are together, on few of the moments
    if np.median(shares) < OWN_SHARE or min(shares) < LEAST_SHARE or len(set(places)) == 1:
        return None
    return Turns(moments, places)


def list_rounds(moments: int) -> range:
    """Return the possible numbers of moments a round in a plan of that many."""
    return range(2, min(MOST_MOMENTS, moments // LEAST_ROUNDS) + 1)


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


def in_order(members: Sequence[str], turns: Turns, asynchronies: Floats) -> list[str]:
    """Return the members in the order of their turns, from the longest pause of a round or the first onset on.

    Parameters
    ----------
    members : sequence of str, length m
    turns : Turns
    asynchronies : array, shape (m, n)
        As in :func:`find_turns`.
    """
    places = np.array(sorted(set(turns.places)))
    pauses = np.diff(places, prepend=places[-1] - turns.moments)
    first = int(places[int(np.argmax(pauses))])
    if not np.ptp(pauses):
        done = np.flatnonzero(~np.isnan(asynchronies).all(axis=0))
        first = next((k for k in (done % turns.moments).tolist() if k in turns.places), first)
    by_place = sorted(zip(turns.places, members, strict=True), key=lambda each: (each[0] - first) % turns.moments)
    return [member for _, member in by_place]


def split_turns(take: Take, names: Sequence[str]) -> dict[str, Take]:
    """Return one take a member from a single take of all, who take turns.

    The rounds are those in which somebody is most likely to be heard at as many places as there are names, and nobody
    elsewhere. The first of the names has the place after the longest pause of a round; where there is none, the first
    onset.

    Parameters
    ----------
    take : Take
        On its plan.
    names : sequence of str
        In the order of their turns.

    Raises
    ------
    CoachError
        If there are too few rounds, or somebody is missing in most of them.
    """
    near = measure_to_nearest(take)
    there = ~np.isnan(near)
    span = np.flatnonzero(there)
    number = len(names)
    if not span.size or (span[-1] - span[0] + 1) < LEAST_ROUNDS * number:
        raise CoachError("turns.few_rounds", where="group", least=LEAST_ROUNDS, members=number)
    heard = there[span[0] : span[-1] + 1]
    best = max(
        range(number, max(min(MOST_MOMENTS, len(heard) // LEAST_ROUNDS), number) + 1),
        key=lambda moments: _likelihood(heard, moments, number),
    )
    shares = np.array([heard[place::best].mean() for place in range(best)])
    places = np.sort(np.argsort(-shares, kind="stable")[:number])
    if shares[places].min() < LEAST_DONE:
        raise CoachError("turns.not_in_turn", where="group", members=number)
    pauses = np.diff(places, append=places[0] + best)
    first = (int(np.argmax(pauses)) + 1) % number if np.ptp(pauses) else 0
    at = take.plan.moments.time + np.where(there, near, 0.0)
    takes = {}
    for name, place in zip(names, np.roll(places, -first).tolist(), strict=True):
        own = np.flatnonzero(there & ((np.arange(len(there)) - span[0]) % best == place))
        takes[name] = replace(take, onsets=Onsets.unsorted(at[own].tolist(), [take.plan.moments.hand[k] for k in own]))
    return takes


def _likelihood(heard: np.ndarray[tuple[int, ...], np.dtype[np.bool_]], moments: int, number: int) -> float:
    """Return the log likelihood of the observed levels for a number of occupied places in a round."""
    ons = np.array([heard[place::moments].sum() for place in range(moments)])
    all_of = np.array([len(heard[place::moments]) for place in range(moments)])
    done = ons * math.log(DONE) + (all_of - ons) * math.log(1 - DONE)
    stray = ons * math.log(STRAY) + (all_of - ons) * math.log(1 - STRAY)
    gain = np.sort(done - stray)[::-1]
    return float(stray.sum() + gain[:number].sum())
