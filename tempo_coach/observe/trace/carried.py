"""Separation of two superposed rotations: small circles, and the movement that carries them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.observe.trace.filters import band_pass, find_analytic, low_pass, running_mean
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.observe.trace.filters import Complexes
    from tempo_coach.times import Floats

#: Knots a turn of either phase, and cycles to one knot of the centre.
_KNOTS, _CENTRE = 2.0, 4.0
#: Smoothness penalty of the phases; tuned on generated movement with 2 % jitter, between fitting the noise (less) and
#: flattening the jitter (more): the median error is flat from 0.001 to 0.1.
_SMOOTH = 0.01
_ROUNDS, _LARGEST_STEP, _DONE = 20, 0.15, 2e-4
#: Residual relative to the radius of the small circle above which the two are hardly separated.
LOOSE = 0.5


@dataclass(frozen=True, eq=False)
class Separation:
    """The fit of two rotations.

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
    residual : float
        RMS of the residual, in the unit of the positions.
    time : numpy.ndarray, shape (n,)
        Seconds.
    local_radius : numpy.ndarray, shape (n,)
        Radius of the small circle, over one turn around each instant.
    reasons : tuple of Reason
        Why the two cannot be separated safely; empty when they can.
    """

    carrying: Floats
    small: Floats
    carrying_radii: tuple[float, float]
    small_radius: float
    carrying_sense: int
    small_sense: int
    residual: float
    time: Floats
    local_radius: Floats
    reasons: tuple[Reason, ...] = ()

    @property
    def in_room(self) -> float:
        """Small circles per carrying cycle, in the room frame."""
        return float((self.small[-1] - self.small[0]) / (self.carrying[-1] - self.carrying[0]))

    @property
    def on_arm(self) -> float:
        """Small circles per carrying cycle, in the arm frame.

        One less where both turn the same way, one more where they turn against each other; NaN where it does not show
        which way the small ones turn.
        """
        if not self.small_sense:
            return math.nan
        return self.in_room - self.carrying_sense * self.small_sense


def separate(
    time: Floats, path: Complexes, carrying: Floats, small: Floats, *, known: NDArray[np.bool_] | None = None
) -> Separation:
    """Fit both rotations by Gauss-Newton steps, starting from initial phases.

    Parameters
    ----------
    time : numpy.ndarray, shape (n,)
        Seconds, ascending.
    path : numpy.ndarray of complex, shape (n,)
        The point in its plane, real to the right and imaginary upwards.
    carrying, small : numpy.ndarray, shape (n,)
        Initial phases in turns; each may run up or down, and be off by a sixth of a turn.
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
    phi, psi, (plus, minus, radius), residual, beside = _fit(time, path, weight, carrying, small)
    upright = plus - np.conj(minus)
    size = (abs(plus) + abs(minus), abs(abs(plus) - abs(minus)))
    sense = 0 if size[1] < 0.2 * size[0] else (1 if abs(plus) > abs(minus) else -1)
    flip = -1 if mirror else 1
    slow = phi + np.angle(upright) / (2 * np.pi) + 0.25
    fast = psi + np.angle(radius) / (2 * np.pi) + 0.25
    reasons: list[Reason] = []
    if slow[-1] - slow[0] < 2.5:
        reasons.append(Reason(Why.FEW_CARRYING, (float(slow[-1] - slow[0]),)))
    ratio = (fast[-1] - fast[0]) / max(slow[-1] - slow[0], 1e-9)
    if abs(ratio - (1 if sense >= 0 else 0)) < 0.5:
        reasons.append(Reason(Why.ONE_SPEED))
    if residual > LOOSE * abs(radius):
        reasons.append(Reason(Why.SMALL_IN_RESIDUAL, (float(abs(radius)), float(residual))))
    if (np.diff(slow) < -0.02).any() or (np.diff(fast) < -0.02).any():
        reasons.append(Reason(Why.BACKWARDS))
    return Separation(
        np.maximum.accumulate(slow),
        np.maximum.accumulate(fast),
        (float(size[0]), float(size[1])),
        float(abs(radius)),
        sense * flip,
        flip,
        float(residual),
        time,
        np.abs(radius + running_mean(beside, max(1, round(time.size / max(fast[-1] - fast[0], 1))))),
        tuple(reasons),
    )


def as_line(separation: Separation) -> Separation:
    """Return the separation of rotations seen edge on, whose sense of rotation does not show."""
    return replace(separation, carrying_radii=(separation.carrying_radii[0], 0.0), carrying_sense=0, small_sense=0)


def _fit(
    time: Floats, path: Complexes, weight: Floats, phi: Floats, psi: Floats
) -> tuple[Floats, Floats, Complexes, float, Complexes]:
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
    # what is left over turns with the small circle where that is bigger or smaller
    return bases[0] @ theta[:size], bases[1] @ theta[size:], linear, float(np.sqrt(mean_square)), left * fast.conj()


def _knots(time: Floats, phase: Floats, per_turn: float) -> Floats:
    """Return the instants between which the phase makes equal steps."""
    ascending = np.maximum.accumulate(phase) + 1e-9 * np.arange(phase.size)
    pieces = max(round((ascending[-1] - ascending[0]) * per_turn), 2)
    return np.asarray(np.interp(np.linspace(ascending[0], ascending[-1], pieces + 1), ascending, time))


def _basis(time: Floats, knots: Floats) -> Any:
    from scipy.interpolate import BSpline

    padded = np.concatenate([[knots[0]] * 3, knots, [knots[-1]] * 3])
    return BSpline.design_matrix(np.clip(time, knots[0], knots[-1]), padded, 3).tocsr()


def _bending(n: int) -> Any:
    from scipy import sparse

    second = sparse.diags_array([1.0, -2.0, 1.0], offsets=[0, 1, 2], shape=(max(n - 2, 1), n))
    return second.T @ second


#: Winding of the velocity a cycle from which circles lie inside a cycle.
CARRIED = 1.5
#: Readings a small circle in the separation, after filtering.
_READINGS = 16
#: Least radius of a small circle hidden in a bigger one, relative to it.
_HIDDEN = 0.08
#: ... and where its period is known; and the tolerance of that period (log ratio).
_HIDDEN_KNOWN, _NEAR_INNER = 0.02, 0.1
#: Circles a cycle that are looked for at the most, and at the least where the separation is loose.
MOST_CIRCLES, _LEAST_CARRIED = 12, 2
#: Band of the first harmonic in cycles a cycle, and its least SD in the height, relative to that of the path.
_FIRST, _UPRIGHT = (0.5, 1.5), 0.3


@dataclass(frozen=True, eq=False)
class Bout:
    """Unrolled readings of one bout of movement.

    Parameters
    ----------
    number : int
        Index of the bout, from 0.
    time : numpy.ndarray, shape (n,)
        Seconds.
    path : numpy.ndarray of complex, shape (n,)
        In the plane of movement, in the trace's unit.
    known : numpy.ndarray of bool, shape (n,)
        False inside a gap.
    per_cycle : int
        Readings a cycle.
    """

    number: int
    time: Floats
    path: Complexes
    known: np.ndarray[tuple[int], np.dtype[np.bool_]]
    per_cycle: int


def find_direction(bout: Bout, corner: float) -> Floats:
    """Return the direction of the velocity in turns, an integer at the low point of a counter-clockwise circle.

    Parameters
    ----------
    bout : Bout
    corner : float
        Turns a cycle above which the path is filtered off first.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Turns, unwrapped.
    """
    path = low_pass(bout.path, bout.per_cycle, corner)
    velocity = np.gradient(path.real) + 1j * np.gradient(path.imag)
    return np.asarray(np.unwrap(np.angle(velocity)) / (2 * np.pi))


def separate_carried(
    bout: Bout, turns: float, *, inner: float = 0.0, circles: int | None = None
) -> tuple[Bout, Separation | None]:
    """Separate small circles from the movement that carries them.

    Parameters
    ----------
    bout : Bout
    turns : float
        Of the velocity's direction a cycle, negative with the clock.
    inner : float
        Small circles a cycle where they are known to repeat by themselves; 0 where nothing is known.
    circles : int or None
        Small circles a cycle that a pattern asks for: they decide where the separation alone is loose.

    Returns
    -------
    bout : Bout
        Downsampled to the readings of the separation, or unchanged.
    separation : Separation or None
        None where there is nothing to separate.
    """
    if abs(turns) >= CARRIED:
        small = find_direction(bout, 4 * abs(turns)) - 0.25
        many = abs(turns)
    else:
        hidden = _hidden_circle(bout, 1 if turns > 0 else -1, inner)
        if hidden is None:
            return bout, None
        small, many = hidden
    best = _separate_as(bout, small, many)
    if not _is_loose(best[1]):
        return best
    if abs(turns) < CARRIED:  # without a period of its own, a line of the spectrum is an overtone of an arc, no circle
        return best if inner else (bout, None)
    # the velocity winds once less or more where the arm is faster than the wrist between two circles
    others = [each for each in (round(many) - 1, round(many) + 1) if each >= _LEAST_CARRIED]
    is_asked = circles in others and circles not in {round(best[1].in_room), round(best[1].on_arm)}
    trials = [
        _separate_as(bout, _line_phase(bout.path, bout.per_cycle, np.sign(turns) * other), other)
        for other in ([circles] if circles is not None and is_asked else others)
    ]
    best = min(trials if is_asked else [best, *trials], key=lambda each: each[1].residual)
    thinned, separation = best
    if not _is_loose(separation):
        return best
    # an arm that swings on an arc is no ellipse: its low point is then nearer to that of the height's first harmonic
    height = band_pass(bout.path.imag, bout.per_cycle, *_FIRST, order=4)
    if np.std(height) < _UPRIGHT * np.std(bout.path):
        return best
    low = np.unwrap(np.angle(find_analytic(-height))) / (2 * np.pi)
    return thinned, replace(separation, carrying=np.maximum.accumulate(np.interp(thinned.time, bout.time, low)))


def _separate_as(bout: Bout, small: Floats, many: float) -> tuple[Bout, Separation]:
    """Return the downsampled bout and its separation into a number of small circles a cycle, from their phase."""
    carrier = low_pass(bout.path, bout.per_cycle, np.sqrt(max(many, 1.5)))
    carrier = carrier - low_pass(carrier, bout.per_cycle, 0.4)
    slow = _carrier_phase(carrier)
    step = max(1, int(bout.per_cycle / (_READINGS * many)))
    smooth = low_pass(bout.path, bout.per_cycle, 5 * many)
    slow = _straighten(slow, bout.per_cycle // 4)
    small = _straighten(small, int(bout.per_cycle / (4 * many)))
    kept = slice(None, None, step)
    thinned = Bout(bout.number, bout.time[kept], smooth[kept], bout.known[kept], bout.per_cycle)
    return thinned, separate(thinned.time, thinned.path, slow[kept], small[kept], known=thinned.known)


def _is_loose(separation: Separation) -> bool:
    return separation.residual > LOOSE * separation.small_radius


def _straighten(phase: Floats, width: int) -> Floats:
    """Extrapolate an initial phase linearly at both ends, where filters distort it."""
    n = phase.size
    if width < 1 or n < 6 * width:
        return phase
    out = phase.copy()
    start = (phase[3 * width] - phase[width]) / (2 * width)
    end = (phase[n - 1 - width] - phase[n - 1 - 3 * width]) / (2 * width)
    out[:width] = phase[width] - start * np.arange(width, 0, -1)
    out[n - width :] = phase[n - 1 - width] + end * np.arange(1, width + 1)
    return out


def _carrier_phase(carrier: Complexes) -> Floats:
    """Return the phase of the carrying ellipse in turns: the analytic signal of its main axis."""
    axis = np.exp(0.5j * np.angle((carrier**2).sum()))
    main = (carrier * axis.conj()).real
    return np.asarray(np.unwrap(np.angle(find_analytic(main))) / (2 * np.pi))


def _hidden_circle(bout: Bout, sense: int, inner: float) -> tuple[Floats, float] | None:
    """Find a small circle inside a bigger, faster one: its phase in turns, and circles a cycle.

    It is the strongest spectral line at two circles a cycle or more, after the first harmonic is removed.
    """
    n = bout.path.size
    if n < 3 * bout.per_cycle:
        return None
    left = bout.path - low_pass(bout.path, bout.per_cycle, 1.6)
    window = np.hanning(n)
    spectrum = np.abs(np.fft.fft(left * window)) / window.sum()
    cycles_a_cycle = np.fft.fftfreq(n, 1 / bout.per_cycle)
    range_ = (np.abs(cycles_a_cycle) >= 1.7) & (np.abs(cycles_a_cycle) <= MOST_CIRCLES)
    hidden, around = _HIDDEN, range_.copy()
    if inner:
        range_ &= np.abs(np.log(np.maximum(np.abs(cycles_a_cycle), 0.1) / inner)) < _NEAR_INNER
        hidden = _HIDDEN_KNOWN
    if not range_.any():
        return None
    at = int(np.argmax(np.where(range_, spectrum, 0)))
    main = float(np.std(bout.path))
    if spectrum[at] < hidden * main or spectrum[at] < 8 * np.median(spectrum[around]):
        return None
    many = float(cycles_a_cycle[at])
    slow = _demodulate(left, bout.per_cycle, many)
    # One circle that broke has such a line too, but only where it broke.
    if abs(many - sense) < 0.5 or np.median(np.abs(slow)) < 0.5 * hidden * main:
        return None
    return _line_phase(left, bout.per_cycle, many), abs(many)


def _demodulate(path: Complexes, per_cycle: int, many: float) -> Complexes:
    """Return the complex envelope at a number of turns a cycle."""
    shift = np.exp(-2j * np.pi * many * np.arange(path.size) / per_cycle)
    return low_pass(path * shift, per_cycle, 0.6)


def _line_phase(path: Complexes, per_cycle: int, many: float) -> Floats:
    """Return the phase in turns of the component at a number of turns a cycle."""
    turning = np.exp(2j * np.pi * many * np.arange(path.size) / per_cycle)
    return np.asarray(np.unwrap(np.angle(_demodulate(path, per_cycle, many) * turning)) / (2 * np.pi))
