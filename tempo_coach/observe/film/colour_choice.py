"""The choice of the markers' colours from sample pictures of a film: by name, by a pixel, or from moving spots."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from tempo_coach.errors import CoachError
from tempo_coach.music.files.container import load_decoder, open_container
from tempo_coach.observe.film.colours import Colour, colour_at, named_colour
from tempo_coach.observe.film.frames import picture_stream, read_frames, upright
from tempo_coach.observe.film.spots import fit_colour, propose
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from tempo_coach.observe.film.frames import Film, Frame
    from tempo_coach.observe.film.marker_trace import MarkerSpec
    from tempo_coach.observe.film.spots import SearchImage

T = TypeVar("T")


def sample_frames(film: Film, keep: Callable[[Frame], T], *, at_most: int = 21, at_least: int = 15) -> list[T]:
    """Return pictures sampled throughout a film's window, mapped by a function.

    Parameters
    ----------
    film : Film
    keep : callable
        Maps a picture to the value that is kept.
    at_most, at_least : int
        Key frames are taken where there are enough of them, else pictures at an even stride.

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
    """Return at most a number of values at even steps, never holding more than twice as many."""
    kept: list[T] = []
    step = 1
    for number, value in enumerate(values):
        if number % step == 0:
            kept.append(value)
        if len(kept) >= 2 * at_most:
            kept, step = kept[::2], 2 * step
    return kept if len(kept) <= at_most else kept[:: -(-len(kept) // at_most)]


def frame_near(film: Film, time: float) -> Frame:
    """Return the picture nearest to a time on the film's clock.

    Raises
    ------
    CoachError
        If the film has none within half a second.
    """
    near = replace(film, start=max(0.0, time - 0.5), end=time + 0.5)
    try:
        return min(read_frames(near), key=lambda frame: abs(frame.time - time))
    except CoachError as error:
        raise CoachError("film.no_picture_at", where=film.path, time_s=time, duration_s=film.duration) from error


#: Markers that are followed by default: two clubs.
UNASKED = 2


def choose_colours(
    film: Film, wanted: Sequence[MarkerSpec], views: Sequence[SearchImage], backdrop: NDArray[np.uint8]
) -> tuple[list[Colour], list[Reason]]:
    """Return the colours of the markers in this film, and notes for the user.

    Parameters
    ----------
    film : Film
    wanted : sequence of MarkerSpec
        Empty for the saturated moving colours, at most ``UNASKED``.
    views : sequence of SearchImage
        Some pictures, spread over the film.
    backdrop : ndarray, shape (3, height, width)

    Raises
    ------
    CoachError
        If a colour is not seen, or nothing coloured moves.
    """
    if not wanted:
        found = propose(views, backdrop)
        if not found:
            raise CoachError("film.nothing_coloured", where=film.path)
        more = tuple(colour.name for colour in found[UNASKED:])
        return found[:UNASKED], [Reason(Why.OTHER_COLOURS, (more,))] if more else []
    colours = []
    for marker in wanted:
        if marker.at is not None:
            time, x, y = marker.at
            behind = _behind(backdrop, views[0], x, y)
            colours.append(colour_at(frame_near(film, time), x, y, name=marker.colour or marker.name, behind=behind))
            continue
        named = named_colour(marker.colour or marker.name)
        fitted = fit_colour(named, views, backdrop)
        if fitted is None:
            others = [colour.name for colour in propose(views, backdrop)]
            raise CoachError("film.colour_not_seen", where=film.path, colour=named.name, others=others)
        colours.append(fitted)
    return colours, []


def _behind(backdrop: NDArray[np.uint8], view: SearchImage, x: float, y: float) -> tuple[float, float]:
    """Return Cb and Cr of the background at a pixel of the film."""
    rows, columns = backdrop.shape[1:]
    across = min(max(round((x - view.site[0]) / view.step), 0), columns - 1)
    down = min(max(round((y - view.site[1]) / view.step), 0), rows - 1)
    return float(backdrop[1, down, across]), float(backdrop[2, down, across])


def colour_key(colour: Colour) -> str:
    """Return the key that distinguishes colours: the name, or the hue within 20° for colours sampled at a pixel."""
    if not colour.sampled:
        return colour.name
    if colour.bright:
        return "bright"
    return f"hue {round(colour.hue_deg / 20) % 18}"  # -180° and 180° are one hue
