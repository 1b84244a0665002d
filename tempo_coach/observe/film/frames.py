"""The frames of a film with their true times: luma and chroma planes, upright, on one clock with its sound."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.files.container import decode_sound, load_decoder, open_container, sound_stream
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from tempo_coach.music.files.sound import Sound
    from tempo_coach.reasons import Warn
    from tempo_coach.times import Floats

if TYPE_CHECKING:
    Plane = NDArray[np.uint8]

# From the range of film (16 to 235, and 16 to 240; ITU-R BT.601) to the full one.
_WIDEN_LUMA = np.clip((np.arange(256) - 16) * 255 / 219 + 0.5, 0, 255).astype(np.uint8)
_WIDEN_COLOUR = np.clip((np.arange(256) - 128) * 255 / 224 + 128.5, 0, 255).astype(np.uint8)
#: Transfer functions of high dynamic range: PQ and HLG (ITU-T H.273, table 3: 16 and 18).
_PQ, _HLG = 16, 18
#: What brings their colour differences (Cb, Cr of BT.2020) nearest in hue to those of BT.601, over what colours
#: markers have: within 15°, fitted to what the standards make of them. A matrix, so that mixtures stay mixtures.
_NEARER = {_PQ: ((2.95, -0.59), (-0.28, 4.93)), _HLG: ((1.45, -0.32), (-0.14, 2.34))}
#: Light of a white sheet, of the most that can be said: 203 cd/m² (ITU-R BT.2408, table 1), which is 58 % of the signal
#: of PQ and 75 % of that of HLG.
_WHITE = {_PQ: 203 / 10_000, _HLG: 0.265}


@dataclass(frozen=True, eq=False)
class Frame:
    """One picture, upright: luma, and two planes of chroma at half the size.

    Parameters
    ----------
    time : float
        Seconds on the film's clock.
    luma : ndarray of uint8, shape (height, width)
    blue, red : ndarray of uint8, shape (about height / 2, about width / 2)
        Colour differences Cb and Cr; 128 is grey.
    site : (float, float)
        Where the first value of the colour planes lies: x and y in pixels of the picture, whose first pixel is
        centred on (0, 0).
    """

    time: float
    luma: Plane
    blue: Plane
    red: Plane
    site: tuple[float, float]

    def bgr(self, *, height: int | None = None) -> Plane:
        """Return the picture in BGR for display, shape (h, w, 3), scaled down where a height is given."""
        import cv2

        rows, columns = self.luma.shape
        size = (columns, rows) if height is None or height >= rows else (round(columns * height / rows), height)
        planes = [
            cv2.LUT(cv2.resize(plane, size, interpolation=how), table)
            for plane, how, table in (
                (self.luma, cv2.INTER_AREA, _WIDEN_LUMA),
                (self.red, cv2.INTER_LINEAR, _WIDEN_COLOUR),
                (self.blue, cv2.INTER_LINEAR, _WIDEN_COLOUR),
            )
        ]
        return np.asarray(cv2.cvtColor(cv2.merge(planes), cv2.COLOR_YCrCb2BGR), dtype=np.uint8)


def upright(raw: Any, turned: int, *, size: tuple[int, int] | None = None) -> Frame:
    """Return a decoded picture, rotated for display, with its time; scaled down where a size is given."""
    hdr = is_hdr(raw)
    stored = size[::-1] if size is not None and turned in (90, 270) else size
    shown = _as(raw, "yuv420p10le" if hdr else "yuv420p", stored)
    planes = _ordinary(shown, int(raw.color_trc)) if hdr else [_plane(plane) for plane in shown.planes[:3]]
    rows, columns = planes[0].shape
    half_rows, half_columns = planes[1].shape
    # Colour values of H.264 and H.265 lie, unless told otherwise, on the left of their two columns and between
    # their two rows (ITU-T H.264, figure E-1, chroma location type 0).
    x, y = 0.0, 0.5
    for _ in range(turned // 90):
        # anticlockwise: the right edge becomes the top
        x, y = y, columns - 1 - (x + 2 * (half_columns - 1))
        rows, columns, half_rows, half_columns = columns, rows, half_columns, half_rows
    if turned:
        planes = [np.ascontiguousarray(np.rot90(plane, turned // 90)) for plane in planes]
    return Frame(float(raw.time), planes[0], planes[1], planes[2], (x, y))


def is_hdr(raw: Any) -> bool:
    """Return whether a decoded picture declares a high dynamic range."""
    return int(raw.color_trc or 0) in _NEARER


def _as(raw: Any, layout: str, size: tuple[int, int] | None = None) -> Any:
    if size is None:
        return raw if raw.format.name == layout else raw.reformat(format=layout)
    return raw.reformat(width=size[0], height=size[1], format=layout, interpolation="AREA")


def _plane(plane: Any) -> Plane:
    """Copy a plane out of the decoder's memory, without the padding of its rows."""
    rows = np.frombuffer(plane, np.uint8)[: plane.height * plane.line_size].reshape(plane.height, plane.line_size)
    return rows[:, : plane.width].copy()


def _ordinary(raw: Any, transfer: int) -> list[Plane]:
    """Return the planes of a 10-bit picture approximately as 8-bit standard dynamic range."""
    luma, blue, red = (
        np.frombuffer(plane, "<u2")[: plane.height * plane.line_size // 2].reshape(plane.height, -1)[:, : plane.width]
        for plane in raw.planes[:3]
    )
    b, r = (plane.astype(np.float32) / 4 - 128 for plane in (blue, red))
    turned = [128.5 + np.float32(row[0]) * b + np.float32(row[1]) * r for row in _NEARER[transfer]]
    return [_ordinary_luma(transfer)[luma & 1023], *(np.clip(plane, 0, 255).astype(np.uint8) for plane in turned)]


@cache
def _ordinary_luma(transfer: int) -> Plane:
    """Return the 8-bit luma for each of 1024 values of HDR luma: exact for greys.

    The light of a value is that of ITU-R BT.2100 (tables 4 and 5, the scene's light for HLG and the screen's for PQ);
    an ordinary film is taken to have a gamma of 2.2.
    """
    signal = np.clip((np.arange(1024) - 64) / 876, 0, 1)
    light = _light_of_pq(signal) if transfer == _PQ else _light_of_hlg(signal)
    return np.clip(16.5 + 219 * (light / _WHITE[transfer]) ** (1 / 2.2), 0, 255).astype(np.uint8)


def _light_of_pq(signal: Floats) -> Floats:
    m1, m2, c1, c2, c3 = 2610 / 16384, 2523 / 4096 * 128, 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    root = signal ** (1 / m2)
    return np.asarray((np.maximum(root - c1, 0) / (c2 - c3 * root)) ** (1 / m1))


def _light_of_hlg(signal: Floats) -> Floats:
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    return np.where(signal <= 0.5, signal**2 / 3, (np.exp((signal - c) / a) + b) / 12)


#: Seconds of film that are read without asking: a routine lasts 90 s, a group's 150 s; half an hour is a training.
LONGEST = 30 * 60.0
#: Seconds by which a film may end before what it announces without being called cut short.
SLACK = 0.5
#: A phone that says it took this many times more frames a second than the film shows has slowed it down.
SLOWED_FROM = 1.5
_PICTURES = ("png", "mjpeg", "gif", "bmp", "webp", "tiff")


@dataclass(frozen=True)
class Film:
    """Properties of a film, known before its pictures are read.

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
    notes : tuple of Reason
        What should be known about it, in sentences.
    phone : str
        Make and model of what took it, as far as the file tells; empty where it does not.
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
    notes: tuple[Reason, ...] = ()
    phone: str = ""

    @property
    def real_rate_hz(self) -> float:
        """Frames per second of real time."""
        return self.rate_hz * self.slowed


def look_at_film(
    path: str | Path,
    *,
    start: float | None = None,
    end: float | None = None,
    slowed: float | None = None,
) -> Film:
    """Return the properties of a film, from its header and one picture.

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
        raise CoachError("film.slowed", where="--slowed", times=slowed)
    with open_container(path) as container:
        stream = picture_stream(container, where)
        duration = _duration(container, stream)
        begin, finish = _window(where, start, end, duration)
        frame = _first(container, stream, where)
        turned = round(getattr(frame, "rotation", 0) / 90) * 90 % 360
        wide, high = (frame.height, frame.width) if turned in (90, 270) else (frame.width, frame.height)
        rate_hz = float(stream.average_rate or stream.guessed_rate or 0)
        notes = list[Reason]()
        if slowed is None:
            slowed = _told_slowed(container, stream, rate_hz)
            if slowed != 1:
                notes.append(Reason(Why.SLOW_MOTION, (rate_hz * slowed, slowed)))
        if is_hdr(frame):
            notes.append(Reason(Why.HDR))
        ratio = stream.sample_aspect_ratio
        if ratio and abs(float(ratio) - 1) > 0.01:
            notes.append(Reason(Why.OBLONG_PIXELS, (str(ratio),)))
        has_sound = sound_stream(container) is not None
        phone = _told_phone(container, stream)
    return Film(
        where, wide, high, turned, rate_hz, begin, finish, duration, has_sound, float(slowed), tuple(notes), phone
    )


def read_frames(
    film: Film, *, apart: float = 0.0, size: tuple[int, int] | None = None, warn: Warn | None = None
) -> Iterator[Frame]:
    """Yield the pictures of a film's window in display order.

    Parameters
    ----------
    film : Film
    apart : float
        Seconds of the film that pictures lie apart at least; those between are left out.
    size : (width, height) or None
        Upright, in pixels: smaller than the film's, to which pictures are scaled.
    warn : callable or None
        Told where the film is cut short or pictures had no time.

    Raises
    ------
    CoachError
        If not one picture can be read, or all there is is a single one.
    """
    av = load_decoder()
    count, last, odd = 0, -math.inf, 0
    yielded = -math.inf
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
                if last - yielded >= apart:
                    yielded = last
                    yield upright(raw, film.turned, size=size)
        except av.FFmpegError:
            broken = True
    if count < 2:
        raise CoachError("film.pictures_read", where=film.path, found=count)
    if warn is not None:
        if broken or last < min(film.end, film.duration) - SLACK - 2 / max(film.rate_hz, 1):
            warn(Reason(Why.FILM_CUT_SHORT, (film.path, film.duration, last)))
        if odd:
            warn(Reason(Why.PICTURES_WITHOUT_TIME, (film.path, odd)))


def read_film_sound(film: Film, *, warn: Warn | None = None) -> tuple[Sound, float]:
    """Return the sound of a film's window and the time of its first sample on the film's clock.

    Raises
    ------
    CoachError
        If the film has no sound there.
    """
    whole = film.start <= 0 and film.end >= film.duration
    return decode_sound(film.path, start=None if whole else film.start, end=None if whole else film.end, warn=warn)


def picture_stream(container: Any, where: str) -> Any:
    """Return the stream of moving pictures, not an album's cover.

    Raises
    ------
    CoachError
        If there is none.
    """
    from av.stream import Disposition

    for stream in container.streams.video:
        if stream.codec_context is not None and not stream.disposition & Disposition.attached_pic:
            return stream
    raise CoachError("film.no_picture_in_sound", where=where)


def _duration(container: Any, stream: Any) -> float:
    """Return the announced end of the picture in seconds on the film's clock; infinite where there is none."""
    begin = float((stream.start_time or 0) * stream.time_base)
    if stream.duration:
        return begin + float(stream.duration * stream.time_base)
    return container.duration / 1e6 + begin if container.duration else math.inf


def _window(where: str, start: float | None, end: float | None, duration: float) -> tuple[float, float]:
    begin, finish = 0.0 if start is None else start, math.inf if end is None else end
    if not (begin >= 0 and finish > begin):
        raise CoachError("film.backwards", where="--film-from", start_s=begin, end_s=finish)
    if begin >= duration:
        raise CoachError("film.ends_before", where=where, duration_s=duration, start_s=begin)
    length = min(finish, duration) - begin
    if length > LONGEST:
        raise CoachError("film.too_long", where=where, length_s=length, most_s=LONGEST)
    return begin, finish


def _first(container: Any, stream: Any, where: str) -> Any:
    av = load_decoder()
    try:
        frame = next(container.decode(stream), None)
    except av.FFmpegError as error:
        raise CoachError("film.not_read", where=where) from error
    if frame is None:
        raise CoachError("film.no_picture", where=where)
    if stream.codec_context.name in _PICTURES and stream.frames == 1:
        raise CoachError("film.single_picture", where=where)
    return frame


#: Keys of the make and of the model in the metadata of phones' films.
_MAKES = ("com.apple.quicktime.make", "com.android.manufacturer", "make")
_MODELS = ("com.apple.quicktime.model", "com.android.model", "model")


def _told_phone(container: Any, stream: Any) -> str:
    """Return make and model of the phone, where its films carry them."""
    said = {**container.metadata, **stream.metadata}
    found = [next((said[key].strip() for key in keys if said.get(key, "").strip()), "") for keys in (_MAKES, _MODELS)]
    return " ".join(" ".join(filter(None, found)).split())[:100]


def _told_slowed(container: Any, stream: Any, rate_hz: float) -> float:
    """Return the factor of slow motion, where the phone wrote down the rate of capture."""
    said = {**container.metadata, **stream.metadata}.get("com.android.capture.fps")
    try:
        taken = float(said or 0)
    except ValueError:
        return 1.0
    # Some phones write it into ordinary films too, a little off.
    return taken / rate_hz if rate_hz and taken / rate_hz >= SLOWED_FROM else 1.0
