"""What goes wrong in a take, done to the onsets: from one moment to the whole take.

Times are in seconds, late is positive. A cycle reaches from its first moment, whichever hand's, to that of the next.

=============== =====================================================================================================
even            nothing
long, short     a cycle, evenly inside it; the lateness is kept for good, or made good by her correction
long_and_short  one cycle longer, another one shorter by as much, each evenly, kept or made good
late, early     one moment
missed, extra   one moment without an onset; one onset between two moments
both            a missed moment in one cycle, an extra onset in another one
hesitated       one step longer, and the lateness kept
slipped         from a cycle on everything n counts late; n below 0: what would have come in these counts is left out
all_late, -early    everything, by the same
late_entry      n cycles late: she joins where the others are, or begins from the begin and goes on longer
stopped         nothing after a moment
other_tempo     ``ratio`` is her tempo over the tempo asked: 2 is twice as fast
drifting        each cycle longer (or shorter) than the one before by the same
hands_swapped   each hand does the other one's moments
half_cycle_off  everything half a cycle late (or early)
lag_off         one hand, by the same
no_rhythm       as many onsets, anywhere in the time
too_little      one or two onsets
=============== =====================================================================================================
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan


@dataclass(frozen=True)
class Fault:
    """One thing that goes wrong.

    Parameters
    ----------
    kind : str
        A finding's kind (``tempo_coach.score.faults.findings.Happened``), ``both``, or ``long_and_short``.
    cycle : int
        The long or short cycle; the first one that slipped; of ``late_entry`` how many are late.
    moment : int
        Position in the plan of what is late, early or missed, of the last one before an extra onset or a hesitation, of
        the last one that is done at all.
    other : int
        Of ``both``: the position of the last moment before the extra onset.
    short : int
        Of ``long_and_short``: the cycle that is shorter.
    hand : str
        Of ``lag_off``.
    by : float
        Seconds; of ``extra`` and ``both`` from the moment before to the extra onset; of ``drifting`` by how much each
        period is longer than the one before, as a share.
    counts, ratio : float
        Of ``slipped`` and of ``other_tempo``.
    kept : bool
        Whether the lateness of a long or short cycle stays.
    cut : bool
        Whether she ends with the plan, though she is behind.
    goes_on : bool
        Whether she goes on with more cycles to the plan's end, because she is ahead.
    """

    kind: str = "even"
    cycle: int = -1
    moment: int = -1
    other: int = -1
    short: int = -1
    hand: str = ""
    by: float = 0.0
    counts: float = 0.0
    ratio: float = 1.0
    kept: bool = True
    cut: bool = False
    goes_on: bool = False


EVEN = Fault()


@dataclass(frozen=True, eq=False)
class Done:
    """Onsets in any order: columns of time, hand and the moment of the plan that is answered (-1: none)."""

    time: np.ndarray
    hand: list[str]
    moment: np.ndarray


@cache
def lay(drill: str, cycles: int) -> Plan:
    """Return the plan of a drill at its own tempo."""
    return coach.lay(coach.Request(drill, cycles=cycles))


def longer_script(plan: Plan) -> Plan:
    """Return the plan with more than twice as many cycles."""
    return lay(plan.drill, 2 * plan.cycles + 2)


@cache
def nodes_of(plan: Plan) -> np.ndarray:
    """Return where cycles begin, shape (cycles + 1,): at the first moment, whichever hand's."""
    firsts = np.array([plan.moments.time[plan.moments.cycle == c].min() for c in range(plan.cycles)])
    return np.append(firsts, firsts[-1] + (firsts[-1] - firsts[0]) / max(plan.cycles - 1, 1))


def period_of(plan: Plan) -> float:
    """Return the seconds of a cycle."""
    nodes = nodes_of(plan)
    return float((nodes[-1] - nodes[0]) / plan.cycles)


def neighbouring_steps(plan: Plan, moment: int) -> tuple[float, float]:
    """Return the steps of the hand before and after a moment; infinite where there is none."""
    mine = plan.moments.of_hand(plan.moments.hand[moment])
    k = int(np.searchsorted(mine, moment))
    times = plan.moments.time[mine]
    before = times[k] - times[k - 1] if k else np.inf
    return float(before), float(times[k + 1] - times[k] if k + 1 < len(mine) else np.inf)


def ramp(plan: Plan, cycle: int, *, correction: float, kept: bool, stepwise: bool) -> np.ndarray:
    """Return the lateness of each moment where a cycle is longer by 1."""
    nodes, period = nodes_of(plan), period_of(plan)
    behind = np.arange(plan.cycles + 1) - cycle - 1
    keeps = 1.0 if kept else 1 - correction
    at_nodes = np.where(behind >= 0, keeps ** np.maximum(behind, 0), 0.0)
    shape = np.interp(plan.moments.time, nodes, at_nodes)
    # of a hand that trails, behind the last node
    since = (plan.moments.time - nodes[cycle + 1]) / period
    return np.where(since > 0, keeps ** np.maximum(since, 0), shape) if stepwise else shape


def alter(
    plan: Plan,
    script: Plan,
    fault: Fault,
    late: np.ndarray,
    *,
    correction: float,
    stepwise: bool,
    chance: np.random.Generator,
) -> Done:
    """Return what is done of a script by somebody whose scatter makes her ``late``, with a fault."""
    moment = np.arange(len(script.moments))
    moment[len(plan.moments) :] = -1
    hand = list(script.moments.hand)
    if fault.kind == "hands_swapped":
        other = dict(zip(plan.hands, plan.hands[::-1], strict=True))
        hand = [other[each] for each in hand]
    asked = script.moments.time
    if fault.kind == "no_rhythm":
        moment, times = np.full(len(asked), -1), chance.uniform(asked[0], asked[-1], len(asked))
    elif fault.kind == "other_tempo":
        times = asked[0] + (asked + late - asked[0]) / fault.ratio
    else:
        times = asked + late + shift(plan, fault, correction=correction, stepwise=stepwise)
    keep = _keep(plan, fault, moment)
    if fault.cut or fault.goes_on:
        keep &= times <= nodes_of(plan)[-1]
    done = Done(times[keep], [each for each, kept in zip(hand, keep, strict=True) if kept], moment[keep])
    before = {"extra": fault.moment, "both": fault.other}.get(fault.kind)
    if before is None:
        return done
    return Done(np.append(done.time, times[before] + fault.by), [*done.hand, hand[before]], np.append(done.moment, -1))


def shift(plan: Plan, fault: Fault, *, correction: float, stepwise: bool) -> np.ndarray:
    """Return the lateness that a fault adds to each moment of the plan, in seconds."""
    kind, asked = fault.kind, plan.moments.time
    if kind in ("long", "short"):
        return fault.by * ramp(plan, fault.cycle, correction=correction, kept=fault.kept, stepwise=stepwise)
    if kind == "long_and_short":
        longer, shorter = (
            ramp(plan, each, correction=correction, kept=fault.kept, stepwise=stepwise)
            for each in (fault.cycle, fault.short)
        )
        return fault.by * (longer - shorter)
    if kind in ("late", "early"):
        return fault.by * (np.arange(len(asked)) == fault.moment)
    if kind == "hesitated":
        return fault.by * (asked > asked[fault.moment] + 1e-6)
    if kind == "slipped":
        return seconds_slipped(plan, fault) * (asked > nodes_of(plan)[fault.cycle] - 1e-6)
    if kind in ("all_late", "all_early", "half_cycle_off"):
        return np.full(len(asked), fault.by)
    if kind == "lag_off":
        return fault.by * (np.array(plan.moments.hand) == fault.hand)
    if kind == "late_entry" and not fault.cut:
        return np.full(len(asked), fault.cycle * period_of(plan))
    if kind == "drifting":
        since = (asked - asked[0]) / period_of(plan)
        return period_of(plan) * fault.by * since * (since - 1) / 2
    return np.zeros(len(asked))


def seconds_slipped(plan: Plan, fault: Fault) -> float:
    """Return by how many seconds she is late who slipped by counts."""
    return fault.counts * period_of(plan) / plan.cycle_counts


def _keep(plan: Plan, fault: Fault, moment: np.ndarray) -> np.ndarray:
    """Which moments are done at all."""
    kind = fault.kind
    if kind in ("stopped", "too_little"):
        return moment <= fault.moment
    if kind in ("missed", "both"):
        return moment != fault.moment
    if kind == "late_entry" and fault.cut:
        return plan.moments.cycle >= fault.cycle
    if kind == "slipped":
        # who jumps ahead leaves out what would have come then, and what comes a moment before it
        asked, begin = plan.moments.time, nodes_of(plan)[fault.cycle]
        gap = 0.5 * np.diff(np.unique(np.round(asked, 6))).min()
        return ~((asked < begin - 1e-6) & (asked > begin + seconds_slipped(plan, fault) - gap))
    return np.ones(len(moment), dtype=bool)
