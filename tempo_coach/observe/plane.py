"""The plane in which a point moves: its positions as complex numbers, to the right and upwards."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.observe.warp import Complexes
    from tempo_coach.times import Floats


def to_plane(values: Floats, axes: tuple[str, ...]) -> Complexes:
    """Return positions in their plane of movement, real to the right and imaginary upwards.

    Parameters
    ----------
    values : numpy.ndarray, shape (n, 2) or (n, 3)
    axes : tuple of str
        What the columns are. Upwards is z if there is one, else y, else the second column.

    Returns
    -------
    numpy.ndarray of complex, shape (n,)
        With two columns the picture as it is; with three the plane that holds most of the movement, seen from the
        side on which the first column runs to the right. A level plane is seen from above.
    """
    if values.shape[1] == 2:
        flip = "y" in axes and axes.index("y") == 0 and "x" in axes
        first, second = (1, 0) if flip else (0, 1)
        return np.asarray(values[:, first] + 1j * values[:, second])
    centred = values - values.mean(axis=0)
    normal = np.linalg.eigh(centred.T @ centred)[1][:, 0]
    up = np.eye(3)[2]
    if abs(normal @ up) > 0.9:
        up = np.eye(3)[1]
    up = up - (up @ normal) * normal
    up /= np.linalg.norm(up)
    right = np.cross(up, normal)
    lead = right[np.argmax(np.abs(right))]
    if lead < 0:
        right = -right
    return np.asarray(centred @ right + 1j * (centred @ up))
