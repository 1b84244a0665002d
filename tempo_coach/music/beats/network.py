"""A small network for beats: spectra to the likelihood of a beat, a downbeat and each tempo, by frame."""

from __future__ import annotations

import zipfile
import zlib
from dataclasses import dataclass
from functools import cache, lru_cache
from math import gcd
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.features import HEARD_HZ, HOP, find_magnitudes
from tempo_coach.music.files.sound import mix_down, stretches

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from tempo_coach.music.beats.features import Matrix

WINDOWS = (2048, 1024)
"""Lengths of the two spectra: one tells pitches apart, the other tells moments apart."""

_BIN_HZ = HEARD_HZ / WINDOWS[0]
BANDS_HZ = np.unique(np.round(440.0 * 2.0 ** (np.arange(-47, 55) / 12.0) / _BIN_HZ)) * _BIN_HZ
"""The bands' centres: semitones from 30 Hz to 10 kHz, those alone that fall on different bins."""

_SILENT = 1e-6
_LOUD_RMS = 0.1  # the level that loud frames are brought to before the spectra are taken
_LOG_GAIN = 1000.0  # below a thousandth of full scale a band counts as quiet


def to_mono(samples: NDArray[np.floating], rate: int) -> Matrix:
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
        mono = mix_down(mono)
    if rate != HEARD_HZ:
        common = gcd(rate, HEARD_HZ)
        mono = _resample(mono, HEARD_HZ // common, rate // common)
    return mono


def _resample(samples: Matrix, up: int, down: int) -> Matrix:
    """Return samples resampled by ``up / down``, shape (ceil(n * up / down),).

    A Kaiser-windowed sinc (beta 5, ten samples of the slower rate to either side), the filter that scipy's
    ``resample_poly`` takes: equal to it within float32, without the second and a half that importing it takes.
    """
    slower = max(up, down)
    half = 10 * slower
    taps = np.sinc(np.arange(-half, half + 1) / slower) * np.kaiser(2 * half + 1, 5.0)
    taps = (taps * (up / taps.sum())).astype(np.float32)
    if up == 1:  # the common rate of 44.1 kHz: a plain filter of every ``down``-th sample, phase by phase
        return _decimate(samples, taps, down)
    # of ``up`` outputs each has taps of its own; so many of them at a time that their samples lie apart in memory
    support = half // up
    group = up * -(-(2 * support + 2) // down)
    step = group * down // up
    size = -(-len(samples) * up // down)
    rows = -(-size // group)
    padded = np.zeros((rows + 1) * step + 2 * support + 2, np.float32)
    padded[support : support + len(samples)] = samples
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * support + 2)
    out = np.empty((rows, group), np.float32)
    for place in range(group):
        first, phase = divmod(place * down, up)
        taken = half + phase - up * np.arange(-support, support + 2)
        own = np.where((taken >= 0) & (taken < len(taps)), taps[taken.clip(0, len(taps) - 1)], np.float32(0))
        out[:, place] = windows[first : first + rows * step : step] @ own
    return out.ravel()[:size]


def _decimate(samples: Matrix, taps: Matrix, down: int) -> Matrix:
    """Return every ``down``-th sample of the signal filtered by symmetric taps."""
    half = len(taps) // 2
    size = -(-len(samples) // down)
    padded = np.zeros((size + -(-len(taps) // down)) * down, np.float32)
    padded[half : half + len(samples)] = samples
    out = np.zeros(size, np.float32)
    for phase in range(down):
        own = taps[phase::down]
        out += np.convolve(padded[phase::down], own[::-1], mode="valid")[:size]
    return out


def find_scale(samples: NDArray[np.floating], rate: int = HEARD_HZ) -> float:
    """Return the factor that brings loud stretches of music to one level; 1 for silence.

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
    for stretch in stretches(samples, 600 * length):
        block = np.asarray(stretch, np.float32)
        mono = block if block.ndim == 1 else mix_down(block)
        rows = np.pad(mono, (0, -len(mono) % length)).reshape(-1, length)
        power.append(np.einsum("ij,ij->i", rows, rows) / length)
    levels = np.concatenate(power)
    if not np.isfinite(levels).all():
        raise ValueError("expected finite samples")
    loud = float(np.sqrt(np.percentile(levels, 90)))
    if loud < _SILENT:
        loud = float(np.sqrt(levels.max()))
    return _LOUD_RMS / loud if loud > _SILENT else 1.0


def show(mono: Matrix, scale: float, start: int, stop: int, *, skipped: int = 0) -> Matrix:
    """Return the two banded log spectra of a range of frames.

    Parameters
    ----------
    mono : array, shape (n,), float32
        At `HEARD_HZ`, as :func:`to_mono` gives it.
    scale : float
        As :func:`find_scale` gives it.
    start, stop : int
        The first frame, and the one after the last.
    skipped : int
        By how many samples `mono` begins after the music does.

    Returns
    -------
    array, shape (stop - start, bands, 2), float32
        From 0; silence lies around the music.
    """
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
            out[block : block + 1024, :, channel] = find_magnitudes(frames[block : block + 1024] * window) @ filters
    return np.asarray(np.log10(1.0 + _LOG_GAIN * out), np.float32)


@cache
def _filters(length: int) -> tuple[Matrix, Matrix]:
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


if TYPE_CHECKING:
    Array = NDArray[np.float32]

BLOCKS = 11
"""Residual blocks; block ``k`` looks ``2 * 2**k`` frames back and ahead."""

CONTEXT_FRAMES = 2 + 2 * (2**BLOCKS - 1)
"""Frames to either side that can change a frame's answer: 41 s."""

TEMPI = 40.0 * (250.0 / 40.0) ** (np.arange(90) / 89.0)
"""Tempo of each tempo class in beats a minute, 2 % apart."""

_ROUND, _ROUND_SECONDS = 2205, 22  # so many frames are a whole number of seconds
_LOOKED_AT = 500  # frames convolved at once: their memory is used again instead of asked for anew
_PIECE = 5 * _ROUND  # frames answered at once: 110 s, some 60 MB with what surrounds them
TONE_EVERY = 9
"""Frames between the rows of the chroma; a divisor of those that are answered at once."""

_TONES_HZ = (100.0, 5000.0)  # what is folded into one octave
_WEIGHTS = Path(__file__).parent / "weights" / "beats.npz"


@dataclass(frozen=True, eq=False)
class Activations:
    """The output of the network on the frames of :mod:`tempo_coach.music.beats.features`.

    Attributes
    ----------
    beat, downbeat, eight : ndarray, shape (n,)
        How likely a beat, the first beat of a bar, and the first of a count of eight, falls on the frame, 0 to 1: about
        1 at a beat, half of it one frame beside.
    tempo : ndarray, shape (n, 90)
        Probability of each tempo of `TEMPI` around the frame; each row sums to 1.
    tones : ndarray, shape (n // TONE_EVERY, 12), or None
        Chroma of the spectra that the network is shown.
    """

    beat: Array
    downbeat: Array
    eight: Array
    tempo: Array
    tones: Array | None = None


def hear(
    samples: NDArray[np.floating],
    rate_hz: float,
    *,
    weights: Path | None = None,
    progress: Callable[[float], None] | None = None,
) -> Activations:
    """Run the network over music of any length.

    Parameters
    ----------
    samples : ndarray, shape (n,) or (n, channels)
        Sound, full scale 1; its level does not matter.
    rate_hz : float
        Its sample rate.
    weights : Path or None
        Another file of weights.
    progress : callable or None
        Called with the part done, 0 to 1. Memory beyond the samples is bounded: the music is heard in pieces that
        overlap by all the frames that matter, so that the answer is that of the whole.

    Returns
    -------
    Activations

    Raises
    ------
    CoachError
        If the weights are missing or damaged.
    ValueError
        If there is no sample, or one is not finite.

    Examples
    --------
    >>> bool(hear(np.zeros(HEARD_HZ), HEARD_HZ).beat.max() < 0.2)
    True
    """
    network = load(weights)
    sound = np.asarray(samples)
    if sound.ndim not in (1, 2) or not len(sound):
        raise ValueError(f"expected samples of shape (n,) or (n, channels), got {sound.shape}")
    rate = round(rate_hz)
    scale = find_scale(sound, rate)
    frames = 1 + len(sound) * HEARD_HZ // (rate * HOP)
    beat = np.empty((frames, 3), np.float32)
    tempo = np.empty((frames, len(TEMPI)), np.float32)
    tones = np.empty((frames // TONE_EVERY, 12), np.float32)
    around = -(-CONTEXT_FRAMES // _ROUND) * _ROUND
    for start in range(0, frames, _PIECE):
        stop = min(start + _PIECE, frames)
        low, high = max(start - around, 0), min(stop + around, frames)
        first = max(low // _ROUND * _ROUND_SECONDS - 1, 0)  # a second to spare for the resampler and the windows
        mono = to_mono(sound[first * rate : (-(-high * HOP // HEARD_HZ) + 1) * rate], rate)
        shown = show(mono, scale, low, high, skipped=first * HEARD_HZ)
        tones[start // TONE_EVERY : stop // TONE_EVERY] = fold(shown[start - low : stop - low, :, 0])
        ones, tempi = run(network, shown)
        beat[start:stop] = ones[start - low : stop - low]
        tempo[start:stop] = tempi[start - low : stop - low]
        if progress is not None:
            progress(stop / frames)
    return Activations(beat[:, 0], beat[:, 1], beat[:, 2], tempo, tones)


def fold(spectra: Array) -> Array:
    """Return the chroma of log spectra: the mean magnitude of each of twelve semitones over octaves and frames.

    Parameters
    ----------
    spectra : array, shape (n, bands), float32
        As :func:`show` gives them, of the longer window.

    Returns
    -------
    array, shape (n // TONE_EVERY, 12), float32
    """
    rows = len(spectra) // TONE_EVERY
    hz = BANDS_HZ
    within = (hz >= _TONES_HZ[0]) & (hz <= _TONES_HZ[1])
    semitone = np.round(12 * np.log2(hz[within] / 440.0)).astype(np.intp) % 12
    octaves = (semitone[:, None] == np.arange(12)).astype(np.float32)
    mean = spectra[: rows * TONE_EVERY, within].reshape(rows, TONE_EVERY, len(semitone)).mean(axis=1)
    return np.asarray(np.expm1(mean * np.float32(np.log(10.0))) @ (octaves / octaves.sum(axis=0)), np.float32)


def run(network: dict[str, Array], heard: Array) -> tuple[Array, Array]:
    """Return beat, downbeat and eight, shape (n, 3), and the tempi, shape (n, 90), of spectra.

    Parameters
    ----------
    network : dict
        Weights by name, as :func:`load` gives them.
    heard : array, shape (n, bands, 2), float32
        As :func:`tempo_coach.music.beats.network.show` gives it.

    Returns
    -------
    beats : array, shape (n, 3)
        How likely a beat, a one and the first count of an eight is, 0 to 1.
    tempi : array, shape (n, 90)
        Probability of each of `TEMPI`; each row sums to 1.
    """
    x = np.concatenate([_look(network, heard, i) for i in range(0, len(heard), _LOOKED_AT)])
    for block in range(BLOCKS):
        step = 2**block
        padded = np.pad(x, ((2 * step, 2 * step), (0, 0)))
        around = np.concatenate([padded[k * step : k * step + len(x)] for k in range(5)], axis=1)
        inner = _elu(around @ network[f"block{block}.wide"] + network[f"block{block}.wide.bias"])
        x = x + inner @ network[f"block{block}.narrow"] + network[f"block{block}.narrow.bias"]
    x = _elu(x)
    beats = x @ network["beats"] + network["beats.bias"]
    tempi = x @ network["tempi"] + network["tempi.bias"]
    tempi = np.exp(tempi - tempi.max(axis=1, keepdims=True))
    return 1.0 / (1.0 + np.exp(-beats)), tempi / tempi.sum(axis=1, keepdims=True)


def _look(network: dict[str, Array], heard: Array, start: int) -> Array:
    """Run the two convolutions over a range of frames."""
    stop = min(start + _LOOKED_AT, len(heard))
    low, high = max(start - 2, 0), min(stop + 2, len(heard))
    x = np.pad(heard[low:high], ((2 - (start - low), 2 - (high - stop)), (0, 0), (0, 0)))
    x = _convolve(x, network["look0"], network["look0.bias"])
    outside = np.arange(start - 1, stop + 1)
    x[(outside < 0) | (outside >= len(heard))] = 0.0  # beyond the music the second convolution sees zeros
    x = _convolve(x, network["look1"], network["look1.bias"])
    return _elu(x.reshape(len(x), -1) @ network["join"] + network["join.bias"])


def _convolve(x: Array, kernel: Array, bias: Array) -> Array:
    """Convolve 3 x 3 (valid in time and same in frequency), apply the activation, and max-pool three bands into one."""
    frames, width = x.shape[0] - 2, x.shape[1]
    padded = np.pad(x, ((0, 0), (1, 1), (0, 0)))
    around = np.concatenate([padded[i : i + frames, j : j + width] for i in range(3) for j in range(3)], axis=2)
    out = around.reshape(frames * width, -1) @ kernel
    third = width // 3
    bands = out.reshape(frames, width, -1)[:, : 3 * third].reshape(frames, third, 3, -1)
    pooled = np.maximum(np.maximum(bands[:, :, 0], bands[:, :, 1]), bands[:, :, 2])  # some times faster than its max
    return _elu(pooled + bias)  # bending is monotone, so it may follow the maximum


def _elu(x: Array) -> Array:
    bent = np.minimum(x, 0)
    np.exp(bent, out=bent)
    bent -= np.float32(1)
    return np.maximum(bent, x, out=bent)  # below 0 the exponential lies above the line, above it is 0


def load(path: Path | None = None) -> dict[str, Array]:
    """Return the weights by name, read once.

    Raises
    ------
    CoachError
        If the file is missing or damaged.
    """
    return _read(_WEIGHTS if path is None else path)


@lru_cache(maxsize=2)
def _read(path: Path) -> dict[str, Array]:
    try:
        stored = {}
        with zipfile.ZipFile(path) as packed:
            for name in packed.namelist():
                with packed.open(name) as member:  # one that is left open keeps the file open after all
                    stored[name] = np.load(member, allow_pickle=False)
        weights = {name.removesuffix(".npy"): unpack(numbers) for name, numbers in stored.items()}
        run(weights, np.zeros((4, len(BANDS_HZ), 2), np.float32))  # whatever is missing or misshapen is met here
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile, zlib.error) as problem:
        raise CoachError("network.no_weights", where=str(path)) from problem
    return weights


def unpack(packed: NDArray[np.uint8]) -> Array:
    """Return float32 numbers from their three upper bytes, which make the file a quarter smaller.

    Parameters
    ----------
    packed : array of uint8, shape (..., 3)

    Returns
    -------
    array, shape (...), float32
    """
    whole = np.zeros((*packed.shape[:-1], 4), np.uint8)
    whole[..., 1:] = packed
    return np.ascontiguousarray(whole.view("<f4")[..., 0].astype(np.float32))
