"""Small circles told from the movement that carries them: first guesses of both phases, then the separation.

Where the path's loops lean over, the winding of the velocity gives the small circles' phase. Where the bigger circle
moves faster, they do not show in the winding and are looked for in what the cycle's first harmonic leaves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.separate import Separation, separate
from tempo_coach.observe.warp import low

if TYPE_CHECKING:
    from tempo_coach.observe.warp import Complexes
    from tempo_coach.times import Floats

#: Turns of the velocity's direction a cycle, from which circles lie inside a cycle.
_CARRIED = 1.5
#: Readings a small circle that are kept for the separation, once it has been filtered.
_READINGS = 16
#: A small circle hidden in a bigger one must reach this part of its radius to be looked for.
_HIDDEN = 0.08
#: ... and this part where it is known to come again by itself; as far from there as this, as a logarithm, it may lie.
_HIDDEN_KNOWN, _NEAR_INNER = 0.02, 0.1
#: Circles a cycle that are looked for at the most.
MOST_CIRCLES = 12


@dataclass(frozen=True, eq=False)
class Bout:
    """A stretch of unrolled readings in which the movement goes on.

    Parameters
    ----------
    number : int
        Its place among the bouts, from 0.
    time : numpy.ndarray, shape (n,)
        Seconds.
    path : numpy.ndarray of complex, shape (n,)
        In the plane of movement, in the trace's unit.
    known : numpy.ndarray of bool, shape (n,)
        False inside a gap.
    per_cycle : int
        Readings a cycle.
    """

    number: int
    time: Floats
    path: Complexes
    known: np.ndarray[tuple[int], np.dtype[np.bool_]]
    per_cycle: int


def find_direction(bout: Bout, corner: float) -> Floats:
    """Return the direction of the velocity, which is whole at the low point of a circle against the clock.

    Parameters
    ----------
    bout : Bout
    corner : float
        Turns a cycle above which the path is filtered off first.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Turns, unwrapped.
    """
    path = low(bout.path, bout.per_cycle, corner)
    velocity = np.gradient(path.real) + 1j * np.gradient(path.imag)
    return np.asarray(np.unwrap(np.angle(velocity)) / (2 * np.pi))


def separate_carried(bout: Bout, turns: float, *, inner: float = 0.0) -> tuple[Bout, Separation | None]:
    """Separate small circles from what carries them.

    Parameters
    ----------
    bout : Bout
    turns : float
        Of the velocity's direction a cycle, negative with the clock.
    inner : float
        Small circles a cycle where they are known to repeat by themselves; 0 where nothing is known.

    Returns
    -------
    bout : Bout
        Thinned out to the readings that the separation has, or as it was given.
    separation : Separation or None
        None where there is nothing to separate.
    """
    if abs(turns) >= _CARRIED:
        small = find_direction(bout, 4 * abs(turns)) - 0.25
        many = abs(turns)
    else:
        hidden = _hidden_circle(bout, 1 if turns > 0 else -1, inner)
        if hidden is None:
            return bout, None
        small, many = hidden
    carrier = low(bout.path, bout.per_cycle, np.sqrt(max(many, 1.5)))
    carrier = carrier - low(carrier, bout.per_cycle, 0.4)
    slow = _carrier_phase(carrier)
    step = max(1, int(bout.per_cycle / (_READINGS * many)))
    smooth = low(bout.path, bout.per_cycle, 5 * many)
    slow = _straighten(slow, bout.per_cycle // 4)
    small = _straighten(small, int(bout.per_cycle / (4 * many)))
    kept = slice(None, None, step)
    thinned = Bout(bout.number, bout.time[kept], smooth[kept], bout.known[kept], bout.per_cycle)
    separation = separate(thinned.time, thinned.path, slow[kept], small[kept], known=thinned.known)
    return thinned, separation


def _straighten(phase: Floats, width: int) -> Floats:
    """Replace both ends of a first guess by straight lines: filters leave it no meaning there."""
    n = phase.size
    if width < 1 or n < 6 * width:
        return phase
    out = phase.copy()
    start = (phase[3 * width] - phase[width]) / (2 * width)
    end = (phase[n - 1 - width] - phase[n - 1 - 3 * width]) / (2 * width)
    out[:width] = phase[width] - start * np.arange(width, 0, -1)
    out[n - width :] = phase[n - 1 - width] + end * np.arange(1, width + 1)
    return out


def _carrier_phase(carrier: Complexes) -> Floats:
    """Phase of the carrying ellipse in turns: of its main axis, by the analytic signal."""
    from scipy.signal import hilbert

    axis = np.exp(0.5j * np.angle((carrier**2).sum()))
    main = (carrier * axis.conj()).real
    return np.asarray(np.unwrap(np.angle(hilbert(main))) / (2 * np.pi))


def _hidden_circle(bout: Bout, sense: int, inner: float) -> tuple[Floats, float] | None:
    """Find a small circle inside one that moves faster: its phase in turns, and how many there are a cycle.

    What the first harmonic of the cycle leaves is searched for the strongest line at two circles a cycle or more.
    """
    n = bout.path.size
    if n < 3 * bout.per_cycle:
        return None
    left = bout.path - low(bout.path, bout.per_cycle, 1.6)
    window = np.hanning(n)
    spectrum = np.abs(np.fft.fft(left * window)) / window.sum()
    cycles_a_cycle = np.fft.fftfreq(n, 1 / bout.per_cycle)
    range_ = (np.abs(cycles_a_cycle) >= 1.7) & (np.abs(cycles_a_cycle) <= MOST_CIRCLES)
    hidden, around = _HIDDEN, range_.copy()
    if inner:
        range_ &= np.abs(np.log(np.maximum(np.abs(cycles_a_cycle), 0.1) / inner)) < _NEAR_INNER
        hidden = _HIDDEN_KNOWN
    if not range_.any():
        return None
    at = int(np.argmax(np.where(range_, spectrum, 0)))
    main = float(np.std(bout.path))
    if spectrum[at] < hidden * main or spectrum[at] < 8 * np.median(spectrum[around]):
        return None
    many = float(cycles_a_cycle[at])
    shift = np.exp(-2j * np.pi * many * np.arange(n) / bout.per_cycle)
    slow = low(left * shift, bout.per_cycle, 0.6)
    phase = np.unwrap(np.angle(slow * shift.conj())) / (2 * np.pi)
    # One circle that broke has such a line too, but only where it broke.
    if abs(many - sense) < 0.5 or np.median(np.abs(slow)) < 0.5 * hidden * main:
        return None
    return np.asarray(phase), abs(many)
