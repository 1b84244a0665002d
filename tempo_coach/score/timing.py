"""How lateness wanders in a good take: a grid of models of timing, each as the covariance of all moments of a stretch.

In each model a clock that all hands share runs on with noise, a share of its lateness is corrected by the next cycle,
and every movement adds a delay of its own (linear phase correction, Wing & Kristofferson 1973, Vorberg & Schulze 2002,
from memory). The clock's noise comes once a cycle, spread evenly over it, or with time. On top lies what a take may
have that is no fault of single cycles: a constant lateness, an offset of each moment, a tempo of her own.

Nobody knows the correction or the share of the movement beforehand, so a take is held against the whole grid, each
model as heavy as the take makes it (Bayesian model averaging). Scale is free but for a weak prior.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.times import Floats, Ints

#: Share of the lateness of the clock that is corrected by the next cycle.
CORRECTION = (0.1, 0.35, 0.6, 0.9)
#: Share of the movements in the variance of a period.
MOVEMENT = (0.1, 0.35, 0.6, 0.9)
#: Share of the clock's noise that comes once a cycle; the rest comes with time.
BY_CYCLE = (0.0, 1.0)
#: Prior SD, over that of a period, of the constant lateness, of each label's offset, and of the tempo per cycle.
CONSTANT_SD, LABEL_SD, TEMPO_SD = 100.0, 1.5, 0.3
#: Prior scale of a period's SD, a share of the cycle, and the degrees of freedom that the prior is worth.
USUAL_SD, USUAL_FREEDOM = 0.03, 3.0


class Layout(NamedTuple):
    """Where the moments of a stretch lie, in order of time, shape (n,) each.

    ``position`` is in cycles (2.25: a quarter into cycle 2), ``label`` numbers the moments of the pattern.
    """

    position: Floats
    label: Ints


@dataclass(frozen=True, eq=False)
class Timing:
    """The grid of models for one layout.

    Parameters
    ----------
    precision : array, shape (g, n, n)
        Inverse covariance of lateness for a period's variance of 1.
    log_determinant : array, shape (g,)
        Of the covariance.
    correction : array, shape (g,)
    """

    precision: Floats
    log_determinant: Floats
    correction: Floats


def model_timing(layout: Layout) -> Timing:
    """Return the grid of models for a layout; layouts that were asked for before are remembered."""
    return _model(since_first_cycle(layout).tobytes(), np.asarray(layout.label, dtype=np.int64).tobytes())


def since_first_cycle(layout: Layout) -> Floats:
    """Return where the moments lie from the begin of the layout's first cycle on, rounded so that equals are equal."""
    position: Floats = np.round(layout.position - np.floor(layout.position[0] + 1e-9), 6)
    return position


@lru_cache(maxsize=8)
def _model(position_bytes: bytes, label_bytes: bytes) -> Timing:
    position, label = np.frombuffer(position_bytes), np.frombuffer(label_bytes, dtype=np.int64)
    n = len(position)
    middle = position - position.mean()
    always = CONSTANT_SD**2 + TEMPO_SD**2 * np.outer(middle, middle)
    always = always + LABEL_SD**2 * (label[:, None] == label[None, :])
    cycle = np.floor(position + 1e-9).astype(np.int64)
    share = np.clip(position - cycle, 0, 1)
    ends = np.arange(cycle.max() + 2)
    between = np.zeros((n, len(ends)))
    between[np.arange(n), cycle] = 1 - share
    between[np.arange(n), cycle + 1] = share
    apart, cycles_apart = np.abs(np.subtract.outer(position, position)), np.abs(np.subtract.outer(ends, ends))
    covariances, corrections = [], []
    for correction in CORRECTION:
        kept = 1 - correction
        wander = kept**apart / (1 - kept**2)
        by_cycle = between @ (kept**cycles_apart / (1 - kept**2)) @ between.T
        for movement in MOVEMENT:
            for share_by_cycle in BY_CYCLE:
                clock = share_by_cycle * by_cycle + (1 - share_by_cycle) * wander
                covariances.append(always + (1 - movement) * clock + movement / 2 * np.eye(n))
                corrections.append(correction)
    lower = np.linalg.cholesky(np.array(covariances))
    whitener = np.linalg.inv(lower)
    precision = np.swapaxes(whitener, 1, 2) @ whitener
    log_determinant = 2 * np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    return Timing(precision, log_determinant, np.array(corrections))


def whiten(precision: Floats) -> Floats:
    """Return the lower triangle that turns lateness into innovations, each given what came before it.

    Parameters
    ----------
    precision : array, shape (n, n)
    """
    lower = np.linalg.cholesky(precision[::-1, ::-1])
    return np.ascontiguousarray(lower[::-1, ::-1].T)
