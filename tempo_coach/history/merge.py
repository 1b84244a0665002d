"""Merging of two histories by content, and the part of one athlete as a history of its own.

A take is known by a hash of its plan, its beginning and its onsets, so that nothing comes twice, whatever its number.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.errors import CoachError, nearest
from tempo_coach.history import schema
from tempo_coach.history.columns import COLUMNS
from tempo_coach.history.file import Damaged, check_version, connect, told
from tempo_coach.history.gone import is_gone, mark_name, salted
from tempo_coach.history.records import read_name
from tempo_coach.history.store import Store, copy
from tempo_coach.history.takes import History
from tempo_coach.resources import scratch_folder

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Collection, Iterator


class MergeConflict(NamedTuple):
    """A take that differs between two histories: its number here, the field, and both values.

    What differs is ``"athlete"``, ``"counting"`` or ``"drill"``; what is here stays.
    """

    take: int
    what: str
    here: str
    there: str


@dataclass(frozen=True)
class MergeResult:
    """Result of a merge.

    Parameters
    ----------
    takes, known : int
        How many takes came, and how many were here already.
    performances : int
        How many performances of groups came.
    cards, notes : int
        Further scorecards and notes of takes that were here already, and of athletes.
    removed : int
        Takes left out because they were removed here.
    forgotten : tuple of str
        Who was left out because she was forgotten here.
    athletes : tuple of str
        Who is new here.
    both : tuple of str
        Who is in both, with different takes: one athlete, or two of one name.
    conflicts : tuple of MergeConflict
    people : dict
        How the athletes practise, as their files have it, by their names.
    before : Path or None
        A copy of the history as it was, where somebody is in both.
    """

    takes: int = 0
    known: int = 0
    cards: int = 0
    notes: int = 0
    removed: int = 0
    forgotten: tuple[str, ...] = ()
    athletes: tuple[str, ...] = ()
    both: tuple[str, ...] = ()
    conflicts: tuple[MergeConflict, ...] = ()
    people: dict[str, str] = field(default_factory=dict)
    performances: int = 0
    before: Path | None = None


#: Columns of takes and scorecards that go from one history to the other as they are.
_OF_TAKE = ("mark", *(name for name, column in COLUMNS.items() if column.table == "take"))
_OF_CARD = ("made", "program", "body", *(name for name, column in COLUMNS.items() if column.table == "card"))


def merge(
    history: History, other: str | Path, *, again: Collection[str] = (), rename: dict[str, str] | None = None
) -> MergeResult:
    """Add to this history what another one has and it lacks; all of it, or nothing.

    Parameters
    ----------
    history : History
    other : str or Path
        Left as it is, of whatever version.
    again : collection of str
        Athletes who come though they were forgotten here: somebody has been asked.
    rename : dict of str to str, optional
        Under which other name somebody comes.

    Raises
    ------
    CoachError
        If either cannot be read or written, both are the same file, or nobody there has a name that was given.
    """
    other = Path(other)
    if history.path.exists() and other.exists() and other.samefile(history.path):
        raise CoachError("history.merged_with_itself", where=str(other))
    with _up_to_date(other) as path:
        connection = history.connection
        connection.create_function("salted", 1, lambda mark: salted(connection, mark))
        with told(other, opening=True):
            # nothing lies in a log beside it, and nobody has to be able to write there
            connection.execute("ATTACH ? AS other", (f"{path.resolve().as_uri()}?immutable=1",))
        try:
            with history.writing():
                return _merge(connection, frozenset(map(read_name, again)), rename or {})
        finally:
            for table in ("who", "twin", "force", "mine", "theirs"):
                connection.execute(f"DROP TABLE IF EXISTS temp.{table}")
            connection.execute("DETACH other")


def _open_other(path: Path) -> Store:
    """Return a history that is to be merged, read-only and checked."""
    if not path.exists():
        raise CoachError("file.missing", where=str(path), what="history")
    with contextlib.ExitStack() as opened:
        try:
            store = opened.enter_context(Store(path, read_only=True, as_it_is=True))
            store.check()
        except Damaged as error:
            raise CoachError("merge.no_history", where=str(path)) from error
        opened.pop_all()
    return store


@contextlib.contextmanager
def _up_to_date(path: Path) -> Iterator[Path]:
    """Provide a history of this version: the file itself, or a migrated copy of an older one."""
    with _open_other(path) as store:
        version = check_version(store.connection, path)
        if not version:
            raise CoachError("history.empty", where=str(path))
        log = path.with_name(path.name + "-wal")
        if version == len(schema.MIGRATIONS) and not log.exists():
            yield path
            return
        with scratch_folder() as folder:
            copied = folder / "history.sqlite"
            copy(store.connection, copied)
            if version < len(schema.MIGRATIONS):
                with contextlib.closing(connect(copied)) as old:
                    for number in range(version, len(schema.MIGRATIONS)):
                        for statement in schema.MIGRATIONS[number]:
                            old.execute(statement)
                    old.execute(f"PRAGMA user_version = {len(schema.MIGRATIONS)}")
            yield copied


def names_in(other: str | Path) -> frozenset[str]:
    """Return the names of the athletes in another history, of whatever version; none where it cannot be read."""
    with contextlib.suppress(CoachError), Store(other, read_only=True, as_it_is=True) as store:
        return frozenset(name for (name,) in store.ask("SELECT name FROM athlete"))
    return frozenset()


def _merge(connection: sqlite3.Connection, again: frozenset[str], rename: dict[str, str]) -> MergeResult:
    ask = connection.execute
    here = {name for (name,) in ask("SELECT name FROM main.athlete")}
    there = ask("SELECT id, name FROM other.athlete ORDER BY name").fetchall()
    _check_given("--as", [*rename], [name for _, name in there])
    names = {number: read_name(rename.get(name, name)) for number, name in there}
    _check_given("--again", again, [*names.values()])
    meant = {name.casefold() for name in again}
    again = frozenset(name for name in names.values() if name.casefold() in meant)
    gone = {name for name in names.values() if name not in again and is_gone(connection, mark_name(connection, name))}
    ask("CREATE TEMP TABLE who (there INTEGER PRIMARY KEY, here INTEGER NOT NULL)")
    for number, name in names.items():
        if name not in gone:
            ask("INSERT INTO main.athlete (name) VALUES (?) ON CONFLICT DO NOTHING", (name,))
            ask("INSERT INTO who SELECT ?, id FROM main.athlete WHERE name = ?", (number, name))
    # each take there with its twin here: the same one of the same athlete; or of another one, to whom it was given,
    # where not both histories have it of both
    # by a mark alone no index of the file finds a take
    ask("CREATE TEMP TABLE mine AS SELECT mark, athlete, id FROM main.take")
    ask("CREATE TEMP TABLE theirs AS SELECT mark, who.here AS athlete FROM other.take JOIN who ON there = athlete")
    for table in ("mine", "theirs"):
        ask(f"CREATE INDEX temp.{table}_by_mark ON {table} (mark, athlete)")
    ask(
        "CREATE TEMP TABLE twin AS SELECT t.id AS there, who.here AS athlete, coalesce("
        "(SELECT m.id FROM mine AS m WHERE m.mark = t.mark AND m.athlete = who.here), "
        "(SELECT m.id FROM mine AS m WHERE m.mark = t.mark AND NOT EXISTS "
        "(SELECT 1 FROM theirs AS o WHERE o.mark = t.mark AND o.athlete = m.athlete) LIMIT 1)) AS here, 0 AS came "
        "FROM other.take AS t JOIN who ON who.there = t.athlete"
    )
    known = _count(connection, "SELECT count(*) FROM twin WHERE here IS NOT NULL")
    asked = [number for number, name in names.items() if name in again]
    for number in asked:  # she is not forgotten any more
        ask("DELETE FROM main.gone WHERE mark = ?", (mark_name(connection, names[number]),))
    ids = ", ".join(str(ask("SELECT here FROM who WHERE there = ?", (number,)).fetchone()[0]) for number in asked)
    left_out = (
        "here IS NULL AND there IN (SELECT id FROM other.take WHERE salted(mark) IN (SELECT mark FROM main.gone)) "
        f"AND athlete NOT IN ({ids})"
    )
    removed = _count(connection, f"SELECT count(*) FROM twin WHERE {left_out}")
    ask(f"DELETE FROM twin WHERE {left_out}")
    conflicts = tuple(_find_conflicts(connection))
    cards, notes = _complete_known(connection)
    takes = _bring_new(connection)
    notes += ask(
        "INSERT INTO main.note (athlete, take, written, text) SELECT who.here, NULL, n.written, n.text "
        "FROM other.note AS n JOIN who ON who.there = n.athlete WHERE n.take IS NULL AND NOT EXISTS (SELECT 1 FROM "
        "main.note AS m WHERE m.athlete = who.here AND m.take IS NULL AND m.written = n.written AND m.text = n.text)"
    ).rowcount
    came = ask("SELECT DISTINCT name FROM twin JOIN main.athlete ON athlete.id = twin.athlete WHERE came").fetchall()
    people = {
        names[number]: body
        for number, body in ask("SELECT athlete, body FROM other.person")
        if names[number] not in gone
    }
    return MergeResult(
        takes,
        known,
        cards,
        notes,
        removed,
        tuple(sorted(gone)),
        tuple(sorted(set(names.values()) - gone - here)),
        tuple(sorted(name for (name,) in came if name in here)),
        conflicts,
        people,
        _bring_performances(connection),
    )


def _check_given(option: str, given: Collection[str], there: list[str]) -> None:
    """Refuse a name that nobody has in the other history, since a mistyped one would do nothing."""
    known = {name.casefold(): name for name in there}
    for name in given:
        if name not in there and (option == "--as" or name.casefold() not in known):
            raise CoachError("merge.nobody", where=option, name=name, nearest=nearest(name, there))


def _find_conflicts(connection: sqlite3.Connection) -> Iterator[MergeConflict]:
    """Return the takes in both that were corrected in one of them, or differently in each."""
    rows = connection.execute(
        "SELECT m.id, a.name, b.name, m.reason, o.reason, m.drill, o.drill, p.hash, q.hash FROM twin "
        "JOIN main.take AS m ON m.id = twin.here JOIN other.take AS o ON o.id = twin.there "
        "JOIN main.athlete AS a ON a.id = m.athlete JOIN main.athlete AS b ON b.id = twin.athlete "
        "JOIN main.plan AS p ON p.id = m.plan JOIN other.plan AS q ON q.id = o.plan "
        "WHERE m.athlete != twin.athlete OR m.reason IS NOT o.reason OR p.hash != q.hash ORDER BY m.id"
    ).fetchall()
    for number, mine, hers, reason, other_reason, drill, other_drill, plan, other_plan in rows:
        if mine != hers:
            yield MergeConflict(number, "athlete", mine, hers)
        if reason != other_reason:
            yield MergeConflict(number, "counting", reason or "", other_reason or "")
        if plan != other_plan:
            yield MergeConflict(number, "drill", drill, other_drill)


def _complete_known(connection: sqlite3.Connection) -> tuple[int, int]:
    """Add scorecards and notes that takes have there but not here; the newest scorecard is the current one."""
    cards = connection.execute(
        f"INSERT INTO main.card (take, current, {', '.join(_OF_CARD)}) SELECT twin.here, 0, {_of('c', _OF_CARD)} "
        "FROM twin JOIN other.card AS c ON c.take = twin.there JOIN main.take AS m ON m.id = twin.here "
        "JOIN other.take AS o ON o.id = twin.there JOIN main.plan AS p ON p.id = m.plan "
        "JOIN other.plan AS q ON q.id = o.plan AND q.hash = p.hash WHERE NOT EXISTS "
        "(SELECT 1 FROM main.card AS d WHERE d.take = twin.here AND d.made = c.made AND d.body = c.body)"
    ).rowcount
    if cards:
        touched = "take IN (SELECT here FROM twin WHERE here IS NOT NULL)"
        newest = (
            "id = (SELECT d.id FROM main.card AS d WHERE d.take = card.take ORDER BY d.made DESC, d.id DESC LIMIT 1)"
        )
        wrong = f"{touched} AND take IN (SELECT take FROM main.card WHERE {touched} GROUP BY take HAVING count(*) > 1)"
        connection.execute("CREATE TEMP TABLE force (id INTEGER PRIMARY KEY)")
        connection.execute(f"INSERT INTO force SELECT id FROM main.card WHERE {wrong} AND {newest} AND NOT current")
        of_these = "take IN (SELECT take FROM main.card WHERE id IN (SELECT id FROM force))"
        connection.execute(f"UPDATE main.card SET current = 0 WHERE {of_these}")
        connection.execute("UPDATE main.card SET current = 1 WHERE id IN (SELECT id FROM force)")
    notes = connection.execute(
        "INSERT INTO main.note (athlete, take, written, text) SELECT m.athlete, m.id, n.written, n.text FROM twin "
        "JOIN main.take AS m ON m.id = twin.here JOIN other.note AS n ON n.take = twin.there WHERE NOT EXISTS "
        "(SELECT 1 FROM main.note AS d WHERE d.take = m.id AND d.written = n.written)"
    ).rowcount
    return cards, notes


def _bring_new(connection: sqlite3.Connection) -> int:
    """Add the takes that are missing here, with all that belongs to them."""
    ask = connection.execute
    ask("UPDATE twin SET came = 1 WHERE here IS NULL")
    ask(
        "INSERT OR IGNORE INTO main.plan (hash, body) SELECT hash, body FROM other.plan WHERE id IN "
        "(SELECT plan FROM other.take JOIN twin ON twin.there = take.id WHERE came)"
    )
    takes = ask(
        f"INSERT INTO main.take (athlete, plan, {', '.join(_OF_TAKE)}) SELECT twin.athlete, p.id, {_of('t', _OF_TAKE)} "
        "FROM twin JOIN other.take AS t ON t.id = twin.there JOIN other.plan AS q ON q.id = t.plan "
        "JOIN main.plan AS p ON p.hash = q.hash WHERE came ORDER BY t.begun, t.id"
    ).rowcount
    ask(
        "UPDATE twin SET here = (SELECT m.id FROM main.take AS m JOIN other.take AS t ON t.mark = m.mark "
        "WHERE t.id = twin.there AND m.athlete = twin.athlete) WHERE came"
    )
    ask(
        "INSERT INTO main.onsets (take, number, hands, time, hand) SELECT twin.here, number, hands, time, hand "
        "FROM twin JOIN other.onsets AS o ON o.take = twin.there WHERE came"
    )
    ask(
        f"INSERT INTO main.card (take, current, {', '.join(_OF_CARD)}) "
        f"SELECT twin.here, c.current, {_of('c', _OF_CARD)} FROM twin "
        "JOIN other.card AS c ON c.take = twin.there WHERE came ORDER BY c.id"
    )
    ask(
        "INSERT INTO main.note (athlete, take, written, text) SELECT twin.athlete, twin.here, written, text "
        "FROM twin JOIN other.note AS n ON n.take = twin.there WHERE came ORDER BY n.id"
    )
    return takes


def _bring_performances(connection: sqlite3.Connection) -> int:
    """Add the group performances that are missing here, with the merged members; return how many."""
    of_group = "mark, team, begun, drill, title, moments, together, width_ms, sd_ms, program"
    came = connection.execute(
        f"INSERT INTO main.performance ({of_group}) SELECT {of_group} FROM other.performance "
        "WHERE mark NOT IN (SELECT mark FROM main.performance) ORDER BY begun, id"
    ).rowcount
    of_member = ("bias_ms", "offset_ms", "spread_ms", "n", "away")
    # of those that were here already no member comes: who is not in them was forgotten
    connection.execute(
        f"INSERT OR IGNORE INTO main.performer (performance, athlete, {', '.join(of_member)}) "
        f"SELECT m.id, who.here, {_of('r', of_member)} FROM other.performer AS r "
        "JOIN other.performance AS o ON o.id = r.performance JOIN who ON who.there = r.athlete "
        "JOIN main.performance AS m ON m.mark = o.mark "
        "WHERE NOT EXISTS (SELECT 1 FROM main.performer AS d WHERE d.performance = m.id) ORDER BY r.rowid"
    )
    return came


def _of(table: str, names: tuple[str, ...]) -> str:
    return ", ".join(f"{table}.{name}" for name in names)


def _count(connection: sqlite3.Connection, question: str) -> int:
    return int(connection.execute(question).fetchone()[0])


def hand_over(history: History, athlete: str, to: Path, *, person: str = "") -> int:
    """Write a history with one athlete's takes only, and return how many there are.

    Parameters
    ----------
    history : History
    athlete : str
    to : Path
        Not there yet.
    person : str
        How she practises, as her file has it.

    Raises
    ------
    CoachError
        If there is no such athlete, or it cannot be written.
    """
    name = read_name(athlete)
    history.find_athlete(name)
    # the new file takes in her alone: as a merge does, from the other side
    with History(to) as target:
        connection = target.connection
        connection.create_function("salted", 1, lambda mark: salted(connection, mark))
        connection.execute("ATTACH ? AS other", (f"{history.path.resolve().as_uri()}?mode=ro",))
        with target.writing():
            connection.execute("CREATE TEMP TABLE who (there INTEGER PRIMARY KEY, here INTEGER NOT NULL)")
            connection.execute("INSERT INTO main.athlete (name) VALUES (?)", (name,))
            connection.execute(
                "INSERT INTO who SELECT o.id, m.id FROM other.athlete AS o, main.athlete AS m WHERE o.name = m.name"
            )
            connection.execute(
                "CREATE TEMP TABLE twin AS SELECT t.id AS there, who.here AS athlete, NULL AS here, 0 AS came "
                "FROM other.take AS t JOIN who ON who.there = t.athlete"
            )
            takes = _bring_new(connection)
            connection.execute(
                "INSERT INTO main.note (athlete, take, written, text) SELECT who.here, NULL, written, text "
                "FROM other.note AS n JOIN who ON who.there = n.athlete WHERE n.take IS NULL ORDER BY n.id"
            )
            if person:
                connection.execute("INSERT INTO main.person SELECT id, ? FROM main.athlete", (person,))
        connection.execute("DETACH other")
        connection.execute("PRAGMA journal_mode = DELETE")
    return takes
