"""A simulated performer: known bias, spread, drift, correction and faults, laid on any plan.

Everything here is invented; the models are those of the literature on tapping (Wing & Kristofferson 1973; linear phase
correction, Vorberg & Schulze 2002, formulas from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.take.onsets import Onsets, Take

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan


@dataclass(frozen=True)
class Performer:
    """What somebody does on average; times in shares of the asked period.

    Parameters
    ----------
    bias : float
        Mean asynchrony.
    gain : float
        Share of the last asynchrony of the cycle's clock that is corrected by the next cycle.
    clock, motor : float
        SD of the inner clock per cycle, and of each single movement.
    drift : float
        By how much each period is longer than the one before.
    """

    bias: float = 0.0
    gain: float = 0.3
    clock: float = 0.02
    motor: float = 0.0158
    drift: float = 0.0


@dataclass(frozen=True)
class Faults:
    """What goes wrong: the cycle of each fault, or None.

    ``long_by`` and ``late_by`` are shares of the asked period; what is long stays late until it is corrected.
    """

    long_cycle: int | None = None
    late_cycle: int | None = None
    missed_cycle: int | None = None
    extra_cycle: int | None = None
    long_by: float = 0.20
    late_by: float = 0.12


def correct(generator: np.random.Generator, n: int, *, gain: float, clock: float, motor: float) -> np.ndarray:
    """Return n asynchronies of somebody who corrects a share of each one by the next."""
    delays = generator.normal(0, motor, n + 200)
    steps = generator.normal(0, clock, n + 200)
    inner = np.zeros(n + 200)
    for k in range(1, n + 200):
        inner[k] = (1 - gain) * inner[k - 1] - gain * delays[k - 1] + steps[k]
    return (inner + delays)[200:] if 0 < gain < 2 else (inner + delays)[:n]


def variance_of_correction(gain: float, *, clock: float, motor: float) -> float:
    """Return the variance of the asynchronies of :func:`correct`."""
    return motor**2 + (clock**2 + gain**2 * motor**2) / (1 - (1 - gain) ** 2)


def perform(
    plan: Plan,
    who: Performer,
    generator: np.random.Generator,
    *,
    faults: Faults | None = None,
    observed_by: str = "file",
) -> Take:
    """Return a take of a performer on a plan."""
    faults = faults or Faults()
    moments = plan.moments
    cycles = plan.cycles
    anchors = np.array([moments.time[moments.cycle == c].min() for c in range(cycles)])
    period = float(np.median(np.diff(anchors)))
    inner = (
        correct(generator, cycles + 1, gain=who.gain, clock=who.clock, motor=0.0) if who.clock else np.zeros(cycles + 1)
    )
    inner = inner - (inner[0] if who.gain == 0 else 0)
    if faults.long_cycle is not None:
        behind = np.arange(cycles + 1) - faults.long_cycle - 1
        inner += np.where(behind >= 0, faults.long_by * (1 - who.gain) ** np.maximum(behind, 0), 0.0)
    number = np.arange(cycles + 1)
    inner += who.drift * number * (number - 1) / 2
    share = (moments.time - anchors[moments.cycle]) / period
    wander = inner[moments.cycle] + (inner[moments.cycle + 1] - inner[moments.cycle]) * share
    times = moments.time + period * (who.bias + wander + generator.normal(0, who.motor, len(moments)))
    keep = np.ones(len(moments), dtype=bool)
    if faults.late_cycle is not None:
        times[pick(plan, faults.late_cycle, generator)] += faults.late_by * period
    if faults.missed_cycle is not None:
        keep[pick(plan, faults.missed_cycle, generator)] = False
    hands = [hand for hand, kept in zip(moments.hand, keep, strict=True) if kept]
    times = times[keep]
    if faults.extra_cycle is not None:
        k = pick(plan, faults.extra_cycle, generator)
        later = [j for j in moments.of_hand(moments.hand[k]) if moments.time[j] > moments.time[k]]
        step = moments.time[later[0]] - moments.time[k] if later else period
        times, hands = np.append(times, moments.time[k] + 0.45 * step), [*hands, moments.hand[k]]
    return Take(plan, Onsets.unsorted(times.tolist(), hands), observed_by=observed_by)  # type: ignore[arg-type]


def pick(plan: Plan, cycle: int, generator: np.random.Generator) -> int:
    """Return the position of a moment of the cycle, drawn by chance."""
    return int(generator.choice(np.flatnonzero(plan.moments.cycle == cycle)))
