"""The set-up screen: what is to be practised, and how. Enter starts it as it stands."""

from __future__ import annotations

from asyncio import to_thread
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.screen import Screen

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.history.place import data_folder
from tempo_coach.history.records import SOMEBODY
from tempo_coach.pattern.files import list_drills
from tempo_coach.report.draw import draw_pattern
from tempo_coach.ui.card import Card
from tempo_coach.ui.floor import bar, fill
from tempo_coach.ui.form import OBSERVERS, press
from tempo_coach.ui.form_rows import draw_lines
from tempo_coach.ui.help import show_help
from tempo_coach.ui.palette import find_palette
from tempo_coach.ui.practise import LEAVE_KEYS, PractiseScreen
from tempo_coach.ui.start import make_go, takes_folder

if TYPE_CHECKING:
    from pathlib import Path

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.events import Key, Resize

    from tempo_coach.pattern.practice import Drill
    from tempo_coach.ui.conductor import Go
    from tempo_coach.ui.form import Form
    from tempo_coach.ui.palette import Palette

FOOT = " Enter: start   ↑↓: line   ←→: change   F1: help   F4: new drill  Ctrl+Q: leave"
#: The folder of her own drills, beside whatever else is kept.
OWN_DRILLS = "drills"
_BUSY_HZ = 8.0


class SetupScreen(Screen[None]):
    """The set-up; opens the practise screen and comes back from it.

    Parameters
    ----------
    form : Form
    folder : Path or None
        Where takes are kept.
    """

    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "app.quit", "Leave")]

    def __init__(self, form: Form, *, folder: Path | None = None) -> None:
        super().__init__()
        self.form = form
        self.sentence = ""
        self.drill: Drill | None = None
        self._palette = find_palette()
        self._folder = folder or takes_folder()
        self._own_drills = (folder or data_folder()) / OWN_DRILLS
        self._new_form: Form | None = None
        self._news = ""
        self._heard: coach.Heard | None = None
        self._busy = ""
        self._share = 0.0
        self._unfinished: list[Path] = []

    def compose(self) -> ComposeResult:
        """Make the one widget."""
        yield Card(self._palette.text)

    def on_mount(self) -> None:
        """Read the drill and look for a take that was broken off."""
        self.form = self.form.with_drills([str(path) for path in list_drills(self._own_drills)])
        self._read_drill()
        self.set_interval(1 / _BUSY_HZ, self._draw_while_busy)
        self.run_worker(self._look_for_unfinished())
        self.call_after_refresh(self.draw)

    def on_resize(self, _event: Resize) -> None:
        """Fit the new size."""
        self.draw()

    def on_screen_resume(self) -> None:
        """Show the set-up again after a practice; the first time it may not have been composed yet."""
        self.call_after_refresh(self.draw)

    def draw(self) -> None:
        """Show the set-up as it stands."""
        width, height = self.size
        notice = self._notice()
        busy = f"{self._busy} {self._share:.0%}" if self._busy and self._share else self._busy
        calm = busy or self._news
        sentence = calm or self.sentence or notice
        rows = draw_setup(
            self.form, self.drill, sentence=sentence, calm=bool(calm), width=width, height=height, palette=self._palette
        )
        self.query_one(Card).show(rows)

    def on_key(self, event: Key) -> None:
        """Choose a line, change it, or start."""
        if event.key in LEAVE_KEYS:
            return
        if self._busy:
            return
        event.stop()
        event.prevent_default()
        form, line = self.form, self.form.chosen
        self._news = ""
        if event.key in ("f2", "f3") and self._unfinished:
            self._settle(show=event.key == "f2")
            return
        if event.key in ("enter", "f1", "f4"):
            {"enter": self._start, "f1": self._help, "f4": self._make_drill}[event.key]()
            return
        try:
            self.form = press(form, event.key, event.character if event.is_printable else None)
            self.sentence = ""
        except CoachError as error:
            self.form, self.sentence = form.put(replace(line, value="")), str(error)
        if line.key in ("drill", "music") and self.form.value(line.key) != line.value:
            self._read_drill()
        self.draw()

    def _help(self) -> None:
        show_help(self.app, "set up")

    def _make_drill(self) -> None:
        from tempo_coach.ui.new_drill_screen import NewDrillScreen

        screen = NewDrillScreen(self._own_drills, self._new_form)

        def back(path: Path | None) -> None:
            self._new_form = None if path else screen.form
            if path is not None:
                form = self.form.with_drills([str(path)])
                self.form = form.put(replace(form.line("drill"), value=str(path)))
                self._read_drill()
                self._news = "" if self.sentence else f"Saved in {path}."
                self.draw()

        self.app.push_screen(screen, back)

    def _read_drill(self) -> None:
        try:
            self.drill = coach.load_drill(self.form.value("drill"))
            self.form = self.form.for_drill(self.drill)
        except CoachError as error:
            self.drill, self.sentence = None, str(error)

    def _start(self) -> None:
        try:
            request = self.form.request()
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
            if request.music and (self._heard is None or self._heard.path != request.music):
                self._busy = "Hearing the music …"
                self._heard = await to_thread(self._hear, request)
            self._busy = "Laying the drill …"
            go = await to_thread(self._make_go, request)
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
        def progress(share: float) -> None:
            self._share = share

        return coach.hear(request.music or "", tempo_bpm=request.tempo_bpm, progress=progress)

    def _make_go(self, request: coach.Request) -> Go:
        drill = coach.load_drill(request.drill)
        return make_go(
            request,
            heard=self._heard if request.music else None,
            way=self.form.way(drill),
            observed_by=OBSERVERS[self.form.value("observer")],
            device=self.form.value("device") or None,
            athlete=SOMEBODY,
        )

    def _draw_while_busy(self) -> None:
        if self._busy:
            self.draw()

    async def _look_for_unfinished(self) -> None:
        from tempo_coach.observe.takefile import find_unfinished

        self._unfinished = list(await to_thread(find_unfinished, self._folder))
        self.draw()

    def _notice(self) -> str:
        if not self._unfinished:
            return ""
        more = f" (and {len(self._unfinished) - 1} more)" if len(self._unfinished) > 1 else ""
        return f"A take was broken off{more}: {self._unfinished[0].name}. F2: its scorecard, F3: put it by."

    def _settle(self, *, show: bool) -> None:
        from tempo_coach.observe.takefile import finish_broken_off

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


def draw_setup(
    form: Form, drill: Drill | None, *, sentence: str, calm: bool, width: int, height: int, palette: Palette
) -> list[Text]:
    """Return the rows of the set-up.

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
    lines = [bar(" tempo_coach   set up", f"{drill.title if drill else ''} ", width, palette)]
    if height >= 30:
        lines.append(Text())
    lines += draw_lines(form, palette)
    lines.append(Text(f"  {sentence}", palette.text if calm else palette.warning) if sentence else Text())
    if drill is not None:
        room = height - len(lines) - 1
        about = [Text(f"  {row}", palette.text) for row in draw_pattern(drill.pattern, width=width - 6)]
        if drill.caution and len(about) < room:
            about.append(Text(f"  Mind: {drill.caution}.", palette.strong))
        if drill.trains and len(about) + 1 < room:
            about[:0] = [Text(f"  It trains {drill.trains}."[: width - 2], palette.text), Text()]
        lines += about[:room]
    return fill(lines, FOOT, "", width, height, palette)
