"""The flights of a take in words, and as values for programs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.report.amounts import say_number

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.score.throws import Throw

_TOLD_MS = 10
"""Less than this is said to be on the count: nobody hears it (a displaced event from 6 ms at the fastest, Friberg &
Sundberg 1995, abstract)."""


def format_throws(throws: Sequence[Throw], *, say_where: Callable[[int], str] = say_number) -> str:
    """Return how many flights were in time, and what was wrong with each of the others.

    Parameters
    ----------
    throws : sequence of Throw
    say_where : callable
        Says where the cycle of a number lies.

    Examples
    --------
    >>> from tempo_coach.score.throws import Throw
    >>> short = Throw(1, "right", 3.0, 2.6, 0.08, -0.12, "short")
    >>> print(format_throws([Throw(0, "right", 3.0, 3.0, 0.0, 0.0, "in time"), short]))
    1 of 2 flights were in time.
      cycle 2, right: 2.60 counts instead of 3, too short: let go 80 ms late, caught 120 ms early
    """
    good = sum(throw.length == "in time" for throw in throws)
    lines = [f"{good} of {len(throws)} flights were in time."]
    wrong = [throw for throw in throws if throw.length != "in time"]
    lines += [f"  {say_where(throw.cycle)}, {throw.hand}: {say_throw(throw)}" for throw in wrong]
    return "\n".join(lines)


def say_throw(throw: Throw) -> str:
    """Return what a flight was."""
    if throw.length == "not seen":
        missing = [name for name, late in (("release", throw.release), ("catch", throw.catch)) if math.isnan(late)]
        return f"the {' and the '.join(missing)} {'was' if len(missing) == 1 else 'were'} not observed"
    ends = f"let go {_say_late(throw.release)}, caught {_say_late(throw.catch)}"
    if throw.length == "in time":
        return f"in time: {ends}"
    return f"{throw.done:.2f} counts instead of {throw.asked:g}, too {throw.length}: {ends}"


def throws_to_list(throws: Sequence[Throw], *, placed: bool = True) -> list[dict[str, object]]:
    """Return flights as plain values; counts and ms, None where something was not seen, or which cycle is not known."""
    return [
        {
            "cycle": throw.cycle if placed else None,
            "hand": throw.hand,
            "asked_counts": throw.asked,
            "counts": _plain(throw.done),
            "release_ms": _plain(1000 * throw.release),
            "catch_ms": _plain(1000 * throw.catch),
            "length": throw.length,
            "words": say_throw(throw),
        }
        for throw in throws
    ]


def _say_late(seconds: float) -> str:
    late = 1000 * seconds
    if abs(late) < _TOLD_MS:
        return "on the count"
    return f"{abs(late):.0f} ms {'late' if late > 0 else 'early'}"


def _plain(number: float) -> float | None:
    return None if math.isnan(number) else round(number, 4)
