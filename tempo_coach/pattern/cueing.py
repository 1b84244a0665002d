"""What is heard of a plan: the end of the lead-in, the ones, the moments that have a cue, and clicks in long waits."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.pattern import SAME_PLACE
from tempo_coach.pattern.plan import CueSounds
from tempo_coach.pattern.practice import CLOSEST_CLICK, LEAD_IN_HEARD, LONGEST_WAIT, way_of_cycle

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.passage import Passage
    from tempo_coach.pattern.plan import Moments
    from tempo_coach.pattern.practice import Cues

#: Names of the cue sounds.
COUNT_SOUND = "count"
ONE_SOUND = "one"
HAND_SOUNDS = ("first_hand", "second_hand")


def make_cues(moments: Moments, passage: Passage, way: Cues, *, hands: Sequence[str], slowed: bool) -> CueSounds:
    """Return the cues of a plan. Where they thin out, the ones fall silent with the block that has none.

    Parameters
    ----------
    moments : Moments
    passage : Passage
    way : {"all", "alternate", "ones", "none", "thinning"}
    hands : sequence of str
        In the order of their sounds.
    slowed : bool
        Whether it is slower than usual: then every count clicks in a wait that is too long.
    """
    heard = min(passage.lead_in_counts, LEAD_IN_HEARD)
    lead_in = np.arange(passage.first - heard, passage.first)
    sounds = [(float(t), COUNT_SOUND) for t in passage.on_take_clock(lead_in)]
    if way != "none":
        silent_from = _silent_from(moments, way)
        ones = [eight.start for eight in passage.eights if eight.start < silent_from - SAME_PLACE]
        sounds += [(float(t), ONE_SOUND) for t in passage.on_take_clock(ones)]
    order = {name: HAND_SOUNDS[min(k, len(HAND_SOUNDS) - 1)] for k, name in enumerate(hands)}
    cued = np.flatnonzero(moments.cue)
    sounds += [(float(moments.time[k]), order[moments.hand[k]]) for k in cued]
    if way == "all" and slowed:
        sounds += [(time, COUNT_SOUND) for time in _clicks_between(sounds, moments, passage)]
    sounds.sort(key=lambda cue: cue[0])
    return CueSounds(np.array([time for time, _ in sounds]), tuple(name for _, name in sounds))


def _silent_from(moments: Moments, way: Cues) -> float:
    """Position from which on nothing is to be heard: the first moment of the block without cues."""
    if way != "thinning":
        return math.inf
    cycles = int(moments.cycle.max()) + 1
    silent = [way_of_cycle(way, int(cycle), cycles)[0] == "none" for cycle in moments.cycle]
    return float(moments.count[silent].min())


def _clicks_between(sounds: list[tuple[float, str]], moments: Moments, passage: Passage) -> list[float]:
    """Times of the counts inside every wait that is too long between two cues."""
    heard = np.unique([time for time, _ in sounds])
    counts = np.arange(math.ceil(moments.count[0]), math.floor(moments.count[-1]) + 1, dtype=np.float64)
    times = passage.on_take_clock(counts)
    behind = np.clip(np.searchsorted(heard, times), 1, len(heard) - 1)
    before, after = heard[behind - 1], heard[behind]
    wanted = (after - before > LONGEST_WAIT) & (np.minimum(times - before, after - times) >= CLOSEST_CLICK)
    wanted[1:] &= np.diff(times) >= CLOSEST_CLICK
    return [float(time) for time in times[wanted]]
