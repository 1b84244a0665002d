"""How long the beat may last at each moment: a comb over the local autocorrelation of the onsets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tempo_coach.music.features import FRAME_HZ

if TYPE_CHECKING:
    from tempo_coach.music.features import Curve, Rows
    from tempo_coach.times import Floats

#: Beats from 44 to 241 a minute, in frames of the features: what people still tap along to.
SHORTEST, LONGEST = 25, 136
#: Every interval that the decoder knows, in frames.
INTERVALS = np.arange(SHORTEST, LONGEST + 1)
#: Frames between two looks at the tempo: half a second.
LOOK_EVERY = 50
#: Frames that one look spans: 8 s, the shortest that holds three bars of a slow waltz.
_SPAN = 800
#: Multiples of the interval at which onsets are asked for, and half multiples at which they are not.
_TEETH = 4


def look_for_tempo(onset: Curve) -> Rows:
    """Return how well each interval explains the onsets around each look.

    Parameters
    ----------
    onset : (n,) float32
        At ``FRAME_HZ``.

    Returns
    -------
    numpy.ndarray, shape (looks, intervals), float32
        About -1 to 1; look k is centred on frame ``k · LOOK_EVERY``.
    """
    looks = len(onset) // LOOK_EVERY + 1
    padded = np.zeros(looks * LOOK_EVERY + 2 * _SPAN, dtype=np.float32)
    padded[_SPAN // 2 : _SPAN // 2 + len(onset)] = onset
    windows = sliding_window_view(padded, _SPAN)[::LOOK_EVERY][:looks]
    scores = np.empty((looks, len(INTERVALS)), dtype=np.float32)
    for start in range(0, looks, 256):
        scores[start : start + 256] = _comb(_autocorrelate(windows[start : start + 256]))
    return scores


def _autocorrelate(windows: Rows) -> Rows:
    """Return the autocorrelation of each window up to four of the longest intervals, 1 at lag 0."""
    shape = np.hanning(_SPAN).astype(np.float32)
    weighted = (windows - windows.mean(axis=1, keepdims=True)) * shape
    size = 2048
    power = np.abs(np.fft.rfft(weighted, size)) ** 2
    lagged = np.fft.irfft(power, size)[:, : _TEETH * LONGEST + _TEETH + 1]
    own = np.fft.irfft(np.abs(np.fft.rfft(shape, size)) ** 2, size)[: lagged.shape[1]]
    # Undone only in part: far lags rest on few frames.
    fair = np.maximum(own / own[0], 0.15)
    result: Rows = (lagged / np.maximum(lagged[:, :1], 1e-6) / fair).astype(np.float32)
    return result


def _comb(correlation: Rows) -> Rows:
    """Return the mean over multiples of each interval, less half the mean over the half multiples."""
    on = np.zeros((len(correlation), len(INTERVALS)), dtype=np.float32)
    off = np.zeros_like(on)
    for tooth in range(1, _TEETH + 1):
        reach = tooth // 2  # an interval is known to a frame, its multiples to that many
        nearby = correlation[:, INTERVALS * tooth].copy()
        for shift in range(-reach, reach + 1):
            np.maximum(nearby, correlation[:, INTERVALS * tooth + shift], out=nearby)
        on += nearby / _TEETH
        off += correlation[:, (INTERVALS * (2 * tooth - 1)) // 2] / _TEETH
    return on - np.float32(HALF_WEIGHT) * off


HALF_WEIGHT = 0.5
PRIOR_BPM = 110.0
PRIOR_OCTAVES = 0.7


def prefer_tempo(bpm: float | None) -> Floats:
    """Return how much each interval is preferred before anything is heard (natural logarithm, at most 0).

    Parameters
    ----------
    bpm : float or None
        A hint; without it people's preferred tempo.

    Returns
    -------
    numpy.ndarray, shape (intervals,)
    """
    tempi = 60.0 * FRAME_HZ / INTERVALS
    octaves = np.log2(tempi / (bpm or PRIOR_BPM))
    width = 0.12 if bpm else PRIOR_OCTAVES
    return -0.5 * (octaves / width) ** 2
