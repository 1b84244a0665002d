"""Which beats begin a bar, from what the network says of each: the likeliest bars of one metre, with slips allowed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.bars import follow_bars

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
    sure = np.clip(likely, _UNSURE, 1 - _UNSURE)
    first, other = np.log(sure), np.log(1 - sure)
    tried = []
    for each in (meter,) if meter else METRES:
        earned = np.repeat(other[:, None], each, axis=1)
        earned[:, 0] = first
        tried.append(follow_bars(earned, one=one, slip=_SLIP))
    return max(tried, key=lambda pair: pair[0])[1]
