"""The history screen: takes filtered by typing, opened, set side by side, noted and exported; the trend under them."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.coach import keeping as keep
from tempo_coach.errors import CoachError
from tempo_coach.history.progress import measure_progress
from tempo_coach.history.records import Wanted
from tempo_coach.history.takes import History
from tempo_coach.report.words.amounts import several
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.card import Card
from tempo_coach.ui.history.card import View, draw_history, number_in
from tempo_coach.ui.history.kept import KeptScreen
from tempo_coach.ui.screen import STEPS, CardScreen

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.text import Text
    from textual.events import Key

    from tempo_coach.history.columns import Row
    from tempo_coach.history.progress import Progress

#: Takes that are listed at most; more typing finds the others.
LISTED = 300


class HistoryScreen(CardScreen[None]):
    """The list of takes.

    Parameters
    ----------
    history : History
        Open; it stays open.
    wanted : Wanted
        What is looked at in the first place.
    folder : Path
        Where tables and pages are written.
    now : callable
        Returns date and time.
    over_another : bool
        Whether it was opened from another screen, to which Escape goes back.
    """

    help_name = "history"

    def __init__(
        self,
        history: History,
        wanted: Wanted | None = None,
        *,
        folder: Path | None = None,
        now: Callable[[], datetime] = datetime.now,
        over_another: bool = False,
    ) -> None:
        super().__init__()
        self._over_another = over_another
        self._history = history
        self._wanted = wanted or Wanted()
        self._folder = folder or Path.cwd()
        self._now = now
        self._progress_of: dict[tuple[str, str], Progress] = {}
        self._doings: dict[str, Callable[[Row], None]] = {
            "enter": self._open,
            "tab": self._set_beside,
            "f2": self._note,
            "f3": self._table,
            "f4": self._page,
        }
        self.view = View(words=self._wanted.words)

    def on_mount(self) -> None:
        """Look for the takes."""
        self._find()

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return what the view says."""
        return draw_history(
            self.view,
            self._progress(),
            over_another=self._over_another,
            width=width,
            height=height,
            palette=self._palette,
        )

    def take_key(self, event: Key) -> None:
        """Choose, type, open, note, export."""
        try:
            if self.view.note is not None:
                self._write(event)
            else:
                self._look(event)
        except CoachError as error:
            self.view = replace(self.view, sentence=str(error))
        self.draw()

    def take_click(self, column: int, row: int) -> None:
        """Choose the take that is listed there; the chosen one is opened."""
        del column
        number = number_in(self.query_one(Card).rows[row])
        chosen = next((place for place, each in enumerate(self.view.rows) if each.number == number), None)
        if chosen is None or self.view.note is not None:
            return
        if chosen == self.view.chosen:
            self.app.simulate_key("enter")
        self.view = self.view.moved(chosen - self.view.chosen)
        self.draw()

    def _look(self, event: Key) -> None:
        steps = {**STEPS, "home": -LISTED, "end": LISTED}
        view = self.view
        if event.key in steps:
            self.view = view.moved(steps[event.key])
        elif event.key == "backspace":
            self._filter(view.words[:-1])
        elif event.key == "escape":
            if self._over_another and not view.words and view.beside is None:
                self.dismiss()
                return
            self.view = replace(view, beside=None)
            self._filter("")
        elif event.key in self._doings and view.row is not None:
            self._doings[event.key](view.row)
        elif event.is_printable and event.character:
            self._filter(view.words + event.character)

    def _write(self, event: Key) -> None:
        """Type a note."""
        view, note = self.view, self.view.note or ""
        if event.key == "enter" and view.row is not None:
            self.view = replace(view, note=None, sentence="")
            if note.strip():
                written = self._now().astimezone().isoformat(timespec="seconds")
                self._history.put_note(note, written=written, take=view.row.number)
                self.view = replace(self.view, sentence=f"Noted on take {view.row.number}.")
        elif event.key == "escape":
            self.view = replace(view, note=None, sentence="")
        elif event.key == "backspace":
            self.view = replace(view, note=note[:-1])
        elif event.is_printable and event.character:
            self.view = replace(view, note=note + event.character)

    def _filter(self, words: str) -> None:
        self.view = replace(self.view, words=words, chosen=0, sentence="")
        self._find()

    def _find(self) -> None:
        rows = self._history.find(replace(self._wanted, words=self.view.words, last=LISTED))
        self.view = replace(self.view, rows=tuple(reversed(rows)), number=self._history.count()[1])

    def _progress(self) -> Progress | None:
        row = self.view.row
        if row is None:
            return None
        key = (row.athlete, row.drill)
        if key not in self._progress_of:
            self._progress_of[key] = measure_progress(self._history.find(Wanted(athlete=row.athlete, drill=row.drill)))
        return self._progress_of[key]

    def _open(self, row: Row) -> None:
        kept = self._history.take(row.number)
        beside = self.view.beside
        if beside is not None and beside != row.number:
            self.app.push_screen(KeptScreen((self._history.take(beside), kept), together=True))
            return
        before = keep.take_before(self._history, row)
        self.app.push_screen(KeptScreen((before, kept) if before else (kept,)))

    def _set_beside(self, row: Row) -> None:
        taken = self.view.beside == row.number
        sentence = "" if taken else f"Take {row.number} is marked ◆: choose another one and press Enter."
        self.view = replace(self.view, beside=None if taken else row.number, sentence=sentence)

    def _note(self, _row: Row) -> None:
        self.view = replace(self.view, note="", sentence="")

    def _table(self, _row: Row) -> None:
        from tempo_coach.report.words.history import rows_to_csv

        path = self._free_name("takes", ".csv")
        rows = self._history.find(replace(self._wanted, words=self.view.words))
        self._save(path, rows_to_csv(rows))
        self.view = replace(self.view, sentence=f"{several(len(rows), 'take')} in {path}.")

    def _page(self, row: Row) -> None:
        path = self._free_name(f"take_{row.number}", ".html")
        self._save(path, keep.take_page_of(self._history, row.number))
        self.view = replace(self.view, sentence=f"The page of take {row.number} is {path}.")

    def _save(self, path: Path, text: str) -> None:
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        except OSError as error:
            raise CoachError(f"the file cannot be written ({error.strerror})", where=str(path)) from error

    def _free_name(self, stem: str, ending: str) -> Path:
        path, number = self._folder / f"{stem}_{self._now():%Y-%m-%d}{ending}", 1
        while path.exists():
            number += 1
            path = self._folder / f"{stem}_{self._now():%Y-%m-%d}_{number}{ending}"
        return path


def open_history(file: Path, wanted: Wanted) -> int:
    """Open the history on the screen.

    Raises
    ------
    CoachError
        If there is no terminal or no history, or the screen ended on its own.
    """
    from tempo_coach.history.store import Store
    from tempo_coach.ui.terminal import check_terminal, run_app

    check_terminal()
    Store(file, read_only=True).close()  # refuses where there is none instead of making one
    with History(file) as history:
        run_app(AloneApp(HistoryScreen(history, wanted)))
    return 0
