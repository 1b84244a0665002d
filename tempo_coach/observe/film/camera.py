"""Motion of a hand-held camera: a similarity transform of every picture, estimated from the background.

Corners are detected once and tracked by optical flow; RANSAC finds the transform that most of them agree on and leaves
out the gymnast, whose points move otherwise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

    Plane = NDArray[np.uint8]
    Moves = NDArray[np.float64]

#: Corners that are tracked, and the least inliers.
CORNERS = 120
AGREE = 12
#: Reprojection threshold of RANSAC in pixels, at the size that is tracked.
_ROOM = 0.7
#: SD in pixels of the picture below which the camera is still, and its noise is not added to the markers.
STILL = 0.12
_SAME = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


class CameraTracker:
    """Tracks the background from picture to picture.

    Parameters
    ----------
    luma : ndarray of uint8, shape (h, w)
        Brightness of the first picture, downsampled.
    """

    def __init__(self, luma: Plane) -> None:
        self._key = luma
        self._corners = _corners(luma)
        self._base = _SAME
        self._last = _SAME
        self.lost = 0

    def move(self, luma: Plane) -> Moves:
        """Return the affine transform from the first picture to this one, shape (2, 3), in pixels of this size."""
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
            # the background of the key frame has left the picture: a new key frame
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


def say_moved(moves: Moves, width: float, height: float) -> str:
    """Return a sentence on the camera's motion and its compensation."""
    corners = np.array([(x * width, y * height) for x in (0, 1) for y in (0, 1)])
    places = np.einsum("nij,kj->nki", moves[:, :, :2], corners) + moves[:, None, :, 2]
    extent = float(np.ptp(places, axis=0).max())
    far = f"up to {extent:.0f} px" if extent >= 1 else "by less than a pixel"
    return f"the camera moved ({far}); its motion was found from the background and taken out"


def enlarge(moves: Moves, factor: float) -> Moves:
    """Scale transforms of downsampled pictures to pixels of the film.

    The centre of the first pixel is (0, 0) in both, hence the offset of half a pixel.
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
    """Return the composition: the first transform, then the second."""
    return np.column_stack([second[:, :2] @ first[:, :2], second[:, :2] @ first[:, 2] + second[:, 2]])
