"""Location of short windows of a recording in a piece of music, by whitened cross-correlation."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.files.sound import Sound, resample

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

    Wave = NDArray[np.float32]

#: Sample rate of the comparison: loudspeakers and phones are alike up to 4 kHz.
RATE_HZ = 8000
#: Least height of a match in SDs of the correlation. The maximum of a million values of noise is 5.3; that of music in
#: other music up to 8.
STANDS_OUT = 9.0
#: Most matches of a window.
_PLACES = 12


class Matches(NamedTuple):
    """Candidate positions of a window in the music.

    Parameters
    ----------
    time : float
        Where the window begins, in seconds of the recording's clock.
    places : numpy.ndarray, shape (k,)
        Where it would begin in the music, in seconds, the most likely first; negative where it begins before the
        music. At most 12, none within 20 ms of another one.
    heights : numpy.ndarray, shape (k,)
        By how many SDs of the correlation (root mean square over all lags) each stands out, descending; from half of
        ``STANDS_OUT`` on.
    """

    time: float
    places: Floats
    heights: Floats


def whiten(sound: Sound) -> Wave:
    """Whiten a sound: one channel at ``RATE_HZ``, of about equal level at all times and frequencies.

    The spectrum of each 64 ms keeps its phase and the square root of its size (half of what the phase transform of
    Knapp & Carter 1976 takes out), and is then evened out over a second; full whitening would lift the noise between
    the notes. What lies below 80 Hz is taken out: handling and rooms, not music.

    Parameters
    ----------
    sound : Sound
        Any rate and number of channels, which are averaged.

    Returns
    -------
    numpy.ndarray of float32, shape (n,)
        As long as the sound at ``RATE_HZ``, and not moved in time. Its loudness does not depend on that of the sound;
        silence stays silence.
    """
    from scipy.ndimage import uniform_filter1d
    from scipy.signal import istft, stft

    wave = resample(Sound(sound.mono()[:, None], sound.rate_hz), RATE_HZ).samples[:, 0]
    size = 512
    _, _, spectrum = stft(wave, RATE_HZ, nperseg=size, noverlap=size // 2)
    power = np.abs(spectrum)
    floor = 1e-4 * float(power.max(initial=0.0)) + 1e-12
    flat = spectrum / np.sqrt(power + floor)
    loud = uniform_filter1d(np.abs(flat), 32, axis=1, mode="nearest")
    flat = flat / (loud + 0.05 * float(loud.max(initial=0.0)) + 1e-12)
    flat[: round(80 * size / RATE_HZ)] = 0
    _, evened = istft(flat, RATE_HZ, nperseg=size, noverlap=size // 2)
    out = np.zeros(len(wave), np.float32)
    n = min(len(wave), len(evened))
    out[:n] = evened[:n]
    return out


class WindowLocator:
    """Locates windows of a recording in one piece of music.

    Parameters
    ----------
    played : numpy.ndarray of float32, shape (n,)
        The music as :func:`whiten` gives it, at ``RATE_HZ``.
    length : int
        Samples of every window that :meth:`locate` is asked for, above 0; the music is transformed once for all.
    """

    def __init__(self, played: Wave, length: int) -> None:
        from scipy.fft import next_fast_len, rfft

        self.played = played
        self.length = length
        self.size = next_fast_len(len(played) + length, real=True)
        self.spectrum = rfft(played, self.size)
        energy = np.concatenate([[0.0], np.cumsum(played.astype(np.float64) ** 2)])
        at = np.arange(-length + 1, len(played))
        self.energy = energy[np.clip(at + length, 0, len(played))] - energy[np.clip(at, 0, len(played))]
        self.least = 0.05 * float(self.energy.max(initial=0.0)) + 1e-12

    def heights(self, window: Wave) -> NDArray[np.float64]:
        """Return the correlation at each position in SDs, from ``length - 1`` samples before the music on.

        The correlation at each lag is divided by the root of the music's energy under the window, so that loud
        passages have no advantage; either sign counts, as a loudspeaker or microphone may turn it.

        Parameters
        ----------
        window : numpy.ndarray of float32, shape (length,)
            Whitened, at ``RATE_HZ``; silence is behind one that is shorter.

        Returns
        -------
        numpy.ndarray, shape (length - 1 + n,)
        """
        from scipy.fft import irfft, rfft

        both = irfft(self.spectrum * np.conj(rfft(window, self.size)), self.size)
        both = np.concatenate([both[self.size - self.length + 1 :], both[: len(self.played)]])
        both = both / np.sqrt(self.energy + self.least)
        return np.asarray(np.abs(both) / (float(np.sqrt(np.mean(both**2))) or 1.0))

    def locate(self, window: Wave, time: float) -> Matches:
        """Return the highest peaks of the correlation, including partial overlaps with the music.

        Parameters
        ----------
        window : numpy.ndarray of float32, shape (length,)
            Whitened, at ``RATE_HZ``.
        time : float
            Where it begins in the recording, in seconds; handed on as it is.

        Returns
        -------
        Places
            Empty without a high peak: silence, or other music.
        """
        size = self.heights(window)
        places, heights = [], []
        around = round(0.02 * RATE_HZ)
        for _ in range(_PLACES):
            at = int(np.argmax(size))
            if size[at] < 0.5 * STANDS_OUT:
                break
            places.append((at - self.length + 1) / RATE_HZ)
            heights.append(size[at])
            size[max(0, at - around) : at + around + 1] = 0
        return Matches(time, np.array(places), np.array(heights))

    def near(self, window: Wave, place: float, max_lag: int) -> NDArray[np.float64] | None:
        """Return the normalised correlation of a window with the music at lags around a position.

        Parameters
        ----------
        window : numpy.ndarray of float32, shape (m,)
            Whitened, at ``RATE_HZ``; of any length.
        place : float
            Expected position in the music, in seconds.
        max_lag : int
            Samples to either side.

        Returns
        -------
        numpy.ndarray, shape (2 * max_lag + 1,), or None
            At lags of ``-max_lag`` to ``max_lag`` samples, -1 to 1: the dot product over the root of both energies,
            the music's over the whole range. 0 for silence. None where the music does not extend so far.
        """
        from scipy.signal import correlate

        start = round(place * RATE_HZ) - max_lag
        if start < 0 or start + len(window) + 2 * max_lag > len(self.played):
            return None
        part = self.played[start : start + len(window) + 2 * max_lag]
        size = float(np.sqrt((window.astype(np.float64) ** 2).sum() * (part.astype(np.float64) ** 2).sum())) or 1.0
        return np.asarray(correlate(part, window, mode="valid", method="fft"), dtype=np.float64) / size
