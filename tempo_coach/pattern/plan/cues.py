"""The cues of a plan: lead-in, downbeats, cued moments, clicks on all counts, and counts that are spoken."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.drill.drill import CLOSEST_CLICK, LEAD_IN_HEARD, LONGEST_WAIT, way_of_cycle
from tempo_coach.pattern.drill.pattern import SAME_PLACE
from tempo_coach.pattern.plan.plan import CueSounds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.drill.drill import Cues
    from tempo_coach.pattern.plan.passage import Passage
    from tempo_coach.pattern.plan.plan import Moments, Plan

#: Names of the cue sounds.
COUNT_SOUND = "count"
ONE_SOUND = "one"
HAND_SOUNDS = ("first_hand", "second_hand")


def make_cues(
    moments: Moments, passage: Passage, way: Cues, *, hands: Sequence[str], slowed: bool, every_count: bool = False
) -> CueSounds:
    """Return the cues of a plan; thinned cues are silent in the block without cues.

    Parameters
    ----------
    moments : Moments
    passage : Passage
    way : {"all", "alternate", "ones", "none", "thinning"}
    hands : sequence of str
        In the order of their sounds.
    slowed : bool
        True below the drill's default tempo: counts then click in waits that are too long.
    every_count : bool
        Whether every other count of the passage clicks, whatever the way of cueing.
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
    if every_count:
        sounds += [(time, COUNT_SOUND) for time in _other_counts(passage, {time for time, _ in sounds})]
    elif way == "all" and slowed:
        sounds += [(time, COUNT_SOUND) for time in _clicks_between(sounds, moments, passage)]
    sounds.sort(key=lambda cue: cue[0])
    return CueSounds(np.array([time for time, _ in sounds]), tuple(name for _, name in sounds))


def _silent_from(moments: Moments, way: Cues) -> float:
    """Return the position after which nothing sounds: the first moment of the block without cues."""
    if way != "thinning":
        return math.inf
    cycles = int(moments.cycle.max()) + 1
    silent = [way_of_cycle(way, int(cycle), cycles)[0] == "none" for cycle in moments.cycle]
    return float(moments.count[silent].min())


def _other_counts(passage: Passage, heard: set[float]) -> list[float]:
    """Return the times of the whole counts of a passage on which nothing sounds yet."""
    counts = np.arange(math.ceil(passage.first), math.ceil(passage.end - SAME_PLACE), dtype=np.float64)
    ones = {eight.start for eight in passage.eights}
    times = passage.on_take_clock(counts).tolist()
    return [time for count, time in zip(counts.tolist(), times, strict=True) if time not in heard and count not in ones]


def _clicks_between(sounds: list[tuple[float, str]], moments: Moments, passage: Passage) -> list[float]:
    """Return the times of the counts within every wait between two cues that is too long."""
    heard = np.unique([time for time, _ in sounds])
    counts = np.arange(math.ceil(moments.count[0]), math.floor(moments.count[-1]) + 1, dtype=np.float64)
    times = passage.on_take_clock(counts)
    behind = np.clip(np.searchsorted(heard, times), 1, len(heard) - 1)
    before, after = heard[behind - 1], heard[behind]
    wanted = (after - before > LONGEST_WAIT) & (np.minimum(times - before, after - times) >= CLOSEST_CLICK)
    wanted[1:] &= np.diff(times) >= CLOSEST_CLICK
    return [float(time) for time in times[wanted]]


#: What stands before the number in the name of a spoken count.
SAY = "say "
NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight")
#: Seconds that a spoken count needs for itself: at shorter counts only the odd ones are said.
ROOM = 0.28


def speak_counts(plan: Plan) -> Plan:
    """Return the plan with its counts spoken: the audible ones of the lead-in, then those that have cues.

    Where every moment has a cue every count is said; in every other cycle, only there; where the ones alone are heard
    only "one"; nothing where there are no cues. The sounds of the hands stay.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    Plan
        Its cues are called ``say one`` to ``say eight``.
    """
    hands = [(float(t), s) for t, s in zip(plan.cues.time, plan.cues.sound, strict=True) if s not in _CLICKS]
    lead_in = plan.cues.time[[s == COUNT_SOUND for s in plan.cues.sound]] if len(plan.cues.time) else plan.cues.time
    lead_in = lead_in[lead_in < plan.start - SAME_PLACE]
    counts = [*np.round(plan.counts_at(lead_in)).tolist(), *_said_in_passage(plan)]
    times = _times_of(plan, counts)
    spoken = []
    for count, time in zip(counts, times, strict=True):
        number = round(plan.place(count).count)
        if 1 <= number <= len(NUMBERS) and (number % 2 or not _crowded(plan, count)):
            spoken.append((time, SAY + NUMBERS[number - 1]))
    cues = sorted([*hands, *spoken], key=lambda cue: cue[0])
    return replace(plan, cues=CueSounds(np.array([time for time, _ in cues]), tuple(sound for _, sound in cues)))


_CLICKS = (COUNT_SOUND, ONE_SOUND)


def _said_in_passage(plan: Plan) -> list[float]:
    """Return the positions of the counts that are spoken after the lead-in."""
    moments = plan.moments
    said = []
    for eight in plan.eights:
        for count in (eight.start + k for k in range(eight.length)):
            cycle = _cycle_at(plan, count)
            if cycle is None:
                continue
            way, number = way_of_cycle(plan.cue_way, cycle, int(moments.cycle.max()) + 1)
            every = way == "all" or (way == "alternate" and number % 2 == 0)
            if every or (way in ("ones", "alternate") and count == eight.start):
                said.append(float(count))
    return said


def _cycle_at(plan: Plan, count: float) -> int | None:
    """Return the number of the cycle around a count; None after the last one."""
    index = int(np.searchsorted(plan.cycle_starts, count + SAME_PLACE, side="right")) - 1
    return index if index >= 0 and count < plan.cycle_starts[index] + plan.cycle_counts - SAME_PLACE else None


def _times_of(plan: Plan, counts: list[float]) -> list[float]:
    """Return the seconds of whole counts; of one at a pause, the end of the pause."""
    behind = np.searchsorted(plan.knot_counts, np.array(counts) + SAME_PLACE, side="right")
    return [float(plan.knot_times[max(k - 1, 0)]) for k in behind]


def _crowded(plan: Plan, count: float) -> bool:
    """Return whether the counts around one come too fast for each to be spoken."""
    before, here = _times_of(plan, [count - 1, count])
    step = here - before
    return not math.isclose(step, 0.0, abs_tol=SAME_PLACE) and step < ROOM
