"""Movement in a film without a marker: the phase of what repeats, from the change of the picture.

The camera's motion is taken out, pictures a fifteenth of a second apart are compared, and what changes is matched with
its own mean cycle (:mod:`tempo_coach.observe.film.cycle_phase`). The trace that comes of it is a dial: it turns once a
cycle and is at its low point where a cycle begins. Its times are the movement's, its places are not.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.camera import extent_of
from tempo_coach.observe.film.change import LONG, STEPS, Change, Watcher, find_region
from tempo_coach.observe.film.colours import Colour
from tempo_coach.observe.film.cycle_phase import PhaseCurve, find_phase
from tempo_coach.observe.film.film_trace import FilmTrace
from tempo_coach.observe.film.marker_trace import check_name
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.film.camera import CameraMotion
    from tempo_coach.observe.film.frames import Film
    from tempo_coach.reasons import Warn
    from tempo_coach.times import Bools, Floats

    Box = tuple[float, float, float, float]

#: Most regions of a film.
MOST = 6
#: Seconds of a film beyond which its rows would take too much memory.
_MOST_SECONDS = 600.0
#: Likeness of a region to itself a period later from which something repeats there. Films in which nothing does stay
#: below it, see ``tests/benchmarks/bench_unmarked.py``.
REPEATS = 0.30
#: What the pictures a period apart have to be alike, and the largest SD of a mark's time, in periods.
_ALIKE, _SCATTERED = 0.35, 0.04
#: Largest motion of the camera in widths of the picture: what is followed has to stay in it.
_SWINGS = 0.4
#: Confidence: what moved is not known.
SUREST = 0.5
#: Longest stretch in periods over which an unsure phase is interpolated.
_BRIDGED = 0.25
#: Periods within which a movement's begin or end lies at a mark, as who begins and ends at the low point has one there:
#: by .14 the end that is seen may lie beside the true one.
_AT_MARK = 0.15


class Region(NamedTuple):
    """A region of the upright picture: name, upper left corner and size in pixels; found automatically where None."""

    name: str
    left: float = 0.0
    top: float = 0.0
    size: tuple[float, float] | None = None


class Followed(NamedTuple):
    """The repeating movements of one film.

    Parameters
    ----------
    curves : mapping of name to PhaseCurve
        On the film's clock.
    centres : mapping of name to (x, y)
        Where each moves, in pixels.
    camera : CameraMotion
        Its moves at the times of the pictures.
    picture_times : ndarray, shape (n,)
    notes : tuple of Reason
    """

    curves: Mapping[str, PhaseCurve]
    centres: Mapping[str, tuple[float, float]]
    camera: CameraMotion
    picture_times: Floats
    notes: tuple[Reason, ...]


def follow_motion(
    film: Film,
    parts: Sequence[Region],
    *,
    without: Sequence[tuple[float, float]] = (),
    progress: Callable[[float], None] | None = None,
    warn: Warn | None = None,
) -> FilmTrace:
    """Follow what repeats in regions of a film's picture.

    Parameters
    ----------
    film, parts, progress, warn
        As in :func:`follow_cycles`.
    without : sequence of (start, end)
        Stretches of the film's clock that become gaps.

    Returns
    -------
    FilmTrace
        One turn a cycle, with a confidence of 0.5, or of 0 where the phase is interpolated: where somebody walks
        through the picture the cycles go on and are not judged.

    Raises
    ------
    CoachError
        As :func:`follow_cycles`.
    """
    followed = follow_cycles(film, parts, progress=progress, warn=warn)
    channels, columns, errors = [], [], {}
    radius = 0.25 * min(film.width, film.height)
    curves = {name: _reach_marks(found) for name, found in followed.curves.items()}
    followed = followed._replace(curves=curves)
    for name, found in curves.items():
        time = found.time
        inside = np.flatnonzero(found.sure)
        known = (time >= time[inside[0]]) & (time <= time[inside[-1]])
        for start, end in without:
            known &= (time < start) | (time > end)
        sure = known & seen_of(found)
        turn = 2 * math.pi * found.phase
        x, y = followed.centres[name]
        for axis, values in (("x", x + radius * np.sin(turn)), ("y", -y - radius * np.cos(turn))):
            channels.append(Channel(f"{name} {axis} (px)", "position", axis, name, "px"))
            columns.append(np.where(known, values, np.nan))
        channels.append(Channel(f"{name} confidence", "other", "", f"{name} confidence"))
        columns.append(np.where(sure, SUREST, 0.0))  # what is only interpolated counts as a gap
        errors[name] = found.timing_sd / film.slowed if followed.camera.state != "unknown" else math.inf
    trace = Trace(time / film.slowed, np.column_stack(columns), channels, notes=followed.notes, timing_sd=errors)
    colours = tuple(Colour("movement", (128.0, 128.0, 128.0), sampled=True) for _ in parts)
    nearest = np.clip(np.searchsorted(followed.picture_times, time), 0, len(followed.picture_times) - 1)
    return FilmTrace(film, trace, colours, followed.camera.moves[nearest], followed.notes)


def follow_cycles(
    film: Film,
    parts: Sequence[Region],
    *,
    progress: Callable[[float], None] | None = None,
    warn: Warn | None = None,
) -> Followed:
    """Find the phase of what repeats in regions of a film's picture.

    Parameters
    ----------
    film : Film
    parts : sequence of Region
        One to six.
    progress, warn : callable or None

    Raises
    ------
    CoachError
        If a part lies outside the picture, nothing moves or repeats in it, or the film cannot be read.
    """
    if not 1 <= len(parts) <= MOST:
        raise CoachError("part.too_many", where="--part", most=MOST, found=len(parts))
    for part in parts:
        check_name(part.name, [each.name for each in parts], where="--part")
    boxes = [_box(film, part) for part in parts]
    watched = list(dict.fromkeys(boxes))
    found = watch_film(film, watched, long=LONG, most_s=_MOST_SECONDS, progress=progress, warn=warn)
    curves, centres = {}, {}
    for part, box in zip(parts, boxes, strict=True):
        change = found.change(watched.index(box))
        pictures = change.rows.reshape(-1, *change.shape)
        check_moves(pictures, part.name)
        curve = find_curve(change.time / film.slowed, pictures, None if part.size is None else WHOLE)
        if curve is None:
            raise CoachError("part.no_cycles", where=film.path, part=None if part.size is None else part.name)
        curves[part.name] = curve.phase._replace(time=change.time)
        left, top, right, bottom = box
        x, y = curve.centre
        centres[part.name] = (left + x * (right - left)) * film.width, (top + y * (bottom - top)) * film.height
    return Followed(curves, centres, found.camera, np.array(found.watcher.picture_times), found.notes)


class Watched(NamedTuple):
    """A film that was read: its regions' changes, the camera's moves at the times of the pictures, notes."""

    watcher: Watcher
    camera: CameraMotion
    notes: tuple[Reason, ...]

    @property
    def steadied(self) -> bool:
        """Whether the camera's motion is taken out."""
        return self.camera.state == "moved"

    def change(self, k: int) -> Change:
        """Return the change of the region with this number."""
        return self.watcher.change(k, steadied=self.steadied)


def watch_film(
    film: Film,
    boxes: Sequence[Box],
    *,
    long: int,
    most_s: float,
    keep: int | None = None,
    progress: Callable[[float], None] | None,
    warn: Warn | None,
) -> Watched:
    """Read a film once.

    Parameters
    ----------
    film, boxes, keep
        As of :class:`~tempo_coach.observe.film.change.Watcher`.
    long : int
        Pixels of the longer side at which each region is watched.
    most_s : float
        Longest film in seconds.

    Raises
    ------
    CoachError
        If it is too long, has too few pictures, or the camera swings.
    """
    if min(film.end, film.duration) - film.start > most_s * film.slowed:
        raise CoachError("film.too_long_unmarked", where=film.path, most_s=most_s)
    watcher = Watcher(film, boxes, long=[long] * len(boxes), keep=keep)
    watcher.watch(progress, warn)
    if len(watcher.times) < 3:
        raise CoachError("part.few_pictures", where=film.path)
    motion = watcher.tracker.settle(watcher.moves, film.width, film.height)
    swing = extent_of(motion.moves, film.width, film.height)
    if swing > _SWINGS * film.width:
        raise CoachError("part.camera_swings", where=film.path, share=swing / film.width, most=_SWINGS)
    notes = [*film.notes, Reason(Why.NO_MARKER)]
    if motion.state == "moved":
        notes.append(Reason(Why.CAMERA_MOVED, (swing,)))
    if motion.state == "unknown":
        notes.append(Reason(Why.CAMERA_UNKNOWN_UNMARKED))
    notes += [Reason(Why.PICTURE_RATE, (film.real_rate_hz,)), Reason(Why.ROLLING_SHUTTER)]
    return Watched(watcher, motion, tuple(notes))


def _box(film: Film, part: Region) -> Box:
    """Left, top, right and bottom as shares of the picture."""
    width, height = part.size or (film.width - part.left, film.height - part.top)
    right, bottom = part.left + width, part.top + height
    if not (0 <= part.left < right <= film.width and 0 <= part.top < bottom <= film.height):
        raise CoachError(
            "part.outside",
            where="--part",
            columns=film.width,
            rows=film.height,
            left=part.left,
            top=part.top,
            width=width,
            height=height,
        )
    if min(width / film.width, height / film.height) < 0.05:
        raise CoachError("part.too_small", where="--part", part=part.name)
    return part.left / film.width, part.top / film.height, right / film.width, bottom / film.height


def check_moves(pictures: NDArray[np.uint8], name: str) -> None:
    """Refuse pictures of change, shape (n, h, w), in which nothing moves."""
    if pictures.max(axis=(1, 2)).astype(float).mean() < STEPS:
        raise CoachError("part.still", where="--part", part=name)


class Curve(NamedTuple):
    """What repeats in pictures of change: its phase, the part of them it was found in, its centre as shares of them."""

    phase: PhaseCurve
    pictures: NDArray[np.uint8]
    centre: tuple[float, float]


#: All of the pictures instead of where something repeats.
WHOLE = np.s_[:, :]


def find_curve(seconds: Floats, pictures: NDArray[np.uint8], part: tuple[slice, slice] | None = None) -> Curve | None:
    """Return the phase of what repeats, cycles beginning where it is lowest; None where nothing does.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
    pictures : ndarray, shape (n, h, w)
        How each pixel changes.
    part : two slices or None
        Rows and columns in which it is; None: where something repeats.
    """
    high, wide = pictures.shape[1:]
    x0, y0, x1, y1, likeness = find_region(seconds, pictures)
    if likeness < REPEATS:
        return None
    rows, columns = part or (slice(y0, y1), slice(x0, x1))
    pictures = pictures[:, rows, columns]
    found = find_phase(seconds, pictures.reshape(len(pictures), -1))
    if found is None or found.likeness < _ALIKE or found.timing_sd > _SCATTERED * found.period:
        return None
    weight = pictures.astype(np.float64).sum(axis=0)
    total = max(float(weight.sum()), 1e-9)
    x = float((weight.sum(axis=0) * np.arange(weight.shape[1])).sum() / total) + (columns.start or 0)
    y = float((weight.sum(axis=1) * np.arange(weight.shape[0])).sum() / total) + (rows.start or 0)
    return Curve(_begin_at_lowest(found, pictures), pictures, ((x + 0.5) / wide, (y + 0.5) / high))


def seen_of(found: PhaseCurve) -> Bools:
    """Return at which times of a curve its phase was observed, short gaps included."""
    inside = np.flatnonzero(found.sure)
    between = (found.time >= found.time[inside[0]]) & (found.time <= found.time[inside[-1]])
    return np.asarray(between & _bridge(found))


def _begin_at_lowest(found: PhaseCurve, pictures: NDArray[np.uint8]) -> PhaseCurve:
    """Shift the phase so that cycles begin where the movement is lowest: the first harmonic of its height."""
    rows = pictures.sum(axis=2, dtype=np.float64)
    total = rows.sum(axis=1)
    used = found.sure & (total > 0.1 * np.median(total[found.sure]))
    if used.sum() < 8:
        return found
    height = (rows[used] * np.arange(rows.shape[1])).sum(axis=1) / total[used]
    first = complex(np.sum((height - height.mean()) * np.exp(-2j * np.pi * found.phase[used])))
    return found._replace(phase=found.phase + float(np.angle(first)) / (2 * math.pi))


def _reach_marks(found: PhaseCurve) -> PhaseCurve:
    """Extend the phase slightly beyond the movement's ends, so that marks there are not lost."""
    inside = np.flatnonzero(found.sure)
    first, last = (float(found.phase[k]) for k in inside[[0, -1]])
    sure = found.sure.copy()
    if abs(first - round(first)) <= _AT_MARK:
        sure[: inside[0]] |= found.phase[: inside[0]] >= round(first) - _AT_MARK
    if abs(last - round(last)) <= _AT_MARK:
        sure[inside[-1] :] |= found.phase[inside[-1] :] <= round(last) + _AT_MARK
    return found._replace(sure=sure)


def _bridge(found: PhaseCurve) -> Bools:
    """Return where the phase is known, short gaps included."""
    known = found.sure.copy()
    step = float(np.median(np.diff(found.time)))
    edges = np.flatnonzero(np.diff(np.concatenate([[True], known, [True]]).astype(int)))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if first > 0 and last < known.size and (last - first) * step < _BRIDGED * found.period:
            known[first:last] = True
    return known
