"""The map of a routine's music over the sheet of its counts: rows that scroll, and back."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.text import Text

from tempo_coach.languages import tr
from tempo_coach.ui.screen import BACK, HELP, LEAVE, CardScreen, Page, scroll_keys
from tempo_coach.ui.text_rows import bar, fill

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.binding import BindingType


class MapScreen(CardScreen[None]):
    """The map, an eight a row.

    Parameters
    ----------
    title : str
        Of the routine.
    lines : sequence of str
        The map in words, its heads first.
    """

    BINDINGS: ClassVar[list[BindingType]] = [*BACK, *scroll_keys("eights"), HELP, LEAVE]
    help_name = "map"

    def __init__(self, title: str, lines: Sequence[str]) -> None:
        super().__init__()
        self._title = title
        self._lines = lines

    def draw_page(self, width: int, height: int) -> Page:
        """Return the rows from the first one that is shown."""
        head, *rows = self._lines
        room = max(height - 2, 1)
        first = max(0, min(self._first_row, len(rows) - room))
        shown = [Text(row, self._palette.text) for row in rows[first : first + room]]
        top = [
            bar(tr(" {title}   map of the music", title=self._title), "", width, self._palette),
            Text(head, self._palette.faint),
        ]
        return Page(fill([*top, *shown], width, height, self._palette), first, max(len(rows) - first - room, 0))
