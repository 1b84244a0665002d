"""Conductor of a practice: carries out the state machine's effects on player and disk, and reports what came of them.

It knows no screen. Whatever waits or takes long is handed to ``aside``, which calls back when it is done.
"""

from __future__ import annotations

import math
from contextlib import ExitStack
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING, Protocol, TypeVar

from tempo_coach import coach
from tempo_coach.coach.notices import tell
from tempo_coach.coach.practising.movement import Movement
from tempo_coach.coach.practising.picture import PracticePicture, make_picture
from tempo_coach.coach.practising.practice import FinishedTake, after_writing, why_unwritten
from tempo_coach.coach.practising.practice_takes import PracticeTakes
from tempo_coach.coach.practising.sensed import AWAITED, SensedTake, beats_of, freeze_take_time
from tempo_coach.coach.practising.worn_words import WornWords
from tempo_coach.live.audio.playback import NewsKind
from tempo_coach.live.inputs.clap_start import ClapStart
from tempo_coach.live.inputs.source import Collected, Remote, SourceOnset
from tempo_coach.live.notices import Code, Notice
from tempo_coach.live.practice import course
from tempo_coach.live.practice.last_word import WordsOfTake, find_last_word
from tempo_coach.live.practice.session import Stage
from tempo_coach.live.setup.calibration import Setup
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.observe.take.take_file import make_take
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.report.words.live import say_caution, say_playing, say_silent

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.inputs.source import LiveSource
    from tempo_coach.live.practice.course import Effect
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan

Result = TypeVar("Result")

#: Seconds after a take in which Enter does nothing: whoever ends it with the passage's last count starts no other one.
HOLD_AFTER = 0.8
#: Seconds by which the place of take time 0 may be off on a display before it is told again.
SHOWN_WITHIN = 0.002
_BEFORE = (Stage.ASKING, Stage.WAITING, Stage.WALKING, Stage.OPENING)


class Aside(Protocol):
    """Does something that takes long beside everything else."""

    def __call__(self, work: Callable[[], Result], then: Callable[[Result], None]) -> None:
        """Call ``work`` somewhere else, and ``then`` with what came of it, here."""


class Conductor:
    """Runs one practice.

    Parameters
    ----------
    clock : callable
        ``time.perf_counter`` but in tests.

    Attributes
    ----------
    session : Session
    takes : PracticeTakes
        Those so far.
    """

    def __init__(self, context: PracticeContext, *, aside: Aside, clock: Callable[[], float] = perf_counter) -> None:
        self.takes = PracticeTakes()
        self._context = context
        self._aside = aside
        self._clock = clock
        self._player: Player | None = None
        self._silent_because: Notice | None = None
        self._sound: Sound | None = None
        self._writer: TakeWriter | None = None
        self._gaps_kept = 0
        self._words = WordsOfTake()
        self._worn = WornWords(context.plan)
        self._steady: ExitStack | None = None
        self._clap = ClapStart(context.wait_for_clap)
        self._setup = Setup()
        self._movement = Movement(context.plan, context.course)
        self._sensed: SensedTake | None = None
        self._began = self._zero = math.nan
        pressed = OBSERVERS[context.observed_by].is_pressed and context.source is None
        hands = context.plan.hands if pressed else ()
        self.session, effects = course.begin(
            context.plan,
            stamp=clock(),
            way=context.way,
            hands=hands,
            keys=context.keys,
            at_once=context.at_once,
            tempo_bpm=context.tempo_bpm,
        )
        self._carry_out(effects)

    @property
    def movement(self) -> Movement:
        """What is done along the counts of the plan that runs."""
        return self._movement

    @property
    def player(self) -> Player | None:
        """What plays, once something does."""
        return self._player

    def tick(self) -> None:
        """Let time go on: call it ten times a second or more."""
        if self._player is not None:
            for news in self._player.poll():
                if news.kind is NewsKind.PLAYING:
                    self._setup = self._context.setup_of(self._player.name)
                    self._open_source(self._player)
                self._tell(course.event_of(news))
            self._keep_gaps(self._player)
        self._listen()
        if self._context.source is not None:
            self._hear(self._context.source)
        self._tell(course.Tick(self._clock(), self._position()))

    def _listen(self) -> None:
        begin, notice = self._clap.look(waiting=self.session.stage is Stage.WAITING)
        if notice is not None:
            self._tell(course.Noted(notice))
        if begin:
            self.enter(self._clock())

    @property
    def source(self) -> LiveSource | None:
        """What observes beside keys and microphone."""
        return self._context.source

    @property
    def _observed_by(self) -> ObservedBy:
        return self._context.observed_by if self._context.source is None else self._context.source.observed_by

    def _open_source(self, player: Player) -> None:
        source = self._context.source
        if source is not None and math.isnan(self._began) and self.session.stage is Stage.OPENING:
            self._began = self._clock()
            plan = self.session.plan
            source.begin(plan, self._began - player.position(), beats_of(plan, self._movement))

    def _hear(self, source: LiveSource) -> None:
        for news in source.poll():
            if isinstance(news, SourceOnset):
                time = self._player.take_time(news.stamp) if self._player is not None else math.nan
                self._tell(course.Observed(news.hand, news.stamp, time))
            elif isinstance(news, Remote):
                wanted = (Stage.WAITING, Stage.AFTER) if news is Remote.START else (Stage.PLAYING, Stage.PAUSED)
                if self.session.stage in wanted:
                    self.enter(self._clock())
            else:
                self._tell(course.Noted(news))
        if self._player is not None and self.session.stage is Stage.PLAYING:
            for word in self._worn.hear(source.readings(), self._player):
                self._words.add(word, self._clock())
        source.show(self._shown())
        self._look_at_sensed(source)

    def _shown(self) -> dict[str, object]:
        """What a display beside the screen shows: when take time 0 was, the last word, or what is going on."""
        playing = self.session.stage is Stage.PLAYING
        if playing and self._player is not None:
            zero = self._clock() - self._player.position()
            self._zero = self._zero if abs(zero - self._zero) < SHOWN_WITHIN else zero
            word = self._words.shown
            return {"playing": True, "zero": round(self._zero, 4), "word": word.word if word else ""}
        picture = self.picture()
        return {"playing": False, "said": f"{picture.now} {picture.number}".strip()}

    def _look_at_sensed(self, source: LiveSource) -> None:
        sensed = self._sensed
        due = sensed.is_due(source.collected(), self._clock()) if sensed is not None else None
        if sensed is None or due is None:
            return
        first = sensed.judged is None
        judge = sensed.judge(due)

        def work() -> FinishedTake:
            done = judge()
            if due.complete:
                return self._finish(sensed.settle(done), sensed.session.how_ended)
            return replace(done, told=(*done.told, AWAITED))

        def then(done: FinishedTake) -> None:
            sensed.busy = False
            if first:
                self._judged(done)
            elif sensed is self._sensed and self.takes.done:
                self.takes.put_late(done)
                self._tell(course.Noted(Notice(Code.ROWS_CAME)))

        self._aside(work, then)

    def _settle(self) -> None:
        """Write and archive a take of which something is still to come: there is no more time for it."""
        sensed, self._sensed = self._sensed, None
        if sensed is None or sensed.kept:
            return
        if sensed.judged is None:
            source = self._context.source
            found = source.collected() if source is not None else None
            done = sensed.judge(found or Collected(complete=False))()
            self.takes.note(self._finish(sensed.settle(done), sensed.session.how_ended))
        elif self.takes.done:
            self.takes.put_late(self._finish(sensed.settle(self.takes.done[-1]), sensed.session.how_ended))

    def press(self, key: str, stamp: float) -> None:
        """Take in a key."""
        time = math.nan
        if self._player is not None and self.session.stage is Stage.PLAYING:
            stamp -= self._setup.delay
            time = self._player.take_time(stamp)
        self._tell(course.Pressed(key, stamp, time))

    def enter(self, stamp: float) -> None:
        """Take in Enter."""
        time = self._player.take_time(stamp) if self._player is not None else math.nan
        self._tell(course.Entered(stamp, time))

    def change_tempo(self, steps: int) -> None:
        """Let the next take be so many steps of tempo faster, or slower."""
        tempi = self._context.tempi
        if tempi is not None:
            wanted = self.session.tempo_bpm + steps * tempi.step
            self._tell(course.TempoAsked(min(max(wanted, tempi.lowest), tempi.highest)))

    def leave(self) -> None:
        """Close everything; a running take is kept as one that was broken off."""
        self._tell(course.Leave())

    def picture(self) -> PracticePicture:
        """Return what is to be seen now."""
        picture = make_picture(
            self.session,
            self._movement,
            word=self._words.shown,
            so_far=self._words.so_far,
            sound=self._say_sound(),
        )
        trouble = tell(why_unwritten(self._writer)) if self._writer is not None else ""
        caution = say_caution(self._context.caution) if self.session.stage in _BEFORE else ""
        sentence = picture.sentence or trouble
        if not sentence and self._silent_because and self.session.stage is Stage.PLAYING:
            return replace(picture, sentence=picture.sound, sound="")
        return replace(picture, sentence=sentence, caution=caution)

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
        if self._context.walk_in is not None:
            self._let_hear(self._context.walk_in(self.session.way.ready))

    def _do_say(self) -> None:
        if self._context.verdict is not None and OBSERVERS[self._observed_by].is_there:
            previous = self.takes.done[-2].card if len(self.takes.done) > 1 else None
            said = self._context.verdict(self.takes.done[-1].card, previous, self.session.stage is Stage.RESTING)
            if said is not None:
                self._let_hear(said)

    def _let_hear(self, sound: Sound) -> None:
        """Play something beside a take; without sound it is left out, and the next take says why."""
        if self._player is None:
            self._player = self._context.make_player()
        if not self._player.silent:
            self._player.start(sound.samples, sound.rate_hz)

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
        if self._writer is not None:
            self._writer.discard()
        self._start(self._player)

    def _start(self, player: Player) -> None:
        if self._sound is None:
            raise ValueError("expected samples to be prepared before a take")
        self._settle()
        self._began = self._zero = math.nan
        self._words, self._gaps_kept = WordsOfTake(), 0
        self._worn = WornWords(self.session.plan)
        if self._context.take_path is not None:
            self._writer = TakeWriter(
                self._context.take_path(self.session.number),
                self.session.plan,
                observed_by=self._observed_by,
                begun=self._context.begun(),
                player=player.name,
            )
        self._calm_down()
        self._steady = ExitStack()
        self._steady.enter_context(self._context.steady())
        player.start(self._sound.samples, self._sound.rate_hz, loops=self._context.loops)

    def _calm_down(self) -> None:
        """Let the interpreter go back to its usual ways."""
        if self._steady is not None:
            self._steady.close()
            self._steady = None

    def _do_resume(self) -> None:
        if self._player is not None:
            self._player.resume()

    def _do_keep(self) -> None:
        onset = self.session.onsets[-1]
        if self._writer is not None:
            self._writer.onset(onset.hand, stamp=onset.stamp, time=onset.time)
        asked = self._movement.asked_near(onset.time)
        word = None if asked is None else find_last_word(asked, self.session.onsets)
        self._words.add(word, self._clock())

    def _do_end(self) -> None:
        self._calm_down()
        session, player = self.session, self._player
        gaps: tuple[tuple[float, float], ...] = ()
        rows = [(onset.time, onset.hand) for onset in session.onsets]
        if player is not None:
            player.stop()
            rows = [(player.take_time(onset.stamp), onset.hand) for onset in session.onsets]
            gaps = tuple((gap.start, gap.end) for gap in player.gaps)
        if self._context.source is not None:
            self._await_rest(self._context.source, gaps)
            return
        floor = self._setup.noise_floor_ms
        calibrated = bool(self._setup.found_by) and (player is None or player.latency_known)
        take = make_take(
            session.plan,
            rows,
            observed_by=self._context.observed_by,
            stopped=session.stopped,
            noise_floor_ms=floor,
            unmeasurable=gaps,
            calibrated=calibrated,
        )
        writer, self._writer = self._writer, None
        if writer is not None:
            writer.finish(
                rows,
                how=session.how_ended,
                stopped=session.stopped,
                noise_floor_ms=floor,
                unmeasurable=gaps,
                calibrated=calibrated,
            )
        device, setup = player.name if player is not None else "", self._setup

        def work() -> FinishedTake:
            done = FinishedTake(take, coach.judge_take(take), None, device=device, setup=setup)
            return self._finish(
                self._record(done if writer is None else after_writing(done, writer)), session.how_ended
            )

        self._aside(work, self._judged)

    def _await_rest(self, source: LiveSource, gaps: tuple[tuple[float, float], ...]) -> None:
        """Let the source give the rest of the take: it is judged when that is here, or when it was waited for."""
        now, player = self._clock(), self._player
        source.end(now)
        writer, self._writer = self._writer, None
        self._sensed = SensedTake(
            self.session,
            self._observed_by,
            freeze_take_time(player, self._began, now),
            gaps,
            player.name if player is not None else "",
            writer,
            now,
        )

    def _record(self, done: FinishedTake) -> FinishedTake:
        if self._context.record is None or self._player is None or self._sound is None:
            return done
        return self._context.record(self._sound, self._player, done)

    def _finish(self, done: FinishedTake, how: str) -> FinishedTake:
        if self._context.before is not None and not self.takes.done:
            done = replace(done, before=self._context.before(done.take))
        if self._context.keep is None or not len(done.take.onsets):
            return done
        return replace(done, unkept=self._context.keep(done, how))

    def _judged(self, done: FinishedTake) -> None:
        self.takes.add(done)
        self._tell(course.Judged(coach.is_steady(done.card)))

    @property
    def at_risk(self) -> bool:
        """Whether a take runs whose file does not take what is tapped."""
        return self._writer is not None and not self._writer.whole and bool(self.session.onsets)

    def _do_leave(self) -> None:
        self._calm_down()
        self._settle()
        self._clap.close()
        if self._context.source is not None:
            self._context.source.close()
        if self._player is not None:
            self._player.close()
        if self._writer is not None:
            self._writer.close()

    def _keep_gaps(self, player: Player) -> None:
        gaps = player.gaps
        if self._writer is not None:
            for gap in gaps[self._gaps_kept :]:
                self._writer.gap(gap.start, gap.end)
        self._gaps_kept = len(gaps)

    def _position(self) -> float:
        if self._player is None or self.session.stage is not Stage.PLAYING:
            return math.nan
        position = self._player.position()
        return position % self._player.duration if self._context.loops and position > 0 else position

    def _say_sound(self) -> str:
        if self._player is None:
            return ""
        if self._player.silent:
            return say_silent(tell(self._silent_because), self._player.name)
        return tell(self._setup.notice) or say_playing(self._player.name)
