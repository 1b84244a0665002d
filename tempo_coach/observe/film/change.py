"""Change of a film's picture, region by region, with camera motion compensated; and where something repeats."""

from __future__ import annotations

import math
from collections import deque
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.observe.film.camera import SAME, CameraTracker, enlarge
from tempo_coach.observe.film.cycle_phase import LONGEST, SHORTEST, high_pass
from tempo_coach.observe.film.frames import Film, read_frames

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from tempo_coach.reasons import Warn
    from tempo_coach.times import Floats

    Plane = NDArray[np.uint8]
    Box = tuple[float, float, float, float]

#: Width of the pictures in which the camera is followed, and length of the longer side of a region's.
_WATCH_WIDTH, LONG = 480, 240
#: Seconds between the two pictures that are compared, and rows a second of what comes of it.
_GAP, _RATE = 1 / 15, 30.0
#: Pictures a second from which the camera is followed in all of them: at 120, by a fourth of them, 1 of 2 long cycles
#: were told, by all of them both; at 60 half of them are enough.
_FAST = 90.0
#: From how many times the size that is needed on a film is scaled as it is decoded.
_SHRUNK = 2.0
#: Pixels of the longer side of the pictures that are kept of a region, and how many a second.
_KEPT_LONG, _KEPT_RATE = 192, 8.0
#: Levels of brightness that are noise, width of the blur in pixels, and steps of a level that are kept.
_NOISE, _BLUR, STEPS = 6.0, 5, 4
#: Side of the blocks in which a region is looked for, in shares of the longer side, and the share of the best one's
#: weight from which a block belongs to it.
_BLOCK, _BELONGS = 1 / 24, 0.15


class Change(NamedTuple):
    """Change of a region's picture at even steps: times, rows of pixels in units of the noise, and their shape."""

    time: Floats
    rows: NDArray[np.uint8]
    shape: tuple[int, int]


class Watcher:
    """Reads a film once: the camera's motion, and the change of each region, compensated and raw.

    Parameters
    ----------
    film : Film
    boxes : sequence of (left, top, right, bottom)
        Regions, as shares of the first picture.
    long : sequence of int
        Pixels of the longer side at which each is watched, at most.
    keep : int or None
        A region of which small pictures are kept.
    """

    def __init__(self, film: Film, boxes: Sequence[Box], *, long: Sequence[int], keep: int | None = None) -> None:
        self.film = film
        self.boxes = boxes
        self.sizes = [_size_of(film, box, most) for box, most in zip(boxes, long, strict=True)]
        self.times: list[float] = []
        self.picture_times: list[float] = []
        self.moves: list[NDArray[np.float64]] = []
        self._rows: list[tuple[list[Plane], list[Plane]]] = [([], []) for _ in boxes]
        self._keep = keep
        self._kept_times: list[float] = []
        self._kept: tuple[list[Plane], list[Plane]] = ([], [])

    def watch(self, progress: Callable[[float], None] | None, warn: Warn | None) -> None:
        """Read the film."""
        import cv2

        film = self.film
        length = min(film.end, film.duration) - film.start
        gap, least = _GAP * film.slowed, 0.8 / _RATE * film.slowed
        whole = [box for box in self.boxes if box != (0.0, 0.0, 1.0, 1.0)]
        size = self._size_of_all()
        kept: deque[tuple[float, list[tuple[Plane, Plane]]]] = deque()
        apart = least if film.real_rate_hz < _FAST else 0.0
        for frame in read_frames(film, apart=apart, size=size, warn=warn):
            rows, columns = frame.luma.shape
            width = min(_WATCH_WIDTH, columns)
            small = frame.luma
            if width < columns:
                onto = (width, round(rows * width / columns))
                small = np.asarray(cv2.resize(small, onto, interpolation=cv2.INTER_AREA), dtype=np.uint8)
            if not self.moves:
                self.tracker = CameraTracker(small, whole)
            move = self.tracker.move(small)[None]
            self.moves.append(enlarge(move, film.width / width)[0])
            self.picture_times.append(frame.time)
            here = enlarge(move, columns / width)[0]
            if not kept or frame.time - kept[-1][0] >= least:
                kept.append((frame.time, [self._cut(frame.luma, here, k) for k in range(len(self.boxes))]))
                self._keep_small(*kept[-1])
                while len(kept) > 2 and frame.time - kept[1][0] >= gap - least / 2:
                    kept.popleft()
                if frame.time - kept[0][0] >= 0.5 * gap:
                    self._compare(kept[0], kept[-1])
            if progress is not None and math.isfinite(length):
                progress(min(1.0, (frame.time - film.start) / length))

    def _size_of_all(self) -> tuple[int, int] | None:
        """Return the upright size at which pictures of a much larger film are read; None to keep the film's own."""
        film = self.film
        scale = min(_WATCH_WIDTH, film.width) / film.width
        for (left, top, right, bottom), (wide, high) in zip(self.boxes, self.sizes, strict=True):
            scale = max(scale, wide / ((right - left) * film.width), high / ((bottom - top) * film.height))
        size = 2 * math.ceil(scale * film.width / 2), 2 * math.ceil(scale * film.height / 2)
        return size if _SHRUNK * scale <= 1 else None

    def _cut(self, luma: Plane, move: NDArray[np.float64], k: int) -> tuple[Plane, Plane]:
        """Return a region of a picture, both moved along with the camera and at its first place, at its size."""
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
                kept.append(np.minimum(STEPS * changed + 0.5, 255).astype(np.uint8))

    def _keep_small(self, time: float, shown: list[tuple[Plane, Plane]]) -> None:
        import cv2

        least = self.film.slowed / _KEPT_RATE
        if self._keep is None or (self._kept_times and time - self._kept_times[-1] < 0.9 * least):
            return
        self._kept_times.append(time)
        for kept, one in zip(self._kept, shown[self._keep], strict=True):
            scale = min(1.0, _KEPT_LONG / max(one.shape))
            size = (round(one.shape[1] * scale), round(one.shape[0] * scale))
            kept.append(np.asarray(cv2.resize(one, size, interpolation=cv2.INTER_AREA), dtype=np.uint8))

    def small(self, *, steadied: bool) -> tuple[Floats, NDArray[np.uint8]]:
        """Return the times and the small pictures that were kept, shape (n, h, w)."""
        return np.array(self._kept_times), np.array(self._kept[0 if steadied else 1])

    def change(self, k: int, *, steadied: bool) -> Change:
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
        return Change(even, mixed, rows[0].shape)


def _size_of(film: Film, box: Box, most: int) -> tuple[int, int]:
    left, top, right, bottom = box
    width, height = (right - left) * film.width, (bottom - top) * film.height
    scale = min(1.0, most / max(width, height))
    return max(8, round(width * scale)), max(8, round(height * scale))


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
