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
from tempo_coach.observe.film.common_phase import find_shifts
from tempo_coach.observe.film.cycle_phase import PhaseCurve, find_phase
from tempo_coach.observe.film.film_trace import FilmTrace
from tempo_coach.observe.film.marker_trace import check_name
from tempo_coach.observe.film.own_places import watch_places
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
#: Pixels of the longer side at which a picture of several gymnasts is watched, and by how much less than beside her
#: something above or below a gymnast is another one's: she is taller than wide.
_LONG_OF_ALL, _TALL = 480, 0.5
#: A place is on nobody where its surroundings, of this share of the picture's longer side, change by less than this
#: share of what changes most in her region, and so does all above and below it, or what moves lies more than so many of
#: its SDs beside it. On her chest the first is .31 at least and the last 1.7 at most, on a wall between two 0 and 3.1
#: (films of ``tests/benchmarks/bench_team.py``, seed 9200).
_AROUND_PLACE, _UNMOVED, _BESIDE = 0.02, 0.05, 2.5
#: Share of the picture's width within which two places are one.
_ONE_PLACE = 0.02
#: Shortest beginning of a film, in seconds, in which a gymnast is followed.
_LEAST_SECONDS = 3.0
#: Seconds of a film beyond which its rows would take too much memory; of several gymnasts they are four times as long.
_MOST_SECONDS, _MOST_SECONDS_OF_ALL = 600.0, 240.0
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
    """A region of the upright picture: name, upper left corner and size in pixels; found automatically where None.

    ``at`` is a place on one of several gymnasts in the first picture, in pixels: what moves nearer to her than to the
    others is hers.
    """

    name: str
    left: float = 0.0
    top: float = 0.0
    size: tuple[float, float] | None = None
    at: tuple[float, float] | None = None


class Followed(NamedTuple):
    """The repeating movements of one film.

    Parameters
    ----------
    curves : mapping of name to PhaseCurve
        On the film's clock. Of several gymnasts who were shown each by a place they have one phase, that of the first.
    centres : mapping of name to (x, y)
        Where each moves, in pixels.
    alike : mapping of name to float
        How alike each one's movement is to that of all, -1 to 1; NaN of regions.
    covered : mapping of name to tuple of (start, end)
        Stretches of the film's clock in which a gymnast was away from her place or hidden; a curve ends where it is no
        longer known who stands there.
    camera : CameraMotion
        Its moves at the times of the pictures.
    picture_times : ndarray, shape (n,)
    notes : tuple of Reason
    """

    curves: Mapping[str, PhaseCurve]
    centres: Mapping[str, tuple[float, float]]
    alike: Mapping[str, float]
    covered: Mapping[str, tuple[tuple[float, float], ...]]
    camera: CameraMotion
    picture_times: Floats
    notes: tuple[Reason, ...]

    def seen(self, name: str) -> Bools:
        """Return at which times of a curve its phase was observed, short gaps included."""
        found = self.curves[name]
        inside = np.flatnonzero(found.sure)
        between = (found.time >= found.time[inside[0]]) & (found.time <= found.time[inside[-1]])
        return np.asarray(between & _bridge(found))


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
        sure = known & followed.seen(name)
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
    places = _places(film, parts)
    most = _MOST_SECONDS_OF_ALL if len(places) else _MOST_SECONDS
    if min(film.end, film.duration) - film.start > most * film.slowed:
        raise CoachError("film.too_long_unmarked", where=film.path, most_s=most)
    long = [LONG if part.at is None else _LONG_OF_ALL for part in parts]
    watched = list(dict.fromkeys(zip(boxes, long, strict=True)))  # all gymnasts are seen in one picture
    keep = next((k for k, (_, side) in enumerate(watched) if side == _LONG_OF_ALL), None)
    watcher = Watcher(film, [box for box, _ in watched], long=[side for _, side in watched], keep=keep)
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
    curves, centres, gymnasts, covered = {}, {}, {}, {}
    known = _watch_places(watcher, places, film, steadied=motion.state == "moved")
    for part, box, side in zip(parts, boxes, long, strict=True):
        change = watcher.change(watched.index((box, side)), steadied=motion.state == "moved")
        until, covered[part.name] = known.get(part.at, (math.inf, ()))
        change = _before(change, until, part, film, notes)
        found, pictures, centres[part.name] = _find_cycles(change, part, box, film, others=places)
        curves[part.name] = _begin_at_lowest(found, pictures)
        if part.at is not None:
            gymnasts[part.name] = pictures
    _check_known(min(known.values(), default=(math.inf, ()))[0], film)  # a place on nobody was told first
    alike = dict.fromkeys(curves, math.nan)
    if len(gymnasts) > 1:
        shifts = find_shifts([(curves[name].phase, curves[name].sure, of_her) for name, of_her in gymnasts.items()])
        for name, shift, like in zip(gymnasts, shifts.cycles.tolist(), shifts.likeness.tolist(), strict=True):
            curves[name] = curves[name]._replace(phase=curves[name].phase - shift)
            alike[name] = like
    return Followed(curves, centres, alike, covered, motion, np.array(watcher.picture_times), tuple(notes))


def _places(film: Film, parts: Sequence[Region]) -> NDArray[np.float64]:
    """Return the positions of the gymnasts, shape (n, 2), in pixels."""
    shown = [(part.name, part.at) for part in parts if part.at is not None]
    for k, (name, (x, y)) in enumerate(shown):
        if not (0 <= x < film.width and 0 <= y < film.height):
            raise CoachError("pixel.outside", where=name, columns=film.width, rows=film.height, x_px=x, y_px=y)
        for other, (x_other, y_other) in shown[:k]:
            if math.hypot(x - x_other, _TALL * (y - y_other)) < _ONE_PLACE * film.width:
                raise CoachError("part.one_place", where=name, other=other)
    return np.array([at for _, at in shown], dtype=np.float64).reshape(-1, 2)


def _before(change: Change, until: float, part: Region, film: Film, notes: list[Reason]) -> Change:
    """Return the change of the picture while it is known who stands in a place, and note from when on it is not."""
    if not film.start + _LEAST_SECONDS * film.slowed <= until < math.inf:
        return change
    notes.append(Reason(Why.NOT_KNOWN_WHO, (until / film.slowed, part.name)))
    return Change(change.time[change.time < until], change.rows[change.time < until], change.shape)


def _check_known(until: float, film: Film) -> None:
    if until < film.start + _LEAST_SECONDS * film.slowed:
        raise CoachError("part.not_known_who", where=film.path, from_s=until / film.slowed)


def _watch_places(
    watcher: Watcher, places: NDArray[np.float64], film: Film, *, steadied: bool
) -> dict[tuple[float, float] | None, tuple[float, tuple[tuple[float, float], ...]]]:
    """Return by place until when it is known who stands there, and when she is covered, on the film's clock."""
    at = [(float(x), float(y)) for x, y in places]
    if len(at) < 2:
        return {}
    time, pictures = watcher.small(steadied=steadied)
    nearest = np.array([_nearest(place, places, pictures.shape[1:], film) for place in at])
    kept = watch_places(time / film.slowed, pictures, nearest)
    return {
        place: (until * film.slowed, tuple((start * film.slowed, end * film.slowed) for start, end in covered))
        for place, until, covered in zip(at, kept.until, kept.covered, strict=True)
    }


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


def _find_cycles(
    change: Change, part: Region, box: Box, film: Film, *, others: NDArray[np.float64]
) -> tuple[PhaseCurve, NDArray[np.uint8], tuple[float, float]]:
    """Return the phase of what repeats in a region, its pictures, and its centre in pixels of the film."""
    high, wide = change.shape
    pictures = change.rows.reshape(-1, high, wide)
    if part.at is not None:
        pictures = pictures * _nearest(part.at, others, change.shape, film)
    if pictures.max(axis=(1, 2)).astype(float).mean() < STEPS:
        raise CoachError("part.still", where="--part", part=part.name)
    chosen = part.size is not None
    x0, y0, x1, y1, likeness = find_region(change.time / film.slowed, pictures)
    if part.at is not None and _is_beside(part.at, pictures, (x0, y0, x1, y1), film):
        raise CoachError("part.on_nobody", where=part.name, x_px=part.at[0], y_px=part.at[1])
    if chosen:
        x0, y0 = 0, 0
    else:
        pictures = pictures[:, y0:y1, x0:x1]
    found = None
    if likeness >= REPEATS:
        found = find_phase(change.time / film.slowed, pictures.reshape(len(pictures), -1))
    if found is None or found.likeness < _ALIKE or found.timing_sd > _SCATTERED * found.period:
        named = chosen or part.at is not None
        raise CoachError("part.no_cycles", where=film.path, part=part.name if named else None)
    weight = pictures.astype(np.float64).sum(axis=0)
    total = max(float(weight.sum()), 1e-9)
    x = float((weight.sum(axis=0) * np.arange(weight.shape[1])).sum() / total) + x0
    y = float((weight.sum(axis=1) * np.arange(weight.shape[0])).sum() / total) + y0
    left, top, right, bottom = box
    centre = ((left + (x + 0.5) / wide * (right - left)) * film.width,
              (top + (y + 0.5) / high * (bottom - top)) * film.height)  # fmt: skip
    return found._replace(time=change.time), pictures, centre


def _nearest(
    at: tuple[float, float], places: NDArray[np.float64], shape: tuple[int, ...], film: Film
) -> NDArray[np.uint8]:
    """Return a mask of the pixels that are nearer to one position than to all others."""
    y, x = np.indices(shape)
    pixels = np.stack([(x + 0.5) / shape[1] * film.width, (y + 0.5) / shape[0] * film.height], axis=-1)
    far = np.hypot(*np.moveaxis((pixels[:, :, None] - places) * (1, _TALL), -1, 0))
    own = np.hypot(*np.moveaxis((pixels - np.array(at)) * (1, _TALL), -1, 0))
    return np.asarray(own <= far.min(axis=2) + 1e-9, dtype=np.uint8)


def _is_beside(
    at: tuple[float, float], pictures: NDArray[np.uint8], box: tuple[int, int, int, int], film: Film
) -> bool:
    """Return whether nothing moves at a place while something nearby does: a wall between two gymnasts."""
    high, wide = pictures.shape[1:]
    x, y = at[0] / film.width * wide, at[1] / film.height * high
    change = pictures.mean(axis=0, dtype=np.float64)
    down, across = np.indices(change.shape) + 0.5
    room = max(1.5, _AROUND_PLACE * max(high, wide))
    near = change[np.hypot(across - x, down - y) <= room]
    if near.mean() >= _UNMOVED * float(np.percentile(change[change > 0], 98)):
        return False
    x0, y0, x1, y1 = box
    columns, place = change[y0:y1, x0:x1].sum(axis=0), np.arange(x0, x1) + 0.5
    here = columns[np.abs(place - x) <= room]
    if not here.size or here.mean() < _UNMOVED * columns.max():
        return True
    middle = float((columns * place).sum() / columns.sum())
    spread = math.sqrt(float((columns * (place - middle) ** 2).sum() / columns.sum()))
    return bool(abs(x - middle) > _BESIDE * spread)


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
