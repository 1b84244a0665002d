"""A line that is typed behind what it is asked for."""

from __future__ import annotations

from rich.text import Text
from textual.containers import Horizontal
from textual.widgets import Input

from tempo_coach.ui.row_widgets import Card


class Prompt(Horizontal):
    """What is asked for, and what is typed; not to be seen until something is asked."""

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
        asked : str
        example : str
            Shown until something is typed.
        value : str
            What stands there in the first place.
        most : int
            Letters that may be typed; 0 for any number.
        """
        self._asked, self._input.placeholder, self._input.max_length = asked, example, most
        self._label.styles.width = len(asked) + 4
        self.add_class("-open")
        self._label.redraw()
        self.value = value
        self.screen.set_focus(self._input)

    def end(self) -> None:
        """Ask no longer."""
        self.remove_class("-open")
