"""Correction of a plan afterwards: another drill on the counts that were heard, or its eights numbered otherwise.

What was played stays as it was: clock, counts, music and cues.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.pattern import SAME_PLACE
from tempo_coach.pattern.plan.cycle_moments import make_moments

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats


class HeardCounts:
    """The counts of a plan as they were heard.

    Parameters
    ----------
    plan : Plan
    """

    def __init__(self, plan: Plan) -> None:
        self._times, self._counts = plan.knot_times, plan.knot_counts

    def on_take_clock(self, positions: ArrayLike) -> Floats:
        """Return the take-clock seconds of positions in counts; at a pause, its end."""
        positions = np.asarray(positions, dtype=np.float64)
        behind = np.clip(np.searchsorted(self._counts, positions + SAME_PLACE, side="right"), 1, len(self._counts) - 1)
        counts, times = self._counts, self._times
        step = np.maximum(counts[behind] - counts[behind - 1], SAME_PLACE)
        share = (positions - counts[behind - 1]) / step
        return np.asarray(times[behind - 1] + share * (times[behind] - times[behind - 1]), dtype=np.float64)


def with_drill(plan: Plan, drill: Drill, pattern: dict[str, object]) -> Plan:
    """Return a plan with another drill on the same counts, as many of its cycles as fit.

    Parameters
    ----------
    plan : Plan
    drill : Drill
    pattern : dict
        The pattern as the drill's file gives it.

    Raises
    ------
    CoachError
        If not even one cycle fits.
    """
    cycle = drill.pattern.cycle_counts
    first, end = plan.first_count, max(float(plan.cycle_starts[-1]) + plan.cycle_counts, float(plan.knot_counts[-1]))
    spans = [(first, end)]
    if drill.pattern.restart == "eight":
        spans = [(max(first, each.start), min(end, each.start + each.length)) for each in plan.eights]
    starts = [begin + k * cycle for begin, behind in spans for k in range(int((behind - begin) / cycle + SAME_PLACE))]
    if not starts:
        raise CoachError("plan.no_cycle_in_take", where=drill.name, cycle_counts=cycle, counts=end - first)
    return replace(
        plan,
        drill=drill.name,
        title=drill.title,
        apparatus=drill.apparatus,
        hands=drill.pattern.hand_names,
        cycle_counts=cycle,
        allowance=drill.allowance,
        moments=make_moments(drill.pattern, starts, plan.cue_way, HeardCounts(plan)),
        cycle_starts=np.array(starts),
        pattern=pattern,
    )


def with_eights_from(plan: Plan, number: int) -> Plan:
    """Return a plan whose first eight has another number, and the later ones too.

    Raises
    ------
    CoachError
        If the number is below 1.
    """
    if number < 1:
        raise CoachError("eight.below_one", where="--eight", eight=number)
    more = number - plan.eights[0].number
    return replace(plan, eights=tuple(each._replace(number=each.number + more) for each in plan.eights))
