"""The text of a table to named columns: its delimiter, its header, the numbers in it and the words.

Comma, semicolon or tab; decimal comma where the comma does not separate. What the columns mean is not asked here.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.header import read_time_name
from tempo_coach.resources import MOST_MIB, read_bytes

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from tempo_coach.times import Floats

TABLE_HINT = "expected a table with a header: a time column, and positions, accelerations or rotation rates"
#: Columns of the widest table that is read: a hundred points with place, speed and turn in space have nine hundred.
MOST_COLUMNS = 2000
#: Rows of the longest one: an hour at 1000 readings a second.
MOST_ROWS = 3_600_000
#: Names of columns that are told in an error.
_TOLD = 12
#: Lines within which the readings must begin.
_LOOK = 60
_EMPTY_CELL = {"", "na", "n/a", "nan", "null", "none", "-", "--", "inf", "-inf"}


class Columns(NamedTuple):
    """The columns of a table.

    Parameters
    ----------
    names : list of str, length m
        No two alike.
    units : list of str, length m
        As written in a row below the names; empty where there is none.
    numbers : numpy.ndarray, shape (n, m)
        NaN where there is no number.
    words : dict of int to list of str, length n
        The cells of the columns that hold words, by the column's place.
    """

    names: list[str]
    units: list[str]
    numbers: Floats
    words: dict[int, list[str]]


def split_columns(text: str, where: str) -> Columns:
    """Return the columns in the text of a table.

    Parameters
    ----------
    text : str
        Lines that begin with ``#`` are comments.
    where : str
        The table's name for what is said.

    Raises
    ------
    CoachError
        If there are no rows of numbers, fewer than two of them, no header, or more than any record has.
    """
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if len(lines) > MOST_ROWS:
        raise CoachError(
            f"expected up to {MOST_ROWS:,} rows, found {len(lines):,}",
            where=where,
            hint="cut it to the passage, or keep every second reading",
        )
    widest = max((line.count(mark) + 1 for line in lines[:_LOOK] for mark in "\t;,"), default=0)
    if widest > MOST_COLUMNS:
        raise CoachError(
            f"expected up to {MOST_COLUMNS:,} columns, found {widest:,}",
            where=where,
            hint="leave out those that are not needed",
        )
    delimiter, first = _find_body(lines, where)
    names, units = _find_names(lines[:first], delimiter, len(_cells(lines[first], delimiter)), where)
    body = lines[first:]
    if len(body) < 2:
        raise CoachError(f"expected at least two rows of readings, got {len(body)}", where=where, hint=TABLE_HINT)
    numbers, words = _numbers(body, names, delimiter)
    numbers[np.isinf(numbers)] = np.nan  # no sensor reads infinity: somebody divided by nothing
    return Columns(names, units, numbers, words)


def list_names(names: Sequence[str]) -> str:
    """Return names of columns as they are told: the first ones, and how many more there are."""
    more = f" and {len(names) - _TOLD} more" if len(names) > _TOLD else ""
    return f"{', '.join(name[:40] for name in names[:_TOLD])}{more}"


def load_text(path: Path) -> str:
    """Return the text of a table's file, whatever it is encoded in.

    Raises
    ------
    CoachError
        If it is too large, cannot be read, or is no text.
    """
    where = str(path)
    raw = read_bytes(path, what="a table", hint=TABLE_HINT, most_mib=MOST_MIB["readings"])
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    if b"\x00" in raw[:4096] or raw[:4] in (b"\xff\xd8\xff\xe0", b"\x89PNG", b"%PDF", b"RIFF", b"OggS", b"fLaC"):
        raise CoachError("it is not a table of text, but a picture, sound or other file", where=where, hint=TABLE_HINT)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _cells(line: str, delimiter: str) -> list[str]:
    return [cell.strip().strip('"').strip() for cell in line.split(delimiter)]


def _is_number(cell: str) -> bool:
    return bool(re.fullmatch(r"[-+]?(\d+[.,]?\d*|[.,]\d+)([eE][-+]?\d+)?", cell)) or cell.lower() in _EMPTY_CELL


def _find_body(lines: Sequence[str], where: str) -> tuple[str, int]:
    """Return the delimiter and the number of the first line of readings."""
    if not lines:
        raise CoachError("the file is empty", where=where, hint=TABLE_HINT)
    for delimiter in ("\t", ";", ","):
        for number, line in enumerate(lines[:_LOOK]):
            cells = _cells(line, delimiter)
            if len(cells) < 2 or not any(_is_number(cell) and cell for cell in cells):
                continue
            odd = sum(not _is_number(cell) for cell in cells)
            if odd <= max(1, len(cells) // 3) and (
                number + 1 >= len(lines) or _alike(lines[number + 1], cells, delimiter)
            ):
                return delimiter, number
    raise CoachError("found no rows of numbers in it", where=where, hint=TABLE_HINT)


def _alike(line: str, cells: list[str], delimiter: str) -> bool:
    return len(_cells(line, delimiter)) == len(cells)


def _find_names(above: Sequence[str], delimiter: str, width: int, where: str) -> tuple[list[str], list[str]]:
    """Return the columns' names and the units written in a row below them."""
    rows = [_cells(line, delimiter) for line in above if len(_cells(line, delimiter)) == width]
    if not rows:
        raise CoachError("expected a header with a name for every column, found none", where=where, hint=TABLE_HINT)
    units = [""] * width
    names = rows[-1]
    if len(rows) > 1 and all(_is_unit(cell) for cell in names) and any(names):
        units, names = [cell.strip("()[]") for cell in names], rows[-2]
    seen: dict[str, int] = {}
    unique = []
    for i, name in enumerate(names):
        word = name or f"column {i + 1}"
        seen[word] = seen.get(word, 0) + 1
        unique.append(word if seen[word] == 1 else f"{word} {seen[word]}")
    return unique, units


def _is_unit(cell: str) -> bool:
    bare = cell.strip("()[]").lower()
    time = read_time_name(bare)
    return (
        bare in {"", "-", "m", "cm", "mm", "px", "g", "mg"}
        or "/s" in bare
        or (time is not None and time.unit is not None)
    )


def _numbers(body: list[str], names: list[str], delimiter: str) -> tuple[Floats, dict[int, list[str]]]:
    """Return the numbers, NaN where there is none, and the cells of columns that hold words."""
    width = len(names)
    first = _cells(body[0], delimiter)
    texts: dict[int, list[str]] = {i: [] for i, cell in enumerate(first) if not _is_number(cell)}
    numeric = [i for i in range(width) if i not in texts]
    if not texts and not any('"' in line for line in body):
        decimal_commas = delimiter != "," and any("," in line for line in body)
        rows = (line.replace(",", ".") for line in body) if decimal_commas else body
        try:
            return np.loadtxt(rows, delimiter=delimiter, ndmin=2, comments=None), {}
        except ValueError:
            pass  # a cell is empty or a word: the slower way below takes it cell by cell
    table = np.full((len(body), width), np.nan)
    for row, line in enumerate(body):
        cells = _cells(line, delimiter)
        cells += [""] * (width - len(cells))
        for i in numeric:
            table[row, i] = _number(cells[i], decimal_comma=delimiter != ",")
        for i, column in texts.items():
            column.append(cells[i])
    return table, texts


def _number(cell: str, *, decimal_comma: bool) -> float:
    if cell.lower() in _EMPTY_CELL:
        return float("nan")
    try:
        return float(cell.replace(",", ".") if decimal_comma else cell)
    except ValueError:
        return float("nan")
