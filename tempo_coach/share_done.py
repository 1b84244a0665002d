"""Progress of long work: whoever does it tells the share that is done, from 0 to 1."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float], None]


def part_of(progress: Progress | None, start: float, end: float) -> Progress | None:
    """Return the progress of one part of the work, which goes from one share of the whole to another.

    Examples
    --------
    >>> part_of(print, 0.5, 1.0)(0.5)
    0.75
    """
    return None if progress is None else lambda done: progress(start + (end - start) * done)
