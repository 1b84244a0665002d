"""The trace of a film's markers: colours chosen, every frame searched, camera motion and motion blur compensated."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.camera import CameraMotion, CameraTracker, compensate, enlarge, extent_of
from tempo_coach.observe.film.colour_choice import choose_colours, colour_key, sample_frames
from tempo_coach.observe.film.film_trace import FilmTrace
from tempo_coach.observe.film.frames import Film, read_frames
from tempo_coach.observe.film.paths import MarkerPath, join_paths
from tempo_coach.observe.film.spots import SEARCH_WIDTH, Finder, SearchImage, Spots, backdrop_of, to_search_image
from tempo_coach.observe.trace.header import read_name
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.film.colours import Colour
    from tempo_coach.reasons import Warn
    from tempo_coach.times import Floats

#: Least pictures for an estimate of the exposure.
FEWEST = 10
#: Longest step to a neighbour, in median steps, over which derivatives are taken.
_NEAR = 1.6


def find_exposure(times: Floats, path: MarkerPath, spots: Sequence[Spots]) -> float:
    """Estimate the exposure time from one marker's motion blur, in seconds.

    A marker that is itself longer along its motion than across biases it upwards, a shorter one downwards; the step
    between pictures is its upper limit.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Of the pictures, seconds.
    path : MarkerPath
    spots : sequence of Spots, length n
        Those of the path.

    Returns
    -------
    float
        0 with fewer than ``FEWEST`` pictures.
    """
    places = np.column_stack([path.x, path.y])
    speed, _ = _motion(times, places)
    square = np.sum(speed**2, axis=1)
    known = np.flatnonzero(~np.isnan(square))
    # the faster the marker, the more of its length is smear rather than shape
    fast = known[square[known] >= np.median(square[known])] if known.size else known
    fast = fast[square[fast] > 0]
    if fast.size < FEWEST:
        return 0.0
    across = speed[fast] / np.sqrt(square[fast])[:, None]
    spread = np.array([_spread_at(spots[k], places[k]) for k in fast])
    # variance along the motion less that across it, (u v) being the direction
    more = (spread[:, 0] - spread[:, 2]) * (across[:, 0] ** 2 - across[:, 1] ** 2)
    more += 4 * spread[:, 1] * across[:, 0] * across[:, 1]
    shown = float(np.sqrt(max(0.0, 12 * np.median(more / square[fast]))))
    return min(shown, float(np.median(np.diff(times))))


def deblur_path(times: Floats, path: MarkerPath, exposure: float) -> MarkerPath:
    """Correct the bias of blurred centres: a centroid over the exposure lies inside the curve of the path.

    Parameters
    ----------
    times : ndarray, shape (n,)
    path : MarkerPath
    exposure : float
        Seconds.

    Returns
    -------
    MarkerPath
        Unchanged next to a gap, where there is no second derivative.
    """
    places = np.column_stack([path.x, path.y])
    _, acceleration = _motion(times, places)
    x, y = (places - exposure**2 / 24 * np.nan_to_num(acceleration)).T
    return path._replace(x=x, y=y)


def _spread_at(spots: Spots, place: Floats) -> Floats:
    return np.asarray(spots.spread[np.argmin(np.hypot(spots.x - place[0], spots.y - place[1]))])


def _motion(times: Floats, places: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return velocity and acceleration, each of shape (n, 2), from both neighbours; NaN without them."""
    speed, acceleration = (np.full(places.shape, np.nan) for _ in range(2))
    if times.size < 3:
        return speed, acceleration
    step = np.diff(times)
    slope = np.diff(places, axis=0) / step[:, None]
    slope[step > _NEAR * np.median(step)] = np.nan
    before, after = step[:-1, None], step[1:, None]
    speed[1:-1] = (slope[:-1] * after + slope[1:] * before) / (before + after)
    acceleration[1:-1] = 2 * (slope[1:] - slope[:-1]) / (before + after)
    return speed, acceleration


#: Most markers of a film.
MOST = 6
#: Confidence below which a row is a gap: the visible centre of a half hidden marker is biased.
UNSURE = 0.5
#: Distance in widths of the picture within which a path passes a pixel that was shown, and the most things of a
#: marker's colour beside it of which one is told by it.
_AT_PIXEL, _ALIKE = 0.04, 2
#: Width of the pictures for the camera's motion.
_WATCH_WIDTH = 480
#: Values of the search by which a shaken camera may move.
_MARGIN = 32


class MarkerSpec(NamedTuple):
    """A marker to follow.

    Parameters
    ----------
    name : str
        Which hand, club or member it is.
    colour : str or None
        By name; None where it is taken from a pixel.
    at : (time, x, y) or None
        A pixel of the marker at a time of the film's clock, y downwards from the upper edge.
    """

    name: str
    colour: str | None = None
    at: tuple[float, float, float] | None = None


def follow_film(
    film: Film,
    wanted: Sequence[MarkerSpec] = (),
    *,
    without: Sequence[tuple[float, float]] = (),
    progress: Callable[[float], None] | None = None,
    warn: Warn | None = None,
) -> FilmTrace:
    """Follow the markers of a film.

    Parameters
    ----------
    film : Film
    wanted : sequence of MarkerSpec
        At most six; none follows what moves and is coloured.
    without : sequence of (start, end)
        Stretches of the film's clock that become gaps.
    progress, warn : callable or None
        Told the share that is done, and what should be known.

    Raises
    ------
    CoachError
        If a colour is not known or not seen, nothing coloured moves, or the film cannot be read.
    """
    _check(wanted)
    views = sample_frames(film, to_search_image)
    small = [_small(view) for view in views]
    backdrop = _still_backdrop(views, small)
    colours, others = choose_colours(film, wanted, views, backdrop)
    wanted = wanted or [MarkerSpec(colour.name, colour.name) for colour in colours]
    kinds = list(dict.fromkeys(colour_key(colour) for colour in colours))
    finders = [Finder(next(c for c in colours if colour_key(c) == kind), backdrop, margin=_MARGIN) for kind in kinds]
    times, spots, motion = _search(film, finders, small[0], views[0], progress, warn)
    notes = [*film.notes, *others]
    moves = motion.moves
    if motion.state == "moved":
        notes.append(Reason(Why.CAMERA_MOVED, (extent_of(moves, film.width, film.height),)))
    elif motion.state == "unknown":
        notes.append(Reason(Why.CAMERA_UNKNOWN))
    paths: list[MarkerPath | None] = [None] * len(wanted)
    exposures: list[float] = []
    for kind, found in zip(kinds, spots, strict=True):
        mine = [k for k, colour in enumerate(colours) if colour_key(colour) == kind]
        level = [_compensated(each, moves[k]) for k, each in enumerate(found)]
        shown = [at for k in mine if (at := wanted[k].at) is not None]
        followed = _join_shown(times, level, shown, moves, markers=len(mine), width=float(film.width))
        exposures += [find_exposure(times, path, level) for path in followed]
        for k, path in _assign_paths(wanted, mine, followed, times, moves):
            paths[k] = path
    # one shutter for all: the marker that says least has the least length of its own in it
    paths = [path and deblur_path(times, path, min(exposures)) for path in paths]
    notes += _make_notes(wanted, colours, paths)
    notes += [Reason(Why.PICTURE_RATE, (film.real_rate_hz,)), Reason(Why.ROLLING_SHUTTER)]
    return _to_filmed(film, times, wanted, colours, paths, moves, without, notes)


def _check(wanted: Sequence[MarkerSpec]) -> None:
    if len(wanted) > MOST:
        raise CoachError("marker.too_many", where="--marker", most=MOST, found=len(wanted))
    for marker in wanted:
        check_name(marker.name, [each.name for each in wanted], where="--marker")


def check_name(name: str, names: Sequence[str], *, where: str) -> None:
    """Refuse a duplicate name, or one that would be misread in the header of a trace.

    Raises
    ------
    CoachError
    """
    guess = read_name(f"{name} x (px)").channel
    plain = name and not set(name) & set(",;\t\"'=")
    if not plain or (guess.point, guess.axis, guess.quantity) != (name, "x", "position"):
        raise CoachError("marker.misread", where=where, name=name)
    if list(names).count(name) > 1:
        raise CoachError("marker.twice", where=where, name=name)


def _still_backdrop(views: Sequence[SearchImage], small: Sequence[NDArray[np.uint8]]) -> NDArray[np.uint8]:
    """Return the median picture after registering those of a shaken camera."""
    tracker = CameraTracker(small[0])
    laid = []
    for view, luma in zip(views, small, strict=True):
        dx, dy = _in_search(tracker.move(luma), view, luma)
        laid.append(view._replace(planes=tuple(np.roll(plane, (-dy, -dx), (0, 1)) for plane in view.planes)))
    return backdrop_of(laid)


def _search(
    film: Film,
    finders: Sequence[Finder],
    key: NDArray[np.uint8],
    shape: SearchImage,
    progress: Callable[[float], None] | None,
    warn: Warn | None,
) -> tuple[Floats, list[list[Spots]], CameraMotion]:
    """Search every picture; return times, the spots of each finder, and the camera's motion."""
    tracker = CameraTracker(key)
    times: list[float] = []
    moves: list[NDArray[np.float64]] = []
    spots: list[list[Spots]] = [[] for _ in finders]
    length = min(film.end, film.duration) - film.start
    for frame in read_frames(film, warn=warn):
        view = to_search_image(frame)
        luma = _small(view)
        move = tracker.move(luma)
        shift = _in_search(move, view, luma)
        for finder, found in zip(finders, spots, strict=True):
            found.append(finder.find(view, shift))
        times.append(frame.time)
        moves.append(move)
        if progress is not None and math.isfinite(length):
            progress(min(1.0, (frame.time - film.start) / length))
    factor = shape.planes[0].shape[1] / key.shape[1] * (film.width / shape.planes[0].shape[1])
    return np.array(times), spots, tracker.settle(enlarge(np.array(moves), factor), film.width, film.height)


def _small(view: SearchImage) -> NDArray[np.uint8]:
    import cv2

    rows, columns = view.planes[0].shape
    if columns <= _WATCH_WIDTH:
        return view.planes[0]
    size = (_WATCH_WIDTH, round(rows * _WATCH_WIDTH / columns))
    return np.asarray(cv2.resize(view.planes[0], size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _in_search(move: NDArray[np.float64], view: SearchImage, luma: NDArray[np.uint8]) -> tuple[int, int]:
    """Return the shift of the picture's centre in pixels of the search image, right and down."""
    middle = np.array([luma.shape[1] / 2, luma.shape[0] / 2])
    across, down = move[:, :2] @ middle + move[:, 2] - middle
    factor = view.planes[0].shape[1] / luma.shape[1]
    room = min(_MARGIN, SEARCH_WIDTH)
    return int(np.clip(round(across * factor), -room, room)), int(np.clip(round(down * factor), -room, room))


def _compensated(spots: Spots, move: NDArray[np.float64]) -> Spots:
    """Return the spots with camera motion compensated, less those cut by the picture's edge."""
    whole = ~spots.at_edge
    x, y = compensate(np.repeat(move[None], int(whole.sum()), axis=0), spots.x[whole], spots.y[whole])
    return Spots(x, y, spots.mass[whole], spots.peak[whole], spots.at_edge[whole], spots.spread[whole])


def _join_shown(
    times: Floats,
    spots: Sequence[Spots],
    shown: Sequence[tuple[float, float, float]],
    moves: NDArray[np.float64],
    *,
    markers: int,
    width: float,
) -> list[MarkerPath]:
    """Return paths of which one passes each given pixel; more paths than markers where others look alike."""
    tried: list[tuple[float, list[MarkerPath]]] = []
    for further in range(_ALIKE + 1 if shown else 1):
        followed = join_paths(times, spots, markers=markers + further, width=width)
        away = max((min(_from_pixel(path, at, times, moves) for path in followed) for at in shown), default=0.0)
        tried.append((away, followed))
        if away <= _AT_PIXEL * width:
            break
    return min(tried, key=lambda each: each[0])[1]


def _from_pixel(path: MarkerPath, at: tuple[float, float, float], times: Floats, moves: NDArray[np.float64]) -> float:
    """Return the distance of a path from a given pixel at its time."""
    frame = int(np.argmin(np.abs(times - at[0])))
    x, y = compensate(moves[frame : frame + 1], np.array([at[1]]), np.array([at[2]]))
    return _away(path, frame, float(x[0]), float(y[0]))


def _assign_paths(
    wanted: Sequence[MarkerSpec],
    mine: Sequence[int],
    followed: Sequence[MarkerPath],
    times: Floats,
    moves: NDArray[np.float64],
) -> list[tuple[int, MarkerPath]]:
    """Assign paths to markers: by a pixel where one is given, else from left to right in the order of names."""
    left = list(followed)
    out = []
    for k in sorted(mine, key=lambda k: wanted[k].at is None):
        if not left:
            break
        at = wanted[k].at
        chosen = 0
        if at is not None:
            chosen = int(np.argmin([_from_pixel(path, at, times, moves) for path in left]))
        out.append((k, left.pop(chosen)))
    return out


def _away(path: MarkerPath, frame: int, x: float, y: float) -> float:
    """Return the distance of a path from a pixel, in the nearest picture in which it was seen."""
    near = np.flatnonzero(~np.isnan(path.x))
    if not near.size:
        return math.inf
    at = near[np.argmin(np.abs(near - frame))]
    return float(np.hypot(path.x[at] - x, path.y[at] - y) + 5 * abs(int(at) - frame))


def _make_notes(
    wanted: Sequence[MarkerSpec], colours: Sequence[Colour], paths: Sequence[MarkerPath | None]
) -> list[Reason]:
    notes = []
    for marker, colour, path in zip(wanted, colours, paths, strict=True):
        if path is None or not (~np.isnan(path.x)).any():
            raise CoachError("marker.not_seen", where="--marker", marker=marker.name, colour=colour.name)
        if path.still:
            notes.append(Reason(Why.MARKER_STILL, (marker.name, path.still[:4])))
        if path.guessed:
            notes.append(Reason(Why.MARKER_GUESSED, (marker.name, tuple(path.guessed[:4]))))
    return notes


def _to_filmed(
    film: Film,
    times: Floats,
    wanted: Sequence[MarkerSpec],
    colours: Sequence[Colour],
    paths: Sequence[MarkerPath | None],
    moves: NDArray[np.float64],
    without: Sequence[tuple[float, float]],
    notes: Sequence[Reason],
) -> FilmTrace:
    channels, columns = [], []
    left_out = np.zeros(times.size, bool)
    for start, end in without:
        left_out |= (times >= start) & (times <= end)
    for marker, path in zip(wanted, paths, strict=True):
        assert path is not None  # _told has seen to it
        gap = left_out | (path.confidence < UNSURE)
        for axis, values in (("x", path.x), ("y", -path.y)):
            channels.append(Channel(f"{marker.name} {axis} (px)", "position", axis, marker.name, "px"))
            columns.append(np.where(gap, np.nan, values))
        channels.append(Channel(f"{marker.name} confidence", "other", "", f"{marker.name} confidence"))
        columns.append(np.where(left_out, 0.0, path.confidence))
    trace = Trace(times / film.slowed, np.column_stack(columns), channels, notes=notes)
    return FilmTrace(film, trace, tuple(colours), moves, tuple(notes))
