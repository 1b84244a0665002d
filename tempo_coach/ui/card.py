"""A widget that shows rows of text and repaints only those that changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from tempo_coach.signs import CONTROLS, show_controls

if TYPE_CHECKING:
    from rich.text import Text


class Card(Widget):
    """Rows of text over the whole screen.

    Parameters
    ----------
    style : str
        What lies under the rows, in rich's words.
    """

    DEFAULT_CSS = "Card { width: 100%; height: 100%; }"

    def __init__(self, style: str = "") -> None:
        super().__init__()
        self._under = Style.parse(style) if style else Style()
        self._rows: list[Text] = []

    @property
    def rows(self) -> list[str]:
        """What stands there, as plain text."""
        return [row.plain for row in self._rows]

    def show(self, rows: list[Text]) -> None:
        """Put rows in the place of those that are there; what a terminal would obey is shown as a sign."""
        for row in rows:
            if CONTROLS.search(row.plain):
                row.plain = show_controls(row.plain)
        if len(rows) != len(self._rows):
            self._rows = rows
            self.refresh()
            return
        changed = [
            y for y, (new, old) in enumerate(zip(rows, self._rows, strict=True)) if new != old or _other(new, old)
        ]
        self._rows = rows
        if changed:
            self.refresh(*(Region(0, y, self.size.width, 1) for y in changed))

    def render_line(self, y: int) -> Strip:
        """Return one row of the screen."""
        width = self.size.width
        if y >= len(self._rows):
            return Strip.blank(width, self._under)
        row = self._rows[y]
        # rich leaves the style of a text without spans to whoever prints it
        under = self._under + (Style.parse(row.style) if isinstance(row.style, str) else row.style)
        segments = Segment.apply_style(row.render(self.app.console, end=""), under)
        return Strip(segments).adjust_cell_length(width, under)


def _other(new: Text, old: Text) -> bool:
    return new.style != old.style
