"""Ways of going wrong, drawn at random for a plan: each so large that who is told everything cannot overlook it.

A kind that makes no sense in a drill, or that scatter would hide at any size that is still this kind, is not drawn.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, get_args

import numpy as np

from tempo_coach.score.faults.findings import Happened
from tests.benchmarks.drawn import CORRECTIONS, LATE_BY_STEP, draw_single
from tests.benchmarks.faults import EVEN, Fault, neighbouring_steps, period_of
from tests.benchmarks.oracle import distinctness, level_sd, shape_of

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan
    from tests.benchmarks.performers import Who

RATIOS = {"half_tempo": 0.5, "double_tempo": 2.0, "fast_tempo": 1.1, "slow_tempo": 0.92}
#: Kinds of finding that come about in several ways: a tempo is told from others by its ratio.
SEVERAL = {"extra": ("extra", "both"), "other_tempo": tuple(RATIOS)}
#: The rows of the table.
WAYS = tuple(way for kind in get_args(Happened) for way in SEVERAL.get(kind, (kind,)))
#: A fault shows in at least so many SDs of the test that is told everything.
PLAIN = 6.0
#: The lateness of everything, in SDs with which it can be known by who is told all but how fast she corrects herself,
#: and has to allow for the slowest of those that are drawn: the slower, the further everything wanders for long.
PLAIN_LEVEL, SLOWEST = 4.5, float(CORRECTIONS.min())
#: The longest cycle that is still a long cycle, by what share of the cycle it is longer.
LONGEST = 0.45
#: The largest change of the period from the first cycle to the last.
DRIFTS_BY = (0.08, 0.16, 0.35)
#: Of the step of the hand that is off.
LAG_BY = (0.2, 0.4)
#: Seconds.
ALL_BY = (0.12, 0.30)
HESITATES_BY = (0.5, 0.9)


def draw_way(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault | None:
    """Return a fault, or None where this way of going wrong makes no sense or is hidden."""
    if way in ("even", "no_rhythm"):
        return replace(EVEN, kind=way)
    if way in RATIOS:
        ratio, ends = RATIOS[way], bool(chance.integers(2))
        return Fault("other_tempo", ratio=ratio, cut=ratio < 1 and ends, goes_on=ratio > 1 and ends)
    if way in ("missed", "extra", "both"):
        return draw_single(plan, way, chance)
    return _DRAWN[way](plan, who, way, chance)


def _draw_cycle(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault:
    fault = draw_single(plan, way, chance)
    shows = distinctness(plan, who, shape_of(plan, who, fault)[:, None])[0]
    most = LONGEST * period_of(plan) / abs(fault.by)
    return replace(fault, by=fault.by * min(max(1.0, PLAIN / shows), most))


def _draw_moment(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault | None:
    fault = draw_single(plan, way, chance)
    shows = distinctness(plan, who, shape_of(plan, who, fault)[:, None])[0]
    most = LATE_BY_STEP * min(neighbouring_steps(plan, fault.moment)) / abs(fault.by)
    larger = max(1.0, PLAIN / shows)
    return replace(fault, by=fault.by * larger) if larger <= most else None


def _draw_hesitated(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault | None:
    cycle = plan.moments.cycle
    moment = int(chance.choice(np.flatnonzero((cycle > 0) & (cycle < plan.cycles - 2))))
    by = chance.uniform(*HESITATES_BY) * median_step(plan)
    fault = Fault(way, moment=moment, by=by)
    shows = distinctness(plan, who, shape_of(plan, who, fault)[:, None])[0]
    larger = max(1.0, PLAIN / shows)
    return replace(fault, by=by * larger) if by * larger <= HESITATES_BY[1] * median_step(plan) else None


def _draw_slipped(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault | None:
    most = min(3, int(np.ceil(plan.cycle_counts)) - 1)
    counts = float(chance.integers(1, most + 1)) * (1 if chance.integers(2) else -1)
    fault = Fault(way, cycle=int(chance.integers(2, plan.cycles - 2)), counts=counts, cut=bool(chance.integers(2)))
    shows = distinctness(plan, who, shape_of(plan, who, fault)[:, None])[0]
    return fault if shows >= PLAIN else None


def _draw_all(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault | None:
    by = max(chance.uniform(*ALL_BY), PLAIN_LEVEL * level_sd(plan, replace(who, correction=SLOWEST)))
    # beyond this she is as near to the next moment, or to the other hand's
    most = 0.4 * median_step(plan) / (1 if len(plan.hands) == 1 else 1.3)
    return Fault(way, by=by if way == "all_late" else -by) if by <= most else None


def _draw_late_entry(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault:
    choices = [n for n in {1, 2, 3, round(8 / plan.cycle_counts)} if 1 <= n <= plan.cycles // 2]
    return Fault(way, cycle=int(chance.choice(sorted(choices))), cut=bool(chance.integers(2)))


def _draw_stopped(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault:
    return Fault(way, moment=int(chance.uniform(0.4, 0.8) * len(plan.moments)))


def _draw_drifting(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault | None:
    low, high, most = DRIFTS_BY
    per_cycle = chance.uniform(low, high) / (plan.cycles - 1)
    since = (plan.moments.time - plan.moments.time[0])[:, None]
    shows = distinctness(plan, who, shape_of(plan, who, Fault(way, by=per_cycle))[:, None], beside=since)[0]
    per_cycle *= max(1.0, PLAIN / shows)
    if per_cycle * (plan.cycles - 1) > most:
        return None
    return Fault(way, by=per_cycle * (1 if chance.integers(2) else -1))


def _draw_swapped(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault | None:
    if set(plan.hands) != {"left", "right"}:
        return None
    times = [plan.moments.time[plan.moments.of_hand(hand)] for hand in plan.hands]
    alike = len(times[0]) == len(times[1]) and np.allclose(*times, atol=0.02 * period_of(plan))
    return None if alike else Fault(way)


def _draw_half(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault:
    return Fault(way, by=period_of(plan) / 2 * (1 if chance.integers(2) else -1))


def _draw_lag(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault | None:
    if len(plan.hands) < 2:
        return None
    hand = plan.hands[int(chance.integers(len(plan.hands)))]
    mine = plan.moments.time[plan.moments.of_hand(hand)]
    step = float(np.diff(mine).min())
    fault = Fault(way, hand=hand, by=chance.uniform(*LAG_BY) * step)
    shows = distinctness(plan, who, shape_of(plan, who, fault)[:, None])[0]
    by = fault.by * max(1.0, PLAIN / shows)
    return replace(fault, by=by * (1 if chance.integers(2) else -1)) if by <= LAG_BY[1] * step else None


def _draw_little(plan: Plan, who: Who, way: str, chance: np.random.Generator) -> Fault:
    return Fault(way, moment=int(chance.integers(2)))


def median_step(plan: Plan) -> float:
    """Return the median step of the hand whose steps are smallest, in seconds."""
    return float(min(np.median(np.diff(plan.moments.time[plan.moments.of_hand(hand)])) for hand in plan.hands))


_DRAWN = {
    "long": _draw_cycle,
    "short": _draw_cycle,
    "late": _draw_moment,
    "early": _draw_moment,
    "hesitated": _draw_hesitated,
    "slipped": _draw_slipped,
    "all_late": _draw_all,
    "all_early": _draw_all,
    "late_entry": _draw_late_entry,
    "stopped": _draw_stopped,
    "drifting": _draw_drifting,
    "hands_swapped": _draw_swapped,
    "half_cycle_off": _draw_half,
    "lag_off": _draw_lag,
    "too_little": _draw_little,
}
