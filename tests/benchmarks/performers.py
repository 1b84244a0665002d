"""Performers that judge the verdict: four families of scatter, laid on any plan together with the truth.

Nothing here shares code with :mod:`tests.benchmarks.performer`. Things may be tuned on seeds for that, never on the
judging seeds (:mod:`tests.benchmarks.judging`). Everybody corrects a share of the lateness of her inner clock by the
next cycle (linear phase correction, Vorberg & Schulze 2002; clock and movement as two sources of scatter, Wing &
Kristofferson 1973; both from memory), both hands share the clock, and each movement adds its own scatter.

========== ======================================================================================================
cycle      the clock errs once a cycle, and what it errs by grows evenly inside the cycle
step       the clock errs from each moment to the next, in proportion to that step, both hands in one sequence
heavy      as ``cycle``, all scatter with the tails of Student's t with 3 degrees of freedom
wandering  as ``cycle``, and the clock's errors are like their neighbours (autocorrelation .6)
========== ======================================================================================================

*Spread* is the coefficient of variation of what is done, correction and movement included: of the steps from onset to
onset of a hand for ``step`` (root mean square over the steps), of the periods of the hand that begins for the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import lfilter

from tempo_coach.observe.take.onsets import Onsets, Take
from tests.benchmarks.faults import EVEN, Fault, alter, longer_script, nodes_of

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan

FAMILIES = ("cycle", "step", "heavy", "wandering")
#: Autocorrelation of the clock's errors of who wanders.
WANDER = 0.6
#: Cycles before the first one, so that she is in the middle of it; .75 ** 48 is a millionth.
BEFORE = 48


@dataclass(frozen=True)
class Who:
    """A performer.

    Parameters
    ----------
    family : {"cycle", "step", "heavy", "wandering"}
    spread : float
        Coefficient of variation, as above.
    correction : float
        Share of the clock's lateness that is gone a cycle later.
    motor_share : float
        Share of the movements in the variance of which ``spread`` is the root.
    bias : float
        Seconds.
    """

    family: str = "cycle"
    spread: float = 0.03
    correction: float = 0.4
    motor_share: float = 0.5
    bias: float = 0.0


@dataclass(frozen=True, eq=False)
class Performance:
    """A take and what is true of it.

    Parameters
    ----------
    take : Take
    who : Who
    fault : Fault
    answer : array of int, shape (moments,)
        The onset that answers each moment of the plan; -1 where none does.
    extra : array of bool, shape (onsets,)
        Onsets that answer no moment of the plan.
    """

    take: Take
    who: Who
    fault: Fault
    answer: np.ndarray
    extra: np.ndarray


def perform(plan: Plan, who: Who, generator: np.random.Generator, fault: Fault = EVEN) -> Performance:
    """Return a performer's take of a plan, and the truth."""
    script = longer_script(plan) if fault.goes_on else plan
    clock, motor = draw_noise(script, who, generator)
    late = who.bias + lateness(script, who, clock, motor)
    done = alter(plan, script, fault, late, correction=who.correction, stepwise=who.family == "step", chance=generator)
    order = np.argsort(done.time, kind="stable")
    moment = done.moment[order]
    answer = np.full(len(plan.moments), -1)
    answer[moment[moment >= 0]] = np.flatnonzero(moment >= 0)
    onsets = Onsets(done.time[order], tuple(done.hand[k] for k in order))
    return Performance(Take(plan, onsets, observed_by="file"), who, fault, answer, moment < 0)


def draw_noise(plan: Plan, who: Who, generator: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return the unit errors of clock and movements of one take."""
    sizes = clock_errors(plan, who), len(plan.moments)
    if who.family == "heavy":
        return tuple(generator.standard_t(3, size) / 3**0.5 for size in sizes)
    return tuple(generator.standard_normal(size) for size in sizes)


def lateness(plan: Plan, who: Who, clock: np.ndarray, motor: np.ndarray) -> np.ndarray:
    """Return the lateness of each moment, in seconds, that unit errors of clock and movements lead to.

    Linear in both, column by column: with unit matrices it is the matrix of which covariances are made.
    """
    of_clock, of_motor = scales(plan, who)
    return of_clock * follow_clock(plan, who.family, who.correction, clock) + of_motor * motor


def clock_errors(plan: Plan, who: Who) -> int:
    """Return how many errors of the clock a take has."""
    return len(merged_times(plan)) if who.family == "step" else BEFORE + plan.cycles + 1


def scales(plan: Plan, who: Who) -> tuple[float, float]:
    """Return the SDs of an error of the clock (a share of the step, for ``step``) and of a movement, in seconds."""
    of_clock, of_motor = unit_variances(plan, who.family, who.correction)
    share = who.motor_share
    return who.spread * ((1 - share) / of_clock) ** 0.5, who.spread * (share / of_motor) ** 0.5


@cache
def unit_variances(plan: Plan, family: str, correction: float) -> tuple[float, float]:
    """Return the squared coefficients of variation that unit errors of the clock and of movements lead to."""
    moments = plan.moments
    if family == "step":
        pairs = np.concatenate(
            [np.stack([mine[:-1], mine[1:]]) for mine in (moments.of_hand(hand) for hand in plan.hands)], axis=1
        )
    else:
        first = moments.of_hand(moments.hand[0])
        anchors = first[np.unique(moments.cycle[first], return_index=True)[1]]
        pairs = np.stack([anchors[:-1], anchors[1:]])
    asked = moments.time[pairs[1]] - moments.time[pairs[0]]
    unit = np.eye(clock_errors(plan, Who(family)))
    of_clock = follow_clock(plan, family, correction, unit)
    change = ((of_clock[pairs[1]] - of_clock[pairs[0]]) ** 2).sum(axis=1)
    return float((change / asked**2).mean()), float((2 / asked**2).mean())


def follow_clock(plan: Plan, family: str, correction: float, errors: np.ndarray) -> np.ndarray:
    """Return the clock's lateness at each moment of the plan; ``errors`` of unit size, along the first axis."""
    keeps = 1 - correction
    if family == "step":
        return _follow_steps(plan, keeps, errors)
    if family == "wandering":
        errors = lfilter([1.0], [1.0, -WANDER], errors, axis=0)
    inner = lfilter([1.0], [1.0, -keeps], errors, axis=0)[BEFORE:]
    nodes = nodes_of(plan)
    before = np.clip(np.searchsorted(nodes, plan.moments.time, side="right") - 1, 0, plan.cycles - 1)
    share = (plan.moments.time - nodes[before]) / (nodes[before + 1] - nodes[before])
    share = share.reshape(-1, *[1] * (errors.ndim - 1))
    return inner[before] * (1 - share) + inner[before + 1] * share


def merged_times(plan: Plan) -> np.ndarray:
    """Return the times of the plan's moments, both hands in one sequence, each instant once."""
    return _merged(plan)[0]


@cache
def _merged(plan: Plan) -> tuple[np.ndarray, np.ndarray]:
    return np.unique(np.round(plan.moments.time, 9), return_inverse=True)


@cache
def _settled(plan: Plan, keeps: float) -> float:
    """SD of the clock's lateness at the first moment, of who has been at it for long."""
    nodes = nodes_of(plan)
    period = nodes[1] - nodes[0]
    steps = np.diff(merged_times(plan), append=nodes[-1])
    steps = steps[: round(len(steps) / plan.cycles)]
    variance = 0.0
    for _ in range(BEFORE):
        for step in steps:
            variance = variance * keeps ** (2 * step / period) + step**2
    return variance**0.5


def _follow_steps(plan: Plan, keeps: float, errors: np.ndarray) -> np.ndarray:
    times, which = _merged(plan)
    nodes = nodes_of(plan)
    steps = np.diff(times)
    held = keeps ** (steps / (nodes[1] - nodes[0]))
    inner = np.empty(errors.shape)
    inner[0] = _settled(plan, keeps) * errors[0]
    for k, (hold, step) in enumerate(zip(held.tolist(), steps.tolist(), strict=True)):
        inner[k + 1] = hold * inner[k] + step * errors[k + 1]
    return inner[which]
