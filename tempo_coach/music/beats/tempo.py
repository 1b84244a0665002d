"""Tempogram: a comb filter over the local autocorrelation of the onset strength, and the tempo prior."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tempo_coach.music.beats.features import FRAME_HZ

if TYPE_CHECKING:
    from tempo_coach.music.beats.features import Curve, Matrix
    from tempo_coach.times import Floats

#: Beats from 44 to 241 a minute, in frames of the features: what people still tap along to.
SHORTEST, LONGEST = 25, 136
#: Tempi that may be given as a hint (beats a minute).
HINTS_BPM = (40, 240)
#: Every interval that the decoder knows, in frames.
INTERVALS = np.arange(SHORTEST, LONGEST + 1)
#: Frames between two looks at the tempo: half a second.
LOOK_EVERY = 50
#: Frames that one look spans: 8 s, the shortest that holds three bars of a slow waltz.
_SPAN = 800
#: Teeth of the comb: multiples of the interval; the half multiples between them count against it.
_TEETH = 4
#: Weights of the halves and of the thirds between the multiples, and of the whole piece beside what is near; the
#: development set decided.
HALF_WEIGHT, THIRD_WEIGHT, WHOLE_WEIGHT = 0.35, 0.55, 0.6
#: Octaves about a hint within which every tempo is as good, since music bends, and the SD beyond; three halves of
#: the tempo are 0.58 octaves away.
HINT_WITHIN, HINT_OCTAVES = 0.1, 0.12


def look_for_tempo(onset: Curve) -> Matrix:
    """Compute the tempogram.

    Parameters
    ----------
    onset : (n,) float32
        Onset strength at ``FRAME_HZ``.

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
    scores += np.float32(WHOLE_WEIGHT) * scores.mean(axis=0)
    return scores


def _autocorrelate(windows: Matrix) -> Matrix:
    """Return the autocorrelation of each window up to four of the longest intervals, normalised to 1 at lag 0."""
    shape = np.hanning(_SPAN).astype(np.float32)
    weighted = (windows - windows.mean(axis=1, keepdims=True)) * shape
    size = 2048
    power = np.abs(np.fft.rfft(weighted, size)) ** 2
    lagged = np.fft.irfft(power, size)[:, : _TEETH * LONGEST + _TEETH + 1]
    own = np.fft.irfft(np.abs(np.fft.rfft(shape, size)) ** 2, size)[: lagged.shape[1]]
    # The bias of the window is undone in part only: long lags rest on few frames.
    fair = np.maximum(own / own[0], 0.15)
    result: Matrix = (lagged / np.maximum(lagged[:, :1], 1e-6) / fair).astype(np.float32)
    return result


def _comb(correlation: Matrix) -> Matrix:
    """Return the mean over multiples of each interval, less weighted means over the halves and thirds between.

    Halves and thirds tell the beat from the bar: within a bar taken for one beat, the onsets between are as strong.
    """
    on = np.zeros((len(correlation), len(INTERVALS)), dtype=np.float32)
    halves, thirds = np.zeros_like(on), np.zeros_like(on)
    for tooth in range(1, _TEETH + 1):
        slack = tooth // 2  # an interval is known to a frame, its multiples to that many
        nearby = correlation[:, INTERVALS * tooth].copy()
        for shift in range(-slack, slack + 1):
            np.maximum(nearby, correlation[:, INTERVALS * tooth + shift], out=nearby)
        on += nearby
        halves += correlation[:, (INTERVALS * (2 * tooth - 1)) // 2]
        for third in (3 * tooth - 2, 3 * tooth - 1):
            thirds += correlation[:, (INTERVALS * third + 1) // 3] / 2
    comb: Matrix = (on - HALF_WEIGHT * halves - THIRD_WEIGHT * thirds) / np.float32(_TEETH)
    return comb


def make_tempo_prior(hint_bpm: float | None, *, prior_bpm: float, octaves: float) -> Floats:
    """Return the log prior of each interval: normal in octaves, flat around a hint.

    Parameters
    ----------
    hint_bpm : float or None
        A tempo that is right within 6 %.
    prior_bpm, octaves : float
        Median and SD of the prior without a hint.

    Returns
    -------
    numpy.ndarray, shape (intervals,)
    """
    tempi = 60.0 * FRAME_HZ / INTERVALS
    distance = np.abs(np.log2(tempi / (hint_bpm or prior_bpm)))
    if hint_bpm:
        return -0.5 * (np.maximum(distance - HINT_WITHIN, 0) / HINT_OCTAVES) ** 2
    return -0.5 * (distance / octaves) ** 2


def rest_on_hint(tempo: Matrix, hint_bpm: float) -> Matrix:
    """Return a tempogram raised so that, look by look, the best interval near a hint scores 0 or more.

    A rest scores 0; where all evidence lies far below that at the hinted level, resting would win everywhere.

    Parameters
    ----------
    tempo : (looks, intervals) float32
        Evidence for each interval.
    hint_bpm : float
        A tempo that is right within 6 %.
    """
    near = np.abs(np.log2(60.0 * FRAME_HZ / INTERVALS / hint_bpm)) <= HINT_WITHIN
    if not near.any():
        near[np.abs(60.0 * FRAME_HZ / INTERVALS - hint_bpm).argmin()] = True
    raised: Matrix = tempo - np.minimum(tempo[:, near].max(axis=1, keepdims=True), 0)
    return raised
