"""The set-up screen: the drill and how it is practised, line by line. Enter starts it."""

from __future__ import annotations

from asyncio import to_thread
from dataclasses import replace
from queue import SimpleQueue
from threading import Thread
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding

from tempo_coach import coach
from tempo_coach.coach.athletes import find_name, list_names
from tempo_coach.coach.choices import offer_music, recall, remember_choice
from tempo_coach.coach.drills import list_titles, own_drills
from tempo_coach.coach.looking_back import SOMEBODY, find_history, open_there
from tempo_coach.coach.practising.form import offer_laid, open_run_through
from tempo_coach.coach.practising.form_line import DEFAULT, Line, say_line
from tempo_coach.coach.practising.start import prepare_from_form, takes_folder
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.languages.catalogue import list_languages
from tempo_coach.languages.choice import OPTION, choose_language, keep_language, kept_file, read_kept
from tempo_coach.live.audio.devices import list_devices
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.practising import AS_LAID, say_broken_off
from tempo_coach.ui.form import CHANGE_KEYS, CHOOSE_KEYS, FormScreen, FormView, Typed
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.practice.setup_below import draw_below
from tempo_coach.ui.screen import HELP, LEAVE, Page
from tempo_coach.ui.text_rows import bar

if TYPE_CHECKING:
    from pathlib import Path

    from rich.text import Text
    from textual.binding import BindingType

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.ui.practice.person_screen import Looked


#: The folder of her own drills, beside whatever else is kept.
OWN_DRILLS = "drills"
_BUSY_HZ = 8.0


def ask_language() -> Line:
    """Return the line of the language, as it was kept."""
    kept = read_kept(kept_file())
    choices = (DEFAULT, *list_languages())
    return Line("language", "language", kept if kept in choices else DEFAULT, choices, default="as the system has it")


class SetupScreen(FormScreen[None]):
    """The set-up; opens the practise screen and comes back from it.

    Parameters
    ----------
    folder : Path or None
        Where takes are kept.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "start", "start", key_display="Enter", priority=True),
        *CHOOSE_KEYS,
        *CHANGE_KEYS,
        HELP,
        Binding("f2", "settle(True)", "scorecard", key_display="F2"),
        Binding("f3", "settle(False)", "put it by", key_display="F3"),
        Binding("f4", "make_drill", "new drill", key_display="F4"),
        Binding("f5", "open_history", "history", key_display="F5"),
        Binding("f6", "open_group", "a group", key_display="F6"),
        Binding("f7", "open_person", "who", key_display="F7"),
        LEAVE,
    ]
    help_name = "set up"

    def __init__(self, form: Form, *, folder: Path | None = None) -> None:
        super().__init__(replace(form, lines=(*form.lines[:-1], ask_language(), *form.lines[-1:])))
        self.drill: Drill | None = None
        self._folder = folder or takes_folder()
        self._own_drills = folder / OWN_DRILLS if folder else own_drills()
        self._new_form: Form | None = None
        self._group_form: Form | None = None
        self._news = ""
        self._heard: coach.Heard | None = None
        self._heard_as: tuple[str, float | None] | None = None
        self._busy = ""
        self._share = 0.0
        self._unfinished: list[Path] = []
        whose = form.value("athlete").strip() or SOMEBODY
        self._recalled = recall(find_history(), whose)
        self._found: SimpleQueue[tuple[str, tuple[str, ...] | dict[str, str]]] = SimpleQueue()

    def on_mount(self) -> None:
        """Read the drill, and look for broken-off takes, names and devices."""
        self.form = self.form.with_choices("drill", [str(path) for path in list_drills(self._own_drills)])
        self._read_drill()
        self.query_one(FormView).choose("drill")
        self.draw()
        self.set_interval(1 / _BUSY_HZ, self._tick)
        self.run_worker(self._look_for_unfinished())
        # a sound server that does not answer must not keep the program from ending
        Thread(target=self._look_round, daemon=True).start()

    def on_screen_resume(self) -> None:
        """Show the set-up again after a practice; the first time it may not have been composed yet."""
        self.call_after_refresh(self.draw)

    def draw_head(self, width: int) -> Text:
        """Return the title and the drill."""
        return bar(tr(" tempo_coach   set up"), f"{tr(self.drill.title) if self.drill else ''} ", width, self._palette)

    def draw_page(self, width: int, height: int) -> Page:
        """Return what stands below the form, and leave the form the rows for its lines."""
        busy = f"{self._busy} {self._share:.0%}" if self._busy and self._share else self._busy
        calm = busy or self._news
        view = self.query_one(FormView)
        below = draw_below(
            self.drill,
            sentence=calm or self.sentence or say_broken_off([path.name for path in self._unfinished]),
            calm=bool(calm),
            lines=len(self.form.lines) - len(self.form.idle),
            width=width,
            height=height + view.size.height,
            palette=self._palette,
            found=self._found_titles(),
        )
        view.styles.height = below.form_rows
        return Page(below.rows)

    def _found_titles(self) -> list[str]:
        """Return titles of matching drills, from the current one on; none while nothing is typed."""
        line = self.form.line("drill")
        if not line.search or line.value not in line.found:
            return []
        place = line.found.index(line.value)
        return [say_line(replace(line, value=each)) for each in (*line.found[place:], *line.found[:place])]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available: none while busy; some need a broken-off take."""
        if self._busy and action != "leave":
            return False
        return bool(self._unfinished) if action == "settle" else super().check_action(action, parameters)

    def form_changed(self, line: Line) -> None:
        """Update defaults for another drill or music."""
        self._news = ""
        if line.key == "language":
            self._speak(line.value)
        if line.key == "athlete" and line.value in line.choices and line.value:
            self._take_person(line.value)
        if line.key in ("drill", "music"):
            self.form = offer_laid(self.form)
            self._read_drill()
            self._put_tempo()
            if line.key == "music" and AS_LAID in self.form.line("drill").choices:
                self._news = tr("A routine: under drill there is also “{as_laid}”.", as_laid=tr(AS_LAID))

    def _speak(self, code: str) -> None:
        """Switch to another language, now and for later starts."""
        try:
            keep_language(code, kept_file())
        except OSError as error:
            self.sentence = say_error(CoachError("file.not_there", where=kept_file(), reason=error.strerror))
        choose_language((OPTION, code) if code else (), kept_file())
        self._found.put(("drill", list_titles(self._own_drills)))
        for view in self.query(FormView):
            view.put(self.form)

    def action_make_drill(self) -> None:
        """Make a drill of her own."""
        self._news = ""
        from tempo_coach.ui.practice.new_drill import NewDrillScreen

        screen = NewDrillScreen(self._own_drills, self._new_form)

        def back(path: Path | None) -> None:
            self._new_form = None if path else screen.form
            if path is not None:
                form = self.form.with_choices("drill", [str(path)])
                self.form = form.put(replace(form.line("drill"), value=str(path)))
                self._read_drill()
                self._news = "" if self.sentence else tr("Saved in {path}.", path=path)
                self.draw()

        self.app.push_screen(screen, back)

    def _read_drill(self) -> None:
        if self.form.value("drill") == AS_LAID:
            self.drill = None
            self._news = tr("Enter runs through the routine: from that eight on, so many eights, or all of it.")
            return
        try:
            name = self.form.value("drill")
            self.drill = coach.load_drill(name)
            self.form = self.form.for_drill(self.drill)
            self.form = self.form.with_labels("drill", {name: tr(self.drill.title)})
        except CoachError as error:
            self.drill, self.sentence = None, say_error(error)

    def action_start(self) -> None:
        """Start the practice; where first letters of a name are typed, show whose they are first."""
        self._news = ""
        if isinstance(self.focused, Typed) and self.focused.complete():
            return
        try:
            self._check_whose()
            request = self.form.request()
            self.form.athlete  # noqa: B018  refused before the music is heard
        except CoachError as error:
            self.sentence = say_error(error)
            self.draw()
            return
        self._busy, self._share, self.sentence = tr("One moment …"), 0.0, ""
        self.hold_still(True)
        self.draw()
        self.run_worker(self._prepare(request))

    async def _prepare(self, request: coach.Request) -> None:
        """Hear the music and lay the plan in a thread, then open the practise screen."""
        try:
            opened = None
            if request.drill == AS_LAID:
                self._busy = tr("Hearing the music …")
                request, opened = await to_thread(open_run_through, self.form, progress=self._progress)
                self._heard, self._heard_as = coach.counts_of(opened), (request.music or "", None)
            elif request.music and self._heard_as != (request.music, request.tempo_bpm):
                self._busy = tr("Hearing the music …")
                self._heard = await to_thread(self._hear, request)
                self._heard_as = (request.music, request.tempo_bpm)
            self._busy = tr("Laying the drill …")
            context = await to_thread(prepare_from_form, self.form, self._heard, request=request, opened=opened)
        except CoachError as error:
            self.sentence = say_error(error)
        else:
            self.open(context)
        finally:
            self._busy = ""
            self.hold_still(False)
            self.draw()

    def open(self, context: PracticeContext) -> None:
        """Open the practise screen, and come back from it or leave."""

        def back(left: bool | CoachError | None) -> None:
            if screen.conductor is not None and screen.conductor.takes.done:
                self._remember(screen.conductor.session.keys)
            if isinstance(left, CoachError):
                self.sentence = say_error(left)
                self.draw()
            elif not left:
                self.app.exit(0)

        screen = PractiseScreen(context)
        self.app.push_screen(screen, back)

    def _remember(self, keys: tuple[tuple[str, str], ...]) -> None:
        """Keep the choices in the person's file for the next start."""
        drill = self.drill.name if self.drill else ""
        try:
            named = "".join(key for _, key in keys if len(key) == 1)
            remember_choice(find_history(), self.form.athlete, self.form.chosen, keys=named, drill=drill)
            tempi = recall(find_history(), self.form.athlete).tempi
            self._recalled = replace(self._recalled, tempi=tempi)
        except CoachError as error:
            self.sentence = say_error(error)

    def _hear(self, request: coach.Request) -> coach.Heard:
        return coach.hear_request(request, progress=self._progress)

    def _progress(self, share: float) -> None:
        self._share = share

    def _look_round(self) -> None:
        """Collect titles of drills, devices and names, in a thread."""
        self._found.put(("drill", list_titles(self._own_drills)))
        self._found.put(("device", list_devices().outputs))
        self._found.put(("athlete", (DEFAULT, *_list_people())))
        self._found.put(("music", (DEFAULT, *offer_music(find_history()))))

    def _tick(self) -> None:
        """Show the progress, and add what was found to the form."""
        while not self._found.empty():
            key, found = self._found.get()
            if isinstance(found, dict):
                self.form = self.form.with_labels(key, found)
            else:
                self.form = self.form.with_choices(key, found)
        if self._busy:
            self.draw()

    async def _look_for_unfinished(self) -> None:
        from tempo_coach.observe.take.unfinished import find_unfinished

        self._unfinished = list(await to_thread(find_unfinished, self._folder))
        self.draw()

    def action_open_group(self) -> None:
        """Open the group's form."""
        self._news = ""
        from tempo_coach.ui.group_setup import GroupSetupScreen

        screen = GroupSetupScreen(self._group_form)

        def back(_: object) -> None:
            self._group_form = screen.form

        self.app.push_screen(screen, back)

    def action_open_person(self) -> None:
        """Open the form of whose take it is."""
        from tempo_coach.ui.practice.person_screen import PersonScreen

        self._news = ""
        line, device = self.form.line("athlete"), self.form.line("device")
        try:
            name = find_name(find_history(), line.value) if line.value.strip() else SOMEBODY
            people = [each for each in line.choices if each]
            devices = [each for each in device.choices if each]
            screen = PersonScreen(find_history(), name, people, devices=devices)
        except CoachError as error:
            self.sentence = say_error(error)
            self.draw()
            return

        def back(looked: Looked | None) -> None:
            if looked is not None and (looked.changed or looked.person.name != name):
                self._take_person(looked.person.name)
            self.draw()

        self.app.push_screen(screen, back)

    def _put_tempo(self) -> None:
        """Put the tempo that she used last in the drill into its line, unless another one was typed there."""
        name = self.drill.name if self.drill else None
        self.form, self._recalled = self._recalled.put_tempo(self.form, name)

    def _check_whose(self) -> None:
        """Refuse letters with which several names begin.

        Raises
        ------
        CoachError
            If they are such.
        """
        if self.form.value("athlete").strip():
            find_name(find_history(), self.form.value("athlete"))

    def _take_person(self, name: str) -> None:
        """Put somebody into the set-up, with what she chose last."""
        form = self.form.with_choices("athlete", [name])
        form = form.put(replace(form.line("athlete"), value=name))
        form = self._recalled.taken_out_of(form)  # what somebody else chose and nobody changed
        self._recalled = recall(find_history(), name)
        self.form = form.with_chosen(self._recalled.lines)
        self._read_drill()
        self._put_tempo()

    def action_open_history(self) -> None:
        """Open the history."""
        self._news = ""
        from tempo_coach.ui.history.screen import HistoryScreen

        if not find_history().exists():
            self._news = tr("There is no history yet: practise once, and your takes are in it.")
            self.draw()
            return
        try:
            history = open_there(find_history())  # a damaged one is reported and not changed
        except CoachError as error:
            self.sentence = say_error(error)
            self.draw()
            return
        self.app.push_screen(HistoryScreen(history, over_another=True), lambda _: history.close())

    def action_settle(self, show: bool) -> None:
        """Finish a broken-off take, and show its scorecard or put it aside."""
        from tempo_coach.observe.take.unfinished import finish_broken_off

        path = self._unfinished.pop(0)
        try:
            file = finish_broken_off(path)
        except CoachError as error:
            self.sentence = say_error(error)
        else:
            if show:
                from tempo_coach.ui.practice.after import LookScreen

                self.app.push_screen(LookScreen(file.take, path))
        self.draw()


def _list_people() -> tuple[str, ...]:
    """Return everybody there is; nobody where the history cannot be read."""
    try:
        return list_names(find_history())
    except CoachError:
        return ()  # the history says what is wrong with it where it is opened
