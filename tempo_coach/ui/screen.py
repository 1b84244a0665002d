"""The base of all screens of one card: keys, help, size, and the mouse, which does what the named keys do."""

from __future__ import annotations

import re
from time import monotonic, perf_counter
from typing import TYPE_CHECKING, ClassVar

from textual.screen import Screen, ScreenResultType

from tempo_coach.ui.card import Card
from tempo_coach.ui.floor import draw_too_small, fits
from tempo_coach.ui.palette import find_palette

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.text import Text
    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.events import Click, Key, MouseScrollDown, MouseScrollUp, Resize

LEAVE_KEYS = ("ctrl+q", "ctrl+c")
#: How far keys that scroll go.
STEPS = {"up": -1, "down": 1, "pageup": -10, "pagedown": 10}
#: Keys by the words or signs that a foot has for them; other words in a foot are no keys.
_KEYS = {
    **{f"F{number}": f"f{number}" for number in range(1, 13)},
    **{name: name.lower() for name in ("Enter", "Tab", "Escape", "Backspace", "Ctrl+Q")},
    "↑": "up",
    "↓": "down",
    "←": "left",
    "→": "right",
}
#: Whatever stands between two gaps of a foot.
_ITEM = re.compile(r"\S+(?: \S+)*")


class CardScreen(Screen[ScreenResultType]):
    """A screen that is one card: a head, rows, and a foot that names the keys.

    A click on a key in the foot presses that key; the wheel presses up and down.
    """

    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "app.quit", "Leave")]
    #: Which of :data:`tempo_coach.ui.help.HELPS` F1 opens; empty for none.
    help_name: str = ""

    def __init__(self) -> None:
        super().__init__()
        self._palette = find_palette()

    def compose(self) -> ComposeResult:
        """Make the one widget."""
        yield Card(self._palette.text)

    def on_mount(self) -> None:
        """Draw once there is a size."""
        self.styles.background = self._palette.card or "ansi_default"
        self.call_after_refresh(self.draw)

    def on_resize(self, _event: Resize) -> None:
        """Fit the new size."""
        self.draw()

    def on_key(self, event: Key) -> None:
        """Open the help, or do what the screen does with a key."""
        if event.key in LEAVE_KEYS:
            return
        event.stop()
        event.prevent_default()
        if event.key == "f1" and self.help_name:
            from tempo_coach.ui.help import show_help

            show_help(self.app, self.help_name)
        else:
            self.take_key(event)

    def on_click(self, event: Click) -> None:
        """Press the key that is named there, or do what the screen does with a click."""
        if not fits(*self.size):
            return
        rows = self.query_one(Card).rows
        if event.screen_y == len(rows) - 1:
            key = key_at(rows[-1], event.screen_x)
            if key:
                self.app.simulate_key(key)
        elif event.screen_y < len(rows):
            self.take_click(event.screen_x, event.screen_y)

    def on_mouse_scroll_up(self, _event: MouseScrollUp) -> None:
        """Go up a row."""
        self.take_wheel("up")

    def on_mouse_scroll_down(self, _event: MouseScrollDown) -> None:
        """Go down a row."""
        self.take_wheel("down")

    def draw(self) -> None:
        """Show the screen as it stands; where there is no room for that, only how much it needs."""
        cards = self.query(Card)
        if not cards:  # what was found meanwhile may come before the screen is there, or once it has gone
            return
        width, height = self.size
        rows = self.draw_rows(width, height) if fits(width, height) else draw_too_small(width, height, self._palette)
        cards.first().show(rows)

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return the rows of the screen as it stands."""
        raise NotImplementedError

    def take_key(self, event: Key) -> None:
        """Do what the screen does with a key, those that leave and help left out."""
        raise NotImplementedError

    def take_click(self, column: int, row: int) -> None:
        """Do what the screen does with a click above its foot: nothing, unless it says so."""

    def take_wheel(self, key: str) -> None:
        """Do what the screen does with the wheel: as the key up or down."""
        self.app.simulate_key(key)


def stamp_of(event: Key, clock: Callable[[], float] = perf_counter) -> float:
    """Return when a key was pressed, on ``perf_counter``: events are stamped on another clock where they are read.

    Parameters
    ----------
    event : Key
    clock : callable
        ``time.perf_counter`` but in tests, where the key is pressed now.
    """
    return event.time + (perf_counter() - monotonic()) if clock is perf_counter else clock()


def name_of(event: Key) -> str:
    """Return what a key is called: as it is printed on it, so that a hand's key can be named in a command."""
    printed = event.character
    return printed if printed and event.is_printable and not printed.isspace() else event.key


def key_at(foot: str, column: int) -> str:
    """Return the key that a foot names at a column, as the terminal calls it; empty where it names none.

    Examples
    --------
    >>> key_at(" Enter: start  ↑↓: line  Ctrl+Q: leave", 3)
    'enter'
    >>> key_at(" Enter: start  ↑↓: line  Ctrl+Q: leave", 16)
    'down'
    """
    item = next((found for found in _ITEM.finditer(foot) if found.start() <= column < found.end()), None)
    if item is None:
        return ""
    words = item.group().split(":")[0]
    arrows = re.fullmatch("[↑↓←→ ]+", words)
    if arrows:
        return _KEYS.get(words[min(column - item.start(), len(words) - 1)], "")
    return _KEYS.get(words.split(" ")[0], "")
