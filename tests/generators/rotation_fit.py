"""Steady rotations fitted to a whole record, as well as its noise allows.

For a movement that runs evenly (a machine, a pendulum, a very steady club) one frequency and phase for the whole record
is far surer than any single crossing. What noise allows at best is the Cramér-Rao bound; for a sine of amplitude A in
white noise of SD s, N readings at the rate R (Kay, Fundamentals of Statistical Signal Processing, 1993, from memory)::

    SD of the frequency = sqrt(12 / (snr · N (N² - 1))) · R / 2π,      snr = A² / 2s²
    SD of the phase at the record's centre = sqrt(1 / (snr · N))
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.observe.trace.filters import Complexes
    from tempo_coach.times import Floats

_ROUNDS = 30


@dataclass(frozen=True)
class Rotation:
    """One steady rotation or sine.

    Parameters
    ----------
    frequency_hz : float
        Turns a second; of a point in its plane negative with the clock.
    phase : float
        Radians at the centre of the record.
    radius : float
        Radius of the circle or amplitude of the sine.
    """

    frequency_hz: float
    phase: float
    radius: float


def fit_rotations(time: Floats, readings: Floats | Complexes, *, count: int = 1) -> list[Rotation]:
    """Fit steady sines (real readings) or rotations (complex ones) by least squares.

    The strongest line of the spectrum starts each one; then all are refined together by Gauss and Newton's method.

    Parameters
    ----------
    time : numpy.ndarray, shape (n,)
        Seconds, ascending; steps may be uneven.
    readings : numpy.ndarray, shape (n,)
        Real, or complex as :func:`tempo_coach.observe.trace.circles.to_plane` gives them.
    count : int
        How many.

    Returns
    -------
    list of Rotation
        The slowest first.

    Raises
    ------
    ValueError
        If two of them cannot be told apart: their frequencies lie closer than one over the record's length.
    """
    real = not np.iscomplexobj(readings)
    centre = (time[0] + time[-1]) / 2
    at = time - centre
    frequencies: list[float] = []
    left = readings - readings.mean()
    for _ in range(count):
        frequencies.append(_strongest(at, left, real=real))
        frequencies, coefs, left = _refine(at, readings, frequencies, real=real)
    ordered = sorted(frequencies, key=abs)
    length = float(time[-1] - time[0])
    if any(abs(b - a) < 1 / length for a, b in pairwise(ordered)):
        raise ValueError(f"{ordered[0]:.4g} and {ordered[-1]:.4g} Hz cannot be told apart in {length:.3g} s")
    found = [
        Rotation(abs(f) if real else f, float(np.angle(c)), float(abs(c)))
        for f, c in zip(frequencies, coefs, strict=True)
    ]
    return sorted(found, key=lambda each: abs(each.frequency_hz))


def bound_frequency(amplitude: float, noise: float, n: int, rate_hz: float) -> float:
    """Return the Cramér-Rao bound of the frequency's SD in Hz of one real sine.

    Examples
    --------
    >>> round(bound_frequency(1.0, 0.1, 1000, 100.0), 9)
    0.000246562
    """
    snr = amplitude**2 / (2 * noise**2)
    return float(np.sqrt(12 / (snr * n * (n**2 - 1))) * rate_hz / (2 * np.pi))


def bound_phase(amplitude: float, noise: float, n: int) -> float:
    """Return the Cramér-Rao bound of the phase's SD in radians at the record's centre."""
    return float(np.sqrt(2 * noise**2 / (amplitude**2 * n)))


def _strongest(at: Floats, left: Floats | Complexes, *, real: bool) -> float:
    """Frequency of the strongest line, on a grid a quarter of the record's resolution."""
    step = float(np.median(np.diff(at)))
    grid = np.arange(at[0], at[-1] + step / 2, step)
    even = np.interp(grid, at, left.real) + (0 if real else 1j * np.interp(grid, at, np.asarray(left).imag))
    size = 4 * len(even)
    spectrum = np.abs(np.fft.fft(even, size))
    frequencies = np.fft.fftfreq(size, step)
    allowed = np.abs(frequencies) > 0.5 / (at[-1] - at[0])
    if real:
        allowed &= frequencies > 0
    return float(frequencies[np.argmax(np.where(allowed, spectrum, 0))])


def _refine(
    at: Floats, readings: Floats | Complexes, frequencies: list[float], *, real: bool
) -> tuple[list[float], Complexes, Floats | Complexes]:
    """Refine all frequencies together; return them, the complex amplitudes at the centre, and what is left."""
    found = np.array(frequencies)
    n = found.size
    for _ in range(_ROUNDS):
        turns = np.exp(2j * np.pi * np.outer(at, found))
        columns = np.column_stack([np.ones(at.size), turns.real, -turns.imag] if real else [np.ones(at.size), turns])
        solved = np.linalg.lstsq(columns, readings, rcond=None)[0]
        coefs = solved[1 : n + 1] + 1j * solved[n + 1 :] if real else solved[1:]
        left = readings - columns @ solved
        change = 2j * np.pi * at[:, None] * turns * coefs
        slope = np.column_stack([columns, change.real if real else change])
        if not real:
            # The frequencies are real numbers: stack both parts so that the step is real too.
            slope = np.column_stack([columns, 1j * columns, change])
            slope = np.concatenate([slope.real, slope.imag])
            step = np.linalg.lstsq(slope, np.concatenate([left.real, left.imag]), rcond=None)[0][-n:]
        else:
            step = np.linalg.lstsq(slope, left, rcond=None)[0][-n:]
        found = found + step
        if np.abs(step).max() < 1e-10:
            break
    return [float(f) for f in found], np.asarray(coefs), np.asarray(left)
