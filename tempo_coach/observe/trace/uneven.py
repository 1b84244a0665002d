"""Uneven cycles: outliers of the period, and cycles with a circle missing or too many.

A period is an outlier when it differs from the local median by more than the just noticeable difference and by more
than a multiple of the take's scale. The scale is Qn, a robust estimate with a breakdown point of 50 % (Rousseeuw &
Croux 1993); the multiple depends on the number of cycles.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.observe.trace.circles import Circles
    from tempo_coach.times import Floats, Ints

#: Just noticeable difference of a period, relative to it (Friberg & Sundberg 1995).
JUST_NOTICEABLE = 0.025
#: Threshold in scales by number of cycles: 199 of 200 takes of normal cycles have no outlier; Qn of an odd number
#: varies more. Simulated with local medians as here, 1 500 (51 and 400 cycles) to 100 000 takes each, seed 0; 101 and
#: 401 are interpolated.
_EVEN_CYCLES = (6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 30.0, 50.0, 100.0, 400.0)
_EVEN_SCATTERS = (4.16, 3.75, 3.66, 3.63, 3.60, 3.68, 3.75, 3.88, 4.07, 4.28)
_ODD_CYCLES = (5.0, 7.0, 9.0, 11.0, 13.0, 17.0, 21.0, 31.0, 51.0, 101.0, 401.0)
_ODD_SCATTERS = (13.57, 7.09, 5.35, 4.61, 4.39, 4.16, 4.16, 4.02, 4.18, 4.2, 4.28)
#: Consistency factor of Qn for normal data, and the most steps that it is taken of.
_QN, _MOST = 2.2219, 1000
#: Scatter in interquartile ranges below which Qn cannot be: 0.8 of that of normal data.
_HEAPS = 0.8 / 1.349
#: Steps over which the trend at an end is fitted.
_TREND = 17
#: Ratio to the local median from which a step lacks a circle, and below which it belongs to an extra one.
_LEFT_OUT, _SQUEEZED = 1.6, 0.7
#: SDs of a period's error that the noise of a dial's marks makes, in one of a thousand films at most.
_NOISY = 4.5

UnevenKind = Literal["long", "short", "missed", "extra", "irregular", "bigger", "smaller"]


@dataclass(frozen=True)
class Uneven:
    """One uneven cycle, or several in a row.

    Parameters
    ----------
    kind : {"long", "short", "missed", "extra", "irregular", "bigger", "smaller"}
        Irregular is three or more in a row that broke in different ways.
    first, last : int
        Numbers of the cycles, from 0.
    start, end : float
        Seconds.
    ratio : float
        Ratio of the period to the local median; of several cycles the one furthest from 1.
    circles : int or None
        Circles in the cycle, where it carries any.
    circle : int or None
        Which circle of a cycle it is, from 1, where not all of the cycle is bigger or smaller.
    """

    kind: UnevenKind
    first: int
    last: int
    start: float
    end: float
    ratio: float
    circles: int | None = None
    circle: int | None = None


def find_uneven(circles: Circles, *, noise: float = 0.0) -> list[Uneven]:
    """Find the uneven cycles, in order of time.

    Parameters
    ----------
    circles : Circles
        Where circles are carried, cycles are judged by their length and by their number of circles; else every step
        from one circle (or cycle) to the next is a cycle.
    noise : float
        SD of the time of a mark, in seconds, where it is known apart from what she does: a cycle that it could make
        uneven is not told. Infinite where it could be anything.

    Returns
    -------
    list of Uneven
        Empty under five cycles, where nothing can stand out.
    """
    if not np.isfinite(noise):
        return []
    found = _by_number(circles) if circles.carried else []
    taken = {flag.first for flag in found}
    found += [flag for flag in _by_length(circles, noise) if flag.first not in taken]
    found.sort(key=lambda flag: flag.start)
    return _join(found)


def normalise_periods(times: Floats, within: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> tuple[Floats, Floats]:
    """Return the ratio of each step to the local median, and the local median; NaN between bouts.

    The local median is that of the four steps before and the four after, so that a change of tempo is no outlier.
    Near an end it is extrapolated by the Theil-Sen slope (Theil 1950, Sen 1968).

    Parameters
    ----------
    times : numpy.ndarray, shape (n,)
        Seconds, ascending.
    within : numpy.ndarray, shape (n - 1,)
        Which steps are of one bout.
    """
    steps = np.where(within, np.diff(times), np.nan)
    median = find_local_median(steps)
    return np.asarray(steps / median), median


def normalise(values: Floats) -> Floats:
    """Return the ratio of each value to the local median (see :func:`normalise_periods`); NaN stays NaN.

    Parameters
    ----------
    values : numpy.ndarray, shape (n,)
        In any unit.
    """
    return np.asarray(values / find_local_median(values))


def find_local_median(steps: Floats) -> Floats:
    """Return the local median of each step that is known (see :func:`normalise_periods`).

    Parameters
    ----------
    steps : numpy.ndarray, shape (n,)
        Seconds; NaN where unknown.
    """
    padded = np.pad(steps, 4, constant_values=np.nan)
    beside = np.stack([padded[4 + k : 4 + k + steps.size] for k in (-4, -3, -2, -1, 1, 2, 3, 4)], axis=1)
    beside.sort(axis=1)  # what is not known comes last
    many = (~np.isnan(beside)).sum(axis=1)
    row = np.arange(steps.size)
    median = (beside[row, np.maximum(many - 1, 0) // 2] + beside[row, many // 2]) / 2
    median = np.where(np.isnan(steps), np.nan, np.where(many > 0, median, steps))
    if steps.size >= _TREND:
        for k in (*range(4), *range(steps.size - 4, steps.size)):
            first = 0 if k < 4 else steps.size - _TREND
            median[k] += _extrapolate_trend(k - first, steps[first : first + _TREND])
    return median


def _extrapolate_trend(at: int, near: Floats) -> float:
    """Return the correction of a local median near an end by a significant trend of the steps there."""
    number = np.arange(near.size)
    one, other = np.triu_indices(near.size, 1)
    slope = float(np.nanmedian((near[other] - near[one]) / (other - one)))
    left = near - slope * number
    scatter = 1.4826 * float(np.nanmedian(np.abs(left - np.nanmedian(left))))
    if not abs(slope) > 3 * scatter / np.sqrt(near.size**3 / 12):
        return 0.0
    around = np.clip([at - 4, at + 4], 0, near.size - 1)
    return slope * (at - float(around.mean()))


def find_threshold(ratios: Floats) -> float:
    """Return the distance from the median at which a ratio is an outlier; infinite under five cycles.

    Parameters
    ----------
    ratios : numpy.ndarray, shape (n,)
        Steps over their local median.
    """
    known = ratios[~np.isnan(ratios)]
    if known.size < _ODD_CYCLES[0]:
        return float("inf")
    many, scatters = (_ODD_CYCLES, _ODD_SCATTERS) if known.size % 2 else (_EVEN_CYCLES, _EVEN_SCATTERS)
    times = float(np.exp(np.interp(np.log(known.size), np.log(many), np.log(scatters))))
    return max(JUST_NOTICEABLE, times * _find_scatter(known))


def _find_scatter(values: Floats) -> float:
    """Return Qn: the first quartile of the distances of all pairs, scaled.

    Where the values lie in two heaps, most pairs lie in one of them: it is then most of the interquartile range.
    """
    some = values[np.linspace(0, values.size - 1, min(values.size, _MOST)).astype(int)]
    one, other = np.triu_indices(some.size, 1)
    distances = np.abs(some[one] - some[other])
    half = some.size // 2 + 1
    at = half * (half - 1) // 2 - 1
    quartiles = np.quantile(values, [0.25, 0.75])
    return max(_QN * float(np.partition(distances, at)[at]), _HEAPS * float(quartiles[1] - quartiles[0]))


def _by_length(circles: Circles, noise: float) -> list[Uneven]:
    times, within = circles.cycles.time, circles.cycles.within
    if times.size < 6:
        return []
    ratios, usual = normalise_periods(times, within)
    ratios = np.where(circles.cycles.seen, ratios, np.nan)
    limit = find_threshold(ratios)
    if not np.isfinite(limit):
        return []
    # a period lies between two marks
    limits = np.maximum(limit, _NOISY * np.sqrt(2) * noise / usual)
    middle = float(np.nanmedian(ratios))
    out: list[Uneven] = []
    k = 0
    while k < ratios.size:
        ratio = float(ratios[k])
        off = ratio - middle
        if not abs(off) > limits[k]:
            k += 1
            continue
        if off > 0 and _at_end(k, within):
            k += 1
            continue
        following = float(ratios[k + 1]) if k + 1 < ratios.size and within[k + 1] else float("nan")
        if not circles.carried and ratio < _SQUEEZED and following < _SQUEEZED and ratio + following < 1.35:
            out.append(Uneven("extra", k, k + 1, float(times[k]), float(times[k + 2]), ratio + following))
            k += 2
            continue
        kind: UnevenKind = "missed" if ratio > _LEFT_OUT and not circles.carried else "long" if off > 0 else "short"
        out.append(Uneven(kind, k, k, float(times[k]), float(times[k + 1]), ratio))
        k += 1
    return out


def _at_end(step: int, within: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> bool:
    """Return True for the first and last step of a bout, slow because of a soft start or stop."""
    return step in (0, within.size - 1) or not within[step - 1] or not within[step + 1]


def count_circles(circles: Circles) -> tuple[Ints, Ints]:
    """Return the numbers of the complete carrying cycles and the circles in each.

    The first and the last of a bout may be cut off by the record, and are left out.
    """
    if not circles.cycle.size:
        return circles.cycle, circles.cycle
    numbers, first, counts = np.unique(circles.cycle, return_index=True, return_counts=True)
    bouts = np.searchsorted(circles.cycles.span[:, 0], circles.time[first], side="right")
    another = np.diff(bouts) > 0
    inner = np.append(False, ~another) & np.append(~another, False)
    return numbers[inner], counts[inner].astype(np.int64)


def _by_number(circles: Circles) -> list[Uneven]:
    numbers, counts = count_circles(circles)
    if numbers.size < 3:
        return []
    median = int(np.median(counts))
    off = counts - median
    # a circle at the border of two cycles that fell to the other one is neither missing nor too many
    moved = (off[:-1] != 0) & (off[:-1] + off[1:] == 0) & (np.diff(numbers) == 1)
    off[:-1][moved] = off[1:][moved] = 0
    out = []
    for number, count in zip(numbers, median + off, strict=True):
        if count != median:
            mine = circles.time[slice(*np.searchsorted(circles.cycle, [number, number + 1]))]
            start = float(mine[0])
            begun = circles.cycles.time
            at = int(np.clip(np.searchsorted(begun, mine.mean(), side="right") - 1, 0, begun.size - 2))
            out.append(
                Uneven(
                    "missed" if count < median else "extra",
                    at,
                    at,
                    min(start, float(begun[at])),
                    float(begun[at + 1]),
                    1.0,
                    int(count),
                )
            )
    return out


def _join(found: list[Uneven]) -> list[Uneven]:
    """Merge three or more successive uneven cycles into an irregular one."""
    out: list[Uneven] = []
    run: list[Uneven] = []
    for flag in [*found, None]:
        if flag is not None and (not run or flag.first <= run[-1].last + 1):
            run.append(flag)
            continue
        counted = [each for each in run if each.kind in ("missed", "extra")]
        if len(counted) == 1:
            # A circle too many or too few drags the steps beside it along; it is the one to name.
            out.extend(counted)
        elif len(run) >= 3:
            worst = max(run, key=lambda each: abs(each.ratio - 1))
            out.append(Uneven("irregular", run[0].first, run[-1].last, run[0].start, run[-1].end, worst.ratio))
        else:
            out.extend(run)
        run = [flag] if flag is not None else []
    return out
