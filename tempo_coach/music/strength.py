"""How much begins at each frame, from what the ear gets: the curve that beats are decoded from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.music.features import Curve, Features

#: Frames over which the usual growth is taken: 9 s. This and the other numbers here: the development set decided.
_USUAL = 900
#: What is never less than usual: this part of the whole piece's mean, so that the noise of a pause stays small;
#: and likewise for the spread.
_QUIET, _EVEN = 0.2, 0.15
#: No onset counts for more than this many spreads: one crash must not outweigh a bar.
_MOST = 7.0


def beat_strength(features: Features) -> Curve:
    """Return how much begins at each frame, in spreads above what is usual around there.

    Parameters
    ----------
    features : Features

    Returns
    -------
    numpy.ndarray, shape (n,), float32
        Mean about 0, SD about 1; -1 to 7.
    """
    total = np.zeros(len(features.swell), dtype=np.float32)
    for curve in (*features.onset.T, features.swell):
        whole = float(curve.mean())
        if whole > 0:
            total += curve / (moving_mean(curve, _USUAL) + _QUIET * whole)
    smooth = total.copy()
    smooth[1:] += total[:-1] / 2
    smooth[:-1] += total[1:] / 2
    growth = np.sqrt(smooth)
    mean = moving_mean(growth, _USUAL)
    spread = np.sqrt(np.maximum(moving_mean(growth**2, _USUAL) - mean**2, 0)) + _EVEN * growth.std()
    strength: Curve = np.clip((growth - mean) / np.maximum(spread, 1e-6), -1, _MOST)
    return strength


def moving_mean(curve: Curve, width: int) -> Curve:
    """Return the mean of each value and its surroundings, shorter at the ends, shape (n,).

    Parameters
    ----------
    curve : array, shape (n,), float32
    width : int
        Values over which the mean is taken; an even width takes one more.
    """
    total = np.concatenate([[0.0], np.cumsum(curve, dtype=np.float64)])
    places = np.arange(len(curve))
    first = np.maximum(places - width // 2, 0)
    last = np.minimum(places + width // 2 + 1, len(curve))
    mean: Curve = ((total[last] - total[first]) / (last - first)).astype(np.float32)
    return mean
