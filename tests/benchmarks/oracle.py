"""The test that is told everything: how much of a fault could be found at best.

It knows which onset answers which moment, the performer's correction and both sources of her scatter, and the shape of
the fault; only how large the fault is, and how far off everything is by the same, come from the take. For normal
scatter that is generalised least squares with her own covariance, and nothing finds more at the same rate of false
flags (Neyman & Pearson 1933).

A rate of false flags is that of good cycles. Half of it goes to the cycle as a whole, half to its moments, of which
each has the same part. Heavy tails: :mod:`tests.benchmarks.heavy_oracle`.

``python -m tests.benchmarks.oracle [DRILL ...]`` prints what can be found in each drill at best.
"""

from __future__ import annotations

import sys
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import norm

from tests.benchmarks.faults import shift
from tests.benchmarks.performers import Who, clock_errors, follow_clock, scales

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan
    from tests.benchmarks.faults import Fault


@lru_cache(maxsize=256)
def _clock_modes(plan: Plan, family: str, correction: float) -> tuple[np.ndarray, np.ndarray]:
    """Variances and shapes (in rows) of the independent parts of what the clock's unit errors lead to."""
    follows = follow_clock(plan, family, correction, np.eye(clock_errors(plan, Who(family))))
    variances, shapes = np.linalg.eigh(follows @ follows.T)
    return np.maximum(variances, 0.0), shapes.T


def _modes(plan: Plan, who: Who) -> tuple[np.ndarray, np.ndarray]:
    of_clock, of_motor = scales(plan, who)
    variances, shapes = _clock_modes(plan, "cycle" if who.family == "heavy" else who.family, who.correction)
    return of_clock**2 * variances + of_motor**2, shapes


def covariance(plan: Plan, who: Who) -> np.ndarray:
    """Return the covariance of the lateness of the plan's moments, in seconds squared."""
    variances, shapes = _modes(plan, who)
    return (shapes.T * variances) @ shapes


def whiten(plan: Plan, who: Who, shapes: np.ndarray) -> np.ndarray:
    """Return shapes of lateness, in columns, in SDs of independent parts of her scatter."""
    variances, parts = _modes(plan, who)
    return (parts @ shapes) / np.sqrt(variances)[:, None]


def distinctness(plan: Plan, who: Who, shapes: np.ndarray, *, beside: np.ndarray | None = None) -> np.ndarray:
    """Return in how many SDs each shape of lateness shows, shapes in columns, shape (moments, k).

    ``beside`` are columns of what may be there as well and is not known; a lateness of everything is always one.
    """
    nuisance = np.ones((len(plan.moments), 1))
    if beside is not None:
        nuisance = np.hstack([nuisance, beside])
    white = whiten(plan, who, np.hstack([nuisance, shapes]))
    known, _ = np.linalg.qr(white[:, : nuisance.shape[1]])
    left = white[:, nuisance.shape[1] :]
    return np.linalg.norm(left - known @ (known.T @ left), axis=0)


def level_sd(plan: Plan, who: Who) -> float:
    """Return the SD with which the lateness of everything can be known at best, in seconds."""
    return 1 / float(np.linalg.norm(whiten(plan, who, np.ones((len(plan.moments), 1)))))


def seen_in(plan: Plan, who: Who, late: np.ndarray, shape: np.ndarray) -> float:
    """Return in how many SDs of her own scatter a shape of lateness, (moments,), is there in a take.

    ``late`` is in seconds, NaN where missed, and a lateness of everything is taken out unless that is the shape.
    """
    known = ~np.isnan(late)
    inverse = np.linalg.inv(covariance(plan, who)[np.ix_(known, known)])
    columns = [shape[known].astype(float)] + ([np.ones(int(known.sum()))] if np.ptp(shape) > 0 else [])
    weighted = np.stack(columns) @ inverse
    information = weighted @ np.stack(columns).T
    size = np.linalg.solve(information, weighted @ late[known])[0]
    return float(size / np.sqrt(np.linalg.inv(information)[0, 0]))


def shape_of(plan: Plan, who: Who, fault: Fault) -> np.ndarray:
    """Return the lateness in seconds that a fault adds to each moment."""
    return shift(plan, fault, correction=who.correction, stepwise=who.family == "step")


def power(plan: Plan, who: Who, fault: Fault, *, rate: float) -> float:
    """Return the chance of finding a fault at a rate of false flags, of good cycles; for normal scatter."""
    tests = 2.0 if fault.kind in ("long", "short") else 2.0 * len(plan.moments) / plan.cycles
    threshold = norm.isf(rate / tests / 2)
    shows = distinctness(plan, who, shape_of(plan, who, fault)[:, None])[0]
    return float(norm.sf(threshold - shows) + norm.cdf(-threshold - shows))


def main(names: list[str]) -> None:
    """Print the chance of finding long cycles and late moments at a spread of 3 % and 5 false flags in 1,000 cycles."""
    from tests.benchmarks.drawn import draw_single, draw_who
    from tests.benchmarks.faults import lay
    from tests.benchmarks.judging import QUICK, drills

    sizes = {"long": (0.25, 0.5, 0.75, 1.0, 1.5), "late": (0.5, 1.0, 1.5)}
    heads = [f"{kind} {size:g}" for kind, each in sizes.items() for size in each]
    print(f"{'at a spread of 3 %, in %':34}" + "".join(f"{head:>10}" for head in heads))
    for drill in names or drills():
        for family in ("cycle", "step", "wandering"):
            for cycles in (8, 16, 32):
                plan, found = lay(drill, cycles), []
                for kind, each in sizes.items():
                    for size in each:
                        chance = np.random.default_rng([QUICK, cycles])
                        drawn = [
                            (
                                draw_who(chance, spread=0.03, families=(family,)),
                                draw_single(plan, kind, chance, size=size),
                            )
                            for _ in range(40)
                        ]
                        found.append(100 * np.mean([power(plan, who, fault, rate=0.005) for who, fault in drawn]))
                print(
                    f"{drill:20.20} {family:9} {cycles:3}" + "".join(f"{value:>10.0f}" for value in found), flush=True
                )


if __name__ == "__main__":
    main(sys.argv[1:])
