"""The text of a table from any program: encoding, delimiter, comments, quotes, words of the header.

Every reader of a table begins here. What the columns are is asked elsewhere; only time, hand and member, which all
tables share, are told by their words, in the languages that the program's users write.
"""

from __future__ import annotations

import csv
import math
import re
import unicodedata
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.errors import CoachError
from tempo_coach.resources import read_bytes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

#: Marks between cells, the least ambiguous first: a comma may be part of a number, a space of a name.
DELIMITERS = ("\t", ";", ",")
#: Lines within which the header must stand.
LOOK = 60
EMPTY_CELL = {"", "na", "n/a", "nan", "null", "none", "-", "--", "inf", "-inf"}
_COMMENTS = ("#", "%", "//")
_NUMBER = re.compile(r"[-+]?(\d+[.,]?\d*|[.,]\d+)([eE][-+]?\d+)?|[-+]?\d{1,3}((\.\d{3})+,|(,\d{3})+\.)\d*")
_SIGNATURES = (b"\xff\xd8\xff\xe0", b"\x89PNG", b"%PDF", b"RIFF", b"OggS", b"fLaC", b"PK\x03\x04", b"\x1f\x8b")
#: Bytes of the beginning in which signs of no text are looked for, and how many of them there may be.
_HEAD, _MOST_CONTROLS = 4096, 0.01
_CONTROLS = bytes(set(range(32)) - set(b"\t\n\r\f\x1a"))

#: Words of a column of times, the plainest first; "tempo" is time in Italian, and beats a minute elsewhere.
TIME_WORDS = ("time", "zeit", "temps", "tiempo", "tid", "tijd", "aika", "czas", "cas", "tempo")
HAND_WORDS = ("hand", "main", "mano", "seite", "side", "cote", "lado", "lato")
MEMBER_WORDS = ("member", "mitglied", "membre", "miembro", "membro", "name", "nom", "nombre", "nome", "medlem")
_HANDS = {
    "right": ("right", "r", "rechts", "rechte", "rechter", "droite", "droit", "derecha", "derecho", "destra", "destro"),
    "left": ("left", "l", "links", "linke", "linker", "gauche", "izquierda", "izquierdo", "sinistra", "sinistro"),
}
_HAND_OF = {word: hand for hand, words in _HANDS.items() for word in words}
#: Seconds a unit of time, by its words.
SECONDS = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "sekunde", "sekunden", "seg"), 1.0),
    **dict.fromkeys(("seconde", "secondes", "segundo", "segundos", "secondo", "secondi"), 1.0),
    **dict.fromkeys(("ms", "msec", "millis", "milliseconds", "millisecond", "millisekunden"), 1e-3),
    **dict.fromkeys(("millisecondes", "milisegundos", "millisecondi"), 1e-3),
    **dict.fromkeys(("us", "µs", "μs", "usec", "micros", "microseconds"), 1e-6),
    **dict.fromkeys(("ns", "nanos", "nanoseconds"), 1e-9),
}


class Rows(NamedTuple):
    """The cells of a table below its header.

    Parameters
    ----------
    header : list of str
        As they stand in the table.
    line : int
        Of the header, from 1.
    cells : iterator of (int, list of str)
        The line of each row that is not blank, and its cells.
    """

    header: list[str]
    line: int
    cells: Iterator[tuple[int, list[str]]]


def load_text(path: str | Path, *, what: str, most_mib: float) -> str:
    """Return the text of a table's file, in UTF-8, UTF-16 with or without its mark, or the Western European code page.

    Parameters
    ----------
    path : str or Path
    what, most_mib
        As in :func:`tempo_coach.resources.check_file`.

    Raises
    ------
    CoachError
        If it is too large, cannot be read, or is no text.
    """
    raw = read_bytes(path, what=what, most_mib=most_mib)
    encoding = guess_encoding(raw)
    head = raw[:_HEAD]
    if encoding is None or (
        not encoding.startswith("utf-16")
        and len(head) - len(head.translate(None, _CONTROLS)) > _MOST_CONTROLS * len(head)
    ):
        raise CoachError("table.no_text", where=str(path), what=what)
    return raw.decode(encoding, errors="replace").removeprefix("\ufeff")


def guess_encoding(raw: bytes) -> str | None:
    """Return the encoding of a table's bytes, or None if they are not text."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    head = raw[:_HEAD]
    if head.startswith(_SIGNATURES):
        return None
    if b"\x00" in head:
        # Of two bytes a letter in Western languages one is zero, always the same one.
        first, second = head[0::2].count(0) / len(head), head[1::2].count(0) / len(head)
        if max(first, second) > 0.35 and min(first, second) < 0.02:
            return "utf-16-le" if second > first else "utf-16-be"
        return None
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252" if not set(raw) & {0x81, 0x8D, 0x8F, 0x90, 0x9D} else "latin-1"
    return "utf-8"


def is_content(line: str) -> bool:
    """Return whether a line is neither blank nor a comment."""
    bare = line.lstrip()
    return bool(bare) and not bare.startswith(_COMMENTS)


def split_cells(line: str, delimiter: str) -> list[str]:
    """Return the cells of a line without quotes and padding; a blank delimiter stands for any run of whitespace.

    Examples
    --------
    >>> split_cells('"Time, s", x', ",")
    ['Time, s', 'x']
    """
    if delimiter == " ":
        return line.split()
    if '"' in line:
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))]
        except (csv.Error, StopIteration):
            pass  # a quote that never ends is a letter as any other
    return [cell.strip().strip('"').strip() for cell in line.split(delimiter)]


def is_number(cell: str) -> bool:
    """Return whether a cell holds a number, its decimal mark a point or a comma."""
    return _NUMBER.fullmatch(cell) is not None


def plain(word: str) -> str:
    """Return a word in lower case, without accents.

    Examples
    --------
    >>> plain("Posición"), plain("µs")
    ('posicion', 'µs')
    """
    return "".join(c for c in unicodedata.normalize("NFD", word.lower()) if not unicodedata.combining(c))


def words_of(name: str) -> list[str]:
    """Return the words of a column's name, in lower case and without accents."""
    return [word for word in re.split(r"[^0-9a-zµμ°]+", plain(name)) if word]


def find_hand(name: str) -> str | None:
    """Return the hand named in a cell or header, ``"left"`` or ``"right"``; None if none or both.

    Examples
    --------
    >>> find_hand("poignet gauche"), find_hand("R"), find_hand("right or left")
    ('left', 'right', None)
    """
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    found = {_HAND_OF[word] for word in words_of(spaced) if word in _HAND_OF}
    return found.pop() if len(found) == 1 else None


def match_hand(cell: str, hands: Sequence[str]) -> str:
    """Return which hand a cell names, in any of the languages; the cell itself where it names none."""
    if cell in hands:
        return cell
    hand = _HAND_OF.get(plain(cell), cell)
    return hand if hand in hands else cell


def find_column(header: Sequence[str], words: Sequence[str]) -> int | None:
    """Return the index of the column with one of the names, earlier names preferred; None if there is none."""
    names = [plain(name).strip() for name in header]
    return next((names.index(word) for word in words if word in names), None)


def find_time(header: Sequence[str]) -> tuple[int, float] | None:
    """Return the index of the time column and its unit in seconds; None if there is none.

    Examples
    --------
    >>> find_time(["Hand", "Zeit (ms)"])
    (1, 0.001)
    """
    best: tuple[int, int, float] | None = None
    for at, name in enumerate(header):
        words = words_of(name)
        if words and words[0] in TIME_WORDS and (len(words) == 1 or (len(words) == 2 and words[1] in SECONDS)):
            rank = TIME_WORDS.index(words[0])
            if best is None or rank < best[0]:
                best = (rank, at, SECONDS[words[1]] if len(words) == 2 else 1.0)
    return None if best is None else best[1:]


def read_number(cell: str) -> float:
    """Return the number in a cell, its decimal mark a point or a comma; NaN if there is none.

    Examples
    --------
    >>> read_number("1.234,5"), read_number("0,5"), read_number("-3e2")
    (1234.5, 0.5, -300.0)
    """
    if "," in cell and "." in cell and is_number(cell):  # what stands first goes between thousands
        cell = cell.replace(min(",.", key=cell.index), "")
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        return math.nan


def read_rows(text: str, *, where: str, what: str, most: int) -> Rows:
    """Return header and rows of a table, given the columns that matter.

    The header is the first line that names a column of times or of frames; where none does, the first line of all.

    Parameters
    ----------
    text : str
    where, what : str
        For what is said: where it stands, and what it should be.
    most : int
        Rows that there may be.

    Raises
    ------
    CoachError
        If there is nothing in it or more than ``most``; while the rows are read also if quotes do not fit together.
    """
    lines = text.splitlines()
    if not text.strip():
        raise CoachError("table.empty", where=where, what=what)
    if len(lines) > most:
        raise CoachError("table.too_long", where=where, what=what, most=most, found=len(lines))
    at, delimiter = _find_header(lines)
    body = (line if is_content(line) else "" for line in lines[at + 1 :])
    return Rows(split_cells(lines[at], delimiter), at + 1, _rows(body, at + 1, delimiter, where, what))


def _find_header(lines: Sequence[str]) -> tuple[int, str]:
    first = None
    for at, line in enumerate(lines[:LOOK]):
        if not is_content(line):
            continue
        # a header of one column has none: a comma below it is a decimal mark
        delimiter = max("\t,;", key=line.count)
        cells = split_cells(line, delimiter)
        if find_time(cells) is not None or find_column(cells, ("frame", "picture")) is not None:
            return at, delimiter
        first = (at, delimiter) if first is None else first
    return first or (0, ",")


def _rows(lines: Iterable[str], above: int, delimiter: str, where: str, what: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                yield above + reader.line_num, [cell.strip() for cell in row]
    except csv.Error as error:
        raise CoachError("table.unreadable", where=where, what=what, reason=str(error)) from error
