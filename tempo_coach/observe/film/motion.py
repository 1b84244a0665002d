"""Movement in a region of the picture without a marker: the centroid of frame differences.

The centroid of the absolute difference of two pictures lies between both positions of a club or arm. It circles as she
does, so cycles, circles and lags are found as for a marker. Anything else that moves in the region biases it: periods
are good, positions are not, and the trace says so.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.camera import CameraTracker, compensate, enlarge, say_moved, stands_still
from tempo_coach.observe.film.colours import Colour
from tempo_coach.observe.film.film_trace import FilmTrace
from tempo_coach.observe.film.frames import Film, read_frames, say_timing
from tempo_coach.observe.film.marker_trace import ROLLING, check_name
from tempo_coach.observe.trace.trace import Channel, Trace

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats

    Plane = NDArray[np.uint8]

#: Most regions of a film.
MOST = 6
#: Width at which pictures are compared.
WIDTH = 320
#: Least seconds between the two pictures that are compared.
STEP = 1 / 70
#: Threshold of the difference in levels of brightness: above the noise of a phone's pictures, which is 1 to 4 levels.
CHANGES = 10.0
#: Highest confidence: what moved is not known.
SUREST = 0.5
#: Energy relative to the median below which there is no movement.
_STILL_BELOW = 0.08
LIMIT = (
    "no marker was followed, but where most of the movement is: its periods and lags can be used, its places cannot, "
    "and whatever else moves there disturbs it"
)


class Region(NamedTuple):
    """A region of the upright picture: name, left upper corner and size in pixels; the whole where size is None."""

    name: str
    left: float = 0.0
    top: float = 0.0
    size: tuple[float, float] | None = None


def follow_motion(
    film: Film,
    parts: Sequence[Region],
    *,
    without: Sequence[tuple[float, float]] = (),
    progress: Callable[[float], None] | None = None,
    warn: Callable[[str], None] | None = None,
) -> FilmTrace:
    """Follow the movement itself in parts of a film's picture.

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
    Filmed
        With a confidence of at most 0.5 in every row. A row's time lies half-way between the two pictures compared.

    Raises
    ------
    CoachError
        If a part lies outside the picture, nothing moves in it, or the film cannot be read.
    """
    if not 1 <= len(parts) <= MOST:
        raise CoachError(f"expected 1 to {MOST} parts of the picture, got {len(parts)}", where="--part")
    for part in parts:
        check_name(part.name, [each.name for each in parts], where="--part")
    boxes = [_box(film, part) for part in parts]
    times, rows, moves = _compare(film, boxes, progress, warn)
    if len(times) < 2:
        raise CoachError("expected a film, found too few pictures to compare", where=film.path)
    size = (film.width, film.height)
    notes = [*film.notes, LIMIT]
    if stands_still(moves, *size):
        moves = np.broadcast_to(np.array([[1.0, 0, 0], [0, 1.0, 0]]), moves.shape)
    else:
        notes.append(say_moved(moves, *size))
    left_out = np.zeros(len(times), bool)
    for start, end in without:
        left_out |= (times >= start) & (times <= end)
    channels, columns = [], []
    for k, part in enumerate(parts):
        x, y, energy = rows[:, k].T
        median = float(np.median(energy[energy > 0])) if (energy > 0).any() else 0.0
        if (energy > _STILL_BELOW * median).mean() < 0.2 or median == 0:
            raise CoachError(f"nothing moves in the part {part.name}", where="--part", hint="choose another part")
        x, y = compensate(moves, x, y)
        sure = SUREST * np.clip(energy / median, 0, 1)
        gap = left_out | (energy < _STILL_BELOW * median) | np.isnan(x)
        for axis, values in (("x", x), ("y", -y)):
            channels.append(Channel(f"{part.name} {axis} (px)", "position", axis, part.name, "px"))
            columns.append(np.where(gap, np.nan, values))
        channels.append(Channel(f"{part.name} confidence", "other", "", f"{part.name} confidence"))
        columns.append(np.where(gap, 0.0, sure))
    notes += [say_timing(film.real_rate_hz), ROLLING]
    trace = Trace(times / film.slowed, np.column_stack(columns), channels, notes=notes)
    colours = tuple(Colour("movement", (128.0, 128.0, 128.0), sampled=True) for _ in parts)
    return FilmTrace(film, trace, colours, moves, tuple(notes))


def _box(film: Film, part: Region) -> tuple[float, float, float, float]:
    """Left, top, right and bottom as shares of the picture."""
    width, height = part.size or (film.width - part.left, film.height - part.top)
    right, bottom = part.left + width, part.top + height
    if not (0 <= part.left < right <= film.width and 0 <= part.top < bottom <= film.height):
        raise CoachError(
            f"expected a part within the picture of {film.width} × {film.height}, got {part.left:g},{part.top:g} "
            f"and {width:g} × {height:g}",
            where="--part",
            hint="write NAME=LEFT,TOP,WIDTH,HEIGHT in pixels, from the upper left corner",
        )
    if min(width / film.width, height / film.height) < 0.05:
        raise CoachError(f"the part {part.name} is too small", where="--part", hint="take all that the arm passes")
    return part.left / film.width, part.top / film.height, right / film.width, bottom / film.height


def _compare(
    film: Film,
    boxes: Sequence[tuple[float, float, float, float]],
    progress: Callable[[float], None] | None,
    warn: Callable[[str], None] | None,
) -> tuple[Floats, Floats, NDArray[np.float64]]:
    """Compare every picture with one shortly before; return times, (x, y, energy) a region, and the camera's moves."""
    import cv2

    kept: list[tuple[float, Plane, NDArray[np.float64]]] = []
    tracker: CameraTracker | None = None
    times, rows, moves = [], [], []
    length = min(film.end, film.duration) - film.start
    factor = 1.0
    for frame in read_frames(film, warn=warn):
        rows_high, wide = frame.luma.shape
        factor = max(1.0, wide / WIDTH)
        size = (round(wide / factor), round(rows_high / factor))
        small = np.asarray(cv2.resize(frame.luma, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        factor = wide / size[0]
        tracker = tracker or CameraTracker(small)
        move = tracker.move(small)
        while len(kept) > 1 and frame.time - kept[1][0] >= STEP * film.slowed:
            kept.pop(0)
        if kept and frame.time - kept[0][0] >= 0.5 * STEP * film.slowed:
            before, earlier, old = kept[0]
            times.append((before + frame.time) / 2)
            rows.append(_centres(earlier, old, small, move, boxes, factor))
            moves.append((move + old) / 2)
        kept.append((frame.time, small, move))
        if progress is not None and math.isfinite(length):
            progress(min(1.0, (frame.time - film.start) / length))
    found = np.array(rows, dtype=np.float64).reshape(len(times), len(boxes), 3)
    turned = enlarge(np.array(moves), factor) if moves else np.empty((0, 2, 3))
    return np.array(times, dtype=np.float64), found, turned


def _centres(
    earlier: Plane,
    old: NDArray[np.float64],
    now: Plane,
    new: NDArray[np.float64],
    boxes: Sequence[tuple[float, float, float, float]],
    factor: float,
) -> list[tuple[float, float, float]]:
    """Return the centroid and the sum of the differences in each region, in pixels of the film's picture."""
    import cv2

    rows, columns = now.shape
    if np.abs(new - old).max() > 0.05:
        # the camera moved in between: lay the earlier picture where it would be now
        turn = np.vstack([new, [0, 0, 1]]) @ np.linalg.inv(np.vstack([old, [0, 0, 1]]))
        earlier = np.asarray(cv2.warpAffine(earlier, turn[:2], (columns, rows), borderMode=cv2.BORDER_REPLICATE))
    changed = cv2.blur(np.abs(now.astype(np.float32) - earlier), (3, 3)) - CHANGES
    changed = np.maximum(changed, 0)
    out = []
    for left, top, right, bottom in boxes:
        x0, x1 = round(left * columns), round(right * columns)
        y0, y1 = round(top * rows), round(bottom * rows)
        part = changed[y0:y1, x0:x1]
        total = float(part.sum())
        if total <= 0:
            out.append((math.nan, math.nan, 0.0))
            continue
        x = float((part.sum(axis=0) * np.arange(x0, x1)).sum() / total)
        y = float((part.sum(axis=1) * np.arange(y0, y1)).sum() / total)
        half = (factor - 1) / 2
        out.append((factor * x + half, factor * y + half, total))
    return out
