"""The flights of a take: from the moment of the release to that of the catch, in counts, against what was asked."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, NamedTuple

from tempo_coach.pattern.thrown import find_thrown

if TYPE_CHECKING:
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.times import Floats

#: A flight that is off by less than this part of itself is in time: less cannot be heard (Friberg & Sundberg 1995,
#: abstract: 2.5 % of an interval).
HEARD = 0.025


class Throw(NamedTuple):
    """One flight.

    Parameters
    ----------
    cycle : int
    hand : str
    asked : float
        Its length in counts.
    done : float
        Counts from release to catch as observed; NaN where one of them was not.
    release, catch : float
        Seconds late, negative early; NaN where not observed.
    length : {"in time", "long", "short", "not seen"}
    """

    cycle: int
    hand: str
    asked: float
    done: float
    release: float
    catch: float
    length: Literal["in time", "long", "short", "not seen"]


def judge_throws(plan: Plan, asynchrony: Floats) -> tuple[Throw, ...]:
    """Return each flight of a take, in order of time.

    Parameters
    ----------
    plan : Plan
    asynchrony : array, shape (n,)
        Observed minus asked for each moment of the plan, s; NaN where missed. The scorecard has it.

    Returns
    -------
    tuple of Throw
        Empty where the plan throws nothing.

    Raises
    ------
    ValueError
        If the number of asynchronies is not that of the moments.
    """
    moments = plan.moments
    if len(asynchrony) != len(moments):
        raise ValueError(f"expected {len(moments)} asynchronies, got {len(asynchrony)}")
    heard = max(plan.allowance, HEARD)
    throws = []
    pairs = [(pair, hand) for hand in plan.hands for pair in find_thrown(plan, hand)]
    for (released, caught), hand in sorted(pairs, key=lambda each: each[0]):
        ends = [float(moments.time[k] + asynchrony[k]) for k in (released, caught)]
        asked = float(moments.count[caught] - moments.count[released])
        seconds = float(moments.time[caught] - moments.time[released])
        off = ends[1] - ends[0] - seconds
        seen = math.isfinite(off)
        done = float(plan.counts_at(ends[1]) - plan.counts_at(ends[0])) if seen else math.nan
        length: Literal["in time", "long", "short", "not seen"] = "in time" if seen else "not seen"
        if seen and abs(off) > heard * seconds:
            length = "long" if off > 0 else "short"
        late = (float(asynchrony[released]), float(asynchrony[caught]))
        throws.append(Throw(int(moments.cycle[released]), hand, asked, done, *late, length))
    return tuple(throws)
