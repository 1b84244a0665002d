"""Crosstalk: other people's onsets in a member's own recording, told by level."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.take.onsets import Onsets
from tempo_coach.score.group.own_beat import set_on_own_beat
from tempo_coach.score.group.turns import LEAST_DONE, Turns, list_rounds

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.times import Bools, Floats, Ints

#: Share of a step within which nobody acts twice, and how loud the softer of two is beside the other, at most, that
#: then is somebody else's. Tuned on groups of the benchmark ``hall_group``, others than those that judge.
ONE_STEP, SOFTER = 0.6, 0.7
#: Steps between two of hers from which on one is missing, and how loud beside her median one what lies there has to be
#: to be hers: who comes back from half a step late acts twice in half a step. Tuned on the same groups.
MISSING, AS_LOUD = 1.35, 0.6
#: Of two that close the softer one is hers where it is so loud beside the other, lies within so much of a step of where
#: her two before and two after lie, and the other further than that. Tuned on the same groups.
HALF_AS_LOUD, IN_TIME, ELSEWHERE = 0.5, 0.15, 0.3
#: Of members in turn: by how many times what is at her own place, this quantile of it, has to be louder than at any
#: other, the most that counts, and the share of all that has to lie where somebody has her place.
LOUDER, SOFT, MOST_LOUDER, OWNED_SHARE = 1.3, 0.25, 4.0, 0.9
#: One in so many may be less clear, who stands beside another or whose recorder came late: louder all the same, at a
#: place that nobody else has.
ONE_IN = 4


def leave_to_others(
    takes: Mapping[str, Take], loudness: Mapping[str, Floats], *, own_clock: bool = False
) -> dict[str, Take]:
    """Return the takes without onsets that are other members'.

    Parameters
    ----------
    takes : mapping of member to Take
        All of the same plan.
    loudness : mapping of member to array, shape (n,)
        How loud each onset of a take is in its own recorder; of whom nothing is known everything is her own.
    own_clock : bool
        Whether the start of the take clock means nothing.
    """
    kept: dict[str, Bools] = {member: np.ones(len(take.onsets), dtype=np.bool_) for member, take in takes.items()}
    for member, loud in loudness.items():
        kept[member] = _find_louder(takes[member], loud)
    placed = set_on_own_beat(takes) if own_clock else takes
    if len(loudness) == len(takes) > 1 and all(len(loud) for loud in loudness.values()):
        near = {member: _find_moments(take) for member, take in placed.items()}
        n = len(next(iter(takes.values())).plan.moments)
        rows = np.full((len(takes), n), np.nan)
        for row, (member, at) in zip(rows, near.items(), strict=True):
            own = kept[member]
            row[at[own]] = loudness[member][own]
        found = [each for moments in list_rounds(n) if (each := _find_places(rows, moments)) is not None]
        if found:
            turns = max(found, key=lambda each: (len(set(each[1].places)), each[0]))[1]
            for (member, at), place in zip(near.items(), turns.places, strict=True):
                kept[member] &= at % turns.moments == place
    return {member: _keep(take, kept[member]) for member, take in takes.items()}


def _keep(take: Take, kept: Bools) -> Take:
    if kept.all():
        return take
    at = np.flatnonzero(kept)
    return replace(take, onsets=Onsets(take.onsets.time[at], tuple(take.onsets.hand[k] for k in at)))


def _find_moments(take: Take) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    """Return the nearest moment of each onset."""
    times = take.plan.moments.time
    at = np.searchsorted((times[1:] + times[:-1]) / 2, take.onsets.time)
    return np.asarray(at, dtype=np.int64)


def _find_louder(take: Take, loud: Floats) -> Bools:
    """Return which onsets have no much louder one within a step; of two that close one is somebody else's.

    But where that leaves out one of hers, the loudest there is kept if it is about as loud as she is.
    """
    kept = np.ones(len(loud), dtype=np.bool_)
    steps = np.diff(np.unique(take.plan.moments.time))
    step = float(np.median(steps)) if steps.size else 0.0
    reach = ONE_STEP * step
    times = take.onsets.time
    for k in range(len(loud)):
        first, last = np.searchsorted(times, (times[k] - reach, times[k] + reach))
        kept[k] = loud[k] >= SOFTER * loud[first:last].max(initial=0.0)
    _take_in_time(kept, take, loud, reach)
    hers = np.flatnonzero(kept)
    for before, after in pairwise(hers.tolist()):
        if after - before > 1 and times[after] - times[before] > MISSING * step:
            loudest = before + 1 + int(np.argmax(loud[before + 1 : after]))
            kept[loudest] = loud[loudest] >= AS_LOUD * float(np.median(loud[hers]))
    return kept


def _take_in_time(kept: Bools, take: Take, loud: Floats, reach: float) -> None:
    """Keep, in the place of one that lies where none of hers around it does, the softer one that lies there."""
    moments, times = np.unique(take.plan.moments.time), take.onsets.time
    phase = np.exp(2j * np.pi * np.interp(times, moments, np.arange(len(moments))))

    def away(one: int, around: Ints) -> float:
        """Steps from one to where those around it lie."""
        return abs(float(np.angle(phase[one] * phase[around].sum().conjugate()))) / (2 * np.pi)

    hers = np.flatnonzero(kept)
    for place, louder in enumerate(hers.tolist()):
        around = np.concatenate([hers[max(place - 2, 0) : place], hers[place + 1 : place + 3]])
        if len(around) < 3 or away(louder, around) <= ELSEWHERE:
            continue
        first, last = np.searchsorted(times, (times[louder] - reach, times[louder] + reach))
        others = [
            k
            for k in range(first, last)
            if not kept[k] and loud[k] >= HALF_AS_LOUD * loud[louder] and away(k, around) <= IN_TIME
        ]
        if others:
            kept[louder], kept[max(others, key=lambda k: loud[k])] = False, True


def _find_places(loudness: Floats, moments: int) -> tuple[float, Turns] | None:
    """Return each member's level at her own place above the others, and the turns; None without turns.

    Whoever stresses one count is louder there too; but then so do the others, or nobody has the places that are left.
    """
    places, clear = [], []
    for row in loudness:
        by_place = [row[place::moments] for place in range(moments)]
        by_place = [each[~np.isnan(each)] for each in by_place]
        often = LEAST_DONE * max(map(len, by_place))
        loud = np.array([float(np.median(each)) if len(each) >= often and len(each) else 0.0 for each in by_place])
        own = int(np.argmax(loud))
        other = float(np.delete(loud, own).max())
        if loud[own] == 0:
            return None
        # nearly all of them, or two places of a longer round lie at one
        clear.append(float(np.quantile(by_place[own], SOFT)) / other if other > 0 else MOST_LOUDER)
        places.append(own)
    unclear = [own for own, louder in zip(places, clear, strict=True) if louder < LOUDER]
    if min(clear) < 1 or len(unclear) > len(places) // ONE_IN or any(places.count(own) > 1 for own in unclear):
        return None
    owned = np.isin(np.arange(loudness.shape[1]) % moments, places)
    there = ~np.isnan(loudness)
    if len(set(places)) == 1 or (there & owned).sum() < OWNED_SHARE * there.sum():
        return None
    gained = sum(math.log(min(louder, MOST_LOUDER)) for louder in clear)
    return gained, Turns(moments, tuple(places))
