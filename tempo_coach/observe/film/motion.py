"""Movement in a film without a marker: the phase of what repeats, from how the picture changes.

The camera's motion is taken out, pictures a fifteenth of a second apart are compared, and what changes is matched with
its own mean cycle (:mod:`tempo_coach.observe.film.cycle_phase`). The trace that comes of it is a dial: it turns once a
cycle and is at its low point where a cycle begins. Its times are the movement's, its places are not.
"""

from __future__ import annotations

import math
from collections import deque
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.camera import SAME, CameraTracker, enlarge, extent_of
from tempo_coach.observe.film.colours import Colour
from tempo_coach.observe.film.cycle_phase import LONGEST, SHORTEST, PhaseCurve, find_phase, high_pass
from tempo_coach.observe.film.film_trace import FilmTrace
from tempo_coach.observe.film.frames import Film, read_frames
from tempo_coach.observe.film.marker_trace import check_name
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from tempo_coach.reasons import Warn
    from tempo_coach.times import Bools, Floats

    Plane = NDArray[np.uint8]
    Box = tuple[float, float, float, float]

#: Most regions of a film.
MOST = 6
#: Widths of the pictures in which the camera is followed, and length of the longer side of a region's.
_WATCH_WIDTH, _LONG = 480, 240
#: Seconds between the two pictures that are compared, and rows a second of what comes of it.
_GAP, _RATE = 1 / 15, 30.0
#: Levels of brightness that are noise, width of the blur in pixels, and steps of a level that are kept.
_NOISE, _BLUR, _STEPS = 6.0, 5, 4
#: Seconds of a film beyond which its rows would take too much memory.
_MOST_SECONDS = 600.0
#: Side of the blocks in which a region is looked for, in shares of the longer side, and the share of the best one's
#: weight from which a block belongs to it.
_BLOCK, _BELONGS = 1 / 24, 0.15
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


class Region(NamedTuple):
    """A region of the upright picture: name, left upper corner, size in pixels; found by itself where that is None."""

    name: str
    left: float = 0.0
    top: float = 0.0
    size: tuple[float, float] | None = None


class _Change(NamedTuple):
    """How a region's picture changes, evenly spaced: times, rows of pixels as shares of the noise, their shape."""

    time: Floats
    rows: NDArray[np.uint8]
    shape: tuple[int, int]


def follow_motion(
    film: Film,
    parts: Sequence[Region],
    *,
    without: Sequence[tuple[float, float]] = (),
    progress: Callable[[float], None] | None = None,
    warn: Warn | None = None,
) -> FilmTrace:
    """Follow what repeats in parts of a film's picture.

    Parameters
    ----------
    film : Film
    parts : sequence of Region
        One to six.
    without : sequence of (start, end)
        Stretches of the film's clock that become gaps.
    progress, warn : callable or None

    Returns
    -------
    FilmTrace
        One turn a cycle, with a confidence of 0.5, or of 0 where the phase is interpolated: where somebody walks
        through the picture the cycles go on and are not judged.

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
    if min(film.end, film.duration) - film.start > _MOST_SECONDS * film.slowed:
        raise CoachError("film.too_long_unmarked", where=film.path, most_s=_MOST_SECONDS)
    watcher = _Watcher(film, boxes)
    watcher.watch(progress, warn)
    if len(watcher.times) < 3:
        raise CoachError("part.few_pictures", where=film.path)
    motion = watcher.tracker.settle(watcher.moves, film.width, film.height)
    swing = extent_of(motion.moves, film.width, film.height)
    if swing > _SWINGS * film.width:
        raise CoachError("part.camera_swings", where=film.path, share=swing / film.width, most=_SWINGS)
    notes = [*film.notes, Reason(Why.NO_MARKER)]
    if motion.state == "moved":
        notes.append(Reason(Why.CAMERA_MOVED, (extent_of(motion.moves, film.width, film.height),)))
    if motion.state == "unknown":
        notes.append(Reason(Why.CAMERA_UNKNOWN_UNMARKED))
    channels, columns, errors = [], [], {}
    for k, part in enumerate(parts):
        change = watcher.change(k, steadied=motion.state == "moved")
        found, centre = _find_cycles(change, part, boxes[k], film, chosen=part.size is not None)
        time = found.time
        inside = np.flatnonzero(found.sure)
        known = (time >= time[inside[0]]) & (time <= time[inside[-1]])
        for start, end in without:
            known &= (time < start) | (time > end)
        sure = known & _bridge(found)
        radius = 0.25 * min(film.width, film.height)
        turn = 2 * math.pi * found.phase
        for axis, values in (("x", centre[0] + radius * np.sin(turn)), ("y", -centre[1] - radius * np.cos(turn))):
            channels.append(Channel(f"{part.name} {axis} (px)", "position", axis, part.name, "px"))
            columns.append(np.where(known, values, np.nan))
        channels.append(Channel(f"{part.name} confidence", "other", "", f"{part.name} confidence"))
        columns.append(np.where(sure, SUREST, 0.0))  # what is only interpolated counts as a gap
        errors[part.name] = found.timing_sd / film.slowed if motion.state != "unknown" else math.inf
    notes += [Reason(Why.PICTURE_RATE, (film.real_rate_hz,)), Reason(Why.ROLLING_SHUTTER)]
    trace = Trace(time / film.slowed, np.column_stack(columns), channels, notes=notes, timing_sd=errors)
    colours = tuple(Colour("movement", (128.0, 128.0, 128.0), sampled=True) for _ in parts)
    nearest = np.clip(np.searchsorted(watcher.picture_times, time), 0, len(watcher.picture_times) - 1)
    return FilmTrace(film, trace, colours, motion.moves[nearest], tuple(notes))


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


class _Watcher:
    """Goes through a film once: the camera's motion, and how each region changes, steadied and as it is."""

    def __init__(self, film: Film, boxes: Sequence[Box]) -> None:
        self.film = film
        self.boxes = boxes
        self.sizes = [_size_of(film, box) for box in boxes]
        self.times: list[float] = []
        self.picture_times: list[float] = []
        self.moves: list[NDArray[np.float64]] = []
        self._rows: list[tuple[list[Plane], list[Plane]]] = [([], []) for _ in boxes]

    def watch(self, progress: Callable[[float], None] | None, warn: Warn | None) -> None:
        """Read the film."""
        import cv2

        film = self.film
        length = min(film.end, film.duration) - film.start
        gap, least = _GAP * film.slowed, 0.8 / _RATE * film.slowed
        whole = [box for box in self.boxes if box != (0.0, 0.0, 1.0, 1.0)]
        kept: deque[tuple[float, list[tuple[Plane, Plane]]]] = deque()
        for frame in read_frames(film, warn=warn):
            rows, columns = frame.luma.shape
            width = min(_WATCH_WIDTH, columns)
            size = (width, round(rows * width / columns))
            small = np.asarray(cv2.resize(frame.luma, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
            if not self.moves:
                self.tracker = CameraTracker(small, whole)
            move = enlarge(self.tracker.move(small)[None], columns / width)[0]
            self.moves.append(move)
            self.picture_times.append(frame.time)
            if not kept or frame.time - kept[-1][0] >= least:
                kept.append((frame.time, [self._cut(frame.luma, move, k) for k in range(len(self.boxes))]))
                while len(kept) > 2 and frame.time - kept[1][0] >= gap - least / 2:
                    kept.popleft()
                if frame.time - kept[0][0] >= 0.5 * gap:
                    self._compare(kept[0], kept[-1])
            if progress is not None and math.isfinite(length):
                progress(min(1.0, (frame.time - film.start) / length))

    def _cut(self, luma: Plane, move: NDArray[np.float64], k: int) -> tuple[Plane, Plane]:
        """Return a region of a picture, where the camera's motion put it and where it was at first, at its size."""
        import cv2

        wide, high = self.sizes[k]
        left, top, right, _ = self.boxes[k]
        rows, columns = luma.shape
        scale = wide / ((right - left) * columns)
        if scale < 1:
            size = (round(columns * scale), round(rows * scale))
            luma = np.asarray(cv2.resize(luma, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        seen = min(scale, 1.0)
        # from the centres of the region's pixels to those of the film's, to those of the resized picture's
        onto_film = np.array([[1 / scale, 0, left * columns + 0.5 / scale - 0.5],
                              [0, 1 / scale, top * rows + 0.5 / scale - 0.5], [0, 0, 1]])  # fmt: skip
        onto_small = np.array([[seen, 0, 0.5 * seen - 0.5], [0, seen, 0.5 * seen - 0.5], [0, 0, 1]])
        how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        out = []
        for matrix in (move, SAME):
            through = (onto_small @ np.vstack([matrix, [0, 0, 1]]) @ onto_film)[:2]
            out.append(cv2.warpAffine(luma, through, (wide, high), flags=how, borderMode=cv2.BORDER_REPLICATE))
        return np.asarray(out[0], dtype=np.uint8), np.asarray(out[1], dtype=np.uint8)

    def _compare(
        self, before: tuple[float, list[tuple[Plane, Plane]]], now: tuple[float, list[tuple[Plane, Plane]]]
    ) -> None:
        import cv2

        self.times.append((before[0] + now[0]) / 2)
        for earlier, later, rows in zip(before[1], now[1], self._rows, strict=True):
            for one, other, kept in zip(earlier, later, rows, strict=True):
                changed = np.maximum(cv2.absdiff(one, other).astype(np.float32) - _NOISE, 0)
                changed = cv2.blur(changed, (_BLUR, _BLUR))[::2, ::2]
                kept.append(np.minimum(_STEPS * changed + 0.5, 255).astype(np.uint8))

    def change(self, k: int, *, steadied: bool) -> _Change:
        """Return how a region changes, at even steps of time."""
        rows = self._rows[k][0 if steadied else 1]
        times = np.array(self.times)
        step = max(1 / _RATE * self.film.slowed, float(np.median(np.diff(times))))
        even = np.arange(times[0], times[-1], step)
        at = np.clip(np.searchsorted(times, even), 1, len(times) - 1)
        share = ((even - times[at - 1]) / (times[at] - times[at - 1])).astype(np.float32)[:, None]
        flat = np.array(rows).reshape(len(rows), -1)
        mixed = np.empty((even.size, flat.shape[1]), np.uint8)
        for first in range(0, even.size, 512):
            part = np.s_[first : first + 512]
            mixed[part] = (1 - share[part]) * flat[at[part] - 1] + share[part] * flat[at[part]] + 0.5
        return _Change(even, mixed, rows[0].shape)


def _size_of(film: Film, box: Box) -> tuple[int, int]:
    left, top, right, bottom = box
    width, height = (right - left) * film.width, (bottom - top) * film.height
    scale = min(1.0, _LONG / max(width, height))
    return max(8, round(width * scale)), max(8, round(height * scale))


def _find_cycles(
    change: _Change, part: Region, box: Box, film: Film, *, chosen: bool
) -> tuple[PhaseCurve, tuple[float, float]]:
    """Return the phase of what repeats in a region, 0 where it is lowest, and its centre in pixels of the film."""
    high, wide = change.shape
    pictures = change.rows.reshape(-1, high, wide)
    if pictures.max(axis=(1, 2)).astype(float).mean() < _STEPS:
        raise CoachError("part.still", where="--part", part=part.name)
    x0, y0, x1, y1, likeness = find_region(change.time / film.slowed, pictures)
    if not chosen:
        pictures = pictures[:, y0:y1, x0:x1]
    else:
        x0, y0 = 0, 0
    found = None
    if likeness >= REPEATS:
        found = find_phase(change.time / film.slowed, pictures.reshape(len(pictures), -1).astype(np.float32))
    if found is None or found.likeness < _ALIKE or found.timing_sd > _SCATTERED * found.period:
        raise CoachError("part.no_cycles", where=film.path, part=part.name if chosen else None)
    weight = pictures.astype(np.float64).sum(axis=0)
    total = max(float(weight.sum()), 1e-9)
    x = float((weight.sum(axis=0) * np.arange(weight.shape[1])).sum() / total) + x0
    y = float((weight.sum(axis=1) * np.arange(weight.shape[0])).sum() / total) + y0
    left, top, right, bottom = box
    centre = ((left + (x + 0.5) / wide * (right - left)) * film.width,
              (top + (y + 0.5) / high * (bottom - top)) * film.height)  # fmt: skip
    return _begin_at_lowest(found, pictures)._replace(time=change.time), centre


def find_region(time: Floats, pictures: NDArray[np.uint8]) -> tuple[int, int, int, int, float]:
    """Find where something repeats.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Evenly spaced seconds.
    pictures : ndarray, shape (n, h, w)
        How much each pixel changes.

    Returns
    -------
    left, top, right, bottom : int
        In pixels.
    likeness : float
        Of the region to itself a period later, -1 to 1.
    """
    import cv2

    n, high, wide = pictures.shape
    rate = 1 / float(np.median(np.diff(time)))
    side = max(2, round(max(high, wide) * _BLOCK))
    rows, columns = max(1, high // side), max(1, wide // side)
    side_y, side_x = high // rows, wide // columns
    blocks = pictures[:, : rows * side_y, : columns * side_x].reshape(n, rows, side_y, columns, side_x)
    series = high_pass(blocks.mean(axis=(2, 4), dtype=np.float32).reshape(n, -1), round(1.5 * rate))
    most = min(int(LONGEST * rate), int(n / 2.5))
    size = 1 << (2 * n - 1).bit_length()
    product = np.fft.irfft(np.abs(np.fft.rfft(series, size, axis=0)) ** 2, axis=0)[: most + 2]
    variance = product[0]
    like = product * (n / (n - np.arange(most + 2)))[:, None] / np.maximum(variance, 1e-9)
    weight = np.maximum(like, 0) ** 2 * np.sqrt(variance)
    score = weight.sum(axis=1)
    inner = np.arange(max(1, int(SHORTEST * rate)), most + 1)
    peaks = inner[(score[inner] >= score[inner - 1]) & (score[inner] > score[inner + 1])]
    if not peaks.size:
        return 0, 0, wide, high, 0.0
    at = int(peaks[score[peaks] > 0.65 * score[peaks].max()][0])
    likeness = float((weight[at] * like[at]).sum() / max(weight[at].sum(), 1e-9))
    smooth = cv2.blur(weight[at].reshape(rows, columns).astype(np.float32), (3, 3))
    _, labels = cv2.connectedComponents((smooth > _BELONGS * smooth.max()).astype(np.uint8))
    mine = labels == 1 + int(np.argmax([smooth[labels == k].sum() for k in range(1, labels.max() + 1)]))
    y, x = np.nonzero(mine)
    left, right = max(0, int(x.min()) - 1) * side_x, min(wide, (int(x.max()) + 2) * side_x)
    top, bottom = max(0, int(y.min()) - 1) * side_y, min(high, (int(y.max()) + 2) * side_y)
    return left, top, right, bottom, likeness


def _begin_at_lowest(found: PhaseCurve, pictures: NDArray[np.uint8]) -> PhaseCurve:
    """Let a cycle begin where what moves is lowest: the first harmonic of its height."""
    rows = pictures.sum(axis=2, dtype=np.float64)
    total = rows.sum(axis=1)
    used = found.sure & (total > 0.1 * np.median(total[found.sure]))
    if used.sum() < 8:
        return found
    height = (rows[used] * np.arange(rows.shape[1])).sum(axis=1) / total[used]
    first = complex(np.sum((height - height.mean()) * np.exp(-2j * np.pi * found.phase[used])))
    return found._replace(phase=found.phase + float(np.angle(first)) / (2 * math.pi))


def _bridge(found: PhaseCurve) -> Bools:
    """Return where the phase is known, short stretches between included."""
    known = found.sure.copy()
    step = float(np.median(np.diff(found.time)))
    edges = np.flatnonzero(np.diff(np.concatenate([[True], known, [True]]).astype(int)))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if first > 0 and last < known.size and (last - first) * step < _BRIDGED * found.period:
            known[first:last] = True
    return known
