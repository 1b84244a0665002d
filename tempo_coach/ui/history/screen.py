"""The history screen: takes filtered by typing, opened, set side by side, noted and exported; the trend under them."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from tempo_coach.coach import archiving as keep
from tempo_coach.coach.looking_back import History, Wanted, measure_progress, open_there
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.errors import say_error
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.history.kept import KeptScreen
from tempo_coach.ui.history.rows import NONE_LIKE_IT, NONE_YET, draw_progress, draw_row, draw_told
from tempo_coach.ui.row_widgets import Card, Fitted, Foot, Prompt
from tempo_coach.ui.screen import HELP, LEAVE, CardScreen, Page
from tempo_coach.ui.text_rows import bar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rich.text import Text
    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.events import Resize
    from textual.widgets import Input

    from tempo_coach.coach.looking_back import TakeRow, Trend

#: Takes that are listed at most; more typing finds the others.
LISTED = 300
#: What is done with a take that is chosen.
_OF_A_TAKE = ("open", "mark", "note", "table", "page")


class Takes(OptionList, can_focus=False):
    """The list of takes, to which keys are passed on from the filter."""


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

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "open", key_display="Enter", priority=True),
        Binding("enter", "keep_note", "keep the note", key_display="Enter", priority=True),
        Binding("tab", "mark", "mark", key_display="Tab", priority=True),
        HELP,
        Binding("f2", "note", "note", key_display="F2"),
        Binding("f3", "table", "table", key_display="F3"),
        Binding("f4", "page", "page", key_display="F4"),
        Binding("escape", "leave_note", "leave it", key_display="Escape"),
        Binding("escape", "back", "back", key_display="Escape"),
        Binding("escape", "show_all", "all again", show=False),
        LEAVE,
        Binding("up", "go('cursor_up')", "a take up", show=False),
        Binding("down", "go('cursor_down')", "a take down", show=False),
        Binding("pageup", "go('page_up')", "a page up", show=False),
        Binding("pagedown", "go('page_down')", "a page down", show=False),
        Binding("home", "go('first')", "the newest take", show=False, priority=True),
        Binding("end", "go('last')", "the oldest take", show=False, priority=True),
    ]
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
        self._progress_of: dict[tuple[str, str], Trend] = {}
        self._had: int | None = None
        self._signed: int | None = None
        self.rows: tuple[TakeRow, ...] = ()
        self.marked: int | None = None
        self.noting = False
        self.sentence = ""

    def compose(self) -> ComposeResult:
        """Make head, filter, list, trend and foot."""
        yield Card(self._draw_head, id="head")
        yield Prompt(id="filter")
        yield Prompt(id="note")
        yield Fitted(lambda width, _: draw_told(self.sentence, width=width, palette=self._palette))
        yield Takes()
        yield Card(self._draw_main, id="main")
        yield Foot(lambda: self.note)

    def on_mount(self) -> None:
        """Look for the takes."""
        self._ask_filter(self._wanted.words)
        self._find()

    def on_resize(self, event: Resize) -> None:
        """List the takes again: a wider screen has wider columns."""
        super().on_resize(event)
        self._list(self.query_one(Takes).highlighted or 0)

    @property
    def row(self) -> TakeRow | None:
        """The chosen take."""
        chosen = self.query_one(Takes).highlighted
        return self.rows[chosen] if self.rows and chosen is not None else None

    def _draw_head(self, width: int, _height: int) -> list[Text]:
        return [
            bar(
                tr(" History"),
                tr("{number} of {count} takes ", number=len(self.rows), count=self._history.count()[1]),
                width,
                self._palette,
            )
        ]

    def draw_page(self, width: int, height: int) -> Page:
        """Return the trend."""
        return Page(draw_progress(self.row, self._progress(), width=width, height=height, palette=self._palette))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available while something is typed."""
        if action in ("keep_note", "leave_note"):
            return self.noting
        if self.noting:
            return action == "leave"
        if action in ("show_all", "back"):
            return self._over_another is (action == "back")
        return super().check_action(action, parameters) and (action not in _OF_A_TAKE or self.row is not None)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Filter the takes by what was typed."""
        del event
        if not self.noting:
            self.sentence = ""
            self._find()

    def on_option_list_option_highlighted(self) -> None:
        """Show the trend of the take, and mark it by a sign: there may be no colours."""
        takes = self.query_one(Takes)
        for place in {self._signed, takes.highlighted}:
            if place is not None and place < len(self.rows):
                takes.replace_option_prompt_at_index(place, self._draw_row(place))
        self._signed = takes.highlighted
        self.draw()

    def _draw_row(self, place: int) -> Text:
        row, chosen = self.rows[place], place == self.query_one(Takes).highlighted
        return draw_row(row, chosen=chosen, marked=row.number == self.marked, width=self.size.width)

    def on_mouse_down(self) -> None:
        """Remember the current take before the click."""
        self._had = self.query_one(Takes).highlighted

    def on_option_list_option_selected(self, event: Takes.OptionSelected) -> None:
        """Open a take clicked while current."""
        if event.option_index == self._had and not self.noting:
            self.action_open()

    def action_go(self, way: str) -> None:
        """Choose another take."""
        self.sentence = ""
        getattr(self.query_one(Takes), f"action_{way}")()
        self.draw()

    def action_show_all(self) -> None:
        """Show all takes again, none of them marked."""
        self.marked = None
        self._filter.value = ""
        self._find()

    def action_back(self) -> None:
        """Show all takes again; go back where they are shown."""
        if self._filter.value or self.marked is not None:
            self.action_show_all()
        else:
            self.dismiss()

    def action_note(self) -> None:
        """Type a note on the chosen take."""
        self._type_note(True)

    def action_keep_note(self) -> None:
        """Keep the note."""
        note, row = self.query_one("#note", Prompt).value, self.row
        self._type_note(False)
        if row is not None and note.strip():
            written = self._now().astimezone().isoformat(timespec="seconds")
            with self._saying():
                self._history.put_note(note, written=written, take=row.number)
                self.sentence = tr("Noted on take {number}.", number=row.number)
        self.draw()

    def action_leave_note(self) -> None:
        """Discard the note."""
        self._type_note(False)

    def _type_note(self, noting: bool) -> None:
        """Replace the filter by the line for a note, or back."""
        self.noting, self.sentence = noting, ""
        note = self.query_one("#note", Prompt)
        if noting:
            self._filter.end()
            note.ask("note")
        else:
            note.end()
            self._ask_filter(self._filter.value)
        self.draw()

    @property
    def _filter(self) -> Prompt:
        return self.query_one("#filter", Prompt)

    def _ask_filter(self, words: str) -> None:
        self._filter.ask(tr("filter"), tr("type a name, a drill or a word of a note"), value=words)

    @contextmanager
    def _saying(self) -> Iterator[None]:
        """Show errors that a person can mend."""
        try:
            yield
        except CoachError as error:
            self.sentence = say_error(error)

    def _find(self) -> None:
        words = self._filter.value
        self.rows = tuple(reversed(self._history.find(replace(self._wanted, words=words, last=LISTED))))
        self._list(0)
        self.draw()

    def _list(self, chosen: int) -> None:
        """List the found takes, one of them current."""
        takes, self._signed = self.query_one(Takes), None
        takes.clear_options()
        if self.rows:
            takes.add_options([self._draw_row(place) for place in range(len(self.rows))])
            takes.highlighted = min(chosen, len(self.rows) - 1)
        else:
            told = tr(NONE_LIKE_IT) if self._filter.value else tr(NONE_YET)
            takes.add_option(Option(f"     {told}", disabled=True))

    def _progress(self) -> Trend | None:
        row = self.row
        if row is None:
            return None
        key = (row.athlete, row.drill)
        if key not in self._progress_of:
            self._progress_of[key] = measure_progress(
                self._history.find(Wanted(athlete=row.athlete, drill=row.drill, counting=True))
            )
        return self._progress_of[key]

    def action_open(self) -> None:
        """Open the current take, beside the marked one if any."""
        row = self.row
        if row is None:
            return
        with self._saying():
            kept = self._history.take(row.number)
            if self.marked is not None and self.marked != row.number:
                self.app.push_screen(KeptScreen((self._history.take(self.marked), kept), together=True))
            else:
                before = keep.take_before(self._history, row)
                self.app.push_screen(KeptScreen((before, kept) if before else (kept,)))
        self.draw()

    def action_mark(self) -> None:
        """Mark the current take for comparison."""
        takes, row = self.query_one(Takes), self.row
        if row is None:
            return
        taken = self.marked == row.number
        self.sentence = (
            "" if taken else tr("Take {number} is marked ◆: choose another one and press Enter.", number=row.number)
        )
        self.marked = None if taken else row.number
        self._list(takes.highlighted or 0)
        self.draw()

    def action_table(self) -> None:
        """Write a table of the takes that are listed."""
        from tempo_coach.report.words.history import rows_to_csv

        path = self._free_name("takes", ".csv")
        with self._saying():
            rows = self._history.find(replace(self._wanted, words=self._filter.value))
            self._save(path, rows_to_csv(rows))
            self.sentence = tr("{takes} in {path}.", takes=several(len(rows), "take"), path=path)
        self.draw()

    def action_page(self) -> None:
        """Write a page of the chosen take."""
        row = self.row
        if row is None:
            return
        path = self._free_name(f"take_{row.number}", ".html")
        with self._saying():
            self._save(path, keep.take_page_of(self._history, row.number))
            self.sentence = tr("The page of take {number} is {path}.", number=row.number, path=path)
        self.draw()

    def _save(self, path: Path, text: str) -> None:
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        except OSError as error:
            raise CoachError("report.not_written", where=str(path), reason=error.strerror) from error

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
    from tempo_coach.ui.terminal import check_terminal, run_app

    check_terminal()
    with open_there(file) as history:
        run_app(AloneApp(HistoryScreen(history, wanted)))
    return 0
