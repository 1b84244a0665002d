"""A group that is observed while it moves: keys of several people, or phones; who is early now, and its card.

The course of a take is that of a practice (:mod:`tempo_coach.live.practice.course`); every member has a take of her
own, with a file of its own from its first onset on.
"""

from __future__ import annotations

import math
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING

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
from tempo_coach.coach.practising.picture import PracticePicture, make_picture
from tempo_coach.coach.practising.runner import Aside, PracticeRunner
from tempo_coach.coach.practising.sensed import WAITS, freeze_take_time
from tempo_coach.coach.practising.worn_words import WornWords
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.live.inputs.source import Collected
from tempo_coach.live.notices import Code, Notice
from tempo_coach.live.practice import course
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.take.take_file import ENDING
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.report.words.live import say_caution
from tempo_coach.score.group.now import MemberNow, measure_now

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.inputs.source import SourceOnset
    from tempo_coach.live.phones.link import Phones

_BEFORE = (Stage.ASKING, Stage.WAITING, Stage.OPENING)


class GroupConductor(PracticeRunner):
    """Conducts the practice of a group.

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
        super().__init__(context, source=phones, aside=aside, clock=clock)
        self.members, self.phones = tuple(members), phones
        self.takes: list[GroupTake] = []
        self._writers: dict[str, TakeWriter] = {}
        self._onsets: list[tuple[MemberHand, float]] = []
        self._worn: dict[str, WornWords] = {}
        self._cycles: dict[str, list[tuple[float, str]]] = {}
        self._over: OverTake | None = None
        self._judged_rows = -1
        self._busy = False
        self._parts = parts_of(members, context.plan)
        self._begin(tuple(self._parts) if phones is None else ())

    def standings(self) -> list[MemberNow]:
        """Return where the members are now; unknown who has a clock that is not known well enough."""
        player = self._player
        if player is None or self.session.stage is not Stage.PLAYING:
            return [MemberNow(member, math.nan, math.nan, 0) for member in self.members]
        bounds = {one: 0.0 if self.phones is None else self.phones.half_width_of(one) for one in self.members}
        # of what is worn each cycle that ended, later than that member's first ones
        onsets = {member: list(self._cycles.get(member, ())) for member in self.members}
        for part, stamp in self._onsets[-400:]:
            onsets[part.member].append((player.take_time(stamp), part.hand))
        known = {member: mine if bounds[member] <= SUREST else [] for member, mine in onsets.items()}
        widest = max((bound for bound in bounds.values() if bound <= SUREST), default=0.0)
        return measure_now(self.session.plan, known, player.position(), bound=widest)

    def picture(self) -> PracticePicture:
        """Return the present picture."""
        picture = make_picture(self.session, self.movement, sound=self._say_sound())
        if self.session.asked_hand is not None:
            asked = self._parts[self.session.asked_hand]
            several = len(self.session.plan.hands) > 1
            picture = replace(picture, now=f"{asked.member} {tr(asked.hand)}" if several else asked.member)
        caution = say_caution(self._context.caution) if self.session.stage in _BEFORE else ""
        return replace(picture, sentence=picture.sentence or self._say_trouble(), caution=caution)

    def _observe(self, news: SourceOnset) -> None:
        if news.whose in self.members and self.session.stage is Stage.PLAYING:
            self._take_in(MemberHand(news.whose, news.hand), news.stamp)

    def _follow_readings(self, player: Player) -> None:
        for (member, hand), rows in self.phones.readings_of_members().items() if self.phones is not None else ():
            if member in self._worn:
                found = self._worn[member].follow({hand: rows}, player)
                self._cycles[member] += [(cycle.time, cycle.hand) for cycle in found]

    def _open_writers(self) -> Iterable[TakeWriter]:
        return self._writers.values()

    def _take_in(self, part: MemberHand, stamp: float) -> None:
        self._onsets.append((part, stamp))
        writer = self._writers.get(part.member)
        if writer is not None and self._player is not None:
            writer.onset(part.hand, stamp=stamp, time=self._player.take_time(stamp))

    def _open_take(self, player: Player) -> None:
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

    def _do_keep(self) -> None:
        onset = self.session.onsets[-1]
        self._take_in(self._parts[onset.hand], onset.stamp)

    def _do_end(self) -> None:
        now, player = self._clock(), self._player
        gaps = self._stop()
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

    def _look_for_rest(self) -> None:
        over, phones = self._over, self.phones
        if over is None or phones is None or self._busy:
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
        """Close a take that is still incomplete: its files keep what has arrived."""
        if self._over is not None:
            for writer in self._over.writers.values():
                writer.close()
            self._over = None
