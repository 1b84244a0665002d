"""Messages of phones, validated before use: sizes, types and ranges. Pure.

::

    {
        "at": 12.345,
        "page": ["k3v…", 1700000000.0],
        "first": 17,
        "rows": [[12.301, 0, 1]],
        "left": 0,
        "got": [[8, 12.299]],
        "seen": 4,
    }

A row is the stamp on the phone's clock in seconds, its kind and its values: of a tap the field, of a reading three
accelerations in m/s² and three rates in rad/s, of a mark what the page noticed, of the remote what is wanted.
"""

from __future__ import annotations

import json
import math
from enum import IntEnum
from typing import Any, NamedTuple

from tempo_coach.live.phones.clocks import Opening

#: Bytes of the longest message, rows of one, and answers that one may carry.
MOST_BYTES, MOST_ROWS, MOST_GOT = 65_536, 600, 64
#: Seconds that a page's clock can show, seconds of the system's time at which it began, the largest value of a reading.
LONGEST, LATEST, LARGEST = 1e7, 1e11, 1e5
#: The largest number of a row: years at 60 a second.
_MOST = 2**40


class RowKind(IntEnum):
    """Kinds of rows."""

    TAP = 0
    READING = 1
    MARK = 2
    REMOTE = 3


#: Values after stamp and kind.
WIDTHS = {RowKind.TAP: 1, RowKind.READING: 6, RowKind.MARK: 1, RowKind.REMOTE: 1}


class Mark(IntEnum):
    """Events that a page noticed about itself."""

    HIDDEN = 0
    SHOWN = 1
    NO_MOTION = 2
    NO_WAKE_LOCK = 3


class RemoteButton(IntEnum):
    """Commands of the remote."""

    START = 0
    END = 1


class BadMessage(ValueError):  # noqa: N818  the name says what it is
    """A message that no page of ours sends."""


class Got(NamedTuple):
    """An answer that came to a page: its number, when, and when its question went where the browser tells that."""

    answer: int
    came: float
    went: float | None = None


class Message(NamedTuple):
    """A message of a phone.

    Parameters
    ----------
    at : float
        When it was sent, on the page's clock in seconds.
    page : Opening
        Which opening of the page: another one has another clock.
    of : Opening
        The one in which the rows were made; by default this one.
    first : int
        Number of the first row.
    rows : list of list of float
        Stamp, kind, values.
    held : int
        Number of the first row that the phone still has: what is not here before it is lost.
    left : int
        How many rows wait behind these.
    got : list of Got
        Answers of ours that came.
    seen : int
        Which state of the practice it shows.
    """

    at: float
    page: Opening
    of: Opening
    first: int = 0
    rows: list[list[float]] = []  # noqa: RUF012  a tuple's default is never changed
    held: int = 0
    left: int = 0
    got: list[Got] = []  # noqa: RUF012
    seen: int = 0


def read_message(raw: bytes | str) -> Message:
    """Return a validated message.

    Raises
    ------
    BadMessage
        If it is none.
    """
    values = read_object(raw)
    got, rows = values.get("got", []), values.get("rows", [])
    if not isinstance(rows, list) or not isinstance(got, list) or len(rows) > MOST_ROWS or len(got) > MOST_GOT:
        raise BadMessage("rows")
    page = _page(values.get("page"))
    return Message(
        at=_number(values.get("at"), LONGEST),
        page=page,
        of=_page(values.get("of", page)),
        first=_whole(values.get("first", 0)),
        rows=[_row(each) for each in rows],
        held=_whole(values.get("held", 0)),
        left=_whole(values.get("left", 0)),
        got=[_got(each) for each in got],
        seen=_whole(values.get("seen", 0)),
    )


def read_object(raw: bytes | str) -> dict[str, Any]:
    """Return the object in a JSON message.

    Raises
    ------
    BadMessage
        If it is too long, or none.
    """
    if len(raw) > MOST_BYTES:
        raise BadMessage("long")
    try:
        values = json.loads(raw)
    except (ValueError, RecursionError) as error:
        raise BadMessage("json") from error
    if not isinstance(values, dict):
        raise BadMessage("object")
    return values


def _page(given: object) -> Opening:
    if not isinstance(given, list | Opening) or len(given) != 2:
        raise BadMessage("page")
    name, origin = given
    if not isinstance(name, str) or not 1 <= len(name) <= 32 or not name.isascii():
        raise BadMessage("page")
    return Opening(name, _number(origin, LATEST))


def _row(given: object) -> list[float]:
    if not isinstance(given, list) or not 3 <= len(given) <= 8:
        raise BadMessage("row")
    stamp, kind = _number(given[0], LONGEST), _whole(given[1])
    if kind not in WIDTHS or len(given) - 2 != WIDTHS[RowKind(kind)]:
        raise BadMessage("kind")
    return [stamp, kind, *(_number(value, LARGEST) for value in given[2:])]


def _got(given: object) -> Got:
    if not isinstance(given, list) or not 2 <= len(given) <= 3:
        raise BadMessage("got")
    answer, *times = given
    return Got(_whole(answer), *(_number(each, LONGEST) for each in times))


def _number(value: object, largest: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadMessage("number")
    if not math.isfinite(value) or abs(value) > largest:
        raise BadMessage("number")
    return float(value)


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < _MOST:
        raise BadMessage("whole number")
    return value
