"""The tables: as released, marked as ours, and everything of an athlete goes with her row."""

from __future__ import annotations

import contextlib
import sqlite3

import pytest

from tempo_coach.history import schema
from tempo_coach.history.columns import COLUMNS
from tempo_coach.history.takes import History
from tests.history.test_store import VERSION_1, fill


@pytest.fixture
def path(tmp_path):
    return tmp_path / "history.sqlite"


@pytest.fixture
def made():
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        connection.execute("PRAGMA foreign_keys = ON")
        for migration in schema.MIGRATIONS:
            for statement in migration:
                connection.execute(statement)
        yield connection


def test_the_mark_of_the_file_is_four_letters():
    assert schema.APPLICATION_ID.to_bytes(4, "big") == b"TCHI"
    assert 0 < schema.APPLICATION_ID < 2**31  # a signed number of 32 bits (sqlite.org, Database File Format, 1.3)


def test_every_migration_is_one_of_statements_that_sqlite_takes_one_by_one(made):
    assert all(isinstance(migration, tuple) and migration for migration in schema.MIGRATIONS)
    assert all(sqlite3.complete_statement(each + ";") for migration in schema.MIGRATIONS for each in migration)
    assert made.execute("PRAGMA foreign_key_check").fetchall() == []


TAKE = "id, athlete, plan, mark, begun, drill, title, tempo_bpm, speed, seconds, cycles, moments, observed_by, \
    unmeasurable, ended, setup"
CARD = "id, take, made, program, current, n, missed, extra, flagged, steady, sentence, body"
ROWS = (
    "INSERT INTO athlete VALUES (1, 'Zoë 🤸')",
    "INSERT INTO plan VALUES (1, x'01', x'02')",
    f"INSERT INTO take ({TAKE}) VALUES (1, 1, 1, x'0a', '2031-05-04', 'd', 't', 100, 1, 60, 8, 16, 'tap', '', '', '')",
    "INSERT INTO onsets VALUES (1, 0, '[]', x'', x'')",
    f"INSERT INTO card ({CARD}) VALUES (1, 1, 'now', 'p', 1, 0, 0, 0, 0, 0, '', x'')",
    "INSERT INTO note VALUES (1, 1, 1, 'now', 'of the take')",
    "INSERT INTO note VALUES (2, 1, NULL, 'now', 'of her')",
)


def test_everything_of_an_athlete_goes_with_her_row(made):
    for statement in ROWS:
        made.execute(statement)
    made.execute("DELETE FROM athlete WHERE name = 'Zoë 🤸'")
    for table in ("take", "onsets", "card", "note"):
        assert made.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,), table


@pytest.mark.parametrize(
    "twice",
    [
        "INSERT INTO athlete VALUES (2, 'Zoë 🤸')",
        "INSERT INTO plan VALUES (2, x'01', x'03')",
        ROWS[2].replace("(1,", "(2,", 1),
        ROWS[4].replace("(1,", "(2,", 1),  # a second scorecard in force
        "INSERT INTO note VALUES (3, 9, NULL, 'now', 'of nobody')",
        "DELETE FROM plan",
    ],
)
def test_what_must_not_be_is_refused(made, twice):
    for statement in ROWS:
        made.execute(statement)
    with pytest.raises(sqlite3.IntegrityError):
        made.execute(twice)


def test_every_column_is_there_as_its_entry_has_it(made):
    for table in ("take", "card"):
        there = {
            name: kind + (" NOT NULL" if needed else "")
            for _, name, kind, needed, *_ in made.execute(f"PRAGMA table_info({table})")
        }
        entries = {name: column.sql for name, column in COLUMNS.items() if column.table == table}
        assert entries.items() <= there.items()
        assert there.keys() - entries.keys() <= {
            "id",
            "athlete",
            "plan",
            "mark",
            "take",
            "made",
            "program",
            "current",
            "body",
        }


def test_the_tables_of_a_new_file_are_those_of_the_released_version(path):
    fill(path, 1)
    with contextlib.closing(sqlite3.connect(":memory:")) as old:
        old.executescript(VERSION_1.read_text())
        for migration in schema.MIGRATIONS[1:]:
            for statement in migration:
                old.execute(statement)
        released = old.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name").fetchall()
    with History(path) as history:
        now = [row[:] for row in history.ask("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name")]
    assert now == released  # a change of the tables needs a migration, not another first one
