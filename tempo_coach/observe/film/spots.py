"""Detector of coloured spots in single pictures, with subpixel centres.

A pixel that a moving marker covers for a part of the exposure, or in part, is a mixture of its colour and the
background (alpha matting). Every pixel is read as that share, and the centre is the mean position weighted by it: the
middle of the exposure, blurred or not, except for the curvature of the path (see
:func:`tempo_coach.observe.film.marker_trace.deblur_path`).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.observe.film.colours import BRIGHT, COLOURED, SHADES, Colour, name_hues, named_colour, shorter_turn
from tempo_coach.observe.film.colours import FAINT as FAINT_COLOUR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.film.frames import Frame
    from tempo_coach.times import Floats

    Plane = NDArray[np.float32]
    Part = tuple[slice, slice]
    Box = tuple[int, int, int, int]

#: Pictures are searched at no more than this width (in values of the colour planes): half of 1920 pixels.
SEARCH_WIDTH = 960
#: Share of the marker's colour from which a pixel belongs to a spot, and the least maximum of a spot.
FAINT = 0.16
CLEAR = 0.25
#: Smallest spot, in values of the search.
SMALLEST = 3
#: Spots kept of a picture, the largest first.
MOST = 16
#: Least cosine between a spot's colour and the marker's.
_ALIKE = 0.86
#: Negative share of the colour from which a pixel is neither backdrop nor noise.
_DARKER = 0.1
#: Side of the tiles, in values of the search, of which those are searched that differ from the backdrop, and the share
#: of them from which the whole picture is.
_TILE, _MOST_CHANGED = 16, 0.4
#: How far apart in hue (degrees) two colours of one name may lie.
_HUE_ROOM = 24.0


class SearchImage(NamedTuple):
    """A downsampled picture for the search: planes of luma, Cb and Cr, with their scale and origin in it."""

    planes: tuple[NDArray[np.uint8], ...]
    step: float
    site: tuple[float, float]
    bright_site: tuple[float, float]


class Spots(NamedTuple):
    """Spots of one colour in one picture: columns of equal length.

    ``x`` and ``y`` in pixels of the picture, y downwards; ``mass`` in square pixels of full colour; ``peak`` the
    largest share of the colour; ``at_edge`` where the picture's edge may cut it; ``spread``, shape (n, 3), its variance
    across, covariance and variance downwards, in square pixels.
    """

    x: Floats
    y: Floats
    mass: Floats
    peak: Floats
    at_edge: NDArray[np.bool_]
    spread: NDArray[np.float64]


def to_search_image(frame: Frame) -> SearchImage:
    """Return a picture downsampled for the search."""
    rows, columns = frame.blue.shape
    shrink = max(1, -(-columns // SEARCH_WIDTH)) if columns >= rows else max(1, -(-rows // SEARCH_WIDTH))
    size = (columns // shrink, rows // shrink)
    blue, red = frame.blue, frame.red
    if shrink > 1:
        blue, red = (_smaller(plane, size) for plane in (blue, red))
    middle = (shrink - 1) / 2 * 2
    site = (frame.site[0] + middle, frame.site[1] + middle)
    bright = (frame.luma.shape[1] / size[0] - 1) / 2, (frame.luma.shape[0] / size[1] - 1) / 2
    return SearchImage((_smaller(frame.luma, size), blue, red), 2.0 * shrink, site, bright)


def backdrop_of(views: Sequence[SearchImage]) -> NDArray[np.uint8]:
    """Return the background: the median of some pictures, shape (3, height, width)."""
    return np.stack([np.median([view.planes[k] for view in views], axis=0) for k in range(3)]).astype(np.uint8)


class Finder:
    """Finds spots of one colour before one backdrop.

    Parameters
    ----------
    colour : Colour
    backdrop : ndarray of uint8, shape (3, height, width)
    margin : int
        Values by which the backdrop may be shifted under a picture that shakes.
    """

    def __init__(self, colour: Colour, backdrop: NDArray[np.uint8], *, margin: int = 0) -> None:
        self.colour = colour
        self.channels = (0,) if colour.bright else (1, 2)
        self._wide = np.pad(backdrop, ((0, 0), (margin, margin), (margin, margin)), mode="edge")
        self._margin = margin
        behind = [self._wide[k].astype(np.float32) for k in self.channels]
        apart = [np.float32(colour.values[k]) - each for k, each in zip(self.channels, behind, strict=True)]
        square = np.sum(np.square(apart), axis=0)
        neutral = 100.0 if colour.bright else float(np.hypot(colour.values[1] - 128, colour.values[2] - 128))
        seen = square > max(0.4 * neutral, FAINT_COLOUR) ** 2  # before a wall of its own colour a marker cannot be seen
        self._gain = [np.where(seen, each / np.maximum(square, 1), 0).astype(np.float32) for each in apart]
        self._rest = np.sum([g * each for g, each in zip(self._gain, behind, strict=True)], axis=0)
        nearest = math.sqrt(float(square[seen].min())) if seen.any() else math.inf
        #: Mean change over 3 x 3 values that a spot has at least, in the channel that changes most, before rounding.
        self._least = FAINT * nearest / math.sqrt(len(self.channels)) - 0.5

    def find(self, view: SearchImage, shift: tuple[int, int] = (0, 0)) -> Spots:
        """Return the spots of a picture, the largest first.

        Parameters
        ----------
        view : SearchImage
        shift : (int, int)
            By how many values the backdrop has moved right and down.
        """
        import cv2

        found = []
        for part in self._changed(view, shift):
            share = self._share(view, shift, part)
            smooth = np.asarray(cv2.blur(share, (3, 3)), dtype=np.float32)
            mask = (smooth > FAINT).astype(np.uint8)
            # Labels of 16 bits are found by one thread, in a third of the time that OpenCV's two take, which wait for
            # each other where something else runs; they suffice, as a part has no more spots than values that are set.
            kind = cv2.CV_16U if cv2.countNonZero(mask) < 1 << 16 else cv2.CV_32S
            count, labels, stats, _ = cv2.connectedComponentsWithStatsWithAlgorithm(mask, 8, kind, cv2.CCL_BBDT)
            areas = stats[1:count, cv2.CC_STAT_AREA]
            for k in (np.flatnonzero(areas >= SMALLEST) + 1).tolist():
                box = tuple(stats[k, :4].tolist())
                found.append((int(areas[k - 1]), _Blob(part, share, smooth, np.asarray(labels), k, box)))
        found.sort(key=lambda each: -each[0])
        rows = [row for _, blob in found[: 3 * MOST] if (row := self._measure(view, blob, shift)) is not None]
        rows.sort(key=lambda row: -row[2])
        table = np.array(rows[:MOST], dtype=np.float64).reshape(-1, 8)
        return Spots(table[:, 0], table[:, 1], table[:, 2], table[:, 3], table[:, 4] > 0, table[:, 5:])

    def _changed(self, view: SearchImage, shift: tuple[int, int]) -> list[Part]:
        """Return the parts of a picture that differ enough from the background for a spot, with a margin."""
        import cv2

        rows, columns = view.planes[0].shape
        if not math.isfinite(self._least):
            return []
        here = self._under(view, shift)
        apart = [cv2.absdiff(view.planes[k], self._wide[k][here]) for k in self.channels]
        most = apart[0] if len(apart) == 1 else cv2.max(apart[0], apart[1])
        _, differs = cv2.threshold(cv2.blur(most, (3, 3)), math.floor(self._least), 255, cv2.THRESH_BINARY)
        # whole tiles, which are shrunk in a tenth of the time
        differs = cv2.copyMakeBorder(differs, 0, -rows % _TILE, 0, -columns % _TILE, cv2.BORDER_CONSTANT)
        tiles = differs.shape[1] // _TILE, differs.shape[0] // _TILE
        # of the three values and more of a spot one tile has one at least, which is .996 of 255 of it
        tiled = (np.asarray(cv2.resize(differs, tiles, interpolation=cv2.INTER_AREA)) > 0).astype(np.uint8)
        if tiled.mean() > _MOST_CHANGED:
            return [np.s_[0:rows, 0:columns]]
        count, _, stats, _ = cv2.connectedComponentsWithStats(cv2.dilate(tiled, np.ones((3, 3), np.uint8)), None, 8)
        boxes = [(left, top, left + wide, top + high) for left, top, wide, high, _ in stats[1:count].tolist()]
        return [
            np.s_[top * _TILE : min(rows, bottom * _TILE), left * _TILE : min(columns, right * _TILE)]
            for left, top, right, bottom in _apart(boxes)
        ]

    def _share(self, view: SearchImage, shift: tuple[int, int], part: Part) -> Plane:
        """Return the share of the marker's colour at each pixel of a part, 0 to about 1."""
        here = self._under(view, shift)
        total = view.planes[self.channels[0]][part] * self._gain[0][here][part]
        for channel, gain in zip(self.channels[1:], self._gain[1:], strict=True):
            total += view.planes[channel][part] * gain[here][part]
        total -= self._rest[here][part]
        return total

    def _measure(self, view: SearchImage, blob: _Blob, shift: tuple[int, int]) -> tuple[float, ...] | None:
        import cv2

        rows, columns = view.planes[0].shape
        top, left = blob.part[0].start, blob.part[1].start  # of the part, in the picture
        first_x, first_y, wide, high = blob.box
        room = 3
        x0, y0 = max(0, first_x - room), max(0, first_y - room)
        x1, y1 = min(blob.share.shape[1], first_x + wide + room), min(blob.share.shape[0], first_y + high + room)
        near_it = np.s_[y0:y1, x0:x1]
        share, labels = blob.share[near_it], blob.labels[near_it]
        mine = (labels == blob.label).astype(np.uint8)
        # of the smoothed share: the maximum of noise over a large faint spot would be high
        peak = float(blob.smooth[near_it][mine > 0].max())
        if peak < CLEAR:
            return None
        near = cv2.dilate(mine, np.ones((2 * room - 1, 2 * room - 1), np.uint8))
        other = (labels > 0) & (mine == 0)
        # a negative share: somebody darker is behind, which is no evidence of the marker
        weight = np.where((near > 0) & ~other & (share > -_DARKER), share, 0)
        mass = float(weight.sum())
        here = np.s_[top + y0 : top + y1, left + x0 : left + x1]
        if mass <= 0 or not self._alike(view, weight, here, shift):
            return None
        y, x = np.mgrid[here]
        across, down = float((weight * x).sum() / mass), float((weight * y).sum() / mass)
        if not (left + x0 <= across < left + x1 and top + y0 <= down < top + y1):
            return None
        site = view.bright_site if self.colour.bright else view.site
        begin_x, begin_y = left + first_x, top + first_y
        edge = begin_x == 0 or begin_y == 0 or begin_x + wide >= columns or begin_y + high >= rows
        dx, dy = view.step * (x - across), view.step * (y - down)
        spread = (float((weight * each).sum() / mass) for each in (dx * dx, dx * dy, dy * dy))
        place = site[0] + view.step * across, site[1] + view.step * down
        return *place, mass * view.step**2, peak, float(edge), *spread

    def _alike(self, view: SearchImage, weight: Plane, part: Part, shift: tuple[int, int]) -> bool:
        """Return True where the colour of a spot, relative to the background, points towards the marker's."""
        here = self._under(view, shift)
        heavy = weight > 0.5 * weight.max()
        seen, asked = [], []
        for channel in (0, 1, 2) if self.colour.bright else (1, 2):
            behind = self._wide[channel][here][part][heavy].astype(np.float32)
            seen.append(float((view.planes[channel][part][heavy] - behind).mean()))
            asked.append(float((np.float32(self.colour.values[channel]) - behind).mean()))
        size = float(np.linalg.norm(seen) * np.linalg.norm(asked))
        return bool(size > 0 and float(np.dot(seen, asked)) >= _ALIKE * size)

    def _under(self, view: SearchImage, shift: tuple[int, int]) -> Part:
        rows, columns = view.planes[0].shape
        left = int(np.clip(self._margin - shift[0], 0, 2 * self._margin))
        top = int(np.clip(self._margin - shift[1], 0, 2 * self._margin))
        return np.s_[top : top + rows, left : left + columns]


class _Blob(NamedTuple):
    """A connected region of a mask: its offset, its shares of colour, and its box (left, top, width, height)."""

    part: Part
    share: Plane
    smooth: Plane
    labels: NDArray[np.integer]
    label: int
    box: tuple[int, ...]


def _apart(boxes: Sequence[Box]) -> list[Box]:
    """Return disjoint boxes (left, top, right, bottom), those that overlapped merged."""
    out: list[Box] = []
    for box in boxes:
        left, top, right, bottom = box
        while met := [
            each for each in out if each[0] < right and left < each[2] and each[1] < bottom and top < each[3]
        ]:
            left, top = min(left, *(each[0] for each in met)), min(top, *(each[1] for each in met))
            right, bottom = max(right, *(each[2] for each in met)), max(bottom, *(each[3] for each in met))
            out = [each for each in out if each not in met]
        out.append((left, top, right, bottom))
    return out


def fit_colour(colour: Colour, views: Sequence[SearchImage], backdrop: NDArray[np.uint8]) -> Colour | None:
    """Fit a named colour to the moving pixels of a film; None where it was not seen.

    Parameters
    ----------
    colour : Colour
    views : sequence of SearchImage
        Some pictures, spread over the film.
    backdrop : ndarray, shape (3, height, width)
    """
    if colour.sampled:
        return colour
    if colour.bright:
        return colour if any(Finder(colour, backdrop).find(view).x.size for view in views) else None
    blue, red, _ = moving_colours(views, backdrop)
    hue = np.degrees(np.arctan2(red, blue))
    mine = np.abs(shorter_turn(hue - colour.hue_deg)) < _HUE_ROOM
    if mine.sum() < SMALLEST:
        return None
    size = np.hypot(blue[mine], red[mine])
    strong = size >= np.quantile(size, 0.8)
    luma = colour.values[0]
    return replace(
        colour, values=(luma, 128 + float(np.median(blue[mine][strong])), 128 + float(np.median(red[mine][strong])))
    )


def moving_colours(
    views: Sequence[SearchImage], backdrop: NDArray[np.uint8]
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Return Cb - 128, Cr - 128 and the picture's index of all saturated pixels that differ from the background.

    Parameters
    ----------
    backdrop : numpy.ndarray, shape (rows, columns, 3)
        The background, Y, Cb, Cr.
    """
    blues, reds, which = [], [], []
    for number, view in enumerate(views):
        blue, red = (view.planes[k].astype(np.float32) for k in (1, 2))
        moved = np.hypot(blue - backdrop[1], red - backdrop[2]) > COLOURED * 0.7
        found = moved & (np.hypot(blue - 128, red - 128) > COLOURED)
        blues.append(blue[found] - 128)
        reds.append(red[found] - 128)
        which.append(np.full(int(found.sum()), number))
    return np.concatenate(blues).astype(float), np.concatenate(reds).astype(float), np.concatenate(which)


def propose(views: Sequence[SearchImage], backdrop: NDArray[np.uint8], *, most: int = 6) -> list[Colour]:
    """Return the colours of saturated moving spots, the clearest first.

    A colour is proposed where it is in half of the pictures, and as one compact spot or two rather than all over.

    Parameters
    ----------
    backdrop : numpy.ndarray, shape (rows, columns, 3)
        The background, Y, Cb, Cr.
    """
    blue, red, which = moving_colours(views, backdrop)
    names = name_hues(blue, red)
    found: list[tuple[float, Colour]] = []
    for name in (name for name in SHADES if name not in BRIGHT):
        mine = names == name
        seen = np.unique(which[mine]).size / max(len(views), 1)
        if seen < 0.5:
            continue
        colour = fit_colour(named_colour(name), views, backdrop)
        if colour is None:
            continue
        spots = [Finder(colour, backdrop).find(view) for view in views]
        counts = [int((each.peak > 0.5).sum()) for each in spots]
        if not any(counts) or np.median(counts) > 3:
            continue
        found.append((seen * float(np.hypot(*(np.array(colour.values[1:]) - 128))), colour))
    found.sort(key=lambda pair: -pair[0])
    return [colour for _, colour in found[:most]]


def _smaller(plane: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.uint8]:
    import cv2

    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
