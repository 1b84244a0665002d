"""What the exposure does to a marker on a bent path: how long it was, from the smears, and how to undo it.

During the exposure a marker draws a short arc, and the middle of an arc lies inside of its bend. With the exposure e
the mean place is, to the second order, ``c = p + e² p'' / 24`` (the mean over e of Taylor's series of the path p), so
``p = c - e² c'' / 24``; on a circle of radius r turned by the angle a during the exposure that is the known distance of
an arc's centroid from its middle, r (1 - sin(a/2) / (a/2)). The exposure itself is seen in the smear: an even motion
over e adds ``v² e² / 12`` to the spot's variance along the motion and nothing across.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.paths import MarkerPath
    from tempo_coach.observe.spots import Spots
    from tempo_coach.times import Floats

#: Pictures from which an exposure is worked out at the least.
FEWEST = 10
#: Longest step to a neighbour, in usual steps, over which speed and bend are read.
_NEAR = 1.6


def find_exposure(times: Floats, path: MarkerPath, spots: Sequence[Spots]) -> float:
    """Return for how long each picture was exposed, in seconds, as one marker's smear says.

    A marker that is itself longer along its motion than across says too much, one that is shorter too little; none says
    more than the step between pictures.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Of the pictures, seconds.
    path : MarkerPath
    spots : sequence of Spots, length n
        Those that the path was joined from.

    Returns
    -------
    float
        0 where fewer than ``FEWEST`` pictures tell.
    """
    places = np.column_stack([path.x, path.y])
    speed, _ = _motion(times, places)
    square = np.sum(speed**2, axis=1)
    known = np.flatnonzero(~np.isnan(square))
    # the faster the marker, the more of its length is smear rather than shape
    fast = known[square[known] >= np.median(square[known])] if known.size else known
    fast = fast[square[fast] > 0]
    if fast.size < FEWEST:
        return 0.0
    across = speed[fast] / np.sqrt(square[fast])[:, None]
    spread = np.array([_spread_at(spots[k], places[k]) for k in fast])
    # variance along the motion less that across it, (u v) being the direction
    more = (spread[:, 0] - spread[:, 2]) * (across[:, 0] ** 2 - across[:, 1] ** 2)
    more += 4 * spread[:, 1] * across[:, 0] * across[:, 1]
    shown = float(np.sqrt(max(0.0, 12 * np.median(more / square[fast]))))
    return min(shown, float(np.median(np.diff(times))))


def straighten(times: Floats, path: MarkerPath, exposure: float) -> MarkerPath:
    """Return a path with its smeared centres put back onto its bends.

    Parameters
    ----------
    times : ndarray, shape (n,)
    path : MarkerPath
    exposure : float
        Seconds.

    Returns
    -------
    MarkerPath
        A picture beside a gap has no bend of its own and stays as it is.
    """
    places = np.column_stack([path.x, path.y])
    _, bend = _motion(times, places)
    x, y = (places - exposure**2 / 24 * np.nan_to_num(bend)).T
    return path._replace(x=x, y=y)


def _spread_at(spots: Spots, place: Floats) -> Floats:
    return np.asarray(spots.spread[np.argmin(np.hypot(spots.x - place[0], spots.y - place[1]))])


def _motion(times: Floats, places: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return speed and bend (first and second derivative, shape (n, 2)) from both neighbours; NaN without them."""
    speed, bend = (np.full(places.shape, np.nan) for _ in range(2))
    if times.size < 3:
        return speed, bend
    step = np.diff(times)
    slope = np.diff(places, axis=0) / step[:, None]
    slope[step > _NEAR * np.median(step)] = np.nan
    before, after = step[:-1, None], step[1:, None]
    speed[1:-1] = (slope[:-1] * after + slope[1:] * before) / (before + after)
    bend[1:-1] = 2 * (slope[1:] - slope[:-1]) / (before + after)
    return speed, bend
