"""The ribbon's boomerangs of a take in words, and as values for programs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.report.amounts import say_number

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.score.boomerang import Boomerang


def format_boomerangs(judged: Sequence[Boomerang], *, say_where: Callable[[int], str] = say_number) -> str:
    """Return how many pulls came in time, and what a coach says to each of the others.

    Parameters
    ----------
    judged : sequence of Boomerang
    say_where : callable
        Says where the cycle of a number lies.

    Examples
    --------
    >>> from tempo_coach.score.boomerang import Boomerang
    >>> print(format_boomerangs([Boomerang(0, "in time", 0.5, 0.0), Boomerang(1, "too early", -0.2, -0.7)]))
    The pull came while the stick was on the floor in 1 of 2.
      cycle 2: the pull came before the stick was down: wait for the floor, then pull (0.2 counts before the floor)
    """
    good = sum(each.pull == "in time" for each in judged)
    lines = [f"The pull came while the stick was on the floor in {good} of {len(judged)}."]
    lines += [
        f"  {say_where(each.cycle)}: {each.sentence}{_say_lie(each.lie)}" for each in judged if each.pull != "in time"
    ]
    return "\n".join(lines)


def boomerangs_to_list(judged: Sequence[Boomerang], *, placed: bool = True) -> list[dict[str, object]]:
    """Return them as plain values; counts, None where something was not seen, or which cycle is not known."""
    return [
        {
            "cycle": each.cycle if placed else None,
            "pull": each.pull,
            "lie_counts": _plain(each.lie),
            "off_counts": _plain(each.off),
            "words": each.sentence,
        }
        for each in judged
    ]


def _say_lie(lie: float) -> str:
    if math.isnan(lie):
        return ""
    return f" ({abs(lie):.1f} counts {'after' if lie > 0 else 'before'} the floor)"


def _plain(number: float) -> float | None:
    return None if math.isnan(number) else round(number, 4)
