"""Today's lists of a group on one screen: a row each, and the whole list of the one who is chosen below."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.cells import cell_len, set_cell_size
from rich.text import Text
from textual.binding import Binding

from tempo_coach.coach.todays_practice import SessionPart
from tempo_coach.languages import tr, tr_n
from tempo_coach.report.words.todays_list import say_item, say_whose
from tempo_coach.ui.screen import HELP, LEAVE, CardScreen, Page
from tempo_coach.ui.text_rows import bar, fill

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.binding import BindingType

    from tempo_coach.coach.todays_practice import TodaysPractice

#: Columns of a name, of how much is done, and of where an item of the chosen one's list belongs.
_NAME, _DONE, _PART = 18, 9, 9
#: Columns of how an item is done.
_HOW, _MOST_HOW = 30, 36


class TodaysGroupScreen(CardScreen[str]):
    """Today's practice of each of a group; dismissed with the name of the one whose list is to be opened.

    Parameters
    ----------
    todays : sequence of TodaysPractice
        At least one.
    chosen : str
        Whose list is shown first, where she is among them.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "open", key_display="Enter"),
        Binding("up", "choose(-1)", "choose", key_display="↑"),
        Binding("down", "choose(1)", "choose", key_display="↓"),
        Binding("pageup", "scroll(-1)", "more", key_display="PgUp"),
        Binding("pagedown", "scroll(1)", "more", key_display="PgDn"),
        Binding("escape", "open", "back", show=False),
        HELP,
        LEAVE,
    ]
    help_name = "today's lists"

    def __init__(self, todays: Sequence[TodaysPractice], chosen: str = "") -> None:
        super().__init__()
        self._todays = todays
        names = [today.person.name for today in todays]
        self._chosen = names.index(chosen) if chosen in names else 0

    def draw_page(self, width: int, height: int) -> Page:
        """Return everybody's row, and the chosen one's list as far as there is room for it."""
        palette, chosen = self._palette, self._todays[self._chosen]
        number = tr_n("{number} person ", "{number} people ", len(self._todays))
        lines = [bar(tr(" Today   a group"), number, width, palette)]
        # everybody is seen, and of a list two items at least; where there is too little room, those about the chosen
        room = min(len(self._todays), max(height - 4, 1))
        top = min(max(self._chosen - room // 2, 0), len(self._todays) - room)
        lines += [self._row(k, width) for k in range(top, top + room)]
        whose = say_whose(chosen.person, chosen.record.minutes)
        lines.append(bar(f" {_cut(chosen.person.name, _NAME).rstrip()}  {whose}", _how_far(chosen), width, palette))
        items = self._list(chosen, width)
        left = max(height - len(lines), 0)
        first = max(0, min(self._first_row, len(items) - left))
        lines += items[first : first + left]
        return Page(fill(lines, width, height, palette), first, max(len(items) - first - left, 0))

    def _row(self, place: int, width: int) -> Text:
        """Return a row: name, progress, and the drills of the blocks in order."""
        palette, today = self._palette, self._todays[place]
        chosen, record = place == self._chosen, today.record
        row = Text(" ▸ " if chosen else "   ", palette.strong)
        row.append(_cut(today.person.name, _NAME), palette.bar if chosen else palette.text)
        row.append(f" {_done(today):>2}/{len(record.items):<{_DONE - 4}}", palette.faint)
        blocks = {item.drill: item.tempo_bpm for item in record.items if item.part is SessionPart.BLOCK}
        told = ", ".join(f"{tr(today.drills[drill].title)} {tempo:.0f}" for drill, tempo in blocks.items())
        return row.append(_cut(told, width - _NAME - _DONE - 4), palette.text)

    def _list(self, today: TodaysPractice, width: int) -> list[Text]:
        rows, part = [], ""
        items = zip(today.record.items, today.record.states, strict=True)
        said = [say_item(item, today.drills[item.drill].title, state) for item, state in items]
        parts = max(_PART, *(cell_len(told.part) + 1 for told in said))
        hows = min(max(_HOW, *(cell_len(told.short) for told in said)), _MOST_HOW)
        for told in said:
            row = Text(f"   {told.sign} ", self._palette.text)
            row.append(set_cell_size("" if told.part == part else told.part, parts), self._palette.faint)
            row.append(_cut(tr(told.title), width - parts - hows - 7), self._palette.text)
            rows.append(row.append(f" {_cut(told.short, hows)}", self._palette.faint))
            part = told.part
        return rows

    def action_choose(self, by: int) -> None:
        """Choose another of the group."""
        self._chosen = min(max(self._chosen + by, 0), len(self._todays) - 1)
        self._first_row = 0
        self.draw()

    def action_open(self) -> None:
        """Open the current person's list."""
        self.dismiss(self._todays[self._chosen].person.name)


def _how_far(today: TodaysPractice) -> str:
    """Return how much of her session is done."""
    return tr("{done} of {number} done ", done=_done(today), number=len(today.record.items))


def _done(today: TodaysPractice) -> int:
    """Return how many items of her session are done."""
    return sum(bool(state) for state in today.record.states)


def _cut(text: str, width: int) -> str:
    """Return a text of a number of columns, with a sign where it is cut."""
    return set_cell_size(text, width) if cell_len(text) <= width else f"{set_cell_size(text, width - 1)}…"
