"""Takes put into the history and found again."""

from __future__ import annotations

import hashlib
import json
import zlib
from typing import TYPE_CHECKING, Any

from tempo_coach import __version__
from tempo_coach.errors import CoachError, nearest
from tempo_coach.history.columns import (
    BRIEFLY_SELECTED,
    COLUMNS,
    SELECTED,
    BriefRow,
    CardSource,
    TakeRow,
    TakeSource,
    encode,
    make_columns,
    pack_onsets,
    pack_values,
    read_briefly,
    read_row,
    unpack_onsets,
    unpack_values,
)
from tempo_coach.history.records import LONGEST_NOTE, Athlete, Kept, Note, Wanted, read_begun, read_name
from tempo_coach.history.store import Store
from tempo_coach.observe.take.onsets import Take
from tempo_coach.pattern.plan.plan_file import plan_from_dict, plan_to_dict

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Mapping

_JOINED = "take JOIN athlete ON athlete.id = take.athlete JOIN card ON card.take = take.id AND card.current"
_ROWS = f"SELECT {SELECTED} FROM {_JOINED}"
#: What the words of a search are looked for in.
_TOLD = "athlete.name || ' ' || drill || ' ' || title || ' ' || ifnull(routine, '') || ' ' || begun || ' ' || sentence"


class History(Store):
    """An open history: see :class:`Store`."""

    def put(
        self,
        take: Take,
        said: Mapping[str, Any],
        *,
        athlete: str,
        begun: str,
        steady: bool,
        routine: str | None = None,
        ended: str = "",
        setup: Mapping[str, object] | None = None,
        note: str = "",
    ) -> int:
        """Store a take with its scorecard, and return its number; a known one keeps its number.

        Parameters
        ----------
        take : Take
        said : mapping
            Its scorecard as plain values, with the sentence.
        athlete : str
        begun : str
            ISO 8601.
        steady : bool
            Whether it was steady, which steps of tempo go by.
        routine : str or None
        ended : str
            How it ended; empty where nobody knows.
        setup : mapping, optional
            What it was played through, and the file that it came from.
        note : str

        Raises
        ------
        CoachError
            If the name or the time cannot be read, or the file cannot be written.
        """
        name, begun = read_name(athlete), read_begun(begun)
        plan = pack_values(plan_to_dict(take.plan))
        hands, times, places = pack_onsets(take.onsets)
        mark = hashlib.sha256(b"\0".join([encode(plan_to_dict(take.plan)), begun.encode(), times, places])).digest()
        with self.writing() as connection:
            connection.execute("INSERT INTO athlete (name) VALUES (?) ON CONFLICT DO NOTHING", (name,))
            who = connection.execute("SELECT id FROM athlete WHERE name = ?", (name,)).fetchone()[0]
            known = connection.execute("SELECT id FROM take WHERE athlete = ? AND mark = ?", (who, mark)).fetchone()
            if known is not None:
                return int(known[0])
            number = _insert(
                connection,
                "take",
                athlete=who,
                plan=plan_id(connection, plan),
                mark=mark,
                **make_columns(TakeSource(take, begun, routine, ended, setup or {})),
            )
            _insert(connection, "onsets", take=number, number=len(take.onsets), hands=hands, time=times, hand=places)
            insert_card(connection, number, said, steady=steady, made=begun)
            if note:
                _insert_note(connection, who, number, note, begun)
        return number

    def put_card(self, number: int, said: Mapping[str, Any], *, steady: bool, made: str) -> None:
        """Store a new current scorecard of a take; the old one is kept."""
        self.row(number)
        with self.writing() as connection:
            connection.execute("UPDATE card SET current = 0 WHERE take = ?", (number,))
            insert_card(connection, number, said, steady=steady, made=made)

    def put_note(self, text: str, *, written: str, take: int | None = None, athlete: str | None = None) -> None:
        """Store a note on a take or on an athlete."""
        if take is not None:
            athlete = self.row(take).athlete
        who = self.find_athlete(athlete or "")
        with self.writing() as connection:
            _insert_note(connection, who, take, text, written)

    def athletes(self) -> tuple[Athlete, ...]:
        """Return all athletes in order of their names."""
        rows = self.ask(
            "SELECT name, count(take.id), coalesce(min(begun), ''), coalesce(max(begun), '') FROM athlete "
            "LEFT JOIN take ON take.athlete = athlete.id GROUP BY athlete.id ORDER BY name"
        )
        return tuple(Athlete(*row) for row in rows)

    def find(self, wanted: Wanted | None = None) -> tuple[TakeRow, ...]:
        """Return the matching takes, the oldest first.

        Raises
        ------
        CoachError
            If there is no such athlete.
        """
        return tuple(read_row(row) for row in reversed(self._find(SELECTED, wanted or Wanted())))

    def find_briefly(self, wanted: Wanted) -> tuple[BriefRow, ...]:
        """Return the matching takes in brief, the oldest first.

        Raises
        ------
        CoachError
            If there is no such athlete.
        """
        return tuple(read_briefly(row) for row in reversed(self._find(BRIEFLY_SELECTED, wanted)))

    def _find(self, columns: str, wanted: Wanted) -> list[sqlite3.Row]:
        """Return the matching rows, the newest first."""
        parts = ["TRUE"]
        values: dict[str, object] = {}
        if wanted.athlete is not None:
            parts.append("take.athlete = :athlete")
            values["athlete"] = self.find_athlete(wanted.athlete)
        for name in ("drill", "routine"):
            if getattr(wanted, name) is not None:
                parts.append(f"{name} = :{name}")
                values[name] = getattr(wanted, name)
        if wanted.since is not None:
            parts.append("begun >= :since")
            values["since"] = wanted.since
        if wanted.until is not None:
            parts.append("begun < :until")
            values["until"] = f"{wanted.until}T99"  # after every time of that day
        if wanted.counting:
            parts.append("reason IS NULL")
        for k, word in enumerate(wanted.words.casefold().split()):
            parts.append(f"instr(fold({_TOLD}), :word{k})")
            values[f"word{k}"] = word
        limit = "" if wanted.last is None else f" LIMIT {int(wanted.last)}"
        where = " AND ".join(parts)
        return self.ask(
            f"SELECT {columns} FROM {_JOINED} WHERE {where} ORDER BY begun DESC, take.id DESC{limit}", values
        )

    def count(self) -> tuple[int, int]:
        """Return the number of athletes and of takes."""
        ((athletes, takes),) = self.ask("SELECT (SELECT count(*) FROM athlete), (SELECT count(*) FROM take)")
        return int(athletes), int(takes)

    def row(self, number: int) -> TakeRow:
        """Return one take as it stands in a list.

        Raises
        ------
        CoachError
            If there is no such take.
        """
        rows = self.ask(f"{_ROWS} WHERE take.id = ?", (number,)) if abs(number) < 2**63 else []
        if not rows:
            raise CoachError("take.unknown", where=str(self.path), number=number)
        return read_row(rows[0])

    def take(self, number: int) -> Kept:
        """Return one take whole, with its plan as it was.

        Raises
        ------
        CoachError
            If there is no such take, or it is damaged.
        """
        row = self.row(number)
        found = self.ask(
            "SELECT plan.body AS plan, hands, time, hand, observed_by, noise_floor_ms, unmeasurable, setup, "
            "card.body AS card, made, (SELECT count(*) FROM card AS old WHERE old.take = take.id) - 1 AS older "
            "FROM take JOIN plan ON plan.id = take.plan JOIN onsets ON onsets.take = take.id "
            "JOIN card ON card.take = take.id AND current WHERE take.id = ?",
            (number,),
        )
        try:
            (kept,) = found
            return self._read(row, kept)
        except (ValueError, TypeError, LookupError, zlib.error) as error:
            raise CoachError("take.damaged", where=str(self.path), number=number) from error

    def _read(self, row: TakeRow, kept: sqlite3.Row) -> Kept:
        plan = plan_from_dict(unpack_values(kept["plan"]), where=f"{self.path}: take {row.number}")
        setup = COLUMNS["setup"].read(kept["setup"])
        take = Take(
            plan,
            unpack_onsets(kept["hands"], kept["time"], kept["hand"]),
            observed_by=kept["observed_by"],
            noise_floor_ms=kept["noise_floor_ms"],
            unmeasurable=COLUMNS["unmeasurable"].read(kept["unmeasurable"]),
            calibrated=bool(setup.get("calibrated", setup.get("delay_by"))),
        )
        return Kept(
            row,
            take,
            unpack_values(kept["card"]),
            kept["made"],
            kept["older"],
            self.notes(take=row.number),
            setup,
        )

    def cards(self, number: int) -> tuple[tuple[str, str, dict[str, Any]], ...]:
        """Return every scorecard of a take, the oldest first: when, by which version, and the values."""
        rows = self.ask("SELECT made, program, body FROM card WHERE take = ? ORDER BY id", (number,))
        return tuple((made, program, unpack_values(body)) for made, program, body in rows)

    def notes(self, *, take: int | None = None, athlete: str | None = None) -> tuple[Note, ...]:
        """Return the notes on a take, or all of an athlete."""
        if take is not None:
            rows = self.ask("SELECT take, written, text FROM note WHERE take = ? ORDER BY id", (take,))
        else:
            who = self.find_athlete(athlete or "")
            rows = self.ask("SELECT take, written, text FROM note WHERE athlete = ? ORDER BY id", (who,))
        return tuple(Note(*row) for row in rows)

    def setups(self, athlete: str) -> Iterator[dict[str, Any]]:
        """Yield the setup of each take of an athlete."""
        for (setup,) in self.ask("SELECT setup FROM take WHERE athlete = ?", (self.find_athlete(athlete),)):
            yield json.loads(setup)

    def find_athlete(self, name: str) -> int:
        """Return the number of an athlete.

        Raises
        ------
        CoachError
            If there is no such athlete.
        """
        plain = read_name(name)
        rows = self.ask("SELECT id FROM athlete WHERE name = ?", (plain,))
        if not rows:
            names = [row[0] for row in self.ask("SELECT name FROM athlete")]
            guess = nearest(plain, names)
            raise CoachError("athlete.unknown", where=str(self.path), name=plain, nearest=guess)
        return int(rows[0][0])


def _insert(connection: sqlite3.Connection, table: str, **values: object) -> int:
    names, places = ", ".join(values), ", ".join("?" * len(values))
    done = connection.execute(f"INSERT INTO {table} ({names}) VALUES ({places})", tuple(values.values()))
    return int(done.lastrowid or 0)


def insert_card(connection: sqlite3.Connection, take: int, said: Mapping[str, Any], *, steady: bool, made: str) -> None:
    """Insert a scorecard as a take's current one, where it has none."""
    _insert(
        connection,
        "card",
        take=take,
        made=made,
        program=__version__,
        current=1,
        body=pack_values(said),
        **make_columns(CardSource(said, steady)),
    )


def _insert_note(connection: sqlite3.Connection, athlete: int, take: int | None, text: str, written: str) -> None:
    if not 0 < len(text.strip()) <= LONGEST_NOTE:
        raise CoachError("note.length", where="note", most=LONGEST_NOTE, letters=len(text.strip()))
    _insert(connection, "note", athlete=athlete, take=take, written=written, text=text.strip())


def plan_id(connection: sqlite3.Connection, plan: bytes) -> int:
    """Return the number of a plan, inserting it where it is missing."""
    digest = hashlib.sha256(plan).digest()
    connection.execute("INSERT INTO plan (hash, body) VALUES (?, ?) ON CONFLICT DO NOTHING", (digest, plan))
    return int(connection.execute("SELECT id FROM plan WHERE hash = ?", (digest,)).fetchone()[0])
