"""How much begins at each frame, from what the ear gets: the curve that beats are decoded from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.music.features import Curve, Features

#: Weights of the low, middle and high bands and of the swell, found on the development set.
_WEIGHTS = (1.0, 1.0, 1.0, 1.0)
#: Frames over which the usual growth is taken: 4 s, long enough for a bar of a waltz.
_USUAL = 400
#: What is never less than usual: this part of the whole piece's mean, so that the noise of a pause stays small.
_QUIET = 0.3


def beat_strength(features: Features) -> Curve:
    """Return how much begins at each frame.

    Parameters
    ----------
    features : Features

    Returns
    -------
    numpy.ndarray, shape (n,), float32
        0 to 1; about a third where as much begins as usual around there.
    """
    curves = [*features.onset.T, features.swell]
    total = np.zeros(len(features.swell), dtype=np.float32)
    for weight, curve in zip(_WEIGHTS, curves, strict=True):
        whole = float(curve.mean())
        if whole > 0:
            total += weight * curve / (moving_mean(curve, _USUAL) + _QUIET * whole)
    total /= sum(_WEIGHTS)
    smooth = total.copy()
    smooth[1:] += total[:-1] / 2
    smooth[:-1] += total[1:] / 2
    smooth /= 2
    strength: Curve = smooth / (smooth + 2)
    return strength


def moving_mean(curve: Curve, width: int) -> Curve:
    """Return the mean of each value and its surroundings, shorter at the ends, shape (n,)."""
    total = np.concatenate([[0.0], np.cumsum(curve, dtype=np.float64)])
    places = np.arange(len(curve))
    first = np.maximum(places - width // 2, 0)
    last = np.minimum(places + width // 2 + 1, len(curve))
    mean: Curve = ((total[last] - total[first]) / (last - first)).astype(np.float32)
    return mean
