"""The file of the history: opened, brought up to date, copied, and what SQLite says of it told in sentences."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from pathlib import Path
from typing import TYPE_CHECKING, Self

from tempo_coach.errors import CoachError
from tempo_coach.history import schema

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

#: Seconds that a program waits for another one to finish writing.
PATIENCE = 5.0
#: Seconds between two tries of what SQLite does not wait for.
AGAIN = 0.01
#: Where in the file's head its number of pages stands, and the size of one (sqlite.org, Database File Format, 1.3).
_PAGE_SIZE_AT, _PAGES_AT = slice(16, 18), slice(28, 32)

_RESTORE = "bring a backup back: tempo-coach history --restore BACKUP"


class Store:
    """An open history file.

    Parameters
    ----------
    path : str or Path
        Made where it is not there, with its folder, unless ``read_only``.
    read_only : bool
        Whether nothing may be written. A file that is not there is then an error.

    Raises
    ------
    CoachError
        If it cannot be opened, is damaged, belongs to another program or to a newer version of this one.
    """

    def __init__(self, path: str | Path, *, read_only: bool = False) -> None:
        self.path = Path(path)
        self.read_only = read_only
        if read_only and not self.path.exists():
            raise CoachError("there is no history yet", where=str(path), hint="practise, or score --keep ATHLETE")
        with told(self.path):
            try:
                if not read_only:
                    self.path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise CoachError(f"the folder cannot be made ({error.strerror})", where=str(path)) from error
            self._refuse_truncated()
            self.connection = connect(self.path, read_only=read_only)
            try:
                self._prepare()
            except BaseException:
                self.connection.close()
                raise

    def _prepare(self) -> None:
        connection = self.connection
        version = check_version(connection, self.path)
        if self.read_only:
            if version < len(schema.MIGRATIONS):
                raise CoachError(
                    "the history was written by an older version and has to be brought up to date first",
                    where=str(self.path),
                    hint="open it once where it can be written: tempo-coach history",
                )
            return
        _only_mine(self.path)
        _keep_a_log(connection)
        # so that a take that was acknowledged is on the disk, also when the power goes (sqlite.org, PRAGMA synchronous)
        connection.execute("PRAGMA synchronous = FULL")
        if version < len(schema.MIGRATIONS):
            self._migrate()

    def _migrate(self) -> None:
        newest = len(schema.MIGRATIONS)
        known = _version(self.connection)
        if known:
            copy(self.connection, free_name(self.path, f"before-{newest}"))
        with self.writing() as connection:
            known = _version(connection)  # another program may have done it in the meantime
            for number in range(known, newest):
                for statement in schema.MIGRATIONS[number]:
                    connection.execute(statement)
            if known < newest:
                connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {newest}")

    def _refuse_truncated(self) -> None:
        """SQLite notices a cut-off file only when it needs what is missing."""
        log = self.path.with_name(self.path.name + "-wal")
        if not self.path.is_file() or not self.path.stat().st_size or (log.exists() and log.stat().st_size):
            return
        with self.path.open("rb") as file:
            head = file.read(100)
        size, pages = int.from_bytes(head[_PAGE_SIZE_AT], "big"), int.from_bytes(head[_PAGES_AT], "big")
        size = 65536 if size == 1 else size
        if head.startswith(b"SQLite format 3\0") and self.path.stat().st_size < size * pages:
            raise CoachError("the history is damaged: its end is missing", where=str(self.path), hint=_RESTORE)

    @contextlib.contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Hold the file for writing: all of the block is kept, or nothing of it.

        Raises
        ------
        CoachError
            If it is read-only, or another program goes on writing.
        """
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
        """Return all rows that answer a question in SQL."""
        with told(self.path):
            return self.connection.execute(question, values).fetchall()

    def check(self) -> None:
        """Read everything once.

        Raises
        ------
        CoachError
            If something is damaged.
        """
        with told(self.path):
            said = [row[0] for row in self.connection.execute("PRAGMA integrity_check(3)")]
            loose = self.connection.execute("PRAGMA foreign_key_check").fetchall()
        if said != ["ok"] or loose:
            what = said[0] if said != ["ok"] else "a row belongs to nothing"
            raise CoachError(f"the history is damaged: {what}", where=str(self.path), hint=_RESTORE)

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
    """Put a backup in the place of a history, and return where that was kept, None where there was none.

    Raises
    ------
    CoachError
        If the backup is no whole history, or another program has the history open.
    """
    path = Path(path)
    with Store(backup, read_only=True) as store:
        store.check()
        beside = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise CoachError(f"the folder cannot be made ({error.strerror})", where=str(path)) from error
        copy(store.connection, beside)
    kept = None
    try:
        if path.exists():
            _gather_log(path)
            kept = free_name(path, "before-restore")
            path.replace(kept)
        for ending in ("-wal", "-shm"):
            path.with_name(path.name + ending).unlink(missing_ok=True)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return kept


def copy(connection: sqlite3.Connection, to: Path) -> None:
    """Write a whole copy of an open history, checked and on the disk before it gets its name.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    beside = to.with_name(f".{to.name}.{os.getpid()}.copy")
    try:
        with told(to):
            os.close(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600))
            with contextlib.closing(sqlite3.connect(beside)) as target:
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


def check_version(connection: sqlite3.Connection, path: Path) -> int:
    """Return the version of an open file, 0 for a new one.

    Raises
    ------
    CoachError
        If it is another program's, or a newer version's.
    """
    connection.execute("BEGIN")  # one view of the file, which another program may just be making
    try:
        version = _version(connection)
        mark = connection.execute("PRAGMA application_id").fetchone()[0]
        tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    finally:
        connection.execute("COMMIT")
    if mark != schema.APPLICATION_ID and (tables or version):
        raise CoachError("this is no history of tempo_coach", where=str(path), hint="name another file with --file")
    if version > len(schema.MIGRATIONS):
        raise CoachError(
            f"the history is of version {version}, and this program knows up to {len(schema.MIGRATIONS)}",
            where=str(path),
            hint="install the newer version of tempo_coach that wrote it",
        )
    return version


@contextlib.contextmanager
def told(path: Path) -> Iterator[None]:
    """Tell in a sentence what SQLite has to say of a file."""
    try:
        yield
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", None) or ""
        for ending, (message, hint) in _SAID.items():
            if name.startswith(ending):
                raise CoachError(message, where=str(path), hint=hint) from error
        if isinstance(error, sqlite3.OperationalError | sqlite3.DatabaseError) and "malformed" in str(error):
            raise CoachError(*_SAID["SQLITE_CORRUPT"][:1], where=str(path), hint=_RESTORE) from error
        raise


_SAID: dict[str, tuple[str, str | None]] = {
    "SQLITE_BUSY": ("another program is writing to the history and does not finish", "try again when it is done"),
    "SQLITE_LOCKED": ("another program is writing to the history and does not finish", "try again when it is done"),
    "SQLITE_READONLY": ("the history is read-only", "make the file and its folder writable, or name another one"),
    "SQLITE_FULL": ("the disk is full", "make room and try again"),
    "SQLITE_IOERR": ("the disk cannot be read or written", "see whether the disk is full or was taken away"),
    "SQLITE_CORRUPT": ("the history is damaged", _RESTORE),
    "SQLITE_NOTADB": ("this is no history of tempo_coach, or it is damaged", _RESTORE),
    "SQLITE_CANTOPEN": ("the history cannot be opened", "see whether its folder is there and may be written to"),
    "SQLITE_PERM": ("the history may not be opened", "see who owns the file"),
}


def connect(path: Path, *, read_only: bool = False) -> sqlite3.Connection:
    """Return a connection to a file as it is, of whatever version."""
    # a log that lies beside it has to be read too; without one, a folder that cannot be written needs "immutable"
    where = path.resolve().as_uri()
    if read_only:
        writable = os.access(path.parent, os.W_OK)
        where += "?mode=ro" if writable or path.with_name(path.name + "-wal").exists() else "?immutable=1"
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


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _only_mine(path: Path) -> None:
    """Let nobody else on the machine read it: it holds names of children."""
    with contextlib.suppress(OSError):  # a file system without such rights
        if path.stat().st_mode & 0o077:
            path.chmod(0o600)


def _keep_a_log(connection: sqlite3.Connection) -> None:
    """Turn to write-ahead logging. SQLite does not wait by itself where others are doing the same just now."""
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


def _gather_log(path: Path) -> None:
    """Bring what lies in the log into the file, which fails while another program has it open."""
    try:
        with told(path), contextlib.closing(connect(path, read_only=False)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
    except CoachError as error:
        if "damaged" not in error.message:  # a damaged one is put aside as it is
            raise
