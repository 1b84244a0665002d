"""Bounds of the movement in a trace: runs of cycles that resemble their neighbours, from the first one to the last."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.filters import Flags, close_gaps, drop_runs, find_runs, low_pass, running_mean
from tempo_coach.observe.trace.resampling import BRIDGED

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Unrolled
    from tempo_coach.times import Floats

#: Least amplitude of the first harmonic during movement, relative to its 80th percentile.
MOVING = 0.25
#: Shortest pause between bouts, in cycles: a single beat of waiting is a long cycle.
_CLOSED = 1.15
#: Cosine of the angle between a cycle and its neighbour from which on it belongs to the movement, and the least part of
#: one at an end of the record.
_ALIKE, _PART = 0.8, 0.25
#: Ends of the movement: harmonics whose speed is looked at, its part of the speed in so many cycles beside the end, and
#: how many times the speed where nothing moves.
_EDGE_HARMONICS, _EDGE_PART, _BESIDE, _FLOOR = 5.0, 0.3, 2.5, 2.5


def bound_movement(harmonic: Floats, values: Floats, unrolled: Unrolled, order: int) -> Flags:
    """Flag the readings during movement, from the first to the last of each bout.

    Parameters
    ----------
    harmonic, values : numpy.ndarray, shape (n, d)
        The readings' first harmonic, and the readings themselves without knocks.
    unrolled : Unrolled
        Of n readings.
    order : int
        As ``ORDER`` of :mod:`tempo_coach.observe.trace.rhythm` has it for what was measured.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
    """
    moving = _reach(find_moving(harmonic, unrolled.per_cycle), values, unrolled)
    return np.asarray(_trim(moving, values, unrolled, order) & ~_lost(unrolled))


def find_moving(harmonic: Floats, per_cycle: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Flag the readings during movement: the first harmonic is large for at least a cycle.

    Parameters
    ----------
    harmonic : numpy.ndarray, shape (n, d)
        The readings' first harmonic.
    per_cycle : int

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
    """
    power = running_mean((harmonic**2).sum(axis=1), per_cycle)
    size = np.sqrt(np.maximum(power, 0))  # a running sum of nothing may end below it
    loud = size > 0.1 * size.max()
    median_shift = np.quantile(size[loud], 0.8)
    moving = close_gaps(size > MOVING * median_shift, max(3, int(_CLOSED * per_cycle)))
    return drop_runs(moving, per_cycle)


def _reach(moving: Flags, values: Floats, unrolled: Unrolled) -> Flags:
    """Extend each run by adjacent cycles of similar shape, however small: a growing movement began small."""
    per_cycle, out = unrolled.per_cycle, moving.copy()

    def is_like(first: int, last: int, by: int) -> bool:
        part, beside = values[first:last], values[first + by : last + by]
        if not (unrolled.known[first:last].all() and unrolled.known[first + by : last + by].all()):
            return False
        part, beside = part - part.mean(axis=0), beside - beside.mean(axis=0)
        return float((part * beside).sum()) >= _ALIKE * float(np.sqrt((part**2).sum() * (beside**2).sum())) > 0

    runs = find_runs(moving)
    for k, (begins, ends) in enumerate(runs.tolist()):
        first, last = begins, ends
        least = runs[k - 1, 1] if k else 0
        most = runs[k + 1, 0] if k + 1 < len(runs) else len(values)
        while first - per_cycle >= least and is_like(first - per_cycle, first, per_cycle):
            first -= per_cycle
        while last + per_cycle <= most and is_like(last, last + per_cycle, -per_cycle):
            last += per_cycle
        # what is left of one at an end of the record
        if not least and _PART * per_cycle < first < per_cycle and is_like(0, first, per_cycle):
            first = 0
        if most == len(values) and _PART * per_cycle < most - last < per_cycle and is_like(last, most, -per_cycle):
            last = most
        out[first:last] = True
    return out


def _trim(moving: Flags, values: Floats, unrolled: Unrolled, order: int) -> Flags:
    """Trim each run to the actual movement: the energy of a whole cycle begins before it and ends after.

    How fast they change is held against the cycles beside the edge, and against what is left where nothing moves.
    """
    per_cycle = unrolled.per_cycle
    smooth = low_pass(values, per_cycle, _EDGE_HARMONICS)
    changes = np.gradient(smooth, axis=0) if order != 1 else smooth
    speed = np.sqrt(np.maximum(running_mean((changes**2).sum(axis=1), max(1, per_cycle // 8)), 0))
    rest = speed[~moving & unrolled.known]  # what was filled in is no rest
    floor = _FLOOR * float(np.median(rest)) if rest.size > per_cycle / 2 else 0.0
    out = np.zeros(moving.size, dtype=bool)
    for first, last in find_runs(moving):
        inside = speed[first:last]
        near = int(_BESIDE * per_cycle)
        limits = [_EDGE_PART * float(np.quantile(part, 0.75)) for part in (inside[:near], inside[-near:])]
        fast = [inside > max(limit, floor) for limit in limits]
        if fast[0].any() and fast[1].any():
            out[first + int(fast[0].argmax()) : last - int(fast[1][::-1].argmax())] = True
    return drop_runs(out, per_cycle)


def _lost(unrolled: Unrolled) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Flag the gaps that are too long to bridge: readings interpolated there are no movement."""
    edges = np.flatnonzero(np.diff(np.concatenate([[1], unrolled.known.astype(np.int8), [1]]))).reshape(-1, 2)
    lost = np.zeros(unrolled.known.size, dtype=bool)
    for first, last in edges[edges[:, 1] - edges[:, 0] > BRIDGED * unrolled.per_cycle]:
        lost[first:last] = True
    return lost
