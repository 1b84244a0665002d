"""Connection to the history for reading or writing: migrations, with a copy before each, and names of copies."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING, Self

from tempo_coach.errors import CoachError
from tempo_coach.history import schema
from tempo_coach.history.file import (
    Damaged,
    check_version,
    code_of,
    connect,
    keep_a_log,
    keep_private,
    refuse_truncated,
    told,
    version_of,
)
from tempo_coach.resources import check_file, unfinished

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


def copy(connection: sqlite3.Connection, to: Path) -> None:
    """Write a whole copy of an open history, checked and on the disk before it gets its final name.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    temporary = unfinished(to, ".copy")
    try:
        os.close(os.open(temporary, os.O_CREAT | os.O_RDWR | os.O_TRUNC, 0o600))  # nobody else's to read
    except OSError as error:
        raise CoachError("history.copy_not_written", where=str(to), reason=error.strerror) from error
    try:
        with told(to), contextlib.closing(sqlite3.connect(temporary)) as target:
            connection.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
        with temporary.open("rb") as file:
            os.fsync(file.fileno())
        temporary.replace(to)
    except OSError as error:
        raise CoachError("history.copy_not_written", where=str(to), reason=error.strerror) from error
    finally:
        temporary.unlink(missing_ok=True)


def copies_of(path: Path) -> list[Path]:
    """Return the copies that the program made beside a history, before migrations and restoring."""
    return sorted(path.parent.glob(f"{path.name}.before-*"))


def free_name(path: Path, word: str) -> Path:
    """Return an unused name beside a file."""
    name = path.with_name(f"{path.name}.{word}")
    number = 1
    while name.exists():
        number += 1
        name = path.with_name(f"{path.name}.{word}.{number}")
    return name


class Store:
    """An open history file.

    Parameters
    ----------
    path : str or Path
        Made where it is not there, with its folder, unless ``read_only``.
    read_only : bool
        Whether nothing may be written, but that an older version is brought up to date. A file that is not there is
        then an error.
    as_it_is : bool
        With ``read_only``: whether an older version stays one, and nothing comes to lie beside it.

    Raises
    ------
    CoachError
        If it cannot be opened, is damaged, belongs to another program or to a newer version of this one.
    """

    def __init__(self, path: str | Path, *, read_only: bool = False, as_it_is: bool = False) -> None:
        self.path = Path(path)
        self.read_only = read_only
        self._as_it_is = as_it_is
        if self.path.is_dir():
            raise CoachError("history.folder", where=str(path))
        if read_only and not self.path.exists():
            raise CoachError("history.none_yet", where=str(path))
        if self.path.exists():
            check_file(self.path, what="history")
        with told(self.path):
            try:
                if not read_only:
                    self.path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise CoachError("folder.not_made", where=str(path), reason=error.strerror) from error
            refuse_truncated(self.path)
            self.connection = connect(self.path, read_only=read_only, untouched=as_it_is)
            try:
                self._prepare()
            except BaseException:
                self.connection.close()
                raise

    def _prepare(self) -> None:
        connection = self.connection
        with told(self.path, opening=True):
            version = check_version(connection, self.path)
        if self.read_only:
            if version < len(schema.MIGRATIONS) and not self._as_it_is:
                Store(self.path).close()  # brings it up to date
            return
        keep_private(self.path)
        keep_a_log(connection)
        # so that a take that was acknowledged is on the disk, also when the power goes (sqlite.org, PRAGMA synchronous)
        connection.execute("PRAGMA synchronous = FULL")
        if version < len(schema.MIGRATIONS):
            self._migrate()

    def _migrate(self) -> None:
        newest = len(schema.MIGRATIONS)
        with self.writing() as connection:
            known = version_of(connection)  # another program may have done it in the meantime
            if 0 < known < newest:
                with contextlib.closing(connect(self.path)) as reader:
                    copy(reader, free_name(self.path, f"before-{newest}"))
            for number in range(known, newest):
                for statement in schema.MIGRATIONS[number]:
                    connection.execute(statement)
            if known < newest:
                connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {newest}")

    @contextlib.contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Run a block as one transaction: all of it is stored, or nothing.

        Within such a block another one is a part of it.

        Raises
        ------
        CoachError
            If it is read-only, or another program goes on writing.
        """
        if self.connection.in_transaction:
            yield self.connection
            return
        with told(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                yield self.connection
                self.connection.execute("COMMIT")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):  # the error that brought us here is the one to tell
                    self.connection.execute("ROLLBACK")
                raise

    def ask(self, question: str, values: tuple[object, ...] | Mapping[str, object] = ()) -> list[sqlite3.Row]:
        """Return all rows of an SQL query.

        Raises
        ------
        CoachError
            If SQLite cannot read them, or tables that this version has are not as they were made.
        """
        with told(self.path):
            try:
                return self.connection.execute(question, values).fetchall()
            except sqlite3.OperationalError as error:
                if code_of(error) == "SQLITE_ERROR":
                    raise Damaged("history.damaged_so", where=str(self.path), reason=error) from error
                raise

    def check(self) -> None:
        """Check the integrity of the whole file.

        Raises
        ------
        CoachError
            If something is damaged.
        """
        with told(self.path):
            said = [row[0] for row in self.connection.execute("PRAGMA integrity_check(3)")]
            loose = self.connection.execute("PRAGMA foreign_key_check").fetchall()
        if said != ["ok"]:
            raise Damaged("history.damaged_so", where=str(self.path), reason=said[0])
        if loose:
            raise Damaged("history.loose_row", where=str(self.path))

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def back_up(path: str | Path, to: str | Path) -> None:
    """Write a whole copy of a history to a new file, while others may go on writing.

    Raises
    ------
    CoachError
        If either cannot be read or written.
    """
    with Store(path, read_only=True) as store:
        store.check()
        copy(store.connection, Path(to))


def restore(backup: str | Path, path: str | Path) -> Path | None:
    """Replace a history by a backup, and return where the old one was kept, None without one.

    Raises
    ------
    CoachError
        If the backup is no whole history, or another program has the history open.
    """
    path = Path(path)
    with Store(backup, read_only=True, as_it_is=True) as store:
        if not version_of(store.connection):
            raise CoachError("history.empty", where=str(backup))
        store.check()
        temporary = unfinished(path)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise CoachError("folder.not_made", where=str(path), reason=error.strerror) from error
        copy(store.connection, temporary)
    kept = None
    try:
        if path.exists():
            _gather_log(path)
            kept = free_name(path, "before-restore")
            path.replace(kept)
        for ending in ("-wal", "-shm"):
            path.with_name(path.name + ending).unlink(missing_ok=True)
        temporary.replace(path)
    except OSError as error:
        if kept is not None and not path.exists():
            kept.replace(path)
        raise CoachError("history.not_replaced", where=str(path), reason=error.strerror) from error
    finally:
        temporary.unlink(missing_ok=True)
    return kept


def _gather_log(path: Path) -> None:
    """Checkpoint the log into the file, which fails while another program has it open."""
    with (
        contextlib.suppress(Damaged),  # which is put aside as it is
        told(path, opening=True),
        contextlib.closing(connect(path, read_only=False)) as connection,
    ):
        connection.execute("PRAGMA journal_mode = DELETE")
