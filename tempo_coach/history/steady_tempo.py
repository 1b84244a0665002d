"""The highest tempo at which takes are steady, with an interval."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.history.columns import TakeRow
    from tempo_coach.times import Floats

#: Share of takes that have to be steady at a tempo, and how many takes at how many tempi tell it.
STEADY_SHARE = 0.8
LEAST_TAKES, LEAST_TEMPI = 10, 3
#: Beats a minute within which two takes are of one tempo.
SAME_TEMPO_BPM = 1.0
#: Tempi and steepnesses of the curves that are tried for the interval.
PLACES, WIDTHS = 301, 25


class SteadyTempo(NamedTuple):
    """The highest tempo at which takes are steady, in beats a minute; NaN with its reason.

    ``low`` and ``high`` are its 95 % interval, which ends at the slowest and the fastest tempo that were tried.
    ``shares`` are the tempi with their takes, the share of them that was steady, and that share smoothed so that it
    never rises with the tempo.
    """

    bpm: float
    shares: tuple[tuple[float, int, float, float], ...]
    reason: Reason | None = None
    low: float = math.nan
    high: float = math.nan


def find_steady_tempo(rows: Sequence[TakeRow]) -> SteadyTempo:
    """Return the highest tempo at which four takes of five are steady.

    Notes
    -----
    The share of steady takes is made to fall with the tempo by pooling neighbours that do not (M. Ayer et al.,
    *Ann. Math. Stat.* 26 (1955) 641-647); between two tempi it is read off the straight line.
    """
    takes = sorted((row.tempo_bpm, row.steady) for row in rows if row.n)
    groups: list[list[tuple[float, bool]]] = []
    for tempo, steady in takes:
        if groups and tempo - groups[-1][0][0] <= SAME_TEMPO_BPM:
            groups[-1].append((tempo, steady))
        else:
            groups.append([(tempo, steady)])
    tempi = np.array([np.mean([tempo for tempo, _ in group]) for group in groups])
    numbers = np.array([len(group) for group in groups])
    shares = np.array([np.mean([steady for _, steady in group]) for group in groups])
    smooth = pool_falling(shares, numbers.astype(np.float64))
    table = tuple(zip(tempi.tolist(), numbers.tolist(), shares.tolist(), smooth.tolist(), strict=True))
    if len(takes) < LEAST_TAKES or len(groups) < LEAST_TEMPI:
        few = Reason(Why.FEW_TAKES, (LEAST_TAKES, LEAST_TEMPI, len(takes), len(groups)))
        return SteadyTempo(math.nan, table, few)
    if smooth[0] < STEADY_SHARE:
        return SteadyTempo(math.nan, table, Reason(Why.SLOWEST_TOO_FAST, (float(tempi[0]),)))
    if smooth[-1] >= STEADY_SHARE:
        return SteadyTempo(math.nan, table, Reason(Why.FASTEST_STEADY, (float(tempi[-1]),)))
    behind = int(np.argmax(smooth < STEADY_SHARE))
    share = (smooth[behind - 1] - STEADY_SHARE) / (smooth[behind - 1] - smooth[behind])
    bpm = float(tempi[behind - 1] + share * (tempi[behind] - tempi[behind - 1]))
    low, high = interval_of_tempo(tempi, numbers * shares, numbers.astype(np.float64))
    return SteadyTempo(bpm, table, low=min(low, bpm), high=max(high, bpm))


def interval_of_tempo(tempi: Floats, steady: Floats, takes: Floats, *, level: float = 0.95) -> tuple[float, float]:
    """Return the interval of the tempo at which ``STEADY_SHARE`` of the takes are steady.

    Parameters
    ----------
    tempi, steady, takes : array, shape (t,)
        Beats a minute, ascending; how many takes were steady there, and how many there were.
    level : float
        Confidence.

    Returns
    -------
    low, high : float
        Inside the tempi that were tried.

    Notes
    -----
    The share of steady takes is taken to fall with the tempo as a logistic curve; every curve of a grid is as likely
    as the takes make it, all of them alike before (a Bayesian psychometric function, in the manner of F. A. Wichmann
    & N. J. Hill, *Perception & Psychophysics* 63 (2001) 1293-1313, from memory). That the interval covers is measured
    in the tests.
    """
    span = float(tempi[-1] - tempi[0])
    places = np.linspace(tempi[0] - span, tempi[-1] + span, PLACES)
    widths = np.geomspace(span / 50, span, WIDTHS)
    middles = places[:, None] + widths * math.log(STEADY_SHARE / (1 - STEADY_SHARE))
    away = (tempi - middles[..., None]) / widths[:, None]
    fits = -(steady * np.logaddexp(0.0, away) + (takes - steady) * np.logaddexp(0.0, -away)).sum(axis=-1)
    likely = np.exp(fits - fits.max()).sum(axis=1)
    below = np.cumsum(likely) / likely.sum()
    low, high = np.interp([(1 - level) / 2, (1 + level) / 2], below, places)
    return float(max(low, tempi[0])), float(min(high, tempi[-1]))


def pool_falling(values: Floats, weights: Floats) -> Floats:
    """Return the weighted least-squares fit by a falling series (pool adjacent violators).

    Parameters
    ----------
    values, weights : array, shape (n,)
        Weights above 0.

    Returns
    -------
    array, shape (n,)
        Means of neighbours that were in the wrong order (pool adjacent violators; Ayer et al. 1955, from memory).

    Examples
    --------
    >>> pool_falling(np.array([1.0, 0.5, 0.7]), np.array([1.0, 1.0, 1.0]))
    array([1. , 0.6, 0.6])
    """
    pools: list[tuple[float, float, int]] = []
    for value, weight in zip(values.tolist(), weights.tolist(), strict=True):
        pools.append((value, weight, 1))
        while len(pools) > 1 and pools[-1][0] > pools[-2][0]:
            (b, wb, nb), (a, wa, na) = pools.pop(), pools.pop()
            pools.append(((a * wa + b * wb) / (wa + wb), wa + wb, na + nb))
    return np.array([value for value, _, number in pools for _ in range(number)])
