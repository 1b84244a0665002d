"""Signs large enough for three metres: numbers of solid blocks, and capital letters of half blocks. Drawn for this.

Numbers are cut like cloth letters on a leotard: straight strokes, two squares wide, with clipped corners. A square of
a number is two columns wide and one row high, which most terminals show as a square; a square of a letter is one
column wide and half a row high.
"""

from __future__ import annotations

from functools import cache
from unicodedata import normalize

#: Rows of a number as drawn, and squares across.
NUMBER_ROWS = 11
NUMBER_WIDTH = 7
#: Rows that a line of letters takes.
LETTER_ROWS = 3

_NUMBERS = {
    "0": ".#####. ####### ##...## ##...## ##...## ##...## ##...## ##...## ##...## ####### .#####.",
    "1": "..###.. .####.. #####.. ##.##.. ...##.. ...##.. ...##.. ...##.. ...##.. ####### #######",
    "2": ".#####. ####### ##...## .....## ....### ...###. ..###.. .###... ###.... ####### #######",
    "3": "####### ####### ....##. ...##.. ..####. ..##### .....## .....## ##...## ####### .#####.",
    "4": "...###. ..####. ..#.##. .##.##. .#..##. ##..##. ##..##. ####### ####### ....##. ....##.",
    "5": "####### ####### ##..... ##..... ######. ####### .....## .....## ##...## ####### .#####.",
    "6": "..####. .#####. ###.... ##..... ######. ####### ##...## ##...## ##...## ####### .#####.",
    "7": "####### ####### .....## ....##. ....##. ...##.. ...##.. ..##... ..##... ..##... ..##...",
    "8": ".#####. ####### ##...## ##...## .#####. .#####. ##...## ##...## ##...## ####### .#####.",
    "9": ".#####. ####### ##...## ##...## ##...## ####### .###### .....## ....### .#####. .####..",
}

_LETTERS = {
    "A": ".##. #..# #### #..# #..#",
    "B": "###. #..# ###. #..# ###.",
    "C": ".### #... #... #... .###",
    "D": "###. #..# #..# #..# ###.",
    "E": "#### #... ###. #... ####",
    "F": "#### #... ###. #... #...",
    "G": ".### #... #.## #..# .###",
    "H": "#..# #..# #### #..# #..#",
    "I": "### .#. .#. .#. ###",
    "J": "..## ...# ...# #..# .##.",
    "K": "#..# #.#. ##.. #.#. #..#",
    "L": "#... #... #... #... ####",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#..# ##.# #.## #..# #..#",
    "O": ".##. #..# #..# #..# .##.",
    "P": "###. #..# ###. #... #...",
    "Q": ".##. #..# #..# #.#. .#.#",
    "R": "###. #..# ###. #.#. #..#",
    "S": ".### #... .##. ...# ###.",
    "T": "##### ..#.. ..#.. ..#.. ..#..",
    "U": "#..# #..# #..# #..# .##.",
    "V": "#...# #...# .#.#. .#.#. ..#..",
    "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#...# .#.#. ..#.. .#.#. #...#",
    "Y": "#...# .#.#. ..#.. ..#.. ..#..",
    "Z": "#### ..#. .#.. #... ####",
    "0": ".##. #..# #..# #..# .##.",
    "1": ".#. ##. .#. .#. ###",
    "2": "###. ...# .##. #... ####",
    "3": "###. ...# .##. ...# ###.",
    "4": "#..# #..# #### ...# ...#",
    "5": "#### #... ###. ...# ###.",
    "6": ".### #... ###. #..# .##.",
    "7": "#### ...# ..#. .#.. .#..",
    "8": ".##. #..# .##. #..# .##.",
    "9": ".##. #..# .### ...# ###.",
    " ": ".. .. .. .. ..",
    "-": "... ... ### ... ...",
    "+": "... .#. ### .#. ...",
    ".": ". . . . #",
    "&": ".#.. #.#. .#.. #.## .##.",
    "?": "##. ..# .#. ... .#.",
    "'": "# # . . .",
    "<": "..# .#. #.. .#. ..#",
    ">": "#.. .#. ..# .#. #..",
    "=": "... ### ... ### ...",
}
_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


@cache
def draw_number(text: str, *, rows: int = NUMBER_ROWS, square: int = 2) -> tuple[str, ...]:
    """Return a number in solid blocks.

    Parameters
    ----------
    text : str
        Digits only.
    rows : int
        Its height; the drawing is stretched to it.
    square : int
        Columns that a square of the drawing takes.

    Returns
    -------
    tuple of str
        ``rows`` of equal width.

    Examples
    --------
    >>> print(draw_number("7", rows=11)[0])
    ██████████████
    """
    drawn = [_NUMBERS[digit].split() for digit in text]
    picked = [row * NUMBER_ROWS // rows for row in range(rows)]
    return tuple(
        ("  ").join("".join((" █"[dot == "#"]) * square for dot in digit[row]) for digit in drawn) for row in picked
    )


@cache
def draw_letters(text: str) -> tuple[str, ...]:
    r"""Return a line of capital letters in half blocks, three rows high.

    A letter with a mark that there is no drawing for stands without it; what has none at all becomes a gap.

    Examples
    --------
    >>> print("\n".join(draw_letters("Up")))
    ▄  ▄ ▄▄▄
    █  █ █▄▄▀
    ▀▄▄▀ █
    """
    drawn = [drawing.split() for drawing in _drawings(text)]
    lines = [" ".join(letter[row] for letter in drawn) for row in range(5)]
    lines.insert(0, "." * len(lines[0]))  # so that they stand clear of what is written above them
    return tuple(
        "".join(
            _HALVES[upper == "#", lower == "#"] for upper, lower in zip(lines[row], lines[row + 1], strict=True)
        ).rstrip()
        for row in (0, 2, 4)
    )


def letters_width(text: str) -> int:
    """Return how many columns a line of letters takes."""
    return sum(len(drawing.split()[0]) + 1 for drawing in _drawings(text)) - 1


def _drawings(text: str) -> list[str]:
    """Return the drawing of each letter, ``é`` as ``E`` where it has none of its own."""
    return [_LETTERS.get(each) or _LETTERS.get(normalize("NFD", each)[0], _LETTERS[" "]) for each in text.upper()]


def fit_letters(text: str, width: int) -> str | None:
    """Return the end of a text, in whole words, that fits into a number of columns; None where no word does.

    Examples
    --------
    >>> fit_letters("right wrist over", 40)
    'over'
    """
    words = text.split()
    for first in range(len(words)):
        rest = " ".join(words[first:])
        if letters_width(rest) <= width:
            return rest
    return None
