"""Sizes of circles and cycles: the radius of each, those that stand out, and one tracked body's against another's.

Positions alone show a size. A turning rate is the same on any radius, and what an accelerometer feels of the radius
cannot be told from tempo and gravity.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.circles import to_plane
from tempo_coach.observe.trace.uneven import Uneven, find_threshold, normalise

if TYPE_CHECKING:
    from tempo_coach.observe.trace.tracked_body import TrackedBody
    from tempo_coach.observe.trace.uneven import UnevenKind
    from tempo_coach.times import Floats, Ints

#: Difference of size that is seen, relative to it: twice the Weber fraction of lengths seen one after another (.03 to
#: .05, from memory), because it moves.
SEEN = 0.1
#: Readings a circle from which its radius is measured, and the largest part of them that may be missing.
_READINGS, _LOST = 6, 0.1
#: Residual of a separation, relative to the radius of the small circle, above which that of each is a guess.
_CLEAR = 0.35


@dataclass(frozen=True, eq=False)
class Sizes:
    """Sizes of the circles, or of the whole cycles, of one tracked body.

    Parameters
    ----------
    time : numpy.ndarray, shape (n,)
        Seconds: low points of circles, starts of cycles.
    start, end : numpy.ndarray, shape (n,)
        Seconds between which each was measured.
    radius : numpy.ndarray, shape (n,)
        Root mean square distance from its middle, which is the radius of a circle, in the trace's unit; NaN where it
        was cut off or not read.
    cycle : numpy.ndarray of int, shape (n,)
        Number of the cycle, from 0.
    number : numpy.ndarray of int, shape (n,)
        Which circle of its cycle it is, from 0.
    """

    time: Floats
    start: Floats
    end: Floats
    radius: Floats
    cycle: Ints
    number: Ints


@dataclass(frozen=True)
class SizeRatio:
    """Size of one body's circles against another's.

    Parameters
    ----------
    of, to : str
    ratio : float
        Of the medians.
    low, high : float
        95 % confidence interval, of the logarithms of the sizes.
    """

    of: str
    to: str
    ratio: float
    low: float
    high: float

    @property
    def differs(self) -> bool:
        """Whether the difference is visible and more than their scatter explains."""
        return abs(np.log(self.ratio)) > np.log1p(SEEN) and (self.low > 1 or self.high < 1)


def measure_circles(body: TrackedBody) -> Sizes | None:
    """Measure every circle that a bigger cycle carries; None without visible sizes or a carrying cycle."""
    circles = body.circles
    if not _shows(body) or circles.time.size < 2 or not circles.separations:
        return None
    if any(each.reasons or each.residual > _CLEAR * each.small_radius for each in circles.separations):
        return None
    edges = (circles.time[1:] + circles.time[:-1]) / 2
    start = np.concatenate([[2 * circles.time[0] - edges[0]], edges])
    end = np.concatenate([edges, [2 * circles.time[-1] - edges[-1]]])
    typical = float(np.median(np.diff(circles.time)))
    is_whole = (end - start > 0.5 * typical) & (end - start < 1.6 * typical)
    number = np.arange(circles.time.size) - np.searchsorted(circles.cycle, circles.cycle)
    radius = np.full(circles.time.size, np.nan)
    for each, (first, last) in zip(circles.separations, circles.cycles.span, strict=True):
        inside = (circles.time > first + typical / 2) & (circles.time < last - typical / 2)
        radius[inside] = np.interp(circles.time[inside], each.time, each.local_radius)
    radius[~is_whole | (_read(body, start, end) < 1 - _LOST)] = np.nan
    return Sizes(circles.time, start, end, radius, circles.cycle, number)


def measure_cycles(body: TrackedBody) -> Sizes | None:
    """Measure every cycle with all that lies in it; None without visible sizes."""
    cycles = body.cycles
    if not _shows(body) or cycles.periods.size < 2:
        return None
    number = np.flatnonzero(cycles.within)
    radius = _distance(body, cycles.starts, cycles.ends)
    return Sizes(cycles.starts, cycles.starts, cycles.ends, radius, number, 0 * number)


def find_odd_sizes(body: TrackedBody) -> list[Uneven]:
    """Find circles and cycles that are bigger or smaller than their neighbours, in order of time.

    They stand out by more than is seen and by more than the take's own scatter, with the thresholds of periods
    (:func:`tempo_coach.observe.trace.uneven.find_threshold`). The first and the last of a bout are not called small:
    a movement begins and ends so.
    """
    found = [*_odd(measure_circles(body), body), *_odd(measure_cycles(body), body, of_cycles=True)]
    return sorted(found, key=lambda flag: flag.start)


def compare_sizes(of: TrackedBody, to: TrackedBody) -> SizeRatio | None:
    """Return the size of one body's circles against another's; None where either is not known.

    Where one of them alone carries small circles, it is the whole cycles that are compared.
    """
    sizes = [measure_circles(body) for body in (of, to)]
    if any(each is None for each in sizes):
        sizes = [measure_cycles(body) for body in (of, to)]
    if of.trace.unit != to.trace.unit or any(each is None for each in sizes):
        return None
    logs = [np.log(each.radius[each.radius > 0]) for each in sizes if each is not None]
    if min(each.size for each in logs) < 3:
        return None
    middle = float(np.median(logs[0]) - np.median(logs[1]))
    # the median of normal values has π/2 times the variance of their mean
    error = float(np.sqrt(np.pi / 2 * sum((1.4826 * np.median(np.abs(x - np.median(x)))) ** 2 / x.size for x in logs)))
    low, high = np.exp([middle - 1.96 * error, middle + 1.96 * error])
    return SizeRatio(of.name, to.name, float(np.exp(middle)), float(low), float(high))


def _shows(body: TrackedBody) -> bool:
    return body.trace.quantity == "position" and body.trace.values.shape[1] > 1


def _odd(sizes: Sizes | None, body: TrackedBody, *, of_cycles: bool = False) -> list[Uneven]:
    if sizes is None:
        return []
    radius = sizes.radius.copy()
    for number in np.unique(sizes.number):  # three circles of a cycle may have three sizes
        mine = sizes.number == number
        if np.isfinite(radius[mine]).any():
            radius[mine] /= np.nanmedian(radius[mine])
    ratios = normalise(radius)
    limit = max(SEEN, find_threshold(ratios))
    if not np.isfinite(limit):
        return []
    off = ratios - float(np.nanmedian(ratios))
    bout = np.searchsorted(body.cycles.span[:, 0], sizes.time, side="right")
    at_end = np.concatenate([[True], np.diff(bout) > 0, [True]])
    out: list[Uneven] = []
    for k in np.flatnonzero(np.abs(off) > limit).tolist():
        if off[k] < 0 and (at_end[k] or at_end[k + 1]):
            continue
        circle = None if of_cycles else int(sizes.number[k]) + 1
        cycle, ratio = int(sizes.cycle[k]), float(ratios[k])
        kind: UnevenKind = "bigger" if off[k] > 0 else "smaller"
        start, end = float(sizes.start[k]), float(sizes.end[k])
        if out and of_cycles and out[-1].kind == kind and out[-1].last == cycle - 1:
            # one that is bigger need not begin where cycles are counted from
            ratio = max(ratio, out[-1].ratio, key=lambda each: abs(np.log(each)))
            out[-1] = replace(out[-1], last=cycle, end=end, ratio=ratio)
        else:
            out.append(Uneven(kind, cycle, cycle, start, end, ratio, None, circle))
    return out


def _distance(body: TrackedBody, start: Floats, end: Floats) -> Floats:
    """Return the RMS distance from the centre of each stretch; NaN where too little of it was read."""
    known = ~np.isnan(body.trace.values).any(axis=1)
    time, path = body.trace.time[known], to_plane(body.trace.values[known], body.trace.axes)
    path = path - path.mean()
    # sums up to an instant, by the trapezoid rule, so that a stretch may begin between two readings
    step, mean = np.diff(time), (path[1:] + path[:-1]) / 2
    square = (np.abs(path[1:]) ** 2 + np.abs(path[:-1]) ** 2 + (path[1:] * path[:-1].conj()).real) / 3
    sums = [np.concatenate([[0], np.cumsum(column * step)]) for column in (mean.real, mean.imag, square)]
    first, last = (np.stack([np.interp(at, time, column) for column in sums]) for at in (start, end))
    long = np.maximum(end - start, 1e-9)
    real, imaginary, squared = (last - first) / long
    distance = np.sqrt(np.maximum(squared - real**2 - imaginary**2, 0))
    fair = (_read(body, start, end) >= 1 - _LOST) & (long * body.trace.rate_hz >= _READINGS)
    inside = (start >= time[0] - 0.5 / body.trace.rate_hz) & (end <= time[-1] + 0.5 / body.trace.rate_hz)
    return np.where(fair & inside, distance, np.nan)


def _read(body: TrackedBody, start: Floats, end: Floats) -> Floats:
    """Return the share of each stretch that was read."""
    known = ~np.isnan(body.trace.values).any(axis=1)
    time = body.trace.time[known]
    found = np.searchsorted(time, end) - np.searchsorted(time, start)
    return np.asarray(found / np.maximum((end - start) * body.trace.rate_hz - 1, 1))
