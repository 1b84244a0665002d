"""Confidence intervals of mean, tempo, drift, spread and correlation where neighbouring values are correlated."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

#: Correction gains from cycle to cycle, and their prior with a cue to correct to. Weighted towards the slow end, so
#: that intervals also cover for performers whose clock wanders.
GAINS = (0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0)
GAIN_PRIOR = (0.01, 0.015, 0.025, 0.14, 0.32, 0.29, 0.13, 0.07)
#: Share of the motor variance in the variance of a period, with a uniform prior.
MOVEMENT = (0.0, 0.25, 0.5, 0.75)
#: Autocorrelation of the clock's errors, and its prior: for a mean, and for what is made of differences.
WANDER = (0.0, 0.6)
WANDERS, WANDERS_OF_STEPS = (0.5, 0.5), (0.35, 0.65)
#: A short series does not show how much its clock wanders: its interval is wider by this over the square of its cycles,
#: and what is made of differences by this share over its cycles. On 2,300 tuning takes of each performer and length
#: the bias of who wanders is covered in 94 of 100 then at 8 and at 16 cycles and 96 at 32, that of everybody else in 97
#: to 99. Fewer would need to know who wanders: with a prior by which the others came to 98.4 she came to 91.7.
SHORT, SHORT_OF_STEPS = 10.0, 1.2
#: Longer series are taken in pieces of about this many cycles, each with its own line.
PIECE = 64
#: What is left beside a line that is all of it, of the mean square, is rounding.
EXACT = 1e-20
#: Weights below this are too small to be seen in a half-width, and so are steps of its search below this share of it.
SMALL = 1e-9
#: Fewer values than this carry no interval.
LEAST_VALUES = 5


class People(NamedTuple):
    """A prior over performers, shape (p,), for n cycles: projections (p, n, n) beside a polynomial."""

    prior: Floats
    projection: Floats
    log_determinant: Floats


def half_interval(levels: Floats, weights: Floats, *, cued: bool = True, freed: int, level: float = 0.95) -> float:
    """Return the half-width of the confidence interval of a weighted sum of neighbouring cycles' levels.

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
    squares = np.zeros(len(people.prior))
    fits = np.log(people.prior)
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
    n = len(centred)
    wider = SHORT_OF_STEPS / n if freed else SHORT / n**2
    return (1 + wider) * _mixed(share[kept] / share[kept].sum(), errors[kept], freedom, level)


@cache
def _polynomial(n: int, freed: int) -> Floats:
    """Return orthonormal columns, shape (n, freed + 1)."""
    columns: Floats = np.linalg.qr(np.vander(np.linspace(-1, 1, n), freed + 1))[0]
    return columns


@cache
def _grid(freed: int) -> Floats:
    """Return gain, motor variance, wander and prior weight of each performer, shape (p, 4); no gain, no mean."""
    return np.array(
        [
            (gain, movement, wander, prior * wanders / len(MOVEMENT))
            for gain, prior in zip(GAINS, GAIN_PRIOR, strict=True)
            for movement in MOVEMENT
            for wander, wanders in zip(WANDER, WANDERS_OF_STEPS if freed else WANDERS, strict=True)
            if freed or gain
        ]
    )


@cache
def _gather(n: int, freed: int) -> People:
    """Return the performers, and n cycles of each with a polynomial projected out."""
    lines = np.vander(np.linspace(-1, 1, n), freed + 1)
    apart = np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    projections, determinants = [], []
    for gain, movement, wander, _ in _grid(freed).tolist():
        if gain == 0:  # where a walk begins does not matter: the line takes it out
            covariance = np.cumsum(np.cumsum(_of_steps(gain, movement, wander, n)[apart], axis=0), axis=1)
        else:
            covariance = _level_covariance(gain, movement, wander, n)[apart]
        inverse = np.linalg.inv(covariance)
        weighted = lines.T @ inverse
        both = weighted @ lines
        projections.append(inverse - weighted.T @ np.linalg.solve(both, weighted))
        determinants.append(np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(both)[1])
    return People(_grid(freed)[:, 3], np.array(projections), np.array(determinants))


def _variances(weights: Floats, freed: int) -> Floats:
    """Return the variance of the weighted sum for each performer whose periods have variance 1.

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
    of = _level_covariance if freed == 0 else _of_steps
    return np.array([of(gain, movement, wander, n) for gain, movement, wander, _ in _grid(freed).tolist()])


def _level_covariance(gain: float, movement: float, wander: float, n: int) -> Floats:
    """Return the autocovariance of the lateness at lags 0 .. n - 1 for periods of variance 1 and a gain above 0."""
    inner = _of_clock(gain, wander, max(n, 2))
    inner *= (1 - movement) / (2 * (inner[0] - inner[1]))
    inner[0] += movement / 2
    return inner[:n]


def _of_steps(gain: float, movement: float, wander: float, n: int) -> Floats:
    """Return the autocovariance of the periods at lags 0 .. n - 1."""
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
    """Return the autocovariance of a clock with autocorrelated lateness, up to a factor (autoregression of order 2)."""
    kept, lag = 1 - gain, np.arange(n)
    if kept == 0 and wander == 0:
        return np.where(lag == 0, 1.0, 0.0)
    of_both: Floats = kept ** (lag + 1.0) / (1 - kept**2) - wander ** (lag + 1.0) / (1 - wander**2)
    return of_both / (kept - wander)


def _mixed(weight: Floats, errors: Floats, freedom: int, level: float) -> float:
    """Return the half-width of the interval of a mixture of Student's t with those standard errors.

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


#: Standard errors of the logarithm of a spread that its interval reaches down, and up, and what is added to the latter
#: over the number of cycles: who has heavy tails has often shown none of them yet, so that her spread may lie far above
#: what was seen and hardly below it. Chosen on normal scatter and Student's t with 5 and 3 degrees of freedom.
ROOT_DOWN, ROOT_UP, ROOT_UP_SHORT = 2.0, 3.8, 8.0
#: The same for a correlation, to both sides, on Fisher's scale.
CORRELATION_REACH, CORRELATION_SHORT = 2.0, 4.0
#: Correlations of neighbours beyond this would blow a short series up.
MOST_TOGETHER = 0.85
#: A robust slope is less sure than that of least squares, the more so the longer: errors of neighbouring steps cancel
#: out in the one and not in the other. Its interval is wider by the root of 1 and the steps over so many.
ROBUST_FROM = 70


def interval_of_mean(values: Floats, *, centre: float | None = None, level: float = 0.95) -> tuple[float, float]:
    """Return the confidence interval of the mean of a series in order of time.

    Parameters
    ----------
    values : array, shape (n,)
        Without gaps.
    centre : float or None
        The mean to put it around, where it is not that of the values.
    level : float
        Confidence.

    Returns
    -------
    low, high : float
        NaN under ``LEAST_VALUES`` values.
    """
    if len(values) < LEAST_VALUES:
        return math.nan, math.nan
    half = half_interval(values, np.full(len(values), 1 / len(values)), freed=0, level=level)
    mean = float(values.mean()) if centre is None else centre
    return mean - half, mean + half


def half_interval_of_pace(levels: Floats, *, cued: bool, level: float = 0.95) -> float:
    """Return the half-width of the confidence interval of the mean of the steps of a series.

    The steps add up to the way from the first level to the last: whoever corrects herself to a cue is never far from
    it, however long the take, and then the mean is off by the difference of two levels over n.

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
    steps = ~np.isnan(np.diff(levels))
    if steps.sum() < LEAST_VALUES:
        return math.nan
    return half_interval(levels, _of_levels(steps / steps.sum()), cued=cued, freed=1, level=level)


def half_interval_of_drift(levels: Floats, kept: NDArray[np.bool_], *, cued: bool, level: float = 0.95) -> float:
    """Return the half-width of the confidence interval of the robust slope of a series' steps.

    Parameters
    ----------
    levels : array, shape (n + 1,)
        As of :func:`half_interval_of_pace`.
    kept : array of bool, shape (n,)
        Which of the steps the slope was taken from.
    cued : bool
    level : float

    Returns
    -------
    float
        A step's change in the unit of the levels; NaN under ``LEAST_VALUES`` steps.
    """
    steps = kept & ~np.isnan(np.diff(levels))
    if steps.sum() < LEAST_VALUES:
        return math.nan
    place = np.arange(len(steps), dtype=np.float64)
    apart = np.where(steps, place - place[steps].mean(), 0.0)
    wider = math.sqrt(1 + int(steps.sum()) / ROBUST_FROM)
    return wider * half_interval(levels, _of_levels(apart / (apart**2).sum()), cued=cued, freed=2, level=level)


def interval_of_root(squares: Floats, *, value: float, together: float = 0.0) -> tuple[float, float]:
    """Return the 95 % interval of a standard deviation or another root of a mean of squares.

    Parameters
    ----------
    squares : array, shape (n,)
        The squares, a series in order of time, whose mean the value is the root of.
    value : float
        What the interval goes around, on a logarithmic scale.
    together : float
        Correlation of neighbours of what was squared; squares then go together by its square (L. Isserlis,
        *Biometrika* 12 (1918) 134-139, for normal values).
    """
    n = len(squares)
    if n < LEAST_VALUES:
        return math.nan, math.nan
    mean = float(squares.mean())
    if mean <= 0 or value <= 0:
        return value, value
    error = float(squares.std(ddof=1)) / math.sqrt(n) * _shared(together) / mean / 2
    return value * math.exp(-ROOT_DOWN * error), value * math.exp((ROOT_UP + ROOT_UP_SHORT / n) * error)


def interval_of_correlation(
    products: Floats, squares: Floats, *, value: float, together: float = 0.0
) -> tuple[float, float]:
    """Return the 95 % interval of a sum of products over a sum of squares.

    Parameters
    ----------
    products, squares : array, shape (n,)
        What each cycle adds to the two sums; by how much they differ from each other tells the error.
    value : float
        The quotient, -1 to 1; the interval is put around it on Fisher's scale.
    together : float
        As of :func:`interval_of_root`.
    """
    n, total = len(squares), float(squares.sum())
    if n < LEAST_VALUES or total <= 0 or abs(value) >= 1:
        return math.nan, math.nan
    error = math.sqrt(n / (n - 1) * float(((products - value * squares) ** 2).sum())) / total / (1 - value**2)
    half_width = (CORRELATION_REACH + CORRELATION_SHORT / n) * _shared(together) * error
    return math.tanh(math.atanh(value) - half_width), math.tanh(math.atanh(value) + half_width)


def go_together(values: Floats) -> float:
    """Return the lag-1 autocorrelation of a short series, corrected for bias (Kendall 1954, from memory).

    Parameters
    ----------
    values : numpy.ndarray, shape (n,)
        In any unit, in order.
    """
    n = len(values)
    centred = values - values.mean()
    variance = float((centred**2).mean())
    if n < LEAST_VALUES or variance <= 0:
        return 0.0
    together = float((centred[1:] * centred[:-1]).sum()) / (n - 1) / variance
    return min(max(together + (1 + 3 * together) / n, -MOST_TOGETHER), MOST_TOGETHER)


def _shared(together: float) -> float:
    """Return the inflation of the error of a mean of squares by autocorrelation of what was squared."""
    shared = min(together**2, MOST_TOGETHER**2)
    return math.sqrt((1 + shared) / (1 - shared))


def _of_levels(weights: Floats) -> Floats:
    """Return weights of levels equivalent to a weighted sum of their steps."""
    padded = np.concatenate([[0.0], weights, [0.0]])
    levels: Floats = padded[:-1] - padded[1:]
    return levels
