"""Alignment of the music on both sides of a joint: by how much one lags behind the other.

What begins, grows and fades around a count does so along the beat, and mostly in one rhythm: the lag at which the onset
strength of the two sides agrees best is that of their beats. One count may be played a little early, or not at all; all
that sounds around it seldom is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.times import Floats

#: Seconds on either side that are compared, the largest lag, and seconds between two frames.
_REACH, _MOST, _HOP = 1.2, 0.060, 0.002
#: Standard deviation of the lags (s) that counts have before anything is heard, and the correlation that one of so much
#: has to be better by, doubled. This, the reach and what follows were chosen on a pool of all 16 kinds of music.
_TYPICAL, _DOUBTED = 0.030, 0.04
#: Seconds of a spectrum, between two that are compared, and of the window that smooths the growth between them; bands.
_WINDOW, _LAG, _SMOOTH, _BANDS = 0.046, 0.030, 0.032, 40


class SidesMatch(NamedTuple):
    """The likeliest lag in seconds, positive where the second side is later, and the correlation at each lag.

    Correlations are -1 to 1, 0 in silence; their lags are even from ``-_MOST`` to ``_MOST``.
    """

    lag: float
    correlations: Floats

    def at(self, lag: float) -> float:
        """Return the correlation at a lag; beyond the largest one, the one there."""
        return float(np.interp(lag, np.linspace(-_MOST, _MOST, len(self.correlations)), self.correlations))


def match_sides(sound: Sound, left: float, right: float) -> SidesMatch:
    """Return the lag of the music around one instant behind that around another.

    Parameters
    ----------
    sound : Sound
    left, right : float
        Seconds of the music.

    Returns
    -------
    SidesMatch
        Within ``_MOST``. A large lag has to fit better than a small one.
    """
    one, other = (_strength(sound, at) for at in (left, right))
    most = round(_MOST / _HOP)
    weight = np.hanning(one.size - 2 * most + 2)[1:-1]
    middle = one[most : one.size - most]
    found = np.array([_correlate(middle, other[k : k + middle.size], weight) for k in range(2 * most + 1)])
    lags = _HOP * np.arange(-most, most + 1)
    likely = found - _DOUBTED * (lags / _TYPICAL) ** 2 / 2
    best = int(np.argmax(likely))
    part = 0.0
    if 0 < best < 2 * most:
        before, at, behind = likely[best - 1 : best + 2]
        bend = before - 2 * at + behind
        part = 0.5 * (before - behind) / bend if bend < 0 else 0.0
    return SidesMatch(float(lags[best] + part * _HOP), found)


def _correlate(one: Floats, other: Floats, weight: Floats) -> float:
    size = float(np.sqrt((weight * one * one).sum() * (weight * other * other).sum()))
    return float((weight * one * other).sum()) / size if size > 0 else 0.0


def _strength(sound: Sound, at: float) -> Floats:
    """Return the onset strength of each frame around an instant, less its mean."""
    window, hop, lag = round(_WINDOW * sound.rate_hz), _HOP * sound.rate_hz, round(_LAG / _HOP)
    frames = 2 * round((_REACH + _MOST) / _HOP) + 1
    first = round(at * sound.rate_hz - (frames - 1 + lag) / 2 * hop) - window // 2
    needed = round((frames - 1 + lag) * hop) + window + 1
    inside = sound.samples[max(0, first) : max(0, first + needed)].mean(axis=1, dtype=np.float32)
    samples = np.zeros(needed, np.float32)
    begin = max(0, -first)
    samples[begin : begin + inside.size] = inside
    starts = np.round(np.arange(frames + lag) * hop).astype(np.int64)
    spectra = np.abs(np.fft.rfft(sliding_window_view(samples, window)[starts] * np.hanning(window), axis=1))
    edges = np.unique(np.geomspace(2, spectra.shape[1] - 1, _BANDS).astype(int))
    bands = np.add.reduceat(spectra, edges, axis=1)
    level = float(bands.mean())
    if level <= 0:
        return np.zeros(frames)
    heard = np.log1p(5 * bands / level)
    growth = np.maximum(heard[lag:] - heard[:-lag], 0).sum(axis=1)
    smooth = np.hanning(round(_SMOOTH / _HOP) + 2)
    even = np.convolve(growth, smooth / smooth.sum(), mode="same")
    return np.asarray(even - even.mean(), dtype=np.float64)
