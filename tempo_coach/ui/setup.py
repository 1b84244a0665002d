"""The set-up screen: what is to be practised, and how. Enter starts it as it stands."""

from __future__ import annotations

from asyncio import to_thread
from dataclasses import replace
from queue import SimpleQueue
from threading import Thread
from typing import TYPE_CHECKING

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.history.place import data_folder
from tempo_coach.live.devices import list_devices
from tempo_coach.pattern.drillfile import list_drills
from tempo_coach.ui.as_laid import offer_laid, read_laid
from tempo_coach.ui.card import Card
from tempo_coach.ui.form import changed, press
from tempo_coach.ui.form_line import AS_LAID, USUAL
from tempo_coach.ui.form_rows import click_line, find_line
from tempo_coach.ui.practise import PractiseScreen
from tempo_coach.ui.screen import CardScreen
from tempo_coach.ui.setup_card import draw_setup
from tempo_coach.ui.start import make_go_of, takes_folder

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rich.text import Text
    from textual.events import Key

    from tempo_coach.pattern.practice import Drill
    from tempo_coach.ui.form import Form
    from tempo_coach.ui.go import Go

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
        from tempo_coach.ui.new_drill_screen import NewDrillScreen

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
        from tempo_coach.observe.broken_off import find_unfinished

        self._unfinished = list(await to_thread(find_unfinished, self._folder))
        self.draw()

    def _open_history(self) -> None:
        from tempo_coach.history.place import history_file
        from tempo_coach.history.store import Store
        from tempo_coach.history.takes import History
        from tempo_coach.ui.history import HistoryScreen

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
        from tempo_coach.observe.broken_off import finish_broken_off

        path = self._unfinished.pop(0)
        try:
            file = finish_broken_off(path)
        except CoachError as error:
            self.sentence = str(error)
        else:
            if show:
                from tempo_coach.ui.look import LookScreen

                self.app.push_screen(LookScreen(file.take, path))
        self.draw()


def _list_athletes() -> list[str]:
    """Who is in the history; nobody where there is none that can be read."""
    from tempo_coach.history.place import history_file
    from tempo_coach.history.takes import History

    try:
        with History(history_file(), read_only=True) as history:
            return [athlete.name for athlete in history.athletes()]
    except CoachError:
        return []  # the history says what is wrong with it where it is opened
