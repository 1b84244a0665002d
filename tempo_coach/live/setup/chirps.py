"""Delay of loudspeaker and microphone together, from chirps that are played and recorded."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.live.inputs.microphone import Recorded, find_loop

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Loops that differ by more than this between openings of the device are said to change (s): half of what a
#: trained ear notices between two clicks.
CHANGES_FROM = 0.005
#: Seconds of a chirp, where it begins and ends in Hz, how loud; far enough apart that a room has fallen silent.
CHIRP, CHIRP_HZ, CHIRP_LEVEL, CHIRPS_APART = 0.08, (600.0, 6000.0), 0.35, 0.7


@dataclass(frozen=True)
class LoopDelay:
    """The loop delay measured with chirps.

    Parameters
    ----------
    openings : tuple of float
        The loop at each opening of the device, in seconds.
    spread : float
        Pooled SD of the chirps of one opening, in seconds.
    """

    openings: tuple[float, ...]
    spread: float

    @property
    def delay(self) -> float:
        """Median loop delay over the openings."""
        return float(np.median(self.openings))

    @property
    def range(self) -> float:
        """Range of the loop delays."""
        return max(self.openings) - min(self.openings)

    @property
    def changes(self) -> bool:
        """Whether one measurement is not valid for the next opening."""
        return self.range > CHANGES_FROM


def make_chirps(rate_hz: int, *, number: int = 5, silence: float = 0.0) -> tuple[np.ndarray, Floats]:
    """Return chirps separated by silence, and the seconds at which they begin.

    Parameters
    ----------
    rate_hz : int
    number : int
    silence : float
        Seconds after the last one.

    Returns
    -------
    samples : numpy.ndarray, shape (n,), float32
    starts : (number,) s
    """
    time = np.arange(round(CHIRP * rate_hz)) / rate_hz
    low, high = CHIRP_HZ
    wave = CHIRP_LEVEL * np.hanning(time.size) * np.sin(2 * np.pi * (low + (high - low) * time / (2 * CHIRP)) * time)
    starts: Floats = 0.3 + CHIRPS_APART * np.arange(number, dtype=np.float64)
    samples = np.zeros(round((starts[-1] + CHIRPS_APART + silence) * rate_hz), np.float32)
    for start in starts:
        at = round(float(start) * rate_hz)
        samples[at : at + wave.size] += wave.astype(np.float32)
    return samples, starts


def find_chirp_loops(recorded: Recorded, samples: np.ndarray, starts: Floats) -> Floats:
    """Return the loop delay by each audible chirp of :func:`make_chirps`, in seconds.

    Parameters
    ----------
    recorded : Recorded
    samples : numpy.ndarray, shape (n,), float32
        What was played.
    starts : array, shape (m,)
        When each chirp begins in it, in seconds.

    Returns
    -------
    numpy.ndarray, shape (k,)
        One for each chirp that was heard, k <= m.
    """
    whole = find_loop(recorded, samples)
    if whole is None:
        return np.array([])
    found = []
    for start in starts:
        first = round(float(start) * recorded.rate_hz)
        alone = np.zeros_like(samples)
        one = slice(first, first + round(CHIRP * recorded.rate_hz))
        alone[one] = samples[one]
        loop = find_loop(recorded, alone, near=whole)
        if loop is not None:
            found.append(loop)
    return np.array(found)


def join_loops(openings: list[Floats]) -> LoopDelay:
    """Return the combined result of several openings of the device.

    Parameters
    ----------
    openings : list of array, shape (n,)
        Loops in seconds, of each time that the device was opened.

    Returns
    -------
    LoopDelay

    Raises
    ------
    CoachError
        If nothing was heard in one of them.
    """
    if not openings or any(each.size < 3 for each in openings):
        raise CoachError("chirps.not_heard")
    pooled = math.sqrt(float(np.mean([np.var(each, ddof=1) for each in openings])))
    return LoopDelay(tuple(float(np.median(each)) for each in openings), pooled)
