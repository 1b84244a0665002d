"""The text of a table to named columns: its delimiter, its header, the numbers in it and the words.

Comma, semicolon or tab; decimal comma where the comma does not separate. What the columns mean is not asked here.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe import table_text
from tempo_coach.observe.table_text import DELIMITERS, EMPTY_CELL, LOOK, is_content, is_number, read_number, split_cells
from tempo_coach.observe.trace.header import is_unit
from tempo_coach.resources import MOST_MIB

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from tempo_coach.times import Floats

#: Columns of the widest table that is read: a hundred points with place, speed and turn in space have nine hundred.
MOST_COLUMNS = 2000
#: Rows of the longest one: an hour at 1000 readings a second.
MOST_ROWS = 3_600_000
#: How most rows of numbers begin: whoever begins so is no comment.
_BEGINS = frozenset("-.0123456789")


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
    lines = [line for line in text.splitlines() if line[:1] in _BEGINS or is_content(line)]
    if len(lines) > MOST_ROWS:
        raise CoachError("readings.too_many", where=where, most=MOST_ROWS, found=len(lines))
    widest = max((line.count(mark) + 1 for line in lines[:LOOK] for mark in "\t;,"), default=0)
    if widest > MOST_COLUMNS:
        raise CoachError("readings.too_wide", where=where, most=MOST_COLUMNS, found=widest)
    if not lines:
        raise CoachError("readings.empty", where=where)
    delimiter, first, width = _find_body(lines, where)
    names, units = _find_names(text, lines[:first], delimiter, width, where)
    body = lines[first:]
    if len(body) < 2:
        raise CoachError("readings.few_rows", where=where, found=len(body))
    numbers, words = _numbers(body, width, delimiter)
    numbers[np.isinf(numbers)] = np.nan  # no sensor reads infinity: somebody divided by nothing
    return Columns(names, units, numbers, words)


def read_header(text: str) -> list[str]:
    """Return the column names of a table from its beginning alone; none if it is not a table."""
    lines = [line for line in text.splitlines() if is_content(line)]
    try:
        delimiter, first, width = _find_body(lines, "")
        return _find_names(text, lines[:first], delimiter, width, "")[0]
    except CoachError:
        return split_cells(lines[0], max(",;\t", key=lines[0].count)) if lines else []


def load_text(path: Path) -> str:
    """Return the text of a table's file (see :func:`tempo_coach.observe.table_text.load_text`).

    Raises
    ------
    CoachError
        If it is too large, cannot be read, or is no text.
    """
    return table_text.load_text(path, what="readings", most_mib=MOST_MIB["readings"])


def _find_body(lines: Sequence[str], where: str) -> tuple[str, int, int]:
    """Return the delimiter, the line number of the first readings, and the number of cells in them.

    The delimiter is the one that cuts most lines into the same number of cells with a number among them. The readings
    begin with the first of these lines that has numbers and words where the last one that was looked at has them.
    """
    found: tuple[int, str, int] | None = None
    for delimiter in (*DELIMITERS, " "):
        widths: Counter[int] = Counter()
        for line in lines[:LOOK]:
            cells = split_cells(line, delimiter)
            if len(cells) > 1 and any(is_number(cell) for cell in cells):
                widths[len(cells)] += 1
        width, count = widths.most_common(1)[0] if widths else (0, 0)
        if count and (found is None or count > found[0]):
            found = (count, delimiter, width)
    if found is None:
        raise CoachError("readings.none", where=where)
    _, delimiter, width = found
    rows = {
        at: cells
        for at, cells in enumerate(split_cells(line, delimiter) for line in lines[:LOOK])
        if len(cells) == width and any(is_number(cell) for cell in cells)
    }
    last = rows[max(rows)]
    return delimiter, next(at for at, cells in rows.items() if _alike(cells, last)), width


def _alike(cells: Sequence[str], others: Sequence[str]) -> bool:
    """Return whether two rows have numbers in the same columns, cells that are empty in one of them aside."""
    return all(is_number(a) == is_number(b) or _is_empty(a) or _is_empty(b) for a, b in zip(cells, others, strict=True))


def _is_empty(cell: str) -> bool:
    return cell.lower() in EMPTY_CELL


def _find_names(text: str, above: Sequence[str], delimiter: str, width: int, where: str) -> tuple[list[str], list[str]]:
    """Return the columns' names and the units in a row below them.

    Names that stand there twice get the words above them, where a row of groups (points, sensors) stands above; else
    a number.
    """
    rows = [cells for line in above if len(cells := split_cells(line, delimiter)) == width]
    if not rows:
        # a header may be the last comment above the readings
        comments = [
            line.lstrip("#%/ ") for line in text.splitlines()[: 2 * LOOK] if line.strip() and not is_content(line)
        ]
        rows = [cells for line in comments if len(cells := split_cells(line, delimiter)) == width][-1:]
    if not rows:
        raise CoachError("readings.no_header", where=where)
    units = [""] * width
    names = rows.pop()
    if rows and all(is_unit(cell) for cell in names) and any(names):
        units, names = [cell.strip("()[]") for cell in names], rows.pop()
    names = _name_groups(rows, names)
    seen: dict[str, int] = {}
    unique = []
    for i, name in enumerate(names):
        word = name or f"column {i + 1}"
        seen[word] = seen.get(word, 0) + 1
        unique.append(word if seen[word] == 1 else f"{word} {seen[word]}")
    return unique, units


def _name_groups(rows: Sequence[Sequence[str]], names: Sequence[str]) -> list[str]:
    """Return names prefixed by the words of the rows above, where they occur more than once."""
    counts = Counter(names)
    out = list(names)
    for row in rows[::-1]:
        filled, word = [], ""
        for cell in row:
            word = cell or word
            filled.append(word)
        if len({word for word, name in zip(filled, names, strict=True) if counts[name] > 1}) > 1:
            out = [
                f"{word} {name}" if counts[plain] > 1 and word else name
                for word, name, plain in zip(filled, out, names, strict=True)
            ]
    return out


def _numbers(body: list[str], width: int, delimiter: str) -> tuple[Floats, dict[int, list[str]]]:
    """Return the numbers, NaN where there is none, and the cells of columns of words."""
    texts = _word_columns(body, width, delimiter)
    numeric = [i for i in range(width) if i not in texts]
    table = np.full((len(body), width), np.nan)
    try:
        table[:, numeric] = np.loadtxt(
            _fill(body, delimiter),
            delimiter=None if delimiter == " " else delimiter,
            ndmin=2,
            comments=None,
            quotechar='"',
            usecols=numeric,
        )
        quick = True
    except ValueError:
        quick = False  # a cell is a word, or quotes hold commas: cell by cell then
    if quick and not texts:
        return table, texts
    for row, line in enumerate(body):
        cells = split_cells(line, delimiter)
        cells += [""] * (width - len(cells))
        if not quick:
            for i in numeric:
                table[row, i] = read_number(cells[i])
        for i, column in texts.items():
            column.append(cells[i])
    return table, texts


def _word_columns(body: Sequence[str], width: int, delimiter: str) -> dict[int, list[str]]:
    """Return an empty list for each column whose first non-empty cell is a word."""
    kinds: dict[int, bool] = {}
    for line in body[:LOOK]:
        for i, cell in enumerate(split_cells(line, delimiter)[:width]):
            if i not in kinds and not _is_empty(cell):
                kinds[i] = is_number(cell)
    return {i: [] for i, numeric in sorted(kinds.items()) if not numeric}


def _fill(body: Sequence[str], delimiter: str) -> Iterable[str]:
    """Return the rows with decimal points, and a placeholder in empty cells."""
    whole = "\n".join(["", *body, ""])
    decimal_commas = delimiter != "," and "," in whole
    gaps = (delimiter * 2, delimiter + "\n", "\n" + delimiter)
    are_full = delimiter == " " or not any(gap in whole for gap in gaps)
    return body if are_full and not decimal_commas else _fill_rows(body, delimiter, decimal_commas)


def _fill_rows(body: Sequence[str], delimiter: str, decimal_commas: bool) -> Iterator[str]:
    empty = re.compile(
        rf"(?<={re.escape(delimiter)})(?=\s*(?:{re.escape(delimiter)}|$))|^(?=\s*{re.escape(delimiter)})"
    )
    twice = delimiter * 2
    for line in body:
        row = line.replace(",", ".") if decimal_commas else line
        if delimiter != " " and (twice in row or row[-1] == delimiter or row[0] == delimiter):
            row = empty.sub("nan", row)
        yield row
