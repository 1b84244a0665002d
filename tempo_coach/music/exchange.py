"""Beats as text that other programs of music informatics read: seconds, tab, position in the bar."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tempo_coach.times import Floats, Ints


def beats_to_text(times: Floats, bar: Ints) -> str:
    """Return one line a beat: seconds with microseconds, a tab, and the position in the bar from 1.

    Parameters
    ----------
    times : array, shape (n,)
        Seconds.
    bar : array of int, shape (n,)
    """
    return "".join(f"{time:.6f}\t{place}\n" for time, place in zip(times, bar, strict=True))
