"""Loudness of a piece of music over time: the curve that a coach sees below the counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.files.sound import BLOCK
from tempo_coach.times import Floats, column

if TYPE_CHECKING:
    from tempo_coach.music.files.sound import Sound

#: Levels a second: finer than a column of a screen, coarser than a note.
LEVELS_HZ = 40
#: What lies this far (dB) below the loudest counts as silence; music's own range is about that (common practice).
RANGE_DB = 36.0


def find_levels(sound: Sound) -> Floats:
    """Return the level of each 25 ms, 0 (silence) to 1 (the loudest of the piece).

    Parameters
    ----------
    sound : Sound

    Returns
    -------
    numpy.ndarray, shape (ceil(duration * LEVELS_HZ),)
        Root mean square of all channels in dB below the loudest, over ``RANGE_DB``. Zeros where all is silent.

    Examples
    --------
    >>> import numpy as np
    >>> from tempo_coach.music.files.sound import Sound
    >>> loud, half = np.ones((4000, 1)), np.full((4000, 1), 0.5)
    >>> levels = find_levels(Sound(np.concatenate([loud, half]), 8000))
    >>> [round(float(level), 3) for level in levels[[0, -1]]]  # half of it is 6.02 dB less
    [1.0, 0.833]
    """
    length = len(sound.samples)
    number = -(-length * LEVELS_HZ // sound.rate_hz)
    edges = np.arange(number + 1) * sound.rate_hz // LEVELS_HZ
    edges[-1] = length
    power = np.zeros(number)
    at_once = max(1, BLOCK * LEVELS_HZ // sound.rate_hz)
    for first in range(0, number, at_once):
        last = min(first + at_once, number)
        part = np.asarray(sound.samples[edges[first] : edges[last]], dtype=np.float64)
        sums = np.add.reduceat(np.mean(part**2, axis=1), edges[first:last] - edges[first])
        power[first:last] = sums / np.diff(edges[first : last + 1])
    loudest = power.max(initial=0.0)
    if loudest == 0:
        return column(power, name="levels")
    below_db = 10 * np.log10(np.maximum(power / loudest, 1e-12))
    return column(np.clip(1 + below_db / RANGE_DB, 0, 1), name="levels")


def level_between(levels: Floats, starts: Floats, ends: Floats) -> Floats:
    """Return the mean level of each stretch, 0 outside the music.

    Parameters
    ----------
    levels : array, shape (n,)
        Of :func:`find_levels`.
    starts, ends : array, shape (m,)
        Seconds; where both are the same, the level there is meant.

    Returns
    -------
    numpy.ndarray, shape (m,)
    """
    total = np.concatenate([[0.0], np.cumsum(levels)])
    first = np.floor(np.asarray(starts) * LEVELS_HZ + 1e-9).astype(np.int64)
    last = np.maximum(np.ceil(np.asarray(ends) * LEVELS_HZ - 1e-9).astype(np.int64), first + 1)
    inside = np.clip(first, 0, levels.size), np.clip(last, 0, levels.size)
    return np.asarray((total[inside[1]] - total[inside[0]]) / (last - first), dtype=np.float64)
