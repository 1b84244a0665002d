"""The base of the screens of a practice: a conductor's picture, keys with their stamps, phones."""

from __future__ import annotations

from asyncio import to_thread
from time import perf_counter
from typing import TYPE_CHECKING, Generic, TypeVar

from textual.binding import Binding
from textual.screen import ScreenResultType

from tempo_coach.coach.practising.conductor import HOLD_AFTER
from tempo_coach.coach.practising.runner import PracticeRunner
from tempo_coach.errors import CoachError
from tempo_coach.live.practice.session import Stage
from tempo_coach.ui.screen import CardScreen, name_of, stamp_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.events import Key

    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.coach.practising.runner import Result
    from tempo_coach.live.phones.link import Phones

#: Pictures a second. The sound is the reference, and the picture may lag.
PICTURES_HZ = 15.0
#: Stages in which a take is over, and another may come.
AFTER = (Stage.AFTER, Stage.RESTING)
#: Stages in which the phones are left alone.
_BUSY = (Stage.PLAYING, Stage.OPENING, Stage.JUDGING)
_ENTER_WORDS = {
    Stage.ASKING: "usual keys, and start",
    Stage.WAITING: "start",
    Stage.WALKING: "start now",
    Stage.PLAYING: "end the take",
    Stage.PAUSED: "end the take",
    Stage.RESTING: "stay here",
    Stage.AFTER: "again",
}
#: What Enter does, stage by stage.
ENTER_KEYS = tuple(
    Binding("enter", f"go('{stage.name}')", words, key_display="Enter") for stage, words in _ENTER_WORDS.items()
)
PHONES_KEY = Binding("f6", "phones", "phones", key_display="F6")

Runner = TypeVar("Runner", bound=PracticeRunner)


class MovingScreen(CardScreen[ScreenResultType], Generic[ScreenResultType, Runner]):
    """A practice on the screen: it drives a conductor, and passes it what is pressed.

    Parameters
    ----------
    context : PracticeContext
    clock : callable
        ``time.perf_counter`` but in tests.

    Attributes
    ----------
    conductor : PracticeRunner or None
        None before the screen is mounted.
    """

    def __init__(self, context: PracticeContext, *, clock: Callable[[], float] = perf_counter) -> None:
        super().__init__()
        self._practice, self._clock = context, clock
        self._stamp = 0.0
        self._taken_down = False
        self.conductor: Runner | None = None

    def begin(self) -> Runner:
        """Make and start the conductor."""
        raise NotImplementedError

    def fail(self, error: CoachError) -> None:
        """Close the screen since the practice cannot continue; everything else is closed already."""
        raise NotImplementedError

    @property
    def phones(self) -> Phones | None:
        """The server for phones, where there is one."""
        raise NotImplementedError

    @property
    def names(self) -> Sequence[str]:
        """Who may be at a phone."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Begin."""
        self.conductor = self.begin()
        self.set_interval(1 / PICTURES_HZ, self.draw)
        self.action_phones()

    def on_unmount(self) -> None:
        """Close what the practice opened, however the screen went away."""
        self.take_down()

    def draw(self) -> None:
        """Advance the practice and draw it."""
        if self.conductor is None or self._taken_down:
            return
        self.conductor.tick()
        super().draw()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available in the present stage."""
        if self.conductor is None:
            return action == "leave"
        stage = self.conductor.session.stage
        if action == "go":
            return parameters == (stage.name,)
        if action == "phones":
            return self.phones is not None and stage not in _BUSY
        return super().check_action(action, parameters)

    def on_key(self, event: Key) -> None:
        """Pass on a key that is none of the screen's own, with its stamp from the input thread."""
        self._stamp = stamp_of(event, self._clock)
        if event.key == "enter" or event.key in self.active_bindings or self.conductor is None:
            return
        event.stop()
        event.prevent_default()
        self.conductor.press(name_of(event), self._stamp)
        if self.conductor.session.stage is not Stage.PLAYING:
            self.draw()

    def action_go(self, stage: str) -> None:
        """Continue after a stage; a second press right after it starts nothing."""
        conductor = self.conductor
        if conductor is not None and (
            Stage[stage] not in AFTER or self._clock() - conductor.session.since >= HOLD_AFTER
        ):
            conductor.enter(self._stamp)
        self.draw()

    def action_phones(self) -> None:
        """Show the code for phones, and admit them."""
        phones = self.phones
        if phones is None:
            return
        from tempo_coach.ui.practice.joining import JoiningScreen  # not before it is seen

        screen = JoiningScreen(
            phones, hands=self._practice.plan.hands, names=self.names, worn_at=self._practice.worn_at
        )
        self.app.push_screen(screen, lambda _: self.draw())

    def take_down(self) -> None:
        """Close what the practice opened, once."""
        if not self._taken_down and self.conductor is not None:
            self._taken_down = True
            self.conductor.leave()

    def aside(self, work: Callable[[], Result], then: Callable[[Result], None]) -> None:
        """Run slow work in a thread, and continue with its result."""

        async def do() -> None:
            try:
                done = await to_thread(work)
            except CoachError as error:
                self.take_down()
                self.fail(error)
                return
            then(done)

        self.run_worker(do())
