"""Some pictures of a film, quickly: a few spread over it, or the one nearest to a time."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from tempo_coach.errors import CoachError
from tempo_coach.music.decoded import load_decoder, open_container
from tempo_coach.observe.film import picture_stream, read_frames
from tempo_coach.observe.film_frame import upright

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from tempo_coach.observe.film import Film
    from tempo_coach.observe.film_frame import Frame

T = TypeVar("T")


def sample_frames(film: Film, keep: Callable[[Frame], T], *, at_most: int = 21, at_least: int = 15) -> list[T]:
    """Return what is kept of some pictures spread over a film's window, quickly.

    Parameters
    ----------
    film : Film
    keep : callable
        Is given each picture and returns what is to be kept of it.
    at_most, at_least : int
        Pictures that can be decoded alone are taken where there are enough of them, else every so many.

    Raises
    ------
    CoachError
        If not one picture can be read.
    """
    av = load_decoder()
    kept: list[T] = []
    with open_container(Path(film.path)) as container:
        stream = picture_stream(container, film.path)
        stream.codec_context.skip_frame = "NONKEY"
        if film.start > 0:
            container.seek(int(film.start / stream.time_base), stream=stream, backward=True)
        try:
            raws = (raw for raw in container.decode(stream) if raw.time is not None and raw.time >= film.start)
            inside = takewhile(lambda raw: raw.time <= film.end, raws)
            kept = _thin((keep(upright(raw, film.turned)) for raw in inside), at_most)
        except av.FFmpegError:
            pass  # what is broken is said where all pictures are read
    if len(kept) < at_least:
        length = min(film.end, film.duration) - film.start
        stride = max(1, math.floor(length * film.rate_hz / at_most)) if math.isfinite(length) else 1
        every = (frame for number, frame in enumerate(read_frames(film)) if number % stride == 0)
        kept = _thin((keep(frame) for frame in every), at_most)
    return kept


def _thin(values: Iterable[T], at_most: int) -> list[T]:
    """Return at most so many values at even steps, never holding more than twice as many."""
    kept: list[T] = []
    step = 1
    for number, value in enumerate(values):
        if number % step == 0:
            kept.append(value)
        if len(kept) >= 2 * at_most:
            kept, step = kept[::2], 2 * step
    return kept if len(kept) <= at_most else kept[:: -(-len(kept) // at_most)]


def frame_near(film: Film, time: float) -> Frame:
    """Return the picture nearest to a time of the film's clock.

    Raises
    ------
    CoachError
        If the film has none within half a second.
    """
    near = replace(film, start=max(0.0, time - 0.5), end=time + 0.5)
    try:
        return min(read_frames(near), key=lambda frame: abs(frame.time - time))
    except CoachError as error:
        raise CoachError(
            f"the film has no picture at {time:g} s", where=film.path, hint=f"it lasts {film.duration:.1f} s"
        ) from error
