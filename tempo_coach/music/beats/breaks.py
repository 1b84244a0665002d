"""Breaks in the beats of music: silence, places at which it slows down, and joints of two pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tempo_coach.music.beats.features import FINE_HZ, find_magnitudes, hear_fine
from tempo_coach.music.files.sound import Sound, let_go, mix_down

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

#: Seconds of a level.
_FRAME = 0.025
#: Seconds on either side that say how loud the music is, and the share of their levels below that.
_AROUND, _LOUD = 4.0, 0.75
#: It is silent where it lies so far below that (dB), or below what anybody hears (dB of full scale), in so much of a
#: gap behind what rings of its last count (s, and its largest share of the gap).
_SILENT_DB, _NOTHING_DB, _MOSTLY, _RINGS, _RINGS_SHARE = -28.0, -90.0, 0.6, 0.7, 0.5


def is_silent(sound: Sound, start: float, end: float) -> bool:
    """Return whether the music is silent between two beats, the decay of the first one excluded."""
    rung = start + min(_RINGS, _RINGS_SHARE * (end - start))
    inside = _levels(sound, rung, end - 0.05)
    around = np.concatenate([_levels(sound, start - _AROUND, start + 0.1), _levels(sound, end, end + _AROUND)])
    if not inside.size or not around.size:
        return False
    loud = max(float(np.quantile(around, _LOUD)) + _SILENT_DB, _NOTHING_DB)
    return bool(np.mean(inside < loud) >= _MOSTLY)


def _levels(sound: Sound, start: float, end: float) -> Floats:
    """Return the levels of a stretch in dB, limited to the extent of the sound."""
    size = round(_FRAME * sound.rate_hz)
    part = sound.samples[max(0, round(start * sound.rate_hz)) : max(0, round(end * sound.rate_hz))]
    number = len(part) // size
    power = np.square(part[: number * size], dtype=np.float64).mean(axis=1).reshape(number, size).mean(axis=1)
    let_go(part)
    return np.asarray(10 * np.log10(power + 1e-12))


#: Ratio of neighbouring intervals at which music still slows; beyond, it waits.
_STEEPEST = 1.6
#: An attack belongs to a count within this share of its interval, and seconds that weigh it down by 40 %.
_NEAR, _FAVOURED = 0.22, 0.06
#: Share of its neighbours' attacks that attacks inside a gap have on average to be counts.
_STRONG = 0.3
#: Beats before a gap that say how it goes there, and by how much its last counts are longer than its first ones.
_BEFORE, _SLOWER = 8, 1.05


def find_slowing(sound: Sound, start: float, end: float, period: float) -> tuple[float, ...]:
    """Return the counts between two beats, each on its attack, if the music slows down there.

    Parameters
    ----------
    sound : Sound
    start, end : float
        Seconds of the two beats.
    period : float
        Seconds of a count before them.

    Returns
    -------
    tuple of float
        Seconds, ascending, between the two; empty where nothing is struck that counts that grow would fall on.
    """
    first = start - 4 * period
    last = end + 4 * period
    begin = max(0, round(first * sound.rate_hz))
    part = Sound(sound.samples[begin : round(last * sound.rate_hz)], sound.rate_hz)
    fine = hear_fine(part)
    times = begin / sound.rate_hz + np.arange(fine.size) / FINE_HZ
    typical = float(np.median([fine[np.abs(times - at) < 0.05].max(initial=0.0) for at in (start, end)]))
    if typical <= 0:
        return ()
    best: tuple[float, tuple[float, ...]] = (_STRONG, ())
    for number in range(2, round((end - start) / period) + 1):
        ratio = _ratio(number, (end - start) / period)
        if not 1.0 <= ratio <= _STEEPEST:
            continue
        steps = period * ratio ** np.arange(1, number + 1)
        steps *= (end - start) / steps.sum()
        found, strong = [], []
        for at, step in zip(start + np.cumsum(steps[:-1]), steps, strict=False):
            near = np.flatnonzero(np.abs(times - at) <= _NEAR * step)
            weighed = fine[near] * np.exp(-((times[near] - at) ** 2) / (2 * _FAVOURED**2))
            k = near[int(np.argmax(weighed))]
            found.append(float(times[k]))
            strong.append(min(1.0, float(weighed.max()) / typical))
        score = float(np.mean(strong))
        if score > best[0]:
            best = score, tuple(found)
    return best[1]


def period_before(times: Floats, beat: int) -> float:
    """Return the period before a beat, s: the last interval, clipped to 1 to 1.5 times the local median.

    Parameters
    ----------
    times : numpy.ndarray, shape (n,)
        Beats, s, ascending.
    """
    lengths = np.diff(times[max(0, beat - _BEFORE) : beat + 1])
    typical = float(np.median(lengths))
    return float(np.clip(lengths[-1], typical, 1.5 * typical))


def is_slower(start: float, inner: tuple[float, ...], end: float) -> bool:
    """Return whether the counts between two beats lengthen: the last ones at least 5 % longer than the first ones."""
    lengths = np.diff([start, *inner, end])
    half = max(1, lengths.size // 2)
    return bool(lengths[-half:].mean() > _SLOWER * lengths[:half].mean())


def _ratio(number: int, gap: float) -> float:
    """Return the ratio at which ``number`` intervals, growing from 1 on, add up to ``gap``."""
    low, high = 0.5, 3.0
    for _ in range(50):
        middle = (low + high) / 2
        total = float((middle ** np.arange(1, number + 1)).sum())
        low, high = (middle, high) if total < gap else (low, middle)
    return (low + high) / 2


#: Spectra a second, seconds of each, their bands and lowest frequency (Hz), and how many are heard at once.
_SPECTRA_HZ, _SPECTRUM, _BANDS, _LOWEST_HZ, _AT_ONCE = 50, 0.0464, 36, 65.0, 500
#: Seconds on either side of a place that are compared, what is left out next to it, and between two places.
_SIDE, _BESIDE, _PLACES = 1.8, 0.06, 0.05
#: A splice changes the sound so many times as much as places of this piece do by their median; within so many seconds
#: nothing changes it more. Beats on either side go evenly by this much, and are another tempo (log), or out of step
#: (share of a count), near a place that is doubtful anyway. Chosen on 28 pieces spliced of two and 28 whole ones,
#: so that it names few and hardly another place: 6 of the 28, and 2 others.
_CHANGES, _ALONE, _EVEN, _OTHER_TEMPO, _OUT_OF_STEP, _NEAR_DOUBT = 2.4, 1.0, 0.13, 0.08, 0.2, 1.3
#: Beats go on in another tempo from this change (log) on, where both sides are as steady as this share of a count: what
#: machines play. Of those pieces it finds two.
_STEP, _STEADY = 0.1, 0.03
#: Beats on either side that say how it goes there, the fewest of them, and seconds next to a splice that say nothing.
_BEATS, _FEWEST, _UNSURE = 6, 4, 0.15
#: Intervals from which a gap may be a rest.
_REST = 1.6
#: Seconds at either end of the music in which no splice is looked for.
_EDGE = 3.0


def find_splices(sound: Sound, times: Floats, doubted: Floats) -> tuple[float, ...]:
    """Return the places where two pieces of music seem to have been joined.

    It sounds another way and its beats do not go on, or steady beats go on in another tempo and out of step.

    Parameters
    ----------
    sound : Sound
    times, doubted : (n,) and (m,) arrays
        Seconds of the beats, and of places at which they are odd.

    Returns
    -------
    tuple of float
        Seconds, ascending.
    """
    found = [at for at in _find_stumps(times) if not _is_beside_silence(sound, times, at)]
    if not doubted.size:
        return tuple(found)
    places = np.arange(_EDGE, sound.duration - _EDGE, _PLACES)
    change = _find_changes(_hear_spectra(sound), places)
    heard = change[change > 0]
    if not heard.size:
        return tuple(found)
    least = _CHANGES * float(np.median(heard))
    reach = round(_ALONE / _PLACES)
    for k in np.flatnonzero(change > least):
        if change[k] < change[max(0, k - reach) : k + reach + 1].max():
            continue
        at = float(places[k])
        if _is_beside_silence(sound, times, at):
            continue
        near = bool((np.abs(doubted - at) < _NEAR_DOUBT).any())
        known = any(abs(at - other) < _NEAR_DOUBT for other in found)
        if near and not known and _goes_another_way(times, at):
            found.append(at)
    return tuple(sorted(found))


def _find_stumps(times: Floats) -> list[float]:
    """Return the beats after which a steady tempo continues out of step with the beats before."""
    found = []
    for k in range(_FEWEST - 1, times.size - _FEWEST):
        before, behind = np.diff(times[max(0, k - _BEATS + 1) : k + 1]), np.diff(times[k + 1 : k + 1 + _BEATS])
        periods = float(np.median(before)), float(np.median(behind))
        if abs(np.log(periods[1] / periods[0])) < _STEP:
            continue
        uneven = [
            max(float(np.median(np.abs(side - period))), abs(float(side[end]) - period) / 2) / period
            for side, period, end in zip((before, behind), periods, (-1, 0), strict=True)
        ]
        waits = (times[k + 1] - times[k]) / np.array(periods)
        if max(uneven) < _STEADY and np.abs(waits - np.round(waits)).min() > _OUT_OF_STEP:
            found.append(float(times[k + 1]))
    return found


def _is_beside_silence(sound: Sound, times: Floats, at: float) -> bool:
    """Return whether the music rests beside a place; after a rest any phase is legitimate."""
    inside = np.flatnonzero((times[1:] > at - _ALONE) & (times[:-1] < at + _ALONE))
    lengths = np.diff(times)
    typical = float(np.median(lengths)) if lengths.size else 0.0
    long = [k for k in inside if lengths[k] > _REST * typical]
    return any(is_silent(sound, float(times[k]), float(times[k + 1])) for k in long)


def _hear_spectra(sound: Sound) -> NDArray[np.float32]:
    """Return banded log spectra at ``_SPECTRA_HZ`` frames a second."""
    window = round(_SPECTRUM * sound.rate_hz)
    shape = np.hanning(window).astype(np.float32)
    edges = np.unique(np.geomspace(max(1.0, _LOWEST_HZ * _SPECTRUM), window // 2, _BANDS).astype(np.int64))
    starts = np.round(np.arange(int(sound.duration * _SPECTRA_HZ)) * sound.rate_hz / _SPECTRA_HZ).astype(np.int64)
    bands = np.zeros((starts.size, edges.size), np.float32)
    for k in range(0, starts.size, _AT_ONCE):
        some = starts[k : k + _AT_ONCE] - window // 2
        low, high = max(0, int(some[0])), int(some[-1]) + window
        mono = mix_down(sound.samples[low:high])
        mono = np.pad(mono, (low - int(some[0]), high - low - mono.size))
        frames = sliding_window_view(mono, window)[some - some[0]]
        bands[k : k + _AT_ONCE] = np.add.reduceat(find_magnitudes(frames * shape), edges, axis=1)
    least = np.float32(1e-3) * bands.mean(dtype=np.float64) + 1e-9 if bands.size else 1.0
    return np.asarray(np.log(bands + np.float32(least)), np.float32)


def _find_changes(spectra: NDArray[np.float32], places: Floats) -> Floats:
    """Return the distance between the mean spectra before and after each place; 0 where one side is too short."""
    total = np.concatenate([np.zeros((1, spectra.shape[1])), np.cumsum(spectra, axis=0, dtype=np.float64)])
    means, sizes = [], []
    for side in ((-_SIDE, -_BESIDE), (_BESIDE, _SIDE)):
        first, last = (
            np.clip(np.round((places + away) * _SPECTRA_HZ), 0, len(spectra)).astype(np.intp) for away in side
        )
        sizes.append(last - first)
        means.append((total[last] - total[first]) / np.maximum(last - first, 1)[:, None])
    apart = np.sqrt(np.mean(np.square(means[0] - means[1]), axis=1))
    return np.where(np.minimum(*sizes) < _SIDE * _SPECTRA_HZ / 2, 0.0, apart)


def _goes_another_way(times: Floats, at: float) -> bool:
    before = times[times < at - _UNSURE][-_BEATS:]
    behind = times[times > at + _UNSURE][:_BEATS]
    if min(before.size, behind.size) < _FEWEST:
        return False
    periods, steps = [], []
    for side, away in ((before, np.arange(before.size - 1, -1, -1)), (behind, -np.arange(behind.size))):
        lengths = np.diff(side)
        period = float(np.median(lengths))
        if float(np.median(np.abs(lengths - period))) >= _EVEN * period:
            return False
        periods.append(period)
        steps.append((at - float(np.median(side + period * away))) / period)
    apart = abs((steps[0] - steps[1] + 0.5) % 1 - 0.5)
    return abs(float(np.log(periods[1] / periods[0]))) > _OTHER_TEMPO or apart > _OUT_OF_STEP
