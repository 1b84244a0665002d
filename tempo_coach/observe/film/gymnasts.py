"""Gymnasts in one film of all: each followed from a place on her, as far as it is known who is who.

Where some leave their places, all who stand after it are found and numbered, so that one picture may ask which of them
is whom; what is answered begins another stretch of the film, with places of its own.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.after_crossing import find_standing_again
from tempo_coach.observe.film.change import find_region
from tempo_coach.observe.film.common_phase import find_shifts
from tempo_coach.observe.film.marker_trace import check_name
from tempo_coach.observe.film.motion import MOST, check_moves, find_curve, seen_of, watch_film
from tempo_coach.observe.film.own_places import Places, find_nearest_pixels, measure_apart, watch_places
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.film.camera import CameraMotion
    from tempo_coach.observe.film.cycle_phase import PhaseCurve
    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.film.motion import Curve, Watched
    from tempo_coach.reasons import Warn
    from tempo_coach.times import Bools, Floats

    Spot = tuple[float, float]

#: The whole picture, and pixels of its longer side at which it is watched.
_ALL, _LONG = (0.0, 0.0, 1.0, 1.0), 480
#: A place is on nobody where its surroundings, of this share of the picture's longer side, change by less than this
#: share of what changes most in her region, and so does all above and below it, or what moves lies more than so many of
#: its SDs beside it. On her chest the first is .31 at least and the last 1.7 at most, on a wall between two 0 and 3.1
#: (films of ``tests/benchmarks/bench_team.py``, seed 9200).
_AROUND_PLACE, _UNMOVED, _BESIDE = 0.02, 0.05, 2.5
#: Share of the picture's width within which two places are one.
_ONE_PLACE = 0.02
#: Shortest stretch of a film, in seconds, in which gymnasts are followed.
_LEAST_SECONDS = 3.0
#: Seconds of a film beyond which its rows would take too much memory.
_MOST_SECONDS = 240.0


class Gymnast(NamedTuple):
    """A gymnast, and a place on her in the first picture, in pixels: what moves nearer to it than to others is hers."""

    name: str
    at: Spot


class FilmStretch(NamedTuple):
    """A stretch of a film in which it is known who is who.

    Parameters
    ----------
    start, end : float
        On the film's clock; infinite at the film's ends.
    curves : mapping of name to PhaseCurve
        One phase for all, that of the first gymnast. A curve ends where it is no longer known who stands there.
    alike : mapping of name to float
        How alike each one's movement is to that of all, -1 to 1.
    covered : mapping of name to tuple of (start, end)
        Stretches in which each was away from her place or hidden.
    """

    start: float
    end: float
    curves: Mapping[str, PhaseCurve]
    alike: Mapping[str, float]
    covered: Mapping[str, tuple[tuple[float, float], ...]]

    def seen(self, name: str) -> Bools:
        """Return at which times of a curve its phase was observed, short gaps included."""
        return seen_of(self.curves[name])


class Crossing(NamedTuple):
    """A moment after some have left their places, all of whom stand again.

    Parameters
    ----------
    since : float
        On the film's clock.
    standing : tuple of (x, y)
        Where somebody stands, from left to right, in pixels of the picture at that moment.
    kept : mapping of name to int
        Who kept her place, and her number in ``standing``, from 1.
    unknown : tuple of str
        Who is one of the others.
    """

    since: float
    standing: tuple[Spot, ...]
    kept: Mapping[str, int]
    unknown: tuple[str, ...]


class FollowedGroup(NamedTuple):
    """Gymnasts through a film: its stretches, the crossings between them and one more that nobody has answered."""

    stretches: tuple[FilmStretch, ...]
    crossings: tuple[Crossing, ...]
    camera: CameraMotion
    notes: tuple[Reason, ...]


class _Part(NamedTuple):
    """A stretch as it is followed: each one's own phase still, and stretches (start, end) in which she was covered."""

    start: float
    end: float
    curves: Mapping[str, Curve]
    covered: Mapping[str, tuple[tuple[float, float], ...]]


def follow_gymnasts(
    film: Film,
    gymnasts: Sequence[Gymnast],
    *,
    answers: Sequence[Mapping[str, int]] = (),
    progress: Callable[[float], None] | None = None,
    warn: Warn | None = None,
) -> FollowedGroup:
    """Find the phase of what each gymnast repeats.

    Parameters
    ----------
    film : Film
    gymnasts : sequence of Gymnast
        One to six.
    answers : sequence of mappings of name to int
        Who is who after each crossing, by the numbers in its picture; who kept her place need not be named, and who is
        in no answer has left the film.
    progress, warn : callable or None

    Raises
    ------
    CoachError
        If a place is on nobody, nothing repeats there, an answer cannot be meant, or the film cannot be read.
    """
    _check(film, gymnasts)
    watched = watch_film(film, [_ALL], long=_LONG, keep=0, most_s=_MOST_SECONDS, progress=progress, warn=warn)
    notes, places = list(watched.notes), {one.name: one.at for one in gymnasts}
    parts: list[_Part] = []
    crossings: list[Crossing] = []
    start = -math.inf
    while True:
        known = _watch_places(watched, places, film, start)
        until = min(known.until, default=math.inf)
        found = None if math.isinf(until) else _find_crossing(watched, places, known, film, start)
        answer = answers[len(crossings)] if found and len(answers) > len(crossings) else None
        end = found.since if found and answer is not None else math.inf
        of_each = dict(zip(places, known.until, strict=True))
        if answer is None:
            notes += [Reason(Why.NOT_KNOWN_WHO, (at / film.slowed, name)) for name, at in of_each.items() if at < end]
        curves, nothing = _follow(watched, places, {name: min(at, end) for name, at in of_each.items()}, film, start)
        notes += nothing
        parts.append(_Part(start, end, curves, dict(zip(places, known.covered, strict=True))))
        if start == -math.inf:  # a place on nobody was told first
            _check_known(until, film)
        if found:
            crossings.append(found)
        if found is None or answer is None:
            break
        standing = _whom(answer, found, f"--after-crossing, {len(crossings)}")
        back = _back(watched, found.since)
        places = {name: back(found.standing[number - 1]) for name, number in standing.items()}
        start = found.since
    if len(answers) > len(crossings):
        raise CoachError("crossing.none", where="--after-crossing", found=len(answers), crossings=len(crossings))
    return FollowedGroup(_with_one_phase(parts), tuple(crossings), watched.camera, tuple(notes))


def _check(film: Film, gymnasts: Sequence[Gymnast]) -> None:
    if not 1 <= len(gymnasts) <= MOST:
        raise CoachError("part.too_many", where="--part", most=MOST, found=len(gymnasts))
    at = np.array([one.at for one in gymnasts])
    apart = measure_apart(at, at)
    for k, (name, (x, y)) in enumerate(gymnasts):
        check_name(name, [one.name for one in gymnasts], where="--part")
        if not (0 <= x < film.width and 0 <= y < film.height):
            raise CoachError("pixel.outside", where=name, columns=film.width, rows=film.height, x_px=x, y_px=y)
        for other, far in zip(gymnasts[:k], apart[k], strict=False):
            if far < _ONE_PLACE * film.width:
                raise CoachError("part.one_place", where=name, other=other.name)


def _check_known(until: float, film: Film) -> None:
    if until < film.start + _LEAST_SECONDS * film.slowed:
        raise CoachError("part.not_known_who", where=film.path, from_s=until / film.slowed)


def _small(watched: Watched, start: float) -> tuple[Floats, NDArray[np.uint8]]:
    """Return times and small pictures from a moment of the film's clock on."""
    time, pictures = watched.watcher.small(steadied=watched.steadied)
    return time[time >= start], pictures[time >= start]


def _watch_places(watched: Watched, places: Mapping[str, Spot], film: Film, start: float) -> Places:
    """Return until when it is known who stands in each place, and when she is covered, on the film's clock."""
    time, pictures = _small(watched, start)
    if len(places) < 2:
        return Places((math.inf,) * len(places), ((),) * len(places))
    nearest = find_nearest_pixels(_at(places), pictures.shape[1:], (film.width, film.height))
    kept = watch_places(time / film.slowed, pictures, nearest)
    covered = tuple(tuple((a * film.slowed, b * film.slowed) for a, b in each) for each in kept.covered)
    return Places(tuple(until * film.slowed for until in kept.until), covered)


def _find_crossing(
    watched: Watched, places: Mapping[str, Spot], known: Places, film: Film, start: float
) -> Crossing | None:
    """Return where all stand again after the first have left their places; None where the film is over before."""
    time, pictures = _small(watched, start)
    scale = np.array(pictures.shape[:0:-1]) / (film.width, film.height)
    at = _at(places)
    found = find_standing_again(time / film.slowed, pictures, min(known.until) / film.slowed, at * scale)
    if found is None or film.slowed * found.since > time[-1] - _LEAST_SECONDS * film.slowed:
        return None
    since = film.slowed * found.since
    spots = found.at / scale
    # who kept her place is the one that is nearest to it
    far = measure_apart(at, spots)
    kept = {name: int(far[k].argmin()) + 1 for k, name in enumerate(places) if known.until[k] > since}
    move = _move_at(watched, since)
    shown = spots @ move[:, :2].T + move[:, 2]
    unknown = tuple(name for name in places if name not in kept)
    return Crossing(since, tuple((float(x), float(y)) for x, y in shown), kept, unknown)


def _at(places: Mapping[str, Spot]) -> NDArray[np.float64]:
    """Return places as rows of across and down, in pixels."""
    return np.array(list(places.values())).reshape(-1, 2)


def _move_at(watched: Watched, time: float) -> NDArray[np.float64]:
    """Return the camera's move from the first picture to the one at a time."""
    times = np.array(watched.watcher.picture_times)
    return np.asarray(watched.camera.moves[min(int(np.searchsorted(times, time)), len(times) - 1)])


def _back(watched: Watched, time: float) -> Callable[[Spot], Spot]:
    """Return the way from the pixels of the picture at a time to those of the first one."""
    move = _move_at(watched, time)

    def back(at: Spot) -> Spot:
        x, y = np.linalg.solve(move[:, :2], np.array(at) - move[:, 2])
        return float(x), float(y)

    return back


def _whom(answer: Mapping[str, int], crossing: Crossing, where: str) -> dict[str, int]:
    """Return the number of each gymnast after a crossing."""
    names = [*crossing.kept, *crossing.unknown]
    for name, number in answer.items():
        if name not in names:
            raise CoachError("crossing.nobody", where=where, found=name, members=names)
        if not 1 <= number <= len(crossing.standing):
            raise CoachError("crossing.number", where=where, found=number, most=len(crossing.standing))
    # a number that was given to another one is not hers, wherever she was seen
    kept = {name: number for name, number in crossing.kept.items() if number not in answer.values()}
    out = kept | dict(answer)
    twice = next((number for number in out.values() if list(out.values()).count(number) > 1), None)
    if twice is not None:
        raise CoachError("crossing.twice", where=where, number=twice)
    return {name: out[name] for name in names if name in out}


def _follow(
    watched: Watched,
    places: Mapping[str, Spot],
    until: Mapping[str, float],
    film: Film,
    start: float,
) -> tuple[dict[str, Curve], list[Reason]]:
    """Return what each gymnast repeats from a moment until another, and who, in a later stretch, repeats nothing."""
    change = watched.change(0)
    least, out, nothing = _LEAST_SECONDS * film.slowed, {}, []
    nearest = find_nearest_pixels(_at(places), change.shape, (film.width, film.height))
    for (name, place), mask in zip(places.items(), nearest, strict=True):
        # where she is not known from the begin on, it is told by what comes after
        end = until[name] if start > -math.inf or until[name] >= film.start + least else math.inf
        inside = (change.time >= start) & (change.time < end)
        if end - start < least:
            continue
        pictures = change.rows[inside].reshape(-1, *change.shape) * mask
        seconds = change.time[inside] / film.slowed
        try:
            curve = _find_hers(seconds, pictures, Gymnast(name, place), film)
        except CoachError:
            if start == -math.inf:
                raise
            nothing.append(Reason(Why.NOTHING_AFTER_CROSSING, (start / film.slowed, name)))
            continue
        out[name] = curve._replace(phase=curve.phase._replace(time=change.time[inside]))
    return out, nothing


def _find_hers(seconds: Floats, pictures: NDArray[np.uint8], gymnast: Gymnast, film: Film) -> Curve:
    check_moves(pictures, gymnast.name)
    if _is_beside(gymnast.at, seconds, pictures, film):
        raise CoachError("part.on_nobody", where=gymnast.name, x_px=gymnast.at[0], y_px=gymnast.at[1])
    found = find_curve(seconds, pictures)
    if found is None:
        raise CoachError("part.no_cycles", where=film.path, part=gymnast.name)
    return found


def _with_one_phase(parts: Sequence[_Part]) -> tuple[FilmStretch, ...]:
    """Return stretches in which all gymnasts have the phase that the first one has in the first."""
    every = [curve for part in parts for curve in part.curves.values()]
    shifts = find_shifts([(one.phase.phase, one.phase.sure, one.pictures) for one in every]) if len(every) > 1 else None
    out, k = [], 0
    for part in parts:
        moved, alike = {}, {}
        for name, curve in part.curves.items():
            by, like = (0.0, math.nan) if shifts is None else (shifts.cycles[k], float(shifts.likeness[k]))
            moved[name], alike[name] = curve.phase._replace(phase=curve.phase.phase - by), like
            k += 1
        out.append(FilmStretch(part.start, part.end, moved, alike, part.covered))
    return tuple(out)


def _is_beside(at: Spot, seconds: Floats, pictures: NDArray[np.uint8], film: Film) -> bool:
    """Return whether nothing moves at a place while something nearby does: a wall between two gymnasts."""
    high, wide = pictures.shape[1:]
    x, y = at[0] / film.width * wide, at[1] / film.height * high
    change = pictures.mean(axis=0, dtype=np.float64)
    down, across = np.indices(change.shape) + 0.5
    room = max(1.5, _AROUND_PLACE * max(high, wide))
    near = change[np.hypot(across - x, down - y) <= room]
    if near.mean() >= _UNMOVED * float(np.percentile(change[change > 0], 98)):
        return False
    x0, y0, x1, y1, _ = find_region(seconds, pictures)
    columns, place = change[y0:y1, x0:x1].sum(axis=0), np.arange(x0, x1) + 0.5
    here = columns[np.abs(place - x) <= room]
    if not here.size or here.mean() < _UNMOVED * columns.max():
        return True
    middle = float((columns * place).sum() / columns.sum())
    spread = math.sqrt(float((columns * (place - middle) ** 2).sum() / columns.sum()))
    return bool(abs(x - middle) > _BESIDE * spread)
