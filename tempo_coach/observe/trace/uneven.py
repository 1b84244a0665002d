"""Uneven cycles: long, short, with a circle missing or too many, and from where to where.

A cycle stands out when its period leaves the median by more than can be heard and by more than the take's own scatter
allows. The scatter is Qn, a low quantile of the distances of all pairs, which half of the cycles may break without
moving it (Rousseeuw & Croux 1993); how many times it a good cycle may leave depends on how many cycles there are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.observe.trace.circles import Circles
    from tempo_coach.times import Floats, Ints

#: Below this part of the period nobody hears a difference (Friberg & Sundberg 1995).
HEARD = 0.025
#: Scatters that in 199 of 200 takes no normal cycle leaves the median by, by the number of cycles; Qn of an odd number
#: scatters more. Simulated with the usual length as it is found here, 1 500 (51 and 400 cycles) to 100 000 takes each,
#: seed 0; 101 and 401 lie between their neighbours.
_EVEN_CYCLES = (6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 30.0, 50.0, 100.0, 400.0)
_EVEN_SCATTERS = (4.16, 3.75, 3.66, 3.63, 3.60, 3.68, 3.75, 3.88, 4.07, 4.28)
_ODD_CYCLES = (5.0, 7.0, 9.0, 11.0, 13.0, 17.0, 21.0, 31.0, 51.0, 101.0, 401.0)
_ODD_SCATTERS = (13.57, 7.09, 5.35, 4.61, 4.39, 4.16, 4.16, 4.02, 4.18, 4.2, 4.28)
#: Qn's factor for normal steps, and how many steps it is taken of at the most.
_QN, _MOST = 2.2219, 1000
#: Steps from which a trend towards an end is told.
_TREND = 17
#: A step of this many periods has left a circle out; one of less than this part belongs to an extra circle.
_LEFT_OUT, _SQUEEZED = 1.6, 0.7

Kind = Literal["long", "short", "missed", "extra", "irregular"]


@dataclass(frozen=True)
class Uneven:
    """One cycle, or several in a row, that broke.

    Parameters
    ----------
    kind : {"long", "short", "missed", "extra", "irregular"}
        Irregular is three or more in a row that broke in different ways.
    first, last : int
        Numbers of the cycles, from 0.
    start, end : float
        Seconds from where to where.
    ratio : float
        The (longest) period over the usual one there.
    circles : int or None
        How many circles there were in the cycle, where it carries any.
    """

    kind: Kind
    first: int
    last: int
    start: float
    end: float
    ratio: float
    circles: int | None = None


def find_uneven(circles: Circles) -> list[Uneven]:
    """Return the cycles that broke, in order of time.

    Parameters
    ----------
    circles : Circles
        Where circles are carried, cycles are judged by their length and by their number of circles; else every step
        from one circle (or cycle) to the next is a cycle.

    Returns
    -------
    list of Uneven
        Empty under five cycles, where nothing can stand out.
    """
    found = _by_number(circles) if circles.carried else []
    taken = {flag.first for flag in found}
    found += [flag for flag in _by_length(circles) if flag.first not in taken]
    found.sort(key=lambda flag: flag.start)
    return _join(found)


def usual_periods(times: Floats, within: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> tuple[Floats, Floats]:
    """Return each step over its usual length, and the usual length; NaN between bouts.

    The usual length is the median of the four steps before and the four after, so that a tempo that changes is not
    charged to a cycle. Near an end, where they lie to one side, the median slope of their pairs (Theil 1950, Sen 1968)
    leads there.
    """
    steps = np.where(within, np.diff(times), np.nan)
    usual = np.full(steps.size, np.nan)
    for k in np.flatnonzero(within).tolist():
        beside = np.concatenate([steps[max(0, k - 4) : k], steps[k + 1 : k + 5]])
        beside = beside[~np.isnan(beside)]
        usual[k] = np.median(beside) if beside.size else steps[k]
        if not 4 <= k < steps.size - 4 and steps.size >= _TREND:
            first = 0 if k < 4 else steps.size - _TREND
            usual[k] += _lead_to(k - first, steps[first : first + _TREND])
    return np.asarray(steps / usual), usual


def _lead_to(at: int, near: Floats) -> float:
    """Return what a sure trend of steps in a row adds to the median of those beside one of them near an end."""
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
    """Return by how much a ratio must leave its median to stand out; infinite under five cycles."""
    known = ratios[~np.isnan(ratios)]
    if known.size < _ODD_CYCLES[0]:
        return float("inf")
    many, scatters = (_ODD_CYCLES, _ODD_SCATTERS) if known.size % 2 else (_EVEN_CYCLES, _EVEN_SCATTERS)
    times = float(np.exp(np.interp(np.log(known.size), np.log(many), np.log(scatters))))
    return max(HEARD, times * _find_scatter(known))


def _find_scatter(values: Floats) -> float:
    """Return Qn: of the distances of all pairs the one that a quarter of them are below."""
    from scipy.spatial.distance import pdist

    some = values[np.linspace(0, values.size - 1, min(values.size, _MOST)).astype(int)]
    half = some.size // 2 + 1
    at = half * (half - 1) // 2 - 1
    return _QN * float(np.partition(pdist(some[:, None]), at)[at])


def _by_length(circles: Circles) -> list[Uneven]:
    times, within = circles.cycles.time, circles.cycles.within
    if times.size < 6:
        return []
    ratios, _ = usual_periods(times, within)
    limit = find_threshold(ratios)
    middle = float(np.nanmedian(ratios))
    out: list[Uneven] = []
    k = 0
    while k < ratios.size:
        ratio = float(ratios[k])
        off = ratio - middle
        if not abs(off) > limit:
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
        kind: Kind = "missed" if ratio > _LEFT_OUT and not circles.carried else "long" if off > 0 else "short"
        out.append(Uneven(kind, k, k, float(times[k]), float(times[k + 1]), ratio))
        k += 1
    return out


def _at_end(step: int, within: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> bool:
    """Tell whether a step is the first or last of its bout, in which who starts or stops softly is slow."""
    return step in (0, within.size - 1) or not within[step - 1] or not within[step + 1]


def count_circles(circles: Circles) -> tuple[Ints, Ints]:
    """Return the numbers of the whole carrying cycles and how many circles each has.

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
    usual = int(np.median(counts))
    off = counts - usual
    # a circle at the border of two cycles that fell to the other one is neither missing nor too many
    moved = (off[:-1] != 0) & (off[:-1] + off[1:] == 0) & (np.diff(numbers) == 1)
    off[:-1][moved] = off[1:][moved] = 0
    out = []
    for number, count in zip(numbers, usual + off, strict=True):
        if count != usual:
            mine = circles.time[slice(*np.searchsorted(circles.cycle, [number, number + 1]))]
            start = float(mine[0])
            begun = circles.cycles.time
            at = int(np.clip(np.searchsorted(begun, mine.mean(), side="right") - 1, 0, begun.size - 2))
            out.append(
                Uneven(
                    "missed" if count < usual else "extra",
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
    """Put three or more neighbours that broke into one irregular stretch."""
    out: list[Uneven] = []
    run: list[Uneven] = []
    for flag in [*found, None]:
        if flag is not None and (not run or flag.first <= run[-1].last + 1):
            run.append(flag)
            continue
        told = [each for each in run if each.kind in ("missed", "extra")]
        if len(told) == 1:
            # A circle too many or too few drags the steps beside it along; it is the one to name.
            out.extend(told)
        elif len(run) >= 3:
            worst = max(run, key=lambda each: abs(each.ratio - 1))
            out.append(Uneven("irregular", run[0].first, run[-1].last, run[0].start, run[-1].end, worst.ratio))
        else:
            out.extend(run)
        run = [flag] if flag is not None else []
    return out
