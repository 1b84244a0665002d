"""Columns of the history's file, one entry each: its type, how it comes from a take or a scorecard, how it is read.

What lists and trends ask for has columns of its own, the fields of :class:`TakeRow`, from which the statements, CSV and
JSON are made. The rest of a plan or a scorecard is one compressed JSON body.
"""

from __future__ import annotations

import json
import math
import zlib
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np

from tempo_coach.observe.take.onsets import Onsets
from tempo_coach.score.measures.parts import WITHOUT_CUES

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Mapping

    from tempo_coach.observe.take.onsets import Take

#: How hard bodies are compressed: zlib's default level.
LEVEL = 6
#: Stands in columns that cannot be NULL for a number that is not known.
UNKNOWN = -1


class TakeSource(NamedTuple):
    """Source of a take's columns."""

    take: Take
    begun: str
    routine: str | None
    ended: str
    setup: Mapping[str, object]


class CardSource(NamedTuple):
    """Source of a scorecard's columns: its plain values with the sentence, and whether the take was steady."""

    said: Mapping[str, Any]
    steady: bool

    @property
    def without_cues(self) -> Mapping[str, Any]:
        """Measures of its block without cues; empty without one."""
        blocks = {part["name"]: part for part in self.said["detail"]["by"].get("cues", ())}
        found: Mapping[str, Any] = blocks.get(WITHOUT_CUES, {})
        return found


class Column(NamedTuple):
    """A column of the file.

    Parameters
    ----------
    table : {"take", "card"} or None
        None where it is no column of these, but found beside them.
    sql : str
        Its type, as SQLite has it. A column that was added later may be NULL: older takes have nothing in it.
    make : callable or None
        Returns its value, told a :class:`TakeSource` or a :class:`CardSource`.
    read : callable
        Returns the value for the program.
    found : str
        Where it is found in SQL; by default under its name.
    since : int
        The version of the file that has it. Versions above the first get their columns by themselves.
    """

    table: Literal["take", "card"] | None
    sql: str = ""
    make: Callable[[Any], object] | None = None
    read: Callable[[Any], Any] = lambda value: value
    found: str = ""
    since: int = 1


def _elsewhere(found: str) -> Any:
    return field(metadata={"column": Column(None, found=found)})


def _take(
    sql: str, make: Callable[[TakeSource], object], *, read: Callable[[Any], Any] | None = None, since: int = 1
) -> Any:
    return field(metadata={"column": Column("take", sql, make, read or (lambda value: value), since=since)})


def _card(sql: str, make: Callable[[CardSource], object], *, read: Callable[[Any], Any], since: int = 1) -> Any:
    return field(metadata={"column": Column("card", sql, make, read, since=since)})


def _measure(name: str, *, since: int = 1) -> Any:
    """Return the column of a measure of the whole scorecard: NULL, and NaN, where the data could not support it."""
    return _card("REAL", lambda card: card.said[name], read=_or_nan, since=since)


def _number(name: str) -> Any:
    """Return the column of a number of the scorecard that may be unknown."""
    return _card(
        "INTEGER NOT NULL",
        lambda card: UNKNOWN if card.said[name] is None else card.said[name],
        read=lambda number: None if number == UNKNOWN else number,
    )


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value


@dataclass(frozen=True)
class TakeRow:
    """A take in a list: what it was, and the figures of its current scorecard. A further field is a further column.

    Parameters
    ----------
    number : int
        By which it is named.
    athlete, begun, drill, title, routine, observed_by, sentence : str
        ``routine`` is empty where it belongs to none.
    tempo_bpm, speed, seconds : float
        Of the counts as heard, of the music's own, and of practice.
    cycles, moments, n, flagged : int
    missed, extra : int or None
        None where that is not known.
    cues : str
        The way of cueing; empty of a take that an older version kept.
    reason : str
        Why it does not count; empty where it counts.
    steady : bool
        Whether it was steady, which steps of tempo go by: see :mod:`tempo_coach.score.measures.steadiness`.
    bias_ms, spread_ms, period_cv_pct, period_ratio_mean, drift_pct_per_cycle, f_measure, scatter_pct : float
        NaN where the take could not carry them, or an older version kept it.
    without_cues_bias_ms, without_cues_spread_ms : float
        Of its block without cues.
    """

    number: int = _elsewhere("take.id")
    athlete: str = _elsewhere("athlete.name")
    begun: str = _take("TEXT NOT NULL", lambda put: put.begun)
    drill: str = _take("TEXT NOT NULL", lambda put: put.take.plan.drill)
    title: str = _take("TEXT NOT NULL", lambda put: put.take.plan.title)
    routine: str = _take("TEXT", lambda put: put.routine or None, read=lambda name: name or "")
    observed_by: str = _take("TEXT NOT NULL", lambda put: put.take.observed_by)
    tempo_bpm: float = _take("REAL NOT NULL", lambda put: tempo_of(put.take))
    speed: float = _take("REAL NOT NULL", lambda put: put.take.plan.speed)
    seconds: float = _take("REAL NOT NULL", lambda put: put.take.plan.duration)
    cues: str = _take("TEXT", lambda put: put.take.plan.cue_way, read=lambda way: way or "", since=2)
    reason: str = _take("TEXT", lambda _: None, read=lambda reason: reason or "", since=2)
    cycles: int = _take("INTEGER NOT NULL", lambda put: put.take.plan.cycles)
    moments: int = _take("INTEGER NOT NULL", lambda put: len(put.take.plan.moments))
    n: int = _card("INTEGER NOT NULL", lambda card: card.said["n"], read=int)
    missed: int | None = _number("missed")
    extra: int | None = _number("extra")
    flagged: int = _card(
        "INTEGER NOT NULL", lambda card: sum(bool(cycle["flags"]) for cycle in card.said["cycles"]), read=int
    )
    steady: bool = _card("INTEGER NOT NULL", lambda card: int(card.steady), read=bool)
    bias_ms: float = _measure("bias_ms")
    spread_ms: float = _measure("spread_ms")
    period_cv_pct: float = _measure("period_cv_pct")
    period_ratio_mean: float = _measure("period_ratio_mean")
    drift_pct_per_cycle: float = _measure("drift_pct_per_cycle")
    f_measure: float = _measure("f_measure")
    scatter_pct: float = _measure("scatter_pct", since=4)
    without_cues_bias_ms: float = _card("REAL", lambda card: card.without_cues.get("bias_ms"), read=_or_nan)
    without_cues_spread_ms: float = _card("REAL", lambda card: card.without_cues.get("spread_ms"), read=_or_nan)
    sentence: str = _card("TEXT NOT NULL", lambda card: card.said["sentence"], read=str)

    @property
    def uneven_pct(self) -> float:
        """By how much its cycles scatter, as steadiness has it; of a take that an older version kept, their CV."""
        return self.period_cv_pct if math.isnan(self.scatter_pct) else self.scatter_pct

    @property
    def day(self) -> str:
        """The day on which it was done, as it was there."""
        return self.begun[:10]

    @property
    def time(self) -> datetime:
        """Local time of its beginning; without a time zone of its own it is taken as this machine's."""
        return datetime.fromisoformat(self.begun).astimezone()

    def to_dict(self) -> dict[str, object]:
        """Return it as plain values; null where a measure is not known."""
        values = {name: getattr(self, name) for name in LISTED}
        return {name: None if isinstance(v, float) and math.isnan(v) else v for name, v in values.items()}


#: The columns of a list, in the order in which CSV and JSON have them.
LISTED: dict[str, Column] = {each.name: each.metadata["column"] for each in fields(TakeRow)}


class BriefRow(NamedTuple):
    """A take as planning and overviews need it: some fields of :class:`TakeRow`, quick to read."""

    begun: str
    drill: str
    title: str
    tempo_bpm: float
    cues: str
    cycles: int
    steady: bool
    period_cv_pct: float
    spread_ms: float
    without_cues_spread_ms: float
    scatter_pct: float

    @property
    def uneven_pct(self) -> float:
        """By how much its cycles scatter, as steadiness has it; of a take that an older version kept, their CV."""
        return self.period_cv_pct if math.isnan(self.scatter_pct) else self.scatter_pct

    @property
    def day(self) -> str:
        """The day on which it was done, as it was there."""
        return self.begun[:10]


#: Further columns of a take, which only a whole one has.
UNLISTED: dict[str, Column] = {
    "noise_floor_ms": Column("take", "REAL", lambda put: put.take.noise_floor_ms),
    "unmeasurable": Column(
        "take",
        "TEXT NOT NULL",
        lambda put: json.dumps([list(each) for each in put.take.unmeasurable]),
        lambda text: tuple((float(start), float(end)) for start, end in json.loads(text)),
    ),
    "ended": Column("take", "TEXT NOT NULL", lambda put: put.ended),
    "setup": Column(
        "take",
        "TEXT NOT NULL",
        lambda put: json.dumps(
            {**put.setup, **({"calibrated": True} if put.take.calibrated else {})}, ensure_ascii=False, allow_nan=False
        ),
        json.loads,
    ),
}
COLUMNS = {**LISTED, **UNLISTED}
_READERS = tuple(column.read for column in LISTED.values())
#: What a list asks for.
SELECTED = ", ".join(f"{column.found} AS {name}" if column.found else name for name, column in LISTED.items())
BRIEFLY_SELECTED = ", ".join(BriefRow._fields)


def read_briefly(row: sqlite3.Row) -> BriefRow:
    """Return a take in brief, from the columns of ``BRIEFLY_SELECTED`` in their order."""
    begun, drill, title, tempo, cues, cycles, steady, *measures = row
    known = (math.nan if value is None else value for value in measures)
    return BriefRow(begun, drill, title, tempo, cues or "", cycles, steady == 1, *known)


def make_columns(of: TakeSource | CardSource) -> dict[str, object]:
    """Return the values of all columns of a take, or of a scorecard, by their names."""
    table = "take" if isinstance(of, TakeSource) else "card"
    return {name: column.make(of) for name, column in COLUMNS.items() if column.table == table and column.make}


def added_columns(version: int) -> tuple[str, ...]:
    """Return the statements that add the columns of a version above the first."""
    added = [(name, column) for name, column in COLUMNS.items() if column.since == version > 1]
    return tuple(f"ALTER TABLE {column.table} ADD COLUMN {name} {column.sql}" for name, column in added)


def read_row(row: sqlite3.Row) -> TakeRow:
    """Return a take in a list, from the columns of ``SELECTED`` in their order."""
    return TakeRow(*[read(value) for read, value in zip(_READERS, row, strict=True)])


def tempo_of(take: Take) -> float:
    """Return the tempo of a take as heard, in beats a minute: the median over its counts."""
    plan = take.plan
    inside = plan.knot_counts >= plan.first_count
    times, counts = plan.knot_times[inside], plan.knot_counts[inside]
    moved = np.diff(counts) > 0
    if not moved.any():
        return float((plan.tempo_bpm or 0.0) * plan.speed)
    return float(60.0 / np.median(np.diff(times)[moved] / np.diff(counts)[moved]))


def encode(values: Mapping[str, Any]) -> bytes:
    """Return values as canonical JSON, whatever the order in which they were collected."""
    return json.dumps(values, ensure_ascii=False, allow_nan=False, sort_keys=True).encode()


def pack_values(values: Mapping[str, Any]) -> bytes:
    """Return values as compressed JSON."""
    return zlib.compress(encode(values), LEVEL)


def unpack_values(body: bytes) -> dict[str, Any]:
    """Return the values packed by :func:`pack_values`.

    Raises
    ------
    zlib.error, ValueError
        If it is damaged.
    """
    values: dict[str, Any] = json.loads(zlib.decompress(body))
    return values


def pack_onsets(onsets: Onsets) -> tuple[str, bytes, bytes]:
    """Return the names of the hands as JSON, the times as little-endian float64, and the hand of each as a byte.

    Raises
    ------
    ValueError
        If there are more than 256 hands.
    """
    hands = list(dict.fromkeys(onsets.hand))
    places = bytes(hands.index(hand) for hand in onsets.hand)
    return json.dumps(hands, ensure_ascii=False), onsets.time.astype("<f8").tobytes(), places


def unpack_onsets(hands: str, times: bytes, places: bytes) -> Onsets:
    """Return the onsets packed by :func:`pack_onsets`.

    Raises
    ------
    ValueError, LookupError
        If they are damaged.
    """
    names = json.loads(hands)
    return Onsets(np.frombuffer(times, dtype="<f8"), tuple(names[place] for place in places))
