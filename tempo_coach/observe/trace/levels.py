"""Levels of what repeats in a trace: every period that could be a cycle, each with its evidence.

Small circles lie in a rise and fall, a rise and fall in a bigger circle: a trace has several periods, and a single
autocorrelation does not say which of them is the cycle. So each candidate is looked at in its own band and asked three
things. Does the movement come again after it? Does it come again *better* after any longer time (three unequal
circles resemble one another, and are the same only after all three)? How much of the movement is slower than it, and
would be left out of such a cycle?
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Grid
    from tempo_coach.times import Floats

#: Readings a second that are looked at; a cycle of .14 s has 17.
_RATE_HZ = 120.0
#: Seconds of the windows in which candidates are looked for; a short one finds a period whose tempo changes.
_WINDOWS = (3.0, 8.0, 24.0)
_MOST_WINDOWS = 64
#: Candidates nearer than this are one.
_SAME = 0.06
#: Readings a cycle at which a candidate is tested, cycles a window, and how far off the best lag may be.
_READINGS, _CYCLES, _OFF = 32, 4.0, 0.14
#: Corners of a candidate's band in cycles a cycle, soft by the third figure's part.
_BAND = (0.72, 3.5, 0.17)
#: Corners of what the course of the period is followed in.
_WIDE = (0.3, 7.0)
#: Lags, in cycles, at which the movement may not come again better.
_BEYOND = (1.35, 6.6)
#: A reading weighs as its frequency up to this many cycles a cycle: above, noise would rule.
_FLAT = 1.35
#: Pairs of windows of which one has less than this part of the usual energy are not of one movement.
_QUIET = 0.12

#: Seconds for which readings must stay where they are to be still, the part of the usual change that is still, and
#: seconds over which noise is smoothed first.
_STILL, _STILL_PART, _CALM = 1.0, 0.15, 0.06
#: Share of the way from which a level of positions may carry others.
_MAY_CARRY = 0.8
#: What is left of readings when their slope is taken out, and is less than this part of them, was rounded off.
_ROUNDED = 1e-9
#: Seconds that are kept of a stretch without movement.
_IDLE = 4.0


@dataclass(frozen=True)
class Level:
    """One period at which something repeats, and its evidence.

    Parameters
    ----------
    period : float
        Seconds.
    likeness : float
        Of a cycle to the next in this level's own band, -1 to 1.
    own : float
        The likeness over the best one at any longer time: clearly below 1 where only a longer cycle repeats it all.
    share : float
        Of the movement's energy, weighted towards what turns fastest, that is no slower than this period.
    share_less, share_plain : float
        The same, weighted one order less, and not weighted.
    plain, own_plain : float
        Likeness and own likeness of the way itself, not weighted, where it may be a bigger circle that carries others.
    """

    period: float
    likeness: float
    own: float
    share: float
    share_less: float
    share_plain: float
    plain: float
    own_plain: float


class Movement:
    """The readings prepared once for the tests of many periods.

    Parameters
    ----------
    grid : Grid
    order : int
        How often the readings have to be derived to be an acceleration: 2 of positions, 1 of turning rates.
    """

    def __init__(self, grid: Grid, order: int) -> None:
        from scipy.fft import rfft

        values, self.step, known = _thin(grid)
        self.order = order
        active = _bridge(known, round(_STILL / self.step)) & find_active(values, self.step, order)
        kept = _shorten(active, round(_IDLE / self.step))
        self.time = grid.start + self.step * np.flatnonzero(kept)
        self.signal = _prepare(values, active)[kept]
        self.duration = len(self.signal) * self.step
        self.spectrum = rfft(self.signal, axis=0)
        self.power = np.asarray((np.abs(self.spectrum) ** 2).sum(axis=1))
        self.frequency = np.arange(self.power.size) / self.duration

    def candidates(self, shortest: float, longest: float) -> list[float]:
        """Return periods at which something may repeat, ascending: peaks of likeness in windows, and strong lines."""
        found: list[tuple[float, float]] = []
        derived = np.gradient(self.signal, axis=0)
        for signal in (self.signal, derived):
            for seconds in (*_WINDOWS, self.duration):
                if seconds > self.duration and seconds > _WINDOWS[0]:
                    continue
                likeness = _windowed(signal, round(min(seconds, self.duration) / self.step), longest / self.step)
                found += [(lag * self.step, high) for lag, high in _peaks(likeness)]
        weighted = self.power * self.frequency**self.order
        weighted[self.frequency > 1 / shortest] = 0
        weighted[self.frequency < 1 / longest] = 0
        for _ in range(4):
            at = int(weighted.argmax())
            if weighted[at] <= 0:
                break
            line = 1 / self.frequency[at]
            weighted[np.abs(self.frequency - self.frequency[at]) < max(0.1 / line, 2.5 / self.duration)] = 0
            found += [(many * line, 0.0) for many in (1, 2, 3)]
        return _merge([each for each in found if shortest <= each[0] <= longest])

    def test(self, period: float) -> Level:
        """Return the evidence for a period, which is refined by the lag that fits best."""
        from scipy.fft import irfft, next_fast_len

        turns = self.frequency * period
        inside = slice(0, int(np.searchsorted(turns, _BAND[1] * (1 + _BAND[2]))) + 1)
        turns = turns[inside]
        band = _soft(turns)
        weight = np.minimum(turns, _FLAT)
        size = next_fast_len(max(round(self.duration / period * _READINGS), 2 * turns.size), real=True)
        per_cycle = size * period / self.duration

        def come_again(order: int) -> tuple[float, float, float]:
            readings = irfft(self.spectrum[inside] * (band * weight**order)[:, None], size, axis=0)
            return _come_again(readings, per_cycle)

        likeness, best, own = come_again(self.order)
        power = self.power[inside]
        faster = turns >= _BAND[0]
        shares = []
        for order in (self.order, max(self.order - 1, 0), 0):
            each = power * weight ** (2 * order)
            shares.append(float(each[faster].sum() / max(each[1:].sum(), 1e-300)))
        carries = self.order > 1 and shares[2] > _MAY_CARRY
        plain, _, own_plain = come_again(0) if carries else (likeness, best, own)
        return Level(period * best / per_cycle, likeness, own, shares[0], shares[1], shares[2], plain, own_plain)

    def weighted(self, period: float, order: int) -> Floats:
        """Return the readings, shape (n, d), as they weigh in the choice of a period, in a wide band around it."""
        from scipy.fft import irfft

        turns = self.frequency * period
        weight = np.minimum(turns, _FLAT) ** order * (turns > _WIDE[0]) * np.clip(_WIDE[1] - turns, 0, 1)
        return np.asarray(irfft(self.spectrum * weight[:, None], len(self.signal), axis=0))


def find_levels(movement: Movement, shortest: float, longest: float) -> list[Level]:
    """Return every period that may repeat between two, the shortest first.

    Parameters
    ----------
    movement : Movement
    shortest, longest : float
        Seconds.
    """
    found = [movement.test(period) for period in movement.candidates(shortest, longest)]
    found = [level for level in found if shortest <= level.period <= longest and level.likeness > 0]
    kept: list[Level] = []
    for level in sorted(found, key=lambda each: -each.likeness):
        if all(abs(np.log(level.period / other.period)) > _SAME for other in kept):
            kept.append(level)
    return sorted(kept, key=lambda each: each.period)


def _thin(grid: Grid) -> tuple[Floats, float, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Fewer readings a second where there are more than are needed: means of neighbours."""
    many = max(1, int(1 / (_RATE_HZ * grid.step) + 1e-6))
    if many == 1:
        return grid.values, grid.step, grid.known
    n = len(grid.values) // many * many
    values = np.asarray(grid.values[:n].reshape(-1, many, grid.values.shape[1]).mean(axis=1))
    return values, grid.step * many, np.asarray(grid.known[:n].reshape(-1, many).min(axis=1), dtype=bool).ravel()


def find_active(values: Floats, step: float, order: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell where something moves at all: in a still start or end the readings stay where they are.

    Parameters
    ----------
    values : numpy.ndarray, shape (n, d)
    step : float
        Seconds from a reading to the next.
    order : int
        As in :class:`Movement`; a turning rate that stays where it is turns.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
        A still stretch shorter than a second is active.
    """
    from scipy.ndimage import binary_closing, binary_erosion, binary_opening, uniform_filter1d

    long = max(3, round(_STILL / step))
    if len(values) < 6 * long:
        return np.ones(len(values), dtype=bool)
    calm = uniform_filter1d(values, max(1, round(_CALM / step)), axis=0, mode="nearest")
    changes = np.gradient(calm, axis=0) if order != 1 else calm
    speed = np.sqrt(np.maximum(uniform_filter1d((changes**2).sum(axis=1), long, mode="nearest"), 0))
    active = speed > _STILL_PART * np.quantile(speed, 0.8)
    closed = binary_closing(np.pad(active, long, mode="edge"), np.ones(long, dtype=bool))[long:-long]
    opened = binary_opening(np.pad(closed, 2 * long, mode="edge"), np.ones(3 * long // 2, dtype=bool))[
        2 * long : -2 * long
    ]
    # the running mean begins half its length before the movement does
    return np.asarray(binary_erosion(opened, np.ones(2 * (long // 2) + 1, dtype=bool), border_value=1))


def _bridge(known: np.ndarray[tuple[int], np.dtype[np.bool_]], most: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell what is known or lies in a gap of at most so many readings, which what was drawn there may stand for."""
    out = known.copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[1], known.astype(np.int8), [1]]))).reshape(-1, 2)
    for first, last in edges:
        if last - first <= most:
            out[first:last] = True
    return out


def _shorten(
    active: np.ndarray[tuple[int], np.dtype[np.bool_]], most: int
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell what is kept where long stretches without movement are cut to ``most`` readings."""
    kept = np.ones(active.size, dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[1], active.astype(np.int8), [1]]))).reshape(-1, 2)
    for first, last in edges:
        kept[first + most : last] = False
    return kept


def _prepare(values: Floats, active: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Floats:
    """Take out the middle and the slope of the movement, cut back knocks, and what is still or not known."""
    steps = np.arange(len(values)) - (len(values) - 1) / 2
    moving = values[active]
    if len(moving) < 4:
        moving, active = values, np.ones(len(values), dtype=bool)
    at = steps[active] - steps[active].mean()
    signal = values - moving.mean(axis=0)
    signal = signal - np.outer(steps - steps[active].mean(), at @ signal[active] / max(at @ at, 1))
    if np.abs(signal).max() <= _ROUNDED * np.abs(values).max():
        return np.zeros(signal.shape)  # a straight line: what is left of it was rounded off
    limit = np.maximum(2.5 * np.quantile(np.abs(signal[active]), 0.9, axis=0), 1e-12)
    return np.asarray(np.clip(signal, -limit, limit) * active[:, None])


def _windowed(signal: Floats, width: int, most: float) -> Floats:
    """Likeness at every lag, the mean over windows: 2 Σ x·y / Σ (x² + y²)."""
    n = len(signal)
    width = min(width, n)
    lags = int(min(most + 2, 0.6 * width))
    starts = np.unique(np.linspace(0, n - width, min(_MOST_WINDOWS, max(1, 2 * n // width - 1))).astype(int))
    windows = np.stack([signal[start : start + width] for start in starts])
    windows = windows - windows.mean(axis=1, keepdims=True)
    products = _correlate(windows, windows, lags)
    energy = np.concatenate([np.zeros((starts.size, 1)), np.cumsum((windows**2).sum(axis=2), axis=1)], axis=1)
    lag = np.arange(lags + 1)
    both = energy[:, width - lag] + energy[:, [width]] - energy[:, lag]
    loud = energy[:, -1] > _QUIET * np.quantile(energy[:, -1], 0.8)
    return np.asarray((2 * products / np.maximum(both, 1e-300))[loud].mean(axis=0)) if loud.any() else np.zeros(3)


def _correlate(first: Floats, second: Floats, lags: int) -> Floats:
    """Σ first(t)·second(t + lag) over columns, a row a window, for the lags 0 to ``lags``."""
    from scipy.fft import irfft, next_fast_len, rfft

    size = next_fast_len(second.shape[1] + lags + 1, real=True)
    product = (rfft(first, size, axis=1).conj() * rfft(second, size, axis=1)).sum(axis=2)
    return np.asarray(irfft(product, size, axis=1)[:, : lags + 1])


def _peaks(likeness: Floats) -> list[tuple[float, float]]:
    """Lags and heights of the maxima, refined by a parabola."""
    if likeness.size < 3:
        return []
    inner = likeness[1:-1]
    at = np.flatnonzero((inner >= likeness[:-2]) & (inner > likeness[2:]) & (inner > 0.1)) + 1
    before, here, after = likeness[at - 1], likeness[at], likeness[at + 1]
    bend = before - 2 * here + after
    fine = at + np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1), 0)
    return list(zip(fine.tolist(), here.tolist(), strict=True))


def _merge(found: list[tuple[float, float]]) -> list[float]:
    """One candidate of those that lie near one another: the highest."""
    kept: list[float] = []
    for period, _ in sorted(found, key=lambda each: -each[1]):
        if all(abs(np.log(period / other)) > _SAME for other in kept):
            kept.append(period)
    return sorted(kept)


def _soft(turns: Floats) -> Floats:
    """A pass band with soft corners."""
    up = np.clip((turns / _BAND[0] - 1) / (2 * _BAND[2]) + 0.5, 0, 1)
    down = np.clip((1 - turns / _BAND[1]) / (2 * _BAND[2]) + 0.5, 0, 1)
    return np.asarray(np.sin(np.pi / 2 * up) * np.sin(np.pi / 2 * down))


def _come_again(readings: Floats, per_cycle: float) -> tuple[float, float, float]:
    """Return the likeness after a cycle, the lag that fits best, and that likeness over the best one further on."""
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
    products = _correlate(windows[:, :width], windows, furthest)
    energy = np.concatenate([np.zeros((starts.size, 1)), np.cumsum((windows**2).sum(axis=2), axis=1)], axis=1)
    lag = np.arange(furthest + 1)
    lag = lag[lag + width <= windows.shape[1]]
    second = energy[:, lag + width] - energy[:, lag]
    first = energy[:, [width]]
    usual = float(np.quantile(first, 0.8))
    whole = starts[:, None] + lag[None, :] + width <= n
    good = whole & (np.minimum(first, second) > _QUIET * usual)
    like = np.where(good, 2 * products[:, lag] / np.maximum(first + second, 1e-300), np.nan)
    near = (lag >= (1 - _OFF) * per_cycle) & (lag <= (1 + _OFF) * per_cycle)
    mine = like[:, near]
    kept = good[:, near].any(axis=1)
    if not kept.any():
        return 0.0, per_cycle, 0.0
    likeness = float(np.nanmax(mine[kept], axis=1).mean())
    seen = good[:, near]
    mean = np.where(seen, mine, 0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
    at = int(mean.argmax())
    if at in (0, mean.size - 1):
        return 0.0, per_cycle, 0.0  # it only leans on another period
    fine = float(lag[near][at])
    if 0 < at < mean.size - 1:
        bend = mean[at - 1] - 2 * mean[at] + mean[at + 1]
        fine += 0.5 * float(mean[at - 1] - mean[at + 1]) / float(bend) if bend < 0 else 0.0
    further = _best_beyond(like, lag, per_cycle)
    return likeness, fine, likeness / max(further, likeness, 1e-9) if further > 0 else 1.0


def _best_beyond(like: Floats, lag: Floats, per_cycle: float) -> float:
    """Return the best mean likeness at any longer time, each window at its own best lag nearby as for the cycle."""
    from scipy.ndimage import maximum_filter1d

    wide = 2 * int(_OFF * per_cycle) + 1
    filled = np.where(np.isnan(like), -2.0, like)
    raised = maximum_filter1d(filled, wide, axis=1, mode="nearest")
    beyond = lag > _BEYOND[0] * per_cycle + wide // 2
    seen = raised[:, beyond] > -1.5
    enough = seen.sum(axis=0) >= max(1, 0.3 * like.shape[0])
    if not enough.any():
        return 0.0
    means = np.where(seen, raised[:, beyond], 0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
    return float(means[enough].max())
