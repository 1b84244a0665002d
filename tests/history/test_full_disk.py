"""A history whose disk takes nothing any more: read as it is, never ended in a trace, whole afterwards."""

import contextlib
import sqlite3

import pytest

from tempo_coach.history import file
from tempo_coach.history.takes import History
from tests.history.season import put
from tests.refused import refused


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "history.sqlite"
    with History(path) as history:
        put(history, 1, begun="2031-05-01")
    return path


def of_disk():
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorname = "SQLITE_IOERR_SHMSIZE"
    return error


class Shares(sqlite3.Connection):
    """One that cannot lay out beside the file what it shares with others, as on a full disk."""

    def execute(self, question, *values):
        if "foreign_keys" in question or "secure_delete" in question:
            return super().execute(question, *values)
        raise of_disk()


@pytest.fixture
def full(monkeypatch):
    real = sqlite3.connect

    def connect(where, **options):
        return real(where, **options) if "immutable" in where else real(where, factory=Shares, **options)

    monkeypatch.setattr(file.sqlite3, "connect", connect)


def takes(path):
    with History(path, read_only=True) as history:
        history.check()
        return history.count()[1]


def test_it_is_read_where_nothing_can_be_laid_beside_it(path, full):
    assert takes(path) == 1


def test_what_lies_in_the_log_is_never_left_out_for_that(path, full):
    path.with_name(path.name + "-wal").write_bytes(b"a take")
    with refused("disk"):
        takes(path)


def test_writing_to_it_ends_in_a_sentence_and_nothing_is_lost(path, full, monkeypatch):
    with refused("disk"):
        History(path)
    monkeypatch.undo()
    assert takes(path) == 1


def test_a_transaction_that_sqlite_ended_itself_is_not_ended_again(path):
    """On an error of the disk SQLite may roll back on its own (sqlite.org, Transactions, 3)."""

    class Fails(sqlite3.Connection):
        def execute(self, question, *values):
            if question == "PRAGMA user_version":
                super().execute("ROLLBACK")
                raise of_disk()
            return super().execute(question, *values)

    with (
        contextlib.closing(sqlite3.connect(path, factory=Fails, isolation_level=None)) as connection,
        refused("disk"),
        file.told(path),
    ):
        file.check_version(connection, path)


def put_many(history):
    for seed in range(2, 40):
        put(history, seed, begun=f"2031-06-{seed % 28 + 1:02d}T{seed // 4:02d}:00")


@pytest.mark.parametrize("room", [0, 2])
def test_a_take_that_does_not_fit_is_refused_and_fits_later(path, room):
    """A file that may have so many pages more is as full as a disk (sqlite.org, PRAGMA max_page_count)."""
    with History(path) as history:
        pages = history.ask("PRAGMA page_count")[0][0]
        history.ask(f"PRAGMA max_page_count = {pages + room}")
        with refused("the disk is full"):
            put_many(history)
        history.ask("PRAGMA max_page_count = 100000")
        put(history, 99, begun="2031-07-01")
        history.check()


@pytest.mark.parametrize(("free", "said"), [(0, "the disk is full"), (10**9, "the disk cannot be read or written")])
def test_an_error_of_a_disk_without_room_is_called_by_its_name(path, monkeypatch, free, said):
    monkeypatch.setattr(file.shutil, "disk_usage", lambda _: type("Usage", (), {"free": free}))
    with refused(said), file.told(path):
        raise of_disk()


def test_a_disk_that_is_gone_is_not_called_full(tmp_path):
    with refused("cannot be read or written"), file.told(tmp_path / "gone" / "x"):
        raise of_disk()
