"""Help on every screen: what it is for, its keys, and an example, in plain words."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from rich.text import Text

from tempo_coach.ui.floor import bar, fill
from tempo_coach.ui.help_texts import HELPS, Help
from tempo_coach.ui.screen import STEPS, CardScreen

if TYPE_CHECKING:
    from textual.app import App
    from textual.events import Key

    from tempo_coach.ui.palette import Palette

#: Part of a foot, where there is something to scroll.
SCROLL = "    ↑↓: more"
FOOT = f" F1 or Escape: back{SCROLL}    Ctrl+Q: leave"
_KEYS_WIDE = 16


class HelpScreen(CardScreen[None]):
    """The help of one screen; it goes back to that.

    Parameters
    ----------
    told : Help
    """

    def __init__(self, told: Help) -> None:
        super().__init__()
        self._told = told
        self._first_row = 0

    def take_key(self, event: Key) -> None:
        """Scroll, or go back."""
        if event.key in ("f1", "escape", "enter"):
            self.dismiss()
            return
        width, height = self.size
        last = max(0, len(help_rows(self._told, width=width, palette=self._palette)) - (height - 2))
        self._first_row = min(max(0, self._first_row + STEPS.get(event.key, 0)), last)
        self.draw()

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return it from the first row on."""
        return draw_help(self._told, first_row=self._first_row, width=width, height=height, palette=self._palette)


def show_help(app: App[object], screen: str) -> None:
    """Open the help of a screen over it.

    Parameters
    ----------
    app : App
    screen : str
        One of :data:`tempo_coach.ui.help_texts.HELPS`.
    """
    app.push_screen(HelpScreen(HELPS[screen]))


def draw_help(told: Help, *, first_row: int, width: int, height: int, palette: Palette) -> list[Text]:
    """Return the rows of a whole screen of help."""
    rows = help_rows(told, width=width, palette=palette)
    more = len(rows) - first_row - (height - 2)
    foot_right = f"{more} more ↓ " if more > 0 else ""
    lines = [bar(f" Help: {told.title}", "", width, palette), *rows[first_row:]]
    foot = FOOT if len(rows) > height - 2 else FOOT.replace(SCROLL, "")
    return fill(lines, foot, foot_right, width, height, palette)


def help_rows(told: Help, *, width: int, palette: Palette) -> list[Text]:
    """Return everything that a screen's help says."""
    room = width - 6
    rows = [Text()]
    for paragraph in told.paragraphs:
        rows += [Text(f"  {row}", palette.text) for row in textwrap.wrap(paragraph, room)]
        rows.append(Text())
    for keys, does in told.keys:
        wrapped = textwrap.wrap(does, room - _KEYS_WIDE)
        for k, row in enumerate(wrapped):
            line = Text("  ", palette.text).append(f"{'' if k else keys:<{_KEYS_WIDE}}", palette.strong)
            rows.append(line.append(row, palette.text))
    rows.append(Text())
    for k, row in enumerate(textwrap.wrap(" ".join(told.example.split()), room - 9)):
        rows.append(Text(f"  {'' if k else 'Example':<9}", palette.strong).append(row, palette.text))
    return rows
