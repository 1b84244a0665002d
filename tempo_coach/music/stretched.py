"""Stretching in a process of its own, and what was stretched kept: the same passage is slowed once.

The method holds the interpreter for the whole call, which a screen could not bear. The process lives as long as the
one call: ``python -m tempo_coach.music.stretched FROM TO RATE CHANNELS SPEED``.
"""

from __future__ import annotations

import contextlib
import hashlib
import math
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.sound import Sound
from tempo_coach.music.stretch import keeps_onsets, stretch
from tempo_coach.resources import cache_folder

if TYPE_CHECKING:
    from collections.abc import Callable

#: Bytes of slowed music that are kept; the oldest goes first. About 40 minutes of stereo at 48 kHz.
KEPT = 1 << 30
#: Seconds of work for a second of stereo sound; only the share that is told while it works depends on it.
USUAL_WORK = 0.03
_LOOK = 0.02


def stretch_beside(
    sound: Sound,
    speed: float,
    *,
    folder: Path | None = None,
    progress: Callable[[float], None] | None = None,
) -> Sound:
    """Return what :func:`tempo_coach.music.stretch.stretch` returns, made beside this process or kept from before.

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
        raise CoachError("the music could not be slowed down", where=str(kept), hint="make room on the disk, try again")
    if progress:
        progress(1.0)
    return found


def _key(sound: Sound, speed: float) -> str:
    """What a slowed passage is known by: its content, its speed and the method."""
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
        with tempfile.TemporaryDirectory(prefix="stretching-", dir=kept.parent) as name:
            before, after, log = (Path(name) / each for each in ("before.f32", "after.f32", "log"))
            np.ascontiguousarray(sound.samples, dtype="<f4").tofile(before)
            words = (str(before), str(after), str(sound.rate_hz), str(sound.channels), repr(speed))
            with log.open("wb") as out:
                worker = subprocess.Popen(
                    [sys.executable, "-m", "tempo_coach.music.stretched", *words],
                    stdin=subprocess.DEVNULL,
                    stdout=out,
                    stderr=out,
                )
            _wait(worker, USUAL_WORK * sound.duration * sound.channels / 2, progress)
            if worker.returncode:
                last = log.read_text(errors="replace").strip().splitlines()[-1:]
                raise CoachError(f"the music could not be slowed down ({''.join(last)[:200]})")
            after.replace(kept)
    except OSError as error:
        raise CoachError(
            f"the music could not be slowed down ({error.strerror})", where=str(kept.parent), hint="make room there"
        ) from error


def _wait(worker: subprocess.Popen[bytes], usual: float, progress: Callable[[float], None] | None) -> None:
    began = monotonic()
    try:
        while worker.poll() is None:
            if progress:
                progress(1 - math.exp(-(monotonic() - began) / max(usual, 0.5)))
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
