"""Which beats begin a bar, from what the network says of each: the likeliest bars of one metre, with slips allowed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.times import Floats, Ints

METRES = (4, 3, 2)
"""Metres that are tried where none is named; the first wins where none is likelier."""

_UNSURE = 0.02  # the network is never believed more than this near to 0 or 1; found on the development set
_SLIP = 4.0  # price of a bar that is not as long as the metre says, as a logarithm of odds; found there too


def find_ones(likely: Floats, *, meter: int | None = None, one: int | None = None) -> Ints:
    """Return each beat's position in its bar, from 1.

    Parameters
    ----------
    likely : ndarray, shape (n,)
        How likely each beat is the first of a bar, 0 to 1.
    meter : int or None
        Beats a bar; without it the likeliest of `METRES`.
    one : int or None
        Index of a beat that is known to begin a bar.

    Returns
    -------
    ndarray of int, shape (n,)

    Examples
    --------
    >>> find_ones(np.array([0.1, 0.9, 0.1, 0.2, 0.8, 0.1, 0.1, 0.9]))
    array([3, 1, 2, 3, 1, 2, 3, 1])
    """
    if not len(likely):
        return np.zeros(0, dtype=np.int64)
    sure = np.clip(likely, _UNSURE, 1 - _UNSURE)
    tried = [_follow(np.log(sure), np.log(1 - sure), each, one) for each in ((meter,) if meter else METRES)]
    return max(tried, key=lambda pair: pair[0])[1]


def _follow(first: Floats, other: Floats, meter: int, one: int | None) -> tuple[float, Ints]:
    """Return how likely the best positions of one metre are, and those positions."""
    n = len(first)
    earned = np.repeat(other[:, None], meter, axis=1)
    earned[:, 0] = first
    if one is not None:
        earned[one, 1:] = -1e9
    came = np.zeros((n, meter), dtype=np.intp)
    total = earned[0]
    for beat in range(1, n):
        steady = np.roll(total, 1)
        best = int(total.argmax())
        slipped = total[best] - _SLIP
        came[beat] = np.where(steady >= slipped, (np.arange(meter) - 1) % meter, best)
        total = np.maximum(steady, slipped) + earned[beat]
    positions = np.zeros(n, dtype=np.int64)
    at = int(total.argmax())
    for beat in range(n - 1, -1, -1):
        positions[beat] = at + 1
        at = int(came[beat, at])
    return float(total.max()), positions
