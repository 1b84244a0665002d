"""Removal of an athlete for good: her rows, what SQLite leaves of them in its file, copies, and the files of her takes.

What a disk keeps of blocks that were given back is beyond a program; what it wrote itself it overwrites.
"""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.history import schema
from tempo_coach.history.file import connect, told
from tempo_coach.history.gone import mark_name, salted
from tempo_coach.history.records import read_name
from tempo_coach.history.roster import file_of, find_person, people_folder
from tempo_coach.history.session_record import session_file
from tempo_coach.history.store import copies_of
from tempo_coach.observe.take.take_file import ENDING

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from tempo_coach.history.takes import History


@dataclass(frozen=True)
class Going:
    """What would be removed with an athlete.

    Parameters
    ----------
    athlete : str
    takes, onsets, cards, notes : int
    first, last : str
        When her first and her last take began; empty without.
    files : tuple of Path
        Files of takes that practise wrote and that are still there, and those that say how she practises.
    copies : tuple of Path
        Copies beside the history in which she is too.
    earlier : tuple of str
        Names that she had before.
    """

    athlete: str
    takes: int
    onsets: int
    cards: int
    notes: int
    first: str
    last: str
    files: tuple[Path, ...]
    copies: tuple[Path, ...]
    earlier: tuple[str, ...] = ()


def find_going(history: History, athlete: str) -> Going:
    """Return what would be removed with an athlete.

    Raises
    ------
    CoachError
        If there is no such athlete.
    """
    name = read_name(athlete)
    files = {Path(str(setup["file"])) for setup in history.setups(name) if setup.get("file")}
    folder = people_folder(history.path)
    own = file_of(folder, name), session_file(folder, name)
    earlier: tuple[str, ...] = ()
    with contextlib.suppress(CoachError):  # a file that cannot be read goes all the same
        earlier = find_person(folder, name).earlier
    ((takes, onsets, cards, notes, first, last),) = history.ask(
        "SELECT count(DISTINCT take.id), "
        "(SELECT coalesce(sum(number), 0) FROM onsets JOIN take AS t ON t.id = take WHERE t.athlete = athlete.id), "
        "(SELECT count(*) FROM card JOIN take AS t ON t.id = take WHERE t.athlete = athlete.id), "
        "(SELECT count(*) FROM note WHERE note.athlete = athlete.id), "
        "coalesce(min(begun), ''), coalesce(max(begun), '') "
        "FROM athlete LEFT JOIN take ON take.athlete = athlete.id WHERE athlete.name = ? GROUP BY athlete.id",
        (name,),
    )
    return Going(
        name,
        takes,
        onsets,
        cards,
        notes,
        first,
        last,
        tuple(sorted(file for file in files if file.name.endswith(ENDING) and file.is_file()))
        + tuple(file for file in own if file.is_file()),
        tuple(copy for copy in copies_of(history.path) if any(_is_in(copy, each) for each in (name, *earlier))),
        earlier,
    )


def forget(history: History, going: Going) -> None:
    """Remove an athlete for good, while every other program is locked out of the history.

    Raises
    ------
    CoachError
        If another program has the history open, or something cannot be removed.
    """
    connection = history.connection
    with told(history.path):
        try:
            # in this mode nobody else may have the file open, and the log with its old pages goes
            connection.execute("PRAGMA journal_mode = DELETE").fetchone()
        except Exception as error:
            raise CoachError("history.open_elsewhere", where=str(history.path)) from error
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        try:
            _remove(connection, going.athlete, marking=(going.athlete, *going.earlier))
        finally:
            connection.execute("PRAGMA locking_mode = NORMAL")
            connection.execute("PRAGMA journal_mode = WAL")
    for copy in going.copies:
        with told(copy, opening=True), contextlib.closing(connect(copy)) as other:
            for name in (going.athlete, *going.earlier):
                _remove(other, name)
    for file in going.files:
        _shred(file)


def _remove(connection: sqlite3.Connection, name: str, *, marking: Sequence[str] = ()) -> None:
    """Remove an athlete; record that no merge may bring takes of hers back, or anybody of the names ``marking``."""
    connection.execute("BEGIN EXCLUSIVE")
    try:
        if marking:
            of_her = "SELECT mark FROM take JOIN athlete ON athlete.id = athlete WHERE name = ?"
            marks = [salted(connection, mark) for (mark,) in connection.execute(of_her, (name,)).fetchall()]
            for mark in (*(mark_name(connection, each) for each in marking), *marks):
                connection.execute("INSERT INTO gone VALUES (?) ON CONFLICT DO NOTHING", (mark,))
        connection.execute("DELETE FROM athlete WHERE name = ?", (name,))
        connection.execute("DELETE FROM plan WHERE id NOT IN (SELECT plan FROM take)")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise
    # secure_delete has put zeros over the rows; this leaves no free page behind either
    connection.execute("VACUUM")


def _is_in(copy: Path, name: str) -> bool:
    with told(copy, opening=True), contextlib.closing(connect(copy, read_only=True)) as other:
        if other.execute("PRAGMA application_id").fetchone()[0] != schema.APPLICATION_ID:
            return False
        return bool(other.execute("SELECT count(*) FROM athlete WHERE name = ?", (name,)).fetchone()[0])


def _shred(file: Path) -> None:
    """Overwrite a file with zeros and delete it."""
    try:
        with file.open("r+b") as stream:
            left = file.stat().st_size
            while left > 0:
                left -= stream.write(b"\0" * min(left, 1 << 20))
            stream.flush()
            os.fsync(stream.fileno())
        file.unlink()
    except FileNotFoundError:
        return
    except OSError as error:
        raise CoachError("history.file_stays", where=str(file), reason=error.strerror) from error
