"""A group's onsets in one table: columns time and member, and hand where the plan has several hands."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError, nearest
from tempo_coach.observe.onsets import Onsets, read_time, split_lines
from tempo_coach.resources import MOST_MIB, read_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

#: What a member is called where the table does not tell them apart: one recording of all.
TOGETHER = ""
#: Seconds beyond which no clock counts: those since 1970 until the year 2286.
_FURTHEST = 1e10
#: Letters of a member's name, at most; longer ones are no names.
LONGEST_NAME = 200

_HINT = "expected a table with a header and the columns time (s) and member"


@dataclass(frozen=True)
class Rows:
    """One member's rows of a table, in the order of the file.

    Parameters
    ----------
    time : tuple of float
        Seconds.
    hand : tuple of str
        As written; empty where there is no such column.
    where : tuple of str
        ``file:line`` of each.
    """

    time: tuple[float, ...]
    hand: tuple[str, ...]
    where: tuple[str, ...]

    def onsets(self, hands: Sequence[str], *, later: float = 0.0) -> Onsets:
        """Return them as onsets of a plan's hands.

        Parameters
        ----------
        hands : sequence of str
        later : float
            Seconds to add: from the clock of the table to the take clock.

        Raises
        ------
        CoachError
            If a row names no hand of the plan.
        """
        names = []
        for given, where in zip(self.hand, self.where, strict=True):
            hand = given or (hands[0] if len(hands) == 1 else "")
            if hand not in hands:
                guess = nearest(given, list(hands))
                raise CoachError(
                    f"expected a hand ({', '.join(hands)}), found {given[:40]!r}",
                    where=where,
                    hint=f"did you mean {guess}?" if guess else "give the table a column hand",
                )
            names.append(hand)
        return Onsets.unsorted([time + later for time in self.time], names)


def read_members(path: str | Path, *, may_be_empty: bool = False) -> dict[str, Rows]:
    """Return the rows of each member, in the order in which they first appear.

    Parameters
    ----------
    path : str or Path
        A CSV file with a header; commas, semicolons or tabs. Without a column member all rows are one's, called
        ``TOGETHER``.
    may_be_empty : bool
        Whether a table without rows is that of one who did nothing.

    Raises
    ------
    CoachError
        If the file cannot be read, has no column time, or a row holds no time or no member; the line is named.
    """
    where, text = str(path), read_text(path, what="a table", hint=_HINT, most_mib=MOST_MIB["onsets"])
    lines = split_lines(text, where=where, hint=_HINT)
    try:
        reader = csv.reader(lines, delimiter=max(",;\t", key=lines[0].count), strict=True)
        header = [name.strip().lower() for name in next(reader)]
        if "time" not in header:
            columns = ", ".join(header)[:80] or "none"
            raise CoachError(f"expected a column time, found {columns}", where=f"{where}:1", hint=_HINT)
        found = _collect(header, [(reader.line_num, row) for row in reader], where)
    except csv.Error as error:
        raise CoachError(f"this is no table ({error})", where=where, hint=_HINT) from error
    if not found and not may_be_empty:
        raise CoachError("the table has no rows", where=where, hint=_HINT)
    return found or {TOGETHER: Rows((), (), ())}


def _collect(header: list[str], rows: list[tuple[int, list[str]]], where: str) -> dict[str, Rows]:
    at = {name: header.index(name) for name in ("time", "member", "hand") if name in header}
    found: dict[str, list[tuple[float, str, str]]] = {}
    for line, row in rows:
        if not any(cell.strip() for cell in row):
            continue
        cells = {name: row[k].strip() if k < len(row) else "" for name, k in at.items()}
        place = f"{where}:{line}"
        time = read_time(cells["time"], where=place, furthest=_FURTHEST)
        member = cells.get("member", TOGETHER)
        if "member" in at and not 0 < len(member) <= LONGEST_NAME:
            raise CoachError(f"expected a member, found {member[:40]!r}", where=place, hint=_HINT)
        found.setdefault(member, []).append((time, cells.get("hand", ""), place))
    return {member: Rows(*zip(*mine, strict=True)) for member, mine in found.items()}
