"""The screen for a new drill: what is typed is drawn at once, and what is wrong is said at once."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.screen import Screen

from tempo_coach.errors import CoachError
from tempo_coach.ui.card import Card
from tempo_coach.ui.form import press
from tempo_coach.ui.help import show_help
from tempo_coach.ui.new_drill import draw_new_drill, make_new_form, save_drill, try_drill
from tempo_coach.ui.palette import find_palette
from tempo_coach.ui.practise import LEAVE_KEYS

if TYPE_CHECKING:
    from pathlib import Path

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.events import Key, Resize

    from tempo_coach.ui.form import Form


class NewDrillScreen(Screen["Path | None"]):
    """A form for a new drill; dismissed with its file, or None where none was saved.

    Parameters
    ----------
    folder : Path
        Where drills are kept whose name is no path.
    form : Form or None
        As it was left the last time.
    """

    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "app.quit", "Leave")]

    def __init__(self, folder: Path, form: Form | None = None) -> None:
        super().__init__()
        self.form = form or make_new_form()
        self._folder = folder
        self._palette = find_palette()
        self._tried = try_drill(self.form, folder)
        self._sentence = ""

    def compose(self) -> ComposeResult:
        """Make the one widget."""
        yield Card(self._palette.text)

    def on_mount(self) -> None:
        """Show the form."""
        self.styles.background = self._palette.card or "ansi_default"
        self.call_after_refresh(self.draw)

    def on_resize(self, _event: Resize) -> None:
        """Fit the new size."""
        self.draw()

    def on_key(self, event: Key) -> None:
        """Change the form, save it, or go back."""
        if event.key in LEAVE_KEYS:
            return
        event.stop()
        event.prevent_default()
        if event.key == "f1":
            show_help(self.app, "new drill")
        elif event.key == "escape":
            self.dismiss(None)
        elif event.key == "enter":
            self._save()
        else:
            self._change(event)

    def draw(self) -> None:
        """Show the form and what comes of it."""
        width, height = self.size
        rows = draw_new_drill(
            self.form, self._tried, sentence=self._sentence, width=width, height=height, palette=self._palette
        )
        self.query_one(Card).show(rows)

    def _change(self, event: Key) -> None:
        line = self.form.chosen
        self._sentence = ""
        try:
            self.form = press(self.form, event.key, event.character if event.is_printable else None)
        except CoachError as error:
            self.form, self._sentence = self.form.put(replace(line, value="")), str(error)
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
