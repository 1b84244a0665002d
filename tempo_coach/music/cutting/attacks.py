"""Attacks near a count, found to a millisecond: where a joint has to lie, whatever the count says."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.music.files.sound import Mono, Sound

#: Seconds on either side of a count in which its attack is looked for, and of the distance that costs 40 % of its
#: strength.
NEAR, _FAVOURED = 0.040, 0.030
#: Seconds of a window, between two of them, and by which two compared spectra are apart; bands of a spectrum.
_WINDOW, _HOP, _LAG, _BANDS = 0.023, 0.001, 0.012, 60
#: Seconds around the place with which an attack is compared, and how strong it has to be: a share of the strongest
#: there, and so many times the median. Chosen on pieces of all 16 kinds of music, which judge nothing.
_AROUND, _SHARE, _TIMES = 0.7, 0.20, 3.0
#: Counts on either side that say where one lies without an attack of its own, and weight of those without one either.
_NEIGHBOURS, _NOT_STRUCK = 4, 0.5


class Attack(NamedTuple):
    """An attack in seconds of the music, and whether it was heard (otherwise it is inferred from its neighbours)."""

    time: float
    heard: bool


class Peak(NamedTuple):
    """A possible attack: its time in seconds, and its strength as a share of the strongest around the count."""

    time: float
    strength: float


def find_attack(sound: Sound, counts: Sequence[float], place: int) -> Attack:
    """Return the attack of a count.

    Parameters
    ----------
    sound : Sound
    counts : sequence of float
        Seconds of successive counts.
    place : int
        Which of them is meant.

    Returns
    -------
    Attack
        Within ``NEAR`` of the count. Where nothing is struck there, it is where an even course of the counts around
        it would have it, each of them taken where it is struck.
    """
    own = _look(sound, counts[place])
    if own is not None:
        return Attack(own, heard=True)
    around = [k for k in range(place - _NEIGHBOURS, place + _NEIGHBOURS + 1) if 0 <= k < len(counts)]
    found = [_look(sound, counts[k]) if k != place else None for k in around]
    times = [counts[k] if each is None else each for k, each in zip(around, found, strict=True)]
    weights = [_NOT_STRUCK if each is None else 1.0 for each in found]
    if len(around) < 2 * _NEIGHBOURS - 1:  # at an end of the music, or beside a pause
        return Attack(counts[place], heard=False)
    steps = np.array(around) - place
    even = float(np.polyval(np.polyfit(steps, times, 1, w=weights), 0.0))
    return Attack(float(np.clip(even, max(0.0, counts[place] - NEAR), counts[place] + NEAR)), heard=False)


def find_peaks(sound: Sound, at: float) -> list[Peak]:
    """Return all that begins within ``NEAR`` of a time and is strong enough to be an attack, in order of time."""
    first = at - _AROUND
    flux = _flux(_part(sound, first, at + _AROUND), sound.rate_hz)
    times = first + (np.arange(flux.size) + 0.5) * _HOP
    strongest = float(flux.max(initial=0.0))
    least = max(_SHARE * strongest, _TIMES * float(np.median(flux)))
    found = []
    for k in np.flatnonzero(np.abs(times - at) <= NEAR):
        if 0 < k < flux.size - 1 and flux[k - 1] < flux[k] >= flux[k + 1] and flux[k] >= least:
            left, middle, right = flux[k - 1 : k + 2]
            bend = left - 2 * middle + right
            found.append(Peak(float(times[k] + 0.5 * _HOP * (left - right) / bend), float(middle / strongest)))
    return found


def _look(sound: Sound, at: float) -> float | None:
    """Return the attack near a time, or None."""
    peaks = find_peaks(sound, at)
    if not peaks:
        return None
    return max(peaks, key=lambda each: each.strength * np.exp(-((each.time - at) ** 2) / (2 * _FAVOURED**2))).time


def _part(sound: Sound, start: float, end: float) -> Mono:
    """Return a stretch, mono; silence outside the sound."""
    first, last = round(start * sound.rate_hz), round(end * sound.rate_hz)
    inside = sound.samples[max(0, first) : max(0, last)].mean(axis=1, dtype=np.float32)
    before = min(max(0, -first), last - first)
    whole = np.zeros(last - first, dtype=np.float32)
    whole[before : before + inside.size] = inside[: whole.size - before]
    return whole


def _flux(samples: Mono, rate_hz: int) -> NDArray[np.float64]:
    """Return the onset strength at each millisecond of a stretch: growth of the compressed spectrum over ``_LAG``."""
    window, hop = round(_WINDOW * rate_hz), _HOP * rate_hz
    lag = round(_LAG / _HOP)
    padded = np.pad(samples, (window, window))
    number = int(samples.size / hop)
    first = np.round((np.arange(-lag // 2, number + lag - lag // 2) + 0.5) * hop).astype(np.int64) + window // 2
    first = np.clip(first, 0, padded.size - window)
    frames = sliding_window_view(padded, window)[first]
    spectra = np.abs(np.fft.rfft(frames * np.hanning(window), axis=1))
    edges = np.unique(np.geomspace(2, spectra.shape[1] - 1, _BANDS).astype(int))
    bands = np.add.reduceat(spectra, edges, axis=1)
    heard = np.log1p(5 * bands / (float(bands.mean()) or 1.0))
    return np.asarray(np.maximum(heard[lag:] - heard[:-lag], 0).mean(axis=1)[:number], dtype=np.float64)
