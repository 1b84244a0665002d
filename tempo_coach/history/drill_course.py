"""The course of one drill: its unevenness now, with an interval, and on a later day.

A take's unevenness is the scatter of its cycles that steadiness goes by (``scatter_pct``, a per cent of the cycle, so
that drills and tempi can be set beside each other). Its logarithm is taken for a level, a slow course with a velocity
that fades, a share of the tempo, a share of missing cues, the day, and chance: a Gaussian process (C. E. Rasmussen & C.
K. I. Williams, *Gaussian Processes for Machine Learning*, 2006, chapter 2; the integrated Ornstein-Uhlenbeck kernel
from memory).
Nothing is supposed of the law by which she learns: a velocity that fades neither promises a straight line nor a floor.
What all drills of one person have in common of it is found from all of them: whoever has not got steadier in any is not
believed to begin to.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tempo_coach.times import Floats

#: Per cent that count as the most and the least: one broken take must not decide a season, and nobody's is 0.
MOST, LEAST = 9.0, 0.5
#: Prior of an unknown drill: its unevenness in per cent, and the SD of the logarithm.
PRIOR, PRIOR_SD = 5.5, 0.65
#: SD of a drill's velocity about hers (logarithm a day), days in which it fades, SD of what is new each day. These and
#: the next ones were tuned on two laws of learning and on none, and are judged on others (the benchmark ``today``).
VELOCITY_SD, FADES, NEW_SD = 0.0052, 36.0, 0.004
#: What is believed of the velocity that all drills of one person have in common, before any of them is seen; its SD.
VELOCITY, VELOCITIES_SD = -0.01, 0.004
#: SD of a day, and of a take beside what its few cycles leave open.
DAY_SD, TAKE_SD = 0.14, 0.15
#: By how much the logarithm rises with that of the tempo, and without cues: mean and SD of what is believed.
BY_TEMPO, BY_CUES = (0.7, 0.4), (0.12, 0.12)
#: Deviations of a take beyond which it counts for less.
FAR_OFF = 2.0
#: Days' groups of takes that are looked at, the last ones.
GROUPS = 150


class Velocity(NamedTuple):
    """The velocity that all drills of one person have in common (logarithm a day), and its standard error."""

    mean: float = VELOCITY
    se: float = VELOCITIES_SD


#: The velocity before anything is seen.
BELIEVED = Velocity()


class DrillLevel(NamedTuple):
    """The logarithm of an unevenness in per cent, and its standard error."""

    log: float
    se: float

    @property
    def pct(self) -> float:
        """The unevenness in per cent of the cycle."""
        return math.exp(self.log)


@dataclass(frozen=True, eq=False)
class Course:
    """The unevenness on every day, as the takes of one drill show it.

    Parameters
    ----------
    day, tempo, uncued : array, shape (g,)
        Of each group of takes: its day, the logarithm of its tempo, and its share of moments without a cue.
    rest : array, shape (g,)
        By what the groups differ from what is believed of somebody who learns nothing.
    weight : array, shape (g, g)
        Inverse of the covariance of the groups.
    velocity : Velocity
        Of all her drills together.
    """

    day: Floats
    tempo: Floats
    uncued: Floats
    rest: Floats
    weight: Floats
    velocity: Velocity = BELIEVED

    def at(self, day: float, *, tempo_bpm: float, cued: float = 1.0) -> DrillLevel:
        """Return the level on a day, without that day's own deviation.

        Parameters
        ----------
        day : float
            On the scale of the takes; a later one than theirs too.
        tempo_bpm, cued : float
            Beats a minute, and the share of moments with a cue.
        """
        here = np.array([day]), np.array([math.log(tempo_bpm)]), np.array([1 - cued])
        among = _covariance(here, here, self._first)[0, 0]
        with_all = _covariance(here, (self.day, self.tempo, self.uncued), self._first)[0]
        pulled = self.weight @ with_all
        mean = float(_believed(here[1], here[2])[0] + pulled @ self.rest)
        by_velocity = float(_passed(here[0], self._first)[0] - pulled @ _passed(self.day, self._first))
        variance = max(float(among - with_all @ pulled), 0.0) + (by_velocity * self.velocity.se) ** 2
        return DrillLevel(mean + by_velocity * self.velocity.mean, math.sqrt(variance))

    @property
    def _first(self) -> float:
        return float(self.day[0]) if len(self.day) else 0.0

    @property
    def told_of_velocity(self) -> tuple[float, float]:
        """What its takes tell of the velocity: the precision, and the velocity times that."""
        passed = _passed(self.day, self._first)
        pulled = self.weight @ passed
        return float(pulled @ passed), float(pulled @ self.rest)


def find_velocity(courses: Iterable[Course]) -> Velocity:
    """Return the velocity that all drills of one person have in common, as their takes show it."""
    precision, pull = 1 / VELOCITIES_SD**2, VELOCITY / VELOCITIES_SD**2
    for told in (course.told_of_velocity for course in courses):
        precision, pull = precision + told[0], pull + told[1]
    return Velocity(pull / precision, precision**-0.5)


def fit_course(day: Floats, uneven_pct: Floats, tempo_bpm: Floats, cued: Floats, periods: Floats) -> Course:
    """Return the course that takes of one drill show.

    Parameters
    ----------
    day : array, shape (n,)
        Ascending; any day may be 0.
    uneven_pct : array, shape (n,)
        NaN where a take could not carry it; it is then left out.
    tempo_bpm, cued : array, shape (n,)
        Beats a minute, and the share of moments with a cue.
    periods : array, shape (n,)
        Cycles that the scatter was taken from, at least 2.

    Examples
    --------
    >>> days = np.arange(10.0)
    >>> course = fit_course(days, np.full(10, 4.0), np.full(10, 100.0), np.ones(10), np.full(10, 7.0))
    >>> level = course.at(9, tempo_bpm=100)
    >>> round(level.pct, 1), level.se < 0.15
    (3.9, True)
    """
    known = ~np.isnan(uneven_pct)
    value = np.log(np.clip(uneven_pct[known], LEAST, MOST))
    chance = TAKE_SD**2 + 1 / (2 * np.maximum(periods[known] - 1, 1))
    columns = (day[known], np.log(tempo_bpm[known]), 1 - cued[known])
    groups = _group(*columns)
    number = np.bincount(groups)
    day_, tempo, uncued = (np.bincount(groups, each) / number for each in columns)
    # takes that lie far from those beside them count for less (Huber's weights)
    smooth = _running_median(_medians(value, groups, number))
    off = np.abs(value - smooth[groups]) / np.sqrt(chance + DAY_SD**2)
    weight = np.minimum(1.0, FAR_OFF / np.maximum(off, 1e-9)) / chance
    total = np.bincount(groups, weight)
    mean = np.bincount(groups, weight * value) / total
    last = slice(-GROUPS, None)
    day_, tempo, uncued, mean, total = day_[last], tempo[last], uncued[last], mean[last], total[last]
    first = float(day_[0]) if len(day_) else 0.0
    here = (day_, tempo, uncued)
    covariance = _covariance(here, here, first) + np.diag(1 / total)
    covariance += DAY_SD**2 * (day_[:, None] == day_)
    inverse = np.asarray(np.linalg.inv(covariance), dtype=np.float64) if len(day_) else covariance
    return Course(day_, tempo, uncued, mean - _believed(tempo, uncued), inverse)


def _group(day: Floats, tempo: Floats, uncued: Floats) -> np.ndarray:
    """Return each take's group: takes of one day, one tempo and one share of cues, in order of time."""
    if not len(day):
        return np.zeros(0, dtype=np.int64)
    rows = np.stack([day, np.round(tempo, 3), np.round(uncued, 2)], axis=1)
    return np.unique(rows, axis=0, return_inverse=True)[1].reshape(-1)


def _medians(value: Floats, groups: np.ndarray, number: np.ndarray) -> Floats:
    """The median of each group."""
    in_order = value[np.lexsort((value, groups))]
    first = np.cumsum(number) - number
    medians: Floats = (in_order[first + (number - 1) // 2] + in_order[first + number // 2]) / 2
    return medians


def _running_median(values: Floats) -> Floats:
    padded = np.pad(values, 3, mode="edge") if len(values) else np.zeros(6)
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, 7), axis=1) if len(values) else values


def _believed(tempo: Floats, uncued: Floats) -> Floats:
    """Return the prior mean of groups, nothing learnt."""
    believed: Floats = math.log(PRIOR) + BY_TEMPO[0] * (tempo - math.log(100.0)) + BY_CUES[0] * uncued
    return believed


def _passed(day: Floats, first: float) -> Floats:
    """Return the days for which a velocity has lasted that fades from the first take on."""
    passed: Floats = FADES * (1 - np.exp(-np.maximum(day - first, 0.0) / FADES))
    return passed


def _covariance(a: tuple[Floats, Floats, Floats], b: tuple[Floats, Floats, Floats], first: float) -> Floats:
    """Return the covariance of the levels of two sets of groups, relative to the first of all takes."""
    s, t = np.maximum(a[0] - first, 0.0)[:, None], np.maximum(b[0] - first, 0.0)[None, :]
    least = np.minimum(s, t)
    fading = 2 * least / FADES + np.exp(-s / FADES) + np.exp(-t / FADES) - 1 - np.exp(-np.abs(s - t) / FADES)
    covariance: Floats = (
        PRIOR_SD**2
        + NEW_SD**2 * least
        + (VELOCITY_SD * FADES) ** 2 * fading
        + BY_TEMPO[1] ** 2 * (a[1] - math.log(100.0))[:, None] * (b[1] - math.log(100.0))[None, :]
        + BY_CUES[1] ** 2 * a[2][:, None] * b[2][None, :]
    )
    return covariance
