"""``Onsets`` and ``Take``: what was observed in answer to a plan, all on the take clock."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError, nearest
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.observe.table_text import (
    HAND_WORDS,
    find_column,
    find_time,
    load_text,
    match_hand,
    read_number,
    read_rows,
)
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import MOST_MIB
from tempo_coach.times import Floats, ascending

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn

#: Seconds of the take clock, of either sign, beyond which nothing of a take can lie: eleven days.
FURTHEST = 1e6
#: Rows of the longest table of onsets.
MOST_ROWS = 2_000_000
#: Onsets of one hand that may have one and the same time: more are no onsets of anybody.
_MOST_ALIKE = 2


@dataclass(frozen=True, eq=False)
class Onsets:
    """Observed instants, in order of time: columns of equal length n.

    Parameters
    ----------
    time : array_like, shape (n,)
        Seconds on the take clock, ascending.
    hand : sequence of str, length n
        Which hand each belongs to.
    """

    time: Floats
    hand: tuple[str, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "time", ascending(self.time, name="onsets"))
        object.__setattr__(self, "hand", tuple(self.hand))
        if len(self.hand) != self.time.size:
            raise ValueError(f"onsets: expected {self.time.size} hands, got {len(self.hand)}")

    def __len__(self) -> int:
        return int(self.time.size)

    @classmethod
    def unsorted(cls, time: Sequence[float], hand: Sequence[str]) -> Onsets:
        """Return onsets sorted by time."""
        order = np.argsort(np.asarray(time, dtype=np.float64), kind="stable")
        return cls(np.asarray(time, dtype=np.float64)[order], tuple(hand[k] for k in order))

    def of_hand(self, hand: str) -> Floats:
        """Return the times of one hand, shape (m,)."""
        mine: Floats = self.time[[each == hand for each in self.hand]] if self.hand else self.time
        return mine


@dataclass(frozen=True, eq=False)
class Take:
    """One go: its plan and its onsets.

    Parameters
    ----------
    plan : Plan
    onsets : Onsets
    observed_by : str
        One of ``OBSERVERS``.
    noise_floor_ms : float or None
        SD that this way of observing adds by itself; None where nobody measured it.
    unmeasurable : tuple of (start, end)
        Stretches of the take clock in which something went wrong with the sound or the clock: never scored.
    calibrated : bool
        Whether the delays of keyboard and loudspeaker were measured and taken out of the onsets.
    """

    plan: Plan
    onsets: Onsets
    observed_by: ObservedBy = "file"
    noise_floor_ms: float | None = None
    unmeasurable: tuple[tuple[float, float], ...] = field(default=())
    calibrated: bool = False

    def __post_init__(self) -> None:
        unknown = set(self.onsets.hand) - set(self.plan.hands)
        if unknown:
            raise ValueError(f"onsets of hands that the plan does not have: {sorted(unknown)}")
        if self.observed_by not in OBSERVERS:
            raise ValueError(f"observed_by: expected one of {list(OBSERVERS)}, got {self.observed_by!r}")


def read_onsets(path: str | Path, *, hands: tuple[str, ...], warn: Warn | None = None) -> Onsets:
    """Return the onsets in a CSV file with the columns time and hand.

    Parameters
    ----------
    path : str or Path
        The columns may be called so in German, French, Spanish or Italian, and time may have a unit after it.
    hands : tuple of str
        The hands that the plan has. With one hand the column may be left out.
    warn : callable or None
        Told when the rows were not in order of time and were put in order.

    Raises
    ------
    CoachError
        If the file cannot be read, lacks a column, or a row holds no time or no known hand; the line is named.
    """
    where = str(path)
    text = load_text(path, what="onsets", most_mib=MOST_MIB["onsets"])
    header, line, rows = read_rows(text, where=where, what="onsets", most=MOST_ROWS)
    time_at, seconds, hand_at = _find_columns(header, hands, f"{where}:{line}")
    times, names = _read_rows(rows, time_at, seconds, hand_at, hands, where)
    if warn and any(b < a for a, b in pairwise(times)):
        warn(Reason(Why.TABLE_SORTED, (where,)))
    return Onsets.unsorted(times, names)


def read_time(cell: str, *, where: str, seconds: float = 1.0, furthest: float = FURTHEST) -> float:
    """Return the time in seconds in a cell of a table.

    Parameters
    ----------
    cell : str
    where : str
        Its place, for the error.
    seconds : float
        Seconds a unit of the column.
    furthest : float
        Seconds on either side of 0.

    Raises
    ------
    CoachError
        If it is no number, or further than ``furthest`` from 0.
    """
    time = read_number(cell) * seconds
    if not abs(time) <= furthest:
        raise CoachError("table.no_time_in_cell", where=where, found=cell[:40])
    return time


def _find_columns(header: list[str], hands: tuple[str, ...], where: str) -> tuple[int, float, int | None]:
    found = ", ".join(header).lower() if any(header) else "none"
    time = find_time(header)
    if time is None:
        raise CoachError("onsets.no_time", where=where, columns=found[:80])
    hand_at = find_column(header, HAND_WORDS)
    if hand_at is None and len(hands) > 1:
        raise CoachError("onsets.no_hand", where=where, columns=found[:80])
    return *time, hand_at


def _read_rows(
    rows: Iterable[tuple[int, list[str]]],
    time_at: int,
    seconds: float,
    hand_at: int | None,
    hands: tuple[str, ...],
    where: str,
) -> tuple[list[float], list[str]]:
    times: list[float] = []
    names: list[str] = []
    alike: Counter[tuple[float, str]] = Counter()
    for line, row in rows:
        place = f"{where}:{line}"
        time = read_time("".join(row[time_at : time_at + 1]), where=place, seconds=seconds)
        hand = hands[0] if hand_at is None else match_hand("".join(row[hand_at : hand_at + 1]), hands)
        if hand not in hands:
            guess = nearest(hand, list(hands))
            raise CoachError("onsets.hand", where=place, hands=hands, found=hand[:40], nearest=guess)
        alike[time, hand] += 1
        if alike[time, hand] > _MOST_ALIKE:
            raise CoachError("onsets.repeated", where=place, time_s=time, hand=hand)
        times.append(time)
        names.append(hand)
    return times, names
