"""Counts that are spoken instead of clicked, as cues of a plan: ``say one`` to ``say eight`` on the counts."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.cueing import COUNT_SOUND, ONE_SOUND
from tempo_coach.pattern.pattern import SAME_PLACE
from tempo_coach.pattern.plan import CueSounds
from tempo_coach.pattern.practice import way_of_cycle

if TYPE_CHECKING:
    from tempo_coach.pattern.plan import Plan

#: What stands before the number in the name of a spoken count.
SAY = "say "
NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight")
#: Seconds that a spoken count needs for itself: at shorter counts only the odd ones are said.
ROOM = 0.28


def speak_counts(plan: Plan) -> Plan:
    """Return the plan with its counts spoken: those of the lead-in that are heard, then those that have cues.

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
    """Positions of the counts that are said once the lead-in is over."""
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
    """Number of the cycle that a count lies in; None behind the last one."""
    index = int(np.searchsorted(plan.cycle_starts, count + SAME_PLACE, side="right")) - 1
    return index if index >= 0 and count < plan.cycle_starts[index] + plan.cycle_counts - SAME_PLACE else None


def _times_of(plan: Plan, counts: list[float]) -> list[float]:
    """Seconds at which whole counts begin: behind a pause that comes before one."""
    behind = np.searchsorted(plan.knot_counts, np.array(counts) + SAME_PLACE, side="right")
    return [float(plan.knot_times[max(k - 1, 0)]) for k in behind]


def _crowded(plan: Plan, count: float) -> bool:
    """Whether the counts around one come too fast for all of them to be said."""
    before, here = _times_of(plan, [count - 1, count])
    step = here - before
    return not math.isclose(step, 0.0, abs_tol=SAME_PLACE) and step < ROOM
