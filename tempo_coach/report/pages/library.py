"""The drills as one table in Markdown, generated so that no page has to be kept in step by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr, tr_n
from tempo_coach.signs import columns, pad, wrap

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.pattern.drill.pattern import Hand, Pattern

#: Kinds of moments by their number.
KINDS: dict[str, Callable[[int], str]] = {
    "circle": lambda number: tr_n("{number} circle", "{number} circles", number),
    "contact": lambda number: tr_n("{number} contact", "{number} contacts", number),
    "release": lambda number: tr_n("{number} release", "{number} releases", number),
    "catch": lambda number: tr_n("{number} catch", "{number} catches", number),
    "moment": lambda number: tr_n("{number} moment", "{number} moments", number),
    "wave": lambda number: tr_n("{number} wave", "{number} waves", number),
    "turn": lambda number: tr_n("{number} turn", "{number} turns", number),
    "roll": lambda number: tr_n("{number} roll", "{number} rolls", number),
    "pull": lambda number: tr_n("{number} pull", "{number} pulls", number),
}
_HEAD = ("drill", "apparatus", "cycle", "in each cycle", "beats a minute", "what it trains")

#: Columns of the list of drills.
_WIDTH = 80


def library_table(drills: Iterable[Drill]) -> str:
    """Return a Markdown table of drills, one row each, in the order given.

    Examples
    --------
    >>> library_table([]).splitlines()[0]
    '| drill | apparatus | cycle | in each cycle | beats a minute | what it trains |'
    """
    rows = [tuple(map(tr, _HEAD)), ("---",) * len(_HEAD)]
    for drill in drills:
        slow, fast = drill.practice.tempi_bpm
        rows.append(
            (
                f"`{drill.name}`",
                tr(drill.apparatus),
                tr("{cycle_counts:g} counts", cycle_counts=drill.pattern.cycle_counts),
                _tell_hands(drill.pattern),
                tr("{tempo_bpm:g} ({slow:g} to {fast:g})", tempo_bpm=drill.practice.tempo_bpm, slow=slow, fast=fast),
                tr(drill.trains),
            )
        )
    return "".join(f"| {' | '.join(map(_cell, row))} |\n" for row in rows)


def _cell(words: str) -> str:
    """Return text as one line, since a line break would end its row."""
    return " ".join(words.split()).replace("|", "\\|")


def _tell_hands(pattern: Pattern) -> str:
    told = [tr("{name}: {said}", name=tr(hand.name), said=_tell_moments(hand)) for hand in pattern.hands]
    return "; ".join(told)


def _tell_moments(hand: Hand) -> str:
    """Return the number of moments of each kind, in order of appearance."""
    kinds = [moment.kind for moment in hand.moments]
    told = []
    for kind in dict.fromkeys(kinds):
        number = kinds.count(kind)
        ending = "" if number == 1 else "es" if kind.endswith(("s", "ch")) else "s"  # of one that a drill made up
        told.append(KINDS[kind](number) if kind in KINDS else f"{number} {kind}{ending}")
    return ", ".join(told)


def format_drills(drills: Sequence[Drill]) -> str:
    """Return the drills as text, a line each: name, apparatus, counts, title."""
    width = max(len(drill.name) for drill in drills)
    apparatus = max(columns(tr(drill.apparatus)) for drill in drills)
    lines = []
    for drill in drills:
        counts = tr("{counts:>3g} counts", counts=drill.pattern.cycle_counts)
        head = f"{drill.name:<{width}}  {pad(tr(drill.apparatus), apparatus)} {counts}  "
        first, *more = wrap(tr(drill.title), _WIDTH - columns(head))
        lines += [head + first, *(" " * columns(head) + each for each in more)]
    return "\n".join(lines)
