"""Whole copies of a history, and their names beside it."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from pathlib import Path

from tempo_coach.errors import CoachError
from tempo_coach.history.file import told


def copy(connection: sqlite3.Connection, to: Path) -> None:
    """Write a whole copy of an open history, checked and on the disk before it gets its name.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    try:
        made, name = tempfile.mkstemp(prefix=f".{to.name}.", suffix=".copy", dir=to.parent)
    except OSError as error:
        raise CoachError(f"the copy cannot be written ({error.strerror})", where=str(to)) from error
    os.close(made)
    beside = Path(name)
    try:
        with told(to), contextlib.closing(sqlite3.connect(beside)) as target:
            connection.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
        with beside.open("rb") as file:
            os.fsync(file.fileno())
        beside.replace(to)
    except OSError as error:
        raise CoachError(f"the copy cannot be written ({error.strerror})", where=str(to)) from error
    finally:
        beside.unlink(missing_ok=True)


def copies_of(path: Path) -> list[Path]:
    """Return the copies that the program made beside a history, before migrations and restoring."""
    return sorted(path.parent.glob(f"{path.name}.before-*"))


def free_name(path: Path, word: str) -> Path:
    """Return a name beside a file that nothing has yet."""
    name = path.with_name(f"{path.name}.{word}")
    number = 1
    while name.exists():
        number += 1
        name = path.with_name(f"{path.name}.{word}.{number}")
    return name
