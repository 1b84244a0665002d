"""Time stretching with the pitch kept, in a subprocess, with a cache of results."""

from __future__ import annotations

import contextlib
import hashlib
import math
import os
import subprocess
import sys
from dataclasses import replace
from functools import cache
from importlib.util import find_spec
from time import monotonic, sleep
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import Sound
from tempo_coach.resources import cache_folder, scratch_folder

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tempo_coach.music.files.sound import Samples

#: Window of the phase vocoder in samples, at up to 48 kHz. It smears a click over a part of its window: half the common
#: length of 2048 costs some bass and halves the smear (SD of a click's time 3 to 4 ms against 7 to 11 ms, measured at
#: speeds from 0.5 to 1.2).
VOCODER_WINDOW = 1024
#: Clicks that the vocoder's own lateness is measured with, and seconds between them: no multiple of its hop.
_CLICKS, _APART = 40, 0.377


def stretch(sound: Sound, speed: float) -> Sound:
    """Return the sound slowed or sped up with its pitch kept.

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
    """Return whether the method that preserves onsets is installed."""
    return find_spec("python_stretch") is not None


@cache
def measure_vocoder(rate_hz: int, speed: float) -> float:
    """Return by how many seconds the phase vocoder delays clicks, far from the ends; negative is early.

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
    """Return samples delayed by a number of frames, or advanced where it is negative."""
    if by < 0:
        return samples[-by:]
    return np.vstack([np.zeros((by, samples.shape[1]), np.float32), samples])


#: Bytes of slowed music that are kept; the oldest goes first. About 40 minutes of stereo at 48 kHz.
KEPT = 1 << 30
#: Seconds of work for a second of stereo sound; only the progress that is shown depends on it.
TYPICAL_WORK = 0.03
_LOOK = 0.02


def stretch_cached(
    sound: Sound,
    speed: float,
    *,
    folder: Path | None = None,
    progress: Callable[[float], None] | None = None,
) -> Sound:
    """Stretch a sound in a subprocess, or take the result from the cache; see :func:`stretch`.

    Parameters
    ----------
    sound : Sound
    speed : float
    folder : Path or None
        Where slowed music is kept; by default in the user's cache.
    progress : callable or None
        Told about which share is done, 0 to 1: the method itself does not say.

    Raises
    ------
    CoachError
        If the process failed, or there is no room for what it makes.
    """
    if speed == 1.0 or not len(sound.samples):
        return sound
    folder = folder or cache_folder("stretched")
    kept = folder / f"{_key(sound, speed)}.f32"
    found = _read_kept(kept, sound, speed)
    if found is None:
        _make(kept, sound, speed, progress)
        found = _read_kept(kept, sound, speed)
        _forget_oldest(folder)
    if found is None:
        raise CoachError("music.not_slowed", where=str(kept))
    if progress:
        progress(1.0)
    return found


def _key(sound: Sound, speed: float) -> str:
    """Return the cache key of a stretched passage: its content, its speed and the method."""
    digest = hashlib.sha256(np.ascontiguousarray(sound.samples).data)
    digest.update(f"{sound.rate_hz} {sound.channels} {speed!r} {keeps_onsets()}".encode())
    return digest.hexdigest()


def _read_kept(path: Path, sound: Sound, speed: float) -> Sound | None:
    length = round(len(sound.samples) / speed)
    try:
        if path.stat().st_size != length * sound.channels * 4:
            return None
        samples = np.fromfile(path, dtype="<f4").astype(np.float32, copy=False).reshape(length, sound.channels)
        path.touch()
    except OSError:
        return None
    samples.flags.writeable = False
    return Sound(samples, sound.rate_hz)


def _make(kept: Path, sound: Sound, speed: float, progress: Callable[[float], None] | None) -> None:
    try:
        with scratch_folder(kept.parent) as made:
            before, after, log = (made / each for each in ("before.f32", "after.f32", "log"))
            np.ascontiguousarray(sound.samples, dtype="<f4").tofile(before)
            words = (str(before), str(after), str(sound.rate_hz), str(sound.channels), repr(speed))
            with log.open("wb") as out:
                worker = subprocess.Popen(
                    [sys.executable, "-m", "tempo_coach.music.files.stretch", *words],
                    stdin=subprocess.DEVNULL,
                    stdout=out,
                    stderr=out,
                )
            _wait(worker, TYPICAL_WORK * sound.duration * sound.channels / 2, progress)
            if worker.returncode:
                last = log.read_text(errors="replace").strip().splitlines()[-1:]
                raise CoachError("music.slowing_failed", said="".join(last)[:200])
            after.replace(kept)
    except OSError as error:
        raise CoachError("music.slowing_refused", where=str(kept.parent), reason=error.strerror) from error


def _wait(worker: subprocess.Popen[bytes], expected: float, progress: Callable[[float], None] | None) -> None:
    began = monotonic()
    try:
        while worker.poll() is None:
            if progress:
                progress(1 - math.exp(-(monotonic() - began) / max(expected, 0.5)))
            sleep(_LOOK)
    finally:
        if worker.poll() is None:
            worker.kill()
            worker.wait()


def _forget_oldest(folder: Path) -> None:
    with contextlib.suppress(OSError):  # another program may tidy up at the same time
        files = sorted(folder.glob("*.f32"), key=lambda path: path.stat().st_mtime, reverse=True)
        total = 0
        for number, path in enumerate(files):
            total += path.stat().st_size
            if total > KEPT and number:
                path.unlink(missing_ok=True)


def _main() -> None:
    before, after, rate_hz, channels, speed = sys.argv[1:]
    samples = np.fromfile(before, dtype="<f4").reshape(-1, int(channels))
    made = stretch(Sound(samples, int(rate_hz)), float(speed))
    np.ascontiguousarray(made.samples, dtype="<f4").tofile(after)


if __name__ == "__main__":
    with contextlib.suppress(OSError, AttributeError):  # what is heard meanwhile comes first
        os.nice(5)
    _main()
