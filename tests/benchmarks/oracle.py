"""The test that is told everything: how much of a fault could be found at best.

It knows which onset answers which moment, the performer's correction and both sources of her scatter, and the shape of
the fault; only how large the fault is, and how far off everything is by the same, come from the take. For normal
scatter that is generalised least squares with her own covariance, and nothing finds more at the same rate of false
flags (Neyman & Pearson 1933).

A rate of false flags is that of good cycles. Half of it goes to the cycle as a whole, half to its moments, of which
each has the same part.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.stats import norm

from tests.benchmarks.faults import ramp
from tests.benchmarks.performers import clock_errors, lateness

if TYPE_CHECKING:
    from tempo_coach.pattern.plan import Plan
    from tests.benchmarks.faults import Fault
    from tests.benchmarks.performers import Who


def covariance(plan: Plan, who: Who) -> np.ndarray:
    """Return the covariance of the lateness of the plan's moments, in seconds squared."""
    clock, moments = clock_errors(plan, who), len(plan.moments)
    spread = lateness(
        plan,
        who,
        np.hstack([np.eye(clock), np.zeros((clock, moments))]),
        np.hstack([np.zeros((moments, clock)), np.eye(moments)]),
    )
    return spread @ spread.T


def distinctness(plan: Plan, who: Who, shapes: np.ndarray, *, beside: np.ndarray | None = None) -> np.ndarray:
    """Return in how many SDs each shape of lateness shows, shapes in columns, shape (moments, k).

    ``beside`` are columns of what may be there as well and is not known; a lateness of everything is always one.
    """
    nuisance = np.ones((len(plan.moments), 1))
    if beside is not None:
        nuisance = np.hstack([nuisance, beside])
    factor = cho_factor(covariance(plan, who), lower=True)
    white = cho_solve(factor, np.hstack([shapes, nuisance]))
    k = shapes.shape[1]
    across = shapes.T @ white[:, k:]
    left = np.einsum("ij,ij->j", shapes, white[:, :k])
    explained = np.einsum("ij,ji->i", across, np.linalg.solve(nuisance.T @ white[:, k:], across.T))
    return np.sqrt(np.maximum(left - explained, 0.0))


def shape_of(plan: Plan, who: Who, fault: Fault) -> np.ndarray:
    """Return the lateness in seconds that a long or short cycle, or a late or early moment, adds."""
    if fault.kind in ("late", "early"):
        shape = np.zeros(len(plan.moments))
        shape[fault.moment] = fault.by
        return shape
    return fault.by * ramp(plan, fault.cycle, correction=who.correction, kept=fault.kept, stepwise=who.family == "step")


def power(plan: Plan, who: Who, fault: Fault, *, rate: float) -> float:
    """Return the chance of finding a fault at a rate of false flags, of good cycles; for normal scatter."""
    tests = 2.0 if fault.kind in ("long", "short") else 2.0 * len(plan.moments) / plan.cycles
    threshold = norm.isf(rate / tests / 2)
    shows = distinctness(plan, who, shape_of(plan, who, fault)[:, None])[0]
    return float(norm.sf(threshold - shows) + norm.cdf(-threshold - shows))
