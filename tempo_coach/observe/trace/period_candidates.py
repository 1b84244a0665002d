"""Period candidates of a trace, each with its evidence.

Small circles lie in a rise and fall, a rise and fall in a bigger circle: a trace has several periods, and one
autocorrelation does not say which of them is the cycle. Each candidate is therefore band-passed and measured in three
ways: the similarity of a cycle to the next; that similarity relative to the best at any longer lag (three unequal
circles resemble one another, and are the same only after all three); and the share of the energy at this period or
faster, since what is slower is left out of such a cycle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.filters import (
    accumulate_energy,
    average,
    close_gaps,
    correlate,
    drop_runs,
    find_fast_length,
    find_runs,
    running_mean,
)

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Resampled
    from tempo_coach.times import Floats

#: Highest sample rate of the analysis; a cycle of 0.14 s then has 17 readings.
_RATE_HZ = 120.0
#: Windows of the autocorrelation in seconds; the short one finds a period whose tempo changes.
_WINDOWS = (3.0, 8.0, 24.0)
_MOST_WINDOWS = 32
#: Candidates nearer than this (log ratio) are merged.
_SAME = 0.06
#: Readings a cycle at which a candidate is tested, cycles a window, and the search range around its lag.
_READINGS, _CYCLES, _OFF = 32, 4.0, 0.14
#: Corners of a candidate's band in cycles a cycle, soft by the third figure's part.
_BAND = (0.72, 3.5, 0.17)
#: Corners of the band in which the local period is tracked, in cycles a cycle.
_WIDE = (0.3, 7.0)
#: Range of the longer lags, in cycles, over which relative similarity is taken.
_BEYOND = (1.35, 6.6)
#: The weight grows with frequency up to this many cycles a cycle and is flat above, where noise would dominate.
_FLAT = 1.35
#: Pairs of windows are left out where one has less than this share of the 80th percentile of the energy.
_QUIET = 0.12

#: Shortest still stretch in seconds, its speed relative to the 80th percentile, and the smoothing before, in seconds.
_STILL, _STILL_PART, _CALM = 1.0, 0.15, 0.06
#: Unweighted share of the energy from which a candidate of positions may carry others.
_MAY_CARRY = 0.8
#: Detrended readings below this share of the readings are rounding errors.
_ROUNDED = 1e-9
#: Largest share of lost readings that is filled; rounds of filling, and the part of the threshold that is left of it in
#: each.
_MOST_LOST, _FILLING = 0.35, (24, 0.86)
#: Seconds to which a stretch without movement is cut.
_IDLE = 4.0


@dataclass(frozen=True)
class Candidate:
    """A period at which something repeats, and its evidence.

    Parameters
    ----------
    period : float
        Seconds.
    similarity : float
        Of a cycle to the next in the candidate's band, -1 to 1.
    relative : float
        Similarity over the best at any longer lag: clearly below 1 where only a longer cycle repeats it all.
    share : float
        Share of the energy of accelerations at this period or faster.
    share_less, share_plain : float
        The same, weighted by one power of the frequency less, and unweighted.
    plain, relative_plain : float
        Similarity and relative similarity of the unweighted readings, where it may be a circle that carries others.
    """

    period: float
    similarity: float
    relative: float
    share: float
    share_less: float
    share_plain: float
    plain: float
    relative_plain: float


class PeriodAnalysis:
    """Spectrum of the readings, computed once to test many periods.

    Parameters
    ----------
    resampled : Resampled
    order : int
        Derivatives from the readings to an acceleration: 2 of positions, 1 of turning rates.
    """

    def __init__(self, resampled: Resampled, order: int) -> None:
        values, self.step, known = _thin(resampled)
        self.order = order
        active = _bridge(known, round(_STILL / self.step)) & find_active(values, self.step, order)
        kept = _shorten(active, round(_IDLE / self.step))
        self.time = resampled.start + self.step * np.flatnonzero(kept)
        self.signal = _fill(_prepare(values, active), active & ~known)[kept]
        self.duration = len(self.signal) * self.step
        self.spectrum = np.fft.rfft(self.signal, axis=0)
        self.power = np.asarray((np.abs(self.spectrum) ** 2).sum(axis=1))
        self.frequency = np.arange(self.power.size) / self.duration

    def propose(self, shortest: float, longest: float) -> list[float]:
        """Return candidate periods, ascending: peaks of the windowed autocorrelation, and spectral lines."""
        found: list[tuple[float, float]] = []
        derived = np.gradient(self.signal, axis=0)
        for signal in (self.signal, derived):
            for seconds in (*_WINDOWS, self.duration):
                if seconds > self.duration and seconds > _WINDOWS[0]:
                    continue
                similarity = _windowed(signal, round(min(seconds, self.duration) / self.step), longest / self.step)
                found += [(lag * self.step, high) for lag, high in _peaks(similarity)]
        weighted = self.power * self.frequency**self.order
        weighted[self.frequency > 1 / shortest] = 0
        weighted[self.frequency < 1 / longest] = 0
        for _ in range(4):
            at = int(weighted.argmax())
            if weighted[at] <= 0:
                break
            line = 1 / self.frequency[at]
            weighted[np.abs(self.frequency - self.frequency[at]) < max(0.1 / line, 2.5 / self.duration)] = 0
            found += [(float(many * line), 0.0) for many in (1, 2, 3)]
        return _merge([each for each in found if shortest <= each[0] <= longest])

    def test(self, period: float) -> Candidate:
        """Return the evidence for a period, refined to the lag of highest similarity."""
        turns = self.frequency * period
        inside = slice(0, int(np.searchsorted(turns, _BAND[1] * (1 + _BAND[2]))) + 1)
        turns = turns[inside]
        band = _soft(turns)
        weight = np.minimum(turns, _FLAT)
        size = find_fast_length(max(round(self.duration / period * _READINGS), 2 * turns.size))
        per_cycle = size * period / self.duration

        def measure(order: int) -> tuple[float, float, float]:
            readings = np.fft.irfft(self.spectrum[inside] * (band * weight**order)[:, None], size, axis=0)
            return _self_similarity(readings, per_cycle)

        similarity, best, relative = measure(self.order)
        power = self.power[inside]
        faster = turns >= _BAND[0]
        shares = []
        for order in (self.order, max(self.order - 1, 0), 0):
            each = power * weight ** (2 * order)
            shares.append(float(each[faster].sum() / max(each[1:].sum(), 1e-300)))
        is_carrier = self.order > 1 and shares[2] > _MAY_CARRY
        plain, _, relative_plain = measure(0) if is_carrier else (similarity, best, relative)
        return Candidate(
            float(period * best / per_cycle),
            similarity,
            relative,
            shares[0],
            shares[1],
            shares[2],
            plain,
            relative_plain,
        )

    def weighted(self, period: float, order: int) -> Floats:
        """Return the readings weighted by a power of frequency in a wide band around a period, shape (n, d)."""
        turns = self.frequency * period
        weight = np.minimum(turns, _FLAT) ** order * (turns > _WIDE[0]) * np.clip(_WIDE[1] - turns, 0, 1)
        return np.asarray(np.fft.irfft(self.spectrum * weight[:, None], len(self.signal), axis=0))


def find_candidates(analysis: PeriodAnalysis, shortest: float, longest: float) -> list[Candidate]:
    """Find the period candidates between two periods, the shortest first.

    Parameters
    ----------
    analysis : PeriodAnalysis
    shortest, longest : float
        Seconds.
    """
    found = [analysis.test(period) for period in analysis.propose(shortest, longest)]
    found = [candidate for candidate in found if shortest <= candidate.period <= longest and candidate.similarity > 0]
    kept: list[Candidate] = []
    for candidate in sorted(found, key=lambda each: -each.similarity):
        if all(abs(np.log(candidate.period / other.period)) > _SAME for other in kept):
            kept.append(candidate)
    return sorted(kept, key=lambda each: each.period)


def _thin(resampled: Resampled) -> tuple[Floats, float, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Downsample to the rate of the analysis by means of neighbours."""
    many = max(1, math.ceil(1 / (_RATE_HZ * resampled.step) - 1e-6))
    if many == 1:
        return resampled.values, resampled.step, resampled.known
    known = average(~resampled.known, many) == 0
    return average(resampled.values, many), resampled.step * many, known


def find_active(values: Floats, step: float, order: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Flag the readings during movement, by their smoothed speed.

    Parameters
    ----------
    values : numpy.ndarray, shape (n, d)
    step : float
        Seconds from a reading to the next.
    order : int
        As in :class:`PeriodAnalysis`; a constant turning rate is movement.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
        A still stretch shorter than a second is active.
    """
    long = max(3, round(_STILL / step))
    if len(values) < 6 * long:
        return np.ones(len(values), dtype=bool)
    calm = running_mean(values, max(1, round(_CALM / step)))
    changes = np.gradient(calm, axis=0) if order != 1 else calm
    speed = np.sqrt(np.maximum(running_mean((changes**2).sum(axis=1), long), 0))
    active = speed > _STILL_PART * np.quantile(speed, 0.8)
    opened = drop_runs(close_gaps(active, long), 3 * long // 2, at_ends=False)
    # the running mean begins half its length before the movement does
    for first, last in find_runs(~opened):
        opened[max(first - long // 2, 0) : last + long // 2] = False
    return opened


def _bridge(known: np.ndarray[tuple[int], np.dtype[np.bool_]], most: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Flag the readings that are known, or interpolated across a gap no longer than a number of readings."""
    out = known.copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[1], known.astype(np.int8), [1]]))).reshape(-1, 2)
    for first, last in edges:
        if last - first <= most:
            out[first:last] = True
    return out


def _shorten(
    active: np.ndarray[tuple[int], np.dtype[np.bool_]], most: int
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Flag the readings to keep so that no stretch without movement is longer than ``most``."""
    kept = np.ones(active.size, dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[1], active.astype(np.int8), [1]]))).reshape(-1, 2)
    for first, last in edges:
        kept[first + most : last] = False
    return kept


def _prepare(values: Floats, active: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Floats:
    """Detrend, clip spikes, and set rest and unknown readings to zero."""
    steps = np.arange(len(values)) - (len(values) - 1) / 2
    moving = values[active]
    if len(moving) < 4:
        moving, active = values, np.ones(len(values), dtype=bool)
    at = steps[active] - steps[active].mean()
    signal = values - moving.mean(axis=0)
    signal = signal - np.outer(steps - steps[active].mean(), at @ signal[active] / max(at @ at, 1))
    if np.abs(signal).max() <= _ROUNDED * np.abs(values).max():
        return np.zeros(signal.shape)  # a straight line: the residual is rounding
    limit = np.maximum(2.5 * np.quantile(np.abs(signal[active]), 0.9, axis=0), 1e-12)
    return np.asarray(np.clip(signal, -limit, limit) * active[:, None])


def _fill(signal: Floats, lost: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Floats:
    """Fill short gaps from the strongest spectral lines, more of them in every round.

    A straight line across a gap is slow: it takes energy from the cycle and gives it to a multiple of it.
    """
    if not lost.any() or lost.mean() > _MOST_LOST:
        return signal
    filled = np.where(lost[:, None], 0.0, signal)
    spectrum = np.fft.rfft(filled, axis=0)
    least = float(np.abs(spectrum).max())
    for _ in range(_FILLING[0]):
        least *= _FILLING[1]
        lines = np.where(np.abs(spectrum) > least, spectrum, 0)
        filled[lost] = np.fft.irfft(lines, len(signal), axis=0)[lost]
        spectrum = np.fft.rfft(filled, axis=0)
    return filled


def _windowed(signal: Floats, width: int, most: float) -> Floats:
    """Return the similarity at every lag, the mean over windows: 2 Σ x·y / Σ (x² + y²)."""
    n = len(signal)
    width = min(width, n)
    lags = int(min(most + 2, 0.6 * width))
    starts = np.unique(np.linspace(0, n - width, min(_MOST_WINDOWS, max(1, 2 * n // width - 1))).astype(int))
    windows = np.stack([signal[start : start + width] for start in starts])
    windows = windows - windows.mean(axis=1, keepdims=True)
    products = correlate(windows, windows, lags)
    energy = accumulate_energy(windows)
    lag = np.arange(lags + 1)
    both = energy[:, width - lag] + energy[:, [width]] - energy[:, lag]
    loud = energy[:, -1] > _QUIET * np.quantile(energy[:, -1], 0.8)
    return np.asarray((2 * products / np.maximum(both, 1e-300))[loud].mean(axis=0)) if loud.any() else np.zeros(3)


def _peaks(similarity: Floats) -> list[tuple[float, float]]:
    """Return lags and heights of the maxima, refined by a parabola."""
    if similarity.size < 3:
        return []
    inner = similarity[1:-1]
    at = np.flatnonzero((inner >= similarity[:-2]) & (inner > similarity[2:]) & (inner > 0.1)) + 1
    before, here, after = similarity[at - 1], similarity[at], similarity[at + 1]
    bend = before - 2 * here + after
    fine = at + np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1), 0)
    return list(zip(fine.tolist(), here.tolist(), strict=True))


def _merge(found: list[tuple[float, float]]) -> list[float]:
    """Merge neighbouring candidates into the highest."""
    kept: list[float] = []
    for period, _ in sorted(found, key=lambda each: -each[1]):
        if all(abs(np.log(period / other)) > _SAME for other in kept):
            kept.append(period)
    return sorted(kept)


def _soft(turns: Floats) -> Floats:
    """Return the gain of a pass band with cosine flanks."""
    up = np.clip((turns / _BAND[0] - 1) / (2 * _BAND[2]) + 0.5, 0, 1)
    down = np.clip((1 - turns / _BAND[1]) / (2 * _BAND[2]) + 0.5, 0, 1)
    return np.asarray(np.sin(np.pi / 2 * up) * np.sin(np.pi / 2 * down))


def _self_similarity(readings: Floats, per_cycle: float) -> tuple[float, float, float]:
    """Return similarity after a cycle, the lag of its maximum, and similarity relative to the best at longer lags."""
    n = len(readings)
    width = int(np.clip(n - 1.15 * per_cycle, 0.8 * per_cycle, _CYCLES * per_cycle))
    furthest = int(min((_BEYOND[1] + _OFF) * per_cycle, n - 0.8 * per_cycle))
    starts = np.unique(
        np.linspace(0, max(n - width - int((1 + _OFF) * per_cycle), 0), _MOST_WINDOWS if n > 8 * width else 16).astype(
            int
        )
    )
    padded = np.concatenate([readings, np.zeros((width + furthest + 1, readings.shape[1]))])
    windows = np.stack([padded[start : start + width + furthest] for start in starts])
    products = correlate(windows[:, :width], windows, furthest)
    energy = accumulate_energy(windows)
    lag = np.arange(furthest + 1)
    lag = lag[lag + width <= windows.shape[1]]
    second = energy[:, lag + width] - energy[:, lag]
    first = energy[:, [width]]
    reference = float(np.quantile(first, 0.8))
    whole = starts[:, None] + lag[None, :] + width <= n
    good = whole & (np.minimum(first, second) > _QUIET * reference)
    like = np.where(good, 2 * products[:, lag] / np.maximum(first + second, 1e-300), np.nan)
    near = (lag >= (1 - _OFF) * per_cycle) & (lag <= (1 + _OFF) * per_cycle)
    mine = like[:, near]
    kept = good[:, near].any(axis=1)
    if not kept.any():
        return 0.0, per_cycle, 0.0
    similarity = float(np.nanmax(mine[kept], axis=1).mean())
    seen = good[:, near]
    mean = np.where(seen, mine, 0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
    at = int(mean.argmax())
    if at in (0, mean.size - 1):
        return 0.0, per_cycle, 0.0  # the flank of another period's peak
    fine = float(lag[near][at])
    if 0 < at < mean.size - 1:
        bend = mean[at - 1] - 2 * mean[at] + mean[at + 1]
        fine += 0.5 * float(mean[at - 1] - mean[at + 1]) / float(bend) if bend < 0 else 0.0
    further = _best_beyond(like, lag, per_cycle)
    return similarity, fine, similarity / max(further, similarity, 1e-9) if further > 0 else 1.0


def _best_beyond(like: Floats, lag: Floats, per_cycle: float) -> float:
    """Return the best mean similarity at longer lags, each window at its own best lag nearby."""
    wide = 2 * int(_OFF * per_cycle) + 1
    filled = np.where(np.isnan(like), -2.0, like)
    around = np.pad(filled, ((0, 0), (wide // 2, wide // 2)), constant_values=-2.0)
    raised = _running_max(around, wide)
    beyond = lag > _BEYOND[0] * per_cycle + wide // 2
    seen = raised[:, beyond] > -1.5
    enough = seen.sum(axis=0) >= max(1, 0.3 * like.shape[0])
    if not enough.any():
        return 0.0
    means = np.where(seen, raised[:, beyond], 0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
    return float(means[enough].max())


def _running_max(rows: Floats, width: int) -> Floats:
    """Return the running maximum over a number of places from each on, by doubling windows."""
    out, wide = rows, 1
    while 2 * wide <= width:
        out = np.maximum(out[:, :-wide], out[:, wide:])
        wide *= 2
    rest = width - wide
    return out if not rest else np.maximum(out[:, :-rest], out[:, rest:])
