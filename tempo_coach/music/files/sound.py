"""``Sound``: samples and their rate, whatever file they came from."""

from __future__ import annotations

import mmap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Seconds that are read at once: an hour is a training; an exercise has two and a half minutes at most.
LONGEST = 3600.0
#: Bytes that they may have as samples: an hour of three channels at 48 kHz.
MOST_BYTES = 2 << 30

Samples = np.ndarray[tuple[int, int], np.dtype[np.float32]]
Mono = np.ndarray[tuple[int], np.dtype[np.float32]]

#: Frames worked on at a time, where a whole piece would need another copy of it.
BLOCK = 1 << 18
#: Sample rates that make sense for music (Hz): from telephone sound to the highest studio rate.
RATES_HZ = (4000, 768_000)


def check_rate(rate_hz: int, *, where: str) -> int:
    """Return the sample rate of a file, in hertz.

    Raises
    ------
    CoachError
        If it lies outside ``RATES_HZ``.
    """
    if not RATES_HZ[0] <= rate_hz <= RATES_HZ[1]:
        raise CoachError("sound.rate", where=where, rate_hz=rate_hz)
    return rate_hz


def check_length(frames: float, rate_hz: int, channels: int, *, where: str) -> None:
    """Refuse a sound too long to be read at once before reading it.

    Parameters
    ----------
    frames : float
        As the file announces them, or so far.
    rate_hz, channels : int
    where : str

    Raises
    ------
    CoachError
        If it goes on for more than ``LONGEST`` or has more than ``MOST_BYTES``.
    """
    most = min(LONGEST, MOST_BYTES / (4 * rate_hz * max(1, channels)))
    if frames > most * rate_hz:
        raise CoachError("sound.too_long", where=where, minutes=frames / rate_hz / 60, most_minutes=most / 60)


@dataclass(frozen=True, eq=False)
class Sound:
    """Samples and their rate.

    Parameters
    ----------
    samples : array_like, shape (n, channels)
        Full scale is -1 to 1. Kept as read-only float32; copied unless it is such an array already.
    rate_hz : int
        Samples a second.

    Raises
    ------
    ValueError
        If the samples are not two-dimensional and finite, or the rate makes no sense.
    """

    samples: Samples
    rate_hz: int

    def __post_init__(self) -> None:
        samples: Any = self.samples
        if not (isinstance(samples, np.ndarray) and samples.dtype == np.float32 and not samples.flags.writeable):
            samples = np.array(samples, dtype=np.float32)
            samples.flags.writeable = False
        if samples.ndim != 2 or samples.shape[1] < 1:
            raise ValueError(f"samples: expected shape (n, channels), got {samples.shape}")
        if not RATES_HZ[0] <= self.rate_hz <= RATES_HZ[1]:
            raise ValueError(f"rate_hz: expected {RATES_HZ[0]} to {RATES_HZ[1]}, got {self.rate_hz}")
        if not all(np.isfinite(block).all() for block in stretches(samples)):
            raise ValueError("samples: expected finite numbers")
        object.__setattr__(self, "samples", samples)
        object.__setattr__(self, "rate_hz", int(self.rate_hz))

    @property
    def duration(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate_hz

    @property
    def channels(self) -> int:
        """Number of channels."""
        return int(self.samples.shape[1])

    def mono(self) -> Mono:
        """Return the mean of the channels, shape (n,), float32, read-only."""
        mean = mix_down(self.samples) if self.channels > 1 else self.samples[:, 0]
        mean.flags.writeable = False
        return mean


def stretches(samples: Samples, size: int = BLOCK) -> Iterator[Samples]:
    """Yield samples in blocks of that many frames; mapped ones take no memory once they have been processed."""
    for start in range(0, len(samples), size):
        yield samples[start : start + size]
        let_go(samples)


def let_go(samples: np.ndarray) -> None:
    """Give back the memory of mapped samples; what is asked for again is read from the disk again.

    Parameters
    ----------
    samples : numpy.ndarray, shape (n, channels)
        Mapped from a file.
    """
    owner: Any = samples
    while isinstance(owner, np.ndarray):
        owner = owner.base
    if isinstance(owner, mmap.mmap) and hasattr(owner, "madvise"):  # not on every system
        owner.madvise(mmap.MADV_DONTNEED)


def mix_down(samples: np.ndarray) -> Mono:
    """Return the mean of the channels of samples, shape (n,), float32: some times quicker than numpy's.

    Parameters
    ----------
    samples : array, shape (n, channels), float32
    """
    number, channels = samples.shape
    mean = np.empty(number, np.float32)
    for start, block in zip(range(0, number, BLOCK), stretches(samples), strict=True):
        first, *others = block.T
        total = mean[start : start + BLOCK]
        total[:] = first
        for other in others:
            total += other
        if others:
            total /= np.float32(channels)
    return mean


#: Part of the channels' own power that their sum has to keep: 1 where they have nothing to do with each other.
_KEPT = 0.5


def choose_uncancelled(sound: Sound) -> Sound:
    """Return a sound whose channels can be summed: a single channel where they would cancel.

    A channel that was plugged in the wrong way round takes out of the sum whatever both of them hold.

    Parameters
    ----------
    sound : Sound

    Returns
    -------
    Sound
        The same one, or its loudest channel; the samples are shared.

    Examples
    --------
    >>> import numpy as np
    >>> wave = np.sin(np.arange(8000.0))
    >>> choose_uncancelled(Sound(np.stack([wave, -wave], axis=1), 8000)).channels
    1
    """
    if sound.channels == 1:
        return sound
    products = np.zeros((sound.channels, sound.channels))
    for block in stretches(sound.samples):
        products += block.T @ block
    own = products.diagonal()
    if products.sum() >= _KEPT * own.sum():
        return sound
    loudest = int(own.argmax())
    return Sound(sound.samples[:, loudest : loudest + 1], sound.rate_hz)


def resample(sound: Sound, rate_hz: int) -> Sound:
    """Return the same sound at another rate, without a shift in time.

    Parameters
    ----------
    sound : Sound
    rate_hz : int
        Samples a second that are wanted.

    Returns
    -------
    Sound
        Of ``round(n · rate_hz / sound.rate_hz)`` samples, within one.

    Examples
    --------
    >>> import numpy as np
    >>> resample(Sound(np.zeros((48_000, 1)), 48_000), 44_100).samples.shape
    (44100, 1)
    """
    if rate_hz == sound.rate_hz:
        return sound
    import soxr  # type: ignore[import-untyped, unused-ignore]  # it ships no types

    samples = np.asarray(soxr.resample(sound.samples, sound.rate_hz, rate_hz), dtype=np.float32)
    samples = samples.reshape(-1, sound.channels)
    samples.flags.writeable = False
    return Sound(samples, rate_hz)
