"""The hand-held camera's own movement, from the background: a small turn, shift and zoom of every picture.

Corners of the background are sought once and found again in every picture; what most of them agree on is the camera,
and the gymnast, whose points move otherwise, is left out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

    Plane = NDArray[np.uint8]
    Moves = NDArray[np.float64]

#: Corners that are followed, and how many must agree.
CORNERS = 120
AGREE = 12
#: A corner lies within this many pixels of where the others say, at the size that is looked at.
_ROOM = 0.7
#: Below this SD (in pixels of the picture) the camera stood still, and its noise is not put onto the markers.
STILL = 0.12
_SAME = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


class Steady:
    """Follows the background from picture to picture.

    Parameters
    ----------
    luma : ndarray of uint8, shape (h, w)
        Brightness of the first picture at the size that is looked at.
    """

    def __init__(self, luma: Plane) -> None:
        self._key = luma
        self._corners = _corners(luma)
        self._base = _SAME
        self._last = _SAME
        self.lost = 0

    def move(self, luma: Plane) -> Moves:
        """Return where the first picture's places lie in this one: a matrix of shape (2, 3), in pixels of this size."""
        found = self._against(luma, self._last)
        if found is None and len(self._corners) >= AGREE:
            found = self._against(luma, _SAME)
        if found is None:
            self.lost += 1
            now = _chain(self._last, self._base)
        else:
            self._last = found
            now = _chain(found, self._base)
        if found is None or np.hypot(*found[:, 2]) > 0.15 * luma.shape[1]:
            # what the first picture showed has left: go on from here
            self._base, self._last, self._key, self._corners = now, _SAME, luma, _corners(luma)
        return now

    def _against(self, luma: Plane, guess: Moves) -> Moves | None:
        import cv2

        if len(self._corners) < AGREE:
            return None
        near = (self._corners @ guess[:, :2].T + guess[:, 2]).astype(np.float32)
        found, seen, _ = cv2.calcOpticalFlowPyrLK(
            self._key,
            luma,
            self._corners.astype(np.float32)[:, None],
            near[:, None].copy(),
            winSize=(15, 15),
            maxLevel=2,
            flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        )
        kept = seen.ravel() > 0
        if kept.sum() < AGREE:
            return None
        matrix, inside = cv2.estimateAffinePartial2D(
            self._corners[kept].astype(np.float32), found[kept, 0], ransacReprojThreshold=_ROOM, maxIters=200
        )
        if matrix is None or int(inside.sum()) < max(AGREE, 0.3 * kept.sum()):
            return None
        return np.asarray(matrix, dtype=np.float64)


def take_out(moves: Moves, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return places as the first picture would have them.

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
    """Whether the camera moved so little that its motion is nothing but noise."""
    middle = np.array([width / 2, height / 2])
    places = moves[:, :, :2] @ middle + moves[:, :, 2]
    corner = moves[:, :, :2] @ np.array([0.0, 0.0]) + moves[:, :, 2]
    return bool(max(places.std(axis=0).max(), corner.std(axis=0).max() / 2) < STILL)


def say_moved(moves: Moves, width: float, height: float) -> str:
    """Return that the camera moved, how far at most anywhere in the picture, and what was done about it."""
    corners = np.array([(x * width, y * height) for x in (0, 1) for y in (0, 1)])
    places = np.einsum("nij,kj->nki", moves[:, :, :2], corners) + moves[:, None, :, 2]
    reach = float(np.ptp(places, axis=0).max())
    far = f"up to {reach:.0f} px" if reach >= 1 else "by less than a pixel"
    return f"the camera moved ({far}); its motion was found from the background and taken out"


def enlarge(moves: Moves, factor: float) -> Moves:
    """Return moves of small pictures as moves of the film's own, whose pixels are so many times smaller.

    The centre of the first pixel is (0, 0) in both, so that half a pixel is lost on the way there and back.
    """
    out = moves.copy()
    half = (factor - 1) / 2
    shift = np.full(2, half)
    out[:, :, 2] = factor * moves[:, :, 2] + shift - moves[:, :, :2] @ shift
    return out


def _corners(luma: Plane) -> NDArray[np.float64]:
    import cv2

    found = cv2.goodFeaturesToTrack(luma, CORNERS, 0.01, max(6, luma.shape[1] // 40))
    return np.empty((0, 2)) if found is None else np.asarray(found, dtype=np.float64).reshape(-1, 2)


def _chain(second: Moves, first: Moves) -> Moves:
    """Return the move that does the first and then the second."""
    return np.column_stack([second[:, :2] @ first[:, :2], second[:, :2] @ first[:, 2] + second[:, 2]])
