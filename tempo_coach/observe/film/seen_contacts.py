"""The delay between a film's sound and its picture, from claps or bounces that are both heard and seen.

What meets something stops or turns within a picture: as functions of time the pictures have a kink there, in many of
their pixels at once. Pictures around each sound are reduced to a few components, and the kink is placed between
pictures where two smooth courses that meet there fit best. A single one may be something else; several at one distance
from their sounds are not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.camera import CameraTracker
from tempo_coach.observe.film.frames import read_film_sound, read_frames
from tempo_coach.observe.sound.detector import find_onsets
from tempo_coach.observe.sound.kinds import make_detector

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from tempo_coach.observe.film.frames import Film
    from tempo_coach.reasons import Warn
    from tempo_coach.times import Floats

#: Least contacts, and the most that are looked at, the clearest in the sound first.
LEAST, MOST = 3, 12
#: Longest delay of phones that is looked for, and seconds around a sound of which pictures are kept.
_LONGEST, _AROUND = 0.20, 0.45
#: Seconds before and after a kink over which its courses are smooth, and least pictures of each.
_BEFORE, _AFTER, _PICTURES = 0.17, 0.10, 3
#: Width of the pictures in which the camera is followed, of those that are looked at, and components kept of these.
_WATCHED, _WIDE, _COMPONENTS = 480, 40, 5
#: Delays that are tried.
DELAYS = np.arange(-_LONGEST, _LONGEST + 1e-9, 0.002)
#: Distance within which delays agree and beyond which one is another (s), the least height of a kink that counts, the
#: least share of the sounds that have one, the largest SD (s), and the height of another delay, relative to the best.
_AGREE, _BESIDE, _STRONG, _SHARE, _SCATTER, _LEAD = 0.03, 0.05, 0.4, 0.6, 0.02, 0.8


class SeenContacts(NamedTuple):
    """The measured delay of a film's picture behind its sound.

    Parameters
    ----------
    delay : float
        Seconds by which the picture's times lie behind the sound's: seen less heard.
    error : float
        Standard error of it, in seconds.
    heard : ndarray, shape (n,)
        The contacts that it rests on, on the film's clock, as heard.
    """

    delay: float
    error: float
    heard: Floats


def find_delay(
    film: Film, *, warn: Warn | None = None, progress: Callable[[float], None] | None = None
) -> SeenContacts:
    """Find the delay between sound and picture of a film in which somebody claps at least three times.

    Parameters
    ----------
    film : Film
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If the film has no sound or shows slow motion, or fewer than three contacts are both heard and seen.
    """
    if film.slowed != 1:
        raise CoachError("clap.slowed", where=film.path)
    if not film.has_sound:
        raise CoachError("clap.silent", where=film.path)
    sound, begin = read_film_sound(film, warn=warn)
    found = find_onsets(sound, make_detector("clap", closest=0.3))
    clearest = np.sort(np.argsort(-found.rise, kind="stable")[:MOST])
    heard = begin + found.time[clearest]
    if heard.size < LEAST:
        raise CoachError("clap.few_heard", where=film.path, found=int(heard.size), least=LEAST)
    around = _pictures_around(film, heard, progress)
    kinks = [_find_kink(*each, float(time)) for time, each in zip(heard, around, strict=True)]
    return _agree(film, heard, np.array([gains for gains, _ in kinks]), np.array([shares for _, shares in kinks]))


def _pictures_around(
    film: Film, heard: Floats, progress: Callable[[float], None] | None
) -> list[tuple[Floats, NDArray[np.float64]]]:
    """Return times and small pictures around each sound."""
    import cv2

    times: list[list[float]] = [[] for _ in heard]
    kept: list[list[NDArray[np.float32]]] = [[] for _ in heard]
    length = max(min(film.end, film.duration) - film.start, 1e-9)
    trackers: list[CameraTracker | None] = [None for _ in heard]
    for frame in read_frames(film):
        near = np.flatnonzero(np.abs(heard - frame.time) <= _AROUND)
        if near.size:
            rows, columns = frame.luma.shape
            wide = min(_WATCHED, columns)
            size = (wide, max(8, round(wide * rows / columns)))
            watched = np.asarray(cv2.resize(frame.luma, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
            for k in near.tolist():
                tracker = trackers[k] = trackers[k] or CameraTracker(watched)
                how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
                level = cv2.warpAffine(watched, tracker.move(watched), size, flags=how, borderMode=cv2.BORDER_REPLICATE)
                small = cv2.resize(level, (_WIDE, max(4, round(_WIDE * rows / columns))), interpolation=cv2.INTER_AREA)
                small = np.asarray(cv2.GaussianBlur(small.astype(np.float32), (0, 0), 1.0), dtype=np.float32).ravel()
                times[k].append(frame.time)
                kept[k].append(small)
        if progress is not None and np.isfinite(length):
            progress(min(1.0, (frame.time - film.start) / length))
    return [(np.array(t), np.array(p, dtype=np.float64).reshape(len(t), -1)) for t, p in zip(times, kept, strict=True)]


def _find_kink(times: Floats, pictures: NDArray[np.float64], heard: float) -> tuple[Floats, Floats]:
    """Return how much variance a kink at each of ``DELAYS`` explains: relative to the most, and as a share.

    What a smooth course leaves is most where a kink is near, and the kink explains most of it where it is.
    """
    left, size, _ = np.linalg.svd(pictures - pictures.mean(axis=0), full_matrices=False)
    courses = left[:, :_COMPONENTS] * size[:_COMPONENTS]
    step = float(np.median(np.diff(times))) if times.size > 1 else 1.0
    before, after = (max(_PICTURES, round(seconds / step)) for seconds in (_BEFORE, _AFTER))
    gains, shares = np.zeros(DELAYS.size), np.zeros(DELAYS.size)
    last = np.searchsorted(times, heard + DELAYS) - 1
    for k, (place, at) in enumerate(zip(heard + DELAYS, last.tolist(), strict=True)):
        first, end = at + 1 - before, at + 1 + after
        if first < 0 or end > times.size:
            continue
        since = (times[first:end] - place) / _BEFORE
        smooth = _misfit(np.vander(since, 4), courses[first:end])
        # it comes nearer as it likes, and leaves evenly or stays
        nearing, leaving = np.minimum(since, 0), np.maximum(since, 0)
        kinked = np.column_stack([np.ones(since.size), nearing, nearing**2, leaving])
        gains[k] = max(0.0, smooth - _misfit(kinked, courses[first:end]))
        shares[k] = gains[k] / max(smooth, 1e-12)
    return gains / max(float(gains.max()), 1e-12), shares


def _misfit(columns: NDArray[np.float64], courses: NDArray[np.float64]) -> float:
    basis, _ = np.linalg.qr(columns)
    return float(np.sum((courses - basis @ (basis.T @ courses)) ** 2))


def _agree(film: Film, heard: Floats, kinks: NDArray[np.float64], shares: NDArray[np.float64]) -> SeenContacts:
    """Return the delay at which all sounds together have the clearest kink.

    Raises
    ------
    CoachError
        If too few have one there, or another delay would do nearly as well.
    """
    total = kinks.mean(axis=0)
    best = int(np.argmax(total))
    elsewhere = np.abs(DELAYS - DELAYS[best]) > _BESIDE
    near = np.abs(DELAYS - DELAYS[best]) <= _AGREE
    own = DELAYS[near][shares[:, near].argmax(axis=1)]
    strong = kinks[:, near].max(axis=1) >= _STRONG
    delays = own[strong]
    if (
        delays.size < max(LEAST, _SHARE * heard.size)
        or total[elsewhere].max() > _LEAD * total[best]
        or delays.std(ddof=1) > _SCATTER
    ):
        raise CoachError("clap.few_seen", where=film.path, heard=int(heard.size), found=int(delays.size), least=LEAST)
    return SeenContacts(float(delays.mean()), float(delays.std(ddof=1) / np.sqrt(delays.size)), heard[strong])
