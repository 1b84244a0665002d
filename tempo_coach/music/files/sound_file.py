"""Sound files read to samples, and written.

This is the only module that knows soundfile. A file is known by its content, never by its name, because a
phone's film may well be called ``music.mp3``.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError, nearest
from tempo_coach.music.files.blocks import Blocks
from tempo_coach.music.files.container import decode_sound, encode_m4a, load_decoder
from tempo_coach.music.files.content import check_content, needs_decoder
from tempo_coach.music.files.sound import BLOCK, Sound, check_length, check_rate
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import refuse_existing, written_whole

if TYPE_CHECKING:
    from collections.abc import Callable, Container, Iterator

    from tempo_coach.music.files.sound import Samples
    from tempo_coach.reasons import Warn

#: Seconds by which a file may fall short of what it announces: some whole opus files lack a few packets' worth.
SLACK = 0.1
#: Frames that no file has: libsndfile's answer where a header does not know how many there are.
UNKNOWN = 1 << 60
#: Bytes that are left on a disk that is full: less than a block of samples.
_FULL = 1 << 20
_FORMATS = {
    ".wav": ("WAV", "PCM_16"),
    ".flac": ("FLAC", "PCM_16"),
    ".ogg": ("OGG", "VORBIS"),
    ".mp3": ("MP3", "MPEG_LAYER_III"),
    ".m4a": ("M4A", "AAC"),  # PyAV writes it, of the extra film
}


def read_sound(
    path: str | os.PathLike[str],
    *,
    start: float | None = None,
    end: float | None = None,
    warn: Warn | None = None,
    progress: Callable[[float], None] | None = None,
) -> Sound:
    """Read a wav, flac, ogg, opus or mp3 file, whatever its suffix.

    With the extra ``film`` installed also the sound of m4a, aac, mp4, mov, mkv and webm files.

    Long sound is kept in a temporary file mapped into memory, so that a training needs little.

    Parameters
    ----------
    path : path-like
        The file.
    start, end : float or None
        Seconds of the file between which the sound is wanted; the rest is not read, and may go on for hours.
    progress : callable or None
        Told the share that is read, 0 to 1.
    warn : callable or None
        Is given one sentence where an mp3 holds less sound than its header says; what is there is returned.

    Returns
    -------
    Sound

    Raises
    ------
    CoachError
        If the file is missing, empty, cut short, too long to be read at once or not a sound file, or the part lies
        outside.
    """
    import soundfile

    path = Path(path)
    if needs_decoder(path):
        return decode_sound(path, start=start, end=end, warn=warn)[0]
    kind = check_content(path)
    try:
        with _quiet_decoder():
            opened = soundfile.SoundFile(str(path))
        with opened as file:
            rate_hz = check_rate(int(file.samplerate), where=str(path))
            first, last = _find_part(int(file.frames), rate_hz, start, end, where=str(path))
            known = file.frames < UNKNOWN
            if not known:  # a flac that was written as it came; soundfile would seek behind what it read
                setattr(file, "seekable", lambda: False)  # noqa: B010  a method of this one file
            promised = last - first if known or end is not None else 0
            check_length(promised, rate_hz, file.channels, where=str(path))
            if first:
                with _quiet_decoder():
                    file.seek(first)
            # some mp3 hold more than they announce
            most = sys.maxsize if end is None else promised
            samples = _read_frames(file, promised, most, where=str(path), progress=progress)
    except (soundfile.SoundFileError, RuntimeError) as error:
        if kind == "sound":
            raise CoachError("sound.unknown_kind", where=str(path)) from error
        raise CoachError("sound.damaged", where=str(path), kind=kind) from error
    if len(samples) == 0:
        raise CoachError("sound.none_in_file", where=str(path))
    if kind != "mp3" and known and len(samples) < promised - SLACK * rate_hz:
        raise CoachError(
            "sound.shorter_than_told",
            where=str(path),
            kind=kind,
            told_s=promised / rate_hz,
            length_s=len(samples) / rate_hz,
        )
    if known and len(samples) < promised and warn is not None:
        warn(Reason(Why.MP3_CUT_SHORT, (str(path), promised / rate_hz, len(samples) / rate_hz)))
    try:
        return Sound(samples, rate_hz)
    except ValueError as error:
        raise CoachError("sound.no_numbers", where=str(path)) from error


@contextlib.contextmanager
def _quiet_decoder() -> Iterator[None]:
    """Keep the remarks that the mp3 decoder writes to file descriptor 2 off the screen."""
    kept = os.dup(2)
    try:
        with Path(os.devnull).open("w") as nowhere:
            os.dup2(nowhere.fileno(), 2)
            yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _find_part(frames: int, rate_hz: int, start: float | None, end: float | None, *, where: str) -> tuple[int, int]:
    """Return the first frame of a part and the one after its last."""
    first = 0 if start is None else round(start * rate_hz)
    last = frames if end is None else min(frames, round(end * rate_hz))
    if first and first >= frames:
        raise CoachError("sound.ends_before", where=where, length_s=frames / rate_hz)
    return first, last


def _read_frames(
    file: Any, promised: int, most: int, *, where: str, progress: Callable[[float], None] | None
) -> Samples:
    """Return the next frames of an open file: the announced number, but no more than a maximum."""
    with Blocks(file.channels, expected=promised) as blocks:
        while True:
            with _quiet_decoder():
                block = file.read(min(BLOCK, most - blocks.count), dtype="float32", always_2d=True)
            if not len(block):
                break
            blocks.add(block)
            check_length(blocks.count, file.samplerate, file.channels, where=where)
            if progress is not None:
                progress(min(1.0, blocks.count / max(promised, 1)))
        return blocks.join()


def find_format(path: str | os.PathLike[str]) -> tuple[str, str]:
    """Return libsndfile's format and default subtype for a file name.

    Raises
    ------
    CoachError
        If the name's suffix is none that is written, or this machine's libraries do not write it.
    """
    path = Path(path)
    known = _FORMATS.get(path.suffix.lower())
    if known is None:
        guess = nearest(path.suffix.lower(), list(_FORMATS))
        raise CoachError("sound.name_ends", where=str(path), endings=[*_FORMATS], name=path.name, nearest=guess)
    if known[0] == "M4A":
        load_decoder(str(path))
    elif known[0] not in _written_formats():
        raise CoachError("sound.no_encoder", where=str(path), kind=path.suffix.lower())
    return known


def _written_formats() -> Container[str]:
    import soundfile

    return frozenset(soundfile.available_formats())


def write_sound(
    path: str | os.PathLike[str],
    sound: Sound,
    *,
    overwrite: bool = False,
    subtype: str | None = None,
    title: str = "",
) -> None:
    """Write a sound as wav, flac, ogg, mp3 or m4a, according to the file's suffix.

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
    title : str
        What players show; empty for none.

    Raises
    ------
    CoachError
        If the suffix is not known, the folder is missing or a file is there already.
    """
    import soundfile

    path = Path(path)
    form, default = find_format(path)
    refuse_existing(path, force=overwrite)
    if form == "M4A":
        with written_whole(path) as temporary:
            encode_m4a(temporary, sound, title=title, where=str(path))
        return
    try:
        with (
            written_whole(path) as temporary,
            _saying_when_full(temporary),  # opening writes too
            soundfile.SoundFile(
                str(temporary), "w", sound.rate_hz, sound.channels, subtype or default, format=form
            ) as file,
        ):
            if title:
                file.title = title
            # a whole piece in one call crashes some builds of the Vorbis encoder
            for start in range(0, len(sound.samples), BLOCK):
                file.write(sound.samples[start : start + BLOCK])
    except (soundfile.SoundFileError, ValueError) as error:
        raise CoachError("sound.not_written", where=str(path), reason=error) from error


@contextlib.contextmanager
def _saying_when_full(path: Path) -> Iterator[None]:
    """Raise ``OSError(ENOSPC)`` in place of libsndfile's error, which does not mention a full disk."""
    import soundfile

    try:
        yield
    except soundfile.SoundFileError as error:
        if shutil.disk_usage(path.parent).free < _FULL:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)) from error
        raise
