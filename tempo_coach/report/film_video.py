"""A film to look at: what was followed drawn into the film itself, and under it where gaps lie.

Every picture has the film's own time. The picture alone is copied, smaller and without sound, to the one file that was
asked for.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.decoded import load_decoder
from tempo_coach.observe.film import read_frames
from tempo_coach.report.film_page import DOUBTFUL, LINES, cycle_starts

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from tempo_coach.observe.filmed import Filmed

    Plane = NDArray[np.uint8]

#: Height of the pictures; a film that is smaller stays as it is.
HEIGHT = 540
#: Pixels of a marker's row under the picture, and steps a second of the film's times.
_ROW = 12
_BASE = 90_000
#: Seconds of path that are drawn where nothing repeats.
_TAIL = 1.0
#: The first that this build of the decoder has.
_CODERS = ("libx264", "mpeg4")


def write_film_check(path: Path, filmed: Filmed, *, progress: Callable[[float], None] | None = None) -> None:
    """Write the film with the path of the last cycle, a circle where each marker is, a word where it is not.

    Parameters
    ----------
    path : Path
        An mp4 file, which is replaced.
    filmed : Filmed
    progress : callable or None
        Told the share that is done, 0 to 1.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    av = load_decoder()
    film = filmed.film
    high = min(HEIGHT, film.height) // 2 * 2
    wide = round(film.width * high / film.height) // 2 * 2
    drawer = _Drawer(filmed, wide, high)
    try:
        with av.open(str(path), "w", format="mp4", options={"video_track_timescale": str(_BASE)}) as out:
            stream = _add_stream(av, out, wide, high + drawer.below)
            last = -1
            for frame in read_frames(film):
                picture = av.VideoFrame.from_ndarray(drawer.draw(frame.bgr(height=high), frame.time), format="bgr24")
                last = max(last + 1, round((frame.time - film.start) * _BASE))
                picture.pts, picture.time_base = last, Fraction(1, _BASE)
                out.mux(stream.encode(picture))
                if progress:
                    progress(drawer.share(frame.time))
            out.mux(stream.encode(None))
    except (OSError, av.FFmpegError) as error:
        raise CoachError(f"the film cannot be written ({error.strerror})", where=str(path)) from error


def _add_stream(av: Any, out: Any, wide: int, high: int) -> Any:
    coder = next((name for name in _CODERS if name in av.codecs_available), None)
    if coder is None:
        raise CoachError("this build of PyAV writes no mp4", hint="look at a page instead: --check OUT.html")
    stream = out.add_stream(coder, rate=30)
    stream.width, stream.height, stream.pix_fmt = wide, high, "yuv420p"
    stream.time_base = stream.codec_context.time_base = Fraction(1, _BASE)
    if coder == "libx264":
        stream.options = {"preset": "veryfast", "crf": "24"}
    else:
        stream.bit_rate = 4_000_000
    return stream


class _Drawer:
    """Draws what was followed over pictures of a size."""

    def __init__(self, filmed: Filmed, wide: int, high: int) -> None:
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
        """Return a picture of the film, drawn over, with the rows of the markers under it."""
        import cv2

        high, wide = picture.shape[:2]
        lived = time / self.filmed.film.slowed
        row = int(np.argmin(np.abs(self._times - lived)))
        out = np.vstack([picture, self._strip])
        said = [f"{lived:.2f} s"]
        for k, name in enumerate(self.filmed.names):
            places = self._places[name]
            tail = places[(self._times > lived - self._tail) & (self._times <= self._times[row])]
            known = ~np.isnan(tail).any(axis=1)
            for run in np.split(tail, np.flatnonzero(np.diff(known.astype(int))) + 1):
                if len(run) > 1 and not np.isnan(run[0]).any():
                    points = [np.round(run * 16).astype(np.int32)]
                    cv2.polylines(out, points, False, (255, 255, 255), 4, cv2.LINE_AA, 4)
                    cv2.polylines(out, points, False, _bgr(k), 2, cv2.LINE_AA, 4)
            seen = not np.isnan(places[row]).any()
            if seen:
                centre = tuple(int(value) for value in np.round(places[row] * 16))
                cv2.circle(out, centre, 12 * 16, (255, 255, 255), 4, cv2.LINE_AA, 4)
                cv2.circle(out, centre, 12 * 16, _bgr(k), 2, cv2.LINE_AA, 4)
            if not seen:
                said.append(f"{_plain(name, k)}: not seen")
            elif self.filmed.confidence(name)[row] < DOUBTFUL:
                said.append(f"{_plain(name, k)}: doubtful")
        size = max(0.5, high / 800)
        for line, text in enumerate(said):
            at = (8, round((line + 1) * 34 * size))
            for ink, thick in (((0, 0, 0), 4), ((255, 255, 255), 1)):
                cv2.putText(out, text, at, cv2.FONT_HERSHEY_SIMPLEX, size, ink, thick, cv2.LINE_AA)
        x = round(self.share(time) * (wide - 1))
        cv2.line(out, (x, high), (x, high + self.below - 1), (255, 255, 255), 2)
        return out

    def _draw_strip(self, wide: int) -> Plane:
        """A row a marker over the whole time: full where it was seen, half as high where doubtful, empty in gaps."""
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
                strip[bottom - tall : bottom, round(left) : max(round(left) + 1, round(right))] = _bgr(k)
        return strip


def _bgr(number: int) -> tuple[int, int, int]:
    text = LINES[number % len(LINES)]
    red, green, blue = (int(text[k : k + 2], 16) for k in (1, 3, 5))
    return blue, green, red


def _plain(name: str, number: int) -> str:
    """A name as far as the font has its letters, else its number."""
    return name if name.isascii() else f"marker {number + 1}"
