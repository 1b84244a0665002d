"""From a sound file to samples and back.

This is the only module that knows soundfile. A file is known by its content, never by its name, because a
phone's film may well be called ``music.mp3``.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError, nearest
from tempo_coach.music.content import WANTED, check_content, needs_decoder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

Samples = np.ndarray[tuple[int, int], np.dtype[np.float32]]
Mono = np.ndarray[tuple[int], np.dtype[np.float32]]

#: Frames read or written at a time. Whole pieces in one call crash some builds of the Vorbis encoder.
BLOCK = 1 << 18
#: Seconds by which a file may fall short of what it announces: some whole opus files lack a few packets' worth.
SLACK = 0.1
#: Decoded sound above this size (bytes) is kept in a temporary file and mapped: about 25 minutes of stereo.
MAPPED_FROM = 512 << 20
#: Sample rates that make sense for music (Hz): from telephone sound to the highest studio rate.
RATES_HZ = (4000, 768_000)
_FORMATS = {".wav": ("WAV", "PCM_16"), ".flac": ("FLAC", "PCM_16"), ".ogg": ("OGG", "VORBIS")}


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
        for start in range(0, len(samples), BLOCK):
            if not np.isfinite(samples[start : start + BLOCK]).all():
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
        mean: Mono = self.samples[:, 0] if self.channels == 1 else self.samples.mean(axis=1, dtype=np.float32)
        mean.flags.writeable = False
        return mean


def read_sound(path: str | os.PathLike[str], *, warn: Callable[[str], None] | None = None) -> Sound:
    """Read a wav, flac, ogg, opus or mp3 file; its name does not matter.

    With the extra ``film`` installed also the sound of m4a, aac, mp4, mov, mkv and webm files.

    Long sound is kept in a temporary file mapped into memory, so that a recording of hours needs little.

    Parameters
    ----------
    path : path-like
        The file.
    warn : callable or None
        Is given one sentence where an mp3 holds less sound than its header says; what is there is returned.

    Returns
    -------
    Sound

    Raises
    ------
    CoachError
        If the file is missing, empty, cut short or not a sound file.
    """
    import soundfile

    path = Path(path)
    if needs_decoder(path):
        from tempo_coach.music.decoded import decode_sound

        return decode_sound(path, warn=warn)[0]
    kind = check_content(path)
    try:
        with _quiet_decoder(), soundfile.SoundFile(str(path)) as file:
            rate_hz, promised = int(file.samplerate), int(file.frames)
            if not RATES_HZ[0] <= rate_hz <= RATES_HZ[1]:
                raise CoachError(f"expected a usual sample rate, got {rate_hz} Hz", where=str(path))
            samples = _read_frames(file)
    except (soundfile.SoundFileError, RuntimeError) as error:
        if kind == "sound":
            raise CoachError(f"expected {WANTED}, got a file of an unknown kind", where=str(path)) from error
        raise CoachError(
            f"expected a whole {kind} file, but it is damaged or cut short",
            where=str(path),
            hint="copy it again from where it came",
        ) from error
    if len(samples) == 0:
        raise CoachError("the file holds no sound", where=str(path))
    if kind != "mp3" and len(samples) < promised - SLACK * rate_hz:
        raise CoachError(
            f"the {kind} file is cut short: it announces {promised / rate_hz:.1f} s and holds "
            f"{len(samples) / rate_hz:.1f} s",
            where=str(path),
            hint="copy it again from where it came",
        )
    if len(samples) < promised and warn is not None:
        warn(
            f"{path}: the mp3 is cut short: its header says {promised / rate_hz:.1f} s, "
            f"{len(samples) / rate_hz:.1f} s could be read."
        )
    try:
        return Sound(samples, rate_hz)
    except ValueError as error:
        raise CoachError("some samples are not numbers", where=str(path), hint="export the sound again") from error


@contextlib.contextmanager
def _quiet_decoder() -> Iterator[None]:
    """Keep the mp3 decoder's own remarks, which it writes to file descriptor 2, off the screen."""
    kept = os.dup(2)
    try:
        with Path(os.devnull).open("w") as nowhere:
            os.dup2(nowhere.fileno(), 2)
            yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _read_frames(file: Any) -> Samples:
    """Return everything that an open file gives, in memory or as a mapped temporary file."""
    large = file.frames * file.channels * 4 > MAPPED_FROM
    blocks: list[Samples] = []
    with contextlib.ExitStack() as stack:
        store = stack.enter_context(tempfile.TemporaryFile(prefix="tempo-coach-")) if large else None
        frames = 0
        while True:
            block = file.read(BLOCK, dtype="float32", always_2d=True)
            if len(block) == 0:
                break
            frames += len(block)
            if store is None:
                blocks.append(block)
            else:
                store.write(block.tobytes())
        if store is not None and frames:
            store.flush()
            return np.memmap(store, dtype=np.float32, mode="r", shape=(frames, file.channels))
    samples = np.concatenate(blocks) if blocks else np.zeros((0, file.channels), dtype=np.float32)
    samples.flags.writeable = False
    return samples


def write_sound(
    path: str | os.PathLike[str], sound: Sound, *, overwrite: bool = False, subtype: str | None = None
) -> None:
    """Write a sound as wav, flac or ogg, by the file's suffix.

    The file appears whole or not at all: it is written beside its place and then renamed.

    Parameters
    ----------
    path : path-like
        Where to; its folder must exist.
    sound : Sound
        Samples beyond full scale are clipped.
    overwrite : bool
        Whether a file that is there may be replaced.
    subtype : str or None
        How samples are stored, as libsndfile names it (``"PCM_16"``, ``"PCM_24"``, ``"FLOAT"``).

    Raises
    ------
    CoachError
        If the suffix is not known, the folder is missing or a file is there already.
    """
    import soundfile

    path = Path(path)
    known = _FORMATS.get(path.suffix.lower())
    if known is None:
        guess = nearest(path.suffix.lower(), list(_FORMATS))
        raise CoachError(
            f"expected a name that ends in {', '.join(_FORMATS)}, got {path.name!r}",
            where=str(path),
            hint=f"did you mean {guess}" if guess else None,
        )
    refuse_existing(path, overwrite=overwrite)
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    os.close(handle)
    beside = Path(name)
    try:
        with soundfile.SoundFile(
            name, "w", sound.rate_hz, sound.channels, subtype or known[1], format=known[0]
        ) as file:
            for start in range(0, len(sound.samples), BLOCK):
                file.write(sound.samples[start : start + BLOCK])
        beside.chmod(0o644)
        beside.replace(path)
    except (soundfile.SoundFileError, ValueError) as error:
        raise CoachError(f"the sound could not be written ({error})", where=str(path)) from error
    finally:
        beside.unlink(missing_ok=True)


def refuse_existing(path: Path, *, overwrite: bool) -> None:
    """Raise where a file must not be written: its folder is missing, or it is there and may not be replaced.

    Raises
    ------
    CoachError
    """
    if not path.parent.is_dir():
        raise CoachError("the folder does not exist", where=str(path.parent), hint="make it first")
    if path.is_dir():
        raise CoachError("expected a file, this is a folder", where=str(path))
    if path.exists() and not overwrite:
        raise CoachError("the file is there already", where=str(path), hint="choose another name or use --force")


def resample(sound: Sound, rate_hz: int) -> Sound:
    """Return the same sound at another rate; nothing moves in time.

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


def content_hash(path: str | os.PathLike[str]) -> str:
    """Return the SHA-256 of a file's content as 64 hexadecimal digits.

    Raises
    ------
    CoachError
        If the file cannot be read.
    """
    try:
        with Path(path).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise CoachError(f"the file cannot be read ({error.strerror})", where=str(path)) from error
