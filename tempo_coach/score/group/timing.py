"""Timing of a group: an autoregressive model of lateness, its innovations, and likelihood ratios of steps in it."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.measures.period import KEPT as KEPT_SHARE
from tempo_coach.score.measures.period import KEPT_TO_SD

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Shares of a lateness that are kept to the next moment, and moving averages, that are tried for all members together.
KEPT, MOVING = (0.0, 0.25, 0.5, 0.65, 0.75, 0.85, 0.93, 1.0), (0.0, 0.2, 0.4, 0.6)
#: Standardised squares beyond this count no more in a scatter: one onset alone makes no stretch uneven.
CLIPPED = 9.0
#: Moments that the mean of all members counts for in the scatter of each.
ALIKE = 20


class Model(NamedTuple):
    """The model of all members' lateness: share kept to the next moment, and a moving average."""

    kept: float
    moving: float


def whiten(rows: Floats, model: Model) -> Floats:
    """Return the innovation at each moment; 0 at the first.

    Parameters
    ----------
    rows : array, shape (..., n)
    model : Model
    """
    out = np.zeros(rows.shape)
    out[..., 1:] = rows[..., 1:] - model.kept * rows[..., :-1]
    if model.moving:
        for k in range(2, rows.shape[-1]):
            out[..., k] += model.moving * out[..., k - 1]
    return out


def find_scale(white: Floats) -> Floats:
    """Return the SD of each row (last axis), shrunk towards a common one over members (the axis before).

    Squares count up to ``CLIPPED`` robust ones of their own row; the rows' mean counts as much as ``ALIKE`` moments.

    Parameters
    ----------
    white : numpy.ndarray, shape (..., members, n)
        Innovations, s.
    """
    squares = white[..., 1:] ** 2
    size = squares.shape[-1]
    kept = max(math.ceil(KEPT_SHARE * size), 1)
    robust = KEPT_TO_SD**2 * np.partition(squares, kept - 1, axis=-1)[..., :kept].mean(axis=-1, keepdims=True)
    own = np.minimum(squares, CLIPPED * robust).mean(axis=-1)
    shared = own.mean(axis=-1, keepdims=True)
    scale: Floats = np.maximum(np.sqrt((size * own + ALIKE * shared) / (size + ALIKE)), 1e-6)
    return scale


def standardise(rows: Floats, model: Model, scale: Floats | None = None) -> Floats:
    """Return the innovations over the scale of each row, estimated where it is not given.

    Parameters
    ----------
    rows : numpy.ndarray, shape (members, n)
        Asynchronies, s.
    model : Model
    scale : numpy.ndarray, shape (members,), or None
        SD of the innovations, s.
    """
    white = whiten(rows, model)
    new: Floats = white / (find_scale(white) if scale is None else scale)[..., None]
    return new


def find_model(rows: Floats) -> Model:
    """Return the model with the smallest innovations, members weighted by their own scatter.

    Parameters
    ----------
    rows : numpy.ndarray, shape (members, n)
        Asynchronies, s; NaN where nothing was done.
    """
    return min(
        (Model(kept, moving) for kept in KEPT for moving in MOVING if moving < max(kept, 0.01)),
        key=lambda one: float(np.log(find_scale(whiten(rows, one))).sum()),
    )


class Stretches:
    """Prominence of stretches in the innovations, in SDs; the last axis is that of the moments.

    A step up by one at a stretch's begin and down after its end is, with what is kept taken out, 1 there, ``1 -
    kept`` inside and ``-kept`` behind; its product with what is new, over its own length, is the likelihood ratio. The
    moving average is put on what is new, once, instead of on every step.
    """

    def __init__(self, new: Floats, model: Model) -> None:
        self._of, self._n = model, new.shape[-1]
        back = np.ascontiguousarray(np.moveaxis(new, -1, 0))
        if model.moving:
            back = back.copy()
            for k in range(self._n - 2, -1, -1):
                back[k] += model.moving * back[k + 1]
        back[0] = 0.0
        self._back = np.append(back, np.zeros((1, *back.shape[1:])), axis=0)
        self._total = np.append(np.zeros((1, *back.shape[1:])), np.cumsum(back, axis=0), axis=0)

    def of_length(self, length: int) -> Floats:
        """Return the stretches of one length by their beginnings, along the first axis."""
        kept, last = self._of.kept, self._n - length + 1
        inside = self._total[length:] - self._total[:last]
        edges = self._back[:last] - self._back[length : length + last]
        norms = _norms(self._of, length, self._n).reshape(-1, *[1] * (inside.ndim - 1))
        out: Floats = (kept * edges + (1 - kept) * inside) / norms
        return out


@cache
def _norms(model: Model, length: int, n: int) -> Floats:
    """Return the length of a stretch's whitened step, by its beginning; one at an end of the take has one edge."""
    step = np.pad(np.ones(length), 40)
    inside, at_first, at_last = step[30:], step[40:], step[30:-40]
    norms = [math.sqrt(float((whiten(one, model) ** 2).sum())) for one in (inside, at_first, at_last)]
    out = np.full(n - length + 1, norms[0])
    out[0], out[-1] = norms[1], norms[2]
    longest: Floats = np.maximum(out, 1e-9)
    return longest


def find_step(row: Floats, start: int, end: int, model: Model) -> float:
    """Return the offset of a stretch from its surroundings, by generalised least squares.

    Parameters
    ----------
    row : numpy.ndarray, shape (n,)
        Asynchronies of a member, s.
    start, end : int
        Moments of the stretch.
    model : Model
    """
    shape = np.zeros(row.shape)
    shape[start:end] = 1.0
    step, new = whiten(shape, model), whiten(row, model)
    return float(step @ new) / max(float(step @ step), 1e-12)
