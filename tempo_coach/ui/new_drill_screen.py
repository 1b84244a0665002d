"""The screen for a new drill: what is typed is drawn at once, and what is wrong is said at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.ui.card import Card
from tempo_coach.ui.form import changed, press
from tempo_coach.ui.form_rows import click_line
from tempo_coach.ui.new_drill import FORM_ROW, draw_new_drill, make_new_form, save_drill, try_drill
from tempo_coach.ui.screen import CardScreen

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rich.text import Text
    from textual.events import Key

    from tempo_coach.ui.form import Form


class NewDrillScreen(CardScreen["Path | None"]):
    """A form for a new drill; dismissed with its file, or None where none was saved.

    Parameters
    ----------
    folder : Path
        Where drills are kept whose name is no path.
    form : Form or None
        As it was left the last time.
    """

    help_name = "new drill"

    def __init__(self, folder: Path, form: Form | None = None) -> None:
        super().__init__()
        self.form = form or make_new_form()
        self._folder = folder
        self._tried = try_drill(self.form, folder)
        self._sentence = ""

    def take_key(self, event: Key) -> None:
        """Change the form, save it, or go back."""
        if event.key == "escape":
            self.dismiss(None)
        elif event.key == "enter":
            self._save()
        else:
            letter = event.character if event.is_printable else None
            self._change(lambda form: press(form, event.key, letter))

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return the form and what comes of it."""
        return draw_new_drill(
            self.form, self._tried, sentence=self._sentence, width=width, height=height, palette=self._palette
        )

    def take_click(self, column: int, row: int) -> None:
        """Choose a line, or change the chosen one."""
        rows = self.query_one(Card).rows
        self._change(lambda form: click_line(form, rows[row], row - FORM_ROW, column))

    def _change(self, change: Callable[[Form], Form]) -> None:
        self.form, self._sentence = changed(self.form, change)
        self._tried = try_drill(self.form, self._folder)
        self.draw()

    def _save(self) -> None:
        try:
            path = save_drill(self._tried)
        except CoachError as error:
            self._sentence = str(error)
            self.draw()
        else:
            self.dismiss(path)
