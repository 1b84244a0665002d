"""Musical key of a stretch, by the correlation of its chroma with the profile of each key."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tempo_coach.music.cutting.tone_filters import HEARD_HZ, OCTAVES, THIRDS, WINDOW, load_filters

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.music.files.sound import Sound

#: How well each tone fits a key of C major and of C minor, as listeners rated them (Krumhansl and Kessler 1982; from
#: memory).
_MAJOR = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
_MINOR = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)
#: By how much better (correlation) each of two stretches has to fit its own key than the other's, so that a change of
#: key is told.
_CHANGED = 0.2


class MusicalKey(NamedTuple):
    """A key: its tonic in semitones above C, and whether it is minor."""

    tonic: int
    minor: bool


def find_tones(sound: Sound, start: float, end: float) -> NDArray[np.float64]:
    """Return the chroma of a stretch, C first; zeros in silence.

    The magnitudes of constant-Q kernels, those of a tone added up over octaves; each window counts alike, however loud
    it is, so that what is struck outweighs no chord.

    Parameters
    ----------
    sound : Sound
    start, end : float
        Seconds.

    Returns
    -------
    numpy.ndarray, shape (12,)
        Shares of the strongest tone of each window, added up.
    """
    import soxr  # type: ignore[import-untyped, unused-ignore]  # it ships no types

    part = sound.samples[max(0, round(start * sound.rate_hz)) : round(end * sound.rate_hz)]
    mono = soxr.resample(part.mean(axis=1, dtype=np.float32), sound.rate_hz, HEARD_HZ, quality="MQ")
    mono = np.pad(mono, (0, max(0, WINDOW - mono.size)))
    spectra = np.fft.rfft(sliding_window_view(mono, WINDOW)[:: WINDOW // 8], axis=1).astype(np.complex64)
    strength = np.abs(spectra @ load_filters()).reshape(len(spectra), OCTAVES, 12, THIRDS).sum(axis=(1, 3))
    strongest = strength.max(axis=1, keepdims=True)
    heard = strongest[:, 0] > 0
    return np.asarray((strength[heard] / strongest[heard]).sum(axis=0), dtype=np.float64)


def find_key(tones: NDArray[np.float64]) -> MusicalKey | None:
    """Return the best matching key, or None in silence.

    Parameters
    ----------
    tones : array, shape (12,)
        Of :func:`find_tones`.

    Examples
    --------
    >>> find_key(np.array([1.0, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1]))
    MusicalKey(tonic=0, minor=False)
    """
    if np.ptp(tones) == 0:
        return None
    fits = _fits(tones)
    best = int(np.argmax(fits))
    return MusicalKey(best % 12, best >= 12)


def is_other_key(before: NDArray[np.float64], after: NDArray[np.float64]) -> bool:
    """Return whether the chroma before and after a place are of two keys that are not relatives of each other.

    Parameters
    ----------
    before, after : array, shape (12,)
    """
    keys = find_key(before), find_key(after)
    if None in keys or keys[0] == keys[1]:
        return False
    scales = [(key.tonic + (3 if key.minor else 0)) % 12 for key in keys if key is not None]
    if scales[0] == scales[1]:
        return False
    one, other = _fits(before), _fits(after)
    first, second = int(np.argmax(one)), int(np.argmax(other))
    return bool(one[first] - one[second] > _CHANGED and other[second] - other[first] > _CHANGED)


def _fits(tones: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the correlation with the profiles of the twelve major and the twelve minor keys."""
    profiles = [np.roll(profile, tonic) for profile in (_MAJOR, _MINOR) for tonic in range(12)]
    return np.array([float(np.corrcoef(tones, each)[0, 1]) for each in profiles])
