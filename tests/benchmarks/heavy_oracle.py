"""The test that is told everything, where scatter has heavy tails: likelihood ratios, and their power by simulation.

Least squares are not the best there. The likelihood itself is summed over a grid of the clock's lateness at the begin
of each cycle, forward and backward; a long cycle changes one error of the clock, or everything behind it, and a late
moment one movement, so that each candidate costs one step. The test is told the size of the fault as well, but not
whether it is late or early, and that nothing else is off: no test finds more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from tests.benchmarks.drawn import draw_single, usual_late
from tests.benchmarks.faults import nodes_of
from tests.benchmarks.oracle import shape_of
from tests.benchmarks.performers import draw_noise, lateness, scales

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan
    from tests.benchmarks.performers import Who

#: Spacing of the grid in SDs of the smaller source of scatter, and how far it reaches beyond what was seen.
SPACING, BEYOND = 0.4, 3.0


class Ratios(NamedTuple):
    """Log likelihood ratios of one take: of each cycle being long or short, of each moment being late or early."""

    cycles: np.ndarray
    moments: np.ndarray


def ratios(
    plan: Plan,
    who: Who,
    late: np.ndarray,
    *,
    long_by: float = 0.0,
    kept: bool = False,
    late_by: np.ndarray | None = None,
) -> Ratios:
    """Return the log likelihood ratios of one take: of its cycles, or of its moments where ``late_by`` is given.

    Parameters
    ----------
    plan : Plan
    who : Who
        Of the heavy family, without a bias.
    late : array, shape (moments,)
        Lateness in seconds.
    long_by : float
        Seconds by which a cycle would be longer.
    kept : bool
        Whether that would be kept.
    late_by : array, shape (moments,), or None
        Seconds by which each moment would be late.
    """
    of_clock, of_motor = scales(plan, who)
    step = SPACING * min(of_clock, of_motor)
    most = abs(late).max() + long_by + BEYOND * (of_clock + of_motor)
    grid = np.arange(-most, most + step, step)
    keeps = 1 - who.correction
    nodes = nodes_of(plan)
    cycle = np.clip(np.searchsorted(nodes, plan.moments.time, side="right") - 1, 0, plan.cycles - 1)
    share = (plan.moments.time - nodes[cycle]) / (nodes[cycle + 1] - nodes[cycle])

    def errs(by: float) -> np.ndarray:
        return log_density((grid[None, :] - by - keeps * grid[:, None]) / of_clock)

    def moves(k: int, by: float) -> np.ndarray:
        inner = (1 - share[k]) * grid[:, None] + share[k] * grid[None, :]
        return log_density((late[k] - by - inner) / of_motor)

    inside = [np.flatnonzero(cycle == c) for c in range(plan.cycles)]
    plain = errs(0.0)
    steps = [plain + sum(moves(k, 0.0) for k in inside[c]) for c in range(plan.cycles)]
    settled = of_clock / (1 - keeps**2) ** 0.5
    forward = [log_density(grid / settled)]
    for each in steps:
        forward.append(log_sum(forward[-1][:, None] + each, axis=0))
    backward = backwards(steps)
    whole = float(log_sum(forward[-1], axis=0))
    cycles, moments = np.full((2, plan.cycles), -np.inf), np.full((2, len(late)), -np.inf)
    for number, sign in enumerate((1.0, -1.0)):
        if late_by is None:
            by, behind = sign * long_by, backward
            if kept:
                behind = backwards([plain + sum(moves(k, by) for k in inside[c]) for c in range(plan.cycles)])
            for c in range(plan.cycles):
                # kept: the ramp and all that follows are seen by so much later; else one error of the clock is larger
                ramp = sum(moves(k, by * share[k]) for k in inside[c]) + plain if kept else steps[c] - plain + errs(by)
                cycles[number, c] = log_sum(forward[c][:, None] + ramp + behind[c + 1][None, :]) - whole
            continue
        for c in range(plan.cycles):
            joint = forward[c][:, None] + steps[c] + backward[c + 1][None, :]
            for k in inside[c]:
                moments[number, k] = log_sum(joint - moves(k, 0.0) + moves(k, sign * late_by[k])) - whole
    return Ratios(cycles.max(axis=0), moments.max(axis=0))


def backwards(steps: list[np.ndarray]) -> list[np.ndarray]:
    """Return the log likelihood of what follows each node, over the grid."""
    behind = [np.zeros(len(steps[0]))]
    for each in reversed(steps):
        behind.append(log_sum(each + behind[-1][None, :], axis=1))
    return behind[::-1]


def log_density(apart: np.ndarray) -> np.ndarray:
    """Return the log density, but for a constant, of t with 3 degrees of freedom scaled to an SD of 1."""
    return -2 * np.log1p(apart**2)


def log_sum(values: np.ndarray, axis: int | None = None) -> np.ndarray:
    """Return the log of the sum of exponentials."""
    top = values.max(axis=axis, keepdims=True)
    return np.squeeze(top, axis=axis) + np.log(np.exp(values - top).sum(axis=axis))


def simulate_power(
    plan: Plan, who: Who, *, rate: float, good_cycles: int, faults: int, size: float = 1.0, seed: int = 1
) -> dict[str, float]:
    """Return the share of long cycles and late moments that are found at a rate of false flags.

    Parameters
    ----------
    plan : Plan
    who : Who
        Of the heavy family.
    rate : float
        Good cycles that are flagged; half of them for the cycle, half for a moment.
    good_cycles : int
        How many are looked at for the thresholds.
    faults : int
        How many of each kind are looked at.
    size : float
        Of the faults, as a share of the usual size.
    seed : int
    """
    chance = np.random.default_rng(seed)
    found = {}
    for kind in ("long", "late"):
        good: list[np.ndarray] = []
        bad = []
        for number in range(max(good_cycles // plan.cycles, faults)):
            fault = draw_single(plan, kind, chance, size=size)
            late = lateness(plan, who, *draw_noise(plan, who, chance))
            told: dict[str, Any] = {"late_by": usual_sizes(plan) * size}
            if kind == "long":
                told = {"long_by": fault.by, "kept": fault.kept}
            clean = ratios(plan, who, late, **told)
            per_cycle = clean.cycles
            if kind == "late":
                per_cycle = np.array([clean.moments[plan.moments.cycle == c].max() for c in range(plan.cycles)])
            good.append(per_cycle)
            if number < faults:
                broken = ratios(plan, who, late + shape_of(plan, who, fault), **told)
                bad.append(broken.cycles[fault.cycle] if kind == "long" else broken.moments[fault.moment])
        found[kind] = float(np.mean(np.array(bad) > np.quantile(np.concatenate(good), 1 - rate / 2)))
    return found


def usual_sizes(plan: Plan) -> np.ndarray:
    """Return by how many seconds each moment is late that is late as usual."""
    return np.array([usual_late(plan, k) for k in range(len(plan.moments))])
