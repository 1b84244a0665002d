"""The file: versions, damage, locks, copies."""

import contextlib
import errno
import os
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.history import file, schema, store
from tempo_coach.history.file import connect
from tempo_coach.history.store import Store, back_up, copies_of, restore
from tempo_coach.history.takes import History
from tempo_coach.report.words.errors import say_error
from tests.history.season import put
from tests.refused import refused

VERSION_1 = Path(__file__).with_name("version_1.sql")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "some folder" / "history.sqlite"


def fill(path, takes=3):
    with History(path) as history:
        return [put(history, seed, begun=f"2031-05-{seed:02d}") for seed in range(1, takes + 1)]


def numbers(path):
    with History(path, read_only=True) as history:
        return [row.number for row in history.find()]


def test_it_is_kept_as_promised(path):
    fill(path)
    assert path.stat().st_mode & 0o077 == 0  # nobody else's business
    with History(path) as history:
        for question, answer in (
            ("journal_mode", "wal"),
            ("synchronous", 2),
            ("foreign_keys", 1),
            ("secure_delete", 1),
            ("user_version", len(schema.MIGRATIONS)),
            ("application_id", schema.APPLICATION_ID),
        ):
            assert history.ask(f"PRAGMA {question}")[0][0] == answer
        tables = history.ask("SELECT name, strict FROM pragma_table_list WHERE type = 'table' AND schema = 'main'")
        loose = [name for name, strict in tables if not strict and not name.startswith("sqlite_")]
        assert not loose
        with pytest.raises(sqlite3.IntegrityError):
            history.connection.execute("UPDATE take SET speed = 'fast'")
        history.check()


def test_reading_makes_no_file(path):
    with refused("there is no history yet"):
        Store(path, read_only=True)
    assert not path.parent.exists()


@pytest.mark.parametrize("reading", [True, False])
def test_every_released_version_is_brought_up_to_date_with_a_copy_before(path, monkeypatch, reading):
    path.parent.mkdir()
    with contextlib.closing(sqlite3.connect(path)) as old:
        old.executescript(VERSION_1.read_text())
    further = ("ALTER TABLE athlete ADD COLUMN squad TEXT", "CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT")
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, further))
    with History(path, read_only=reading) as history:
        assert history.ask("PRAGMA user_version")[0][0] == len(schema.MIGRATIONS)
        assert history.ask("SELECT name, squad FROM athlete")[0][:] == ("Ada", None)
        kept = history.take(1)
        assert (kept.row.drill, len(kept.take.onsets), kept.card["n"]) == ("clubs_mills", 16, 16)
        history.check()
    (copy,) = copies_of(path)
    with contextlib.closing(sqlite3.connect(copy)) as before:
        assert before.execute("PRAGMA user_version").fetchone() == (1,)
        assert before.execute("SELECT count(*) FROM take").fetchone() == (1,)
        assert before.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_migration_that_fails_changes_nothing(path, monkeypatch):
    fill(path)
    further = ("ALTER TABLE athlete ADD COLUMN squad TEXT", "SELECT nonsense")
    with monkeypatch.context() as patch:
        patch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, further))
        with pytest.raises(sqlite3.OperationalError):
            Store(path)
    assert len(numbers(path)) == 3
    with History(path) as history:
        assert history.ask("PRAGMA user_version")[0][0] == schema.NEWEST
        assert "squad" not in history.ask("SELECT sql FROM sqlite_schema WHERE name = 'athlete'")[0][0]


def test_a_newer_version_is_refused_and_left_alone(path):
    fill(path)
    with contextlib.closing(sqlite3.connect(path)) as newer:
        newer.execute("PRAGMA user_version = 99")
    for read_only in (True, False):
        with refused(rf"of version 99, .* up to {schema.NEWEST}.*install the newer"):
            Store(path, read_only=read_only)
    with contextlib.closing(sqlite3.connect(path)) as newer:
        assert newer.execute("PRAGMA user_version").fetchone() == (99,)


def test_another_program_s_database_is_refused_and_left_alone(path):
    path.parent.mkdir()
    with contextlib.closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE mine (x)")
    before = path.read_bytes()
    with refused("no history of tempo_coach"):
        Store(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("share", [0.02, 0.3, 0.7, 0.99])
def test_a_truncated_file_is_said_to_be_damaged(path, share):
    fill(path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    whole = path.read_bytes()
    path.write_bytes(whole[: int(share * len(whole))])
    with refused(r"(damaged|no history).*history --restore"):
        Store(path)


def test_a_page_of_noise_is_found_by_the_check(path):
    fill(path, 8)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        (page,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'onsets'").fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(os.urandom(size))
    with Store(path) as history, refused("damaged"):
        history.check()


def test_what_is_no_database_is_said(path):
    path.parent.mkdir()
    path.write_text("not at all a database, but long enough to look like one\n" * 100)
    with refused("no history of tempo_coach, or it is damaged"):
        Store(path)
    with refused("found a folder"):
        Store(path.parent)
    with refused("the folder cannot be made"):
        Store(path / "under a file" / "history.sqlite")


def test_a_read_only_history_is_read_and_not_written(path):
    fill(path)
    with History(path, read_only=True) as history:
        assert len(history.find()) == 3
        with refused("the history is read-only"):
            put(history, 9)


def test_a_locked_history_is_waited_for_and_then_said(path, monkeypatch):
    fill(path)
    monkeypatch.setattr(file, "PATIENCE", 0.1)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with History(path) as history:
            assert len(history.find()) == 3  # readers need not wait
            with refused(r"another program is writing.*try again"):
                put(history, 9)
        other.execute("ROLLBACK")
    fill(path, 4)


def test_programs_writing_at_once_lose_nothing(path):
    def write(who):
        with History(path) as history:  # each may find that it has to be made
            for seed in range(12):
                put(history, seed, athlete=who, begun=f"2031-05-{seed + 1:02d}")

    with ThreadPoolExecutor() as pool:
        list(pool.map(write, ("Ada", "Bea", "Cyl")))
    with History(path) as history:
        assert history.count() == (3, 36)
        history.check()


def test_a_backup_brings_everything_back(path, tmp_path):
    before = fill(path)
    backup = tmp_path / "backup.sqlite"
    with History(path) as writer:
        put(writer, 20, begun="2031-07-01")  # what lies in the log alone is in the copy too
        back_up(path, backup)
    assert [*backup.parent.glob("backup.sqlite-*")] == []
    with History(path) as history:
        put(history, 21, begun="2031-08-01")
    kept = restore(backup, path)
    assert numbers(path) == [*before, 4]
    assert numbers(kept) == [*before, 4, 5]
    assert [*path.parent.glob(".*")] == []


def test_a_backup_of_an_older_version_is_brought_back_and_stays_as_it_is(path, tmp_path, monkeypatch):
    before = fill(path)
    backup = tmp_path / "backup.sqlite"
    back_up(path, backup)
    whole = backup.read_bytes()
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, ("ALTER TABLE athlete ADD COLUMN squad TEXT",)))
    restore(backup, path)
    assert backup.read_bytes() == whole
    assert numbers(path) == before


def test_programs_that_bring_it_up_to_date_at_once_make_one_copy(path, monkeypatch):
    before = fill(path)
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, ("ALTER TABLE athlete ADD COLUMN squad TEXT",)))
    with ThreadPoolExecutor(6) as pool:
        assert list(pool.map(lambda _: numbers(path), range(6))) == [before] * 6
    assert len(copies_of(path)) == 1
    assert [*path.parent.glob(".*")] == []


def test_a_damaged_history_is_put_aside_for_a_backup(path, tmp_path):
    before = fill(path)
    backup = tmp_path / "backup.sqlite"
    back_up(path, backup)
    path.write_bytes(os.urandom(5000))
    kept = restore(backup, path)
    assert numbers(path) == before
    assert kept.stat().st_size == 5000


def test_a_history_of_which_the_disk_fails_is_not_put_aside(path, tmp_path, monkeypatch):
    before = fill(path)
    backup = tmp_path / "backup.sqlite"
    back_up(path, backup)

    def fail(file, **options):
        if Path(file) == path:
            raise CoachError("history.copy_not_written", reason="the disk is damaged")
        return connect(file, **options)

    with monkeypatch.context() as broken:
        broken.setattr(store, "connect", fail)
        with refused("the disk"):
            restore(backup, path)
    assert numbers(path) == before


def test_a_damaged_backup_replaces_nothing(path, tmp_path):
    before = fill(path)
    backup = tmp_path / "backup.sqlite"
    back_up(path, backup)
    backup.write_bytes(backup.read_bytes()[:-5000])
    with refused("damaged"):
        restore(backup, path)
    with refused("there is no history yet"):
        restore(tmp_path / "gone", path)
    assert numbers(path) == before


def test_a_history_that_is_open_is_not_replaced(path, tmp_path, monkeypatch):
    fill(path)
    backup = tmp_path / "backup.sqlite"
    back_up(path, backup)
    monkeypatch.setattr(file, "PATIENCE", 0.1)
    with History(path) as other:
        other.find()
        with refused("another program"):
            restore(backup, path)
    assert [*path.parent.glob(".*")] == []


@pytest.mark.parametrize("made", ["empty", "empty database", "text", "folder", "pipe"])
def test_what_is_no_history_is_never_put_in_the_place_of_one(tmp_path, made):
    backup = tmp_path / "backup"
    if made == "empty":
        backup.write_bytes(b"")
    elif made == "empty database":
        with contextlib.closing(sqlite3.connect(backup)) as connection:
            connection.execute("PRAGMA page_size = 512")
            connection.execute("VACUUM")
    elif made == "text":
        backup.write_text("a letter " * 300)
    elif made == "pipe":
        if not hasattr(os, "mkfifo"):
            pytest.skip("this system has no named pipes")
        os.mkfifo(backup)
    else:
        backup.mkdir()
    path = tmp_path / "history.sqlite"
    fill(path)
    before = path.read_bytes()
    with pytest.raises(CoachError) as caught:
        restore(backup, path)
    assert str(backup) in say_error(caught.value)
    assert path.read_bytes() == before
    assert not [each for each in tmp_path.iterdir() if "restore" in each.name or "part" in each.name]


def test_a_history_that_cannot_be_replaced_is_where_it_was(path, tmp_path, monkeypatch):
    fill(path)
    backup = tmp_path / "backup"
    back_up(path, backup)
    fill(path, 5)
    real = Path.replace

    def replace(self, target):
        if self.name.endswith(".part"):
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    with refused("cannot be replaced"):
        restore(backup, path)
    assert len(numbers(path)) == 5
    assert sorted(each.name for each in path.parent.iterdir()) == [path.name]


def test_a_backup_of_a_restored_backup_is_the_same(path, tmp_path):
    fill(path)
    one, other = tmp_path / "one", tmp_path / "other"
    back_up(path, one)
    restore(one, path)
    back_up(path, other)

    def dump(file):
        with contextlib.closing(sqlite3.connect(file)) as connection:
            return list(connection.iterdump())

    assert dump(one) == dump(other)


@pytest.mark.parametrize("read_only", [True, False])
def test_a_head_of_an_unknown_format_is_said_to_be_damaged(path, read_only):
    fill(path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    whole = bytearray(path.read_bytes())
    whole[44:48] = (0x7F).to_bytes(4)  # the schema's format: 1 to 4 (Database File Format, 1.3.9)
    path.write_bytes(whole)
    with refused(r"damaged.*history --restore"):
        Store(path, read_only=read_only)


def test_a_column_that_is_gone_and_a_schema_that_is_no_text_are_said_to_be_damage(path):
    fill(path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b"period_ratio_mean REAL", b"period_ratio_moan REAL"))
    with refused(r"damaged: no such column.*history --restore"):
        numbers(path)
    path.write_bytes(whole[:60] + bytes(4) + whole[64:])  # the version, so that the tables seem to be still to be made
    with refused(r"damaged.*history --restore"):
        numbers(path)
    path.write_bytes(whole.replace(b"clubs_mills", b"clubs\xff\xfeills"))
    with refused(r"damaged.*history --restore"):
        numbers(path)
    path.write_bytes(whole.replace(b"CREATE TABLE athlete", b"CR\xc1ATE TABLE athlete"))
    with refused(r"damaged.*history --restore"):
        numbers(path)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE card SET body = x'00'",
        "UPDATE plan SET body = x'00'",
        "UPDATE onsets SET time = x'00'",
        "UPDATE onsets SET hands = '{'",
        "UPDATE take SET unmeasurable = '[1]'",
        "DELETE FROM onsets",
    ],
)
def test_a_take_whose_content_is_damaged_is_said_and_the_others_stay(path, change):
    fill(path)
    with contextlib.closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(f"{change} WHERE rowid = 1")
    with History(path, read_only=True) as history:
        with refused(r"take 1 is damaged.*history --restore"):
            history.take(1)
        assert [row.number for row in history.find()] == [1, 2, 3]
        if "plan" not in change:  # the three takes share their plan
            assert history.take(2).row.number == 2
