"""One hand's moments as a table: a row for each cycle, a column for each moment of the cycle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.pattern.plan import Moments
    from tempo_coach.times import Floats, Ints


@dataclass(frozen=True, eq=False)
class Grid:
    """Positions of one hand's moments among all moments of the plan, by cycle and place in the cycle.

    Parameters
    ----------
    hand : str
    cycles : array of int, shape (c,)
        Numbers of its cycles, ascending.
    at : array of int, shape (c, k)
        Positions; -1 where a cycle has fewer moments than others. Column 0 holds the anchors.
    """

    hand: str
    cycles: Ints
    at: Ints

    def fill(self, values: Floats) -> Floats:
        """Return a column of the plan's moments as a table, NaN where there is no moment."""
        table: Floats = np.where(self.at >= 0, values[np.maximum(self.at, 0)], np.nan)
        return table

    @property
    def in_order(self) -> Ints:
        """Positions of this hand's moments in order of cycle and place."""
        flat = self.at.ravel()
        return flat[flat >= 0]


def lay_grid(moments: Moments, hand: str) -> Grid:
    """Return the table of one hand."""
    mine = moments.of_hand(hand)
    order = mine[np.lexsort((moments.time[mine], moments.cycle[mine]))]
    cycles, first, number = np.unique(moments.cycle[order], return_index=True, return_counts=True)
    at = np.full((len(cycles), int(number.max(initial=0))), -1, dtype=np.int64)
    row = np.repeat(np.arange(len(cycles)), number)
    at[row, np.arange(len(order)) - np.repeat(first, number)] = order
    return Grid(hand, cycles, at)
