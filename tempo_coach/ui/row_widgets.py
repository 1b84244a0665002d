"""Widgets of all screens: drawn rows of which only those that changed are repainted, the foot, a line that is typed."""

from __future__ import annotations

import re
from itertools import groupby
from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Input

from tempo_coach.languages import tr
from tempo_coach.signs import CONTROLS, show_controls
from tempo_coach.ui.palette import find_palette

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from tempo_coach.ui.palette import Palette

    Draw = Callable[[int, int], list[Text]]

#: Columns between two keys of a foot.
_GAP = 2
#: Keys that have another name on keyboards of other languages.
KEY_WORDS = ("Enter", "Escape", "Backspace", "Space", "Tab", "Ctrl", "Home", "End", "PgUp", "PgDn")


class Card(Widget):
    """Rows of text, redrawn at every size.

    Parameters
    ----------
    draw : callable
        Returns the rows for a width and a height.
    id : str or None
        As widgets have it.
    """

    def __init__(self, draw: Draw, *, id: str | None = None) -> None:  # noqa: A002  Textual's name
        super().__init__(id=id)
        self.auto_links = False
        self.palette = find_palette()
        self._under = Style.parse(self.palette.text)
        self._draw = draw
        self._rows: list[Text] = []

    @property
    def rows(self) -> list[str]:
        """Its content as plain text."""
        return [row.plain for row in self._rows]

    def on_resize(self) -> None:
        """Fit the new size."""
        self.redraw()

    def redraw(self) -> None:
        """Redraw its present content."""
        if self.size:
            self.show(self._draw(*self.size))

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
        """Return one row of the card."""
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


class Fitted(Card):
    """A card that is as high as its rows."""

    def show(self, rows: list[Text]) -> None:
        """Put rows in the place of those that are there, and take the room that they need."""
        self.styles.height = len(rows)
        super().show(rows)


class Foot(Fitted):
    """The available keys, each of them clickable, and a note on the right.

    Parameters
    ----------
    note : callable
        Returns what stands at the right end.
    """

    def __init__(self, note: Callable[[], str]) -> None:
        super().__init__(self._draw_foot)
        self._note = note

    def _draw_foot(self, width: int, _height: int) -> list[Text]:
        active = {key: each.binding.action for key, each in self.screen.active_bindings.items()}
        bindings = [
            each
            for each in self.screen.BINDINGS
            if isinstance(each, Binding) and each.show and each.action in map(active.get, each.key.split(","))
        ]
        return draw_foot(bindings, self._note(), width=width, palette=self.palette)


def draw_foot(bindings: Iterable[Binding], note: str, *, width: int, palette: Palette) -> list[Text]:
    """Return the rows of a foot: as many as its keys need.

    Parameters
    ----------
    bindings : iterable of Binding
        Neighbours that are described alike stand together.
    note : str
        What stands at the right end, where there is room.
    """
    rows = [Text(" ", palette.bar)]
    for words, together in groupby(bindings, key=lambda binding: binding.description):
        item = Text()
        for shown, same in groupby(together, key=lambda binding: binding.key_display or binding.key):
            link = {"@click": f"app.simulate_key('{next(same).key.partition(',')[0]}')"}
            item.append(say_key(shown), Style(bold=True, meta=link))
        item.append(f" {tr(words)}", Style(meta=link))
        if 1 < rows[-1].cell_len >= width - item.cell_len:
            rows.append(Text(" ", palette.bar))
        rows[-1].append_text(item).append(" " * _GAP)
    for row in rows:
        row.truncate(width, pad=True)
    room = width - len(rows[-1].plain.rstrip()) - _GAP - 1
    if note and cell_len(note) <= room:
        rows[-1].right_crop(cell_len(note) + 1)
        rows[-1].append(f"{note} ")
    return rows


def say_key(shown: str) -> str:
    """Return a key by the name that stands on it in her language.

    Examples
    --------
    >>> say_key("Ctrl+Q"), say_key("x")
    ('Ctrl+Q', 'x')
    """
    return re.sub(r"\w{2,}", lambda name: tr(name[0]) if name[0] in KEY_WORDS else name[0], shown)


class Prompt(Horizontal):
    """A question with a line of text; hidden until something is asked."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  Textual's name
        self._asked = ""
        self._label = Card(lambda *_: [Text(f"  {self._asked}", self._label.palette.faint)])
        self._input = Input(select_on_focus=False)
        self._input.cursor_blink = False
        super().__init__(self._label, self._input, id=id)

    @property
    def value(self) -> str:
        """What is typed."""
        return self._input.value

    @value.setter
    def value(self, value: str) -> None:
        self._input.value = value
        self._input.cursor_position = len(value)

    def ask(self, asked: str, example: str = "", *, value: str = "", most: int = 0) -> None:
        """Ask for something, and let it be typed.

        Parameters
        ----------
        example : str
            Shown until something is typed.
        value : str
            What stands there in the first place: Enter takes it, and what is typed comes in its place.
        most : int
            Letters that may be typed; 0 for any number.
        """
        self._asked, self._input.placeholder, self._input.max_length = asked, example, most
        self._label.styles.width = len(asked) + 4
        self.add_class("-open")
        self._label.redraw()
        self.value = value
        self.screen.set_focus(self._input)
        self._input.action_select_all()

    def end(self) -> None:
        """Ask no longer."""
        self.remove_class("-open")
