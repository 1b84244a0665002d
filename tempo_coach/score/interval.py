"""How sure a mean, a tempo, a drift, a spread and a correlation are when neighbouring values go together.

Means and what is made of differences ask everybody whom the take may show (:mod:`tempo_coach.score.people`). Spreads
and correlations ask how much the cycles of this take differ in what they add to them, because that shows heavy tails
as well. How often all of them cover is measured in the benchmarks, for performers of four kinds.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.people import LEAST_VALUES, half_interval

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

#: Standard errors of the logarithm of a spread that its interval reaches down, and up, and what is added to the latter
#: over the number of cycles: who has heavy tails has often shown none of them yet, so that her spread may lie far above
#: what was seen and hardly below it. Chosen on normal scatter and Student's t with 5 and 3 degrees of freedom.
ROOT_DOWN, ROOT_UP, ROOT_UP_SHORT = 2.0, 3.8, 8.0
#: The same for a correlation, to both sides, on Fisher's scale.
CORRELATION_REACH, CORRELATION_SHORT = 2.0, 4.0
#: Correlations of neighbours beyond this would blow a short series up.
MOST_TOGETHER = 0.85
#: By how much wider the interval of a robust slope is than that of least squares.
ROBUST = 1.15


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
    """Return the half-width of the confidence interval of the robust slope of the steps of a series on their number.

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
    return ROBUST * half_interval(levels, _of_levels(apart / (apart**2).sum()), cued=cued, freed=2, level=level)


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
    reach = (CORRELATION_REACH + CORRELATION_SHORT / n) * _shared(together) * error
    return math.tanh(math.atanh(value) - reach), math.tanh(math.atanh(value) + reach)


def go_together(values: Floats) -> float:
    """Return the correlation of neighbours of a short series, of which it hides a part (Kendall 1954, from memory)."""
    n = len(values)
    centred = values - values.mean()
    variance = float((centred**2).mean())
    if n < LEAST_VALUES or variance <= 0:
        return 0.0
    together = float((centred[1:] * centred[:-1]).sum()) / (n - 1) / variance
    return min(max(together + (1 + 3 * together) / n, -MOST_TOGETHER), MOST_TOGETHER)


def _shared(together: float) -> float:
    """By how much the error of a mean of squares grows where neighbours of what was squared go together."""
    shared = min(together**2, MOST_TOGETHER**2)
    return math.sqrt((1 + shared) / (1 - shared))


def _of_levels(weights: Floats) -> Floats:
    """Weights of levels that give the weighted sum of their steps."""
    padded = np.concatenate([[0.0], weights, [0.0]])
    levels: Floats = padded[:-1] - padded[1:]
    return levels
