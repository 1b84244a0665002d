"""Sound in files that need a decoder of films: m4a, aac, mp4, mov, mkv, webm. The only user of PyAV for sound.

PyAV is an optional part (the extra ``film``); without it one sentence says what to install. Times are those that
the file gives to its sound, so that sound and picture of a film lie on one clock.
"""

from __future__ import annotations

import contextlib
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.files.blocks import Blocks
from tempo_coach.music.files.content import find_other_kind, needs_decoder
from tempo_coach.music.files.sound import Sound, check_length, check_rate
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import check_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from tempo_coach.music.files.sound import Samples
    from tempo_coach.reasons import Warn

#: Containers that are opened, as FFmpeg names them: none that is a picture, a text or a list of other addresses.
CONTAINERS = ("mov", "mp4", "matroska", "webm", "avi", "mpegts", "mpeg", "aac", "asf", "flv", "ogg", "mp3", "wav")
#: Seconds by which a block of sound may miss its place before silence is put in or sound taken out: beyond what
#: rounding of time stamps gives (a millisecond in Matroska), below what can be heard as a shift.
_LOOSE = 0.005
#: Seconds of silence that are put in at most where a file's sound jumps ahead: beyond, its time stamps are damaged.
_MOST_SILENCE = 600.0
#: Seconds that may be missing of what a file announces before that is said: the last packet's padding is less.
_SHORT = 0.5
#: Bytes that a second of sound has at least, in films and their sound.
_LEAST_BYTES = 100
#: What a reader of films asks for.


def load_decoder(where: str | None = None) -> Any:
    """Return the module ``av``.

    Parameters
    ----------
    where : str or None
        The file that it is needed for.

    Raises
    ------
    CoachError
        If the extra is not installed.
    """
    try:
        import av
    except ImportError as error:
        raise CoachError("film.no_decoder", where=where) from error
    return av


@contextlib.contextmanager
def open_container(path: Path) -> Iterator[Any]:
    """Open a film or its sound; any complaint of the decoder becomes one sentence.

    Raises
    ------
    CoachError
        If it is missing, empty, of another kind, damaged or cut short beyond reading.
    """
    where = str(path)
    if check_file(path, what="film") == 0:
        raise CoachError("sound.empty_file", where=where)
    av = load_decoder(where)
    try:
        # Only local files of these kinds: a list of addresses must not make the decoder fetch them.
        allowed = {"format_whitelist": ",".join(CONTAINERS), "protocol_whitelist": "file"}
        container = av.open(where, options=allowed, metadata_errors="replace")
    except (av.FFmpegError, ValueError) as error:
        raise _unreadable(path, error) from error
    try:
        yield container
    finally:
        container.close()


def _unreadable(path: Path, error: Exception) -> CoachError:
    with path.open("rb") as file:
        head = file.read(4096)
    if isinstance(error, PermissionError):
        return CoachError("file.forbidden", where=str(path))
    if needs_decoder(path):
        return CoachError("film.damaged", where=str(path), kind=find_other_kind(head))
    return CoachError("film.other_kind", where=str(path), kind=find_other_kind(head))


def sound_stream(container: Any) -> Any | None:
    """Return the first decodable audio stream of a container, or None."""
    return next((stream for stream in container.streams.audio if stream.codec_context is not None), None)


def decode_sound(
    path: str | Path,
    *,
    start: float | None = None,
    end: float | None = None,
    warn: Warn | None = None,
) -> tuple[Sound, float]:
    """Return the sound in a film or sound file, and the time of its first sample on the file's own clock.

    Parameters
    ----------
    path : str or Path
    start, end : float or None
        Seconds on the file's clock between which the sound is wanted.
    warn : callable or None
        Told where the file is cut short; what is there is returned.

    Returns
    -------
    sound : Sound
        All channels, at the file's own rate. Stretches without sound in the file are silence.
    begin : float
        Seconds. Most files begin at 0, films within some milliseconds of it.

    Raises
    ------
    CoachError
        If the decoder is not installed, the file cannot be read, or it holds no sound.
    """
    path = Path(path)
    with open_container(path) as container:
        stream = sound_stream(container)
        if stream is None:
            raise CoachError("film.no_sound", where=str(path))
        rate_hz = check_rate(int(stream.codec_context.sample_rate), where=str(path))
        if not stream.codec_context.layout.channels:
            raise CoachError("sound.no_channels", where=str(path))
        length = _length(container, stream)
        if start is not None and length and start >= length:
            raise CoachError("sound.ends_before", where=str(path), length_s=length)
        wanted = min(length or math.inf, math.inf if end is None else end) - (start or 0.0)
        # what announces more than so few bytes can hold is damaged, and what is there is read
        if math.isfinite(wanted) and path.stat().st_size > _LEAST_BYTES * length:
            check_length(wanted * rate_hz, rate_hz, len(stream.codec_context.layout.channels), where=str(path))
        samples, begin, broken = _collect(container, stream, rate_hz, start, end, str(path))
        promised = None if stream.duration is None else float(stream.duration * stream.time_base)
    if not len(samples):
        code = "film.no_sound_there" if start is not None or end is not None else "film.no_sound_in_it"
        raise CoachError(code, where=str(path))
    held = len(samples) / rate_hz
    short = end is None and start is None and promised is not None and held < promised - _SHORT
    if warn is not None and (broken or short):
        warn(Reason(Why.SOUND_CUT_SHORT, (str(path), promised if short else None, held)))
    return Sound(samples, rate_hz), begin


def encode_m4a(path: Path, sound: Sound, *, title: str = "", where: str) -> None:
    """Write a sound as AAC in an m4a file; the encoder's delay is declared in it, and players remove it.

    Parameters
    ----------
    path : pathlib.Path
        Where to, whatever its name ends in.
    sound : Sound
        Samples beyond full scale are clipped.
    title : str
        What players show; empty for none.
    where : str
        The file as the error names it.

    Raises
    ------
    CoachError
        If the part that writes it is not installed, or it cannot be written so.
    """
    av = load_decoder(where)
    try:
        with av.open(str(path), "w", format="mp4") as container:
            if title:
                container.metadata["title"] = title
            stream = container.add_stream("aac", rate=sound.rate_hz)
            stream.bit_rate = M4A_BITS * sound.channels
            stream.layout = {1: "mono", 2: "stereo"}.get(sound.channels, f"{sound.channels}c")
            for start in range(0, len(sound.samples), _M4A_FRAME):
                block = np.clip(sound.samples[start : start + _M4A_FRAME], -1, 1)
                frame = av.AudioFrame.from_ndarray(
                    np.ascontiguousarray(block.T), format="fltp", layout=stream.layout.name
                )
                frame.sample_rate, frame.pts = sound.rate_hz, start
                container.mux(stream.encode(frame))
            container.mux(stream.encode(None))
    except (av.FFmpegError, ValueError) as error:
        raise CoachError("sound.not_written", where=where, reason=error) from error


#: Bits a second for each channel of an m4a file, at which nobody hears a difference in a hall (common practice), and
#: samples of a frame of AAC.
M4A_BITS, _M4A_FRAME = 96_000, 1024


def _collect(
    container: Any, stream: Any, rate_hz: int, start: float | None, end: float | None, where: str
) -> tuple[Samples, float, bool]:
    """Return the samples, the time of the first, and whether decoding broke off."""
    av = load_decoder()
    layout = stream.codec_context.layout.name
    resampler = av.AudioResampler(format="flt", layout=layout, rate=rate_hz)
    channels = len(stream.codec_context.layout.channels)
    seconds = _length(container, stream)
    wanted = max(0.0, (seconds if end is None else min(seconds or end, end)) - (start or 0.0))
    begin, broken = 0.0, False
    with Blocks(channels, expected=wanted * rate_hz) as kept:
        try:
            for time, block in _cut(_blocks(container, stream, resampler, channels, start), start, end, rate_hz):
                if not kept.count:
                    begin = time
                late = round((time - begin) * rate_hz) - kept.count
                if late > _MOST_SILENCE * rate_hz:
                    broken = True
                    break
                check_length(kept.count + len(block), rate_hz, channels, where=where)
                kept.add(np.nan_to_num(_fit(block, late, rate_hz), nan=0.0, posinf=0.0, neginf=0.0))
        except av.FFmpegError as error:
            if not kept.count:
                raise CoachError("film.sound_damaged", where=where) from error
            broken = True
        return kept.join(), begin, broken


def _length(container: Any, stream: Any) -> float:
    """Return the announced length of the sound in seconds; 0 where there is none."""
    if stream.duration is not None:
        return float(stream.duration * stream.time_base)
    return (container.duration or 0) / 1e6  # Matroska gives a length to the whole alone, in microseconds


def _blocks(
    container: Any, stream: Any, resampler: Any, channels: int, start: float | None
) -> Iterator[tuple[float, Samples]]:
    """Yield the time of each decoded block and its samples, shape (n, channels)."""
    if start is not None and start > 0:
        # A second early: a decoder of AAC or Opus needs some packets before its output is right.
        container.seek(int(max(0.0, start - 1.0) / stream.time_base), stream=stream)
    expected = 0.0
    for frame in container.decode(stream):
        time = expected if frame.time is None else float(frame.time)
        expected = time + frame.samples / frame.sample_rate
        frame.pts = None  # the resampler then gives everything at once, in order
        for part in resampler.resample(frame):
            block = part.to_ndarray().reshape(-1, channels)
            yield time, np.asarray(block, dtype=np.float32)
            time += len(block) / stream.codec_context.sample_rate


def _cut(
    blocks: Iterable[tuple[float, Samples]], start: float | None, end: float | None, rate_hz: int
) -> Iterator[tuple[float, Samples]]:
    """Yield the part of each block between two times, and its time."""
    for time, block in blocks:
        first = 0 if start is None else max(0, round((start - time) * rate_hz))
        inside = block[first : None if end is None else max(0, round((end - time) * rate_hz))]
        if len(inside):
            yield time + first / rate_hz, inside
        elif end is not None and time > end:
            return


def _fit(block: Samples, late: int, rate_hz: int) -> Samples:
    """Pad before a block that comes late; drop what a block repeats."""
    if late > _LOOSE * rate_hz:
        return np.concatenate([np.zeros((late, block.shape[1]), np.float32), block])
    return block[-late:] if -late > _LOOSE * rate_hz else block
