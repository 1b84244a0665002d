"""Features of the samples: onset strength by band, chroma, and the one curve that beats are decoded from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from tempo_coach.music.files.sound import mix_down, stretches

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.music.files.sound import Mono, Sound

Curve = NDArray[np.float32]
Matrix = NDArray[np.float32]

#: Everything is heard at this rate; what lies above 11 kHz says nothing about beats that the rest does not.
HEARD_HZ = 22_050
#: Samples between frames: 9.98 ms.
HOP = 220
#: Frames a second.
FRAME_HZ = HEARD_HZ / HOP
#: Samples between the points of the fine curve: 2.27 ms, so that a beat is placed far better than a frame.
FINE_HOP = 50
FINE_HZ = HEARD_HZ / FINE_HOP
#: Seconds heard at a time: a whole number of frames and of fine points (22 s is the smallest such stretch).
_BLOCK = 44
#: Seconds heard before and after a block for its windows and the resampler.
_MARGIN = 1
_WINDOW, _FINE_WINDOW, _TONE_WINDOW = 1024, 256, 4096
#: Frames between two spectra that are compared: half a window, as in Böck and Widmer 2013 (from memory).
_LAG = 2
#: Frames between the rows of the chroma.
TONE_EVERY = 10
#: Frames of context before and after a block that the slowest curve needs.
_BEFORE, _AFTER = 7, 7


@dataclass(frozen=True, eq=False)
class Features:
    """Curves of features over the whole sound.

    Parameters
    ----------
    onset : (n, 3) float32
        Spectral flux of low (below 200 Hz), middle and high (above 2 kHz) bands, at ``FRAME_HZ``.
    swell : (n,) float32
        Spectral flux over a tenth of a second, for soft onsets.
    fine : (m,) float32
        Spectral flux at ``FINE_HZ``, for refinement.
    tones : (n // 10, 12) float32
        Chroma, every ten frames.
    duration : float
        Length of the sound in seconds.
    """

    onset: Matrix
    swell: Curve
    fine: Curve
    tones: Matrix
    duration: float


def hear_fine(sound: Sound, *, progress: Callable[[float], None] | None = None) -> Curve:
    """Return the onset strength at ``FINE_HZ`` alone, all that is needed beside the network.

    Parameters
    ----------
    sound : Sound
    progress : callable or None
        Is given the part that is done, 0 to 1, after each block.

    Returns
    -------
    numpy.ndarray, shape (m,), float32
    """
    level = _level(sound)
    parts = [_hear_fine_block(_scale(block, level)) for block in _blocks(sound, progress)]
    return np.concatenate(parts)[: int(sound.duration * FINE_HZ) + 1]


def hear(sound: Sound, *, progress: Callable[[float], None] | None = None) -> Features:
    """Return the curves of features of a sound.

    Parameters
    ----------
    sound : Sound
    progress : callable or None
        Is given the part that is done, 0 to 1, after each block.

    Returns
    -------
    Features
    """
    level = _level(sound)
    parts = [_hear_block(block, level) for block in _blocks(sound, progress)]
    onset, swell, fine, tones = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    frames = int(sound.duration * FRAME_HZ) + 1
    return Features(
        onset[:frames],
        swell[:frames],
        fine[: int(sound.duration * FINE_HZ) + 1],
        tones[: frames // TONE_EVERY + 1],
        sound.duration,
    )


def _blocks(sound: Sound, progress: Callable[[float], None] | None) -> Iterator[Mono]:
    """Yield the stretches that are analysed one after the other, and report each one when it is done."""
    number = max(1, int(np.ceil(sound.duration / _BLOCK)))
    for block in range(number):
        yield _slice(sound, block * _BLOCK)
        if progress is not None:
            progress((block + 1) / number)


def _level(sound: Sound) -> float:
    """Return the root mean square of the loudest 5 s of the sound, so that silence does not count."""
    step = 5 * sound.rate_hz
    loudest = 0.0
    for stretch in stretches(sound.samples, step):
        part = stretch.ravel()
        loudest = max(loudest, float(np.dot(part, part)) / part.size)
    return float(np.sqrt(loudest))


def _slice(sound: Sound, start: int) -> Mono:
    """Return one block with its margins, mono, at ``HEARD_HZ``; zeros before the beginning and after the end."""
    import soxr  # type: ignore[import-untyped, unused-ignore]  # it ships no types

    first, last = start - _MARGIN, start + _BLOCK + _MARGIN
    part = mix_down(sound.samples[max(0, first) * sound.rate_hz : last * sound.rate_hz])
    if sound.rate_hz != HEARD_HZ:
        part = soxr.resample(part, sound.rate_hz, HEARD_HZ, quality="MQ")
    whole = np.zeros((_BLOCK + 2 * _MARGIN) * HEARD_HZ, dtype=np.float32)
    place = _MARGIN * HEARD_HZ if first < 0 else 0
    part = part[: whole.size - place]
    whole[place : place + part.size] = part
    return whole


def _hear_block(samples: Mono, level: float) -> tuple[Matrix, Curve, Curve, Matrix]:
    scaled = _scale(samples, level)
    frames = _BLOCK * HEARD_HZ // HOP
    spectra: Matrix = _compress(_spectra(scaled, _WINDOW, HOP, -_BEFORE, frames + _AFTER), _BANDS)
    now = spectra[_BEFORE:-_AFTER]
    growth = np.maximum(now - _widest(spectra[_BEFORE - _LAG : -_AFTER - _LAG]), 0)
    low, high = _SPLITS
    onset = np.stack(
        [growth[:, :low].mean(axis=1), growth[:, low:high].mean(axis=1), growth[:, high:].mean(axis=1)], axis=1
    )
    smooth = np.mean([spectra[k : len(spectra) - 4 + k] for k in range(5)], axis=0)
    swell = np.maximum(smooth[10:] - _widest(smooth[:-10]), 0)  # row k compares the five frames around k and k + 10
    tones = _tones(_spectra(scaled, _TONE_WINDOW, HOP * TONE_EVERY, 0, _BLOCK * HEARD_HZ // HOP // TONE_EVERY))
    return onset, swell.mean(axis=1), _hear_fine_block(scaled), tones


def _scale(samples: Mono, level: float) -> Mono:
    return samples / np.float32(level) if level > 0 else samples


def _hear_fine_block(scaled: Mono) -> Curve:
    spectra = _compress(_spectra(scaled, _FINE_WINDOW, FINE_HOP, -4, _BLOCK * HEARD_HZ // FINE_HOP), _FINE_BANDS)
    fine: Curve = np.maximum(spectra[4:] - spectra[:-4], 0).mean(axis=1)
    return fine


#: Frames whose spectra are taken at once: few enough that their memory is used again instead of asked for anew.
_AT_ONCE = 2048


def _spectra(samples: Mono, window: int, hop: int, first: int, end: int) -> Matrix:
    """Return the magnitudes of frames ``first`` to ``end - 1``; frame k is centred k hops after the block's start."""
    start = _MARGIN * HEARD_HZ + first * hop - window // 2
    frames = sliding_window_view(samples, window)[start : start + (end - first) * hop : hop]
    shape = np.hanning(window + 1)[:-1].astype(np.float32)
    shape *= 2 / shape.sum()
    magnitudes = np.empty((len(frames), window // 2 + 1), np.float32)
    for block in range(0, len(frames), _AT_ONCE):
        magnitudes[block : block + _AT_ONCE] = find_magnitudes(frames[block : block + _AT_ONCE] * shape)
    return magnitudes


def find_magnitudes(frames: Matrix) -> Matrix:
    """Return the magnitudes of the spectra of windowed frames, several times faster than ``abs``.

    Parameters
    ----------
    frames : array, shape (n, window), float32
    """
    spectra = np.fft.rfft(frames, axis=1)
    power = np.square(spectra.real)
    power += np.square(spectra.imag)
    magnitudes: Matrix = np.sqrt(power, out=power)
    return magnitudes


def _triangles(window: int, per_octave: int, lowest_hz: float, highest_hz: float) -> tuple[Matrix, Curve]:
    """Return filters, shape (bins, bands), evenly spaced in pitch, none narrower than a bin, and their centres (Hz)."""
    bin_hz = HEARD_HZ / window
    number = int(per_octave * np.log2(highest_hz / lowest_hz))
    centres = np.unique(np.round(lowest_hz * 2 ** (np.arange(number) / per_octave) / bin_hz)) * bin_hz
    edges = np.concatenate([[centres[0] - bin_hz], centres, [2 * centres[-1] - centres[-2]]])
    bins = np.arange(window // 2 + 1)[:, None] * bin_hz
    rising = (bins - edges[:-2]) / np.diff(edges)[:-1]
    falling = (edges[2:] - bins) / np.diff(edges)[1:]
    return np.maximum(0, np.minimum(rising, falling)).astype(np.float32), centres.astype(np.float32)


_BANDS, _CENTRES_HZ = _triangles(_WINDOW, 12, 40, 10_000)
_FINE_BANDS, _ = _triangles(_FINE_WINDOW, 6, 90, 10_000)
_SPLITS = (int(np.searchsorted(_CENTRES_HZ, 200)), int(np.searchsorted(_CENTRES_HZ, 2000)))
#: How far the spectrum is compressed: tones 40 dB below the level still count, its noise does not.
_COMPRESSION = 100


def _compress(magnitudes: Matrix, filters: Matrix) -> Matrix:
    compressed: Matrix = np.log1p(_COMPRESSION * (magnitudes @ filters))
    return compressed


def _widest(spectra: Matrix) -> Matrix:
    """Return the maximum over each band and its neighbours, so that vibrato is no flux (Böck and Widmer 2013)."""
    wide = spectra.copy()
    np.maximum(wide[:, 1:], spectra[:, :-1], out=wide[:, 1:])
    np.maximum(wide[:, :-1], spectra[:, 1:], out=wide[:, :-1])
    return wide


def _tones(magnitudes: Matrix) -> Matrix:
    """Return the chroma of 100 Hz to 2 kHz (A is 9), shape (n, 12)."""
    bins_hz = np.arange(1, magnitudes.shape[1]) * HEARD_HZ / _TONE_WINDOW
    tone = np.round(12 * np.log2(bins_hz / 440) + 9).astype(int) % 12
    heard = (bins_hz > 100) & (bins_hz < 2000)
    filters = np.zeros((magnitudes.shape[1], 12), dtype=np.float32)
    filters[1:][heard, tone[heard]] = 1
    strengths: Matrix = np.log1p(_COMPRESSION / 4 * (magnitudes @ filters))
    return strengths


#: Window of the adaptive normalisation, in frames: 9 s. Tuned on the development set, like the other numbers here.
_BASELINE_FRAMES = 900
#: Least local mean and SD, relative to those of the whole piece: the noise of a pause is not blown up.
_MEAN_FLOOR, _SD_FLOOR = 0.2, 0.15
#: Largest onset strength, in SDs: one crash must not outweigh a bar.
_CEILING = 7.0


def beat_strength(features: Features) -> Curve:
    """Return the onset strength by frame, normalised by local mean and SD.

    Parameters
    ----------
    features : Features

    Returns
    -------
    numpy.ndarray, shape (n,), float32
        Mean about 0, SD about 1; -1 to 7.
    """
    total = np.zeros(len(features.swell), dtype=np.float32)
    for curve in (*features.onset.T, features.swell):
        whole = float(curve.mean())
        if whole > 0:
            total += curve / (moving_mean(curve, _BASELINE_FRAMES) + _MEAN_FLOOR * whole)
    smooth = total.copy()
    smooth[1:] += total[:-1] / 2
    smooth[:-1] += total[1:] / 2
    growth = np.sqrt(smooth)
    mean = moving_mean(growth, _BASELINE_FRAMES)
    spread = np.sqrt(np.maximum(moving_mean(growth**2, _BASELINE_FRAMES) - mean**2, 0)) + _SD_FLOOR * growth.std()
    strength: Curve = np.clip((growth - mean) / np.maximum(spread, 1e-6), -1, _CEILING)
    return strength


def moving_mean(curve: Curve, width: int) -> Curve:
    """Return the centred moving mean, over shorter windows at the ends, shape (n,).

    Parameters
    ----------
    curve : array, shape (n,), float32
    width : int
        Values over which the mean is taken; an even width takes one more.
    """
    total = np.concatenate([[0.0], np.cumsum(curve, dtype=np.float64)])
    places = np.arange(len(curve))
    first = np.maximum(places - width // 2, 0)
    last = np.minimum(places + width // 2 + 1, len(curve))
    mean: Curve = ((total[last] - total[first]) / (last - first)).astype(np.float32)
    return mean
