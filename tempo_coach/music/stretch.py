"""Slower or faster with the pitch kept; :mod:`tempo_coach.music.stretched` does it beside the screen."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.music.sound import Samples, Sound

#: Samples of one window of the phase vocoder at up to 48 kHz. It smears a click over a part of its window: half as long
#: as what is usual for music costs some depth of the bass, and halves the smear (SD of a click's place 3 to 4 ms
#: against 7 to 11 ms, measured at speeds from 0.5 to 1.2).
VOCODER_WINDOW = 1024
#: Clicks that the vocoder's own lateness is measured with, and seconds between them: no multiple of its hop.
_CLICKS, _APART = 40, 0.377


def stretch(sound: Sound, speed: float) -> Sound:
    """Return the sound at a share of its speed, its pitch kept.

    Parameters
    ----------
    sound : Sound
    speed : float
        0.9 is slower: the result is 1/0.9 as long, to the sample. What was at t seconds is then at t / speed,
        within half a millisecond for a click.

    Returns
    -------
    Sound
        At the same rate; ``round(n / speed)`` samples.

    Raises
    ------
    ValueError
        If the speed is not above 0.

    Notes
    -----
    The work is done by python-stretch, a spectral method that keeps onsets in their place. It holds the interpreter
    for the whole call. Where it is not installed librosa's phase vocoder does it: its onsets are smeared, so that a
    click lies within some 10 ms of its place, and on average on it.
    """
    if not speed > 0:
        raise ValueError(f"speed: expected above 0, got {speed}")
    if speed == 1.0 or not len(sound.samples):
        return sound
    if keeps_onsets():
        stretched = _stretch_spectrally(sound.samples, sound.rate_hz, speed)
    else:
        late = round(measure_vocoder(sound.rate_hz, speed) * sound.rate_hz)
        stretched = _moved(_stretch_by_vocoder(sound.samples, sound.rate_hz, speed), -late)
    length = round(len(sound.samples) / speed)
    if len(stretched) < length:
        stretched = np.vstack([stretched, np.zeros((length - len(stretched), sound.channels), np.float32)])
    return replace(sound, samples=stretched[:length])


def keeps_onsets() -> bool:
    """Whether the method that keeps onsets in their place is installed."""
    return find_spec("python_stretch") is not None


@cache
def measure_vocoder(rate_hz: int, speed: float) -> float:
    """Return by how many seconds the phase vocoder puts clicks too late, in the middle of many; negative is early.

    Parameters
    ----------
    rate_hz : int
    speed : float
    """
    length = round(0.001 * rate_hz)
    burst = np.random.default_rng(1).normal(size=length).astype(np.float32) * np.hanning(length).astype(np.float32)
    times = 0.5 + _APART * np.arange(_CLICKS)
    samples = np.zeros((round((times[-1] + 0.5) * rate_hz), 1), np.float32)
    for first in np.round(times * rate_hz).astype(int):
        samples[first : first + length, 0] += burst
    power = np.cumsum(_stretch_by_vocoder(samples, rate_hz, speed)[:, 0].astype(np.float64) ** 2)
    around = round(0.1 * rate_hz)
    late = []
    for middle in np.round((times + length / 2 / rate_hz) / speed * rate_hz).astype(int):
        near = power[middle - around : middle + around + 1] - power[middle - around]
        late.append(int(np.searchsorted(near, near[-1] / 2)) - around)
    return float(np.mean(late)) / rate_hz


def _stretch_spectrally(samples: Samples, rate_hz: int, speed: float) -> Samples:
    from python_stretch import Signalsmith

    worker = Signalsmith.Stretch()
    worker.preset(samples.shape[1], float(rate_hz))
    worker.timeFactor = speed
    return np.asarray(worker.process(np.array(samples.T, order="C"))).T


def _stretch_by_vocoder(samples: Samples, rate_hz: int, speed: float) -> Samples:
    from librosa.effects import time_stretch

    window = VOCODER_WINDOW * max(round(rate_hz / 48_000), 1)
    stretched: Samples = np.asarray(time_stretch(samples.T, rate=speed, n_fft=window), dtype=np.float32).T
    return stretched


def _moved(samples: Samples, by: int) -> Samples:
    """Return samples moved later by so many, or earlier where that is negative."""
    if by < 0:
        return samples[-by:]
    return np.vstack([np.zeros((by, samples.shape[1]), np.float32), samples])
