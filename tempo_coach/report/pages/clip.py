"""The clip of a cycle: beside her median one, slowed, with the cues and the count, again and again."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.music.files.container import load_decoder
from tempo_coach.observe.film.frames import read_frames
from tempo_coach.report.pages.film import BASE, FilmDrawer, add_stream, bgr_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.observe.film.shown_cycles import ShownCycle

    Plane = NDArray[np.uint8]

#: Times slower than life, how often it is shown, seconds that its end stands, and pictures a second.
SLOWER, LOOPS, STANDS, _RATE = 4.0, 3, 0.6, 30
#: Height of one picture, and of what is under it.
_HEIGHT, _BELOW = 360, 64
#: Pictures of one cycle that are held at once.
_MOST = 150
_WHITE, _GREY, _DARK = (255, 255, 255), (150, 150, 150), (40, 40, 40)


class Beat(NamedTuple):
    """A count or a cue of the plan: its time in seconds of the trace, its text, and whether a cue sounds."""

    time: float
    said: str
    cue: bool


def write_clip(
    path: Path,
    filmed: FilmTrace,
    cycles: tuple[ShownCycle, ShownCycle],
    *,
    beats: Sequence[Beat] = (),
    slower: float = SLOWER,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write two cycles of a film side by side, both from their beginning, in slow motion.

    Parameters
    ----------
    path : Path
        An mp4 file, which is replaced.
    filmed : FilmTrace
    cycles : (ShownCycle, ShownCycle)
        The one that is shown, and the one beside it. The shorter one stands at its end until the other is done.
    beats : sequence of Beat
        Counts and cues, as far as the film is on the clock of a plan.
    slower : float
        Times slower than life.
    progress : callable or None
        Told the share that is done, 0 to 1.

    Raises
    ------
    CoachError
        If it cannot be written, or the film cannot be read there.
    """
    av = load_decoder()
    film = filmed.film
    high = min(_HEIGHT, film.height) // 2 * 2
    wide = round(film.width * high / film.height) // 2 * 2
    sides = [_Side(filmed, cycle, (wide, high), beats) for cycle in cycles]
    longest = max(cycle.lasts for cycle in cycles)
    steps = int((slower * longest + STANDS) * _RATE) + 1
    try:
        with av.open(str(path), "w", format="mp4", options={"video_track_timescale": str(BASE)}) as out:
            stream = add_stream(av, out, 2 * wide, high + _BELOW)
            for number in range(LOOPS * steps):
                picture = av.VideoFrame.from_ndarray(
                    _beside(sides, cycles, number % steps / _RATE / slower, longest), format="bgr24"
                )
                picture.pts, picture.time_base = number * BASE // _RATE, Fraction(1, BASE)
                out.mux(stream.encode(picture))
                if progress:
                    progress((number + 1) / (LOOPS * steps))
            out.mux(stream.encode(None))
    except (OSError, av.FFmpegError) as error:
        raise CoachError("film.not_written", where=str(path), reason=error.strerror) from error


class _Side:
    """One cycle: its annotated pictures, and what is below them."""

    def __init__(self, filmed: FilmTrace, cycle: ShownCycle, size: tuple[int, int], beats: Sequence[Beat]) -> None:
        self.cycle, self.size = cycle, size
        self.beats = [beat for beat in beats if cycle.start - 1e-6 <= beat.time <= cycle.end + 1e-6]
        film = filmed.film
        step = 1 / max(film.rate_hz, 1.0)
        part = replace(film, start=max(0.0, cycle.start * film.slowed - step), end=cycle.end * film.slowed + 1.5 * step)
        every = max(1, round(cycle.lasts * film.real_rate_hz / _MOST))
        drawer = FilmDrawer(filmed, *size)
        self.times: list[float] = []
        self.pictures: list[Plane] = []
        for number, frame in enumerate(read_frames(part)):
            if number % every == 0:
                self.times.append(frame.time / film.slowed)
                self.pictures.append(drawer.draw(frame.bgr(height=size[1]), frame.time)[: size[1], : size[0]])

    def at(self, since: float, longest: float, said: str) -> Plane:
        """Return its picture a number of real seconds after its beginning, with its bar, which ends where it ends."""
        import cv2

        wide, high = self.size
        done = min(since, self.cycle.lasts)
        at = max(0, int(np.searchsorted(self.times, self.cycle.start + done + 1e-6)) - 1)
        out = np.full((high + _BELOW, wide, 3), _DARK, np.uint8)
        out[:high] = self.pictures[at]
        left, across = 10, wide - 20
        x = [left + round(across * share / longest) for share in (0.0, done, self.cycle.lasts)]
        row = high + 16
        cv2.rectangle(out, (x[0], row), (x[2], row + 8), _GREY, 1)
        cv2.rectangle(out, (x[0], row), (x[1], row + 8), bgr_of(0), -1)
        now = ""
        for beat in self.beats:
            place = left + round(across * (beat.time - self.cycle.start) / longest)
            cv2.line(out, (place, row - (10 if beat.cue else 5)), (place, row), _WHITE, 2 if beat.cue else 1)
            if beat.said and beat.time <= self.cycle.start + done + 1e-6:
                now = beat.said
        _write(out, said, (left, high + 48), 0.5)
        if now:
            _write(out, now, (wide - 64, 44), 1.3)
        return out


def _beside(sides: Sequence[_Side], cycles: tuple[ShownCycle, ShownCycle], since: float, longest: float) -> Plane:
    more = 100 * (cycles[0].lasts / cycles[1].lasts - 1)
    said = (
        tr("cycle {number}: {lasts:.2f} s ({more:+.0f} %)", number=cycles[0].number, lasts=cycles[0].lasts, more=more),
        tr("as usual, cycle {number}: {lasts:.2f} s", number=cycles[1].number, lasts=cycles[1].lasts),
    )
    return np.hstack([side.at(since, longest, words) for side, words in zip(sides, said, strict=True)])


def _write(picture: Plane, text: str, at: tuple[int, int], size: float) -> None:
    import cv2

    around = [(x, y) for x in (-1, 0, 1) for y in (-1, 0, 1) if x or y]
    for (x, y), ink in [*((step, (0, 0, 0)) for step in around), ((0, 0), _WHITE)]:
        place = (at[0] + x, at[1] + y)
        cv2.putText(picture, text, place, cv2.FONT_HERSHEY_SIMPLEX, size, ink, 1, cv2.LINE_AA)
