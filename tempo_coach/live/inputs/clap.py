"""Clap detector on a microphone's blocks: a sudden, high sound that is over at once. Pure."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

#: Seconds of a frame whose loudness is one number.
FRAME = 0.005
#: Least level of a clap's frame relative to the quiet of the last second, and absolute (full scale is 1).
RISES, LEAST = 10.0, 0.01
#: Seconds within which a clap has fallen to a part of its loudness; a voice or a note that begins stays (a clap's noise
#: dies away within some tens of milliseconds, Repp 1987, from memory; a hall's echo leaves it under a third).
OVER_AFTER, PART_LEFT = 0.1, 1 / 3
#: Frames of quiet that have to be known before anything can stand out of it.
KNOWN = 60


class ClapFinder:
    """Detects claps in the blocks of one microphone.

    Parameters
    ----------
    rate_hz : int

    Examples
    --------
    >>> finder = ClapFinder(8000)
    >>> finder.feed(np.zeros(8000))
    False
    """

    def __init__(self, rate_hz: int) -> None:
        self._length = max(2, round(FRAME * rate_hz))
        self._left = np.zeros(0)
        self._quiet: deque[float] = deque(maxlen=round(1 / FRAME))
        self._waited = 0
        self._peak = 0.0

    def feed(self, samples: ArrayLike) -> bool:
        """Process further samples, shape (n,), and return whether they completed a clap."""
        waves = np.concatenate([self._left, np.asarray(samples, dtype=np.float64)])
        frames = len(waves) // self._length
        self._left = waves[frames * self._length :]
        # the difference from sample to sample is what is high in it: rumble and voices fall away
        high = np.diff(waves[: frames * self._length], prepend=waves[:1])
        levels = np.sqrt(np.mean(high.reshape(frames, self._length) ** 2, axis=1))
        claps = [self._frame(float(level)) for level in levels]
        return any(claps)

    def _frame(self, level: float) -> bool:
        if self._waited:
            self._peak = max(self._peak, level)
            self._waited += 1
            if self._waited * FRAME < OVER_AFTER:
                return False
            self._waited = 0
            if level < PART_LEFT * self._peak:
                return True
        elif len(self._quiet) >= KNOWN and level > max(LEAST, RISES * float(np.median(self._quiet))):
            self._waited, self._peak = 1, level
            return False
        self._quiet.append(level)
        return False
