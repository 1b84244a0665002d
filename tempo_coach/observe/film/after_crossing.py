"""Gymnasts found where they stand after some have left their places, so that one picture may ask who is who."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.observe.film.own_places import measure_apart

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

# Films of seeds from 30000 on were looked at while these were chosen; ``tests/benchmarks/bench_crossings.py`` judges
# others.

#: Seconds of each of two neighbouring stretches whose median pictures are alike while all keep their places; seconds
#: for which they have to stay alike, as those in the middle of a crossing are for a moment; between two that are tried.
_HALF, _STAYS, _STEP = 1.5, 1.25, 0.25
#: Levels by which the two may differ in a pixel; how many may differ more: times the usual, and a share of all, or a
#: share of the most while they walked, where too little came before.
_LEVELS, _AS_USUAL, _ANYHOW, _OF_MOST = 12.0, 2.0, 0.001, 0.4
#: Seconds by which a median may be that of a stretch of which they are the begin, in which some still walk.
_WALKS = 0.75
#: Seconds in which it is seen where they move, and rounds of the search.
_SEEN, _ROUNDS = 4.0, 30
#: Least share of what moves that is on one of ``n``, in nths.
_LEAST = 0.1


class StandingAgain(NamedTuple):
    """From when on all keep their places again, and these, from left to right, in pixels, shape (n, 2)."""

    since: float
    at: NDArray[np.float64]


def find_standing_again(
    time: Floats, pictures: NDArray[np.uint8], left: float, places: NDArray[np.float64]
) -> StandingAgain | None:
    """Return where gymnasts stand after some left their places; None where they do not stand again.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds, ascending, some eight pictures a second.
    pictures : ndarray, shape (n, h, w)
        Brightness, the camera's motion taken out where it is known.
    left : float
        When the first one may have left her place.
    places : ndarray, shape (members, 2)
        Where they stood before.
    """
    tried = np.arange(float(time[0]), float(time[-1]) - 2 * _HALF, _STEP)
    unlike = np.array([_unlike(time, pictures, at) for at in tried.tolist()])
    before = unlike[tried < left - 2 * _HALF]
    most = (
        _AS_USUAL * np.median(before) + _ANYHOW * pictures[0].size if before.size else _OF_MOST * unlike.max(initial=0)
    )
    stays = round(_STAYS / _STEP) + 1
    alike = np.flatnonzero(np.convolve(unlike <= most, np.ones(stays), "valid") > stays - 0.5)
    alike = alike[tried[alike] >= left]
    if not alike.size:
        return None
    since = float(tried[alike[0]]) + _WALKS
    shown = pictures[(time >= since) & (time < since + _SEEN)].astype(np.int16)
    moves = np.abs(np.diff(shown, axis=0)).mean(axis=0)
    return StandingAgain(since, _cluster(np.maximum(moves - 1.5 * np.median(moves), 0), places))


def _unlike(time: Floats, pictures: NDArray[np.uint8], at: float) -> int:
    """Return the number of pixels in which the medians of two neighbouring stretches differ."""
    one, other = (np.median(pictures[(time >= start) & (time < start + _HALF)], axis=0) for start in (at, at + _HALF))
    return int((np.abs(one - other) > _LEVELS).sum())


def _cluster(weight: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the middles of what moves, as many as there were places: k-means (S. Lloyd 1957), begun at these."""
    down, across = np.nonzero(weight > 0)
    points, mass = np.column_stack([across, down]).astype(np.float64) + 0.5, weight[down, across]
    middles = places.copy()
    for _ in range(_ROUNDS):
        owner = measure_apart(points, middles).argmin(axis=1)
        share = np.bincount(owner, mass, len(middles))
        sums = np.column_stack([np.bincount(owner, mass * points[:, axis], len(middles)) for axis in (0, 1)])
        middles = np.where(share[:, None] > 0, sums / np.maximum(share, 1e-9)[:, None], middles)
    kept = share >= _LEAST * share.sum() / len(middles)
    return np.asarray(middles[kept][np.argsort(middles[kept, 0], kind="stable")])
