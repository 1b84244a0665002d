"""Measures of evenness: periods, variability, drift, correction, and the split into levels.

Plain formulas: they do not ask whether the data can carry them. :func:`tempo_coach.score.card.judge` does.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.times import column

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.times import Floats

#: Points to which a long series is condensed before a robust slope: all pairs of them are compared.
SLOPE_POINTS = 200
#: Share of the values, the smaller ones, that tell the scatter: what stands out must not hide itself.
KEPT = 0.75
#: SD of a normal distribution over the root mean square of that share of it, the smaller values.
KEPT_TO_SD = 1.6483


def spread(values: ArrayLike) -> float:
    """Return the standard deviation with n - 1; NaN under two values.

    Parameters
    ----------
    values : array_like, shape (n,)
    """
    numbers = column(values, name="values")
    return float(numbers.std(ddof=1)) if len(numbers) > 1 else math.nan


def robust_sd(values: Floats) -> float:
    """Return the SD estimated from the smaller part of the deviations from the median.

    The root mean square of the ``KEPT`` smaller deviations, scaled to a normal distribution; NaN is left out, and comes
    back where nothing is left. As robust as is needed here, it scatters less than the median absolute deviation.

    Parameters
    ----------
    values : numpy.ndarray, shape (n,)
    """
    known = values[~np.isnan(values)]
    if not known.size:
        return math.nan
    return robust_sd_about_zero(known - np.median(known))


def robust_sd_about_zero(values: Floats) -> float:
    """Return the SD of a normal distribution about 0 whose ``KEPT`` smaller values by size are these.

    Parameters
    ----------
    values : numpy.ndarray, shape (n,)
        At least one, without NaN.
    """
    squares = np.sort(values**2)[: math.ceil(KEPT * values.size)]
    return KEPT_TO_SD * math.sqrt(float(squares.mean()))


def coefficient_of_variation(values: ArrayLike) -> float:
    """Return SD over mean, in per cent; NaN under two values.

    Parameters
    ----------
    values : array_like, shape (n,)
    """
    numbers = column(values, name="values")
    return 100 * spread(numbers) / float(numbers.mean()) if len(numbers) > 1 else math.nan


def successive_difference(values: ArrayLike) -> float:
    """Return the root mean square of successive differences (RMSSD): variability without slow drift.

    A gap, written NaN, takes the two differences beside it out. NaN where no difference is left.

    Parameters
    ----------
    values : array_like, shape (n,)
    """
    steps = np.diff(column(values, name="values", allow_nan=True))
    steps = steps[~np.isnan(steps)]
    return float(np.sqrt(np.mean(steps**2))) if len(steps) else math.nan


def periods(anchors: ArrayLike, cycles: ArrayLike) -> Floats:
    """Return the seconds from each anchor to that of the next cycle.

    Parameters
    ----------
    anchors : array_like, shape (n,)
        Seconds; NaN where one is missed.
    cycles : array_like of int, shape (n,)
        The cycle that each belongs to, ascending.

    Returns
    -------
    numpy.ndarray, shape (n,)
        NaN for the last, and beside an anchor or a cycle that is missed: never a double period.

    Examples
    --------
    >>> periods([0.0, 0.6, 1.3, 2.5], [0, 1, 2, 4])
    array([0.6, 0.7, nan, nan])
    """
    times = column(anchors, name="anchors", allow_nan=True)
    steps = np.full(len(times), np.nan)
    steps[:-1] = np.where(np.diff(np.asarray(cycles)) == 1, np.diff(times), np.nan)
    return steps


def autocovariance(values: ArrayLike, lag: int) -> float:
    """Return the autocovariance C(lag) with 1/N of the centred values; NaN without values.

    A gap is written NaN; pairs across it are left out.

    Parameters
    ----------
    values : array_like, shape (n,)
    lag : int
    """
    numbers = column(values, name="values", allow_nan=True)
    known = int((~np.isnan(numbers)).sum())
    if known == 0 or not 0 <= lag < len(numbers):
        return math.nan
    centred = numbers - np.nanmean(numbers)
    return float(np.nansum(centred[lag:] * centred[: len(centred) - lag]) / known)


def detrend(values: ArrayLike) -> Floats:
    """Return the residuals from the least-squares line; gaps (NaN) stay gaps.

    Parameters
    ----------
    values : array_like, shape (n,)
        At even steps.
    """
    numbers = column(values, name="values", allow_nan=True)
    known = ~np.isnan(numbers)
    if known.sum() < 2:
        return numbers - (np.nanmean(numbers) if known.any() else 0.0)
    place = np.arange(len(numbers), dtype=np.float64)
    place -= place[known].mean()
    level = numbers[known].mean()
    slope = (place[known] * (numbers[known] - level)).sum() / (place[known] ** 2).sum()
    rest: Floats = numbers - level - slope * place
    return rest


def lag_one(values: ArrayLike) -> float:
    """Return C(1)/C(0) of the values, not detrended; NaN where they are constant.

    Parameters
    ----------
    values : array_like, shape (n,)
    """
    variance = autocovariance(values, 0)
    return autocovariance(values, 1) / variance if variance > 0 else math.nan


def robust_slope(places: ArrayLike, values: ArrayLike, *, level: float = 0.95) -> tuple[float, float, float]:
    """Return the median slope over all pairs of points, and its interval.

    Parameters
    ----------
    places, values : array_like, shape (n,)
        For example cycle numbers and period ratios, in order of place. Long series are first condensed to medians of
        neighbours, so that time grows with n.
    level : float
        Confidence of the interval.

    Returns
    -------
    slope, low, high : float
        NaN where there are no two different places.

    Notes
    -----
    P. K. Sen, *Journal of the American Statistical Association* 63 (1968) 1379-1389.
    """
    from scipy.special import ndtri

    x, y = column(places, name="places"), column(values, name="values")
    if len(x) > SLOPE_POINTS:
        parts = np.array_split(np.arange(len(x)), SLOPE_POINTS)
        x = np.array([x[part].mean() for part in parts])
        y = np.array([np.median(y[part]) for part in parts])
    first, second = np.triu_indices(len(x), k=1)
    apart = x[second] != x[first]
    slopes = np.sort((y[second] - y[first])[apart] / (x[second] - x[first])[apart])
    if len(slopes) == 0:
        return math.nan, math.nan, math.nan
    _, repeats = np.unique(x, return_counts=True)
    n = len(x)
    variance = (n * (n - 1) * (2 * n + 5) - (repeats * (repeats - 1) * (2 * repeats + 5)).sum()) / 18
    margin = float(ndtri(0.5 + level / 2)) * math.sqrt(variance)
    low = max(round((len(slopes) - margin) / 2) - 1, 0)
    high = min(round((len(slopes) + margin) / 2), len(slopes) - 1)
    return float(np.median(slopes)), float(slopes[low]), float(slopes[high])
