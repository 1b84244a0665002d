"""Measures of angles: direction, concentration, intervals and tests.

Angles are degrees of the cycle. A mean of angles is never a mean of wrapped numbers: 355° and 5° lie around 0°.

Sources: N. I. Fisher, *Statistical Analysis of Circular Data* (1993); J. H. Zar, *Biostatistical Analysis*,
chapters 26 and 27; K. V. Mardia & P. E. Jupp, *Directional Statistics* (2000).
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.times import column

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from tempo_coach.times import Floats

#: Zar gives one form of the interval of a mean direction up to this resultant length and another one above it.
ZAR_CHANGES_FORM_AT = 0.9
#: What a mean resultant length lacks of 1 by rounding alone.
NO_SPREAD = 1e-14


def wrap(angles: ArrayLike) -> Floats:
    """Bring angles into (-180, 180].

    Parameters
    ----------
    angles : array_like, any shape
        Degrees.

    Returns
    -------
    numpy.ndarray
        Of the same shape.

    Examples
    --------
    >>> wrap([181, -180, 360])
    array([-179.,  180.,    0.])
    """
    degrees = np.asarray(angles, dtype=np.float64)
    return 180.0 - np.mod(180.0 - degrees, 360.0)


def mean_direction(angles: ArrayLike, *, weights: ArrayLike | None = None) -> float:
    """Return the circular mean in (-180, 180] degrees; NaN without angles or without a direction.

    Parameters
    ----------
    angles : array_like, shape (n,)
        Degrees.
    weights : array_like, shape (n,), optional
        How often each angle was seen.
    """
    total = _resultant(angles, weights)
    if abs(total) < 1e-12:
        return math.nan
    return float(wrap(math.degrees(math.atan2(total.imag, total.real))))


def resultant_length(angles: ArrayLike, *, weights: ArrayLike | None = None) -> float:
    """Return the mean resultant length R, 0 (dispersed) to 1 (all equal); NaN without angles.

    Parameters
    ----------
    angles : array_like, shape (n,)
        Degrees.
    weights : array_like, shape (n,), or None
    """
    return abs(_resultant(angles, weights))


def circular_sd(resultant: float) -> float:
    """Return the circular standard deviation in degrees for a resultant length.

    ``sqrt(-2 ln R)`` radians: Fisher (1993), equation 2.12. For a narrow bundle it equals the ordinary SD.
    """
    if not resultant > 0:
        return math.inf if resultant == 0 else math.nan
    return math.degrees(math.sqrt(-2.0 * math.log(min(resultant, 1.0))))


def mean_interval(n: float, resultant: float, *, level: float = 0.95) -> float:
    """Return the half-width in degrees of the confidence interval of a mean direction.

    Parameters
    ----------
    n : float
        How many angles, or how many separate ones they are worth.
    resultant : float
        Their mean resultant length.
    level : float
        Confidence, for example 0.95.

    Returns
    -------
    float
        0 to 180; NaN where the angles are too few or too widely spread for an interval to exist.

    Notes
    -----
    Zar, equations 26.23 (R up to 0.9) and 26.24 (R above 0.9).
    """
    if n < 1 or not 0 < resultant <= 1:
        return math.nan
    # chi square of one degree of freedom is a normal deviate squared: no need of scipy, which takes .3 s to load
    chi = NormalDist().inv_cdf((1 + level) / 2) ** 2
    total = n * resultant
    if resultant <= ZAR_CHANGES_FORM_AT:
        square = 2 * n * (2 * total**2 - n * chi) / (4 * n - chi)
    else:
        square = n**2 - (n**2 - total**2) * math.exp(chi / n)
    if square < 0:
        return math.nan
    return math.degrees(math.acos(min(math.sqrt(square) / total, 1.0)))


def check_uniform(angles: ArrayLike) -> tuple[float, float]:
    """Rayleigh's test that the angles have no common direction at all.

    It says nothing about being in time: a bundle at the wrong place passes as well as one at the right place.

    Parameters
    ----------
    angles : array_like, shape (n,)
        Degrees.

    Returns
    -------
    z : float
        ``n R²``.
    p : float
        Zar's approximation, equation 27.4.
    """
    degrees = column(angles, name="angles")
    n = len(degrees)
    total = n * resultant_length(degrees)
    p = math.exp(math.sqrt(1 + 4 * n + 4 * (n**2 - total**2)) - (1 + 2 * n))
    return total**2 / n, min(p, 1.0)


def check_direction(angles: ArrayLike, *, asked: float) -> tuple[float, float, float]:
    """V test: Rayleigh's test against the alternative of a given mean direction.

    Parameters
    ----------
    angles : array_like, shape (n,)
        Degrees.
    asked : float
        Degrees.

    Returns
    -------
    v : float
        ``n R cos(mean - asked)``.
    u : float
        ``v sqrt(2 / n)``.
    p : float
        One-sided, from the normal distribution: Zar, section 27.1(c).
    """
    from scipy.special import ndtr

    degrees = column(angles, name="angles")
    n = len(degrees)
    v = float(np.cos(np.radians(degrees - asked)).sum())
    u = v * math.sqrt(2 / n)
    return v, u, float(ndtr(-u))


def compare_means(samples: Sequence[ArrayLike]) -> tuple[float, float]:
    """Watson and Williams's test that two or more samples of angles have one mean direction.

    Parameters
    ----------
    samples : sequence of array_like, shape (n,) each
        Degrees; two bundles or more, each fairly narrow.

    Returns
    -------
    f, p : float
        Zar, section 27.4, with the correction factor ``1 + 3 / (8 kappa)``; NaN where no bundle has any spread.
    """
    from scipy.special import fdtrc

    bundles = [column(sample, name="angles") for sample in samples]
    n = sum(len(bundle) for bundle in bundles)
    groups = len(bundles)
    lengths = [len(bundle) * resultant_length(bundle) for bundle in bundles]
    everything = n * resultant_length(np.concatenate(bundles))
    if n - sum(lengths) <= n * NO_SPREAD:
        return math.nan, math.nan
    kappa = concentration(sum(lengths) / n)
    between = (sum(lengths) - everything) / (groups - 1)
    within = (n - sum(lengths)) / (n - groups)
    f = (1 + 3 / (8 * kappa)) * between / within
    return f, float(fdtrc(groups - 1, n - groups, f))


def concentration(resultant: float) -> float:
    """Return von Mises' concentration for a resultant length: Fisher (1993), equation 4.40."""
    if resultant < 0.53:
        return 2 * resultant + resultant**3 + 5 * resultant**5 / 6
    if resultant < 0.85:
        return -0.4 + 1.39 * resultant + 0.43 / (1 - resultant)
    return 1 / (resultant**3 - 4 * resultant**2 + 3 * resultant)


def _resultant(angles: ArrayLike, weights: ArrayLike | None) -> complex:
    degrees = column(angles, name="angles")
    if len(degrees) == 0:
        return complex(math.nan, math.nan)
    turns = np.exp(1j * np.radians(degrees))
    if weights is None:
        return complex(turns.mean())
    heavy = column(weights, name="weights")
    if heavy.shape != degrees.shape or (heavy < 0).any() or not heavy.any():
        raise ValueError("weights: expected one for each angle, none negative, not all 0")
    return complex((turns * heavy).sum() / heavy.sum())
