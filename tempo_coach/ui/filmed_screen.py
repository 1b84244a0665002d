"""The screen on which the film of a take is chosen; it is read beside the screen, and its scorecard is the answer."""

from __future__ import annotations

from asyncio import to_thread
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.ui.card import Card
from tempo_coach.ui.filmed import FORM_ROW, draw_filmed, make_film_form, read_film_form, read_film_take
from tempo_coach.ui.form import changed, press
from tempo_coach.ui.form_rows import click_line
from tempo_coach.ui.screen import CardScreen

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.text import Text
    from textual.events import Key, Paste

    from tempo_coach.ui.filmed import Asked
    from tempo_coach.ui.form import Form
    from tempo_coach.ui.go import Done

#: Pictures a second while a film is read.
_PICTURES_HZ = 5.0


class FilmedScreen(CardScreen["Done | None"]):
    """A form for the film of a take; dismissed with the take that was read from it, or None.

    Parameters
    ----------
    last : Done
        The take as it was practised.
    form : Form or None
        As it was left the last time.
    keep : callable or None
        Puts the take into the history.
    """

    help_name = "the film"

    def __init__(self, last: Done, *, form: Form | None = None, keep: Callable[[Done, str], str] | None = None) -> None:
        super().__init__()
        self._last = last
        self._keep = keep
        self.form = form or make_film_form(last.take.plan)
        self._sentence = ""
        self._share: float | None = None
        self._stopped = False

    def on_mount(self) -> None:
        """Draw, and again while a film is read."""
        super().on_mount()
        self.set_interval(1 / _PICTURES_HZ, self._draw_reading)

    def on_unmount(self) -> None:
        """Stop reading, however the screen went away."""
        self._stopped = True

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return the form and how far the film has been read."""
        return draw_filmed(
            self.form,
            self._last.take.plan,
            share=self._share,
            sentence=self._sentence,
            width=width,
            height=height,
            palette=self._palette,
        )

    def take_key(self, event: Key) -> None:
        """Change the form, read the film, or go back."""
        if event.key == "escape":
            self._stopped = True
            self.dismiss(None)
        elif self._share is not None:
            return
        elif event.key == "enter":
            self._read()
        else:
            letter = event.character if event.is_printable else None
            self._change(lambda form: press(form, event.key, letter))

    def take_click(self, column: int, row: int) -> None:
        """Choose a line, or change the chosen one."""
        if self._share is None:
            rows = self.query_one(Card).rows
            self._change(lambda form: click_line(form, rows[row], row - FORM_ROW, column))

    def on_paste(self, event: Paste) -> None:
        """Take in what is pasted, as terminals do with a file that is dropped on them."""
        event.stop()
        if self._share is None and self.form.chosen.kind == "text":
            text = "".join(letter for letter in event.text.strip() if letter.isprintable())
            for letter in text:
                self.form = self.form.put(self.form.chosen.typed(letter))
            self.draw()

    def _change(self, change: Callable[[Form], Form]) -> None:
        self.form, self._sentence = changed(self.form, change)
        self.draw()

    def _read(self) -> None:
        try:
            asked = read_film_form(self.form, self._last.take.plan)
        except CoachError as error:
            self._sentence = str(error)
        else:
            self._sentence, self._share = "", 0.0
            self.run_worker(self._read_beside(asked))
        self.draw()

    async def _read_beside(self, asked: Asked) -> None:
        try:
            done = await to_thread(read_film_take, asked, self._last, keep=self._keep, progress=self._note)
        except CoachError as error:
            if not self._stopped:
                self._sentence, self._share = str(error), None
                self.draw()
        else:
            if not self._stopped:
                self.dismiss(done)

    def _note(self, share: float) -> None:
        """Note how far it is, in the thread that reads; and end it where nobody waits for it any more."""
        if self._stopped:
            raise CoachError("the film was not read to its end")
        self._share = share

    def _draw_reading(self) -> None:
        if self._share is not None:
            self.draw()
