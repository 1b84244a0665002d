"""The history's SQLite file: opened and recognised, SQLite's errors as codes."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import time
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.history import schema

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: Seconds that a program waits for another one to finish writing.
PATIENCE = 5.0
#: Seconds between two tries of what SQLite does not wait for.
AGAIN = 0.01
#: Bytes below which a disk counts as full: the log of SQLite grows in pieces of this size.
ROOM = 32_768
#: Where in the file's head its number of pages stands, and the size of one (sqlite.org, Database File Format, 1.3).
_PAGE_SIZE_AT, _PAGES_AT = slice(16, 18), slice(28, 32)


class Damaged(CoachError):  # noqa: N818  the name says what it is
    """A history that is damaged, or a file that is not a history."""


def connect(path: Path, *, read_only: bool = False, untouched: bool = False) -> sqlite3.Connection:
    """Return a connection to a file as it is, of whatever version.

    Parameters
    ----------
    path : Path
    read_only : bool
    untouched : bool
        With ``read_only``: whether nothing may come to lie beside it, where nobody has it open: of a file that is not
        this machine's.
    """
    where = path.resolve().as_uri()
    if not read_only:
        return _open(where)
    if (untouched or not os.access(path.parent, os.W_OK)) and not _log_of(path).exists():
        return _open(f"{where}?immutable=1")
    connection = _open(f"{where}?mode=ro")
    # a log that lies beside it has to be read too; without one, what cannot be written beside it (the disk is full, the
    # folder taken away) is not needed
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema")
    except sqlite3.OperationalError as error:
        name = code_of(error)
        if name.startswith(("SQLITE_IOERR", "SQLITE_CANTOPEN")) and path.is_file() and not _has_log(path):
            connection.close()
            return _open(f"{where}?immutable=1")
    except sqlite3.Error:
        pass  # damaged content is reported where it is read
    return connection


def _open(where: str) -> sqlite3.Connection:
    connection = sqlite3.connect(where, uri=True, timeout=PATIENCE, isolation_level=None)
    connection.row_factory = sqlite3.Row
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA secure_delete = ON")
        # SQLite's own lower() knows ASCII alone
        connection.create_function("fold", 1, str.casefold, deterministic=True)
    except BaseException:
        connection.close()
        raise
    return connection


def _log_of(path: Path) -> Path:
    return path.with_name(path.name + "-wal")


def _has_log(path: Path) -> bool:
    """Return whether the write-ahead log beside a file is not empty."""
    log = _log_of(path)
    return log.exists() and log.stat().st_size > 0


def check_version(connection: sqlite3.Connection, path: Path) -> int:
    """Return the version of an open file, 0 for a new one.

    Raises
    ------
    CoachError
        If it is another program's, or a newer version's; :class:`Damaged` where its head and its tables do not agree.
    """
    connection.execute("BEGIN")  # one view of the file, which another program may just be making
    try:
        version = version_of(connection)
        mark = connection.execute("PRAGMA application_id").fetchone()[0]
        tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    finally:
        if connection.in_transaction:  # where the disk fails SQLite has rolled back already
            connection.execute("COMMIT")
    if mark != schema.APPLICATION_ID and (tables or version):
        raise CoachError("history.not_one", where=str(path))
    if version > len(schema.MIGRATIONS):
        raise CoachError("history.newer", where=str(path), version=version, known=len(schema.MIGRATIONS))
    if tables and not version:  # both are written at once
        raise Damaged("history.damaged", where=str(path))
    return version


def version_of(connection: sqlite3.Connection) -> int:
    """Return the number of the last migration applied to an open file."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def refuse_truncated(path: Path) -> None:
    """Refuse a truncated file, which SQLite notices only when it needs the missing part.

    Raises
    ------
    CoachError
        If its end is not there.
    """
    if not path.is_file() or not path.stat().st_size or _has_log(path):
        return
    with path.open("rb") as file:
        head = file.read(100)
    size, pages = int.from_bytes(head[_PAGE_SIZE_AT], "big"), int.from_bytes(head[_PAGES_AT], "big")
    size = 65536 if size == 1 else size
    if head.startswith(b"SQLite format 3\0") and path.stat().st_size < size * pages:
        raise Damaged("history.cut_short", where=str(path))


def keep_private(path: Path) -> None:
    """Make it unreadable for other users of the machine: it holds names of children."""
    with contextlib.suppress(OSError):  # a file system without such rights
        if path.stat().st_mode & 0o077:
            path.chmod(0o600)


def keep_a_log(connection: sqlite3.Connection) -> None:
    """Turn on write-ahead logging. SQLite does not wait by itself while others do the same."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError:
            if time.monotonic() > until:
                raise
            time.sleep(AGAIN)
        else:
            return


@contextlib.contextmanager
def told(path: Path, *, opening: bool = False) -> Iterator[None]:
    """Turn an SQLite error about a file into one of ours.

    Parameters
    ----------
    path : Path
    opening : bool
        Whether head and schema are met for the first time: SQLite has no code of its own for one that it cannot use,
        and its general one means a bug everywhere else.

    Raises
    ------
    CoachError
        In the place of an error of SQLite that a person can do something about.
    """
    try:
        yield
    except UnicodeDecodeError as error:  # SQLite's own words, when they quote a damaged schema
        raise Damaged("history.damaged", where=str(path)) from error
    except sqlite3.Error as error:
        name = code_of(error)
        if name.startswith("SQLITE_IOERR") and _is_full(path):
            name = "SQLITE_FULL"
        for beginning, code in _CODES.items():
            if name.startswith(beginning):
                kind = Damaged if beginning in _DAMAGE else CoachError
                raise kind(code, where=str(path)) from error
        # text that cannot be decoded is found by Python, which has no code for it
        if isinstance(error, sqlite3.OperationalError) and (not name or (opening and name == "SQLITE_ERROR")):
            raise Damaged("history.damaged", where=str(path)) from error
        raise


def code_of(error: sqlite3.Error) -> str:
    """Return SQLite's name for an error, empty for one of Python's own."""
    return getattr(error, "sqlite_errorname", None) or ""


def _is_full(path: Path) -> bool:
    """Return whether the disk of a file is full, which SQLite often reports as an error of the disk."""
    try:
        return shutil.disk_usage(path.parent).free < ROOM
    except OSError:
        return False


_DAMAGE = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
_CODES = {
    "SQLITE_BUSY": "history.busy",
    "SQLITE_LOCKED": "history.busy",
    "SQLITE_READONLY": "history.read_only",
    "SQLITE_FULL": "history.disk_full",
    "SQLITE_IOERR": "history.disk_gone",
    "SQLITE_CORRUPT": "history.damaged",
    "SQLITE_NOTADB": "history.no_database",
    "SQLITE_CANTOPEN": "history.not_opened",
    "SQLITE_PERM": "history.forbidden",
}
