"""How sure a mean, a spread or a slope is when neighbouring values go together.

A gymnast corrects herself: a late circle is followed by another late one, and n values in a row tell less than n
separate ones would. The intervals here ask the slow movements of the series itself how far its mean may wander.

Sources: the equal-weighted cosine estimator with Student's t, E. Lazarus, D. J. Lewis, J. H. Stock & M. W. Watson,
"HAR inference: recommendations for practice", *Journal of Business & Economic Statistics* 36 (2018) 541-559; taking the
correlation of neighbours out first and putting it back, D. W. K. Andrews & J. C. Monahan, *Econometrica* 60 (1992)
953-966 (both from memory; the coverage is measured in the benchmarks).
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Cosines per n to the power of 2/3.
COSINES = 0.4
#: More than this many add nothing to the interval's width but time.
MOST_COSINES = 40
#: Correlations of neighbours beyond these would blow a short series up.
CORRELATION = (-0.9, 0.85)
#: By how much wider intervals of few values have to be, over the square of their number: a short series does not show
#: how slowly it moves. Measured: the benchmarks.
FEW = 18.0
#: Fewer values than this carry no interval.
LEAST_VALUES = 5
#: Robust SDs beyond which a residual counts no more for the interval of a robust slope.
WINSOR = 3.0


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
    error, freedom = long_run_error(values)
    half = _widen(len(values)) * _student(freedom, level) * error
    mean = float(values.mean()) if centre is None else centre
    return mean - half, mean + half


def interval_of_root(squares: Floats, *, value: float, wider: float = 1.0, level: float = 0.95) -> tuple[float, float]:
    """Return the confidence interval of a standard deviation or another root of a mean of squares.

    Parameters
    ----------
    squares : array, shape (n,)
        The squares, a series in order of time, whose mean the value is the root of.
    value : float
        What the interval goes around, on a logarithmic scale.
    wider : float
        Factor of its half-width, where simulation says that it takes one.
    """
    if len(squares) < LEAST_VALUES:
        return math.nan, math.nan
    mean = float(squares.mean())
    if mean <= 0 or value <= 0:
        return value, value
    error, freedom = long_run_error(squares)
    half = wider * _widen(len(squares)) * _student(freedom, level) * error / mean / 2
    return value * math.exp(-half), value * math.exp(half)


def interval_of_slope(
    places: Floats, values: Floats, *, slope: float, wider: float = 1.0, level: float = 0.95
) -> tuple[float, float]:
    """Return the confidence interval of a robust slope of a series on its places.

    The error is that of the line of least squares through values whose outliers have been drawn in, with the
    correlation of neighbours allowed for.
    """
    if len(places) < LEAST_VALUES:
        return math.nan, math.nan
    apart = places - places.mean()
    rest = values - slope * apart
    rest = rest - np.median(rest)
    scale = 1.4826 * float(np.median(np.abs(rest)))
    rest = np.clip(rest, -WINSOR * scale, WINSOR * scale)
    error, freedom = long_run_error(rest, first=2)
    half = wider * _widen(len(values)) * _student(freedom, level) * error / math.sqrt(float((apart**2).mean()))
    return slope - half, slope + half


def long_run_error(values: Floats, *, first: int = 1) -> tuple[float, int]:
    """Return the standard error of the mean of a series, and its degrees of freedom.

    Parameters
    ----------
    values : array, shape (n,)
    first : int
        The first cosine that is asked: 1, or 2 where a line was taken out of the values and the first went with it.
    """
    n = len(values)
    centred = values - values.mean()
    variance = float((centred**2).mean())
    if variance <= 0:
        return 0.0, 2
    together = float((centred[1:] * centred[:-1]).sum()) / (n - 1) / variance
    together += (1 + 3 * together) / n  # a short series hides part of its correlation (Kendall 1954)
    together = min(max(together, CORRELATION[0]), CORRELATION[1])
    white = centred[1:] - together * centred[:-1]
    cosines = max(2, min(round(COSINES * n ** (2 / 3)), n - 2, MOST_COSINES))
    angles = np.pi * np.outer(np.arange(first, cosines + first), np.arange(n - 1) + 0.5) / (n - 1)
    parts = math.sqrt(2 / (n - 1)) * np.cos(angles) @ (white - white.mean())
    return math.sqrt(float(np.mean(parts**2)) / n) / (1 - together), cosines


def _widen(n: int) -> float:
    return 1 + FEW / n**2


@cache
def _student(freedom: int, level: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + level / 2))
