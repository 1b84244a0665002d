"""The practise screen: a loop that draws the conductor's picture, and keys handed on with their stamps."""

from __future__ import annotations

import math
from asyncio import to_thread
from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding

from tempo_coach.coach.practising.conductor import HOLD_AFTER, Conductor
from tempo_coach.coach.practising.start import list_names
from tempo_coach.errors import CoachError
from tempo_coach.live.practice.session import Stage
from tempo_coach.ui.practice.after import draw_after
from tempo_coach.ui.practice.practice_card import draw_practice_card
from tempo_coach.ui.screen import HELP, LEAVE, CardScreen, Page, name_of, scroll_keys, stamp_of
from tempo_coach.ui.text_rows import say_least

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.binding import BindingType
    from textual.events import Key

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import FinishedTake, PracticeContext
    from tempo_coach.coach.practising.runner import Result
    from tempo_coach.live.phones.link import Phones
    from tempo_coach.ui.practice.filmed import FilmedScreen
    from tempo_coach.ui.practice.sensor_table import SensorTableScreen

#: Pictures a second. The sound is the reference, and the picture may lag.
PICTURES_HZ = 15.0
_AFTER = (Stage.AFTER, Stage.RESTING)
#: Where there is help: not while a take runs, nor while the next one comes by itself.
_HELP = {Stage.ASKING: "practise", Stage.WAITING: "practise", Stage.AFTER: "after the take"}
#: What Enter does, stage by stage.
_ENTER = {
    Stage.ASKING: "usual keys, and start",
    Stage.WAITING: "start",
    Stage.WALKING: "start now",
    Stage.PLAYING: "end the take",
    Stage.PAUSED: "end the take",
    Stage.RESTING: "stay here",
    Stage.AFTER: "again",
}


#: Enter in each stage.
ENTER_KEYS = tuple(
    Binding("enter", f"go('{stage.name}')", words, key_display="Enter") for stage, words in _ENTER.items()
)


class PractiseScreen(CardScreen["bool | CoachError"]):
    """One practice, from the hands' keys to the scorecard.

    Dismissed with True to go back to the set-up, False to leave altogether, an error where the samples cannot be made.

    Parameters
    ----------
    clock : callable
        ``time.perf_counter`` but in tests.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        *ENTER_KEYS,
        Binding("left", "change_tempo(-1)", "slower", key_display="Left"),
        Binding("right", "change_tempo(1)", "faster", key_display="Right"),
        Binding("tab", "set_up", "set up", key_display="Tab"),
        Binding("f2", "choose_film(True)", "its film", key_display="F2"),
        Binding("f2", "choose_film(False)", "its film again", key_display="F2", show=False),
        Binding("f2", "choose_table(True)", "its table", key_display="F2"),
        Binding("f2", "choose_table(False)", "its table again", key_display="F2", show=False),
        Binding("f3", "find_place", "another place", key_display="F3"),
        Binding("f6", "phones", "phones", key_display="F6"),
        *scroll_keys("cycles"),
        HELP,
        LEAVE,
    ]

    def __init__(self, context: PracticeContext, *, clock: Callable[[], float] = perf_counter) -> None:
        super().__init__()
        self._clock = clock
        self._practice = context
        self._stamp = 0.0
        self._taken_down = False
        self._leaving = False
        self._later_form: Form | None = None
        self.conductor: Conductor | None = None

    def on_mount(self) -> None:
        """Begin."""
        self.conductor = Conductor(self._practice, aside=self._aside, clock=self._clock)
        self.set_interval(1 / PICTURES_HZ, self.draw)
        self.action_phones()

    @property
    def _phones(self) -> Phones | None:
        """The server for phones, where there is one."""
        if self._practice.source is None:
            return None
        from tempo_coach.live.phones.link import Phones  # not before there is one

        return self._practice.source if isinstance(self._practice.source, Phones) else None

    def on_unmount(self) -> None:
        """Close what the practice opened, however the screen went away."""
        self._take_down()

    def draw(self) -> None:
        """Let the practice go on and show where it is."""
        if self.conductor is None or self._taken_down:
            return
        self.conductor.tick()
        super().draw()

    def draw_page(self, width: int, height: int) -> Page:
        """Return the practice card while she moves, the scorecard afterwards."""
        if self.conductor is None:
            return Page([])
        session, palette = self.conductor.session, self._palette
        if session.stage in _AFTER and self.conductor.takes.done:
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
        """The hands' keys, what there is of another source, or how long she rests."""
        if self.conductor is None:
            return ""
        session = self.conductor.session
        if session.stage is Stage.RESTING:
            return f"again in {math.ceil(session.left)} s"
        source = self.conductor.source
        beside = self.conductor.picture().keys or ("" if source is None else source.note)
        return super().note if session.stage is Stage.AFTER else beside

    @property
    def help_name(self) -> str:  # type: ignore[override]  # another one before and after a take, none within
        """Which help there is now."""
        return _HELP.get(self.conductor.session.stage, "") if self.conductor else ""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Each stage has its keys."""
        conductor = self.conductor
        if conductor is None:
            return action == "leave"
        stage = conductor.session.stage
        match action:
            case "go":
                return parameters == (stage.name,)
            case "set_up":
                return stage in _AFTER
            case "change_tempo":
                return stage is Stage.AFTER
            case "choose_film" | "choose_table":
                untold = bool(conductor.takes.done) and not len(conductor.takes.done[-1].take.onsets)
                by = "film" if action == "choose_film" else "sensor"
                return stage is Stage.AFTER and self._practice.observed_by == by and parameters == (untold,)
            case "phones":
                return self._phones is not None and stage not in (Stage.PLAYING, Stage.OPENING, Stage.JUDGING)
            case "find_place":
                return stage is Stage.AFTER and bool(conductor.takes.homeless)
        return super().check_action(action, parameters) and (action != "scroll" or stage in _AFTER)

    def on_key(self, event: Key) -> None:
        """Hand a key on that is none of the screen's own: its stamp was taken in the input thread."""
        self._stamp = stamp_of(event, self._clock)
        self._leaving = self._leaving and event.key == "tab"
        if event.key == "enter" or event.key in self.active_bindings or self.conductor is None:
            return
        event.stop()
        event.prevent_default()
        self.conductor.press(name_of(event), self._stamp)
        if self.conductor.session.stage is not Stage.PLAYING:
            self.draw()

    def action_go(self, stage: str) -> None:
        """Go on to what comes after a stage; whoever presses once more at once starts nothing."""
        conductor = self.conductor
        if conductor is None:
            return
        if Stage[stage] not in _AFTER or self._clock() - conductor.session.since >= HOLD_AFTER:
            conductor.enter(self._stamp)
        self.draw()

    def action_change_tempo(self, steps: int) -> None:
        """Let the next take be slower or faster."""
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
        """Open the form for what shows the take, as it was left the last time."""
        conductor = self.conductor
        if conductor is None:
            return
        screen = kind(conductor.takes.done[-1], form=self._later_form, keep=self._practice.keep)

        def back(read: FinishedTake | None) -> None:
            self._later_form = screen.form
            if read is not None:
                conductor.takes.put_in_place(read)

        self.app.push_screen(screen, back)

    def action_phones(self) -> None:
        """Show the code for phones, and let them in."""
        phones = self._phones
        if phones is None:
            return
        from tempo_coach.ui.practice.joining import JoiningScreen  # not before it is seen

        names = list_names(self._practice.athlete)
        screen = JoiningScreen(phones, hands=self._practice.plan.hands, names=names)
        self.app.push_screen(screen, lambda _: self.draw())

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
            if conductor.takes.homeless:
                self.action_find_place()
                return
        self._take_down()
        self.dismiss(back)

    def action_find_place(self) -> None:
        """Find a place for takes that lie in memory alone."""
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
