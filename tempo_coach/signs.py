"""The signs that an output can show: controls made visible, plain signs for missing ones, cells of tables.

Titles, labels, names and file names are written by people and by other programs. Whatever shows them, a terminal, a
screen, a page or a spreadsheet, must not take a part of them for an order.
"""

from __future__ import annotations

import codecs
import io
import re
import textwrap
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

#: What a terminal obeys instead of showing it: the controls of ISO 6429 (ECMA-48), both sets; line and paragraph
#: separators; what turns the direction of writing round (Unicode Standard Annex 9, explicit formatting characters);
#: and halves of surrogate pairs, which no encoding has.
CONTROLS = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
#: A cell that begins so is a formula to a spreadsheet (OWASP, "CSV Injection", from memory).
_FORMULA = re.compile(r"[=+\-@\t\r\n\uff0b\uff0d\uff1d\uff20]")
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?")

#: Signs that the program draws and writes with, in letters that every encoding has. The first letter is what a screen
#: shows, where a sign has one column.
_PLAIN = {
    "…": "...", "–": "-", "−": "-", "×": "x", "·": ".", "°": " deg", "±": "+-", "µ": "u", "μ": "u", "‖": "|",
    "“": '"', "”": '"', "‘": "'", "’": "'", "←": "<", "→": ">", "↑": "^", "↓": "v", "›": ">", "▸": ">", "◂": "<",
    "▁": "_", "▂": ".", "▃": "-", "▄": "o", "▅": "o", "▆": "O", "▇": "0", "▀": "^", "▏": "|", "░": ":", "▒": ":",
    "■": "#", "□": "o", "▪": "*", "▲": "^", "▼": "v", "◆": "*", "○": "o", "●": "@", "◇": "+", "△": "^", "▽": "v",
    "�": "?", "ß": "ss", "œ": "oe", "Œ": "OE", "æ": "ae", "ø": "o", "«": '"', "»": '"', "„": '"', "¿": "?", "¡": "!",
}  # fmt: skip
_PLAIN |= {chr(0x2400 + code): f"^{chr(code + 64)}" for code in range(32)} | {"␡": "^?"}
#: Names of error handlers for :func:`str.encode`: with all letters of a plain sign, and with as many as it has columns.
IN_PLAIN, IN_COLUMNS = "tempo_coach.in_plain", "tempo_coach.in_columns"


def show_controls(text: str, *, keep: str = "") -> str:
    r"""Return text without effect on a terminal: each control character is a visible sign.

    Parameters
    ----------
    text : str
    keep : str
        Controls that stay.

    Examples
    --------
    >>> show_controls("Mills \x1b[2J\n")
    'Mills ␛[2J␊'
    >>> show_controls("a\nb\x9b", keep="\n")
    'a\nb�'
    """
    return CONTROLS.sub(lambda found: found[0] if found[0] in keep else _sign(found[0]), text)


def in_encoding(text: str, encoding: str | None) -> str:
    """Return text with plain signs for those that an encoding lacks.

    Parameters
    ----------
    text : str
    encoding : str or None
        As a stream names it; None for one that takes everything.

    Examples
    --------
    >>> in_encoding("Zoë 🤸: 12° … ▁▃█ │", "ascii")
    'Zoe ??: 12 deg ... _-# |'
    """
    if encoding is None:
        return text
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        # where a name was cut off, a column follows: it stays where it is
        text = re.sub(r"(?<=\S)…(?=\s*\S)", ".", text) if _lacks("…", encoding) else text
        return text.encode(encoding, IN_PLAIN).decode(encoding)
    return text


def columns(text: str) -> int:
    """Return the width of a text on a terminal: wide letters take two columns, combining ones none.

    As Unicode Standard Annex 11 has it.

    Examples
    --------
    >>> columns("Ada"), columns("舞"), columns("Zoe\u0308")
    (3, 2, 3)
    """
    if text.isascii():
        return len(text)
    return sum(_width(letter) for letter in text)


def wrap(text: str, width: int, *, initial_indent: str = "", subsequent_indent: str = "") -> list[str]:
    """Return text in lines of at most a number of terminal columns, as :func:`textwrap.wrap` does by letters.

    Examples
    --------
    >>> wrap("one two three", 8), wrap("舞踊舞踊 舞踊", 6)
    (['one two', 'three'], ['舞踊舞', '踊', '舞踊'])
    """
    if columns(text) == len(text):
        return textwrap.wrap(text, width, initial_indent=initial_indent, subsequent_indent=subsequent_indent)
    lines: list[str] = []
    line, begun = initial_indent, False
    for word in text.split():
        rest = word
        while rest:
            joint = " " if begun else ""
            room = width - columns(line) - len(joint)
            taken = rest if columns(rest) <= room else ""
            if not taken and (not begun or columns(rest) > width - columns(subsequent_indent)):
                # longer than a line: as many letters as there is room for
                end = next((k for k in range(len(rest), 0, -1) if columns(rest[:k]) <= room), 0 if begun else 1)
                taken = rest[:end]
            if taken:
                line, begun, rest = f"{line}{joint}{taken}", True, rest[len(taken) :]
            if rest:
                lines.append(line)
                line, begun = subsequent_indent, False
    return [*lines, line] if begun else lines


def _width(letter: str) -> int:
    if unicodedata.combining(letter) or unicodedata.category(letter) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in ("W", "F") else 1


def cut(text: str, width: int) -> str:
    """Return a text truncated to a number of columns at its end: long names differ by their beginnings.

    Examples
    --------
    >>> cut("Maximiliane-Wilhelmina", 12), cut("Ada", 12), cut("舞子さん", 5)
    ('Maximiliane…', 'Ada', '舞子…')
    """
    if columns(text) <= width:
        return text
    while text and columns(text) > width - 1:
        text = text[:-1]
    return f"{text.rstrip()}…"


def pad(text: str, width: int) -> str:
    """Return a text padded with spaces to a number of columns.

    Examples
    --------
    >>> pad("Ada", 5), pad("舞", 5)
    ('Ada  ', '舞   ')
    """
    return text + " " * (width - columns(text))


def escape(text: str, quote: bool = True) -> str:
    r"""Return text for HTML or XML, which have no control characters.

    Examples
    --------
    >>> escape("<b>\x1b")
    '&lt;b&gt;␛'
    """
    import html

    return html.escape(show_controls(text, keep="\n\t"), quote)


def cell(text: str) -> str:
    r"""Return text for a cell of a table that a spreadsheet may open: no formula, no control character.

    Examples
    --------
    >>> cell("=1+1"), cell("-12.5"), cell("Ada")
    ("'=1+1", '-12.5', 'Ada')
    """
    shown = show_controls(text, keep="\n\t")
    return f"'{shown}" if _FORMULA.match(shown) and not _NUMBER.fullmatch(shown) else shown


def cells(row: Iterable[str]) -> str:
    r"""Return a line of a comma-separated table, each cell by :func:`cell`, quoted where needed.

    Examples
    --------
    >>> cells(["1.5", "Ada, the first", "=1+1"])
    '1.5,"Ada, the first",\'=1+1\n'
    """
    import csv

    line = io.StringIO()
    csv.writer(line, lineterminator="\n").writerow([cell(each) for each in row])
    return line.getvalue()


def _sign(control: str) -> str:
    code = ord(control)
    if code < 32:
        return chr(0x2400 + code)
    return "␡" if code == 127 else "�"


def _lacks(sign: str, encoding: str) -> bool:
    try:
        sign.encode(encoding)
    except UnicodeEncodeError:
        return True
    return False


def _plain(sign: str) -> str:
    """Return a sign in ASCII: a letter without its marks, else a question mark a column."""
    if sign in _PLAIN:
        return _PLAIN[sign]
    if "\u2500" <= sign <= "\u257f":  # box drawing: Unicode names its strokes
        name = unicodedata.name(sign)
        across, down = "HORIZONTAL" in name or name.endswith(("LEFT", "RIGHT")), "VERTICAL" in name
        return "+" if (across and down) or (" AND " in name) else "|" if down or name.endswith(("UP", "DOWN")) else "-"
    if "\u2580" <= sign <= "\u259f":  # blocks
        return "#"
    if "\u2800" <= sign <= "\u28ff":  # braille: by the number of its dots
        dots = (ord(sign) - 0x2800).bit_count()
        return " " if not dots else "." if dots < 3 else ":" if dots < 6 else "#"
    base = "".join(letter for letter in unicodedata.normalize("NFKD", sign) if letter.isascii())
    if base:
        return base
    if unicodedata.combining(sign) or unicodedata.category(sign) in ("Mn", "Me", "Cf"):
        return ""
    return "??" if unicodedata.east_asian_width(sign) in ("W", "F") else "?"


def _in_plain(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_plain, error.object[error.start : error.end])), error.end


def _in_columns(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(_columns(sign) for sign in error.object[error.start : error.end]), error.end


def _columns(sign: str) -> str:
    plain = _plain(sign).lstrip() or " "
    if not _plain(sign):
        return ""
    width = 2 if unicodedata.east_asian_width(sign) in ("W", "F") else 1
    return plain[:width].ljust(width)


codecs.register_error(IN_PLAIN, _in_plain)
codecs.register_error(IN_COLUMNS, _in_columns)
