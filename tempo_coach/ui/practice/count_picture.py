"""Pictures of a film of counts, in the look of the practice card: the big count, the eight, now and next."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.languages import tr, tr_n
from tempo_coach.ui.glyphs import NUMBER_ROWS, draw_number
from tempo_coach.ui.palette import BLUE, CARD, FAINT, INK

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.coach.count_film import FilmStep

#: Pixels of a picture, and of a square of the big number.
SIZE = (1920, 1080)
_SQUARE = 44
_HEAD = 90


def draw_step(step: FilmStep, *, title: str) -> NDArray[np.uint8]:
    """Return the picture of a step, shape (1080, 1920, 3), red, green and blue.

    Parameters
    ----------
    step : FilmStep
    title : str
        Of the routine.
    """
    import cv2

    width, _ = SIZE
    picture = _card().copy()
    _write(cv2, picture, title, (60, 62), 1.6, CARD)
    if step.eight is not None:
        _write(cv2, picture, tr("eight {eight}", eight=step.eight), (1500, 62), 1.6, CARD)
    if step.count is not None:
        drawn = [[sign != " " for sign in row] for row in draw_number(str(step.count), square=1)]
        blocks = np.kron(np.array(drawn), np.ones((_SQUARE, _SQUARE), bool))
        left, top = (700 - blocks.shape[1]) // 2 + 80, 230
        picture[top : top + blocks.shape[0], left : left + blocks.shape[1]][blocks] = _rgb(INK)
    elif step.eight is not None:
        _write(cv2, picture, "wait", (260, 230 + NUMBER_ROWS * _SQUARE // 2), 4.0, FAINT)
    column, room = 860, width - 860 - 60
    _write(cv2, picture, "now" if step.now else "", (column, 240), 1.4, FAINT)
    _write_lines(cv2, picture, step.now, (column, 340), 2.6, INK, room, rows=3)
    ahead = tr_n("next, in {number} count", "next, in {number} counts", step.next_in) if step.next else ""
    _write(cv2, picture, ahead, (column, 660), 1.4, FAINT)
    _write_lines(cv2, picture, step.next, (column, 740), 1.9, BLUE, room, rows=2)
    _write_lines(cv2, picture, step.remark, (80, 960), 2.0, INK, width - 160, rows=2)
    return picture


@cache
def _card() -> NDArray[np.uint8]:
    """Return the empty card with its head."""
    width, height = SIZE
    card = np.empty((height, width, 3), np.uint8)
    card[:] = _rgb(CARD)
    card[:_HEAD] = _rgb(INK)
    return card


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _write(cv2: Any, picture: NDArray[np.uint8], text: str, at: tuple[int, int], size: float, colour: str) -> None:
    plain = text.replace("·", "+").encode("ascii", "replace").decode()
    thick = max(2, round(1.8 * size))
    cv2.putText(picture, plain, at, cv2.FONT_HERSHEY_DUPLEX, size, _rgb(colour), thick, cv2.LINE_AA)


def _write_lines(
    cv2: Any,
    picture: NDArray[np.uint8],
    text: str,
    at: tuple[int, int],
    size: float,
    colour: str,
    room: int,
    *,
    rows: int,
) -> None:
    """Write a text in lines that fit, the last one cut."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        wide = cv2.getTextSize(longer, cv2.FONT_HERSHEY_DUPLEX, size, max(2, round(1.8 * size)))[0][0]
        if lines and wide <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    for k, line in enumerate(lines[:rows]):
        _write(cv2, picture, line, (at[0], at[1] + round(k * 42 * size)), size, colour)
