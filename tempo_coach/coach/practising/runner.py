"""Runner of a practice: carries out the effects of its course that need a player, keys or other sources.

It knows no screen, and neither who moves nor what becomes of a take: the conductors of one and of a group add that.
Whatever waits or takes long is handed to ``aside``, which calls back when it is done.
"""

from __future__ import annotations

import math
from contextlib import ExitStack
from time import perf_counter
from typing import TYPE_CHECKING, Protocol, TypeVar

from tempo_coach.coach.notices import tell
from tempo_coach.coach.practising.movement import Movement
from tempo_coach.coach.practising.practice import why_unwritten
from tempo_coach.coach.practising.sensed import beats_of
from tempo_coach.languages import tr, tr_as
from tempo_coach.live.audio.playback import NewsKind
from tempo_coach.live.inputs.source import Remote, SourceOnset
from tempo_coach.live.practice import course
from tempo_coach.live.practice.session import Stage
from tempo_coach.live.setup.calibration import Setup
from tempo_coach.report.words.live import say_playing, say_silent

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from tempo_coach.coach.practising.picture import PracticePicture
    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.inputs.source import LiveSource
    from tempo_coach.live.notices import Notice
    from tempo_coach.live.practice.course import Effect
    from tempo_coach.live.practice.session import PracticeState
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.observe.take.take_writer import TakeWriter
    from tempo_coach.pattern.plan.plan import Plan

Result = TypeVar("Result")

#: Seconds by which take time 0 may be off on a display before it is sent again.
SHOWN_WITHIN = 0.002


class Aside(Protocol):
    """Runs something slow beside everything else."""

    def __call__(self, work: Callable[[], Result], then: Callable[[Result], None]) -> None:
        """Call ``work`` elsewhere, and ``then`` with its result here."""


class PracticeRunner:
    """Runs the course of a practice with a player.

    Parameters
    ----------
    context : PracticeContext
    source : LiveSource or None
        What observes beside keys and microphone.
    aside : Aside
    clock : callable
        ``time.perf_counter`` but in tests.

    Attributes
    ----------
    session : PracticeState
    source : LiveSource or None
    """

    session: PracticeState

    def __init__(
        self,
        context: PracticeContext,
        *,
        source: LiveSource | None,
        aside: Aside,
        clock: Callable[[], float] = perf_counter,
    ) -> None:
        self.source = source
        self._context, self._aside, self._clock = context, aside, clock
        self._player: Player | None = None
        self._silent_because: Notice | None = None
        self._sound: Sound | None = None
        self._steady: ExitStack | None = None
        self._setup = Setup()
        self._movement = Movement(context.plan, context.course)
        self._began = self._zero = math.nan

    def _begin(self, hands: Sequence[str]) -> None:
        context = self._context
        self.session, effects = course.begin(
            context.plan,
            stamp=self._clock(),
            way=context.way,
            hands=tuple(hands),
            keys=context.keys,
            at_once=context.at_once,
            tempo_bpm=context.tempo_bpm,
        )
        self._carry_out(effects)

    @property
    def movement(self) -> Movement:
        """The movement of the running plan."""
        return self._movement

    @property
    def player(self) -> Player | None:
        """The player, once there is one."""
        return self._player

    def tick(self) -> None:
        """Advance the practice: call it at least ten times a second."""
        if self._player is not None:
            for news in self._player.poll():
                if news.kind is NewsKind.PLAYING:
                    self._setup = self._context.setup_of(self._player.name)
                    self._open_source(self._player)
                self._tell(course.event_of(news))
        self._look()
        if self.source is not None:
            self._hear(self.source)
        self._tell(course.Tick(self._clock(), self._position()))

    def press(self, key: str, stamp: float) -> None:
        """Handle a key."""
        time = math.nan
        if self._player is not None and self.session.stage is Stage.PLAYING:
            stamp -= self._setup.delay
            time = self._player.take_time(stamp)
        self._tell(course.Pressed(key, stamp, time))

    def enter(self, stamp: float) -> None:
        """Handle Enter."""
        time = self._player.take_time(stamp) if self._player is not None else math.nan
        self._tell(course.Entered(stamp, time))

    def leave(self) -> None:
        """Close everything; a running take is kept as broken off."""
        self._tell(course.Leave())

    def picture(self) -> PracticePicture:
        """Return the present picture."""
        raise NotImplementedError

    def _look(self) -> None:
        """Check further inputs at every tick."""

    def _observe(self, news: SourceOnset) -> None:
        """Handle an onset."""
        raise NotImplementedError

    def _follow_readings(self, player: Player) -> None:
        """Process the readings of worn sensors while a take runs."""

    def _look_for_rest(self) -> None:
        """Judge an incomplete take once its rest has arrived."""

    def _open_take(self, player: Player) -> None:
        """Begin a take without onsets."""
        raise NotImplementedError

    def _settle(self) -> None:
        """Finish a take that is still incomplete, since there is no more time for it."""

    def _open_writers(self) -> Iterable[TakeWriter]:
        """Return the writers of the running take."""
        return ()

    def _last_word(self) -> str:
        return ""

    def _hear(self, source: LiveSource) -> None:
        for news in source.poll():
            if isinstance(news, SourceOnset):
                self._observe(news)
            elif isinstance(news, Remote):
                wanted = (Stage.WAITING, Stage.AFTER) if news is Remote.START else (Stage.PLAYING, Stage.PAUSED)
                if self.session.stage in wanted:
                    self.enter(self._clock())
            else:
                self._tell(course.Noted(news))
        if self._player is not None and self.session.stage is Stage.PLAYING:
            self._follow_readings(self._player)
        source.show(self._shown())
        self._look_for_rest()

    def _open_source(self, player: Player) -> None:
        if self.source is not None and math.isnan(self._began) and self.session.stage is Stage.OPENING:
            self._began = self._clock()
            plan = self.session.plan
            self.source.begin(plan, self._began - player.position(), beats_of(plan, self._movement))

    def _shown(self) -> dict[str, object]:
        """Return the state of displays beside the screen: start of take time, last word, or the present stage."""
        if self.session.stage is Stage.PLAYING and self._player is not None:
            zero = self._clock() - self._player.position()
            self._zero = self._zero if abs(zero - self._zero) < SHOWN_WITHIN else zero
            return {"playing": True, "zero": round(self._zero, 4), "word": tr(self._last_word())}
        picture = self.picture()
        return {"playing": False, "said": f"{tr_as('phase', picture.now)} {picture.number}".strip()}

    def _tell(self, event: course.Event) -> None:
        self.session, effects = course.step(self.session, event)
        self._carry_out(effects)

    def _carry_out(self, effects: tuple[Effect, ...]) -> None:
        for effect in effects:
            getattr(self, f"_do_{effect.name.lower()}")()

    def _do_prepare(self) -> None:
        tempo = self.session.tempo_bpm

        def then(made: tuple[Plan, Sound]) -> None:
            if tempo == self.session.tempo_bpm:  # another tempo was chosen meanwhile, and its samples are on their way
                self._prepared(made)

        self._aside(lambda: self._context.sound_of(tempo), then)

    def _prepared(self, made: tuple[Plan, Sound]) -> None:
        plan, self._sound = made
        self._movement = Movement(plan, self._context.course)
        self._tell(course.Prepared(plan))

    def _do_walk(self) -> None:
        """Play nothing during the walk-in."""

    def _do_say(self) -> None:
        """Say nothing of a take."""

    def _do_play(self) -> None:
        if self._player is None:
            self._player = self._context.make_player()
        self._silent_because = self._player.notice if self._player.silent else None
        self._start(self._player)

    def _do_play_silently(self) -> None:
        self._silent_because = self.session.notice
        if self._player is not None:
            self._player.close()
        self._player = self._context.make_silent(self._silent_because)
        for writer in self._open_writers():
            writer.discard()
        self._start(self._player)

    def _start(self, player: Player) -> None:
        if self._sound is None:
            raise ValueError("expected samples to be prepared before a take")
        self._settle()
        self._began = self._zero = math.nan
        self._open_take(player)
        self._calm_down()
        self._steady = ExitStack()
        self._steady.enter_context(self._context.steady())
        player.start(self._sound.samples, self._sound.rate_hz, loops=self._context.loops)

    def _calm_down(self) -> None:
        """Restore the interpreter's settings."""
        if self._steady is not None:
            self._steady.close()
            self._steady = None

    def _do_resume(self) -> None:
        if self._player is not None:
            self._player.resume()

    def _stop(self) -> tuple[tuple[float, float], ...]:
        """Stop playback and return the stretches that were not heard."""
        self._calm_down()
        if self._player is None:
            return ()
        self._player.stop()
        return tuple((gap.start, gap.end) for gap in self._player.gaps)

    def _do_leave(self) -> None:
        self._calm_down()
        self._settle()
        for opened in (self.source, self._player, *self._open_writers()):
            if opened is not None:
                opened.close()

    def _position(self) -> float:
        if self._player is None or self.session.stage is not Stage.PLAYING:
            return math.nan
        position = self._player.position()
        return position % self._player.duration if self._context.loops and position > 0 else position

    def _say_trouble(self) -> str:
        """Return a sentence where a take's file cannot be written."""
        unwritten = next((each for each in self._open_writers() if not each.whole), None)
        return tell(why_unwritten(unwritten)) if unwritten is not None else ""

    def _say_sound(self) -> str:
        if self._player is None:
            return ""
        if self._player.silent:
            return say_silent(tell(self._silent_because))
        return tell(self._setup.notice) or say_playing(self._player.name)
