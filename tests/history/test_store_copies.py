"""Whole copies beside a history: all of it or nothing, and names that nothing has yet."""

from __future__ import annotations

import contextlib
import sqlite3

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.history import store
from tempo_coach.history.store import copies_of, copy, free_name
from tempo_coach.report.words.errors import message_of


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "Zoë 🤸"
    place.mkdir()
    return place


@pytest.fixture
def source(folder):
    with contextlib.closing(sqlite3.connect(folder / "a.db", isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE t (x)")
        connection.execute("INSERT INTO t VALUES ('ü')")
        yield connection


def test_a_copy_holds_all_and_needs_no_log(source, folder):
    copy(source, folder / "copy.db")
    assert sorted(each.name for each in folder.iterdir() if "copy" in each.name) == ["copy.db"]
    with contextlib.closing(sqlite3.connect(folder / "copy.db")) as made:
        assert made.execute("SELECT x FROM t").fetchall() == [("ü",)]
        assert made.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert (folder / "copy.db").stat().st_mode & 0o077 == 0


def test_a_copy_that_fails_leaves_what_was_there_and_nothing_beside_it(source, folder, monkeypatch):
    to = folder / "copy.db"
    to.write_bytes(b"before")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store.os, "fsync", full)
    with pytest.raises(CoachError) as caught:
        copy(source, to)
    assert (message_of(caught.value), caught.value.where) == (
        "the copy cannot be written (No space left on device)",
        str(to),
    )
    assert to.read_bytes() == b"before"
    assert not list(folder.glob(".*"))


def test_a_folder_that_is_not_there_is_said(source, folder):
    with pytest.raises(CoachError) as caught:
        copy(source, folder / "gone" / "copy.db")
    assert message_of(caught.value) == "the copy cannot be written (No such file or directory)"
    assert caught.value.where == str(folder / "gone" / "copy.db")


def test_names_beside_a_file_are_counted_on_until_one_is_free(folder):
    path = folder / "geschichte.sqlite"
    names = []
    for _ in range(3):
        names.append(free_name(path, "before-2"))
        names[-1].write_bytes(b"")
    assert [name.name for name in names] == [
        "geschichte.sqlite.before-2",
        "geschichte.sqlite.before-2.2",
        "geschichte.sqlite.before-2.3",
    ]
    assert free_name(path, "before-3").name == "geschichte.sqlite.before-3"
    (folder / "other.sqlite.before-2").write_bytes(b"")
    path.write_bytes(b"")
    assert copies_of(path) == names
    assert copies_of(folder / "nothing.sqlite") == []
