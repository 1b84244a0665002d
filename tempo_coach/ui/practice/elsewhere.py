"""Another place for takes whose own did not take them: typed on a screen, or asked for in a line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding

from tempo_coach.coach.notices import tell
from tempo_coach.coach.practising.form import Form
from tempo_coach.coach.practising.form_line import Line
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.errors import say_error
from tempo_coach.signs import wrap
from tempo_coach.ui.form import FormScreen
from tempo_coach.ui.screen import HELP, Page
from tempo_coach.ui.text_rows import bar, fill, warn

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.binding import BindingType

    from tempo_coach.coach.practising.conductor import Conductor


class ElsewhereScreen(FormScreen[bool]):
    """A form for the place; dismissed once every take is written there or with Escape, with True to leave without.

    Parameters
    ----------
    conductor : Conductor
        Whose takes lie in memory alone.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "write", "write", key_display="Enter", priority=True),
        HELP,
        Binding("escape", "back", "back", key_display="Escape"),
        Binding("ctrl+q,ctrl+c", "leave", "leave without", key_display="Ctrl+Q", priority=True),
    ]
    help_name = "another place"

    def __init__(self, conductor: Conductor) -> None:
        super().__init__(Form((Line("place", "place", kind="text", default="a folder, or the name of a file"),)))
        self._conductor = conductor

    def draw_head(self, width: int) -> Text:
        """Return the title."""
        return bar(f" tempo_coach   {tr('another place')}", "", width, self._palette)

    def draw_page(self, width: int, height: int) -> Page:
        """Return what is to be written, and why that failed."""
        takes = list(self._conductor.takes.homeless.values())
        told = f"{say_homeless(len(takes))} {tell(*takes[-1].told) if takes else ''}"
        lines = [Text(), *(Text(f"  {row}", self._palette.text) for row in wrap(told, width - 4)), Text()]
        lines += warn(self.sentence, width, self._palette)
        return Page(fill(lines, width, height, self._palette))

    def action_write(self) -> None:
        """Write the takes there, and go back."""
        try:
            write_to(self._conductor, self.form.value("place"))
        except CoachError as error:
            self.sentence = say_error(error)
            self.draw()
        else:
            self.dismiss(False)

    def action_back(self) -> None:
        """Go back to the card."""
        self.dismiss(False)

    def action_leave(self) -> None:
        """Leave, and lose what exists only in memory."""
        self.dismiss(True)


def say_homeless(number: int) -> str:
    """Return how many takes exist only in memory."""
    return tr("{takes} in memory alone.", takes=several(number, "take"))


def write_to(conductor: Conductor, typed: str) -> None:
    """Write the takes that exist only in memory to a given place.

    Raises
    ------
    CoachError
        If nothing was typed, or they cannot be written there.
    """
    name = typed.strip().strip("'\"").strip()
    if not name or "\0" in name:
        raise CoachError("place.unreadable", where="place")
    conductor.takes.write_elsewhere(Path(name).expanduser())


def ask_elsewhere(conductor: Conductor, ask: Callable[[str], str], say: Callable[[str], None]) -> None:
    """Ask in lines for another place, until the takes are written or nothing is answered.

    Parameters
    ----------
    ask : callable
        Prints a question and returns the answer.
    say : callable
        Prints one line.
    """
    while conductor.takes.homeless:
        say(say_homeless(len(conductor.takes.homeless)))
        try:
            answer = ask(tr("Another folder or file to write to; Enter alone lets it go: "))
        except EOFError:
            return
        if not answer.strip():
            return
        try:
            write_to(conductor, answer)
        except CoachError as error:
            say(say_error(error))
        else:
            say("Written.")
