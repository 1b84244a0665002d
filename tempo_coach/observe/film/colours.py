"""Colours of markers: by name, sampled at a pixel, and the names of hues."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError, nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from tempo_coach.observe.film.frames import Frame
    from tempo_coach.times import Floats

#: Least chroma (of 128) of a saturated colour: skin has up to 35, painted walls 25, tape 60 to 110 (measured on
#: invented pictures with common colours).
COLOURED = 38.0
#: Least distance (of 128) of a pale colour from what is behind it, some five times the noise of a phone's picture, and
#: that from which it is a colour at all.
DISTINCT, FAINT = 9.0, 5.0

#: A typical shade of each name in RGB. A colour has the name of the nearest hue.
SHADES = {
    "red": (220, 30, 40),
    "orange": (245, 120, 20),
    "yellow": (240, 220, 30),
    "green": (40, 180, 70),
    "turquoise": (30, 200, 200),
    "blue": (30, 80, 220),
    "purple": (130, 50, 200),
    "pink": (235, 60, 160),
    "white": (250, 250, 250),
}
#: Known by brightness instead of hue.
BRIGHT = ("white",)
_SAME = {
    "cyan": "turquoise",
    "magenta": "pink",
    "violet": "purple",
    "gold": "yellow",
    "bright": "white",
    "lilac": "purple",
}


@dataclass(frozen=True)
class Colour:
    """The colour of a marker.

    Parameters
    ----------
    name : str
    values : (float, float, float)
        Brightness 0 to 255 and the colour differences Cb and Cr, 128 being grey.
    bright : bool
        Known by its brightness rather than its hue.
    sampled : bool
        Sampled in the film, not known by name.
    """

    name: str
    values: tuple[float, float, float]
    bright: bool = False
    sampled: bool = False

    @property
    def hue_deg(self) -> float:
        """Direction of the colour differences, degrees."""
        return float(np.degrees(np.arctan2(self.values[2] - 128, self.values[1] - 128)))


def named_colour(word: str) -> Colour:
    """Return the colour of that name.

    Raises
    ------
    CoachError
        If there is none; the nearest is suggested.
    """
    name = _SAME.get(word.strip().lower(), word.strip().lower())
    if name not in SHADES:
        close = nearest(name, [*SHADES, *_SAME])
        raise CoachError("colour.unknown", where="--marker", shades=[*SHADES], colour=word, nearest=close)
    return Colour(name, to_ycc(SHADES[name]), bright=name in BRIGHT)


def to_ycc(rgb: Sequence[float]) -> tuple[float, float, float]:
    """Return brightness and colour differences of a colour, in the range of film (ITU-R BT.601)."""
    r, g, b = (value / 255 for value in rgb)
    luma = 0.299 * r + 0.587 * g + 0.114 * b
    return 16 + 219 * luma, 128 + 112 * (b - luma) / 0.886, 128 + 112 * (r - luma) / 0.701


def name_hues(blue: ArrayLike, red: ArrayLike) -> NDArray[np.str_]:
    """Return the names of the nearest hues, shape (n,), of colour differences Cb - 128 and Cr - 128."""
    names = np.array([name for name in SHADES if name not in BRIGHT])
    angles = np.array([named_colour(str(name)).hue_deg for name in names])
    hues = np.degrees(np.arctan2(np.atleast_1d(red), np.atleast_1d(blue)))
    nearest: NDArray[np.str_] = names[np.argmin(np.abs(shorter_turn(hues[:, None] - angles)), axis=1)]
    return nearest


def colour_at(frame: Frame, x: float, y: float, *, name: str, behind: tuple[float, float] | None = None) -> Colour:
    """Return the colour of the marker that covers a pixel of a picture.

    Parameters
    ----------
    frame : Frame
    x, y : float
        The pixel.
    name : str
    behind : (float, float) or None
        Cb and Cr of what is behind the marker there, where it is known: a pale colour is one by its distance from it.

    Raises
    ------
    CoachError
        If the pixel lies outside, or is neither coloured nor bright, or hardly differs from what is behind it.
    """
    rows, columns = frame.luma.shape
    if not (0 <= x <= columns - 1 and 0 <= y <= rows - 1):
        raise CoachError("pixel.outside", where="--at", columns=columns, rows=rows, x_px=x, y_px=y)
    across, down = round((x - frame.site[0]) / 2), round((y - frame.site[1]) / 2)
    part = np.s_[max(0, down - 1) : down + 2, max(0, across - 1) : across + 2]
    blue, red = frame.blue[part].astype(float).ravel(), frame.red[part].astype(float).ravel()
    luma = float(np.median(frame.luma[max(0, round(y) - 1) : round(y) + 2, max(0, round(x) - 1) : round(x) + 2]))
    strong = np.argsort(np.hypot(blue - 128, red - 128))[-max(1, blue.size // 2) :]
    values = (luma, float(np.median(blue[strong])), float(np.median(red[strong])))
    if np.hypot(values[1] - 128, values[2] - 128) >= COLOURED / 2:
        return Colour(name, values, sampled=True)
    if luma > 190:
        return Colour(name, values, bright=True, sampled=True)
    chroma = float(np.hypot(values[1] - 128, values[2] - 128))
    apart = chroma if behind is None else float(np.hypot(values[1] - behind[0], values[2] - behind[1]))
    if apart >= DISTINCT:
        return Colour(name, values, sampled=True)
    if max(apart, chroma) >= FAINT:
        raise CoachError("pixel.too_pale", where="--at", x_px=x, y_px=y, apart=apart, least=DISTINCT)
    raise CoachError("pixel.colourless", where="--at", x_px=x, y_px=y)


def shorter_turn(degrees: Floats | float) -> Floats:
    """Wrap differences of two directions to -180 to 180 degrees."""
    return np.asarray((np.asarray(degrees) + 180) % 360 - 180)
