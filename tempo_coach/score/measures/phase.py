"""Lag: how far one thing trails another, in degrees of the cycle and in seconds.

A lag is positive when the second thing comes later. Each lag is taken between two events of one cycle over the period
that holds there, so that an uneven movement (a fast low circle, a slow high one) does not bend it, as the phase of a
filtered signal would be bent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.measures.circular import circular_sd, mean_direction, mean_interval, resultant_length, wrap
from tempo_coach.times import column

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.times import Floats


@dataclass(frozen=True)
class Lag:
    """A lag over several cycles.

    Parameters
    ----------
    degrees : float
        Circular mean; near the one that was asked for, so 185 rather than -175 where 180 was asked.
    error : float
        Degrees less what was asked, in (-180, 180]; NaN where nothing was asked.
    seconds : float
    sd : float
        Circular SD in degrees.
    resultant : float
        Mean resultant length R, 0 to 1.
    n : int
        Cycles that it rests on.
    half_interval : float
        Half-width in degrees of the 95 % interval by Zar's form; NaN where there is none.
    """

    degrees: float
    error: float
    seconds: float
    sd: float
    resultant: float
    n: int
    half_interval: float


def lag_degrees(reference: ArrayLike, period: ArrayLike, target: ArrayLike) -> Floats:
    """Return the lag of each target behind its reference event in degrees of the local period.

    Parameters
    ----------
    reference, period, target : array_like, shape (n,)
        Seconds, cycle by cycle; NaN where something is missing there.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Not wrapped; NaN where the period is 0.
    """
    start, length, end = (
        column(values, name=name, allow_nan=True)
        for values, name in ((reference, "reference"), (period, "period"), (target, "target"))
    )
    return (end - start) / np.where(length == 0, np.nan, length) * 360.0


def degrees_to_seconds(degrees: float, period: float) -> float:
    """Return the duration of an angle of the cycle."""
    return degrees / 360.0 * period


def summarise_lag(lags: ArrayLike, *, period: float, asked: float = math.nan, together: float = 0.0) -> Lag:
    """Return the lag over several cycles.

    Parameters
    ----------
    lags : array_like, shape (n,)
        Degrees, as from :func:`lag_degrees`; NaN is left out.
    period : float
        Mean period in seconds, which turns degrees into time.
    asked : float
        Degrees; NaN where nothing is asked.
    together : float
        Correlation of neighbouring lags, 0 or more: the interval is that of correspondingly fewer separate ones.
    """
    degrees = np.asarray(lags, dtype=np.float64)
    degrees = degrees[~np.isnan(degrees)]
    around = 0.0 if math.isnan(asked) else asked
    errors = wrap(degrees - around)
    mean = mean_direction(errors)
    resultant = resultant_length(errors)
    return Lag(
        degrees=around + mean,
        error=math.nan if math.isnan(asked) else mean,
        seconds=degrees_to_seconds(around + mean, period),
        sd=circular_sd(resultant),
        resultant=resultant,
        n=len(degrees),
        half_interval=mean_interval(len(degrees) / (1 + 2 * together), resultant),
    )
