"""Answers about tables whose header does not say what their columns are: kept, and used again.

The answers lie in a file of the data folder that people can read and mend, by the names in the header.
"""

from __future__ import annotations

import json
import tomllib
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.history.data_folder import data_folder
from tempo_coach.observe.trace.header import peek_header
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import read_text, written_whole

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from tempo_coach.observe.trace.trace import Trace

#: The file of the answers.
FILE_NAME = "columns.toml"
_HEAD = """\
# What the columns of tables are, as you said when you were asked.
# Take a table out, and you are asked again.
"""


def read_answered(
    path: str | Path,
    *,
    time_column: str | None = None,
    rate_hz: float | None = None,
    units: Mapping[str, str] | None = None,
    folder: Path | None = None,
) -> Trace:
    """Read a table as :func:`tempo_coach.observe.trace.tables.read_trace` does, or as answered for its header.

    Parameters
    ----------
    folder : Path or None
        Where the answers lie; None for the data folder.

    Raises
    ------
    CoachError
        ``unit.untold`` if its columns could be anything and nobody has said it yet; what ``read_trace`` raises.
    """
    from tempo_coach.observe.trace.tables import read_trace
    from tempo_coach.observe.trace.trace import add_note

    try:
        return read_trace(path, time_column=time_column, rate_hz=rate_hz, units=units)
    except CoachError as error:
        if error.code != "unit.untold":
            raise
        answered = find_answer(peek_header(path), folder)
        if answered is None:
            raise
    quantity, unit = answered
    try:
        trace = read_trace(path, time_column=time_column, rate_hz=rate_hz, units={**(units or {}), quantity: unit})
    except CoachError as error:
        raise error.at(str(_file(folder)) if error.where == "--unit" else error.where) from error
    return add_note(trace, Reason(Why.AS_ANSWERED, (quantity, unit)))


def find_answer(header: Sequence[str], folder: Path | None = None) -> tuple[str, str] | None:
    """Return the answered quantity and unit for a header; None without one."""
    return next((answer for names, answer in _read(folder) if names == list(header)), None)


def keep_answer(path: str | Path, quantity: str, unit: str, *, folder: Path | None = None) -> Path:
    """Keep an answer for all tables with the same header, and return the file of answers.

    Raises
    ------
    CoachError
        If the file is there and not as it was written, or cannot be written.
    """
    header = peek_header(path)
    kept = [(names, answer) for names, answer in _read(folder) if names != header]
    rows = [_HEAD]
    for names, (what, in_unit) in [*kept, (header, (quantity, unit))]:
        rows.append(f"\n[[table]]\nheader = {_write(names)}\nunit = {_write(f'{what}={in_unit}')}\n")
    file = _file(folder)
    file.parent.mkdir(parents=True, exist_ok=True)
    with written_whole(file) as made:
        made.write_text("".join(rows), encoding="utf-8")
    return file


def _write(what: object) -> str:
    """Return a string or a list of strings in TOML: as JSON with a few more escapes."""
    return json.dumps(what, ensure_ascii=False).replace("\x7f", "\\u007f")


def _file(folder: Path | None) -> Path:
    return (folder or data_folder()) / FILE_NAME


def _read(folder: Path | None) -> list[tuple[list[str], tuple[str, str]]]:
    file = _file(folder)
    if not file.exists():
        return []
    try:
        tables = tomllib.loads(read_text(file, what="text")).get("table", [])
        return [(list(map(str, each["header"])), _split(each["unit"])) for each in tables]
    except (tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError, ValueError) as error:
        raise CoachError("answers.unreadable", where=str(file)) from error


def _split(answer: str) -> tuple[str, str]:
    quantity, mark, unit = answer.partition("=")
    if not mark:
        raise ValueError(answer)
    return quantity, unit
