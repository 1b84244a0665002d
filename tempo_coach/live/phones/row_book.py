"""Numbered rows of one phone: accepted in order, once each, acknowledged by the next expected number."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    Row = Sequence[float]


class RowBook:
    """The rows of a phone as far as they have arrived without a gap.

    A phone numbers its rows from 0 and keeps each until it is acknowledged. What comes twice is dropped; what comes
    with rows missing before it is not taken: the phone is told the number from which it has to send again.

    Attributes
    ----------
    next : int
        The number of the next row; all before it are here.
    doubles, lost : int
        How many came again, and how many the phone had lost before they came.

    Examples
    --------
    >>> book = RowBook()
    >>> book.take(0, [[0.0], [1.0]])
    [[0.0], [1.0]]
    >>> book.take(1, [[1.0], [2.0]]), book.take(9, [[9.0]]), book.next
    ([[2.0]], None, 3)
    """

    def __init__(self) -> None:
        self.next = 0
        self.doubles = self.lost = 0

    def take(self, first: int, rows: Sequence[Row], *, held: int = 0) -> list[Row] | None:
        """Accept numbered rows, given the number of the first one that the phone still has.

        Returns
        -------
        list of Row or None
            Those that are new; None where some before them are missing.
        """
        if held > self.next:
            self.lost += held - self.next
            self.next = held
        if first > self.next and rows:
            return None
        known = min(self.next - first, len(rows)) if rows else 0
        self.doubles += known
        new = list(rows[known:])
        self.next += len(new)
        return new
