"""The set-up screen: the drill and how it is practised, line by line. Enter starts it."""

from __future__ import annotations

import textwrap
from asyncio import to_thread
from dataclasses import replace
from queue import SimpleQueue
from threading import Thread
from typing import TYPE_CHECKING

from rich.text import Text

from tempo_coach import coach
from tempo_coach.coach.practising.as_laid import offer_laid, read_laid
from tempo_coach.coach.practising.form import AS_LAID, USUAL, changed, press
from tempo_coach.coach.practising.start import make_go_of, takes_folder
from tempo_coach.errors import CoachError
from tempo_coach.history.data_folder import data_folder
from tempo_coach.live.audio.devices import list_devices
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.report.drawings.drill import draw_pattern
from tempo_coach.ui.card import Card
from tempo_coach.ui.floor import bar, fill
from tempo_coach.ui.form_rows import click_line, draw_lines, find_line
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.screen import CardScreen

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from textual.events import Key

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import Go
    from tempo_coach.pattern.drill.practice import Drill
    from tempo_coach.ui.palette import Palette

#: Rows that are no sentence, however long it is: head, foot, and the chosen line.
_LEAST = 3
FOOT = " Enter: start  ↑↓ ←→: set  F1: help  F4: new drill  F5: history  Ctrl+Q: leave"


def draw_setup(
    form: Form, drill: Drill | None, *, sentence: str, calm: bool, width: int, height: int, palette: Palette
) -> list[Text]:
    """Return the rows of the set-up.

    What she has to mind and what has to be said stand there whole; the rest takes the rows that are left.

    Parameters
    ----------
    form : Form
    drill : Drill or None
        The one that is chosen, drawn below.
    sentence : str
        What has to be said.
    calm : bool
        Whether that is no warning.
    width, height : int
    palette : Palette
    """
    said = [Text(f" {row} ", palette.text if calm else palette.warning) for row in textwrap.wrap(sentence, width - 4)]
    told = [_pad(Text(" ", palette.text).append_text(row), width, palette) for row in said[: max(height - _LEAST, 1)]]
    mind = textwrap.wrap(f"Mind: {drill.caution}.", width - 4) if drill and drill.caution else []
    caution = [Text(f"  {row}", palette.strong) for row in mind]
    airy = [Text()] if height >= 30 else []
    room = height - 2 - len(caution) - len(told)
    form_rows = _around(draw_lines(form, palette), form.at, room - 2 * len(airy))
    lines = [bar(" tempo_coach   set up", f"{drill.title if drill else ''} ", width, palette), *airy, *form_rows, *airy]
    if drill is not None:
        lines += _about(drill, width, room - len(lines) + 1, palette)
    lines += caution
    rows = fill(lines[: height - 1 - len(told)], FOOT, "", width, height, palette)
    return [*rows[: height - 1 - len(told)], *told, rows[-1]]


def _around(rows: list[Text], at: int, room: int) -> list[Text]:
    """As many rows of a form as there is room for, with the chosen one among them."""
    first = max(0, min(at - room // 2, len(rows) - room))
    return rows[first : first + max(room, 1)]


def _about(drill: Drill, width: int, room: int, palette: Palette) -> list[Text]:
    """One cycle of a drill and what it trains, in so many rows: where they are few, its phases go first."""
    drawn = [Text(f"  {row}", palette.text) for row in draw_pattern(drill.pattern, width=width - 6)]
    if len(drawn) > room and drill.pattern.phases:
        del drawn[1]
    if len(drawn) > room:
        return []
    trains = textwrap.wrap(f"It trains {drill.trains}.", width - 4) if drill.trains else []
    if trains and len(trains) + 1 + len(drawn) <= room:
        return [*(Text(f"  {row}", palette.text) for row in trains), Text(), *drawn]
    return drawn


def _pad(row: Text, width: int, palette: Palette) -> Text:
    row.append(" " * max(width - row.cell_len, 0), palette.text)
    return row


#: The folder of her own drills, beside whatever else is kept.
OWN_DRILLS = "drills"
_BUSY_HZ = 8.0


class SetupScreen(CardScreen[None]):
    """The set-up; opens the practise screen and comes back from it.

    Parameters
    ----------
    form : Form
    folder : Path or None
        Where takes are kept.
    """

    help_name = "set up"

    def __init__(self, form: Form, *, folder: Path | None = None) -> None:
        super().__init__()
        self.form = form
        self.sentence = ""
        self.drill: Drill | None = None
        self._folder = folder or takes_folder()
        self._own_drills = (folder or data_folder()) / OWN_DRILLS
        self._new_form: Form | None = None
        self._news = ""
        self._heard: coach.Heard | None = None
        self._heard_as: tuple[str, float | None] | None = None
        self._busy = ""
        self._share = 0.0
        self._unfinished: list[Path] = []
        self._found: SimpleQueue[tuple[str, tuple[str, ...]]] = SimpleQueue()
        self._doings = {"enter": self._start, "f4": self._make_drill, "f5": self._open_history}

    def on_mount(self) -> None:
        """Read the drill, and look round: for takes that were broken off, for names and for devices."""
        self.form = self.form.with_choices("drill", [str(path) for path in list_drills(self._own_drills)])
        self._read_drill()
        self.set_interval(1 / _BUSY_HZ, self._tick)
        self.run_worker(self._look_for_unfinished())
        # a sound server that does not answer must not keep the program from ending
        Thread(target=self._look_round, daemon=True).start()

    def on_screen_resume(self) -> None:
        """Show the set-up again after a practice; the first time it may not have been composed yet."""
        self.call_after_refresh(self.draw)

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return the set-up as it stands."""
        notice = self._notice()
        busy = f"{self._busy} {self._share:.0%}" if self._busy and self._share else self._busy
        calm = busy or self._news
        sentence = calm or self.sentence or notice
        return draw_setup(
            self.form, self.drill, sentence=sentence, calm=bool(calm), width=width, height=height, palette=self._palette
        )

    def take_key(self, event: Key) -> None:
        """Choose a line, change it, or start."""
        if self._busy:
            return
        self._news = ""
        if event.key in ("f2", "f3") and self._unfinished:
            self._settle(show=event.key == "f2")
        elif event.key in self._doings:
            self._doings[event.key]()
        else:
            letter = event.character if event.is_printable else None
            self._change(lambda form: press(form, event.key, letter))

    def take_click(self, column: int, row: int) -> None:
        """Choose a line, or change the chosen one."""
        if not self._busy:
            drawn = self.query_one(Card).rows[row]
            number = find_line(self.form, drawn)
            self._change(lambda form: click_line(form, drawn, number, column))

    def _change(self, change: Callable[[Form], Form]) -> None:
        line = self.form.chosen
        self.form, self.sentence = changed(self.form, change)
        if line.key in ("drill", "music") and self.form.value(line.key) != line.value:
            self.form = offer_laid(self.form)
            self._read_drill()
            if line.key == "music" and AS_LAID in self.form.line("drill").choices:
                self._news = f"A routine: under drill there is also “{AS_LAID}”."
        self.draw()

    def _make_drill(self) -> None:
        from tempo_coach.ui.practice.new_drill import NewDrillScreen

        screen = NewDrillScreen(self._own_drills, self._new_form)

        def back(path: Path | None) -> None:
            self._new_form = None if path else screen.form
            if path is not None:
                form = self.form.with_choices("drill", [str(path)])
                self.form = form.put(replace(form.line("drill"), value=str(path)))
                self._read_drill()
                self._news = "" if self.sentence else f"Saved in {path}."
                self.draw()

        self.app.push_screen(screen, back)

    def _read_drill(self) -> None:
        if self.form.value("drill") == AS_LAID:
            self.drill = None
            self._news = "Enter practises what is laid on that eight: by default what is laid first."
            return
        try:
            self.drill = coach.load_drill(self.form.value("drill"))
            self.form = self.form.for_drill(self.drill)
        except CoachError as error:
            self.drill, self.sentence = None, str(error)

    def _start(self) -> None:
        try:
            request = self.form.request()
            self.form.athlete  # noqa: B018  refused before the music is heard
        except CoachError as error:
            self.sentence = str(error)
            self.draw()
            return
        self._busy, self._share, self.sentence = "One moment …", 0.0, ""
        self.draw()
        self.run_worker(self._prepare(request))

    async def _prepare(self, request: coach.Request) -> None:
        """Hear the music and lay the plan beside the screen, then open the practise screen."""
        try:
            if request.drill == AS_LAID:
                self._busy = "Hearing the music …"
                request, self._heard = await to_thread(read_laid, self.form, progress=self._progress)
                self._heard_as = (request.music or "", None)
            elif request.music and self._heard_as != (request.music, request.tempo_bpm):
                self._busy = "Hearing the music …"
                self._heard = await to_thread(self._hear, request)
                self._heard_as = (request.music, request.tempo_bpm)
            self._busy = "Laying the drill …"
            go = await to_thread(make_go_of, self.form, self._heard, request=request)
        except CoachError as error:
            self.sentence = str(error)
        else:
            self.open(go)
        finally:
            self._busy = ""
            self.draw()

    def open(self, go: Go) -> None:
        """Open the practise screen, and come back from it or leave."""

        def back(left: bool | CoachError | None) -> None:
            if isinstance(left, CoachError):
                self.sentence = str(left)
                self.draw()
            elif not left:
                self.app.exit(0)

        screen = PractiseScreen(go)
        screen.styles.background = self.styles.background
        self.app.push_screen(screen, back)

    def _hear(self, request: coach.Request) -> coach.Heard:
        return coach.hear_request(request, progress=self._progress)

    def _progress(self, share: float) -> None:
        self._share = share

    def _look_round(self) -> None:
        """Ask for what takes a moment, in a thread of its own: devices to choose from, and names."""
        self._found.put(("device", list_devices().outputs))
        self._found.put(("athlete", (USUAL, *_list_athletes())))

    def _tick(self) -> None:
        """Show how far it is, and put what was found into the form."""
        while not self._found.empty():
            self.form = self.form.with_choices(*self._found.get())
        if self._busy:
            self.draw()

    async def _look_for_unfinished(self) -> None:
        from tempo_coach.observe.take.unfinished import find_unfinished

        self._unfinished = list(await to_thread(find_unfinished, self._folder))
        self.draw()

    def _open_history(self) -> None:
        from tempo_coach.history.data_folder import history_file
        from tempo_coach.history.store import Store
        from tempo_coach.history.takes import History
        from tempo_coach.ui.history.screen import HistoryScreen

        if not history_file().exists():
            self._news = "There is no history yet: practise once, and your takes are in it."
            self.draw()
            return
        try:
            Store(history_file(), read_only=True).close()  # a damaged one is told of and not changed
            history = History(history_file())
        except CoachError as error:
            self.sentence = str(error)
            self.draw()
            return
        self.app.push_screen(HistoryScreen(history, over_another=True), lambda _: history.close())

    def _notice(self) -> str:
        if not self._unfinished:
            return ""
        more = f" (and {len(self._unfinished) - 1} more)" if len(self._unfinished) > 1 else ""
        return f"A take was broken off{more}. F2: its scorecard, F3: put it by. It is {self._unfinished[0].name}."

    def _settle(self, *, show: bool) -> None:
        from tempo_coach.observe.take.unfinished import finish_broken_off

        path = self._unfinished.pop(0)
        try:
            file = finish_broken_off(path)
        except CoachError as error:
            self.sentence = str(error)
        else:
            if show:
                from tempo_coach.ui.practice.after import LookScreen

                self.app.push_screen(LookScreen(file.take, path))
        self.draw()


def _list_athletes() -> list[str]:
    """Who is in the history; nobody where there is none that can be read."""
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.takes import History

    try:
        with History(history_file(), read_only=True) as history:
            return [athlete.name for athlete in history.athletes()]
    except CoachError:
        return []  # the history says what is wrong with it where it is opened
