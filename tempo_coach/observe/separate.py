"""Two rotations in one movement: small circles, and what carries them.

A tracked point on a club that is milled while the arm goes round, or on a rope's end while the arm rises and falls,
moves as

    z(t) = centre(t) + c⁺ e^{iφ(t)} + c⁻ e^{-iφ(t)} + r e^{iψ(t)}

in its plane: the carrying movement φ is an ellipse (a line when |c⁺| = |c⁻|, a circle when one of them is 0), the
small circle ψ is a circle. Both phases are smooth and run unevenly, as people do, so they are cubic splines with two
knots a turn; all is fitted by least squares (Gauss and Newton's method, the linear part solved exactly in each step,
as in variable projection, Golub & Pereyra 1973).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.observe.warp import Complexes
    from tempo_coach.times import Floats

#: Knots a turn of either phase, and cycles to one knot of the centre.
_KNOTS, _CENTRE = 2.0, 4.0
#: How much the phases are held smooth; found on generated movement with 2 % jitter, between following the noise (less)
#: and flattening the jitter (more): the median error is flat from 0.001 to 0.1.
_SMOOTH = 0.01
_ROUNDS, _LARGEST_STEP, _DONE = 20, 0.15, 2e-4


@dataclass(frozen=True, eq=False)
class Separation:
    """What was found of the two rotations.

    Parameters
    ----------
    carrying, small : numpy.ndarray, shape (n,)
        Phases in turns, ascending, whole at the low points (of the carrying ellipse, of the small circle about its
        own centre).
    carrying_radii : tuple of float
        Half axes of the ellipse, the longer one first.
    small_radius : float
    carrying_sense, small_sense : int
        +1 against the clock, -1 with it, as the plane is looked at; 0 for a line.
    rest : float
        Root mean square of what the two rotations leave, in the unit of the positions.
    reasons : tuple of str
        Why the two cannot be told apart safely; empty when they can.
    """

    carrying: Floats
    small: Floats
    carrying_radii: tuple[float, float]
    small_radius: float
    carrying_sense: int
    small_sense: int
    rest: float
    reasons: tuple[str, ...] = ()

    @property
    def in_room(self) -> float:
        """Small circles a carrying cycle, as seen from the room."""
        return float((self.small[-1] - self.small[0]) / (self.carrying[-1] - self.carrying[0]))

    @property
    def on_arm(self) -> float:
        """Small circles a carrying cycle, as felt by the arm that carries them.

        One less where both turn the same way, one more where they turn against each other.
        """
        return self.in_room - self.carrying_sense * self.small_sense


def separate(
    time: Floats, path: Complexes, carrying: Floats, small: Floats, *, known: NDArray[np.bool_] | None = None
) -> Separation:
    """Fit both rotations, from a first guess of the phases.

    Parameters
    ----------
    time : numpy.ndarray, shape (n,)
        Seconds, ascending.
    path : numpy.ndarray of complex, shape (n,)
        The point in its plane, real to the right and imaginary upwards.
    carrying, small : numpy.ndarray, shape (n,)
        First guesses of the phases in turns; each may run up or down, and be off by a sixth of a turn.
    known : numpy.ndarray of bool or None
        False where nothing was read.

    Returns
    -------
    Separation
    """
    mirror = small[-1] < small[0]
    if mirror:
        path, small = -path.conj(), -small
    if carrying[-1] < carrying[0]:
        carrying = -carrying
    weight = np.ones(time.size) if known is None else known.astype(float)
    phi, psi, (plus, minus, radius), rest = _fit(time, path, weight, carrying, small)
    upright = plus - np.conj(minus)
    size = (abs(plus) + abs(minus), abs(abs(plus) - abs(minus)))
    sense = 0 if size[1] < 0.2 * size[0] else (1 if abs(plus) > abs(minus) else -1)
    flip = -1 if mirror else 1
    slow = phi + np.angle(upright) / (2 * np.pi) + 0.25
    fast = psi + np.angle(radius) / (2 * np.pi) + 0.25
    reasons = []
    if slow[-1] - slow[0] < 2.5:
        reasons.append(f"only {slow[-1] - slow[0]:.1f} carrying cycles were seen, and three are needed")
    ratio = (fast[-1] - fast[0]) / max(slow[-1] - slow[0], 1e-9)
    if abs(ratio - (1 if sense >= 0 else 0)) < 0.5:
        reasons.append("both turn at nearly one speed")
    if rest > 0.5 * abs(radius):
        reasons.append(f"the small circle ({abs(radius):.3g}) hardly stands out of the rest ({rest:.3g})")
    if (np.diff(slow) < -0.02).any() or (np.diff(fast) < -0.02).any():
        reasons.append("a phase would run backwards")
    return Separation(
        np.maximum.accumulate(slow),
        np.maximum.accumulate(fast),
        (float(size[0]), float(size[1])),
        float(abs(radius)),
        sense * flip,
        flip,
        float(rest),
        tuple(reasons),
    )


def _fit(
    time: Floats, path: Complexes, weight: Floats, phi: Floats, psi: Floats
) -> tuple[Floats, Floats, Complexes, float]:
    from scipy import sparse
    from scipy.sparse.linalg import spsolve

    bases = [_basis(time, _knots(time, phase, _KNOTS)) for phase in (phi, psi)]
    centre = _basis(time, _knots(time, phi, 1 / _CENTRE))
    weights = sparse.diags_array(weight)
    coefs = [
        spsolve((b.T @ b + 1e-9 * sparse.eye_array(b.shape[1])).tocsc(), b.T @ phase)
        for b, phase in zip(bases, (phi, psi), strict=True)
    ]
    size = bases[0].shape[1]
    theta = np.concatenate(coefs)
    both = sparse.block_diag(bases).tocsr()
    stiff = sparse.block_diag([_bending(b.shape[1]) for b in bases]) * (_SMOOTH * time.size)
    linear = np.zeros(3, dtype=complex)
    mean_square = 1.0
    for _ in range(_ROUNDS):
        phases = both @ theta
        slow, fast = np.exp(2j * np.pi * phases[: time.size]), np.exp(2j * np.pi * phases[time.size :])
        columns = sparse.hstack([sparse.csr_array(np.column_stack([slow, slow.conj(), fast])), centre]).tocsr()
        normal = columns.conj().T @ weights @ columns + 1e-10 * sparse.eye_array(columns.shape[1])
        solved = spsolve(normal.tocsc(), columns.conj().T @ (weight * path))
        linear, left = solved[:3], path - columns @ solved
        mean_square = float(np.mean(weight * np.abs(left) ** 2))
        slope = [
            b.multiply(s[:, None])
            for b, s in zip(
                bases,
                (2j * np.pi * (linear[0] * slow - linear[1] * slow.conj()), 2j * np.pi * linear[2] * fast),
                strict=True,
            )
        ]
        jacobian = sparse.hstack(slope).tocsr()
        noise = mean_square + 1e-12 * float(np.mean(np.abs(path) ** 2))
        curve = (jacobian.conj().T @ weights @ jacobian).real + stiff * noise
        downhill = (jacobian.conj().T @ (weight * left)).real - noise * (stiff @ theta)
        ridge = 1e-9 * float(curve.diagonal().mean()) * sparse.eye_array(theta.size)
        step = np.clip(spsolve((curve + ridge).tocsc(), downhill), -_LARGEST_STEP, _LARGEST_STEP)
        theta = theta + step
        if np.abs(step).max() < _DONE:
            break
    return bases[0] @ theta[:size], bases[1] @ theta[size:], linear, float(np.sqrt(mean_square))


def _knots(time: Floats, phase: Floats, per_turn: float) -> Floats:
    """Instants at which the phase has made equal steps."""
    steady = np.maximum.accumulate(phase) + 1e-9 * np.arange(phase.size)
    pieces = max(round((steady[-1] - steady[0]) * per_turn), 2)
    return np.asarray(np.interp(np.linspace(steady[0], steady[-1], pieces + 1), steady, time))


def _basis(time: Floats, knots: Floats) -> Any:
    from scipy.interpolate import BSpline

    padded = np.concatenate([[knots[0]] * 3, knots, [knots[-1]] * 3])
    return BSpline.design_matrix(np.clip(time, knots[0], knots[-1]), padded, 3).tocsr()


def _bending(n: int) -> Any:
    from scipy import sparse

    second = sparse.diags_array([1.0, -2.0, 1.0], offsets=[0, 1, 2], shape=(max(n - 2, 1), n))
    return second.T @ second
