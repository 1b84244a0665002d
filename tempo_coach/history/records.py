"""Records of the history: athletes, whole takes, notes, filters."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any, NamedTuple

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from tempo_coach.history.columns import TakeRow
    from tempo_coach.observe.take.onsets import Take

#: Letters of an athlete's name, and of a note, at most.
LONGEST_NAME, LONGEST_NOTE = 200, 10_000
#: Who takes are kept for where nobody says.
SOMEBODY = "me"


class Athlete(NamedTuple):
    """An athlete with the number of her takes, and the first and the last of them (ISO 8601; empty without)."""

    name: str
    takes: int
    first: str
    last: str


class Note(NamedTuple):
    """A note on a take, or on the athlete where ``take`` is None."""

    take: int | None
    written: str
    text: str


@dataclass(frozen=True, eq=False)
class Kept:
    """A stored take, whole.

    Parameters
    ----------
    row : TakeRow
    take : Take
        Its plan is the plan as it was.
    card : dict
        The scorecard in force, as ``score --json`` gave it.
    made : str
        When that was made.
    older : int
        How many scorecards were in force before it.
    notes : tuple of Note
    setup : dict
        What it was played through, and the file that it came from.
    """

    row: TakeRow
    take: Take
    card: dict[str, Any]
    made: str
    older: int
    notes: tuple[Note, ...]
    setup: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Wanted:
    """A query for takes; all conditions have to hold.

    Parameters
    ----------
    athlete, drill, routine : str or None
    since, until : str or None
        The first and the last day, ISO 8601.
    words : str
        All of these words have to be somewhere in athlete, drill, title, routine, day or sentence; small or capital.
    last : int or None
        At most this many, the newest.
    counting : bool
        Whether those are left out that do not count.
    """

    athlete: str | None = None
    drill: str | None = None
    routine: str | None = None
    since: str | None = None
    until: str | None = None
    words: str = ""
    last: int | None = None
    counting: bool = False


def read_name(name: str) -> str:
    """Return an athlete's name in canonical form: Unicode NFC, single spaces.

    Raises
    ------
    CoachError
        If it is empty, too long, or holds what is no letter, mark, number or sign.

    Examples
    --------
    >>> read_name("  Zoë O'Hara ")
    "Zoë O'Hara"
    """
    plain = " ".join(unicodedata.normalize("NFC", name).split())
    if not plain:
        raise CoachError("name.missing", where="athlete")
    if len(plain) > LONGEST_NAME:
        raise CoachError("name.too_long", where="athlete", most=LONGEST_NAME, letters=len(plain))
    if any(unicodedata.category(letter) in ("Cc", "Cs", "Cn") for letter in plain):
        raise CoachError("name.unprintable", where="athlete", name=plain)
    return plain


def read_begun(begun: str) -> str:
    """Return a date and time as ISO 8601.

    Raises
    ------
    CoachError
        If it is none.
    """
    try:
        return datetime.fromisoformat(begun).isoformat(timespec="seconds")
    except ValueError:
        raise CoachError("begun.unreadable", where="begun", begun=begun[:40]) from None


def read_day(said: str, *, today: date, where: str) -> str:
    """Return a day as ISO 8601: a date, ``today``, or a number of days ago.

    Raises
    ------
    CoachError
        If it is none of these.

    Examples
    --------
    >>> read_day("14", today=date(2031, 5, 20), where="--since")
    '2031-05-06'
    """
    try:
        if said.strip().lower() == "today":
            return today.isoformat()
        if said.strip().isdigit():
            return (today - timedelta(days=int(said))).isoformat()
        return date.fromisoformat(said.strip()).isoformat()
    except (ValueError, OverflowError):
        raise CoachError("day.unreadable", where=where, day=said[:40]) from None
