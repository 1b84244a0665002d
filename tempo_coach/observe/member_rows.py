"""Rows of a table of several members: read, and told apart by the column that names them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError, nearest
from tempo_coach.observe.table_text import (
    HAND_WORDS,
    MEMBER_WORDS,
    find_column,
    find_time,
    load_text,
    match_hand,
    read_number,
    read_rows,
)
from tempo_coach.observe.take.onsets import MOST_ROWS, Onsets, read_time
from tempo_coach.pattern.plan.every_count import BODY
from tempo_coach.resources import MOST_MIB

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from tempo_coach.observe.observers import ObservedBy


#: What a member is called where the table does not tell them apart: one recording of all.
TOGETHER = ""


#: Seconds beyond which no clock counts: those since 1970 until the year 2286.
_FURTHEST = 1e10


#: Letters of a member's name, at most; longer ones are no names.
LONGEST_NAME = 200


@dataclass(frozen=True)
class MemberRows:
    """The rows of one member in a table, in the order of the file.

    Parameters
    ----------
    time : tuple of float
        Seconds.
    hand : tuple of str
        As written; empty where there is no such column.
    where : tuple of str
        ``file:line`` of each.
    observed_by : str
        What they were observed by.
    noise_floor_ms : float or None
        SD that this adds by itself; None where nobody measured it.
    has_zero : bool
        Whether they are at a place of the movement that others are timed at too; a turning rate shows none.
    """

    time: tuple[float, ...]
    hand: tuple[str, ...]
    where: tuple[str, ...]
    observed_by: ObservedBy = "file"
    noise_floor_ms: float | None = None
    has_zero: bool = True

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
            hand = match_hand(given, hands) or (hands[0] if len(hands) == 1 else "")
            if tuple(hands) == (BODY,):
                hand = BODY  # every count is asked of whatever moves
            if hand not in hands:
                guess = nearest(given, list(hands))
                raise CoachError("member.hand", where=where, hands=hands, found=given[:40], nearest=guess)
            names.append(hand)
        return Onsets.unsorted([time + later for time in self.time], names)


def read_members(path: str | Path, *, may_be_empty: bool = False) -> dict[str, MemberRows]:
    """Return the rows of each member, in the order in which they first appear.

    Parameters
    ----------
    path : str or Path
        A CSV file with a header; commas, semicolons or tabs. Without a column member all rows are one's, called
        ``TOGETHER``; a bare list of seconds, one a line, is read so too.
    may_be_empty : bool
        Whether a table without rows is that of one who did nothing.

    Raises
    ------
    CoachError
        If the file cannot be read, has no column time, or a row holds no time or no member; the line is named.
    """
    where = str(path)
    text = load_text(path, what="members", most_mib=MOST_MIB["onsets"])
    header, line, rows = read_rows(text, where=where, what="members", most=MOST_ROWS)
    time = find_time(header)
    first = text.splitlines()[line - 1].strip()
    if time is None and not math.isnan(read_number(first)):
        # nothing but numbers, one a line: their seconds
        lines = enumerate(text.splitlines()[line - 1 :], line)
        time, rows = (0, 1.0), ((at, [cell.strip()]) for at, cell in lines if cell.strip())
        header = [first]
    if time is None:
        columns = ", ".join(header).lower()[:80] or "none"
        raise CoachError("member.no_time", where=f"{where}:{line}", columns=columns)
    found = _collect(rows, time, find_column(header, MEMBER_WORDS), find_column(header, HAND_WORDS), where)
    if not found and not may_be_empty:
        raise CoachError("member.no_rows", where=where)
    return found or {TOGETHER: MemberRows((), (), ())}


def _collect(
    rows: Iterable[tuple[int, list[str]]],
    time_at: tuple[int, float],
    member_at: int | None,
    hand_at: int | None,
    where: str,
) -> dict[str, MemberRows]:
    found: dict[str, list[tuple[float, str, str]]] = {}
    at, seconds = time_at
    for line, row in rows:
        place = f"{where}:{line}"
        time = read_time("".join(row[at : at + 1]), where=place, seconds=seconds, furthest=_FURTHEST)
        member = TOGETHER if member_at is None else "".join(row[member_at : member_at + 1])
        if member_at is not None and not 0 < len(member) <= LONGEST_NAME:
            raise CoachError("member.unnamed", where=place, found=member[:40])
        hand = "" if hand_at is None else "".join(row[hand_at : hand_at + 1])
        found.setdefault(member, []).append((time, hand, place))
    return {
        member: MemberRows(
            tuple(time for time, *_ in mine), tuple(hand for _, hand, _ in mine), tuple(place for *_, place in mine)
        )
        for member, mine in found.items()
    }
