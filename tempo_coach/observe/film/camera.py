"""Motion of a hand-held camera: a similarity transform of every picture, estimated from what stands still.

Corners, spread over the picture, are followed by optical flow forwards and back; RANSAC finds the transform that most
agree on, from fixed coordinates of reference to every picture, so that no error adds up. Corners that disagree again
and again lie on something that moves and are dropped. A transform is believed only where corners of several parts of
the picture carry it: before a plain wall all corners lie on the gymnast, and her movement is not the camera's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats

    Plane = NDArray[np.uint8]
    Moves = NDArray[np.float64]

#: Cells in which corners are looked for (columns, rows), and the most of one cell.
_GRID = (8, 5)
_IN_CELL = 3
#: Least eigenvalue of the structure tensor of a corner (brightness 0 to 1), alone and relative to the picture's best.
_LEAST, _QUALITY = 5e-5, 0.01
_APART = 7
#: Largest way that a corner followed forwards and back may miss itself by, and RANSAC's threshold, in pixels.
_RETURN = 0.5
_ROOM = 1.0
#: Window of the optical flow in pixels, its pyramid's levels above the picture itself, forwards and back to where it
#: began, and when it ends: after so many steps, or one this short. With 5 corners in a cell, windows of 21 and the
#: library's own end it takes three times as long and is as wrong: .69 to .80 px of the picture's middle, against .61 to
#: .74, in hand-held films of 640 x 360 that were coded with 70 kbit/s.
_WINDOW, _LEVELS, _BACK = 17, 3, 1
_END = (3, 20, 0.02)  # either of both, as OpenCV counts them
#: Penalty of a corner that disagrees, relief of one that agrees, and the sum at which it is dropped.
_DISAGREES, _AGREES, _DROPPED = 1.0, 0.25, 3.0
#: Share of a key picture's corners below which there is a new key picture.
_REFILL = 0.6
#: What a transform needs to be believed: inliers, their share, and cells of ``_CELLS`` in which some lie.
AGREE = 12
_SHARE = 0.35
_CELLS, _SPREAD = (4, 3), 4
#: Share of believed pictures below which nothing is known of the camera's motion.
_KNOWN = 0.8
#: SD in pixels of the picture below which the camera is still, and its noise is not added to what is followed.
STILL = 0.12
SAME = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


class CameraMotion(NamedTuple):
    """Motion of the camera over a film.

    Parameters
    ----------
    moves : ndarray, shape (n, 2, 3)
        Affine transforms from the first picture to each, in pixels; no motion unless it ``"moved"``.
    state : {"still", "moved", "unknown"}
        ``"unknown"`` where too little stands still in the picture to tell.
    """

    moves: Moves
    state: Literal["still", "moved", "unknown"]


class CameraTracker:
    """Tracks the stationary background from picture to picture.

    Parameters
    ----------
    luma : ndarray of uint8, shape (h, w)
        Brightness of the first picture, downsampled.
    without : sequence of (left, top, right, bottom)
        Parts of the first picture, as shares of it, that are known to move.
    """

    def __init__(self, luma: Plane, without: Sequence[tuple[float, float, float, float]] = ()) -> None:
        self._without = without
        self._shape = luma.shape
        self._last = SAME
        self.believed: list[bool] = []
        self._key_picture(luma, SAME)

    def move(self, luma: Plane) -> Moves:
        """Return the affine transform from the first picture to this one, shape (2, 3), in pixels of this size."""
        found = self._against_key(luma)
        self.believed.append(found is not None)
        if found is None:
            if len(self.believed) > 1 and not any(self.believed[-2:]):
                self._key_picture(luma, self._last)  # what was followed is gone
            return self._last
        self._last = found
        away = np.hypot(*(found[:, 2] - self._key_move[:, 2]))
        if len(self._corners) < _REFILL * self._begun or away > 0.15 * luma.shape[1]:
            self._key_picture(luma, found)
        return found

    def settle(self, moves: Sequence[Moves] | Moves, width: float, height: float) -> CameraMotion:
        """Return the motion over the whole film, given the transforms of all pictures in its pixels.

        Parameters
        ----------
        moves : sequence of ndarray, shape (n, 2, 3)
            As :meth:`move` gave them, :func:`enlarge`-d.
        width, height : float
            Of the film's picture.
        """
        found = np.asarray(moves, dtype=np.float64).reshape(-1, 2, 3)
        same = np.broadcast_to(SAME, found.shape)
        if not self.believed or np.mean(self.believed) < _KNOWN:
            return CameraMotion(same, "unknown")
        if stands_still(found, width, height):
            return CameraMotion(same, "still")
        return CameraMotion(found, "moved")

    def _key_picture(self, luma: Plane, move: Moves) -> None:
        """Detect corners in a picture of known transform, which fixes their reference coordinates."""
        self._key, self._key_move = luma, move
        self._corners = find_corners(luma, [_laid(box, move, self._shape) for box in self._without])
        self._reference = np.linalg.solve(move[:, :2], (self._corners - move[:, 2]).T).T
        self._penalty = np.zeros(len(self._corners))
        self._begun = len(self._corners)

    def _against_key(self, luma: Plane) -> Moves | None:
        import cv2

        if len(self._corners) < AGREE:
            return None
        begin = self._corners.astype(np.float32)[:, None]
        near = (self._reference @ self._last[:, :2].T + self._last[:, 2]).astype(np.float32)[:, None]
        found, seen = _flow(self._key, luma, begin, near, levels=_LEVELS)
        back, seen_back = _flow(luma, self._key, found, begin, levels=_BACK)
        returned = np.hypot(*(back - begin)[:, 0].T) < _RETURN
        kept = np.flatnonzero(seen & seen_back & returned)
        if kept.size < AGREE:
            return None
        to = found[kept, 0].astype(np.float64)
        matrix, _ = cv2.estimateAffinePartial2D(
            self._reference[kept], to, ransacReprojThreshold=_ROOM, maxIters=500, confidence=0.999
        )
        found_move = np.asarray(matrix, dtype=np.float64)
        if found_move.shape != (2, 3):
            return None  # no similarity at all
        inside = np.hypot(*(self._reference[kept] @ found_move[:, :2].T + found_move[:, 2] - to).T) < _ROOM
        if inside.sum() < max(AGREE, _SHARE * kept.size) or self._cells_of(to[inside]) < _SPREAD:
            return None
        self._penalty[kept] += np.where(inside, -_AGREES, _DISAGREES)
        self._penalty = np.maximum(self._penalty, 0)
        stay = self._penalty < _DROPPED
        self._corners, self._reference, self._penalty = self._corners[stay], self._reference[stay], self._penalty[stay]
        return found_move

    def _cells_of(self, places: NDArray[np.float64]) -> int:
        rows, columns = self._shape
        cell = (places / (columns, rows) * _CELLS).astype(int)
        return len({(x, y) for x, y in cell.tolist()})


def _flow(
    one: Plane, other: Plane, places: NDArray[np.float32], near: NDArray[np.float32], *, levels: int
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return the positions of points of one picture in another, starting from guesses, and which were found."""
    import cv2

    found, seen, _ = cv2.calcOpticalFlowPyrLK(
        one,
        other,
        places,
        near.copy(),
        winSize=(_WINDOW, _WINDOW),
        maxLevel=levels,
        flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        criteria=_END,
    )
    return np.asarray(found, dtype=np.float32), np.asarray(seen).ravel() > 0


def find_corners(luma: Plane, without: Sequence[tuple[float, float, float, float]] = ()) -> NDArray[np.float64]:
    """Return corners spread over a picture, shape (n, 2), x and y in pixels.

    Parameters
    ----------
    luma : ndarray of uint8, shape (h, w)
    without : sequence of (left, top, right, bottom)
        Parts to be left out, in pixels.
    """
    import cv2

    strength = cv2.cornerMinEigenVal(luma, 5)
    for left, top, right, bottom in without:
        strength[max(0, int(top)) : max(0, int(bottom) + 1), max(0, int(left)) : max(0, int(right) + 1)] = 0
    # near the edge a window of the optical flow is cut
    strength[:8], strength[-8:], strength[:, :8], strength[:, -8:] = 0, 0, 0, 0
    peaks = (strength == cv2.dilate(strength, np.ones((_APART, _APART), np.uint8))) & (
        strength > max(_LEAST, _QUALITY * float(np.percentile(strength, 99.9)))
    )
    y, x = np.nonzero(peaks)
    order = np.argsort(-strength[y, x], kind="stable")
    x, y = x[order], y[order]
    rows, columns = luma.shape
    cell = (x * _GRID[0] // columns) * _GRID[1] + y * _GRID[1] // rows
    # the first few of each cell: the rank of each within its cell
    by_cell = np.argsort(cell, kind="stable")
    starts = np.searchsorted(cell[by_cell], cell[by_cell])
    rank = np.empty(cell.size, int)
    rank[by_cell] = np.arange(cell.size) - starts
    return np.column_stack([x, y])[rank < _IN_CELL].astype(np.float64)


def _laid(
    box: tuple[float, float, float, float], move: Moves, shape: tuple[int, ...]
) -> tuple[float, float, float, float]:
    """Return a box, given in shares of the first picture, in pixels of a moved one."""
    rows, columns = shape
    left, top, right, bottom = box
    corners = np.array([(x * columns, y * rows) for x in (left, right) for y in (top, bottom)])
    places = corners @ move[:, :2].T + move[:, 2]
    (x0, y0), (x1, y1) = places.min(axis=0), places.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def compensate(moves: Moves, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return positions in the frame of the first picture: camera motion removed.

    Parameters
    ----------
    moves : ndarray, shape (n, 2, 3)
        In pixels of the film's picture.
    x, y : ndarray, shape (n,)
    """
    turned = moves[:, :, :2]
    rest = np.stack([x, y], axis=1) - moves[:, :, 2]
    back = np.asarray(np.linalg.solve(turned, rest[:, :, None])[:, :, 0], dtype=np.float64)
    return back[:, 0], back[:, 1]


def stands_still(moves: Moves, width: float, height: float) -> bool:
    """Return True where the estimated motion of the camera is noise."""
    middle = np.array([width / 2, height / 2])
    places = moves[:, :, :2] @ middle + moves[:, :, 2]
    corner = moves[:, :, :2] @ np.array([0.0, 0.0]) + moves[:, :, 2]
    return bool(max(places.std(axis=0).max(), corner.std(axis=0).max() / 2) < STILL)


def extent_of(moves: Moves, width: float, height: float) -> float:
    """Return the largest displacement of a corner of the picture by the camera's motion, in pixels."""
    corners = np.array([(x * width, y * height) for x in (0, 1) for y in (0, 1)])
    places = np.einsum("nij,kj->nki", moves[:, :, :2], corners) + moves[:, None, :, 2]
    return float(np.ptp(places, axis=0).max())


def enlarge(moves: Moves, factor: float) -> Moves:
    """Scale transforms of downsampled pictures to pixels of the film.

    The centre of the first pixel is (0, 0) in both, hence the offset of half a pixel.
    """
    out = moves.copy()
    half = (factor - 1) / 2
    shift = np.full(2, half)
    out[:, :, 2] = factor * moves[:, :, 2] + shift - moves[:, :, :2] @ shift
    return out
