"""One picture of a film: brightness and colour planes, turned upright, of HDR films brought near to ordinary ones."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats

    Plane = NDArray[np.uint8]

# From the range of film (16 to 235, and 16 to 240; ITU-R BT.601) to the full one.
_WIDEN_LUMA = np.clip((np.arange(256) - 16) * 255 / 219 + 0.5, 0, 255).astype(np.uint8)
_WIDEN_COLOUR = np.clip((np.arange(256) - 128) * 255 / 224 + 128.5, 0, 255).astype(np.uint8)
#: Transfer functions of high dynamic range: PQ and HLG (ITU-T H.273, table 3: 16 and 18).
_PQ, _HLG = 16, 18
#: What brings their colour differences (Cb, Cr of BT.2020) nearest in hue to those of BT.601, over what colours
#: markers have: within 15°, fitted to what the standards make of them. A matrix, so that mixtures stay mixtures.
_NEARER = {_PQ: ((2.95, -0.59), (-0.28, 4.93)), _HLG: ((1.45, -0.32), (-0.14, 2.34))}
#: Light of a white sheet, of the most that can be said: 203 cd/m² (ITU-R BT.2408, table 1), which is 58 % of the signal
#: of PQ and 75 % of that of HLG.
_WHITE = {_PQ: 203 / 10_000, _HLG: 0.265}


@dataclass(frozen=True, eq=False)
class Frame:
    """One picture, upright: brightness, and two planes of colour at half the size.

    Parameters
    ----------
    time : float
        Seconds on the film's clock.
    luma : ndarray of uint8, shape (height, width)
    blue, red : ndarray of uint8, shape (about height / 2, about width / 2)
        Colour differences Cb and Cr; 128 is grey.
    site : (float, float)
        Where the first value of the colour planes lies: x and y in pixels of the picture, whose first pixel is
        centred on (0, 0).
    """

    time: float
    luma: Plane
    blue: Plane
    red: Plane
    site: tuple[float, float]

    def bgr(self, *, height: int | None = None) -> Plane:
        """Return the picture in colours for looking at, shape (h, w, 3), smaller where a height is given."""
        import cv2

        rows, columns = self.luma.shape
        size = (columns, rows) if height is None or height >= rows else (round(columns * height / rows), height)
        planes = [
            cv2.LUT(cv2.resize(plane, size, interpolation=how), table)
            for plane, how, table in (
                (self.luma, cv2.INTER_AREA, _WIDEN_LUMA),
                (self.red, cv2.INTER_LINEAR, _WIDEN_COLOUR),
                (self.blue, cv2.INTER_LINEAR, _WIDEN_COLOUR),
            )
        ]
        return np.asarray(cv2.cvtColor(cv2.merge(planes), cv2.COLOR_YCrCb2BGR), dtype=np.uint8)


def upright(raw: Any, turned: int) -> Frame:
    """Return a decoded picture turned as it is shown, with its time."""
    if is_hdr(raw):
        planes = _ordinary(_as(raw, "yuv420p10le"), int(raw.color_trc))
    else:
        planes = [_plane(plane) for plane in _as(raw, "yuv420p").planes[:3]]
    rows, columns = planes[0].shape
    half_rows, half_columns = planes[1].shape
    # Colour values of H.264 and H.265 lie, unless told otherwise, on the left of their two columns and between
    # their two rows (ITU-T H.264, figure E-1, chroma location type 0).
    x, y = 0.0, 0.5
    for _ in range(turned // 90):
        # anticlockwise: the right edge becomes the top
        x, y = y, columns - 1 - (x + 2 * (half_columns - 1))
        rows, columns, half_rows, half_columns = columns, rows, half_columns, half_rows
    if turned:
        planes = [np.ascontiguousarray(np.rot90(plane, turned // 90)) for plane in planes]
    return Frame(float(raw.time), planes[0], planes[1], planes[2], (x, y))


def is_hdr(raw: Any) -> bool:
    """Whether a decoded picture says that it has a high dynamic range."""
    return int(raw.color_trc or 0) in _NEARER


def _as(raw: Any, layout: str) -> Any:
    return raw if raw.format.name == layout else raw.reformat(format=layout)


def _plane(plane: Any) -> Plane:
    """Copy one plane out of the decoder's memory, without the padding of its rows."""
    rows = np.frombuffer(plane, np.uint8)[: plane.height * plane.line_size].reshape(plane.height, plane.line_size)
    return rows[:, : plane.width].copy()


def _ordinary(raw: Any, transfer: int) -> list[Plane]:
    """Return the planes of a picture of 10 bits as an ordinary film would have them, nearly."""
    luma, blue, red = (
        np.frombuffer(plane, "<u2")[: plane.height * plane.line_size // 2].reshape(plane.height, -1)[:, : plane.width]
        for plane in raw.planes[:3]
    )
    b, r = (plane.astype(np.float32) / 4 - 128 for plane in (blue, red))
    turned = [128.5 + np.float32(row[0]) * b + np.float32(row[1]) * r for row in _NEARER[transfer]]
    return [_ordinary_luma(transfer)[luma & 1023], *(np.clip(plane, 0, 255).astype(np.uint8) for plane in turned)]


@cache
def _ordinary_luma(transfer: int) -> Plane:
    """Brightness of an ordinary film for each of 1024 values of an HDR one: exact for greys.

    The light of a value is that of ITU-R BT.2100 (tables 4 and 5, the scene's light for HLG and the screen's for PQ);
    an ordinary film is taken to have a gamma of 2.2.
    """
    signal = np.clip((np.arange(1024) - 64) / 876, 0, 1)
    light = _light_of_pq(signal) if transfer == _PQ else _light_of_hlg(signal)
    return np.clip(16.5 + 219 * (light / _WHITE[transfer]) ** (1 / 2.2), 0, 255).astype(np.uint8)


def _light_of_pq(signal: Floats) -> Floats:
    m1, m2, c1, c2, c3 = 2610 / 16384, 2523 / 4096 * 128, 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    root = signal ** (1 / m2)
    return np.asarray((np.maximum(root - c1, 0) / (c2 - c3 * root)) ** (1 / m1))


def _light_of_hlg(signal: Floats) -> Floats:
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    return np.where(signal <= 0.5, signal**2 / 3, (np.exp((signal - c) / a) + b) / 12)
