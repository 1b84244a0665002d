"""Models of timing as covariances of lateness, and the shapes that faults have in it."""

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
#: Prior scale of a period's SD, a share of the cycle, and the degrees of freedom of that prior.
PRIOR_SD, PRIOR_FREEDOM = 0.03, 3.0


class Layout(NamedTuple):
    """Positions of a stretch's moments in order of time, shape (n,) each.

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
    """Return the grid of models for a layout; cached."""
    return _model(since_first_cycle(layout).tobytes(), np.asarray(layout.label, dtype=np.int64).tobytes())


def since_first_cycle(layout: Layout) -> Floats:
    """Return positions from the beginning of the layout's first cycle on, rounded so that equal ones compare equal."""
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
    """Return the lower triangle that turns lateness into innovations.

    Parameters
    ----------
    precision : array, shape (n, n)
    """
    lower = np.linalg.cholesky(precision[::-1, ::-1])
    return np.ascontiguousarray(lower[::-1, ::-1].T)


RAMP, STEP, MOMENT = 0, 1, 2
#: Shares of the lateness of a long cycle that are kept from each cycle to the next.
KEPT = (1.0, 0.75, 0.5, 0.25, 0.0)
#: Prior SD of the size of a fault, shares of the cycle: a cycle's length, and a single moment.
LONG_SD, MOMENT_SD = 0.15, 0.10
#: The same of a step that is too long, the shares of it that are kept, and its prior odds against the other two.
STEP_SD, STEP_KEPT, STEP_PRIOR = 0.4, (1.0, 0.5), 0.2
#: Fewer moments than this before a step are those that are displaced.
LEAST_BEFORE_STEP = 2
#: A moment is plainly off by a share of the shorter step beside it, but by so much of the cycle at least and at most.
PLAIN_SHARE, PLAIN_LEAST, PLAIN_MOST = 0.45, 0.05, 0.12


@dataclass(frozen=True, eq=False)
class Shapes:
    """Shapes of faults in the lateness of one layout: columns of equal length s.

    Parameters
    ----------
    shape : array, shape (s, n)
        Lateness of each moment for a fault of 1.
    kind : array of int, shape (s,)
        RAMP (a cycle), STEP (the step that ends at a moment) or MOMENT.
    cycle, moment : array of int, shape (s,)
        Number of the cycle from the first of the layout; position of the moment, or -1.
    hand : array of int, shape (s,)
        The hand that does it, or -1 for all.
    kept : array, shape (s,)
    log_prior : array, shape (s,)
        Of the faults of one cycle, together 1; of each kind the same share.
    size_sd : array, shape (s,)
    plain : array, shape (s,)
        How large one is that is plainly seen; 0 of what is no single moment.
    """

    shape: Floats
    kind: Ints
    cycle: Ints
    moment: Ints
    hand: Ints
    kept: Floats
    log_prior: Floats
    size_sd: Floats
    plain: Floats


def lay_shapes(layout: Layout, hand: Ints) -> Shapes:
    """Return the shapes of the faults of a layout; cached.

    Parameters
    ----------
    layout : Layout
    hand : numpy.ndarray, shape (n,)
        Which hand each moment is of, from 0.
    """
    return _shapes(since_first_cycle(layout).tobytes(), np.asarray(hand, dtype=np.int64).tobytes())


@lru_cache(maxsize=8)
def _shapes(position_bytes: bytes, hand_bytes: bytes) -> Shapes:
    position, hand = np.frombuffer(position_bytes), np.frombuffer(hand_bytes, dtype=np.int64)
    n, hands = len(position), np.unique(hand)
    cycle = np.floor(position + 1e-9).astype(np.int64)
    whose = [-1, *hands.tolist()] if len(hands) > 1 else [-1]
    plain = _plain_sizes(position, hand)
    rows: list[tuple[Floats, int, int, int, int, float, float, float, float]] = []
    for number in range(cycle.max() + 1):
        here = np.flatnonzero(cycle == number)
        for who in whose:
            mine = np.ones(n) if who < 0 else (hand == who).astype(float)
            share = (1.0 if who < 0 else 0.5) / (1 if who < 0 else len(hands))
            for kept in KEPT:
                after = np.maximum(position - number - 1, 0.0)
                decay = kept**after if kept else (after <= 0).astype(float)
                ramp = np.clip(position - number, 0, 1) * decay * mine
                # a cycle of which one moment alone is late is that moment
                if number < cycle.max() and np.count_nonzero(ramp) > 1:
                    rows.append((ramp, RAMP, number, -1, who, kept, share / len(KEPT), LONG_SD, 0.0))
        for i in here.tolist():
            for who in whose:
                if (who >= 0 and hand[i] != who) or position[i] < 0.2:
                    continue
                # of a hand that did nothing before it a step is its lag, and after one moment that one's displacement
                if np.count_nonzero((hand[:i] == who) if who >= 0 else np.arange(i) >= 0) < LEAST_BEFORE_STEP:
                    continue
                share = (1.0 if who < 0 else 0.5) / (1 if who < 0 else len(hands))
                mine = np.ones(n) if who < 0 else (hand == who).astype(float)
                for kept in STEP_KEPT:
                    decay = kept ** np.maximum(position - position[i], 0.0)
                    after = (position >= position[i] - 1e-9) * decay * mine
                    prior = STEP_PRIOR * share / len(here) / len(STEP_KEPT)
                    rows.append((after, STEP, number, i, who, kept, prior, STEP_SD, 0.0))
            single = np.zeros(n)
            single[i] = 1.0
            rows.append((single, MOMENT, number, i, int(hand[i]), 0.0, 1.0 / len(here), MOMENT_SD, plain[i]))
    columns = [np.array(each) for each in zip(*rows, strict=True)]
    priors = columns[6].astype(float)
    shape, kind, number_of, moment, whose_it_is, kept_of = columns[:6]
    return Shapes(
        shape,
        kind,
        number_of,
        moment,
        whose_it_is,
        kept_of,
        np.log(priors / priors.sum() * (cycle.max() + 1)),
        columns[7],
        columns[8],
    )


def _plain_sizes(position: Floats, hand: Ints) -> Floats:
    """Return by how many cycles each clearly displaced moment is off."""
    shorter = np.full(len(position), np.inf)
    for who in np.unique(hand):
        mine = np.flatnonzero(hand == who)
        steps = np.concatenate([[np.inf], np.diff(position[mine]), [np.inf]])
        shorter[mine] = np.minimum(steps[:-1], steps[1:])
    plain: Floats = np.clip(PLAIN_SHARE * shorter, PLAIN_LEAST, PLAIN_MOST)
    return plain
