"""Beats from taps along with the music, snapped to its clear onsets."""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.features import FINE_HZ, hear, moving_mean
from tempo_coach.music.files.sound import Sound

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from tempo_coach.music.beats.features import Curve
    from tempo_coach.times import Floats

#: Taps lead the beat by several tens of milliseconds (Aschersleben 2002); where the music cannot tell, by this (s).
TYPICAL_LEAD, LEAD_SPREAD = 0.025, 0.015
#: SD of a tap about its beat (s): 20 to 40 ms in the literature on tapping (Repp 2005, from memory).
TAP_SPREAD = 0.035
#: SD of an onset about its beat (s); the development set decided.
ONSET_SPREAD = 0.006
#: SD of an interval's change from the one before, as a part of it, from even to very free playing. The first is
#: taken that leaves the taps no more uneven about the beats than a hand is.
CHANGE_SPREADS = (0.02, 0.03, 0.045, 0.07)
#: Least clarity of an onset: its height over the local mean.
CLEAR_FROM = 2.5
#: Ratio of a gap to the local median interval below which one tap is missing; from it on it is a pause.
PAUSE_FROM = 2.6
#: Ratio of an interval to the local median below which one beat was tapped twice.
_DOUBLE = 0.45
#: Intervals on either side in the local median.
_AROUND = 4
#: Taps a second that no hand exceeds: ten are fast (common practice), and a key may bounce.
_FASTEST = 20.0
#: Window around a tap in which onsets are considered (s, either side).
_WINDOW = 0.12


class TapBeats(NamedTuple):
    """Beats found by tapping along.

    ``times`` (n,) s; ``tapped`` (n,) whether there was a tap; ``sure`` (n,) 0 to 1, how far an onset agrees;
    ``after_pause`` (n,) whether a pause comes before; ``lead`` (s) taken out.
    """

    times: Floats
    tapped: np.ndarray
    sure: Floats
    after_pause: np.ndarray
    lead: float


def follow_taps(taps: ArrayLike, fine: Curve, *, duration: float) -> TapBeats:
    """Return the beats meant by somebody who tapped along once.

    Parameters
    ----------
    taps : array_like, shape (m,)
        Seconds of the music, in any order.
    fine : (k,) float32
        Onset strength at ``FINE_HZ``.
    duration : float
        Length of the music in seconds.

    Returns
    -------
    Followed

    Raises
    ------
    CoachError
        If fewer than four taps lie inside the music, or more than a hand can do.
    """
    given = np.sort(np.asarray(taps, dtype=np.float64).ravel())
    if not np.isfinite(given).all():
        raise CoachError("taps.no_numbers", where="taps")
    given = given[(given >= 0) & (given <= duration)]
    if len(given) > _FASTEST * max(1.0, float(np.ptp(given)) if len(given) else 0.0):
        raise CoachError("taps.too_fast", where="taps", most_hz=_FASTEST, taps=len(given), span_s=np.ptp(given))
    single = _drop_doubles(given)
    if len(single) < 4:
        raise CoachError("taps.few", where="taps", taps=len(single))
    filled, tapped, after_pause = _fill_gaps(single)
    runs = np.split(np.arange(len(filled)), np.flatnonzero(after_pause)[np.flatnonzero(after_pause) > 0])
    onsets = _Onsets(fine)
    change, even = _even_out(filled, tapped, runs)
    lead = _find_lead(even, onsets)
    placed = [_settle(filled[run] + lead, tapped[run], even[run] + lead, onsets, change) for run in runs]
    times = np.concatenate([each[0] for each in placed])
    sure = np.concatenate([each[1] for each in placed])
    return TapBeats(np.clip(times, 0, duration), tapped, sure, after_pause, lead)


def median_intervals(times: Floats) -> Floats:
    """Return the median of the nine intervals around each interval.

    Parameters
    ----------
    times : array, shape (n,)
        Seconds, ascending.

    Returns
    -------
    array, shape (n - 1,)
        Seconds.
    """
    steps = np.diff(times)
    width = 2 * _AROUND + 1
    if len(steps) < width:
        return np.array([np.median(steps[max(0, k - _AROUND) : k + _AROUND + 1]) for k in range(len(steps))])
    ahead = [np.median(steps[: k + _AROUND + 1]) for k in range(_AROUND)]
    behind = [np.median(steps[k - _AROUND :]) for k in range(len(steps) - _AROUND, len(steps))]
    return np.concatenate([ahead, np.median(sliding_window_view(steps, width), axis=1), behind])


def _drop_doubles(times: Floats) -> Floats:
    """Drop double taps: of two on one beat, the one further from the middle of its neighbours.

    Pairs are taken in order of their interval over the local median, which a drop changes for its neighbours alone.
    """
    ratios = (np.diff(times) / np.maximum(median_intervals(times), 1e-9)).tolist()
    taps = _LinkedTaps(times.tolist())
    close = [(ratio, first) for first, ratio in enumerate(ratios) if ratio < _DOUBLE]
    heapify(close)
    while close and taps.count > 2:
        ratio, first = heappop(close)
        second = taps.after[first]
        if taps.gone[first] or second == len(times) or ratios[first] != ratio:
            continue  # it has changed since
        middle = (taps.time_before(first) + taps.time_after(second)) / 2
        goes = first if abs(taps.times[first] - middle) > abs(taps.times[second] - middle) else second
        for place in taps.take_out(goes):
            ratios[place] = taps.ratio(place)
            if ratios[place] < _DOUBLE:
                heappush(close, (ratios[place], place))
    kept: Floats = times[~np.array(taps.gone, dtype=bool)]
    return kept


class _LinkedTaps:
    """A doubly linked list of taps, from which taps are removed."""

    def __init__(self, times: list[float]) -> None:
        self.times = times
        self.count = len(times)
        self.gone = [False] * self.count
        self.before = list(range(-1, self.count - 1))
        self.after = list(range(1, self.count + 1))

    def time_before(self, tap: int) -> float:
        """Seconds of the previous tap, or of where it would be."""
        return self.times[self.before[tap]] if self.before[tap] >= 0 else self.times[tap] - self._median()

    def time_after(self, tap: int) -> float:
        """Seconds of the next tap, or of where it would be."""
        return self.times[self.after[tap]] if self.after[tap] < len(self.times) else self.times[tap] + self._median()

    def take_out(self, tap: int) -> list[int]:
        """Remove a tap, and return the taps whose interval now has another local median."""
        before, after = self.before[tap], self.after[tap]
        self.gone[tap] = True
        self.count -= 1
        if before >= 0:
            self.after[before] = after
        if after < len(self.times):
            self.before[after] = before
        start = before if before >= 0 else after
        return self._behind(self._back(start, _AROUND + 1), 2 * _AROUND + 3)

    def ratio(self, first: int) -> float:
        """Return the interval after a tap over the local median."""
        from statistics import median

        begin = self._back(first, _AROUND)
        row = self._behind(begin, 2 * _AROUND + 1)
        row = row[: row.index(first) + _AROUND + 1]
        steps = [self.times[self.after[tap]] - self.times[tap] for tap in row]
        return (self.times[self.after[first]] - self.times[first]) / max(median(steps), 1e-9)

    def _back(self, tap: int, many: int) -> int:
        for _ in range(many):
            if self.before[tap] < 0:
                break
            tap = self.before[tap]
        return tap

    def _behind(self, tap: int, many: int) -> list[int]:
        """Return up to a number of taps, from one on, that another one follows."""
        row: list[int] = []
        while len(row) < many and tap < len(self.times) and self.after[tap] < len(self.times):
            row.append(tap)
            tap = self.after[tap]
        return row

    def _median(self) -> float:
        return float(np.median(np.diff([time for time, gone in zip(self.times, self.gone, strict=True) if not gone])))


def _fill_gaps(times: Floats) -> tuple[Floats, np.ndarray, np.ndarray]:
    """Return times with missing taps interpolated, flags of those really tapped, and flags of those after a pause."""
    median_steps = median_intervals(times)
    filled, tapped, after_pause = [float(times[0])], [True], [True]
    for k, step in enumerate(np.diff(times)):
        ratio = step / median_steps[k]
        if 1.55 < ratio < PAUSE_FROM:
            filled.append(float(times[k] + step / 2))
            tapped.append(False)
            after_pause.append(False)
        filled.append(float(times[k + 1]))
        tapped.append(True)
        after_pause.append(bool(ratio >= PAUSE_FROM))
    return np.array(filled), np.array(tapped), np.array(after_pause)


def _even_out(filled: Floats, tapped: np.ndarray, runs: list[np.ndarray]) -> tuple[float, Floats]:
    """Return the SD of the tempo change whose residuals are those of a tapping hand, and the smoothed taps."""
    tap_weight = np.where(tapped, TAP_SPREAD**-2, 0.0)
    nothing = np.zeros(len(filled))
    for change in CHANGE_SPREADS:
        even = np.concatenate([_solve(filled[run], tap_weight[run], filled[run], nothing[run], change) for run in runs])
        if np.sqrt(np.mean((even - filled)[tapped] ** 2)) < TAP_SPREAD:
            break
    return change, even


def _solve(filled: Floats, tap_weight: Floats, onset: Floats, onset_weight: Floats, change: float) -> Floats:
    """Return the weighted least-squares times given taps, onsets, and second differences of 0 (a steady tempo)."""
    n = len(filled)
    if n < 3:
        total = tap_weight + onset_weight
        return np.where(total > 0, (tap_weight * filled + onset_weight * onset) / np.where(total > 0, total, 1), filled)
    from scipy.linalg import solveh_banded

    period = float(np.median(np.diff(filled)))
    # the normal equations of second differences have five diagonals: the upper three of them, the main one last
    bands = np.zeros((3, n))
    bands[0, 2:] = 1
    bands[1, 1:-1] -= 2
    bands[1, 2:] -= 2
    for first, share in ((0, 1.0), (1, 4.0), (2, 1.0)):
        bands[2, first : n - 2 + first] += share
    bands /= (change * period) ** 2
    bands[2] += tap_weight + onset_weight
    return np.asarray(solveh_banded(bands, tap_weight * filled + onset_weight * onset), dtype=np.float64)


class _Onsets:
    """Peaks of the onset strength: times, and clarity relative to the local mean."""

    def __init__(self, fine: Curve) -> None:
        smooth = fine.astype(np.float64)
        smooth[1:-1] = (smooth[:-2] + 2 * smooth[1:-1] + smooth[2:]) / 4
        level = moving_mean(fine, int(4 * FINE_HZ)) + 0.3 * float(fine.mean()) + 1e-9
        ratio = smooth / level
        peaks = np.flatnonzero((smooth[1:-1] > smooth[:-2]) & (smooth[1:-1] >= smooth[2:]) & (ratio[1:-1] > 1)) + 1
        before, here, after = smooth[peaks - 1], smooth[peaks], smooth[peaks + 1]
        self.times = (peaks + 0.5 * (before - after) / (before - 2 * here + after)) / FINE_HZ
        self.clear = ratio[peaks]

    def near(self, moments: Floats) -> tuple[NDArray[np.intp], Floats, Floats]:
        """Return the onsets in the window of each moment: the moment's index, their times and their clarity."""
        first = np.searchsorted(self.times, moments - _WINDOW)
        number = np.searchsorted(self.times, moments + _WINDOW) - first
        which = np.repeat(np.arange(len(moments)), number)
        place = np.arange(len(which)) + np.repeat(first - np.cumsum(number) + number, number)
        return which, self.times[place], self.clear[place]


def _find_lead(even: Floats, onsets: _Onsets) -> float:
    """Return the lead of the taps over the music: the maximum a posteriori of a kernel density of clear onsets."""
    leads = np.arange(-0.05, 0.121, 0.0025)
    score = -0.5 * ((leads - TYPICAL_LEAD) / LEAD_SPREAD) ** 2
    which, times, clear = onsets.near(even + TYPICAL_LEAD)
    late, weight = even[which] - times, _weight(clear)
    for k, lead in enumerate(leads):
        gathered = np.bincount(which, weight * np.exp(-0.5 * ((late + lead) / 0.02) ** 2), minlength=len(even))
        score[k] += np.log1p(gathered).sum() / 4
    return float(leads[score.argmax()])


def _weight(clear: Floats) -> Floats:
    """Return the weights of onsets by their clarity: little below 3, much above 6."""
    return np.asarray(np.maximum(clear - CLEAR_FROM, 0.0) ** 2 / 4)


def _settle(filled: Floats, tapped: np.ndarray, times: Floats, onsets: _Onsets, change: float) -> tuple[Floats, Floats]:
    """Return times moved onto onsets in narrowing windows (annealing), and the confidence of each."""
    tap_weight = np.where(tapped, TAP_SPREAD**-2, 0.0)
    sure = np.zeros(len(times))
    for spread in (0.035, 0.03, 0.025, 0.02, 0.016, 0.014, 0.012):
        which, near, clear = onsets.near(times)
        likely = _weight(clear) * np.exp(-0.5 * ((near - times[which]) / spread) ** 2)
        total = np.bincount(which, likely, minlength=len(times))
        drawn = np.bincount(which, likely * near, minlength=len(times)) / np.where(total > 0, total, 1)
        drawn = np.where(total > 0, drawn, times)
        sure = total / (1 + total)
        times = _solve(filled, tap_weight, drawn, sure * ONSET_SPREAD**-2, change)
    return times, sure


#: Seconds of music around the taps that are heard with them: the strength of onsets is told against four seconds.
AROUND = 4.0


class Tapped(NamedTuple):
    """``times`` (n,) of beats in seconds; ``pauses``: the last beat before and the first one after each."""

    times: Floats
    pauses: tuple[tuple[float, float], ...]


def place_taps(sound: Sound, taps: ArrayLike) -> Tapped:
    """Return the beats meant by tapping along to part of the music.

    Parameters
    ----------
    sound : Sound
        The whole of it.
    taps : array_like, shape (m,)
        Seconds of the music.

    Raises
    ------
    CoachError
        If fewer than four taps lie inside the music.
    """
    given = np.sort(np.asarray(taps, dtype=np.float64))
    begin = max(0.0, float(given.min(initial=np.inf)) - AROUND) if given.size else 0.0
    first = int(begin * sound.rate_hz)
    last = int((float(given.max(initial=0.0)) + AROUND) * sound.rate_hz)
    part = Sound(sound.samples[first : max(last, first + 1)], sound.rate_hz)
    offset = first / sound.rate_hz
    followed = follow_taps(given - offset, hear(part).fine, duration=part.duration)
    times = followed.times + offset
    breaks = np.flatnonzero(followed.after_pause[1:]) + 1
    return Tapped(times, tuple((float(times[k - 1]), float(times[k])) for k in breaks))
