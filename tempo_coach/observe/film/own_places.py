"""Who keeps her place in a film of a group: where somebody else may stand there, nobody is taken for her.

Gymnasts look alike, so that what they look like is no evidence. What is: that the picture around her stayed as it
usually is, or still, and nobody walked beside her. Where it did not, she may have left, or another one have come. Of
one who is disturbed alone and shortly it is known who she is afterwards, as nobody else left her place; of two at once
it is not, nor of whom they meet later.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from tempo_coach.times import Bools, Floats

    #: Of the pixels that are not as usual, and by how much each may differ.
    Measure = Callable[[Bools, NDArray[np.float32]], float]

#: Seconds of movement, from its begin and from its end, in which everybody is in her place; seconds that tell what is
#: usual, and between two estimates of it.
_BEGIN, _USUAL, _ANEW = 4.0, 6.0, 1.0
#: Levels of brightness beyond the usual by which a pixel is disturbed; levels below which it is quiet, and the least
#: share of quiet pixels: where arms pass all of them, few are.
_LEVELS, _QUIET, _LEAST = 4.0, 25.0, 0.15
#: Share of disturbed pixels from which she may have left or be hidden. Of gymnasts in their places it is .02 at most,
#: of two who change places .05 at least (``tests/generators/gym.py``, seed 1).
DISTURBED = 0.035
#: What is looked at around a gymnast, in SDs of where she moves: to each side, above and below; and the largest shift
#: in pixels in which it may be found: a sway, or a camera's motion that is not known.
_WIDE, _ABOVE, _BELOW, _SHIFT = 1.6, 2.0, 5.0, 2
#: Share of the usual change of the picture below which nothing moves around her.
_STILL = 0.15
#: Pixels of something compact from which it passes beside her, its least width, and how far beside what is looked at
#: around her, in widths of that.
_PASSES, _COMPACT, _BESIDE = 12, 3, 0.5
#: By how much less than beside her something above or below a gymnast is another one's: she is taller than wide.
_TALL = 0.5
#: Seconds added around a disturbance, and its longest after which a gymnast who was disturbed alone is known again.
_MARGIN, _SHORT = 0.5, 2.0


class Places(NamedTuple):
    """When each gymnast is not known to be the one in her place.

    Parameters
    ----------
    until : tuple of float
        Seconds from which it is not known who each is; infinite where it always is.
    covered : tuple of tuples of (start, end)
        Stretches before that in which each was away or hidden.
    """

    until: tuple[float, ...]
    covered: tuple[tuple[tuple[float, float], ...], ...]


def watch_places(time: Floats, pictures: NDArray[np.uint8], nearest: NDArray[np.uint8]) -> Places:
    """Return when each gymnast is not known to be the one in her place.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds, ascending, some eight pictures a second.
    pictures : ndarray, shape (n, h, w)
        Brightness, the camera's motion taken out where it is known.
    nearest : ndarray of 0 and 1, shape (members, h, w)
        As :func:`find_nearest_pixels` gives them, of the places in the first picture.
    """
    boxes = [_around(pictures[time < time[0] + 2 * _BEGIN], mask) for mask in nearest]
    around = [_cut(pictures, box) for box in boxes]
    shares = np.array([measure_disturbance(time, shown) for shown in around])
    return judge_places(time, (shares > DISTURBED) | _passes(time, pictures, boxes))


def measure_apart(points: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far points are from gymnasts' places, as far as beside them, who are taller than wide.

    Parameters
    ----------
    points : numpy.ndarray, shape (..., 2)
    places : numpy.ndarray, shape (members, 2)
        Pixels across and down, as the points.

    Returns
    -------
    numpy.ndarray, shape (..., members)
    """
    return np.asarray(np.hypot(*np.moveaxis((points[..., None, :] - places) * (1, _TALL), -1, 0)))


def find_nearest_pixels(
    places: NDArray[np.float64], shape: tuple[int, ...], size: tuple[int, int]
) -> NDArray[np.uint8]:
    """Return masks of the pixels that are nearer to each gymnast's place than to the others'.

    Parameters
    ----------
    places : numpy.ndarray, shape (members, 2)
        Pixels of the film, across and down.
    shape : (h, w)
        Of the pictures in which she is watched.
    size : (width, height)
        Of the film's.

    Returns
    -------
    numpy.ndarray of 0 and 1, shape (members, h, w)
    """
    y, x = np.indices(shape)
    pixels = np.stack([(x + 0.5) / shape[1] * size[0], (y + 0.5) / shape[0] * size[1]], axis=-1)
    apart = np.moveaxis(measure_apart(pixels, places), -1, 0)
    return np.asarray(apart <= apart.min(axis=0, initial=np.inf) + 1e-9, dtype=np.uint8)


def measure_disturbance(time: Floats, shown: NDArray[np.float32]) -> Floats:
    """Return the share of pixels around a gymnast that are not as usual in each picture; 0 while nothing moves.

    Parameters
    ----------
    time : numpy.ndarray, shape (n,)
        Seconds of the pictures.
    shown : numpy.ndarray, shape (n, rows, columns)
        Brightness around her place, 0 to 255.
    """
    moving = _moves(shown)

    def share(novel: Bools, room: NDArray[np.float32]) -> float:
        quiet = room < _QUIET
        return float(max(novel.mean(), novel[quiet].sum() / max(quiet.sum(), _LEAST * quiet.size)))

    return _median(np.where(moving, _both_ways(_Surroundings(time, shown, moving, _SHIFT), share), 0.0))


def _passes(time: Floats, pictures: NDArray[np.uint8], boxes: list[tuple[int, int, int, int]]) -> Bools:
    """Return whether something compact that is not usual is beside each gymnast, shape (members, n)."""
    import cv2

    outside = np.ones(pictures.shape[1:], dtype=np.uint8)
    for left, top, right, bottom in boxes:
        outside[top:bottom, left:right] = 0
    compact, always = np.ones((_COMPACT, _COMPACT), np.uint8), np.ones(time.size, dtype=np.bool_)
    out = []
    for left, top, right, bottom in boxes:
        room = round(_BESIDE * (right - left))
        beside = np.s_[top:bottom, max(0, left - room) : right + room]

        def size(novel: Bools, room: NDArray[np.float32], free: NDArray[np.uint8] = outside[beside]) -> float:
            del room
            found = cv2.morphologyEx(novel.astype(np.uint8), cv2.MORPH_OPEN, compact)
            return float((found & free).sum()) / _PASSES * DISTURBED

        sizes = _both_ways(_Surroundings(time, pictures[:, *beside].astype(np.float32), always, 0), size)
        out.append(_median(sizes) >= DISTURBED)
    return np.array(out)


def _cut(pictures: NDArray[np.uint8], box: tuple[int, int, int, int]) -> NDArray[np.float32]:
    """Return what is around a gymnast, and as much more as it may be shifted."""
    left, top, right, bottom = box
    high, wide = pictures.shape[1:]
    rows = np.clip(np.arange(top - _SHIFT, bottom + _SHIFT), 0, high - 1)
    columns = np.clip(np.arange(left - _SHIFT, right + _SHIFT), 0, wide - 1)
    return pictures[:, rows[:, None], columns].astype(np.float32)


def _moves(shown: NDArray[np.float32]) -> Bools:
    """Return whether something moves around a gymnast, in each picture."""
    change = np.maximum(np.abs(np.diff(shown, axis=0, prepend=shown[:1])) - _LEVELS, 0).mean(axis=(1, 2))
    change = np.convolve(np.pad(change, 1, mode="edge"), np.ones(3) / 3, "valid")
    return np.asarray(change > _STILL * float(np.percentile(change, 70)))


class _Surroundings(NamedTuple):
    """What is around a place, and whether something moves, in each picture; by how many pixels it may be shifted."""

    time: Floats
    shown: NDArray[np.float32]
    moving: Bools
    shift: int

    def backwards(self) -> _Surroundings:
        return _Surroundings(-self.time[::-1], self.shown[::-1], self.moving[::-1], self.shift)


def _both_ways(around: _Surroundings, measure: Measure) -> Floats:
    """Return a measure of what is not as usual before, or not as usual afterwards: neither hides what happens in it."""
    return np.maximum(_beyond_usual(around, measure), _beyond_usual(around.backwards(), measure)[::-1])


def _median(values: Floats) -> Floats:
    """Return the running median of three."""
    around = np.pad(values, 1, mode="edge")
    return np.asarray(np.median([around[:-2], around[1:-1], around[2:]], axis=0))


def judge_places(time: Floats, disturbed: Bools) -> Places:
    """Return who is known until when, of whom is disturbed at which time, shape (members, n)."""
    around = np.array([_widen(time, one) for one in disturbed])
    until = np.full(len(disturbed), np.inf)
    for first, end in _stretches(np.asarray(around.any(axis=0))):
        who = np.flatnonzero(around[:, first:end].any(axis=1) & np.isinf(until))
        longest = max((b - a for one in around[who] for a, b in _spans(time, one, first, end)), default=0.0)
        if who.size > 1 or np.isfinite(until).any() or longest > _SHORT + 2 * _MARGIN:
            until[who] = time[first]
    covered = tuple(
        tuple((float(time[a]), float(time[b - 1])) for a, b in _stretches(one) if time[a] < end)
        for one, end in zip(around, until.tolist(), strict=True)
    )
    return Places(tuple(until.tolist()), covered)


def _beyond_usual(around: _Surroundings, measure: Measure) -> Floats:
    """Return a measure of the pixels that differ from what was usual before, from where something moves on."""
    time, shown, moving, shift = around
    shares = np.zeros(time.size)
    start = int(np.argmax(moving))
    begin = (time >= time[start]) & (time < time[start] + _BEGIN)
    inner = np.s_[:, shift : shown.shape[1] - shift, shift : shown.shape[2] - shift]
    middle, room = _usual(shown[inner][begin])
    due = float(time[start]) + _BEGIN
    high, wide = middle.shape
    for k in range(start, time.size):
        if time[k] >= due:
            before = moving & (shares <= DISTURBED) & (time < time[k]) & (time >= time[k] - _USUAL)
            before[:start] = False
            if before.sum() >= 0.5 * begin.sum():
                middle, room = _usual(shown[inner][before])
            due = float(time[k]) + _ANEW
        shares[k] = min(
            measure(np.asarray(np.abs(shown[k, y : y + high, x : x + wide] - middle) > room), room)
            for y in range(2 * shift + 1)
            for x in range(2 * shift + 1)
        )
    return shares


def _usual(shown: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the median picture, and by how much a pixel has to differ from it to be disturbed."""
    import cv2

    middle = np.median(shown, axis=0)
    away = np.sort(np.abs(shown - middle), axis=0)[-min(2, len(shown))]
    return middle, np.asarray(cv2.dilate(away, np.ones((3, 3), np.uint8)) + np.float32(_LEVELS), dtype=np.float32)


def _around(pictures: NDArray[np.uint8], mask: NDArray[np.uint8]) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom of what is looked at around a gymnast, in pixels."""
    moves = np.abs(np.diff(pictures.astype(np.int16), axis=0)).mean(axis=0)
    moves = np.maximum(moves - 1.5 * np.median(moves[mask > 0]), 0) * mask
    total = max(float(moves.sum()), 1e-9)
    out = []
    for axis, before, behind in ((0, _WIDE, _WIDE), (1, _ABOVE, _BELOW)):
        along, place = moves.sum(axis=axis), np.arange(moves.shape[1 - axis])
        middle = float((along * place).sum() / total)
        spread = max(2.0, math.sqrt(float((along * (place - middle) ** 2).sum() / total)))
        first = min(max(0, round(middle - before * spread)), len(place) - 4)
        out.append((first, max(first + 4, min(len(place), round(middle + behind * spread) + 1))))
    (left, right), (top, bottom) = out
    return left, top, right, bottom


def _widen(time: Floats, flags: Bools) -> Bools:
    """Return the flags with all within a margin of one."""
    at = time[flags]
    near = np.searchsorted(at, time + _MARGIN, side="right") - np.searchsorted(at, time - _MARGIN)
    return np.asarray(near > 0)


def _stretches(flags: Bools) -> list[tuple[int, int]]:
    """Return the first and the end of each run of flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _spans(time: Floats, flags: Bools, first: int, end: int) -> list[tuple[float, float]]:
    """Return the first and the last second of each run of flags between two places."""
    return [(float(time[first + a]), float(time[first + b - 1])) for a, b in _stretches(flags[first:end])]
