"""A form that names files, and how far they have been read: a take's film or table afterwards, or a group."""

from __future__ import annotations

from asyncio import to_thread
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Generic, Protocol, TypeVar

from rich.text import Text
from textual.binding import Binding

from tempo_coach.coach.practising.form_line import DEFAULT
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.report.words.errors import say_error
from tempo_coach.signs import wrap
from tempo_coach.ui.form import CHANGE_KEYS, CHOOSE_KEYS, FormScreen
from tempo_coach.ui.screen import HELP, LEAVE, Page
from tempo_coach.ui.text_rows import bar, fill, warn

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.binding import BindingType

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import FinishedTake, Keep
    from tempo_coach.ui.palette import Palette

#: What is read.
Done = TypeVar("Done")
Done_co = TypeVar("Done_co", covariant=True)
#: Pictures a second while it is read.
_PICTURES_HZ = 5.0


class Read(Protocol[Done_co]):
    """A function that reads files and reports its progress."""

    def __call__(self, *, progress: Callable[[float], None]) -> Done_co:
        """Return the result."""


def draw_reading(
    done: str, sentence: str, care: str, *, told: Sequence[str] = (), width: int, height: int, palette: Palette
) -> list[Text]:
    """Return what stands below the form.

    Parameters
    ----------
    done : str
        How far it has been read; empty while it is not being read.
    sentence : str
        Why it could not be read; empty while nothing was tried.
    care : str
        What is to be minded.
    told : sequence of str
        What else is to be known, a row each.
    """
    lines = [Text()]
    if done:
        lines.append(Text(f"  {done}", palette.strong))
    lines += warn(sentence, width, palette)
    lines += [Text(f"  {row}", palette.text) for row in told]
    lines.append(Text())
    lines += [Text(f"  {row}", palette.faint) for row in wrap(tr(care), width - 4)]
    return fill(lines, width, height, palette)


class ReadingScreen(FormScreen["Done | None"], Generic[Done]):
    """A form for files to read, with progress; dismissed with the result, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "read", "read it", key_display="Enter", priority=True),
        *CHOOSE_KEYS,
        *CHANGE_KEYS,
        HELP,
        Binding("escape", "stop", "stop", key_display="Escape"),
        Binding("escape", "back", "back", key_display="Escape"),
        LEAVE,
    ]
    #: What is chosen here, what is done while it is read, and what is to be minded.
    heading: ClassVar[str]
    reading: ClassVar[str]
    care: ClassVar[str]

    def __init__(self, form: Form) -> None:
        super().__init__(form)
        self._share: float | None = None
        self._stopped = False

    def ask(self) -> Read[Done]:
        """Return a function that reads the files of the form.

        Raises
        ------
        CoachError
            If the form names none, or what it says makes no sense.
        """
        raise NotImplementedError

    def finish(self, done: Done) -> None:
        """Dismiss the screen with the result, unless overridden."""
        self.dismiss(done)

    def refused(self, error: CoachError) -> None:
        """Say why the file could not be read, or which question comes first."""
        self.sentence = say_error(error)

    @property
    def told(self) -> Sequence[str]:
        """Further information, a row each."""
        return ()

    def on_mount(self) -> None:
        """Draw, and redraw while reading."""
        self.set_interval(1 / _PICTURES_HZ, self._draw_reading)

    def on_unmount(self) -> None:
        """Stop reading, however the screen was closed."""
        self._stopped = True

    def draw_head(self, width: int) -> Text:
        """Return the title and the subject."""
        return bar(f" tempo_coach   {tr(self.heading)}", f"{self.about} ", width, self._palette)

    @property
    def about(self) -> str:
        """What it is of, at the right of the head."""
        return ""

    def draw_page(self, width: int, height: int) -> Page:
        """Return the progress of reading."""
        done = "" if self._share is None else f"{tr(self.reading)} … {self._share:4.0%}"
        rows = draw_reading(
            done,
            self.sentence,
            self.care,
            told=self.told,
            width=width,
            height=height,
            palette=self._palette,
        )
        return Page(rows)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available: while reading, only stopping is."""
        reading = self._share is not None
        if action in ("stop", "back"):
            return reading is (action == "stop")
        return super().check_action(action, parameters) and (not reading or action == "leave")

    def action_stop(self) -> None:
        """Stop reading, and go back."""
        self._stopped = True
        self.dismiss(None)

    def action_read(self) -> None:
        """Read it."""
        try:
            read = self.ask()
        except CoachError as error:
            self.refused(error)
        else:
            self.sentence, self._share = "", 0.0
            self.hold_still(True)
            self.run_worker(self._read_beside(read))
        self.draw()

    async def _read_beside(self, read: Read[Done]) -> None:
        try:
            done = await to_thread(read, progress=self._note)
        except CoachError as error:
            if not self._stopped:
                self._share = None
                self.hold_still(False)
                self.refused(error)
                self.draw()
        else:
            if not self._stopped:
                self.finish(done)

    def _note(self, share: float) -> None:
        """Record the progress, in the thread that reads; abort where nobody waits any more."""
        if self._stopped:
            raise CoachError("filmed.broken_off")
        self._share = share

    def _draw_reading(self) -> None:
        if self._share is not None:
            self.draw()


class AfterwardsScreen(ReadingScreen["FinishedTake"]):
    """A form for files that show a take; dismissed with the take read from them, or None.

    The files that may show it are offered in the form's first line; one that was written since the take began is
    chosen there already.

    Parameters
    ----------
    last : FinishedTake
        The take as it was practised.
    keep : callable or None
        Puts the take into the history.
    """

    def __init__(self, last: FinishedTake, form: Form, *, keep: Keep | None = None) -> None:
        super().__init__(form)
        self._last = last
        self._keep = keep

    @property
    def about(self) -> str:
        """The drill."""
        return tr(self._last.take.plan.title)

    def offer(self) -> Sequence[str]:
        """Return files that may show the take, the newest first; called in a thread."""
        raise NotImplementedError

    def on_screen_resume(self) -> None:
        """Look for files to offer."""
        self.run_worker(self._look_round())

    async def _look_round(self) -> None:
        found, since = await to_thread(self._find)
        line = self.form.lines[0]
        form = self.form.with_choices(line.key, (DEFAULT, *found))
        line = form.line(line.key)
        chosen = since if since and not line.value else line.value
        self.form = form.put(replace(line, value=chosen))
        if chosen != line.value:
            self.form_changed(self.form.line(line.key))
        self.draw()

    def _find(self) -> tuple[Sequence[str], str]:
        """Return files that may show the take, and the newest where it was written since the take began."""
        files, path = self.offer(), self._last.path
        if not files or path is None:
            return files, ""
        try:
            begun = path.stat().st_mtime - self._last.take.plan.duration
            return files, files[0] if Path(files[0]).stat().st_mtime >= begun else ""
        except OSError:
            return files, ""
