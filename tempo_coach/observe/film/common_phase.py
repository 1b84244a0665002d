"""One phase for gymnasts who do the same: their mean cycles in pictures of change, aligned.

Each one's own phase begins where what moves of her is lowest, which is no place of the movement where two clubs move
against each other. How the picture of each changes over a cycle, brought to one size, tells by how much of a cycle they
lie apart.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Bools, Floats

#: Harmonics that are compared, side of the grid that a gymnast's mean cycle is brought to, and SDs of where she moves
#: from its middle to its edge.
_HARMONICS, _SIDE, _REACH = 6, 20, 2.2
#: Shifts that are tried, and rounds against the mean of all.
_STEPS, _ROUNDS = 240, 3
#: Likeness to the first one below which somebody may do it mirrored, and how much more alike she has to be so.
_UNLIKE, _MIRRORED = 0.4, 0.3


class Shifts(NamedTuple):
    """By how many cycles the phase of each lies ahead of the common one, and how alike each is to it, -1 to 1."""

    cycles: Floats
    likeness: Floats


def find_shifts(followed: Sequence[tuple[Floats, Bools, NDArray[np.uint8]]]) -> Shifts:
    """Return the phase of each gymnast relative to the first, all of them doing the same.

    Parameters
    ----------
    followed : sequence of (phase, sure, pictures)
        Of each: cycles, shape (n,), where they are known, and how each pixel of her region changes, shape (n, h, w).

    Returns
    -------
    Shifts
        ``likeness`` is that to the mean of the others.
    """
    cycles = [_mean_cycle(*one) for one in followed]
    # who does it with the other hand does it mirrored; two clubs against each other are nearly their own mirror image,
    # half a cycle later, so that only what is unlike as it is may be turned around
    for k, one in enumerate(cycles[1:], 1):
        plain, mirrored = _shift(one, cycles[0])[1], _shift(one[:, :, ::-1], cycles[0])[1]
        if plain < _UNLIKE and mirrored > plain + _MIRRORED:
            cycles[k] = one[:, :, ::-1]
    common = cycles[0]
    for _ in range(_ROUNDS):
        shifts = np.array([_shift(one, common)[0] for one in cycles])
        shifts = shifts - shifts[0]
        laid = np.array([one * _turn(shift) for one, shift in zip(cycles, shifts, strict=True)])
        common = laid.mean(axis=0)
    # to the mean of the others: that of all has her own in it
    likeness = np.array([_likeness(one, laid.sum(axis=0) - one) for one in laid])
    return Shifts(shifts, likeness)


def _turn(shift: float) -> NDArray[np.complex128]:
    """Return the factors that shift harmonics by a number of cycles."""
    return np.asarray(np.exp(2j * np.pi * shift * np.arange(1, _HARMONICS + 1))[:, None, None])


def _likeness(one: NDArray[np.complex128], other: NDArray[np.complex128]) -> float:
    norms = float(np.linalg.norm(one) * np.linalg.norm(other))
    return float((np.conj(other) * one).sum().real) / max(norms, 1e-9)


def _mean_cycle(phase: Floats, sure: Bools, pictures: NDArray[np.uint8]) -> NDArray[np.complex128]:
    """Return the harmonics of the change of a grid of pixels around her over a cycle, normalised to length 1."""
    import cv2

    high, wide = pictures.shape[1:]
    flat = pictures[sure].reshape(int(sure.sum()), -1).astype(np.float32)
    wave = np.exp(-2j * np.pi * np.outer(np.arange(1, _HARMONICS + 1), phase[sure])).astype(np.complex64)
    harmonics = (wave @ (flat - flat.mean(axis=0))).reshape(_HARMONICS, high, wide)
    power = (np.abs(harmonics) ** 2).sum(axis=0).astype(np.float64)
    power /= max(float(power.sum()), 1e-9)
    across, down = np.arange(wide), np.arange(high)
    x, y = float((power.sum(axis=0) * across).sum()), float((power.sum(axis=1) * down).sum())
    spread_x = math.sqrt(float((power.sum(axis=0) * (across - x) ** 2).sum())) + 0.5
    spread_y = math.sqrt(float((power.sum(axis=1) * (down - y) ** 2).sum())) + 0.5
    step_x, step_y = 2 * _REACH * spread_x / _SIDE, 2 * _REACH * spread_y / _SIDE
    matrix = np.array([[step_x, 0, x - step_x * (_SIDE - 1) / 2], [0, step_y, y - step_y * (_SIDE - 1) / 2]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    out = [
        cv2.warpAffine(part.astype(np.float32), matrix, (_SIDE, _SIDE), flags=how)
        for one in harmonics
        for part in (one.real, one.imag)
    ]
    grid = np.array(out).reshape(_HARMONICS, 2, _SIDE, _SIDE)
    return np.asarray((grid[:, 0] + 1j * grid[:, 1]) / max(float(np.sqrt((grid**2).sum())), 1e-9))


def _shift(one: NDArray[np.complex128], common: NDArray[np.complex128]) -> tuple[float, float]:
    """Return by how many cycles one is ahead of the common cycle, and their similarity then."""
    products = (np.conj(common) * one).sum(axis=(1, 2))
    tried = np.arange(_STEPS) / _STEPS
    like = (products[:, None] * np.exp(2j * np.pi * np.outer(np.arange(1, _HARMONICS + 1), tried))).sum(axis=0).real
    at = int(np.argmax(like))
    before, here, behind = like[at - 1], like[at], like[(at + 1) % _STEPS]
    bend = before - 2 * here + behind
    fine = 0.5 * (before - behind) / bend if bend < 0 else 0.0
    shift = (tried[at] + fine / _STEPS + 0.5) % 1 - 0.5
    return float(shift), float(here / max(np.linalg.norm(common) * np.linalg.norm(one), 1e-9))
