"""From a sound file to samples and back.

This is the only module that knows soundfile. A file is known by its content, never by its name, because a
phone's film may well be called ``music.mp3``.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError, nearest
from tempo_coach.music.blocks import Blocks
from tempo_coach.music.content import WANTED, check_content, needs_decoder
from tempo_coach.music.decoded import decode_sound
from tempo_coach.music.sound import BLOCK, Sound, check_rate
from tempo_coach.resources import refuse_existing, written_whole

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.music.sound import Samples

#: Seconds by which a file may fall short of what it announces: some whole opus files lack a few packets' worth.
SLACK = 0.1
_FORMATS = {".wav": ("WAV", "PCM_16"), ".flac": ("FLAC", "PCM_16"), ".ogg": ("OGG", "VORBIS")}


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
        return decode_sound(path, warn=warn)[0]
    kind = check_content(path)
    try:
        with _quiet_decoder(), soundfile.SoundFile(str(path)) as file:
            rate_hz, promised = check_rate(int(file.samplerate), where=str(path)), int(file.frames)
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
    """Return everything that an open file gives."""
    with Blocks(file.channels, expected=file.frames) as blocks:
        while len(block := file.read(BLOCK, dtype="float32", always_2d=True)):
            blocks.add(block)
        return blocks.join()


def find_format(path: str | os.PathLike[str]) -> tuple[str, str]:
    """Return format and usual subtype, as libsndfile names them, of a sound that is to be written under a name.

    Raises
    ------
    CoachError
        If the name's suffix is none that is written.
    """
    path = Path(path)
    known = _FORMATS.get(path.suffix.lower())
    if known is None:
        guess = nearest(path.suffix.lower(), list(_FORMATS))
        raise CoachError(
            f"expected a name that ends in {', '.join(_FORMATS)}, got {path.name!r}",
            where=str(path),
            hint=f"did you mean {guess}" if guess else None,
        )
    return known


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
    form, usual = find_format(path)
    refuse_existing(path, force=overwrite)
    try:
        with (
            written_whole(path) as beside,
            soundfile.SoundFile(str(beside), "w", sound.rate_hz, sound.channels, subtype or usual, format=form) as file,
        ):
            # a whole piece in one call crashes some builds of the Vorbis encoder
            for start in range(0, len(sound.samples), BLOCK):
                file.write(sound.samples[start : start + BLOCK])
    except (soundfile.SoundFileError, ValueError) as error:
        raise CoachError(f"the sound could not be written ({error})", where=str(path)) from error
