"""A film's pictures with their true times, as shown: turned upright, on one clock with its sound.

The film's clock is the one that its container gives to pictures and sound alike (presentation times, after edit
lists). Frames are never counted: phones film at a rate that varies. Nothing of a film is copied or kept.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError
from tempo_coach.music.decoded import decode_sound, load_decoder, open_container, sound_stream
from tempo_coach.observe.film_frame import is_hdr, upright

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.music.sound import Sound
    from tempo_coach.observe.film_frame import Frame

#: Seconds of film that are read without asking: a routine lasts 90 s, a group's 150 s; half an hour is a training.
LONGEST = 30 * 60.0
#: Seconds by which a film may end before what it announces without being called cut short.
SLACK = 0.5
#: A phone that says it took this many times more frames a second than the film shows has slowed it down.
SLOWED_FROM = 1.5
_PICTURES = ("png", "mjpeg", "gif", "bmp", "webp", "tiff")


@dataclass(frozen=True)
class Film:
    """What a film is, before its pictures are read.

    Parameters
    ----------
    path : str
    width, height : int
        Pixels as shown, upright.
    turned : int
        Degrees anticlockwise by which stored pictures are turned to stand upright: 0, 90, 180 or 270.
    rate_hz : float
        Frames a second on the average, on the film's clock.
    start, end : float
        Seconds on the film's clock, of the window that is to be read.
    duration : float
        Seconds of the whole film.
    has_sound : bool
    slowed : float
        Seconds of film a second of life: 8 for 240 frames a second that are shown at 30.
    notes : tuple of str
        What should be known about it, in sentences.
    """

    path: str
    width: int
    height: int
    turned: int
    rate_hz: float
    start: float
    end: float
    duration: float
    has_sound: bool
    slowed: float = 1.0
    notes: tuple[str, ...] = ()

    @property
    def real_rate_hz(self) -> float:
        """Frames a second of life."""
        return self.rate_hz * self.slowed


def look_at_film(
    path: str | Path,
    *,
    start: float | None = None,
    end: float | None = None,
    slowed: float | None = None,
) -> Film:
    """Return what a film is, having read its head and one picture.

    Parameters
    ----------
    path : str or Path
    start, end : float or None
        The window that is wanted, in seconds on the film's clock.
    slowed : float or None
        Seconds of film a second of life; None asks the film, which some phones tell.

    Raises
    ------
    CoachError
        If it cannot be read, holds no moving picture, the window lies outside, or it is too long without a window.
    """
    path = Path(path)
    where = str(path)
    if slowed is not None and not (math.isfinite(slowed) and 0.05 <= slowed <= 100):
        raise CoachError(f"expected 0.05 to 100 times slower, got {slowed:g}", where="--slowed", hint="8 is usual")
    with open_container(path) as container:
        stream = picture_stream(container, where)
        duration = _duration(container, stream)
        begin, finish = _window(where, start, end, duration)
        frame = _first(container, stream, where)
        turned = round(getattr(frame, "rotation", 0) / 90) * 90 % 360
        wide, high = (frame.height, frame.width) if turned in (90, 270) else (frame.width, frame.height)
        rate_hz = float(stream.average_rate or stream.guessed_rate or 0)
        notes = []
        if slowed is None:
            slowed = _told_slowed(container, stream, rate_hz)
            if slowed != 1:
                notes.append(
                    f"the film says that it was taken at {rate_hz * slowed:.0f} frames a second and is shown "
                    f"{slowed:.3g} times slower; its times are put back to life (--slowed 1 if that is wrong)"
                )
        if is_hdr(frame):
            notes.append(
                "the film is HDR: its colours were brought near to ordinary ones; where a marker is not found by its "
                "colour's name, show a pixel of it (--at)"
            )
        ratio = stream.sample_aspect_ratio
        if ratio and abs(float(ratio) - 1) > 0.01:
            notes.append(f"the pixels are not square ({ratio}): distances across and upwards differ by that much")
        has_sound = sound_stream(container) is not None
    return Film(where, wide, high, turned, rate_hz, begin, finish, duration, has_sound, float(slowed), tuple(notes))


def read_frames(film: Film, *, warn: Callable[[str], None] | None = None) -> Iterator[Frame]:
    """Yield the pictures of a film's window in the order in which they are shown.

    Parameters
    ----------
    film : Film
    warn : callable or None
        Told, in a sentence, where the film is cut short or pictures had no time.

    Raises
    ------
    CoachError
        If not one picture can be read, or all there is is a single one.
    """
    av = load_decoder()
    count, last, odd = 0, -math.inf, 0
    broken = False
    with open_container(Path(film.path)) as container:
        stream = picture_stream(container, film.path)
        stream.thread_type = "AUTO"
        if film.start > 0:
            container.seek(int(film.start / stream.time_base), stream=stream, backward=True)
        try:
            for raw in container.decode(stream):
                if raw.time is None or raw.time <= last:
                    odd += 1
                    continue
                last = float(raw.time)
                if last > film.end:
                    break
                if last < film.start:
                    continue
                count += 1
                yield upright(raw, film.turned)
        except av.FFmpegError:
            broken = True
    if count < 2:
        told = "but one picture in it" if count else "no picture that can be read"
        raise CoachError(f"expected a film, found {told}", where=film.path, hint="choose another film or stretch of it")
    if warn is not None:
        if broken or last < min(film.end, film.duration) - SLACK - 2 / max(film.rate_hz, 1):
            warn(f"{film.path}: the film is cut short: it announces {film.duration:.1f} s, {last:.1f} s could be read.")
        if odd:
            warn(f"{film.path}: {odd} pictures had no time of their own and were left out.")


def read_film_sound(film: Film, *, warn: Callable[[str], None] | None = None) -> tuple[Sound, float]:
    """Return the sound of a film's window and the time of its first sample on the film's clock.

    Raises
    ------
    CoachError
        If the film has no sound there.
    """
    whole = film.start <= 0 and film.end >= film.duration
    return decode_sound(film.path, start=None if whole else film.start, end=None if whole else film.end, warn=warn)


def say_timing(rate_hz: float) -> str:
    """Return what pictures at that rate can and cannot time, as a sentence.

    A marker that is seen sharply is timed between pictures. What happens between two pictures (a contact, the letting
    go) is known to half a step either way: its SD is the step over the square root of 12, that of a uniform spread.
    """
    step = 1000 / rate_hz
    return (
        f"{rate_hz:.0f} pictures a second: one every {step:.0f} ms. A circle's low point is worked out between them; "
        f"a sudden event (contact, release) seen in the picture alone is off by up to {step / 2:.0f} ms "
        f"(SD {step / math.sqrt(12):.0f} ms)"
    )


def picture_stream(container: Any, where: str) -> Any:
    """Return the stream of moving pictures, no cover picture of an album.

    Raises
    ------
    CoachError
        If there is none.
    """
    from av.stream import Disposition

    for stream in container.streams.video:
        if stream.codec_context is not None and not stream.disposition & Disposition.attached_pic:
            return stream
    raise CoachError("the file has sound and no moving picture", where=where, hint="choose the film itself")


def _duration(container: Any, stream: Any) -> float:
    """Seconds on the film's clock at which the picture ends, as announced; infinite where nothing is."""
    begin = float((stream.start_time or 0) * stream.time_base)
    if stream.duration:
        return begin + float(stream.duration * stream.time_base)
    return container.duration / 1e6 + begin if container.duration else math.inf


def _window(where: str, start: float | None, end: float | None, duration: float) -> tuple[float, float]:
    begin, finish = 0.0 if start is None else start, math.inf if end is None else end
    if not (begin >= 0 and finish > begin):
        raise CoachError(
            f"expected a stretch that ends after it begins, got {begin:g} to {finish:g} s", where="--film-from"
        )
    if begin >= duration:
        raise CoachError(f"the film ends at {duration:.1f} s, before {begin:g} s", where=where)
    length = min(finish, duration) - begin
    if length > LONGEST:
        told = "of unknown length" if math.isinf(length) else f"{length / 60:.0f} minutes long"
        raise CoachError(
            f"the film is {told}; up to {LONGEST / 60:.0f} are read at once",
            where=where,
            hint="choose the take with --film-from and --film-to, in seconds",
        )
    return begin, finish


def _first(container: Any, stream: Any, where: str) -> Any:
    av = load_decoder()
    try:
        frame = next(container.decode(stream), None)
    except av.FFmpegError as error:
        raise CoachError("the picture cannot be read", where=where, hint="copy it again from the phone") from error
    if frame is None:
        raise CoachError("expected a film, found no picture in it", where=where, hint="copy it again from the phone")
    if stream.codec_context.name in _PICTURES and stream.frames == 1:
        raise CoachError("expected a film, found a single picture", where=where, hint="choose the film itself")
    return frame


def _told_slowed(container: Any, stream: Any, rate_hz: float) -> float:
    """How much slower the film is shown than taken, as far as phones write down the rate at which they took it."""
    said = {**container.metadata, **stream.metadata}.get("com.android.capture.fps")
    try:
        taken = float(said or 0)
    except ValueError:
        return 1.0
    # Some phones write it into ordinary films too, a little off.
    return taken / rate_hz if rate_hz and taken / rate_hz >= SLOWED_FROM else 1.0
