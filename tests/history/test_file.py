"""The file as SQLite has it: opened, recognised, cut off, private; what SQLite says told in sentences."""

from __future__ import annotations

import contextlib
import sqlite3

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.history import file, schema
from tempo_coach.history.file import (
    check_version,
    connect,
    keep_a_log,
    keep_private,
    refuse_truncated,
    told,
    version_of,
)
from tempo_coach.report.words.errors import hint_of, message_of

RESTORE = "bring a backup back: tempo-coach history --restore BACKUP"


@pytest.fixture
def path(tmp_path):
    folder = tmp_path / "Zoë #1 100% ?ro 🤸"  # signs that mean something in an address
    folder.mkdir()
    return folder / "übung.sqlite"


def say(error):
    return message_of(error), error.where, hint_of(error)


@contextlib.contextmanager
def opened(path, **how):
    with contextlib.closing(connect(path, **how)) as connection:
        yield connection


def test_a_connection_keeps_what_the_history_relies_on(path):
    with opened(path) as connection:
        assert path.exists()
        for question, answer in (("foreign_keys", 1), ("secure_delete", 1), ("busy_timeout", file.PATIENCE * 1000)):
            assert connection.execute(f"PRAGMA {question}").fetchone()[0] == answer
        assert connection.execute("SELECT fold('ÅSA Straße') AS f").fetchone()["f"] == "åsa strasse"
        assert connection.isolation_level is None


def test_reading_writes_nothing_and_makes_no_file(path):
    with pytest.raises(sqlite3.OperationalError), opened(path, read_only=True) as connection:
        connection.execute("SELECT 1 FROM sqlite_schema")
    assert not path.exists()
    with opened(path) as connection:
        connection.execute("CREATE TABLE t (x)")
    with opened(path, read_only=True) as connection, pytest.raises(sqlite3.OperationalError, match="readonly"):
        connection.execute("INSERT INTO t VALUES (1)")


def test_a_folder_that_cannot_be_written_is_read_without_a_log(path, monkeypatch):
    with opened(path) as connection:
        keep_a_log(connection)
        connection.execute("CREATE TABLE t (x)")
    assert [each.name for each in path.parent.iterdir()] == [path.name]
    monkeypatch.setattr(file.os, "access", lambda *_: False)
    with opened(path, read_only=True) as connection:
        assert connection.execute("SELECT count(*) FROM t").fetchone()[0] == 0
        assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_a_new_file_is_of_version_0_and_ours_of_its_own(path):
    with opened(path) as connection:
        assert check_version(connection, path) == version_of(connection) == 0
        connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(schema.MIGRATIONS)}")
        assert check_version(connection, path) == len(schema.MIGRATIONS)
        assert not connection.in_transaction


@pytest.mark.parametrize("made", ["CREATE TABLE mine (x)", "PRAGMA user_version = 1"])
def test_another_programs_file_is_no_history(path, made):
    with opened(path) as connection:
        connection.execute(made)
        with pytest.raises(CoachError) as caught:
            check_version(connection, path)
        assert not connection.in_transaction
    assert say(caught.value) == ("this is no history of tempo_coach", str(path), "name another file with --file")


def test_a_newer_version_says_what_to_install(path):
    newer = len(schema.MIGRATIONS) + 1
    with opened(path) as connection:
        connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {newer}")
        with pytest.raises(CoachError) as caught:
            check_version(connection, path)
    assert say(caught.value) == (
        f"the history is of version {newer}, and this program knows up to {newer - 1}",
        str(path),
        "install the newer version of tempo_coach that wrote it",
    )


@pytest.mark.parametrize("page", [512, 4096, 65_536])
def test_a_file_is_cut_off_where_a_byte_of_its_last_page_is_missing(path, page):
    with opened(path) as connection:
        connection.execute(f"PRAGMA page_size = {page}")
        connection.execute("CREATE TABLE t (x)")
    refuse_truncated(path)
    whole = path.read_bytes()
    path.write_bytes(whole[:-1])
    with pytest.raises(CoachError) as caught:
        refuse_truncated(path)
    assert say(caught.value) == ("the history is damaged: its end is missing", str(path), RESTORE)
    path.with_name(path.name + "-wal").write_bytes(b"what is missing may be here")
    refuse_truncated(path)


@pytest.mark.parametrize("content", [None, b"", b"S", b"no database at all" * 99])
def test_what_is_no_database_is_not_called_cut_off(path, content):
    if content is not None:
        path.write_bytes(content)
    refuse_truncated(path)
    refuse_truncated(path.parent)


def test_nobody_else_may_read_it(path):
    path.write_bytes(b"")
    for before, after in ((0o644, 0o600), (0o660, 0o600), (0o400, 0o400)):
        path.chmod(before)
        keep_private(path)
        assert path.stat().st_mode & 0o777 == after
    keep_private(path.with_name("gone"))


def test_the_log_is_waited_for_and_given_up_after_a_while(path, monkeypatch):
    with opened(path) as connection:
        keep_a_log(connection)
        assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"

    class Busy:
        tries = 0

        def execute(self, _):
            self.tries += 1
            if self.tries < 3:
                raise sqlite3.OperationalError("database is locked")

    monkeypatch.setattr(file, "AGAIN", 0.0)
    busy = Busy()
    keep_a_log(busy)
    assert busy.tries == 3
    monkeypatch.setattr(file, "PATIENCE", -1.0)
    busy.tries = 0
    with pytest.raises(sqlite3.OperationalError):
        keep_a_log(busy)


def of_sqlite(name, words="x"):
    error = sqlite3.OperationalError(words)
    error.sqlite_errorname = name
    return error


@pytest.mark.parametrize(
    ("error", "message", "hint"),
    [
        (of_sqlite("SQLITE_BUSY_SNAPSHOT"), "another program is writing to the history and does not finish",
         "try again when it is done"),
        (of_sqlite("SQLITE_LOCKED"), "another program is writing to the history and does not finish",
         "try again when it is done"),
        (of_sqlite("SQLITE_READONLY_DBMOVED"), "the history is read-only",
         "make the file and its folder writable, or name another one"),
        (of_sqlite("SQLITE_FULL"), "the disk is full", "make room and try again"),
        (of_sqlite("SQLITE_IOERR_READ"), "the disk cannot be read or written",
         "see whether the disk is full or was taken away"),
        (of_sqlite("SQLITE_CORRUPT_INDEX"), "the history is damaged", RESTORE),
        (of_sqlite("SQLITE_NOTADB"), "this is no history of tempo_coach, or it is damaged", RESTORE),
        (of_sqlite("SQLITE_CANTOPEN"), "the history cannot be opened",
         "see whether its folder is there and may be written to"),
        (of_sqlite("SQLITE_PERM"), "the history may not be opened", "see who owns the file"),
        (of_sqlite("SQLITE_ERROR", "malformed database schema (t)"), "the history is damaged", RESTORE),
        (sqlite3.OperationalError("Could not decode to UTF-8 column"), "the history is damaged", RESTORE),
        (UnicodeDecodeError("utf-8", b"x", 0, 1, "y"), "the history is damaged", RESTORE),
    ],
)  # fmt: skip
def test_what_a_person_can_do_something_about_is_a_sentence(path, error, message, hint):
    with pytest.raises(CoachError) as caught, told(path, opening=True):
        raise error
    assert say(caught.value) == (message, str(path), hint)
    assert caught.value.__cause__ is error


@pytest.mark.parametrize(
    "error", [of_sqlite("SQLITE_ERROR", "no such table: t"), sqlite3.IntegrityError("x"), OSError()]
)
def test_a_bug_stays_a_bug(path, error):
    with pytest.raises(type(error)), told(path):
        raise error
    with told(path):
        pass
