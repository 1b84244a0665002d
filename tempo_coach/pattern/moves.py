"""What fits under a toss: moves with their lengths in counts, against the flight.

The lengths are a table that a coach edits (``moves.toml``), because they are her gymnasts' and not anybody's rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError, CoachErrors
from tempo_coach.pattern.tables import read_table
from tempo_coach.resources import find_shared

if TYPE_CHECKING:
    from pathlib import Path

_TABLE = "data/moves.toml"
_KEYS = {"name", "counts", "note"}


@dataclass(frozen=True)
class Move:
    """Something done while the apparatus is in the air.

    Parameters
    ----------
    name : str
        As a coach says it, such as ``one turn``.
    counts : float
        How long it takes, from the release to hands that are ready for the catch.
    note : str
    """

    name: str
    counts: float
    note: str = ""


@dataclass(frozen=True)
class Fit:
    """A move against a flight.

    Parameters
    ----------
    move : Move
    spare : float
        Counts left over after it; negative are missing.
    """

    move: Move
    spare: float

    @property
    def fits(self) -> bool:
        """Whether the move is over when the apparatus comes down."""
        return self.spare >= -1e-9

    def to_dict(self) -> dict[str, Any]:
        """Return the values under the names that ``toss --json`` prints."""
        return {"move": self.move.name, "counts": self.move.counts, "spare": self.spare, "fits": self.fits}


def read_moves(path: Path | None = None) -> tuple[Move, ...]:
    """Return the moves of a table, by default of the one that comes with the program.

    Raises
    ------
    CoachError
        If the file cannot be read, is no TOML, or a move in it is wrong; every wrong one is reported.
    """
    file = find_shared("drills") / _TABLE if path is None else path
    table = read_table(file, what="a table of moves")[0].data
    entries = table.get("move")
    if not isinstance(entries, list) or not entries or set(table) != {"move"}:
        raise CoachError("expected tables headed [[move]] and nothing else", where=str(file))
    moves: list[Move] = []
    problems: list[CoachError] = []
    for number, entry in enumerate(entries, start=1):
        try:
            moves.append(_read_move(entry, where=f"{file}: move {number}"))
        except CoachError as error:
            problems.append(error)
    if problems:
        raise CoachErrors(problems)
    return tuple(moves)


def _read_move(entry: object, *, where: str) -> Move:
    if not isinstance(entry, dict) or not {"name", "counts"} <= set(entry) <= _KEYS:
        raise CoachError("expected name, counts and at most a note", where=where)
    name, counts, note = entry["name"], entry["counts"], entry.get("note", "")
    if not isinstance(name, str) or not name or not isinstance(note, str):
        raise CoachError(f"expected a name and a note in words, got {name!r} and {note!r}", where=where)
    number = isinstance(counts, int | float) and not isinstance(counts, bool) and math.isfinite(counts)
    if not number or not 0 < counts <= 16:
        raise CoachError(f"expected counts of more than 0 and up to 16, got {counts!r}", where=where)
    return Move(name, float(counts), note)


def fit_moves(counts: float, moves: tuple[Move, ...]) -> list[Fit]:
    """Return each move against a flight of so many counts.

    Examples
    --------
    >>> [fit.fits for fit in fit_moves(3, (Move("one turn", 2), Move("two turns", 3.5)))]
    [True, False]
    """
    return [Fit(move, counts - move.counts) for move in moves]
