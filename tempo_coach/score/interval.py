"""How sure a mean or a spread is when neighbouring values go together.

A gymnast corrects herself: a late circle is followed by another late one, and n values in a row tell less than n
separate ones would. The intervals here ask the slow movements of the series itself how far its mean may wander.

Source: the equal-weighted cosine estimator with Student's t, E. Lazarus, D. J. Lewis, J. H. Stock & M. W. Watson,
"HAR inference: recommendations for practice", *Journal of Business & Economic Statistics* 36 (2018) 541-559 (the
estimator and its number of cosines from memory; the coverage is measured in the benchmarks).
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
#: Fewer values than this carry no interval.
LEAST_VALUES = 5


def interval_of_mean(values: Floats, *, rest: Floats | None = None, level: float = 0.95) -> tuple[float, float]:
    """Return the confidence interval of the mean of a series in order of time.

    Parameters
    ----------
    values : array, shape (n,)
        Without gaps.
    rest : array, shape (n,), optional
        The values with known differences (between labels) taken out, whose movement is looked at instead.
    level : float
        Confidence.

    Returns
    -------
    low, high : float
        NaN under ``LEAST_VALUES`` values.
    """
    if len(values) < LEAST_VALUES:
        return math.nan, math.nan
    error, freedom = long_run_error(values if rest is None else rest)
    half = _student(freedom, level) * error
    mean = float(values.mean())
    return mean - half, mean + half


def interval_of_spread(values: Floats, *, level: float = 0.95) -> tuple[float, float]:
    """Return the confidence interval of the standard deviation of a series in order of time.

    The squares are treated as a series of their own, on a logarithmic scale.
    """
    if len(values) < LEAST_VALUES:
        return math.nan, math.nan
    squares = (values - values.mean()) ** 2
    variance = float(squares.sum() / (len(values) - 1))
    low, high = _interval_of_log(squares, level)
    return math.sqrt(variance) * low, math.sqrt(variance) * high


def interval_of_rms(values: Floats, *, level: float = 0.95) -> tuple[float, float]:
    """Return the confidence interval of the root mean square of a series in order of time."""
    if len(values) < LEAST_VALUES:
        return math.nan, math.nan
    squares = values**2
    low, high = _interval_of_log(squares, level)
    rms = math.sqrt(float(squares.mean()))
    return rms * low, rms * high


def long_run_error(values: Floats) -> tuple[float, int]:
    """Return the standard error of the mean of a series, and its degrees of freedom."""
    n = len(values)
    cosines = max(2, min(round(COSINES * n ** (2 / 3)), n - 1, MOST_COSINES))
    angles = np.pi * np.outer(np.arange(1, cosines + 1), np.arange(n) + 0.5) / n
    parts = np.sqrt(2 / n) * np.cos(angles) @ (values - values.mean())
    return math.sqrt(float(np.mean(parts**2)) / n), cosines


def _interval_of_log(squares: Floats, level: float) -> tuple[float, float]:
    mean = float(squares.mean())
    if mean <= 0:
        return 1.0, 1.0
    error, freedom = long_run_error(squares)
    half = _student(freedom, level) * error / mean / 2
    return math.exp(-half), math.exp(half)


@cache
def _student(freedom: int, level: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + level / 2))
