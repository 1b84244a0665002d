"""Corrections of takes: given to another athlete, not counting, removed, judged anew on another plan, a note changed.

Before each of them all rows of the take are kept as they were, so that the last one can be undone. A take keeps the
mark by which a merge knows it: what was corrected here is not taken in again from elsewhere.
"""

from __future__ import annotations

import base64
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from tempo_coach.errors import CoachError
from tempo_coach.history.columns import TakeSource, make_columns, pack_onsets, pack_values, unpack_values
from tempo_coach.history.gone import salted
from tempo_coach.history.records import LONGEST_NOTE, read_name
from tempo_coach.history.takes import insert_card, plan_id
from tempo_coach.pattern.plan.plan_file import plan_to_dict

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Mapping

    from tempo_coach.history.columns import TakeRow
    from tempo_coach.history.takes import History
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.score.scorecard import Scorecard

#: Letters of a reason why a take does not count, at most.
LONGEST_REASON = 200
#: The tables that hold a take, in the order in which they are put back, with the column that names it.
_TABLES = (("take", "id"), ("onsets", "take"), ("card", "take"), ("note", "take"))
#: Columns of a take that a plan says, and those that nobody corrects by another plan.
_KEPT = frozenset({"begun", "ended", "setup", "reason", "routine"})


#: What can be put right of a take.
CorrectionKind = Literal["move", "remove", "not counting", "counting", "drill", "eight", "note"]


class Corrected(NamedTuple):
    """A take that was put right.

    Attributes
    ----------
    number : int
    kind : str
    row : TakeRow or None
        As it is now; None once it is removed.
    card : Scorecard or None
        Where it was judged again.
    value : str or int
        What it was put to: an athlete, a reason, a drill, an eight, a note.
    is_new : bool
        Whether its athlete was not in the history before.
    """

    number: int
    kind: CorrectionKind
    row: TakeRow | None = None
    card: Scorecard | None = None
    value: str | int = ""
    is_new: bool = False


class TakeCorrection(NamedTuple):
    """The last correction: the take and its former owner, when it was made, and its kind."""

    take: int
    athlete: str
    made: str
    kind: str


def move(history: History, number: int, *, to: str, made: str) -> None:
    """Give a take to another athlete, who may be new.

    Raises
    ------
    CoachError
        If there is no such take, she has it already, or the name cannot be read.
    """
    name, row = read_name(to), history.row(number)
    if name == row.athlete:
        raise CoachError("take.hers_already", where="--to", number=number, name=name)
    with history.writing() as connection:
        connection.execute("INSERT INTO athlete (name) VALUES (?) ON CONFLICT DO NOTHING", (name,))
        who = connection.execute("SELECT id FROM athlete WHERE name = ?", (name,)).fetchone()[0]
        twice = "SELECT id FROM take WHERE athlete = ? AND mark = (SELECT mark FROM take WHERE id = ?)"
        has = connection.execute(twice, (who, number)).fetchone()
        if has is not None:
            raise CoachError("take.had_as_another", where="--to", name=name, other=has[0], number=number)
        with _correcting(connection, number, "move", made, given=who):
            connection.execute("UPDATE take SET athlete = ? WHERE id = ?", (who, number))
            connection.execute("UPDATE note SET athlete = ? WHERE take = ?", (who, number))


def set_counting(history: History, number: int, *, reason: str | None, made: str) -> None:
    """Exclude a take from counting, for a reason, or include it again where that is None.

    Raises
    ------
    CoachError
        If there is no such take, or the reason is empty or too long.
    """
    history.row(number)
    reason = reason.strip() if reason is not None else None
    if reason is not None and not 0 < len(reason) <= LONGEST_REASON:
        raise CoachError("reason.length", where="--not-counting", most=LONGEST_REASON, letters=len(reason))
    with history.writing() as connection, _correcting(connection, number, "counting", made):
        connection.execute("UPDATE take SET reason = ? WHERE id = ?", (reason, number))


def remove(history: History, number: int, *, made: str) -> None:
    """Remove a take. It can be restored until the next correction, and no merge brings it back.

    Raises
    ------
    CoachError
        If there is no such take.
    """
    history.row(number)
    with history.writing() as connection, _correcting(connection, number, "remove", made):
        mark = connection.execute("SELECT mark FROM take WHERE id = ?", (number,)).fetchone()[0]
        connection.execute("INSERT INTO gone VALUES (?) ON CONFLICT DO NOTHING", (salted(connection, mark),))
        connection.execute("DELETE FROM take WHERE id = ?", (number,))
        connection.execute("DELETE FROM plan WHERE id NOT IN (SELECT plan FROM take)")


def put_plan(
    history: History, number: int, take: Take, said: Mapping[str, Any], *, steady: bool, kind: str, made: str
) -> None:
    """Replace a take whose plan was wrong, with its scorecard; the old scorecard is kept.

    Parameters
    ----------
    history : History
    number : int
    take : Take
        The same onsets on the plan that is right.
    said, steady
        As in :meth:`tempo_coach.history.takes.History.put`.
    kind, made : str

    Raises
    ------
    CoachError
        If there is no such take.
    """
    row = history.row(number)
    plan = pack_values(plan_to_dict(take.plan))
    columns = make_columns(TakeSource(take, row.begun, row.routine or None, "", {}))
    changed = {name: value for name, value in columns.items() if name not in _KEPT}
    hands, times, places = pack_onsets(take.onsets)
    with history.writing() as connection, _correcting(connection, number, kind, made):
        changed["plan"] = plan_id(connection, plan)
        sets = ", ".join(f"{name} = ?" for name in changed)
        connection.execute(f"UPDATE take SET {sets} WHERE id = ?", (*changed.values(), number))
        connection.execute(
            "UPDATE onsets SET number = ?, hands = ?, time = ?, hand = ? WHERE take = ?",
            (len(take.onsets), hands, times, places, number),
        )
        connection.execute("UPDATE card SET current = 0 WHERE take = ?", (number,))
        insert_card(connection, number, said, steady=steady, made=made)
        connection.execute("DELETE FROM plan WHERE id NOT IN (SELECT plan FROM take)")


def change_note(history: History, number: int, text: str, *, made: str) -> None:
    """Change the newest note of a take; an empty text removes it.

    Raises
    ------
    CoachError
        If there is no such take, it has no note, or the text is too long.
    """
    history.row(number)
    if len(text.strip()) > LONGEST_NOTE:
        raise CoachError("note.length", where="--note", most=LONGEST_NOTE, letters=len(text.strip()))
    with history.writing() as connection:
        newest = connection.execute("SELECT max(id) FROM note WHERE take = ?", (number,)).fetchone()[0]
        if newest is None:
            raise CoachError("note.none", where="--note", number=number)
        with _correcting(connection, number, "note", made):
            if text.strip():
                connection.execute("UPDATE note SET text = ? WHERE id = ?", (text.strip(), newest))
            else:
                connection.execute("DELETE FROM note WHERE id = ?", (newest,))


def find_last(history: History) -> TakeCorrection | None:
    """Return the last correction, None without one to undo."""
    rows = history.ask(
        "SELECT take, name, made, kind FROM correction JOIN athlete ON athlete.id = correction.athlete "
        "ORDER BY correction.id DESC LIMIT 1"
    )
    return TakeCorrection(*rows[0]) if rows else None


def undo(history: History) -> TakeCorrection:
    """Undo the last correction; return it, and the number that the take has now.

    Raises
    ------
    CoachError
        If there is nothing to undo.
    """
    last = find_last(history)
    if last is None:
        raise CoachError("correction.none", where=str(history.path))
    with history.writing() as connection:
        number, given, body = connection.execute(
            "SELECT take, given, before FROM correction ORDER BY id DESC LIMIT 1"
        ).fetchone()
        before = unpack_values(body)
        if last.kind != "remove":
            connection.execute("DELETE FROM take WHERE id = ?", (number,))
        elif connection.execute("SELECT 1 FROM take WHERE id = ?", (number,)).fetchone():
            number = None  # another take has had its number since
        (plan,) = (_unpack(row) for row in before["plan"])
        (take,) = (_unpack(row) for row in before["take"])
        number = _insert(connection, "take", take | {"id": number, "plan": plan_id(connection, plan["body"])})
        for table, key in _TABLES[1:]:
            for row in before[table]:
                # cards and notes come in their order, under numbers that are free
                _insert(connection, table, {k: v for k, v in _unpack(row).items() if k != "id"} | {key: number})
        connection.execute("DELETE FROM gone WHERE mark = ?", (salted(connection, take["mark"]),))
        connection.execute("DELETE FROM correction")
        connection.execute("DELETE FROM plan WHERE id NOT IN (SELECT plan FROM take)")
        # whoever was given it and has nothing else was made by it
        hers = " UNION ".join(f"SELECT athlete FROM {table}" for table in ("take", "note", "performer"))
        connection.execute(f"DELETE FROM athlete WHERE id = ? AND id NOT IN ({hers})", (given,))
    return last._replace(take=number)


@contextmanager
def _correcting(
    connection: sqlite3.Connection, number: int, kind: str, made: str, *, given: int | None = None
) -> Iterator[None]:
    """Keep the former rows of a take, in place of those of the previous correction."""
    before: dict[str, list[dict[str, object]]] = {
        table: [_plain(row) for row in connection.execute(f"SELECT * FROM {table} WHERE {key} = ?", (number,))]
        for table, key in _TABLES
    }
    plan = "SELECT plan.* FROM plan JOIN take ON plan.id = take.plan WHERE take.id = ?"
    before["plan"] = [_plain(row) for row in connection.execute(plan, (number,))]
    whose = connection.execute("SELECT athlete FROM take WHERE id = ?", (number,)).fetchone()[0]
    connection.execute("DELETE FROM correction")
    connection.execute(
        "INSERT INTO correction (athlete, given, take, made, kind, before) VALUES (?, ?, ?, ?, ?, ?)",
        (whose, given, number, made, kind, pack_values(before)),
    )
    yield


def _plain(row: sqlite3.Row) -> dict[str, object]:
    return {
        name: {"base64": base64.b64encode(row[name]).decode()} if isinstance(row[name], bytes) else row[name]
        for name in row.keys()  # noqa: SIM118  a row of SQLite goes through its values
    }


def _unpack(row: dict[str, Any]) -> dict[str, Any]:
    return {
        name: base64.b64decode(value["base64"]) if isinstance(value, dict) else value for name, value in row.items()
    }


def _insert(connection: sqlite3.Connection, table: str, row: dict[str, Any]) -> int:
    places = ", ".join("?" * len(row))
    done = connection.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({places})", tuple(row.values()))
    return int(done.lastrowid or 0)
