"""A session as it was planned and as far as it is done, in one readable file beside the person's own."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError
from tempo_coach.history.planner import LENGTHS, Because, SessionItem, SessionPart
from tempo_coach.history.roster import SESSION, file_of
from tempo_coach.resources import read_text, written_whole

if TYPE_CHECKING:
    from pathlib import Path

#: How an item of a session ended; empty while it has not.
DONE, SKIPPED = "done", "skipped"


@dataclass(frozen=True)
class SessionRecord:
    """A session of one day.

    Parameters
    ----------
    day : str
        ISO 8601.
    minutes : int
    items : tuple of SessionItem
    states : tuple of str
        Of each item: ``DONE``, ``SKIPPED`` or empty.
    """

    day: str
    minutes: int
    items: tuple[SessionItem, ...]
    states: tuple[str, ...]

    @property
    def next(self) -> int | None:
        """Index of the first item to be done; None when all are over."""
        return next((k for k, state in enumerate(self.states) if not state), None)

    def with_state(self, place: int, state: str) -> SessionRecord:
        """Return the session with one item done or skipped."""
        return replace(self, states=tuple(state if k == place else each for k, each in enumerate(self.states)))

    def with_item(self, place: int, item: SessionItem) -> SessionRecord:
        """Return the session with one item replaced."""
        return replace(self, items=tuple(item if k == place else each for k, each in enumerate(self.items)))


def session_file(folder: Path, name: str) -> Path:
    """Return the path of somebody's session file."""
    return file_of(folder, name).with_suffix(SESSION)


def read_session(path: Path) -> SessionRecord | None:
    """Return the session in a file, None without one.

    Raises
    ------
    CoachError
        If the file cannot be read.
    """
    if not path.exists():
        return None
    text = read_text(path, what="session")
    try:
        values: dict[str, Any] = json.loads(text)
        items = tuple(_item(each) for each in values["items"])
        record = SessionRecord(str(values["day"]), int(values["minutes"]), items, tuple(map(str, values["states"])))
        if len(record.states) != len(items) or record.minutes not in LENGTHS:
            raise ValueError("columns of other lengths")
    except (ValueError, TypeError, LookupError, RecursionError):
        raise CoachError("session.none", where=str(path)) from None
    return record


def save_session(path: Path, record: SessionRecord) -> None:
    """Write a session, unreadable for others on the machine.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    items = [{**vars(item), "number": None if math.isnan(item.number) else item.number} for item in record.items]
    values = {"day": record.day, "minutes": record.minutes, "states": record.states, "items": items}
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CoachError("folder.not_made", where=str(path.parent), reason=error.strerror) from error
    with written_whole(path, what="session") as temporary:
        temporary.touch(mode=0o600)
        temporary.write_text(json.dumps(values, ensure_ascii=False, indent=1), encoding="utf-8")


def _item(values: dict[str, Any]) -> SessionItem:
    number = values["number"]
    tempo, tolerance = float(values["tempo_bpm"]), float(values["tolerance"])
    takes = int(values["takes"])
    if not (0 < tempo < math.inf and 1 <= tolerance <= 10 and 1 <= takes <= 100):
        raise ValueError("numbers that nobody plans")
    return SessionItem(
        SessionPart(values["part"]),
        int(values["block"]),
        str(values["drill"]),
        tempo,
        str(values["cues"]),
        takes,
        Because(values["because"]),
        math.nan if number is None else float(number),
        tolerance,
    )
