"""Phase of a movement that repeats, from pictures of change: each picture matched with the mean cycle.

Nothing is known of what moves, only that it comes again. The pictures are reduced to principal components; a period and
first marks come from their likeness to each other; then, in rounds, the mean cycle is fitted as a Fourier series of the
phase and the phase of each instant moved to where the pictures around it fit that cycle best.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Bools, Floats

#: Principal components that are kept, and seconds of the moving mean that is taken out before.
_COMPONENTS = 24
_SLOW = 1.5
#: Random projections beyond these and power iterations that find them, and columns that are filtered at a time.
_FURTHER, _POWERS, _AT_ONCE = 16, 4, 512
#: Periods that are looked for (s), and the share of the best likeness from which a shorter one is taken.
SHORTEST, LONGEST = 0.25, 4.0
_NEAR_BEST = 0.65
#: First marks: starts that are tried, rounds, least distance in periods, least likeness of a mark.
_STARTS = (0.15, 0.325, 0.5, 0.675, 0.85)
_MARK_ROUNDS, _MARK_APART, _MARK_LIKE = 4, 0.6, 0.25
#: Harmonics of the mean cycle, rounds of the fit, and bins of the phase in which distances are tabulated.
_HARMONICS, _ROUNDS, _BINS = 6, 4, 256
#: Largest correction of a round in cycles, speeds relative to the mean one, and half the window in cycles.
#: Half a window of .4 rather than .22 cycles averages what sways beside the movement.
_REACH, _SPEEDS, _HALF = 0.2, np.linspace(0.7, 1.3, 13), 0.4
_OFFSETS = np.linspace(-_REACH, _REACH, 41)
#: Cap of a picture's distance in medians; the mean distance above which an instant is unsure, in medians of its part of
#: the cycle, and parts of a cycle.
_CAP, _UNSURE, _PARTS = 8.0, 2.5, 12
#: Weights of the priors: of a correction of .1 cycles, and of a speed off by a fifth, in medians.
_STEADY, _EVEN = 0.05, 0.05
#: Ridge of the covariance of the residuals, in mean variances.
_RIDGE = 0.1
#: Cycles before the first mark and after the last in which it may still be moving.
_AROUND = 0.75
#: Cycles that are extrapolated at both ends.
_EDGE = 0.3
#: Phases at which marks are compared.
_PHASES = np.arange(0.0, 1.0, 0.05)


class PhaseCurve(NamedTuple):
    """Phase of a movement over time.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds, evenly spaced.
    phase : ndarray, shape (n,)
        In cycles, ascending; it begins anywhere in a cycle.
    sure : ndarray of bool, shape (n,)
        False where it stands still and where the pictures do not fit the mean cycle (the phase is interpolated there).
    period : float
        Median period in seconds.
    likeness : float
        Of the pictures a period apart, -1 to 1.
    timing_sd : float
        SD of a mark's time as the marks at other phases tell it, in seconds.
    """

    time: Floats
    phase: Floats
    sure: Bools
    period: float
    likeness: float
    timing_sd: float

    def marks(self) -> Floats:
        """Return the times, during movement, at which the phase is a whole number."""
        inside = np.flatnonzero(self.sure)
        if inside.size < 2:
            return np.empty(0)
        first, last = self.phase[inside[0]], self.phase[inside[-1]]
        whole = np.arange(np.ceil(first - 0.02), np.floor(last + 0.02) + 1)
        return np.interp(whole, self.phase, self.time)


def find_phase(time: Floats, changes: NDArray[np.uint8] | NDArray[np.float32]) -> PhaseCurve | None:
    """Return the phase of what repeats in pictures of change; None where nothing does.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Seconds, evenly spaced.
    changes : ndarray, shape (n, pixels)
        How much each pixel changes around each instant.
    """
    rate = 1 / float(np.median(np.diff(time)))
    vectors = _reduce(high_pass(changes, round(_SLOW * rate)))
    period, likeness = _find_period(vectors, rate)
    if period is None:
        return None
    marks = _find_marks(vectors, period * rate)
    if marks is None:
        return None
    numbers = np.concatenate([[0], np.cumsum(np.maximum(1, np.round(np.diff(marks) / (period * rate))))])
    period = float(np.median(np.diff(marks) / np.diff(numbers))) / rate
    phase = np.interp(np.arange(time.size), marks, numbers)
    at = np.arange(time.size)
    phase = np.where(at < marks[0], (at - marks[0]) / (period * rate), phase)
    phase = np.where(at > marks[-1], numbers[-1] + (at - marks[-1]) / (period * rate), phase)
    around = _AROUND * period * rate
    moving = np.asarray((at >= marks[0] - around) & (at <= marks[-1] + around))
    phase, sure = _refine(vectors, phase, period * rate, moving)
    inside = np.flatnonzero(sure)
    if inside.size < 2 * period * rate:
        return None
    phase, timing_sd = _steady(time, phase, inside, period)
    phase, sure = _extend(phase, sure, period * rate)
    return PhaseCurve(time, phase, sure, period, likeness, timing_sd)


def high_pass(values: NDArray[np.uint8] | NDArray[np.float32], width: int) -> NDArray[np.float32]:
    """Return columns less their moving mean over ``width`` rows, narrower at the ends.

    Parameters
    ----------
    values : numpy.ndarray, shape (n, m)
        A row a picture.
    width : int
    """
    n, columns = values.shape
    out = np.empty((n, columns), np.float32)
    at = np.arange(n)
    first, end = np.maximum(at - width // 2, 0), np.minimum(at + width // 2 + 1, n)
    for begin in range(0, columns, _AT_ONCE):
        part = values[:, begin : begin + _AT_ONCE]
        total = np.concatenate([np.zeros((1, part.shape[1])), np.cumsum(part, axis=0, dtype=np.float64)])
        out[:, begin : begin + _AT_ONCE] = part - (total[end] - total[first]) / (end - first)[:, None]
    return out


def _reduce(values: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the principal components, largest variance first.

    Of many columns by random projections and power iterations: N. Halko, P. G. Martinsson and J. A. Tropp, *SIAM
    Review* 53 (2011), algorithm 4.4 (from memory).
    """
    most = min(_COMPONENTS, min(values.shape) - 1)
    tried = min(most + _FURTHER, *values.shape)
    start = np.random.default_rng(0).standard_normal((values.shape[1], tried)).astype(np.float32)
    basis = np.linalg.qr(values @ start)[0]
    for _ in range(_POWERS):
        basis = np.linalg.qr(values @ np.linalg.qr(values.T @ basis)[0])[0]
    left, size, _ = np.linalg.svd((basis.T @ values).astype(np.float64), full_matrices=False)
    return np.asarray(basis @ (left * size)[:, :most], dtype=np.float64)


def _find_period(vectors: NDArray[np.float64], rate: float) -> tuple[float | None, float]:
    """Return the period in seconds and its similarity: the shortest lag nearly as similar as the best one."""
    n = len(vectors)
    most = min(int(LONGEST * rate), int(n / 2.5))
    size = 1 << (2 * n - 1).bit_length()
    spectrum = np.abs(np.fft.rfft(vectors, size, axis=0)) ** 2
    product = np.fft.irfft(spectrum, axis=0)[: most + 2].sum(axis=1)
    energy = np.concatenate([[0.0], np.cumsum((vectors**2).sum(axis=1))])
    lag = np.arange(most + 2)
    like = product / np.sqrt(energy[n - lag] * (energy[n] - energy[lag]) + 1e-9)
    inner = np.arange(max(1, int(SHORTEST * rate)), most + 1)
    peaks = inner[(like[inner] >= like[inner - 1]) & (like[inner] > like[inner + 1])]
    if not peaks.size:
        return None, 0.0
    at = int(peaks[like[peaks] > _NEAR_BEST * like[peaks].max()][0])
    return (at + _vertex(like[at - 1], like[at], like[at + 1])) / rate, float(like[at])


def _find_marks(vectors: NDArray[np.float64], period: float) -> Floats | None:
    """Return rows a cycle apart whose windows of one cycle are most like the mean of the windows at the others."""
    half = max(2, round(period / 2))
    if len(vectors) < 2 * half + 3:
        return None
    windows = np.lib.stride_tricks.sliding_window_view(vectors, 2 * half + 1, axis=0)
    norm = np.sqrt((windows**2).sum(axis=(1, 2))) + 1e-9
    floor = np.maximum(norm, 0.3 * np.median(norm))
    best: tuple[float, Floats] | None = None
    for start in _STARTS:
        template = windows[int(start * (len(windows) - 1))]
        for _ in range(_MARK_ROUNDS):
            like = np.tensordot(windows, template, axes=([1, 2], [0, 1])) / (
                floor * np.sqrt((template**2).sum()) + 1e-9
            )
            chosen = _pick_peaks(like, _MARK_APART * period)
            if len(chosen) < 2:
                break
            template = np.mean([windows[at] / norm[at] for at in chosen], axis=0)
        if len(chosen) < 2:
            continue
        total = float(like[chosen].sum())
        if best is None or total > best[0]:
            best = total, np.array([half + at + _vertex(*like[at - 1 : at + 2]) for at in chosen])
    return None if best is None else best[1]


def _pick_peaks(like: Floats, apart: float) -> list[int]:
    """Return the positions of the highest peaks that keep a minimum distance, in order."""
    inner = np.arange(1, like.size - 1)
    peaks = inner[(like[inner] >= like[inner - 1]) & (like[inner] > like[inner + 1]) & (like[inner] >= _MARK_LIKE)]
    chosen: list[int] = []
    for at in peaks[np.argsort(-like[peaks], kind="stable")].tolist():
        if all(abs(at - other) >= apart for other in chosen):
            chosen.append(at)
    return sorted(chosen)


def _design(phase: Floats) -> NDArray[np.float64]:
    angle = 2 * np.pi * np.outer(phase, np.arange(1, _HARMONICS + 1))
    return np.hstack([np.ones((len(phase), 1)), np.cos(angle), np.sin(angle)])


def _refine(vectors: NDArray[np.float64], phase: Floats, period: float, moving: Bools) -> tuple[Floats, Bools]:
    """Return the phase of each row, whether the pictures around it fit the mean cycle, and the period in rows."""
    sure = moving
    at = np.arange(len(vectors))
    for _ in range(_ROUNDS):
        distance = _tabulate(vectors, phase, moving)
        typical = float(np.median(distance[at, (phase * _BINS).astype(int) % _BINS][moving]))
        correction, least = _correct(np.minimum(distance, _CAP * typical), phase, period, typical)
        sure = moving & (least < _UNSURE * _median_by_phase(least, phase, moving))
        if sure.sum() < 2:
            return phase, sure
        known = np.interp(at, at[sure], correction[sure])
        phase = phase + np.convolve(np.pad(known, 1, mode="edge"), np.ones(3) / 3, "valid")
        phase = np.maximum.accumulate(phase + 1e-9 * at)
    return phase, sure


def _tabulate(vectors: NDArray[np.float64], phase: Floats, moving: Bools) -> NDArray[np.float64]:
    """Fit the mean cycle; return the whitened squared distance of each row from it at each phase, shape (n, bins)."""
    design, weight = _design(phase), moving.astype(float)
    for _ in range(3):
        fit = np.linalg.lstsq(design * weight[:, None], vectors * weight[:, None], rcond=None)[0]
        residual = vectors - design @ fit
        size = np.sqrt((residual**2).sum(axis=1))
        weight = moving * np.minimum(1, 1.5 * np.median(size[moving]) / np.maximum(size, 1e-9))
    covariance = (residual * weight[:, None] ** 2).T @ residual / (weight**2).sum()
    covariance += _RIDGE * np.trace(covariance) / len(covariance) * np.eye(len(covariance))
    whiten = np.linalg.inv(np.linalg.cholesky(covariance)).T
    mine, cycle = vectors @ whiten, _design(np.arange(_BINS) / _BINS) @ fit @ whiten
    squares = (mine**2).sum(axis=1)[:, None] - 2 * mine @ cycle.T + (cycle**2).sum(axis=1)
    return np.asarray(squares)


def _correct(distance: NDArray[np.float64], phase: Floats, period: float, typical: float) -> tuple[Floats, Floats]:
    """Return the correction of each row's phase that fits best, and the mean distance there."""
    n = len(distance)
    half = max(1, round(_HALF * period))
    steps = np.arange(-half, half + 1)
    weight = 0.5 * (1 + np.cos(np.pi * steps / (half + 1)))
    weight /= weight.sum()
    cost = np.zeros((n, _OFFSETS.size, _SPEEDS.size))
    flat = distance.ravel()
    for step, share in zip(steps.tolist(), weight.tolist(), strict=True):
        row = np.clip(np.arange(n) + step, 0, n - 1)[:, None, None]
        place = phase[:, None, None] + _OFFSETS[:, None] + _SPEEDS * (step / period)
        cost += share * flat[row * _BINS + np.round(place * _BINS).astype(int) % _BINS]
    cost += typical * (_STEADY * (_OFFSETS[:, None] / 0.1) ** 2 + _EVEN * ((_SPEEDS - 1) / 0.2) ** 2)
    best = cost.min(axis=2)
    at, rows = np.clip(best.argmin(axis=1), 1, _OFFSETS.size - 2), np.arange(n)
    before, here, behind = best[rows, at - 1], best[rows, at], best[rows, at + 1]
    bend = before - 2 * here + behind
    fine = np.where(bend > 0, 0.5 * (before - behind) / np.where(bend > 0, bend, 1), 0)
    return _OFFSETS[at] + np.clip(fine, -1, 1) * (_OFFSETS[1] - _OFFSETS[0]), best.min(axis=1)


def _median_by_phase(values: Floats, phase: Floats, moving: Bools) -> Floats:
    """Return for each row the median of the rows at its part of the cycle: some parts fit less well, in every cycle."""
    part = (phase % 1 * _PARTS).astype(int)
    medians = [np.median(values[mine]) if (mine := moving & (part == k)).any() else np.inf for k in range(_PARTS)]
    return np.asarray(np.array(medians)[part])


def _steady(time: Floats, phase: Floats, moving: NDArray[np.intp], period: float) -> tuple[Floats, float]:
    """Return the phase without the alternation of odd and even cycles, and the SD of a mark's time, in seconds.

    Her own periods are nearly the same at whichever phase they are measured. What comes early in one cycle and late in
    the next at some phases alone is a body that sways from side to side once in two cycles, which moves her in the
    picture as her timing would; the phase where it shows least is the reference.
    """
    first = math.ceil(float(phase[moving[0]]) + 0.1)
    number = np.arange(first, math.floor(float(phase[moving[-1]]) - 1.05) + 1)
    if number.size < 6:
        return phase, 0.0
    marks = np.array([np.interp(number + mark, phase, time) for mark in _PHASES])
    bends = np.diff(marks, 2, axis=1)
    bends = np.clip(bends - np.median(bends, axis=1)[:, None], -0.15 * period, 0.15 * period)
    best = int(np.argmin(np.mean(bends**2, axis=1)))
    # of marks that are late by a in every second cycle and early in the others, a mark is 2 a later than its neighbours
    odd = 1 - 2 * (number % 2)
    between = marks - marks[best]
    swing = (between[:, 1:-1] - (between[:, :-2] + between[:, 2:]) / 2) * odd[1:-1] / 2
    sway = np.median(swing, axis=1)
    error = 1.4826 * np.median(np.abs(swing - sway[:, None]), axis=1) * 1.2533 / math.sqrt(number.size - 2)
    sway[np.abs(sway) < 2 * error] = 0
    around = np.concatenate([_PHASES, _PHASES + 1, [2.0]])
    late = np.interp(phase % 2, around, np.concatenate([sway, -sway, sway[:1]]))
    steadied = np.interp(time, np.maximum.accumulate(time - late), phase)
    periods = np.diff(marks - sway[:, None] * odd, axis=1)
    off = periods - periods.mean(axis=0)
    # two marks bound a period
    return steadied, float(1.4826 * np.median(np.abs(off - np.median(off, axis=1)[:, None])) / math.sqrt(2))


def _extend(phase: Floats, sure: Bools, period: float) -> tuple[Floats, Bools]:
    """Extrapolate to where the movement begins and ends: the windows of the first and last instants reach beyond it."""
    at, inside = np.arange(phase.size), np.flatnonzero(sure)
    first, last, span = inside[0], inside[-1], max(2, round(period / 2))
    before = (phase[min(first + span, last)] - phase[first]) / max(min(span, last - first), 1)
    behind = (phase[last] - phase[max(last - span, first)]) / max(min(span, last - first), 1)
    out = np.where(at < first, phase[first] + (at - first) * before, phase)
    out = np.where(at > last, phase[last] + (at - last) * behind, out)
    reach = round(_EDGE * period)
    longer = sure.copy()
    longer[max(0, first - reach) : first] = longer[last + 1 : last + 1 + reach] = True
    return out, longer


def _vertex(before: float, here: float, behind: float) -> float:
    """Return the offset of the vertex of the parabola through three values from the middle one."""
    bend = before - 2 * here + behind
    return 0.5 * (before - behind) / bend if bend < 0 else 0.0
