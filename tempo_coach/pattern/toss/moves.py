"""Moves under a toss with their lengths in counts, against the flight.

The lengths are a table that a coach edits (``moves.toml``), because they are her gymnasts' and not anybody's rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tempo_coach.pattern.drill.toml_tables import TomlTable, read_table
from tempo_coach.resources import find_shared

if TYPE_CHECKING:
    from pathlib import Path

_TABLE = "data/moves.toml"
#: Counts of the longest move: two eights.
_LONGEST = 16


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
class MoveFit:
    """The time that a move leaves in a flight.

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
        """Whether the move is over before the apparatus comes down."""
        return self.spare >= -1e-9

    def to_dict(self) -> dict[str, Any]:
        """Return the values under the names of ``toss --json``."""
        return {"move": self.move.name, "counts": self.move.counts, "spare": self.spare, "fits": self.fits}


def read_moves(path: Path | None = None) -> tuple[Move, ...]:
    """Return the moves of a table, by default the one that comes with the program.

    Raises
    ------
    CoachError
        If the file cannot be read or is no TOML.
    CoachErrors
        With every problem of the file, each with its line.
    """
    table = read_table(find_shared("drills") / _TABLE if path is None else path, what="moves")
    moves = tuple(_read_move(each) for each in table.tables("move"))
    if not moves and not table.problems.found:
        table.problem("move", "moves.none")
    table.no_more()
    table.problems.raise_if_any()
    return moves


def _read_move(table: TomlTable) -> Move:
    move = Move(table.text("name", None), table.number("counts", None, low=0, high=_LONGEST), table.text("note"))
    if move.counts == 0:
        table.problem("counts", "moves.no_counts")
    table.no_more()
    return move


def fit_moves(counts: float, moves: tuple[Move, ...]) -> list[MoveFit]:
    """Return each move compared with a flight of a number of counts.

    Parameters
    ----------
    counts : float
        Length of the flight.
    moves : tuple of Move

    Examples
    --------
    >>> [fit.fits for fit in fit_moves(3, (Move("one turn", 2), Move("two turns", 3.5)))]
    [True, False]
    """
    return [MoveFit(move, counts - move.counts) for move in moves]
