"""The practise screen: a loop that draws the conductor's picture, and keys handed on with their stamps."""

from __future__ import annotations

from asyncio import to_thread
from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

from tempo_coach.coach.practising.conductor import HOLD_AFTER, Conductor
from tempo_coach.errors import CoachError
from tempo_coach.live.practice.session import Stage
from tempo_coach.ui.floor import LEAST_HEIGHT, LEAST_WIDTH, draw_floor, say_least
from tempo_coach.ui.practice.after import FOOT, FOOT_HOMELESS, draw_after
from tempo_coach.ui.screen import STEPS, CardScreen, name_of, stamp_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.text import Text
    from textual.binding import BindingType
    from textual.events import Key

    from tempo_coach.coach.practising.conductor import Result
    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import Done, Go

#: Pictures a second. The sound is the reference, and the picture may lag.
PICTURES_HZ = 15.0
_AFTER = (Stage.AFTER, Stage.RESTING)
#: Where there is help: not while a take runs, nor while the next one comes by itself.
_HELP = {Stage.ASKING: "practise", Stage.WAITING: "practise", Stage.AFTER: "after the take"}


class PractiseScreen(CardScreen["bool | CoachError"]):
    """One practice, from the hands' keys to the scorecard.

    Dismissed with True to go back to the set-up, False to leave altogether, an error where the samples cannot be made.

    Parameters
    ----------
    go : Go
    clock : callable
        ``time.perf_counter`` but in tests.
    """

    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "leave", "Leave")]

    def __init__(self, go: Go, *, clock: Callable[[], float] = perf_counter) -> None:
        super().__init__()
        self._clock = clock
        self._go = go
        self._first_row = 0
        self._taken_down = False
        self._leaving = False
        self._film_form: Form | None = None
        self.conductor: Conductor | None = None

    def on_mount(self) -> None:
        """Begin."""
        self.conductor = Conductor(self._go, aside=self._aside, clock=self._clock)
        self.set_interval(1 / PICTURES_HZ, self.draw)

    def on_unmount(self) -> None:
        """Close what the practice opened, however the screen went away."""
        self._take_down()

    def draw(self) -> None:
        """Let the practice go on and show where it is."""
        if self.conductor is None or self._taken_down:
            return
        self.conductor.tick()
        super().draw()

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return the floor card while she moves, the scorecard afterwards."""
        if self.conductor is None:
            return []
        session = self.conductor.session
        if session.stage in _AFTER and self.conductor.done:
            rows = draw_after(
                self.conductor.done,
                session,
                width=width,
                height=height,
                first_row=self._first_row,
                palette=self._palette,
                foot=FOOT_HOMELESS if self.conductor.homeless else FOOT,
            )
        else:
            self._first_row = 0
            rows = draw_floor(
                self.conductor.picture(), self.conductor.movement, width=width, height=height, palette=self._palette
            )
        if width < LEAST_WIDTH or height < LEAST_HEIGHT:
            rows[-2].plain = say_least()[:width].ljust(width)
        return rows

    @property
    def help_name(self) -> str:  # type: ignore[override]  # another one before and after a take, none within
        """Which help there is now."""
        return _HELP.get(self.conductor.session.stage, "") if self.conductor else ""

    def take_key(self, event: Key) -> None:
        """Hand a key on: the stamp was taken in the input thread."""
        conductor = self.conductor
        if conductor is None:
            return
        self._leaving = self._leaving and event.key == "tab"
        stamp = stamp_of(event, self._clock)
        stage = conductor.session.stage
        if event.key == "enter":
            if stage not in _AFTER or self._clock() - conductor.session.since >= HOLD_AFTER:
                conductor.enter(stamp)
        elif stage in _AFTER and event.key in STEPS:
            self._first_row = max(0, self._first_row + STEPS[event.key])
        elif stage is Stage.AFTER and event.key == "f2" and self._go.observed_by == "film":
            self._choose_film()
            return
        elif stage is Stage.AFTER and event.key == "f3" and conductor.homeless:
            self._find_place(conductor)
            return
        elif stage in _AFTER and event.key == "tab":
            self._leave(back=True)
            return
        else:
            conductor.press(name_of(event), stamp)
        if stage is not Stage.PLAYING:
            self.draw()

    def _choose_film(self) -> None:
        from tempo_coach.ui.practice.filmed import FilmedScreen  # not before it is seen

        conductor = self.conductor
        if conductor is None:
            return
        screen = FilmedScreen(conductor.done[-1], form=self._film_form, keep=self._go.keep)

        def back(read: Done | None) -> None:
            self._film_form = screen.form
            if read is not None:
                conductor.put_in_place(read)

        self.app.push_screen(screen, back)

    def action_leave(self) -> None:
        """Leave the program."""
        self._leave(back=False)

    def _leave(self, *, back: bool) -> None:
        """Leave; where a take would be lost, say so first: the same key again leaves."""
        conductor = self.conductor
        if conductor is not None and not self._leaving:
            self._leaving = True
            if conductor.at_risk:
                conductor.enter(self._clock())
                return
            if conductor.homeless:
                self._find_place(conductor)
                return
        self._take_down()
        self.dismiss(back)

    def _find_place(self, conductor: Conductor) -> None:
        from tempo_coach.ui.practice.elsewhere import ElsewhereScreen  # seldom needed

        def back(leaves: bool | None) -> None:
            if leaves:
                self._leaving = True
                self._leave(back=False)
            else:
                self.draw()

        self.app.push_screen(ElsewhereScreen(conductor), back)

    def _take_down(self) -> None:
        if not self._taken_down and self.conductor is not None:
            self._taken_down = True
            self.conductor.leave()

    def _aside(self, work: Callable[[], Result], then: Callable[[Result], None]) -> None:
        async def do() -> None:
            try:
                done = await to_thread(work)
            except CoachError as error:
                self._take_down()
                self.dismiss(error)
                return
            then(done)

        self.run_worker(do())
