"""The practise screen: a loop that draws the conductor's picture, and keys handed on with their stamps."""

from __future__ import annotations

import math
from asyncio import to_thread
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding

from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.coach.practising.start import list_names
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.live.practice.session import Stage
from tempo_coach.reasons import Reason, Why
from tempo_coach.ui.opening import show_file
from tempo_coach.ui.practice.after import draw_after
from tempo_coach.ui.practice.moving_screen import AFTER, ENTER_KEYS, PHONES_KEY, MovingScreen
from tempo_coach.ui.practice.practice_card import draw_practice_card
from tempo_coach.ui.screen import HELP, LEAVE, Page, scroll_keys
from tempo_coach.ui.text_rows import say_least

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.binding import BindingType
    from textual.events import Key

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import FinishedTake, PracticeContext
    from tempo_coach.live.phones.link import Phones
    from tempo_coach.ui.practice.filmed import FilmedScreen
    from tempo_coach.ui.practice.sensor_table import SensorTableScreen

#: Where there is help: not while a take runs, nor while the next one comes by itself.
_HELP = {Stage.ASKING: "practise", Stage.WAITING: "practise", Stage.AFTER: "after the take"}


class PractiseScreen(MovingScreen["bool | CoachError", Conductor]):
    """One gymnast's practice, from the hands' keys to the scorecard.

    Dismissed with True to go back to the set-up, False to leave altogether, an error where the samples cannot be made.

    Parameters
    ----------
    clock : callable
        ``time.perf_counter`` but in tests.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        *ENTER_KEYS,
        Binding("left", "change_tempo(-1)", "slower", key_display="←"),
        Binding("right", "change_tempo(1)", "faster", key_display="→"),
        Binding("tab", "set_up", "set up", key_display="Tab"),
        Binding("f2", "choose_film(True)", "its film", key_display="F2"),
        Binding("f2", "choose_film(False)", "its film again", key_display="F2", show=False),
        Binding("f2", "choose_table(True)", "its table", key_display="F2"),
        Binding("f2", "choose_table(False)", "its table again", key_display="F2", show=False),
        Binding("f7", "clip", "clip", key_display="F7"),
        Binding("f3", "find_place", "another place", key_display="F3"),
        PHONES_KEY,
        *scroll_keys("cycles"),
        HELP,
        LEAVE,
    ]

    def __init__(self, context: PracticeContext, *, clock: Callable[[], float] = perf_counter) -> None:
        super().__init__(context, clock=clock)
        self._leaving = False
        self._later_form: Form | None = None

    def begin(self) -> Conductor:
        """Make the conductor of one."""
        return Conductor(self._practice, aside=self.aside, clock=self._clock)

    def fail(self, error: CoachError) -> None:
        """Go away with the error."""
        self.dismiss(error)

    @property
    def phones(self) -> Phones | None:
        """The server for phones, where there is one."""
        if self._practice.source is None:
            return None
        from tempo_coach.live.phones.link import Phones  # not before there is one

        return self._practice.source if isinstance(self._practice.source, Phones) else None

    @property
    def names(self) -> Sequence[str]:
        """She who practises, and who else is known."""
        return list_names(self._practice.athlete)

    def draw_page(self, width: int, height: int) -> Page:
        """Return the practice card while she moves, the scorecard afterwards."""
        if self.conductor is None:
            return Page([])
        session, palette = self.conductor.session, self._palette
        if session.stage in AFTER and self.conductor.takes.done:
            page = draw_after(
                self.conductor.takes.done,
                session,
                width=width,
                height=height,
                first_row=self._first_row,
                palette=palette,
            )
        else:
            picture, movement = self.conductor.picture(), self.conductor.movement
            page = Page(draw_practice_card(picture, movement, width=width, height=height, palette=palette))
        if self._cramped:
            page.rows[-1].plain = say_least()[:width].ljust(width)
        return page

    @property
    def note(self) -> str:
        """The hands' keys, the state of another source, or the remaining rest."""
        if self.conductor is None:
            return ""
        session = self.conductor.session
        if session.stage is Stage.RESTING:
            return tr("again in {ceil} s", ceil=math.ceil(session.left))
        source = self.conductor.source
        beside = self.conductor.picture().keys or ("" if source is None else source.note)
        return super().note if session.stage is Stage.AFTER else beside

    @property
    def help_name(self) -> str:  # type: ignore[override]  # another one before and after a take, none within
        """Name of the present help."""
        return _HELP.get(self.conductor.session.stage, "") if self.conductor else ""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available in the present stage."""
        conductor = self.conductor
        if conductor is None:
            return action == "leave"
        stage = conductor.session.stage
        match action:
            case "set_up":
                return stage in AFTER
            case "change_tempo":
                return stage is Stage.AFTER
            case "choose_film" | "choose_table":
                untold = bool(conductor.takes.done) and not len(conductor.takes.done[-1].take.onsets)
                by = "film" if action == "choose_film" else "sensor"
                return stage is Stage.AFTER and self._practice.observed_by == by and parameters == (untold,)
            case "clip":
                last = conductor.takes.done[-1] if conductor.takes.done else None
                return stage is Stage.AFTER and last is not None and last.film is not None and last.path is not None
            case "find_place":
                return stage is Stage.AFTER and bool(conductor.takes.homeless)
        return super().check_action(action, parameters) and (action != "scroll" or stage in AFTER)

    def on_key(self, event: Key) -> None:
        """Note keys other than those that leave; Textual passes the key on to the base."""
        self._leaving = self._leaving and event.key == "tab"

    def action_change_tempo(self, steps: int) -> None:
        """Make the next take slower or faster."""
        if self.conductor is not None:
            self.conductor.change_tempo(steps)
        self.draw()

    def action_set_up(self) -> None:
        """Go back to the set-up."""
        self._leave(back=True)

    def action_choose_film(self, _first: bool) -> None:
        """Choose the film of the take, for the first time or again."""
        from tempo_coach.ui.practice.filmed import FilmedScreen  # not before it is seen

        self._choose(FilmedScreen)

    def action_choose_table(self, _first: bool) -> None:
        """Choose the table of the take's sensor, for the first time or again."""
        from tempo_coach.ui.practice.sensor_table import SensorTableScreen  # not before it is seen

        self._choose(SensorTableScreen)

    def _choose(self, kind: type[FilmedScreen | SensorTableScreen]) -> None:
        """Open the form for a film or a table, as it was left the last time."""
        conductor = self.conductor
        if conductor is None:
            return
        screen = kind(conductor.takes.done[-1], form=self._later_form, keep=self._practice.keep)

        def back(read: FinishedTake | None) -> None:
            self._later_form = screen.form
            if read is not None:
                conductor.takes.put_in_place(read)

        self.app.push_screen(screen, back)

    def action_clip(self) -> None:
        """Write the broken cycle beside her median one, and let the system show it."""
        if self.conductor is None:
            return
        takes, last = self.conductor.takes, self.conductor.takes.done[-1]

        def tell_of(news: Reason) -> None:
            if takes.done and takes.done[-1].take is last.take:
                takes.done[-1] = replace(last, told=(*last.told, news))
            self.draw()

        async def write() -> None:
            from tempo_coach.coach.clips import clip_take  # PyAV, and not before it is wanted

            try:
                path = await to_thread(clip_take, last)
            except CoachError as error:
                tell_of(Reason(Why.NO_CLIP, (error,)))
            else:
                tell_of(Reason(Why.CLIP_WRITTEN, (path,)))
                show_file(path)

        tell_of(Reason(Why.CLIP_DRAWN))
        self.run_worker(write(), exclusive=True)

    def action_leave(self) -> None:
        """Leave the program."""
        self._leave(back=False)

    def _leave(self, *, back: bool) -> None:
        """Leave; where a take would be lost, warn first: the same key again leaves."""
        conductor = self.conductor
        if conductor is not None and not self._leaving:
            self._leaving = True
            if conductor.at_risk:
                conductor.enter(self._clock())
                return
            if conductor.takes.homeless:
                self.action_find_place()
                return
        self.take_down()
        self.dismiss(back)

    def action_find_place(self) -> None:
        """Ask for a place for takes that exist only in memory."""
        from tempo_coach.ui.practice.elsewhere import ElsewhereScreen  # seldom needed

        conductor = self.conductor
        if conductor is None:
            return

        def back(leaves: bool | None) -> None:
            if leaves:
                self._leaving = True
                self._leave(back=False)
            else:
                self.draw()

        self.app.push_screen(ElsewhereScreen(conductor), back)
