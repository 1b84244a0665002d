"""Onset detection in recordings: contacts of a rope, claps, steps, and the perceptual onsets of syllables."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.observe.sound.residual import RATE_HZ, remove_played

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.music.files.sound import Sound
    from tempo_coach.observe.observers import SoundProfile
    from tempo_coach.observe.sound.kinds import Detector
    from tempo_coach.observe.sound.residual import Residual, Wave
    from tempo_coach.observe.take.clock import ClockLine
    from tempo_coach.times import Floats

#: Pass band of vowels in hertz: the first two formants, and little of the noise of consonants.
VOWEL_BAND_HZ = (200.0, 3000.0)
#: Cutoff of the envelope (Hz): above the rise of a vowel, below its pitch.
ENVELOPE_HZ = 25.0
#: Share of its maximum at which the envelope of a vowel has its onset (the perceptual centre). On 35 synthesised words
#: of three languages 0.4 gives a median 6 ms earlier.
RISE = 0.5


def vowel_envelope(samples: NDArray[np.floating], rate_hz: int) -> Floats:
    """Return the amplitude envelope of the vowel band, without delay.

    Parameters
    ----------
    samples : numpy.ndarray, shape (n,)
    rate_hz : int

    Returns
    -------
    numpy.ndarray, shape (n,)
        Amplitude, at least 0.
    """
    from scipy.signal import butter, sosfiltfilt

    wave = np.asarray(samples, dtype=np.float64)
    room = min(round(0.2 * rate_hz), max(len(wave) - 1, 0))
    low, high = VOWEL_BAND_HZ
    band = butter(2, (low, min(high, 0.45 * rate_hz)), btype="bandpass", fs=rate_hz, output="sos")
    smooth = butter(2, ENVELOPE_HZ, fs=rate_hz, output="sos")
    voiced = sosfiltfilt(band, wave, padtype="constant", padlen=room)
    power = sosfiltfilt(smooth, voiced**2, padtype="constant", padlen=room)
    return np.asarray(np.sqrt(np.maximum(power, 0.0)))


def find_vowel(samples: NDArray[np.floating], rate_hz: int) -> int:
    """Return the perceptual onset of a word in samples: its vowel's envelope at half its maximum.

    Parameters
    ----------
    samples : numpy.ndarray, shape (n,)
        One word.
    rate_hz : int

    Returns
    -------
    int
        0 for silence.
    """
    rate = int(rate_hz)
    quiet = np.zeros(round(0.05 * rate))
    envelope = vowel_envelope(np.concatenate([quiet, np.asarray(samples, dtype=np.float64), quiet]), rate)
    top = float(envelope.max(initial=0.0))
    if top <= 0:
        return 0
    first = int(np.argmax(envelope >= RISE * top)) - len(quiet)
    return max(0, min(first, len(samples) - 1))


#: Window and hop of the spectrogram, in samples at ``RATE_HZ``: 16 and 2 ms.
_WINDOW, _HOP = 256, 32
_BANDS = 12
_PIECE = 10_000
#: Residual music as a share of its power: the energy-weighted quantile, low because contacts often fall on loud
#: moments; its upper limit; and the factor up to which power is still attributed to the music.
SHARE_PART = 0.3
SHARE_MOST = 0.05
LEFT_OVER = 12.0
#: Noise floor of each band: a quantile of its power, and the factor up to which it is still noise.
QUIET_PART = 0.2
QUIET_TIMES = 4.0
#: Floor relative to the mean power of the music: 20 dB below it.
FAINT = 0.01
#: Seconds before a rise over which the reference is the maximum.
_STILL = 0.05
#: Threshold without a sample of the sound, relative to the 90th percentile of the peaks.
LEAST_SHARE = 0.3
#: Least height of a peak.
FAINTEST_RISE = 0.15
#: Threshold with a sample: this far from the maximum of the noise to the weakest peak of the sample.
BETWEEN_QUIET_AND_SAMPLE = 0.4
#: Share of its maximum at which the wave of a contact has its onset.
_BEGIN = 0.2
_AROUND = (0.014, 0.012)
#: Where several people do the same, each at a recorder of her own: seconds within which two of them are told apart,
#: the least height of her own beside her usual one, and the share of the loudest at which the onset lies, that many
#: seconds before it at most. Tuned on groups of the benchmark ``hall_group``, others than those that judge.
CROSSTALK, OWN_SHARE, LOUD_BEGIN, LOUD_BEFORE = 0.014, 0.4, 0.5, 0.006
#: Of claps and steps of several a candidate is the loudest within so many seconds to either side, this many times what
#: was between these seconds before it, and stands out of noise and music by this share of the least rise. A rise alone
#: hides behind another's sound, which rings on.
ALONE, ATTACK, ATTACK_BEFORE, CLEAR_SHARE = 0.007, 1.2, (0.016, 0.006), 0.5
#: Her own height is the median of all that have this share of the third loudest; the loudest may be a knock.
LOUDEST, NEAR_LOUDEST = 3, 0.25
#: Window around a rise in which the vowel is searched (s before and after).
_VOWEL_AROUND = (0.03, 0.16)


class DetectedOnsets(NamedTuple):
    """Onsets in a recording: seconds on its clock, their heights in the onset function, and their levels.

    ``loudness`` is the greatest magnitude in the band of the kind; None where nobody else is near.
    """

    time: Floats
    rise: Floats
    loudness: Floats | None = None


def calibrate_detector(detector: Detector, quiet: Sound, sample: Sound) -> Detector | None:
    """Calibrate threshold and weights of a detector on noise and on a sample of the sound.

    Parameters
    ----------
    detector : Detector
    quiet : Sound
        A second or more in which nothing is done.
    sample : Sound
        The sound a few times.

    Returns
    -------
    Detector or None
        None where the sample does not stand out of the quiet.
    """
    joined = np.concatenate([remove_played(each, None).wave for each in (quiet, sample)])
    split = len(remove_played(quiet, None).wave) / RATE_HZ
    bands, _ = _bands_of(joined, np.zeros_like(joined), detector.profile)
    frames = round(split * RATE_HZ / _HOP)
    quiet_power = np.median(bands[:, :frames], axis=1) if frames > 2 else np.median(bands, axis=1)
    floor = QUIET_TIMES * quiet_power[:, np.newaxis] + 1e-14
    rises = np.log1p(bands / floor)
    rise = _rise_of(rises.mean(axis=0), detector.profile.rise_over)
    times, heights = _peaks(rise, FAINTEST_RISE, detector.closest)
    in_sample = heights[times > split + detector.profile.rise_over]
    top = float(rise[:frames].max(initial=0.0))
    if not len(in_sample) or in_sample.max() <= max(2 * top, 2 * FAINTEST_RISE):
        return None
    clear = in_sample[in_sample >= in_sample.max() / 3]
    threshold = top + BETWEEN_QUIET_AND_SAMPLE * (float(clear.min()) - top)
    loud = rises[:, [min(round(t * RATE_HZ / _HOP) + 3, rises.shape[1] - 1) for t in times[times > split]]]
    weights = loud.mean(axis=1) + 0.1 * float(loud.mean())
    return replace(detector, threshold=threshold, weights=weights / weights.mean())


def find_onsets(
    recording: Sound, detector: Detector, *, played: Sound | None = None, line: ClockLine | None = None
) -> DetectedOnsets:
    """Detect the onsets of one kind of sound in a recording.

    Parameters
    ----------
    recording : Sound
    detector : Detector
    played : Sound or None
        What was played while it was recorded.
    line : ClockLine or None
        From seconds of the recording to seconds of what was played.

    Returns
    -------
    Heard
        On the recording's clock.
    """
    return find_in_residual(remove_played(recording, played, line), detector)


def find_in_residual(residual: Residual, detector: Detector) -> DetectedOnsets:
    """Detect the onsets in the residual of a recording. See :func:`find_onsets`."""
    nothing = DetectedOnsets(np.zeros(0), np.zeros(0))
    if len(residual.wave) < 4 * _WINDOW:
        return nothing
    left, played = _bands_of(residual.wave, residual.played, detector.profile)
    # a window that begins in a loud note may still hold its end
    around = round(_STILL * RATE_HZ / _HOP)
    left_over = LEFT_OVER * _residual_share(left, played)[:, np.newaxis] * _maximum(played, around // 4)
    quiet = QUIET_TIMES * np.quantile(left, QUIET_PART, axis=1)[:, np.newaxis]
    quiet += FAINT * played.mean(axis=1)[:, np.newaxis]
    strength = np.log1p(left / (left_over + quiet + 1e-14))
    weights = np.ones(_BANDS) if detector.weights is None else detector.weights
    strength = (weights[:, np.newaxis] * strength).mean(axis=0)
    if detector.nearest:
        return _find_nearest(residual.wave, strength, detector)
    rise = _rise_of(strength, detector.profile.rise_over)
    times, heights = _peaks(rise, FAINTEST_RISE, detector.closest)
    if not len(times):
        return nothing
    threshold = detector.threshold
    if threshold is None:
        threshold = max(detector.profile.least_rise, LEAST_SHARE * float(np.quantile(heights, 0.9)))
    kept = heights >= threshold
    place = _place_vowels if detector.profile.onset == "vowel" else _place_contacts
    placed = place(residual.wave, times[kept], detector.profile)
    order = np.argsort(placed, kind="stable")
    return DetectedOnsets(placed[order], heights[kept][order])


def _find_nearest(wave: Wave, strength: Floats, detector: Detector) -> DetectedOnsets:
    """Return the loudest onset of each cluster, that of the nearest person where others do the same nearby."""
    from scipy.ndimage import maximum_filter1d

    profile = detector.profile
    if profile.onset == "vowel":
        size = vowel_envelope(wave, RATE_HZ)
        times, heights = _peaks(_rise_of(strength, profile.rise_over), FAINTEST_RISE, CROSSTALK)
        reach = round(profile.closest * RATE_HZ) | 1
        # the greatest size from just before each candidate on
        ahead = maximum_filter1d(size, reach, origin=-(reach // 2) + reach // 8)
        loud = ahead[np.minimum(np.round(times * RATE_HZ).astype(int), len(ahead) - 1)] if len(times) else times
    else:
        size = _band_size(wave, profile)
        at = _find_attacks(size)
        near = maximum_filter1d(strength, 2 * round(ALONE * RATE_HZ / _HOP) + 1)[
            np.minimum(at // _HOP, len(strength) - 1)
        ]
        clear = near >= CLEAR_SHARE * profile.least_rise
        times, loud, heights = at[clear] / RATE_HZ, size[at[clear]], near[clear]
    kept: list[int] = []
    for k in np.argsort(-loud, kind="stable").tolist():
        if all(abs(times[k] - times[j]) >= detector.closest for j in kept):
            kept.append(k)
    if not kept:
        return DetectedOnsets(np.zeros(0), np.zeros(0))
    # she is as loud as what is near the loudest, however much others do meanwhile: of what is far below nothing is hers
    heights_of = loud[kept]
    loudest = float(np.sort(heights_of)[-min(LOUDEST, len(kept))])
    own = float(np.median(heights_of[heights_of >= NEAR_LOUDEST * loudest]))
    kept = sorted(k for k in kept if loud[k] >= OWN_SHARE * own)
    if profile.onset == "vowel":
        placed = _place_vowels(wave, times[kept], profile)
    else:
        placed = _place_loudest(size, times[kept])
    order = np.argsort(placed, kind="stable")
    return DetectedOnsets(placed[order], heights[kept][order], loud[kept][order])


def _find_attacks(size: Floats) -> NDArray[np.int64]:
    """Return the samples that are local maxima of level, and louder than shortly before."""
    from scipy.ndimage import maximum_filter1d

    furthest, nearest = (round(each * RATE_HZ) for each in ATTACK_BEFORE)
    at = np.flatnonzero((size == maximum_filter1d(size, 2 * round(ALONE * RATE_HZ) + 1)) & (size > 0))
    before = maximum_filter1d(size, (furthest - nearest) | 1)
    return np.asarray(at[size[at] >= ATTACK * before[np.maximum(at - (furthest + nearest) // 2, 0)]])


def _place_loudest(size: Floats, times: Floats) -> Floats:
    """Return onsets of contacts that others may precede: the first sample near the loudest that reaches a height."""
    placed = []
    for time in times:
        first = max(round((time - _AROUND[0]) * RATE_HZ), 0)
        near = size[first : round((time + _AROUND[1]) * RATE_HZ)]
        top = int(np.argmax(near))
        start = max(top - round(LOUD_BEFORE * RATE_HZ), 0)
        placed.append((first + start + int(np.argmax(near[start : top + 1] >= LOUD_BEGIN * near[top]))) / RATE_HZ)
    return np.array(placed)


def _band_size(wave: Wave, profile: SoundProfile) -> Floats:
    """Return the magnitude of a wave in the band of its kind."""
    from scipy.signal import butter, sosfiltfilt

    low, high = profile.band_hz
    band = butter(2, (low, min(high, 0.47 * RATE_HZ)), btype="bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(np.abs(sosfiltfilt(band, wave)))


def _bands_of(rest: Wave, played: Wave, profile: SoundProfile) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the power in each band and step, shape (bands, steps), of both waves."""
    from scipy.fft import rfft
    from scipy.signal.windows import hann

    window = hann(_WINDOW, sym=False)
    low, high = profile.band_hz
    edges = np.geomspace(low, high, _BANDS + 1)
    bins = np.clip(np.round(edges / RATE_HZ * _WINDOW).astype(int), 1, _WINDOW // 2)
    found = []
    for wave in (rest, played):
        last = len(wave) // _HOP
        bands = np.zeros((_BANDS, last))
        frames = np.lib.stride_tricks.sliding_window_view(np.pad(wave, (_WINDOW // 2, _WINDOW)), _WINDOW)[::_HOP]
        # in pieces, as half an hour at once would take gigabytes
        for first in range(0, last, _PIECE):
            steps = slice(first, min(first + _PIECE, last))
            power = np.abs(rfft(frames[steps] * window)) ** 2
            bands[:, steps] = [power[:, a : max(b, a + 1)].mean(axis=1) for a, b in pairwise(bins.tolist())]
        found.append(bands)
    return found[0], found[1]


def _residual_share(rest: NDArray[np.float64], played: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the share of the music's power in the residual, in each band: a quantile weighted by that power."""
    shares = np.zeros(len(rest))
    for k, (left, loud) in enumerate(zip(rest, played, strict=True)):
        at = np.flatnonzero(loud > 1e-12)
        if len(at):
            share = left[at] / loud[at]
            order = np.argsort(share)
            weight = np.cumsum(loud[at][order])
            shares[k] = share[order][np.searchsorted(weight, SHARE_PART * weight[-1])]
    return np.minimum(shares, SHARE_MOST)


def _maximum(values: NDArray[np.float64], around: int) -> NDArray[np.float64]:
    from scipy.ndimage import maximum_filter1d

    return np.asarray(maximum_filter1d(values, 2 * around + 1, axis=1, mode="nearest"))


def _rise_of(strength: Floats, rise_over: float) -> Floats:
    """Return the onset function: the half-wave rectified rise over the maximum shortly before."""
    from scipy.ndimage import maximum_filter1d

    over, still = round(rise_over * RATE_HZ / _HOP), round(_STILL * RATE_HZ / _HOP)
    padded = np.concatenate([np.full(over + still, strength[:5].mean() if len(strength) else 0.0), strength])
    width = still | 1
    before = maximum_filter1d(padded, width, mode="nearest")[: len(padded) - over]
    # the greatest of the `width` steps that end `over` steps ago
    earlier = np.concatenate([np.full(width // 2, before[0]), before])[: len(before)][still:]
    return np.asarray(np.maximum(strength - earlier[: len(strength)], 0.0))


def _peaks(rise: Floats, least: float, closest: float) -> tuple[Floats, Floats]:
    from scipy.signal import find_peaks

    at, found = find_peaks(
        np.concatenate([[0.0], rise, [0.0]]), height=least, distance=max(closest * RATE_HZ / _HOP, 1)
    )
    return (at - 1) * _HOP / RATE_HZ, np.asarray(found["peak_heights"])


def _place_contacts(wave: Wave, times: Floats, profile: SoundProfile) -> Floats:
    """Return the onsets of contacts: the first sample at a share of the maximum."""
    size = _band_size(wave, profile)
    placed = []
    for time in times:
        middle = round(time * RATE_HZ)
        first = max(middle - round(_AROUND[0] * RATE_HZ), 0)
        near = size[first : middle + round(_AROUND[1] * RATE_HZ)]
        before = float(np.quantile(near[: max(len(near) // 4, 1)], 0.9))
        top = float(near.max(initial=0.0))
        placed.append((first + int(np.argmax(near >= before + _BEGIN * (top - before)))) / RATE_HZ)
    return np.array(placed)


def _place_vowels(wave: Wave, times: Floats, _hearing: SoundProfile) -> Floats:
    """Return the onsets of the vowels of syllables."""
    envelope = vowel_envelope(wave, RATE_HZ)
    placed = []
    for time in times:
        middle = round(time * RATE_HZ)
        first = max(middle - round(_VOWEL_AROUND[0] * RATE_HZ), 0)
        near = envelope[first : middle + round(_VOWEL_AROUND[1] * RATE_HZ)]
        top = int(np.argmax(near))
        low = float(near[: top + 1].min())
        share = (near[: top + 1] - low) / max(near[top] - low, 1e-300)
        # a vowel may waver before it is loudest: it began where it left the quiet, not after the last dip
        quiet = np.flatnonzero(share < RISE / 2)
        risen = int(quiet[-1]) if len(quiet) else 0
        placed.append((first + risen + int(np.argmax(share[risen:] >= RISE))) / RATE_HZ)
    return np.array(placed)
