"""Page and film for checking what was followed: markers drawn into the frames, gaps, and sampled pictures."""

from __future__ import annotations

import base64
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.music.files.container import load_decoder
from tempo_coach.observe.film.frames import read_frames
from tempo_coach.observe.trace.cycles import find_cycles
from tempo_coach.observe.trace.selection import pick
from tempo_coach.report.drawings.svg import path, picture, tag
from tempo_coach.report.pages.page import render
from tempo_coach.report.words.film import sum_up
from tempo_coach.report.words.reasons import say_reason

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from markupsafe import Markup
    from numpy.typing import NDArray

    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.times import Floats

if TYPE_CHECKING:
    Plane = NDArray[np.uint8]

#: Height of the pictures; a film that is smaller stays as it is.
VIDEO_HEIGHT = 540
#: Pixels of a marker's row under the picture, and steps a second of the film's times.
_ROW = 12
BASE = 90_000
#: Seconds of path that are drawn where nothing repeats.
_TAIL = 1.0
#: The first that this build of the decoder has.
_CODERS = ("libx264", "mpeg4")


def write_film_check(path: Path, filmed: FilmTrace, *, progress: Callable[[float], None] | None = None) -> None:
    """Write the film with the path of the last cycle, a circle at each visible marker, a word at a lost one.

    Parameters
    ----------
    path : Path
        An mp4 file, which is replaced.
    progress : callable or None
        Told the share that is done, 0 to 1.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    av = load_decoder()
    film = filmed.film
    high = min(VIDEO_HEIGHT, film.height) // 2 * 2
    wide = round(film.width * high / film.height) // 2 * 2
    drawer = FilmDrawer(filmed, wide, high)
    try:
        with av.open(str(path), "w", format="mp4", options={"video_track_timescale": str(BASE)}) as out:
            stream = add_stream(av, out, wide, high + drawer.below)
            last = -1
            for frame in read_frames(film):
                picture = av.VideoFrame.from_ndarray(drawer.draw(frame.bgr(height=high), frame.time), format="bgr24")
                last = max(last + 1, round((frame.time - film.start) * BASE))
                picture.pts, picture.time_base = last, Fraction(1, BASE)
                out.mux(stream.encode(picture))
                if progress:
                    progress(drawer.share(frame.time))
            out.mux(stream.encode(None))
    except (OSError, av.FFmpegError) as error:
        raise CoachError("film.not_written", where=str(path), reason=error.strerror) from error


def add_stream(av: Any, out: Any, wide: int, high: int) -> Any:
    """Return a stream of pictures in a film being written, with the first encoder that is available.

    Raises
    ------
    CoachError
        If there is none.
    """
    coder = next((name for name in _CODERS if name in av.codecs_available), None)
    if coder is None:
        raise CoachError("film.no_mp4")
    stream = out.add_stream(coder, rate=30)
    stream.width, stream.height, stream.pix_fmt = wide, high, "yuv420p"
    stream.time_base = stream.codec_context.time_base = Fraction(1, BASE)
    if coder == "libx264":
        stream.options = {"preset": "veryfast", "crf": "24"}
    else:
        stream.bit_rate = 4_000_000
    return stream


class FilmDrawer:
    """Draws what was followed over pictures of one size."""

    def __init__(self, filmed: FilmTrace, wide: int, high: int) -> None:
        self.filmed = filmed
        self.below = _ROW * len(filmed.names) // 2 * 2 + 4
        self._times = filmed.trace.time
        film = filmed.film
        scale = np.array([wide / film.width, high / film.height])
        # pixels are centred on whole numbers in both sizes
        self._places = {name: (filmed.in_picture(name) + 0.5) * scale - 0.5 for name in filmed.names}
        starts = cycle_starts(filmed)
        self._tail = float(np.median(np.diff(starts))) if len(starts) > 1 else _TAIL
        self._strip = self._draw_strip(wide)

    def share(self, time: float) -> float:
        """Share of the trace that lies before a time of the film's clock."""
        first, last = self._times[0], self._times[-1]
        return float(np.clip((time / self.filmed.film.slowed - first) / max(last - first, 1e-9), 0, 1))

    def draw(self, picture: Plane, time: float) -> Plane:
        """Return an annotated picture of the film, with the rows of the markers below it."""
        import cv2

        high, wide = picture.shape[:2]
        lived = time / self.filmed.film.slowed
        row = int(np.argmin(np.abs(self._times - lived)))
        out = np.vstack([picture, self._strip])
        said = [tr("{seconds:.2f} s", seconds=lived)]
        for k, name in enumerate(self.filmed.names):
            places = self._places[name]
            tail = places[(self._times > lived - self._tail) & (self._times <= self._times[row])]
            known = ~np.isnan(tail).any(axis=1)
            for run in np.split(tail, np.flatnonzero(np.diff(known.astype(int))) + 1):
                if len(run) > 1 and not np.isnan(run[0]).any():
                    points = [np.round(run * 16).astype(np.int32)]
                    cv2.polylines(out, points, False, (255, 255, 255), 4, cv2.LINE_AA, 4)
                    cv2.polylines(out, points, False, bgr_of(k), 2, cv2.LINE_AA, 4)
            seen = not np.isnan(places[row]).any()
            if seen:
                centre = tuple(int(value) for value in np.round(places[row] * 16))
                cv2.circle(out, centre, 12 * 16, (255, 255, 255), 4, cv2.LINE_AA, 4)
                cv2.circle(out, centre, 12 * 16, bgr_of(k), 2, cv2.LINE_AA, 4)
            if not seen:
                said.append(tr("{plain}: not seen", plain=_plain(name, k)))
            elif self.filmed.confidence(name)[row] < DOUBTFUL:
                said.append(tr("{plain}: doubtful", plain=_plain(name, k)))
        size = max(0.5, high / 800)
        for line, text in enumerate(said):
            at = (8, round((line + 1) * 34 * size))
            for ink, thick in (((0, 0, 0), 4), ((255, 255, 255), 1)):
                cv2.putText(out, text, at, cv2.FONT_HERSHEY_SIMPLEX, size, ink, thick, cv2.LINE_AA)
        x = round(self.share(time) * (wide - 1))
        cv2.line(out, (x, high), (x, high + self.below - 1), (255, 255, 255), 2)
        return out

    def _draw_strip(self, wide: int) -> Plane:
        """Draw a row a marker over the whole time: full height where seen, half where doubtful, empty in gaps."""
        strip = np.full((self.below, wide, 3), 40, np.uint8)
        times, span = self._times, max(float(self._times[-1] - self._times[0]), 1e-9)
        edges = np.append(times, times[-1] + span / max(times.size - 1, 1))
        for k, name in enumerate(self.filmed.names):
            level = np.where(np.isnan(self._places[name][:, 0]), 0, 1 + (self.filmed.confidence(name) >= DOUBTFUL))
            cuts = np.concatenate([[0], np.flatnonzero(np.diff(level)) + 1, [level.size]])
            for a, b in pairwise(cuts):
                tall = (0, 4, _ROW - 3)[level[a]]
                left, right = ((edges[at] - times[0]) / span * wide for at in (a, b))
                bottom = (k + 1) * _ROW
                strip[bottom - tall : bottom, round(left) : max(round(left) + 1, round(right))] = bgr_of(k)
        return strip


def bgr_of(number: int) -> tuple[int, int, int]:
    """Return the colour of a marker's path in OpenCV's order."""
    text = LINES[number % len(LINES)]
    red, green, blue = (int(text[k : k + 2], 16) for k in (1, 3, 5))
    return blue, green, red


def _plain(name: str, number: int) -> str:
    """Return a name where the font has its letters, else its number."""
    return name if name.isascii() else tr("marker {number}", number=number + 1)


#: Pictures on the page, and their height in pixels.
MOST = 24
HEIGHT = 300
#: Below this a row is called doubtful.
DOUBTFUL = 0.6
#: Okabe and Ito's colours; white goes under them, so that a path shows on any picture.
LINES = ("#0072B2", "#D55E00", "#CC79A7", "#009E73", "#E69F00", "#56B4E9")
_DASHES = ("", "6 3", "2 3", "8 3 2 3", "1 4", "10 4")


def film_page(filmed: FilmTrace, *, progress: Callable[[float], None] | None = None) -> str:
    """Return the page.

    Parameters
    ----------
    progress : callable or None
        Told the share that is done, 0 to 1.
    """
    film, trace = filmed.film, filmed.trace
    starts = cycle_starts(filmed)
    chosen = starts[np.unique(np.linspace(0, len(starts) - 1, min(MOST, len(starts))).round().astype(int))]
    pictures = _take_pictures(filmed, chosen, progress)
    return render(
        "film.html",
        title="Followed in the film",
        about=[
            tr(
                "{width} × {height} pixels, {real_rate_hz:.0f} pictures a second",
                width=film.width,
                height=film.height,
                real_rate_hz=film.real_rate_hz,
            ),
            tr("This page holds pictures of people. Delete it when it has been looked at."),
        ],
        sentence=sum_up(filmed),
        numbers=[
            (
                name,
                f"{100 * filmed.share_seen(name):.0f} %",
                tr("of the pictures; gaps: {number}", number=len(filmed.gaps(name))),
            )
            for name in filmed.names
        ],
        hands=[(_sample(k), name) for k, name in enumerate(filmed.names)],
        timeline=_timeline(filmed),
        cycles=len(starts),
        chosen=len(chosen),
        pictures=[
            _figure(filmed, time, end, jpeg)
            for time, end, jpeg in zip(chosen, _ends(starts, chosen, trace.time[-1]), pictures, strict=True)
            if jpeg is not None
        ],
        notes=[say_reason(note) for note in filmed.notes],
    )


def cycle_starts(filmed: FilmTrace) -> Floats:
    """Return where the first marker's cycles begin, in seconds of the trace.

    Where nothing repeats it is every second, or ``MOST`` even steps of a longer film.

    Returns
    -------
    numpy.ndarray, shape (n,)
    """
    try:
        return find_cycles(pick(filmed.trace, point=filmed.names[0])).starts
    except CoachError:
        time = filmed.trace.time
        return np.arange(time[0], time[-1], max(1.0, float(time[-1] - time[0]) / MOST))


def _ends(starts: Floats, chosen: Floats, last: float) -> list[float]:
    at = np.searchsorted(starts, chosen, side="right")
    return [float(starts[k]) if k < len(starts) else float(last) for k in at]


def _take_pictures(
    filmed: FilmTrace, times: Floats, progress: Callable[[float], None] | None
) -> list[tuple[int, bytes] | None]:
    """Return row and JPEG at each time: of that row, or of the next where rows lie between pictures."""
    import cv2

    rows = [int(np.argmin(np.abs(filmed.trace.time - time))) for time in times]
    out: list[tuple[int, bytes] | None] = [None] * len(times)
    at = 0
    for frame in read_frames(filmed.film):
        if at == len(rows):
            break
        if frame.time / filmed.film.slowed < filmed.trace.time[rows[at]] - 1e-6:
            continue
        done, data = cv2.imencode(".jpg", frame.bgr(height=HEIGHT), [cv2.IMWRITE_JPEG_QUALITY, 78])
        if done:
            out[at] = (rows[at], data.tobytes())
        at += 1
        if progress:
            progress(at / len(rows))
    return out


def _figure(filmed: FilmTrace, start: float, end: float, shown: tuple[int, bytes]) -> tuple[str, Markup]:
    """Return the caption of a picture of the film, and the picture annotated."""
    row, data = shown
    film, time = filmed.film, filmed.trace.time
    inside = (time >= start) & (time <= end)
    width = max(1.5, film.height / 220)
    parts = []
    for k, name in enumerate(filmed.names):
        places = filmed.in_picture(name)
        colour, dashes = LINES[k % len(LINES)], _DASHES[k % len(_DASHES)]
        for run in _runs(places[inside]):
            line: dict[str, Any] = {"points": path(run), "fill": "none"}
            parts.append(tag("polyline", **line, stroke="#fff", stroke_opacity=".6", stroke_width=2.2 * width))
            parts.append(tag("polyline", **line, stroke=colour, stroke_width=width, stroke_dasharray=dashes))
        if not np.isnan(places[row]).any():
            x, y = places[row]
            parts.append(tag("circle", cx=x, cy=y, r=5 * width, fill="none", stroke=colour, stroke_width=1.4 * width))
    lost = [name for name in filmed.names if np.isnan(filmed.in_picture(name)[inside]).any()]
    said = tr(
        "{seconds:.2f} s: {names} lost for a while" if lost else "{seconds:.2f} s",
        seconds=start,
        names=", ".join(map(tr, lost)),
    )
    encoded = base64.b64encode(data).decode("ascii")
    photo = tag("image", href=f"data:image/jpeg;base64,{encoded}", width=film.width, height=film.height)
    return said, picture(said, film.width, film.height, [photo, *parts])


def _runs(places: Floats) -> list[Floats]:
    """Split a path at its gaps."""
    known = ~np.isnan(places).any(axis=1)
    cuts = np.flatnonzero(np.diff(known.astype(int))) + 1
    return [run for run in np.split(places, cuts) if len(run) > 1 and not np.isnan(run[0]).any()]


def _timeline(filmed: FilmTrace) -> Markup:
    """Return a row a marker: full height where it was seen, half where doubtful, empty in gaps."""
    time = filmed.trace.time
    first, span = float(time[0]), max(float(time[-1] - time[0]), 1e-9)
    wide, high, left = 900, 34, 110
    rows = len(filmed.names)
    parts = []
    steps = np.concatenate([np.diff(time), [span / max(time.size, 1)]])
    for k, name in enumerate(filmed.names):
        y = 8 + k * high
        parts.append(tag("text", name[:14], css="name", x=0, y=y + 17))
        level = np.where(np.isnan(filmed.in_picture(name)[:, 0]), 0, 1 + (filmed.confidence(name) >= DOUBTFUL))
        cuts = np.concatenate([[0], np.flatnonzero(np.diff(level)) + 1, [level.size]])
        for a, b in pairwise(cuts):
            if level[a] == 0:
                continue
            x = left + (time[a] - first) / span * (wide - left)
            to = left + (time[b - 1] + steps[b - 1] - first) / span * (wide - left)
            tall = 20 if level[a] == 2 else 9
            colour = LINES[k % len(LINES)]
            parts.append(tag("rect", x=x, y=y + 20 - tall, width=max(to - x, 0.6), height=tall, fill=colour))
    for second in np.arange(np.ceil(first), first + span, max(1, round(span / 12))):
        x = left + (second - first) / span * (wide - left)
        parts.append(tag("line", css="tick", x1=x, y1=4, x2=x, y2=8 + rows * high))
        parts.append(tag("text", f"{second:g} s", x=x + 3, y=22 + rows * high))
    said = tr("when each marker was seen: high where surely, low where doubtful, nothing in gaps")
    return picture(said, wide, 28 + rows * high, parts, style="max-width:none")


def _sample(k: int) -> Markup:
    """Return the sample of a marker's line beside its name."""
    colour, dashes = LINES[k % len(LINES)], _DASHES[k % len(_DASHES)]
    return tag("line", x1=0, y1=6, x2=12, y2=6, stroke_width=3, stroke=colour, stroke_dasharray=dashes)
