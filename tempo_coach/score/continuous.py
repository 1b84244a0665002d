"""The course of the phase between two movers: the picture beside the discrete lags, never the measure itself.

The phase of one component is that of its analytic signal, after the middle of each cycle (half-way between its lowest
and its highest reading) has been taken off: an offset left on one of two movers would make a false spread out of
nothing. A cycle at each end is cut off, where the analytic signal has no meaning.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.even_steps import to_grid

if TYPE_CHECKING:
    from tempo_coach.observe.mover import Mover
    from tempo_coach.times import Floats

#: Fewer whole cycles than this have no course: one is cut off at each end.
LEAST_CYCLES = 4
#: Harmonics that are kept: the analytic phase of a movement with more than one loop a cycle would run back and forth.
_CORNER = 1.6


def analytic_phase(signal: Floats) -> Floats:
    """Return the phase of the analytic signal in degrees, unwrapped; 0 at a maximum.

    Parameters
    ----------
    signal : numpy.ndarray, shape (n,)
        At even steps, centred. What is not centred is bent: see :func:`centre_cycles`.

    Examples
    --------
    >>> turn = np.arange(400) / 100
    >>> analytic_phase(np.cos(2 * np.pi * turn))[[25, 125]].round(6).tolist()
    [90.0, 450.0]
    """
    from scipy.signal import hilbert

    return np.asarray(np.degrees(np.unwrap(np.angle(hilbert(signal)))))


def centre_cycles(time: Floats, signal: Floats, starts: Floats) -> Floats:
    """Take the middle of each cycle off, half-way between its lowest and its highest reading, sliding in between.

    Parameters
    ----------
    time, signal : numpy.ndarray, shape (n,)
    starts : numpy.ndarray, shape (k,)
        Seconds at which cycles start, ascending; the last one ends the last cycle.
    """
    edges = np.searchsorted(time, starts)
    whole = [(a, b) for a, b in pairwise(edges.tolist()) if b - a > 1]
    if not whole:
        return np.asarray(signal - (signal.min() + signal.max()) / 2)
    middles = [(signal[a:b].min() + signal[a:b].max()) / 2 for a, b in whole]
    return np.asarray(signal - np.interp(time, [(time[a] + time[b - 1]) / 2 for a, b in whole], middles))


def follow_phase(of: Mover, to: Mover) -> tuple[Floats, Floats]:
    """Return by how many degrees one mover trails another at every reading that both share.

    Parameters
    ----------
    of, to : Mover
        The one that trails, and the reference; of one trace, so that they share its clock.

    Returns
    -------
    time, degrees : numpy.ndarray, shape (k,)
        Seconds, and degrees in (-180, 180]; empty where they have fewer than four cycles in common. Bouts follow one
        another, each without its first and its last cycle.
    """
    times, degrees = [], []
    for start, end in _common(of, to):
        time = np.arange(start, end, 1 / to.trace.rate_hz)
        phases = [_phase(mover, time) for mover in (to, of)]
        period = float(np.median(to.cycles.periods))
        inside = (time >= start + period) & (time <= end - period)
        if end - start < LEAST_CYCLES * period or not inside.any():
            continue
        times.append(time[inside])
        degrees.append(180 - np.mod(180 - (phases[0] - phases[1])[inside], 360))
    if not times:
        return np.empty(0), np.empty(0)
    return np.concatenate(times), np.concatenate(degrees)


def _phase(mover: Mover, time: Floats) -> Floats:
    from scipy.signal import butter, sosfiltfilt

    grid = to_grid(mover.trace)
    direction = mover.cycles.direction
    along = grid.values @ direction if direction.size == grid.values.shape[1] else grid.values[:, 0]
    signal = np.interp(time, grid.time, along)
    centred = centre_cycles(time, signal, mover.cycles.time)
    step = float(time[1] - time[0])
    corner = 2 * step * _CORNER / float(np.median(mover.cycles.periods))
    low_pass = butter(4, corner, output="sos")
    return analytic_phase(sosfiltfilt(low_pass, centred, padlen=min(centred.size - 1, math.ceil(6 / corner))))


def _common(of: Mover, to: Mover) -> list[tuple[float, float]]:
    """Stretches in which both move."""
    found = []
    for start, end in to.cycles.span:
        for other_start, other_end in of.cycles.span:
            first, last = max(start, other_start), min(end, other_end)
            if last > first and of.cycles.periods.size and to.cycles.periods.size:
                found.append((float(first), float(last)))
    return found
