"""Conductor of one gymnast's practice: what is observed becomes takes, which are judged, written and kept."""

from __future__ import annotations

import math
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING

from tempo_coach import coach
from tempo_coach.coach.practising.picture import PracticePicture, make_picture
from tempo_coach.coach.practising.practice import FinishedTake, after_writing
from tempo_coach.coach.practising.practice_takes import PracticeTakes
from tempo_coach.coach.practising.runner import Aside, PracticeRunner
from tempo_coach.coach.practising.sensed import AWAITED, SensedTake, freeze_take_time
from tempo_coach.coach.practising.worn_words import WornWords
from tempo_coach.live.inputs.clap_start import ClapStart
from tempo_coach.live.inputs.source import Collected
from tempo_coach.live.notices import Code, Notice
from tempo_coach.live.practice import course
from tempo_coach.live.practice.last_word import WordsOfTake, find_last_word
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.observe.take.take_file import make_take
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.report.words.live import say_caution

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.inputs.source import LiveSource, SourceOnset
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.observe.observers import ObservedBy

#: Seconds after a take in which Enter does nothing: whoever ends it with the passage's last count starts no other one.
HOLD_AFTER = 0.8
_BEFORE = (Stage.ASKING, Stage.WAITING, Stage.WALKING, Stage.OPENING)


class Conductor(PracticeRunner):
    """Conducts the practice of one gymnast.

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
        super().__init__(context, source=context.source, aside=aside, clock=clock)
        self.takes = PracticeTakes()
        self._writer: TakeWriter | None = None
        self._gaps_kept = set[tuple[float, float]]()
        self._words = WordsOfTake()
        self._worn = WornWords(context.plan)
        self._clap = ClapStart(context.wait_for_clap)
        self._sensed: SensedTake | None = None
        pressed = OBSERVERS[context.observed_by].is_pressed and context.source is None
        self._begin(context.plan.hands if pressed else ())

    def _look(self) -> None:
        if self._player is not None:
            self._keep_gaps(self._player)
        self._listen()

    def _listen(self) -> None:
        begin, notice = self._clap.look(waiting=self.session.stage is Stage.WAITING)
        if notice is not None:
            self._tell(course.Noted(notice))
        if begin:
            self.enter(self._clock())

    @property
    def _observed_by(self) -> ObservedBy:
        return self._context.observed_by if self.source is None else self.source.observed_by

    def _observe(self, news: SourceOnset) -> None:
        time = self._player.take_time(news.stamp) if self._player is not None else math.nan
        self._tell(course.Observed(news.hand, news.stamp, time))

    def _follow_readings(self, player: Player) -> None:
        for word in self._worn.hear(self.source.readings() if self.source is not None else {}, player):
            self._words.add(word, self._clock())

    def _last_word(self) -> str:
        return self._words.shown.word if self._words.shown else ""

    def _open_writers(self) -> tuple[TakeWriter, ...]:
        return () if self._writer is None else (self._writer,)

    def _look_for_rest(self) -> None:
        sensed = self._sensed
        found = self.source.collected() if self.source is not None else None
        due = sensed.is_due(found, self._clock()) if sensed is not None else None
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
        """Write and archive a take that is still incomplete, since there is no more time for it."""
        sensed, self._sensed = self._sensed, None
        if sensed is None or sensed.kept:
            return
        if sensed.judged is None:
            found = self.source.collected() if self.source is not None else None
            done = sensed.judge(found or Collected(complete=False))()
            self.takes.note(self._finish(sensed.settle(done), sensed.session.how_ended))
        elif self.takes.done:
            self.takes.put_late(self._finish(sensed.settle(self.takes.done[-1]), sensed.session.how_ended))

    def change_tempo(self, steps: int) -> None:
        """Make the next take faster, or slower, by a number of steps."""
        tempi = self._context.tempi
        if tempi is not None:
            wanted = self.session.tempo_bpm + steps * tempi.step
            self._tell(course.TempoAsked(min(max(wanted, tempi.lowest), tempi.highest)))

    def picture(self) -> PracticePicture:
        """Return the present picture."""
        picture = make_picture(
            self.session,
            self._movement,
            word=self._words.shown,
            so_far=self._words.so_far,
            sound=self._say_sound(),
        )
        caution = say_caution(self._context.caution) if self.session.stage in _BEFORE else ""
        sentence = picture.sentence or self._say_trouble()
        if not sentence and self._silent_because and self.session.stage is Stage.PLAYING:
            return replace(picture, sentence=picture.sound, sound="")
        return replace(picture, sentence=sentence, caution=caution)

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

    def _open_take(self, player: Player) -> None:
        self._words, self._gaps_kept = WordsOfTake(), set()
        self._worn = WornWords(self.session.plan)
        if self._context.take_path is not None:
            self._writer = TakeWriter(
                self._context.take_path(self.session.number),
                self.session.plan,
                observed_by=self._observed_by,
                begun=self._context.begun(),
                player=player.name,
            )

    def _do_keep(self) -> None:
        onset = self.session.onsets[-1]
        if self._writer is not None:
            self._writer.onset(onset.hand, stamp=onset.stamp, time=onset.time)
        asked = self._movement.asked_near(onset.time)
        word = None if asked is None else find_last_word(asked, self.session.onsets)
        self._words.add(word, self._clock())

    def _do_end(self) -> None:
        gaps = self._stop()
        session, player = self.session, self._player
        rows = [(onset.time, onset.hand) for onset in session.onsets]
        if player is not None:
            rows = [(player.take_time(onset.stamp), onset.hand) for onset in session.onsets]
        if self.source is not None:
            self._await_rest(self.source, gaps)
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
        """Wait for the rest of a take from the source; it is judged when complete, or after a time limit."""
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
        """Whether a take is running whose file cannot be written."""
        return self._writer is not None and not self._writer.whole and bool(self.session.onsets)

    def _do_leave(self) -> None:
        super()._do_leave()
        self._clap.close()

    def _keep_gaps(self, player: Player) -> None:
        # One that is found by its consequences comes late, before others; one may turn out longer.
        for span in ((gap.start, gap.end) for gap in player.gaps):
            if self._writer is not None and span not in self._gaps_kept:
                self._writer.gap(*span)
            self._gaps_kept.add(span)
