"""Short windows of a recording located in a piece of music by whitened cross-correlation."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.files.sound import Sound, resample

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

    Wave = NDArray[np.float32]

#: Samples a second that are compared: loudspeakers and phones are alike up to 4 kHz.
RATE_HZ = 8000
#: A window's best place stands this many SDs of its correlation out, or is no place. The largest of a million values of
#: noise stands out by 5.3; that of music in other music by up to 8.
STANDS_OUT = 9.0
#: Places of a window that are kept.
_PLACES = 12


class Places(NamedTuple):
    """Where one window may lie in the music.

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
    """Return a sound as one channel at ``RATE_HZ`` with every short stretch made about equally loud at every pitch.

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


class Seeker:
    """Looks for windows of a recording in one piece of music.

    Parameters
    ----------
    played : numpy.ndarray of float32, shape (n,)
        The music as :func:`whiten` gives it, at ``RATE_HZ``.
    length : int
        Samples of every window that :meth:`everywhere` is asked for, above 0; the music is transformed once for all.
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

    def everywhere(self, window: Wave, time: float) -> Places:
        """Return the places where a window stands out most, also where only a part of it overlaps the music.

        The correlation at each lag is divided by the root of the music's energy under the window, so that loud
        passages have no advantage; either sign counts, as a loudspeaker or microphone may turn it.

        Parameters
        ----------
        window : numpy.ndarray of float32, shape (length,)
            Whitened, at ``RATE_HZ``.
        time : float
            Where it begins in the recording, in seconds; handed on as it is.

        Returns
        -------
        Places
            Of no place, where nothing stands out: silence, or other music.
        """
        from scipy.fft import irfft, rfft

        both = irfft(self.spectrum * np.conj(rfft(window, self.size)), self.size)
        both = np.concatenate([both[self.size - self.length + 1 :], both[: len(self.played)]])
        both = both / np.sqrt(self.energy + self.least)
        spread = float(np.sqrt(np.mean(both**2))) or 1.0
        size = np.abs(both)
        places, heights = [], []
        around = round(0.02 * RATE_HZ)
        for _ in range(_PLACES):
            at = int(np.argmax(size))
            if size[at] < 0.5 * STANDS_OUT * spread:
                break
            places.append((at - self.length + 1) / RATE_HZ)
            heights.append(size[at] / spread)
            size[max(0, at - around) : at + around + 1] = 0
        return Places(time, np.array(places), np.array(heights))

    def near(self, window: Wave, place: float, reach: int) -> NDArray[np.float64] | None:
        """Return the correlation of a window with the music at every lag about a place.

        Parameters
        ----------
        window : numpy.ndarray of float32, shape (m,)
            Whitened, at ``RATE_HZ``; of any length.
        place : float
            Where it is thought to begin in the music, in seconds.
        reach : int
            Samples to either side.

        Returns
        -------
        numpy.ndarray, shape (2 * reach + 1,), or None
            At the lags ``-reach`` to ``reach`` samples about the place, -1 to 1: the product with the music there over
            the root of both energies, that of the music over the whole reach. 0 for silence. None where the music does
            not go so far to either side.
        """
        from scipy.signal import correlate

        start = round(place * RATE_HZ) - reach
        if start < 0 or start + len(window) + 2 * reach > len(self.played):
            return None
        part = self.played[start : start + len(window) + 2 * reach]
        size = float(np.sqrt((window.astype(np.float64) ** 2).sum() * (part.astype(np.float64) ** 2).sum())) or 1.0
        return np.asarray(correlate(part, window, mode="valid", method="fft"), dtype=np.float64) / size
