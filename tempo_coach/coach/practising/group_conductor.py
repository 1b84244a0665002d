"""A group that is observed while it moves: keys of several people, or phones; who is early now, and its card.

The course of a take is that of a practice (:mod:`tempo_coach.live.practice.course`); every member has a take of her
own, with a file of its own from its first onset on.
"""

from __future__ import annotations

import math
from contextlib import ExitStack
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING

from tempo_coach.coach.notices import tell
from tempo_coach.coach.practising.group_takes import (
    SUREST,
    GroupTake,
    MemberHand,
    OverTake,
    finish,
    judge_together,
    parts_of,
    takes_of,
)
from tempo_coach.coach.practising.movement import Movement
from tempo_coach.coach.practising.picture import PracticePicture, make_picture
from tempo_coach.coach.practising.practice import why_unwritten
from tempo_coach.coach.practising.sensed import WAITS, beats_of, freeze_take_time
from tempo_coach.coach.practising.worn_words import WornWords
from tempo_coach.errors import CoachError
from tempo_coach.live.audio.playback import NewsKind
from tempo_coach.live.inputs.source import Collected, Remote, SourceOnset
from tempo_coach.live.notices import Code, Notice
from tempo_coach.live.practice import course
from tempo_coach.live.practice.session import Stage
from tempo_coach.live.setup.calibration import Setup
from tempo_coach.observe.take.take_file import ENDING
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.report.words.live import say_caution, say_playing, say_silent
from tempo_coach.score.group.now import MemberNow, measure_now

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.coach.practising.conductor import Aside
    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.phones.link import Phones
    from tempo_coach.live.practice.course import Effect
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.pattern.plan.plan import Plan

_BEFORE = (Stage.ASKING, Stage.WAITING, Stage.OPENING)


class GroupConductor:
    """Runs one practice of a group.

    Parameters
    ----------
    context : PracticeContext
    members : sequence of str
    phones : Phones or None
        What observes; None for keys.
    aside : Aside
    clock : callable
        ``time.perf_counter`` but in tests.

    Attributes
    ----------
    session : PracticeState
    takes : list of GroupTake
    """

    def __init__(
        self,
        context: PracticeContext,
        members: Sequence[str],
        *,
        aside: Aside,
        phones: Phones | None = None,
        clock: Callable[[], float] = perf_counter,
    ) -> None:
        self.members, self.phones = tuple(members), phones
        self.takes: list[GroupTake] = []
        self._context, self._aside, self._clock = context, aside, clock
        self._player: Player | None = None
        self._sound: Sound | None = None
        self._setup = Setup()
        self._steady: ExitStack | None = None
        self._silent_because: Notice | None = None
        self._writers: dict[str, TakeWriter] = {}
        self._onsets: list[tuple[MemberHand, float]] = []
        self._worn: dict[str, WornWords] = {}
        self._cycles: dict[str, list[tuple[float, str]]] = {}
        self._over: OverTake | None = None
        self._judged_rows = -1
        self._busy = False
        self._began = self._zero = math.nan
        self.movement = Movement(context.plan)
        self._parts = parts_of(members, context.plan)
        self.session, effects = course.begin(
            context.plan,
            stamp=clock(),
            way=context.way,
            hands=tuple(self._parts) if phones is None else (),
            keys=context.keys,
            tempo_bpm=context.tempo_bpm,
        )
        self._carry_out(effects)

    def tick(self) -> None:
        """Let time go on: call it ten times a second or more."""
        if self._player is not None:
            for news in self._player.poll():
                if news.kind is NewsKind.PLAYING:
                    self._setup = self._context.setup_of(self._player.name)
                    self._open_phones(self._player)
                self._tell(course.event_of(news))
        if self.phones is not None:
            self._hear(self.phones)
        playing = self._player is not None and self.session.stage is Stage.PLAYING
        position = self._player.position() if self._player is not None and playing else math.nan
        self._tell(course.Tick(self._clock(), position))

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

    def leave(self) -> None:
        """Close everything; a running take's files are kept as of one that was broken off."""
        self._tell(course.Leave())

    @property
    def bound(self) -> float:
        """Bound of the error of the members' clocks in seconds."""
        return 0.0 if self.phones is None else self.phones.half_width

    def standings(self) -> list[MemberNow]:
        """Return where the members are now; all unknown while the clocks are not known well enough."""
        player = self._player
        if player is None or self.session.stage is not Stage.PLAYING or self.bound > SUREST:
            return [MemberNow(member, math.nan, math.nan, 0) for member in self.members]
        # of what is worn each cycle that ended, later than that member's first ones
        onsets = {member: list(self._cycles.get(member, ())) for member in self.members}
        for part, stamp in self._onsets[-400:]:
            onsets[part.member].append((player.take_time(stamp), part.hand))
        return measure_now(self.session.plan, onsets, player.position(), bound=self.bound)

    def picture(self) -> PracticePicture:
        """Return what is to be seen now."""
        picture = make_picture(self.session, self.movement, sound=self._say_sound())
        unwritten = next((each for each in self._writers.values() if not each.whole), None)
        trouble = tell(why_unwritten(unwritten)) if unwritten is not None else ""
        caution = say_caution(self._context.caution) if self.session.stage in _BEFORE else ""
        return replace(picture, sentence=picture.sentence or trouble, caution=caution)

    def _hear(self, phones: Phones) -> None:
        for news in phones.poll():
            if isinstance(news, SourceOnset):
                if news.whose in self.members and self.session.stage is Stage.PLAYING:
                    self._take_in(MemberHand(news.whose, news.hand), news.stamp)
            elif isinstance(news, Remote):
                wanted = (Stage.WAITING, Stage.AFTER) if news is Remote.START else (Stage.PLAYING, Stage.PAUSED)
                if self.session.stage in wanted:
                    self.enter(self._clock())
            else:
                self._tell(course.Noted(news))
        if self._player is not None and self.session.stage is Stage.PLAYING:
            for (member, hand), rows in phones.readings_of_members().items():
                if member in self._worn:
                    found = self._worn[member].follow({hand: rows}, self._player)
                    self._cycles[member] += [(cycle.time, cycle.hand) for cycle in found]
        phones.show(self._shown())
        self._look_for_rest(phones)

    def _shown(self) -> dict[str, object]:
        if self.session.stage is Stage.PLAYING and self._player is not None:
            zero = self._clock() - self._player.position()
            self._zero = self._zero if abs(zero - self._zero) < 0.002 else zero
            return {"playing": True, "zero": round(self._zero, 4), "word": ""}
        picture = self.picture()
        return {"playing": False, "said": f"{picture.now} {picture.number}".strip()}

    def _open_phones(self, player: Player) -> None:
        if self.phones is not None and math.isnan(self._began) and self.session.stage is Stage.OPENING:
            self._began = self._clock()
            plan = self.session.plan
            self.phones.begin(plan, self._began - player.position(), beats_of(plan, self.movement))

    def _take_in(self, part: MemberHand, stamp: float) -> None:
        self._onsets.append((part, stamp))
        writer = self._writers.get(part.member)
        if writer is not None and self._player is not None:
            writer.onset(part.hand, stamp=stamp, time=self._player.take_time(stamp))

    def _tell(self, event: course.Event) -> None:
        self.session, effects = course.step(self.session, event)
        self._carry_out(effects)

    def _carry_out(self, effects: tuple[Effect, ...]) -> None:
        for effect in effects:
            getattr(self, f"_do_{effect.name.lower()}")()

    def _do_prepare(self) -> None:
        tempo = self.session.tempo_bpm
        self._aside(lambda: self._context.sound_of(tempo), self._prepared)

    def _prepared(self, made: tuple[Plan, Sound]) -> None:
        plan, self._sound = made
        self.movement = Movement(plan)
        self._tell(course.Prepared(plan))

    def _do_walk(self) -> None:
        """Say nothing while they walk in."""

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
        for writer in self._writers.values():
            writer.discard()
        self._start(self._player)

    def _start(self, player: Player) -> None:
        if self._sound is None:
            raise ValueError("expected samples to be prepared before a take")
        self._settle()
        self._began = self._zero = math.nan
        self._onsets, self._judged_rows = [], -1
        self._worn = {member: WornWords(self.session.plan) for member in self.members}
        self._cycles = {member: [] for member in self.members}
        self._writers = {}
        if self._context.take_path is not None:
            path, begun = self._context.take_path(self.session.number), self._context.begun()
            self._writers = {
                member: TakeWriter(
                    path.with_name(f"{path.name.removesuffix(ENDING)}_{number}{ENDING}"),
                    self.session.plan,
                    observed_by="tap" if self.phones is None else self.phones.observed_by,
                    begun=begun,
                    player=player.name,
                    extra={"member": member},
                )
                for number, member in enumerate(self.members, start=1)
            }
        self._calm_down()
        self._steady = ExitStack()
        self._steady.enter_context(self._context.steady())
        player.start(self._sound.samples, self._sound.rate_hz)

    def _calm_down(self) -> None:
        if self._steady is not None:
            self._steady.close()
            self._steady = None

    def _do_resume(self) -> None:
        if self._player is not None:
            self._player.resume()

    def _do_keep(self) -> None:
        onset = self.session.onsets[-1]
        self._take_in(self._parts[onset.hand], onset.stamp)

    def _do_end(self) -> None:
        self._calm_down()
        now, player = self._clock(), self._player
        gaps: tuple[tuple[float, float], ...] = ()
        if player is not None:
            player.stop()
            gaps = tuple((gap.start, gap.end) for gap in player.gaps)
        start = self._began if self.phones is not None else self.session.since
        if self.phones is None and self._onsets:
            start = min(start, self._onsets[0][1])
        self._over = OverTake(freeze_take_time(player, start, now), gaps, now, self._writers)
        self._writers = {}
        if self.phones is None:
            self._judge(self._over, self._collect_keys())
        else:
            self.phones.end(now)

    def _collect_keys(self) -> dict[str, Collected]:
        floor, calibrated = self._setup.noise_floor_ms, bool(self._setup.found_by)
        return {
            member: Collected(
                onsets=[(stamp, part.hand) for part, stamp in self._onsets if part.member == member],
                noise_floor_ms=floor,
                calibrated=calibrated,
            )
            for member in self.members
        }

    def _look_for_rest(self, phones: Phones) -> None:
        """Judge once everything is here, or once it was waited for; and again when more has come."""
        over = self._over
        if over is None or self._busy:
            return
        found = phones.collected_of(self.members)
        complete = found is not None and all(each.complete for each in found.values())
        if found is None or (not complete and self._clock() - over.since <= WAITS):
            if found is not None or self._clock() - over.since <= WAITS:
                return
            found = {member: Collected(complete=False) for member in self.members}
        rows = sum(len(each.onsets) + sum(map(len, each.readings.values())) for each in found.values())
        if rows != self._judged_rows or complete:
            self._judge(over, found, complete=complete)
            self._judged_rows = rows

    def _judge(self, over: OverTake, found: Mapping[str, Collected], *, complete: bool = True) -> None:
        session, first = self.session, self._judged_rows < 0
        observed_by = "tap" if self.phones is None else self.phones.observed_by
        self._busy = True

        def work() -> GroupTake:
            takes = takes_of(found, over, session.plan, observed_by=observed_by, stopped=session.stopped)
            try:
                judged, error = judge_together(takes, found), None
            except CoachError as failed:
                judged, error = None, failed
            if complete:
                finish(over.writers, takes, session.plan, how=session.how_ended, stopped=session.stopped)
            paths = tuple(writer.path for writer in over.writers.values())
            begun = next((writer.begun for writer in over.writers.values()), "")
            return GroupTake(judged, error, paths, begun)

        def then(done: GroupTake) -> None:
            self._busy = False
            if complete and over is self._over:
                self._over = None
            if first:
                self.takes.append(done)
                self._tell(course.Judged(steady=False))
            else:
                self.takes[-1] = done
                self._tell(course.Noted(Notice(Code.ROWS_CAME)))

        self._aside(work, then)

    def _settle(self) -> None:
        """Let go of a take of which something is still to come: its files keep what came."""
        if self._over is not None:
            for writer in self._over.writers.values():
                writer.close()
            self._over = None

    def _do_leave(self) -> None:
        self._calm_down()
        self._settle()
        if self.phones is not None:
            self.phones.close()
        if self._player is not None:
            self._player.close()
        for writer in self._writers.values():
            writer.close()

    def _say_sound(self) -> str:
        if self._player is None:
            return ""
        if self._player.silent:
            return say_silent(tell(self._silent_because), self._player.name)
        return tell(self._setup.notice) or say_playing(self._player.name)
