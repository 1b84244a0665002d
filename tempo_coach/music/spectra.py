"""What the network that hears beats is shown: the loudness-levelled music as spectra in bands of a semitone.

Two spectra a frame, on the frames of :mod:`tempo_coach.music.features`. Training and use go through the same functions.
"""

from __future__ import annotations

from functools import cache
from math import gcd
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.features import HEARD_HZ, HOP

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.music.features import Rows

WINDOWS = (2048, 1024)
"""Lengths of the two spectra: one tells pitches apart, the other tells moments apart."""

_BIN_HZ = HEARD_HZ / WINDOWS[0]
BANDS_HZ = np.unique(np.round(440.0 * 2.0 ** (np.arange(-47, 55) / 12.0) / _BIN_HZ)) * _BIN_HZ
"""The bands' centres: semitones from 30 Hz to 10 kHz, those alone that fall on different bins."""

_SILENT = 1e-6
_LOUD_RMS = 0.1  # the level that loud frames are brought to before the spectra are taken
_LOG_GAIN = 1000.0  # below a thousandth of full scale a band counts as quiet


def to_mono(samples: NDArray[np.floating], rate: int) -> Rows:
    """Return the samples as one channel at `HEARD_HZ`, float32.

    Parameters
    ----------
    samples : array, shape (n,) or (n, channels)
    rate : int
        In hertz.

    Returns
    -------
    array, shape (m,), float32
    """
    mono = np.asarray(samples, np.float32)
    if mono.ndim == 2:
        mono = mono.mean(axis=1, dtype=np.float32)
    if rate != HEARD_HZ:
        from scipy.signal import resample_poly

        common = gcd(rate, HEARD_HZ)
        mono = np.asarray(resample_poly(mono, HEARD_HZ // common, rate // common), np.float32)
    return mono


def find_scale(samples: NDArray[np.floating], rate: int = HEARD_HZ) -> float:
    """Return the factor that brings loud stretches of the music to one level; 1 for silence.

    Parameters
    ----------
    samples : array, shape (n,) or (n, channels)
    rate : int
        In hertz.

    Raises
    ------
    ValueError
        If a sample is not finite.
    """
    length = max(rate // 10, 1)
    power = []
    for start in range(0, len(samples), 600 * length):
        block = np.asarray(samples[start : start + 600 * length], np.float32)
        mono = block if block.ndim == 1 else block.mean(axis=1, dtype=np.float32)
        rows = np.pad(mono, (0, -len(mono) % length)).reshape(-1, length)
        power.append(np.einsum("ij,ij->i", rows, rows) / length)
    levels = np.concatenate(power)
    if not np.isfinite(levels).all():
        raise ValueError("expected finite samples")
    loud = float(np.sqrt(np.percentile(levels, 90)))
    if loud < _SILENT:
        loud = float(np.sqrt(levels.max()))
    return _LOUD_RMS / loud if loud > _SILENT else 1.0


def show(mono: Rows, scale: float, start: int, stop: int, *, skipped: int = 0) -> Rows:
    """Return the two banded log spectra of some frames.

    Parameters
    ----------
    mono : array, shape (n,), float32
        At `HEARD_HZ`, as :func:`to_mono` gives it.
    scale : float
        As :func:`find_scale` gives it.
    start, stop : int
        The first frame, and the one behind the last.
    skipped : int
        By how many samples `mono` begins after the music does.

    Returns
    -------
    array, shape (stop - start, bands, 2), float32
        From 0; silence lies around the music.
    """
    from scipy.fft import rfft

    half = WINDOWS[0] // 2
    low, high = start * HOP - half - skipped, (stop - 1) * HOP + half - skipped
    stretch = np.pad(mono[max(low, 0) : min(high, len(mono))], (max(-low, 0), max(high - len(mono), 0)))
    stretch = stretch * np.float32(scale)
    out = np.empty((stop - start, len(BANDS_HZ), 2), np.float32)
    for channel, length in enumerate(WINDOWS):
        window, filters = _filters(length)
        inside = stretch[half - length // 2 :]
        frames = np.lib.stride_tricks.sliding_window_view(inside, length)[::HOP][: stop - start]
        for block in range(0, stop - start, 1024):
            magnitude = np.abs(rfft(frames[block : block + 1024] * window, axis=1))
            out[block : block + 1024, :, channel] = magnitude @ filters
    return np.asarray(np.log10(1.0 + _LOG_GAIN * out), np.float32)


@cache
def _filters(length: int) -> tuple[Rows, Rows]:
    """Return a window and the triangles over its bins, shape (bins, bands), each summing to 1."""
    step = HEARD_HZ / length
    centre = BANDS_HZ
    below = np.maximum(np.diff(centre, prepend=centre[0] - step), step)
    above = np.maximum(np.diff(centre, append=centre[-1] * 2 ** (1 / 12)), step)
    offset = (np.arange(length // 2 + 1) * step)[:, None] - centre
    triangles = np.maximum(1.0 - np.where(offset < 0, -offset / below, offset / above), 0.0)
    window = np.hanning(length + 1)[:-1]
    triangles /= triangles.sum(axis=0) * window.sum()
    return window.astype(np.float32), triangles.astype(np.float32)
