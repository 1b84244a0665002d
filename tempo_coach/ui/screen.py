"""The base of all screens: what is drawn, keys as bindings, a foot that names them, and help."""

from __future__ import annotations

from time import monotonic, perf_counter
from typing import TYPE_CHECKING, NamedTuple

from textual.binding import Binding
from textual.screen import Screen, ScreenResultType

from tempo_coach.languages import tr
from tempo_coach.ui.palette import find_palette
from tempo_coach.ui.row_widgets import Card, Foot
from tempo_coach.ui.text_rows import HIGH, LEAST_HEIGHT, LEAST_WIDTH, draw_too_small, fits

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.text import Text
    from textual.app import ComposeResult
    from textual.events import Key, Resize

HELP = Binding("f1", "help", "help", key_display="F1", priority=True)
LEAVE = Binding("ctrl+q,ctrl+c", "leave", "leave", key_display="Ctrl+Q", priority=True)
#: Keys that go back, one of them named.
BACK = (Binding("enter", "back", "back", key_display="Enter"), Binding("escape", "back", "back", show=False))


def scroll_keys(words: str) -> tuple[Binding, ...]:
    """Return the keys that scroll, and their name in the foot."""
    return (
        Binding("up", "scroll(-1)", words, key_display="↑"),
        Binding("down", "scroll(1)", words, key_display="↓"),
        Binding("pageup", "scroll(-10)", words, show=False),
        Binding("pagedown", "scroll(10)", words, show=False),
    )


class Page(NamedTuple):
    """Rows of which some may be scrolled away: the first visible one, and the number of those below."""

    rows: list[Text]
    first: int = 0
    more: int = 0


class CardScreen(Screen[ScreenResultType], inherit_bindings=False):
    """A screen of rows over a foot that names its keys, in the order of its bindings."""

    #: Which of :data:`tempo_coach.ui.help.HELPS` F1 opens; empty for none.
    help_name: str = ""

    def __init__(self) -> None:
        super().__init__()
        self._palette = find_palette()
        self._first_row = 0
        self._page = Page([])
        self._high = self._cramped = False

    def compose(self) -> ComposeResult:
        """Make the widgets."""
        yield Card(self._draw_main, id="main")
        yield Foot(lambda: self.note)

    def on_resize(self, _event: Resize) -> None:
        """Tell styles how much room there is; with too little, a single sentence is shown."""
        self.set_class(not fits(*self.size), "-small")
        self._high = self.size.height >= HIGH
        self._cramped = self.size.width < LEAST_WIDTH or self.size.height < LEAST_HEIGHT
        self.set_class(self._high, "-high")

    def on_descendant_focus(self) -> None:
        """Name the keys of what has the focus now."""
        self.draw()

    def draw(self) -> None:
        """Redraw the screen; does nothing before it is shown or after it has been closed."""
        for card in self.query(Card):
            card.redraw()

    def _draw_main(self, width: int, height: int) -> list[Text]:
        if not fits(*self.size):
            return draw_too_small(width, height, self._palette)
        self._page = self.draw_page(width, height)
        self._first_row = self._page.first
        return self._page.rows

    def draw_page(self, width: int, height: int) -> Page:
        """Return the rows of the screen as it stands, its foot left out."""
        raise NotImplementedError

    @property
    def note(self) -> str:
        """Text on the right of the foot."""
        return tr("{more} more ↓", more=self._page.more) if self._page.more else ""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available, and its key named."""
        del parameters
        if action == "scroll":
            return bool(self._page.first or self._page.more)
        return bool(self.help_name) if action == "help" else True

    def action_scroll(self, by: int) -> None:
        """Scroll."""
        self._first_row = max(0, self._first_row + by)
        self.draw()

    def action_help(self) -> None:
        """Open the help."""
        from tempo_coach.ui.help import HELPS, HelpScreen

        self.app.push_screen(HelpScreen(HELPS[self.help_name]))

    def action_back(self) -> None:
        """Go back to the screen below."""
        self.dismiss()

    def action_leave(self) -> None:
        """Leave the program."""
        self.app.exit(0)

    def on_mouse_scroll_up(self) -> None:
        """Turn the wheel up: as the up key."""
        self.take_wheel("up")

    def on_mouse_scroll_down(self) -> None:
        """Turn the wheel down: as the down key."""
        self.take_wheel("down")

    def take_wheel(self, key: str) -> None:
        """Do what the screen does with the wheel: as the key up or down, which would not come back to its sender."""
        self.app.call_later(self.app.simulate_key, key)


def stamp_of(event: Key, clock: Callable[[], float] = perf_counter) -> float:
    """Return when a key was pressed, on ``perf_counter``, from an event stamped on another clock.

    Parameters
    ----------
    clock : callable
        ``time.perf_counter`` but in tests, where the key is pressed now.
    """
    return event.time + (perf_counter() - monotonic()) if clock is perf_counter else clock()


def name_of(event: Key) -> str:
    """Return the name of a key as printed on it, so that a command can name a hand's key."""
    printed = event.character
    return printed if printed and event.is_printable and not printed.isspace() else event.key
