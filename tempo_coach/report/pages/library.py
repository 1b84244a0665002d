"""The drills as one table in Markdown, generated so that no page has to be kept in step by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.pattern.drill.pattern import Hand, Pattern

_HEAD = ("drill", "apparatus", "cycle", "in each cycle", "beats a minute", "what it trains")


def library_table(drills: Iterable[Drill]) -> str:
    """Return a Markdown table of drills, one row each, in the order given.

    Examples
    --------
    >>> library_table([]).splitlines()[0]
    '| drill | apparatus | cycle | in each cycle | beats a minute | what it trains |'
    """
    rows = [_HEAD, ("---",) * len(_HEAD)]
    for drill in drills:
        slow, fast = drill.practice.tempi_bpm
        rows.append(
            (
                f"`{drill.name}`",
                drill.apparatus,
                tr("{cycle_counts:g} counts", cycle_counts=drill.pattern.cycle_counts),
                _tell_hands(drill.pattern),
                tr("{tempo_bpm:g} ({slow:g} to {fast:g})", tempo_bpm=drill.practice.tempo_bpm, slow=slow, fast=fast),
                tr(drill.trains),
            )
        )
    return "".join(f"| {' | '.join(map(_cell, row))} |\n" for row in rows)


def _cell(words: str) -> str:
    """Words of several lines go on one, or the row would end within them."""
    return " ".join(words.split()).replace("|", "\\|")


def _tell_hands(pattern: Pattern) -> str:
    told = [f"{hand.name}: {_tell_moments(hand)}" for hand in pattern.hands]
    return "; ".join(told)


def _tell_moments(hand: Hand) -> str:
    """Say how many moments of each kind, in the order in which the kinds come."""
    kinds = [moment.kind for moment in hand.moments]
    told = []
    for kind in dict.fromkeys(kinds):
        number = kinds.count(kind)
        ending = "" if number == 1 else "es" if kind.endswith(("s", "ch")) else "s"
        told.append(f"{number} {kind}{ending}")
    return ", ".join(told)
