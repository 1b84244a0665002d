"""``Passage``: the part of a count map for one take, and its map to the take clock."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.drill.pattern import SAME_PLACE
from tempo_coach.pattern.plan.plan import Eight, MusicSegment

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.times import Floats


@dataclass(frozen=True, eq=False)
class Passage:
    """Counts from a first one to an end, with a lead-in before them, at a speed.

    Parameters
    ----------
    counts : CountMap
    first, end : float
        Positions at which the lead-in is over and at which the passage is.
    lead_in_counts : int
    speed : float
        Share of the music's own.
    """

    counts: CountMap
    first: float
    end: float
    lead_in_counts: int
    speed: float = 1.0

    @property
    def piece(self) -> MusicSegment:
        """The music that plays, from the first count of the lead-in on."""
        start = float(self.counts.seconds_at(self.first - self.lead_in_counts, after=True))
        return MusicSegment(0.0, start, self.speed)

    @property
    def eights(self) -> tuple[Eight, ...]:
        """The eights that it touches, at least one."""
        return eights_between(self.counts, self.first, self.end)

    @property
    def duration(self) -> float:
        """Seconds on the take clock at which it ends."""
        return float(self.on_take_clock([self.end], after=False)[0])

    def on_take_clock(self, positions: ArrayLike, *, after: bool = True) -> Floats:
        """Return the take-clock seconds of positions in counts; at a pause, its end or its beginning.

        Parameters
        ----------
        positions : array_like, shape (n,)
            0 is the first count 1.
        after : bool
            In a pause, whether the time after it is meant.

        Returns
        -------
        numpy.ndarray, shape (n,)
        """
        music: Floats = self.counts.seconds_at(positions, after=after)
        return (music - self.piece.music_start) / self.speed

    def knots(self) -> tuple[Floats, Floats]:
        """Return seconds on the take clock and positions in counts between which both advance evenly.

        Returns
        -------
        times, positions : numpy.ndarray, shape (n,)
            Ascending; a pause stands between two knots of one position.
        """
        low, high = math.floor(self.first - self.lead_in_counts), math.ceil(self.end)
        whole = np.arange(low, high + 1, dtype=np.float64)
        times = np.column_stack([self.on_take_clock(whole, after=False), self.on_take_clock(whole)]).ravel()[1:]
        return np.maximum(times, 0.0), np.repeat(whole, 2)[1:]


def eights_between(counts: CountMap, first: float, end: float) -> tuple[Eight, ...]:
    """Return the eights between two positions, including the one around the first.

    Parameters
    ----------
    counts : CountMap
    first, end : float
        In counts, 0 being the first count 1.
    """
    number = counts.place(first).eight
    found: list[Eight] = []
    start = float(counts.start_of_eight(number))
    while start < end - SAME_PLACE or not found:
        behind = float(counts.start_of_eight(number + 1))
        found.append(Eight(number, start, int(behind - start)))
        number, start = number + 1, behind
    return tuple(found)
