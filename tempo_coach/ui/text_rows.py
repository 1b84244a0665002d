"""Rows of text for a screen: filled up to its size, heads and warnings, and whether a screen is large enough."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from tempo_coach.languages import tr
from tempo_coach.signs import cut, wrap

if TYPE_CHECKING:
    from tempo_coach.ui.palette import Palette

#: The least size that everything fits into.
LEAST_WIDTH, LEAST_HEIGHT = 80, 24
#: Rows from which on a screen is high; one of them is the foot.
HIGH = 30
#: The size below which nothing is drawn but how much is needed.
_SMALLEST_WIDTH, _SMALLEST_HEIGHT = 40, 10


def fits(width: int, height: int) -> bool:
    """Return whether a screen of a size can be drawn on at all."""
    return width >= _SMALLEST_WIDTH and height >= _SMALLEST_HEIGHT


def say_least() -> str:
    """Return the minimum size of a screen."""
    return tr(
        "This needs {least_width} columns and {least_height} rows.", least_width=LEAST_WIDTH, least_height=LEAST_HEIGHT
    )


def draw_too_small(width: int, height: int, palette: Palette) -> list[Text]:
    """Return the rows of a screen that is too small: the minimum size, as far as that fits."""
    told = wrap(say_least(), max(width, 1))[:height]
    return [pad(Text(row, palette.text), width, palette) for row in [*told, *[""] * (height - len(told))]]


def fill(lines: list[Text], width: int, height: int, palette: Palette) -> list[Text]:
    """Return lines as rows of a card, cut and padded to its height and width."""
    rows = [*lines[:height], *[Text() for _ in range(height - len(lines))]]
    return [pad(row, width, palette) for row in rows]


def warn(sentence: str, width: int, palette: Palette) -> list[Text]:
    """Return a sentence that must be visible, whole."""
    return [Text("  ").append(f" {row} ", palette.warning) for row in wrap(sentence, width - 6)]


def bar(left: str, right: str, width: int, palette: Palette) -> Text:
    """Return a head or foot: one text at its left end, one at its right; the longer is cut where both do not fit."""
    if cell_len(left) + cell_len(right) >= width:
        if cell_len(left) < cell_len(right):
            right = cut(right, max(width - cell_len(left) - 1, 1))
        else:
            left = cut(left, max(width - cell_len(right) - 1, 1))
    room = max(width - cell_len(right) - 1, 0)
    return Text(f"{set_cell_size(left, room)} {set_cell_size(right, width - room - 1)}", palette.bar)


def append_signs(line: Text, signs: list[tuple[str, str]]) -> Text:
    """Append signs with a style each, grouped by style, which costs the terminal less."""
    for style, run in groupby(signs, key=lambda sign: sign[1]):
        line.append("".join(sign for sign, _ in run), style)
    return line


def pad(line: Text, width: int, palette: Palette) -> Text:
    """Return a line cut or filled up to a width."""
    room = width - line.cell_len
    if room > 0:
        line.append(" " * room, palette.text)
    elif room < 0:
        line.truncate(width)
    return line
