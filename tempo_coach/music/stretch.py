"""Slower or faster with the pitch kept."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.music.sound import Sound


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
    for the whole call, so a screen calls it in a process of its own.
    """
    if not speed > 0:
        raise ValueError(f"speed: expected above 0, got {speed}")
    if speed == 1.0 or not len(sound.samples):
        return sound
    from python_stretch import Signalsmith

    worker = Signalsmith.Stretch()
    worker.preset(sound.channels, float(sound.rate_hz))
    worker.timeFactor = speed
    stretched = np.asarray(worker.process(np.array(sound.samples.T, order="C"))).T
    length = round(len(sound.samples) / speed)
    if len(stretched) < length:
        stretched = np.vstack([stretched, np.zeros((length - len(stretched), sound.channels), np.float32)])
    return replace(sound, samples=stretched[:length])
