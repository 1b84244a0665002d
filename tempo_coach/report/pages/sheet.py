"""The count sheet as one HTML page without anything from elsewhere, made to be printed on A4."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tempo_coach.languages import tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.pages.page import render
from tempo_coach.report.words.amounts import say_clock
from tempo_coach.report.words.sheet import SIGNS, moments_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.report.words.sheet import HandRow, Sheet, SheetRow

#: Counts across the page: an eight of more begins a second line.
ACROSS = 8
_CHANGE = {"slower": "{tempo:.0f} ↓ slower", "faster": "{tempo:.0f} ↑ faster", "": "{tempo:.0f}"}


def sheet_page(sheet: Sheet, *, head: Sequence[tuple[str, str]] = ()) -> str:
    """Return the sheet as an HTML page.

    Parameters
    ----------
    sheet : Sheet
    head : sequence of (name, value)
        What stands above it, with room to write where a value is empty.
    """
    rows = [
        {
            "number": row.number,
            "clock": say_clock(row.start),
            "tempo": tr(_CHANGE[row.change], tempo=row.tempo_bpm),
            "lines": [_line(row, begin) for begin in range(0, len(row.lengths), ACROSS)],
            "said": _said(row),
            "remarks": (*row.music, *row.remarks),
        }
        for row in sheet.rows
    ]
    drills = [(tr(drill.title), moments_of(drill)) for drill in sheet.drills]
    return render(
        "sheet.html", title=sheet.title, about=sheet.about, notes=sheet.notes, rows=rows, drills=drills, head=head
    )


def _line(row: SheetRow, begin: int) -> dict[str, Any]:
    """Return counts from ``begin`` on, one a column, and below what is done on them, positioned in per cent."""
    end = min(begin + ACROSS, len(row.lengths))
    waits = [(at, seconds) for at, seconds in row.pauses if begin < at <= end or at == begin == 0]
    return {
        "counts": range(begin, end),
        "steps": [
            (_share(max(first, begin) - begin), _share(min(last, end) - max(first, begin)))
            for first, last, _ in row.steps
            if first < end and last > begin
        ],
        "hands": [_hand(hand, begin, end) for hand in row.hands],
        "waits": [
            (_share(min(at, end - 0.9) - begin), tr("pause {seconds:.1f} s after {at:g}", seconds=seconds, at=at))
            for at, seconds in waits
        ],
    }


def _hand(hand: HandRow, begin: int, end: int) -> dict[str, Any]:
    marks = [(_share(mark.at - begin), mark.label) for mark in hand.marks if begin <= mark.at < end]
    return {"sign": SIGNS[min(hand.order, 2)], "name": hand.hand, "marks": marks}


def _share(counts: float) -> str:
    return f"{counts / ACROSS * 100:.2f}%"


def _said(row: SheetRow) -> list[tuple[str, str]]:
    """Return the entries of an eight: on which count, and what."""
    told = [(at, say_count(at), text) for at, text in row.events]
    told += [(at, say_count(at), tr("first movement")) for at in [row.first] if at is not None]
    told += [(at, say_count(at), tr("last movement")) for at in [row.last] if at is not None]
    told += [(at, say_count(at), tr("dance steps")) for at, _, begins in row.steps if begins]
    titles = dict.fromkeys((hand.drill, hand.at) for hand in row.hands if hand.begins)
    told += [(at, say_count(at), title) for title, at in titles]
    return [(count, text) for _, count, text in sorted(told)]
