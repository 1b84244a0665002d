"""How sure a mean, a tempo and a drift are of somebody who corrects herself: everybody whom the take may show.

A gymnast who corrects herself is late again after a late cycle, and n values in a row tell less than n separate ones
would; over a tempo they tell more, because whoever corrects herself to a cue is never far from it. How much, depends on
who she is: the share of her clock's lateness that she corrects by the next cycle, the part that her movements have in
the variance of her periods (linear phase correction, Vorberg & Schulze 2002; two levels, Wing & Kristofferson 1973),
and whether the errors of her clock are like their neighbours. A take of eight cycles does not show it. So the interval
is that of all such people, each as heavy as the take and the weights below make her: what is asked for is a weighted
sum of the lateness of the cycles, its variance is known for each of them, and her scatter is what the take leaves
beside a line (restricted likelihood, Patterson & Thompson, *Biometrika* 58 (1971) 545-554; all from memory). How often
the intervals cover is measured in the benchmarks.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Share of the lateness that is corrected by the next cycle, and how usual that is with a cue to correct to. Weighted
#: towards the slow end, so that the intervals of those whose clock wanders cover too.
GAINS = (0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0)
USUAL = (0.01, 0.015, 0.025, 0.14, 0.32, 0.29, 0.13, 0.07)
#: Part of the movements in the variance of a period; each as usual as the other.
MOVEMENT = (0.0, 0.25, 0.5, 0.75)
#: Autocorrelation of the clock's errors, and how usual it is.
WANDER = (0.0, 0.6)
WANDERS = (0.35, 0.65)
#: Longer series are taken in pieces of about this many cycles, each with its own line.
PIECE = 64
#: What is left beside a line that is all of it, of the mean square, is rounding.
EXACT = 1e-20
#: Weights below this are too small to be seen in a half-width, and so are steps of its search below this share of it.
SMALL = 1e-9
#: Fewer values than this carry no interval.
LEAST_VALUES = 5


class People(NamedTuple):
    """What is known of everybody, shape (p,), for n cycles: projections (p, n, n) beside a polynomial."""

    usual: Floats
    projection: Floats
    log_determinant: Floats


def half_interval(levels: Floats, weights: Floats, *, cued: bool = True, freed: int, level: float = 0.95) -> float:
    """Return the half-width of the confidence interval of a weighted sum of the levels of neighbouring cycles.

    Parameters
    ----------
    levels : array, shape (n,)
        How late each cycle is, in any unit; NaN where that is not known.
    weights : array, shape (n,)
        0 where the level is not known. They sum to 1 for a mean, to 0 for what is made of differences.
    cued : bool
        Whether there was anything to correct to: a cue, or music.
    freed : int
        Degree of the polynomial of which nothing is held against her: 0 a constant, her bias; 1 a line, her tempo as
        well; 2 her drift as well.
    level : float
        Confidence.

    Returns
    -------
    float
        In the unit of the sum; NaN with fewer than ``LEAST_VALUES`` levels more than the polynomial takes.

    Examples
    --------
    A level that scatters by 1 % about its cue leaves the mean of 40 sure to about 0.4 %.

    >>> scatter = np.random.default_rng(1).normal(0, 0.01, 40)
    >>> 0.003 < half_interval(scatter, np.full(40, 1 / 40), freed=0) < 0.005
    True
    """
    known = np.flatnonzero(~np.isnan(levels))
    if len(known) < LEAST_VALUES + freed:
        return math.nan
    first, end = int(known[0]), int(known[-1]) + 1
    series, weights = np.interp(np.arange(first, end), known, levels[known]), weights[first:end]
    line = _polynomial(len(series), freed)
    centred = series - line @ (line.T @ series)
    if float(np.mean(centred**2)) <= EXACT * float(np.mean(series**2)):
        return 0.0
    pieces = np.array_split(centred, max(round(len(centred) / PIECE), 1))
    people = _gather(len(pieces[0]), freed)
    squares = np.zeros(len(people.usual))
    fits = np.log(people.usual)
    if not cued and freed:
        fits = np.where(_grid(freed)[:, 0] == 0, fits, -math.inf)
    for piece in pieces:
        mine = _gather(len(piece), freed)
        squares += (mine.projection @ piece) @ piece
        fits = fits - mine.log_determinant / 2
    freedom = len(centred) - (freed + 1) * len(pieces)
    variance = squares / freedom
    fits -= freedom / 2 * np.log(variance)
    share = np.exp(fits - fits.max())
    errors = np.sqrt(variance * _variances(weights, freed))
    kept = share > SMALL
    return _mixed(share[kept] / share[kept].sum(), errors[kept], freedom, level)


@cache
def _polynomial(n: int, freed: int) -> Floats:
    """Orthonormal columns, shape (n, freed + 1)."""
    columns: Floats = np.linalg.qr(np.vander(np.linspace(-1, 1, n), freed + 1))[0]
    return columns


@cache
def _grid(freed: int) -> Floats:
    """Gain, movement, wander and weight of everybody, shape (p, 4); whoever corrects nothing has no mean."""
    return np.array(
        [
            (gain, movement, wander, usual * wanders / len(MOVEMENT))
            for gain, usual in zip(GAINS, USUAL, strict=True)
            for movement in MOVEMENT
            for wander, wanders in zip(WANDER, WANDERS, strict=True)
            if freed or gain
        ]
    )


@cache
def _gather(n: int, freed: int) -> People:
    """Return everybody, and what is left of n cycles of each once a polynomial is taken out."""
    lines = np.vander(np.linspace(-1, 1, n), freed + 1)
    apart = np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    projections, determinants = [], []
    for gain, movement, wander, _ in _grid(freed).tolist():
        if gain == 0:  # where a walk begins does not matter: the line takes it out
            covariance = np.cumsum(np.cumsum(_of_steps(gain, movement, wander, n)[apart], axis=0), axis=1)
        else:
            covariance = _of_levels(gain, movement, wander, n)[apart]
        inverse = np.linalg.inv(covariance)
        weighted = lines.T @ inverse
        both = weighted @ lines
        projections.append(inverse - weighted.T @ np.linalg.solve(both, weighted))
        determinants.append(np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(both)[1])
    return People(_grid(freed)[:, 3], np.array(projections), np.array(determinants))


def _variances(weights: Floats, freed: int) -> Floats:
    """Variance of the weighted sum for everybody whose periods have a variance of 1.

    Sums of differences are reckoned from the differences, which stand still also where nothing is corrected.
    """
    parts = weights if freed == 0 else -np.cumsum(weights)[:-1]
    n = len(parts)
    spectrum = np.abs(np.fft.rfft(parts, 2 * n)) ** 2
    together = np.fft.irfft(spectrum, 2 * n)[:n] * np.where(np.arange(n) == 0, 1, 2)
    variances: Floats = np.maximum(_covariances(n, freed) @ together, 0.0)
    return variances


@cache
def _covariances(n: int, freed: int) -> Floats:
    of = _of_levels if freed == 0 else _of_steps
    return np.array([of(gain, movement, wander, n) for gain, movement, wander, _ in _grid(freed).tolist()])


def _of_levels(gain: float, movement: float, wander: float, n: int) -> Floats:
    """Autocovariance of the lateness at 0 .. n - 1, periods having a variance of 1; gain above 0."""
    inner = _of_clock(gain, wander, max(n, 2))
    inner *= (1 - movement) / (2 * (inner[0] - inner[1]))
    inner[0] += movement / 2
    return inner[:n]


def _of_steps(gain: float, movement: float, wander: float, n: int) -> Floats:
    """Autocovariance of the periods at 0 .. n - 1."""
    if gain == 0:
        steps: Floats = wander ** np.arange(max(n, 2), dtype=np.float64)
    else:
        inner = _of_clock(gain, wander, max(n, 2) + 1)
        beside = np.concatenate([inner[1:2], inner])
        steps = 2 * inner[:-1] - beside[:-2] - inner[1:]
    steps *= (1 - movement) / steps[0]
    steps[0] += movement
    steps[1] -= movement / 2
    return steps[:n]


def _of_clock(gain: float, wander: float, n: int) -> Floats:
    """Autocovariance of an inner clock that keeps some of its lateness, up to a factor (autoregression of order 2)."""
    kept, lag = 1 - gain, np.arange(n)
    if kept == 0 and wander == 0:
        return np.where(lag == 0, 1.0, 0.0)
    of_both: Floats = kept ** (lag + 1.0) / (1 - kept**2) - wander ** (lag + 1.0) / (1 - wander**2)
    return of_both / (kept - wander)


def _mixed(weight: Floats, errors: Floats, freedom: int, level: float) -> float:
    """Half-width that holds the level of a mixture of Student's t of those standard errors.

    What it holds is concave in the half-width, so that Newton's steps from below never leap over it.
    """
    from scipy.special import gammaln, stdtr, stdtrit

    half = float(errors.min() * stdtrit(freedom, 0.5 + level / 2))
    if half <= 0:
        return 0.0
    density = 2 * weight / errors * math.exp(gammaln((freedom + 1) / 2) - gammaln(freedom / 2))
    density /= math.sqrt(math.pi * freedom)
    step = half
    while step > SMALL * half:
        ratio = half / errors
        lacking = level - float(weight @ (2 * stdtr(freedom, ratio) - 1))
        step = lacking / float(density @ (1 + ratio**2 / freedom) ** (-(freedom + 1) / 2))
        half += step
    return half
