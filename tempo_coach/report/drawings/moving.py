"""Pictures and sound as a film that phones, tablets and halls play: H.264 and AAC in an mp4, by PyAV."""

from __future__ import annotations

import fractions
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.files.container import load_decoder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from tempo_coach.music.files.sound import Sound

#: Seconds after which a picture, which comes at its own time to a tick, is repeated, so that a film can be wound.
LONGEST, _TICKS_HZ = 0.5, 90_000
#: Pictures a second that are announced.
NOMINAL_HZ = 25
#: Samples of a frame of AAC, and its bits a second for each channel.
_FRAME, _BITS = 1024, 96_000


def write_film(
    path: Path,
    pictures: Iterable[tuple[float, NDArray[np.uint8]]],
    sound: Sound,
    *,
    title: str = "",
    where: str,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write a film.

    Parameters
    ----------
    path : pathlib.Path
        Where to, whatever its name ends in.
    pictures : iterable of (seconds, array of shape (height, width, 3))
        From when on each is seen, in order, the first from 0; red, green and blue.
    sound : Sound
        As long as the film is.
    title : str
        What players show.
    where : str
        The file as the error names it.
    progress : callable or None
        Told the share that is done, 0 to 1.

    Raises
    ------
    CoachError
        If the extra film is not installed, or it cannot be written.
    """
    av = load_decoder(where)
    base = fractions.Fraction(1, _TICKS_HZ)
    try:
        with av.open(str(path), "w", format="mp4", options={"movflags": "faststart"}) as container:
            if title:
                container.metadata["title"] = title
            seen = container.add_stream("libx264", rate=NOMINAL_HZ)
            seen.pix_fmt = "yuv420p"
            seen.time_base = seen.codec_context.time_base = base
            seen.options = {"preset": "ultrafast", "tune": "stillimage", "crf": "24"}
            heard = container.add_stream("aac", rate=sound.rate_hz)
            heard.bit_rate = _BITS * min(sound.channels, 2)
            heard.layout = "stereo" if sound.channels > 1 else "mono"
            blocks = _blocks(av, sound, heard.layout.name)
            for time, picture in _repeated(pictures, sound.duration):
                if picture is not None:
                    if time == 0:
                        seen.height, seen.width = picture.shape[:2]
                    frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(format="yuv420p")
                frame.pts, frame.time_base = round(time * _TICKS_HZ), base
                container.mux(seen.encode(frame))
                for begin, block in blocks:
                    container.mux(heard.encode(block))
                    if begin > time:
                        break
                if progress is not None:
                    progress(min(1.0, time / sound.duration))
            for _, block in blocks:
                container.mux(heard.encode(block))
            container.mux(seen.encode(None))
            container.mux(heard.encode(None))
    except av.FFmpegError as error:
        raise CoachError("sound.not_written", where=where, reason=error) from error


def _repeated(
    pictures: Iterable[tuple[float, NDArray[np.uint8]]], duration: float
) -> Iterator[tuple[float, NDArray[np.uint8] | None]]:
    """Yield each picture at its time, and None where the same one is shown again, up to the end."""
    now = 0.0
    for number, (time, picture) in enumerate(pictures):
        if number == 0 and time != 0:
            raise ValueError("pictures: expected the first one from 0 s on")
        while time - now > LONGEST:
            now += LONGEST
            yield now, None
        # a picture that comes at the instant of the one before takes its place a tick later
        now = max(time, now + 2 / _TICKS_HZ) if number else 0.0
        if now < duration:
            yield now, picture
    while duration - now > 1 / NOMINAL_HZ:
        now = min(now + LONGEST, duration - 0.5 / NOMINAL_HZ)
        yield now, None


def _blocks(av: Any, sound: Sound, layout: str) -> Iterator[tuple[float, Any]]:
    """Yield the sound as frames for the encoder, each with the second at which it begins."""
    for at in range(0, len(sound.samples), _FRAME):
        block = np.clip(sound.samples[at : at + _FRAME, :2], -1, 1)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), format="fltp", layout=layout)
        frame.sample_rate, frame.pts = sound.rate_hz, at
        yield at / sound.rate_hz, frame
