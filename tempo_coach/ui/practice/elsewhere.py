"""Another place for takes whose own did not take them: typed on a screen, or asked for in a line."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text

from tempo_coach.coach.practising.form import Form, Line, changed, press
from tempo_coach.errors import CoachError
from tempo_coach.report.words.amounts import several
from tempo_coach.ui.floor import bar, fill
from tempo_coach.ui.form_rows import draw_lines
from tempo_coach.ui.screen import CardScreen

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.binding import BindingType
    from textual.events import Key, Paste

    from tempo_coach.coach.practising.conductor import Conductor

FOOT = " Enter: write    F1: help    Escape: back    Ctrl+Q: leave without"


class ElsewhereScreen(CardScreen[bool]):
    """A form for the place; dismissed once every take is written there or with Escape, with True to leave without.

    Parameters
    ----------
    conductor : Conductor
        Whose takes lie in memory alone.
    """

    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "leave", "Leave")]
    help_name = "another place"

    def __init__(self, conductor: Conductor) -> None:
        super().__init__()
        self._conductor = conductor
        self._sentence = ""
        self.form = Form((Line("place", "place", kind="text", usual="a folder, or the name of a file"),))

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return what there is to write, and the form."""
        takes = list(self._conductor.homeless.values())
        lines = [bar(" tempo_coach   another place", "", width, self._palette), Text()]
        told = f"{say_homeless(len(takes))} {takes[-1].trouble if takes else ''}"
        lines += [Text(f"  {row}", self._palette.text) for row in textwrap.wrap(told, width - 4)]
        lines += [Text(), *draw_lines(self.form, self._palette), Text()]
        for row in textwrap.wrap(self._sentence, width - 6):
            lines.append(Text("  ").append(f" {row} ", self._palette.warning))
        return fill(lines, FOOT, "", width, height, self._palette)

    def take_key(self, event: Key) -> None:
        """Type, write, or go back."""
        if event.key == "escape":
            self.dismiss(False)
        elif event.key == "enter":
            self._write()
        else:
            letter = event.character if event.is_printable else None
            self.form, self._sentence = changed(self.form, lambda form: press(form, event.key, letter))
            self.draw()

    def on_paste(self, event: Paste) -> None:
        """Take in what is pasted, as terminals do with a folder that is dropped on them."""
        event.stop()
        for letter in event.text.strip():
            if letter.isprintable():
                self.form = self.form.put(self.form.chosen.typed(letter))
        self.draw()

    def _write(self) -> None:
        try:
            write_to(self._conductor, self.form.value("place"))
        except CoachError as error:
            self._sentence = str(error)
            self.draw()
        else:
            self.dismiss(False)

    def action_leave(self) -> None:
        """Leave, and let go of what lies in memory alone."""
        self.dismiss(True)


def say_homeless(number: int) -> str:
    """Return how many takes lie in memory alone."""
    return f"{several(number, 'take')} in memory alone."


def write_to(conductor: Conductor, typed: str) -> None:
    """Write the takes of a practice that lie in memory alone where a person says.

    Raises
    ------
    CoachError
        If nothing was typed, or they cannot be written there.
    """
    name = typed.strip().strip("'\"").strip()
    if not name or "\0" in name:
        raise CoachError("expected a folder or the name of a file", where="place", hint="a stick, or another disk")
    conductor.write_elsewhere(Path(name).expanduser())


def ask_elsewhere(conductor: Conductor, ask: Callable[[str], str], say: Callable[[str], None]) -> None:
    """Ask in lines for another place, until the takes are written or nothing is answered.

    Parameters
    ----------
    conductor : Conductor
    ask : callable
        Prints a question and returns the answer.
    say : callable
        Prints one line.
    """
    while conductor.homeless:
        say(say_homeless(len(conductor.homeless)))
        try:
            answer = ask("Another folder or file to write to; Enter alone lets it go: ")
        except EOFError:
            return
        if not answer.strip():
            return
        try:
            write_to(conductor, answer)
        except CoachError as error:
            say(str(error))
        else:
            say("Written.")
