"""How sure the mean period is: what lies between the first and the last anchor of a stretch, over its cycles.

The periods of a stretch add up to the way from its first anchor to its last. Whoever corrects herself to a cue is
never far from it, however long the take: the mean period is off by the difference of two asynchronies over n, not by
the spread of a period over the root of n. Whoever goes by herself adds one step to the next, and then it is. Which of
the two a take shows is told by the likelihood of its anchors' asynchronies under a grid of people, each of whom
corrects a share of the last asynchrony of an inner clock and adds a movement's delay (linear phase correction, Vorberg
& Schulze 2002, formulas from memory); a line, her bias and her own tempo, is taken out of each (restricted likelihood,
Patterson & Thompson, *Biometrika* 58 (1971) 545-554, from memory). The interval is that of all of them, each as heavy
as the take and the weights below make it. How often it covers is measured in the benchmarks.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.interval import LEAST_VALUES
from tempo_coach.score.period import detrend

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Share of an asynchrony that is corrected by the next cycle, and how usual that is with a cue to correct to: a half,
#: seldom nothing. Weights chosen so that the intervals of those who correct 0.3 to 1 cover as they say from 8 cycles.
GAINS = (0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0)
USUAL = (0.01, 0.01, 0.02, 0.05, 0.2, 0.3, 0.24, 0.17)
#: Share of the movement in the variance that each cycle adds; each as usual as the other.
MOVEMENT = (0.0, 0.2, 0.4, 0.6, 0.8)
#: Longer series are taken in pieces of about this many anchors, each with its own line.
PIECE = 64
#: What is left beside a line that is all of it, of the mean square, is rounding.
EXACT = 1e-20
#: Halvings in the search of the half-width: far below what a mean is told to.
HALVINGS = 40


class People(NamedTuple):
    """A person for each gain and share of movement, shape (p,), with the projections (p, n, n) for n anchors."""

    gain: Floats
    movement: Floats
    usual: Floats
    projection: Floats
    log_determinant: Floats


def half_interval_of_pace(levels: Floats, *, cued: bool, level: float = 0.95) -> float:
    """Return the half-width of the confidence interval of the mean of the steps of a series.

    Parameters
    ----------
    levels : array, shape (n + 1,)
        Asynchronies of the anchors of neighbouring cycles, over the period asked; NaN where one is missed.
    cued : bool
        Whether there was anything to correct to: a cue, or music.
    level : float
        Confidence.

    Returns
    -------
    float
        Of the mean of the steps between neighbouring known levels, in their unit; NaN under ``LEAST_VALUES`` of them.

    Examples
    --------
    An anchor that scatters by 1 % about its cue leaves the mean of 40 periods sure to about 0.1 %.

    >>> scatter = np.random.default_rng(1).normal(0, 0.01, 41)
    >>> bool(half_interval_of_pace(scatter, cued=True) < 0.0012 < half_interval_of_pace(scatter, cued=False))
    True
    """
    known = np.flatnonzero(~np.isnan(levels))
    runs = [len(run) - 1 for run in np.split(known, np.flatnonzero(np.diff(known) > 1) + 1)]
    steps = sum(runs)
    if steps < LEAST_VALUES:
        return math.nan
    series = np.interp(np.arange(known[0], known[-1] + 1), known, levels[known])
    series = detrend(series)
    if float(np.mean(series**2)) <= EXACT * float(np.mean(levels[known] ** 2)):
        return 0.0
    pieces = np.array_split(series, max(round(len(series) / PIECE), 1))
    people = _gather(len(pieces[0]))
    squares = np.zeros(len(people.gain))
    fits = np.log(people.usual if cued else np.where(people.gain == 0, 1.0, np.finfo(float).tiny))
    for piece in pieces:
        mine = _gather(len(piece))
        squares += np.einsum("i,pij,j->p", piece, mine.projection, piece)
        fits -= mine.log_determinant / 2
    freedom = len(series) - 2 * len(pieces)
    variance = squares / freedom
    fits -= freedom / 2 * np.log(variance)
    weight = np.exp(fits - fits.max())
    apart = np.sum([_between(people.gain, people.movement, run) for run in runs], axis=0)
    return _mixed(weight / weight.sum(), np.sqrt(variance * apart), freedom, level) / steps


def _between(gain: Floats, movement: Floats, steps: int) -> Floats:
    """Variance of the difference of two anchors so many cycles apart, for a variance of 1 that each cycle adds."""
    kept = 1 - gain
    rest = 1 - kept**2
    inner = np.where(rest > 0, 2 * (1 - kept**steps) / np.where(rest > 0, rest, 1.0), float(steps))
    between: Floats = (1 - movement) * inner + (2 * movement if steps else 0.0)
    return between


@cache
def _gather(n: int) -> People:
    """Return everybody of the grid, and what is left of n anchors of each once a line is taken out."""
    grid = [
        (gain, movement, usual / len(MOVEMENT))
        for gain, usual in zip(GAINS, USUAL, strict=True)
        for movement in MOVEMENT
    ]
    gain, movement, usual = np.array(grid).T
    number = np.arange(n)
    lines = np.column_stack([np.ones(n), number])
    apart = np.abs(np.subtract.outer(number, number))
    projections, determinants = [], []
    for share, moved, _ in grid:
        # where a wander without correction begins does not matter: the line takes it out
        wander = np.minimum.outer(number, number) + 1 if share == 0 else (1 - share) ** apart / (1 - (1 - share) ** 2)
        covariance = (1 - moved) * wander + moved * np.eye(n)
        inverse = np.linalg.inv(covariance)
        weighted = lines.T @ inverse
        both = weighted @ lines
        projections.append(inverse - weighted.T @ np.linalg.solve(both, weighted))
        determinants.append(np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(both)[1])
    return People(gain, movement, usual, np.array(projections), np.array(determinants))


def _mixed(weight: Floats, errors: Floats, freedom: int, level: float) -> float:
    """Half-width that holds the level of a mixture of Student's t of those standard errors."""
    from scipy.special import stdtr, stdtrit

    low, high = 0.0, float(errors.max() * stdtrit(freedom, 0.5 + level / 2))
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        inside = float((weight * (2 * stdtr(freedom, middle / np.maximum(errors, 1e-300)) - 1)).sum())
        low, high = (middle, high) if inside < level else (low, middle)
    return high
