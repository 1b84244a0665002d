"""Cards of the eights of a routine as HTML, a page each, to print and to hold up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.languages import tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.pages.page import render
from tempo_coach.report.words.amounts import say_clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.music.counts.count_map import Position


@dataclass(frozen=True)
class EightCard:
    """The content of the card of one eight.

    Parameters
    ----------
    number, length : int
        Of the eight; its counts.
    start : float
        Seconds of the music.
    goes_on : tuple of str
        What began in an eight before and is not over.
    begins : tuple of (float, str)
        What begins here: the count, from 1, and its name.
    pauses : tuple of (float, float)
        Pauses: the count behind which the music waits, and its seconds.
    next : str
        What begins next after this eight; empty where nothing does.
    next_at : Position or None
        Where that is.
    remark : str
    """

    number: int
    length: int
    start: float
    goes_on: tuple[str, ...] = ()
    begins: tuple[tuple[float, str], ...] = ()
    pauses: tuple[tuple[float, float], ...] = ()
    next: str = ""
    next_at: Position | None = None
    remark: str = ""


class _Count(NamedTuple):
    number: int
    lines: list[str]


def cards_page(cards: Sequence[EightCard], *, title: str) -> str:
    """Return the cards as an HTML page that prints one a sheet.

    Parameters
    ----------
    cards : sequence of EightCard
    title : str
        Of the routine.
    """
    rows = [
        {
            "number": card.number,
            "clock": say_clock(card.start),
            "across": max(card.length, 1),
            "counts": [_Count(k, _said_on(card, k)) for k in range(1, card.length + 1)],
            "goes_on": card.goes_on,
            "next": _next(card),
            "remark": card.remark,
        }
        for card in cards
    ]
    return render("cards.html", title=title, cards=rows)


def _said_on(card: EightCard, count: int) -> list[str]:
    """Return the text under a count: what begins on it or before the next one, then a pause after it."""
    begins = [
        name if at == count else tr("{name}: {said}", name=say_count(at - 1), said=name)
        for at, name in card.begins
        if count <= at < count + 1
    ]
    return begins + [
        tr("then wait {seconds:.1f} s", seconds=seconds) for at, seconds in card.pauses if int(at) == count
    ]


def _next(card: EightCard) -> str:
    if card.next_at is None:
        return ""
    return tr(
        "{what}, eight {eight} on {count}",
        what=tr(card.next),
        eight=card.next_at.eight,
        count=say_count(card.next_at.count - 1),
    )
