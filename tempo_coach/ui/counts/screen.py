"""The screen on which counts are set: hands keys and clicks on, draws, plays and keeps."""

from __future__ import annotations

import sys
from asyncio import to_thread
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING, ClassVar, TypeVar

import numpy as np
from textual.binding import Binding

from tempo_coach import coach
from tempo_coach.coach.counting.cut_in_hand import hear_joint, try_cut, write_cut
from tempo_coach.coach.counting.edits import count_at, count_on, go_to_beat
from tempo_coach.coach.counting.listening import Listening
from tempo_coach.coach.counting.setting import begin, do, note, note_saved, refuse, turn_to
from tempo_coach.coach.counting.tapping import begin_taps
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.counts.music_map import map_music
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.music_map import say_map, tell_missed
from tempo_coach.ui.counts.ask import ASKED, LONGEST, answer, complete, offer
from tempo_coach.ui.counts.keys import BINDINGS, KEYS_HELP, LEAVES, SAVES, Order, do_all, find_key, place_of
from tempo_coach.ui.counts.map_screen import MapScreen
from tempo_coach.ui.counts.sheet_card import Drawn, draw_card
from tempo_coach.ui.counts.sheet_rows import Look
from tempo_coach.ui.help import HelpScreen
from tempo_coach.ui.row_widgets import Prompt
from tempo_coach.ui.screen import CardScreen, Page, stamp_of
from tempo_coach.ui.text_rows import bar, fits, say_least

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.events import Click, Key

    from tempo_coach.coach import OpenRoutine
    from tempo_coach.coach.counting.cut_in_hand import CutInHand
    from tempo_coach.coach.counting.setting import Setting
    from tempo_coach.coach.counting.tapping import TapAlong
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.counts.music_map import MapRow
    from tempo_coach.report.words.sheet import SheetRow
    from tempo_coach.times import Floats

#: Pictures a second while something is heard.
PICTURES_HZ = 12.0
#: What ends tapping along, and is no tap.
ENDS_TAPS = ("enter", "escape")
#: Keys that ask for something about a cut.
_OF_A_CUT = ("K", "W")
_Found = TypeVar("_Found")


class CountsScreen(CardScreen[None]):
    """Setting the counts of one routine.

    Parameters
    ----------
    levels : array
        Of :func:`tempo_coach.music.files.loudness.find_levels`.
    saved : bool
        Whether the routine stands in its file as it is.
    make_player : callable
        Opens the sound.
    clock : callable
        ``time.perf_counter`` but in tests.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "answer", "answer", key_display="Enter", priority=True),
        Binding("enter", "end_taps", "end", key_display="Enter", priority=True),
        Binding("escape", "drop_taps", "drop", key_display="Escape", priority=True),
        Binding("tab", "complete", "next drill", key_display="Tab"),
        Binding("escape", "give_up", "back", key_display="Escape"),
        *BINDINGS,
    ]

    AUTO_FOCUS = ""

    def __init__(
        self,
        opened: OpenRoutine,
        levels: Floats,
        *,
        saved: bool,
        make_player: Callable[[], Player],
        clock: Callable[[], float] = perf_counter,
    ) -> None:
        super().__init__()
        heard = opened.heard
        self.setting: Setting = begin(
            heard.counts,
            opened.routine,
            duration=heard.duration,
            doubts=heard.beats.doubtful,
            saved=saved,
        )
        if opened.said:
            first, more = opened.said[0], len(opened.said) - 1
            news = Reason(Why.MORE_NOTES, (first, more)) if more else first
            self.setting = replace(self.setting, news=news, failed=True)
        self._opened = opened
        self._levels = levels
        self._listening = Listening(heard.sound, make_player)
        self._clock = clock
        self._taps: TapAlong | None = None
        self._busy = ""
        self._asks = ""
        self._cut: CutInHand | None = None
        self._leaving = False
        self._left = False
        self._drawn = Drawn([], 0)
        self._laid: tuple[object, object, dict[int, SheetRow]] = (None, None, {})

    def compose(self) -> ComposeResult:
        """Put a line for what is typed between sheet and foot."""
        card, foot = super().compose()
        yield from (card, Prompt(), foot)

    def on_mount(self) -> None:
        """Begin."""
        self.set_interval(1 / PICTURES_HZ, self._tick)

    def on_unmount(self) -> None:
        """Let go of the sound; and of nothing that was set, where nobody was asked."""
        self._listening.close()
        routine = self.setting.routine
        if self.setting.unsaved and not self._left and routine != self._opened.routine:
            try:
                coach.rescue_routine(replace(self._opened, routine=routine))
            except CoachError as error:
                print(say_error(error), file=sys.stderr)  # noqa: T201  into the log: there is no screen any more

    def on_click(self, event: Click) -> None:
        """Go to the count that was clicked."""
        beat = self._drawn.beat_at(event.screen_x, event.screen_y)
        if beat is not None and not self._busy and not self._asks and fits(*self.size):
            self.setting = go_to_beat(self.setting, beat)
            self.draw()

    def take_wheel(self, key: str) -> None:
        """Go up or down an eight."""
        if self.check_action("press", (key,)):
            self.action_press(key)

    def on_key(self, event: Key) -> None:
        """Take a tap while tapping along: any key counts, with its stamp from the input thread."""
        if self._taps is not None:
            event.stop()
            event.prevent_default()
            self._tap(event.key, stamp_of(event, self._clock))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available: typing and tapping disable most keys."""
        if action in ("end_taps", "drop_taps"):
            return self._taps is not None and not self._busy
        if action == "press":
            typing = bool(self._asks) or self._taps is not None
            unanswered = bool(self._asks) and parameters == SAVES
            return not self._busy and (parameters in LEAVES or unanswered or not typing)
        return bool(self._asks) and (action != "complete" or self._asks == "plus")

    def action_press(self, name: str) -> None:
        """Carry out a key of the table."""
        key = find_key(name)
        if self._asks and key.does is Order.SAVE:
            self.setting = refuse(self.setting, CoachError("counts.answer_first"))
        elif isinstance(key.does, Order):
            self._obey(key.does, name)
        else:
            self._leaving = False
            self.setting = key.does(note(self.setting, None))
        self.draw()

    def _obey(self, order: Order, name: str) -> None:
        if order is Order.LEAVE:
            self._leave()
            return
        self._leaving = False
        if order is Order.SAVE:
            self._save()
        elif order is Order.HELP:
            self.app.push_screen(HelpScreen(KEYS_HELP))
        elif order is Order.ASK:
            self._ask(name)
        elif order in (Order.MAP, Order.CUT, Order.HEAR_JOINT):
            self._obey_cut(order, name)
        elif order is Order.LENGTH:
            self.setting = do(self.setting, Correction("length", self.setting.time, counts=int(name)))
        elif order is Order.COUNT_ON:
            self.setting = count_on(self.setting, self._opened.heard.sound)
        elif order is Order.LISTEN:
            if self._listening.on:
                self._listening.stop()
            else:
                self._listen(self.setting.time)
        elif order in (Order.HEAR_HALF, Order.HEAR_DOUBLE):
            other = count_at(self.setting, 0.5 if order is Order.HEAR_HALF else 2.0)
            if other.failed:
                self.setting = refuse(self.setting, other.news) if isinstance(other.news, CoachError) else other
            else:
                self._listen(self.setting.time, counts=other.counts)
        else:
            self._begin_taps(all_of_it=order is Order.TAP_ALL)

    def _leave(self) -> None:
        if self.setting.unsaved and not self._leaving:
            self._leaving = True
            why = CoachError("counts.not_saved")
            self.setting = refuse(self.setting, why)
            return
        self._left = True
        self.app.exit(0)

    def _save(self) -> None:
        try:
            saved = coach.save_routine(replace(self._opened, routine=self.setting.routine))
        except CoachError as error:
            self.setting = refuse(self.setting, error)
        else:
            self.setting = note_saved(self.setting, saved.routine, saved.path.name)

    def _ask(self, name: str) -> None:
        """Open the prompt."""
        self._asks = name
        self.setting = note(self.setting, None)
        question, example = ASKED[name]
        offered = offer(name, self.setting.routine, place_of(self.setting))
        self.query_one(Prompt).ask(
            f"{question}:", tr("for example {example}", example=example), value=offered, most=LONGEST
        )

    def on_input_changed(self) -> None:
        """Clear the message about earlier input."""
        self.setting = note(self.setting, None)
        self.draw()

    def action_complete(self) -> None:
        """Go on to the next drill."""
        prompt = self.query_one(Prompt)
        prompt.value = complete(prompt.value)

    def action_give_up(self) -> None:
        """Close the prompt."""
        self._asks = ""
        self.query_one(Prompt).end()
        self.set_focus(None)
        self.draw()

    def action_answer(self) -> None:
        """Carry out the answer, or say what is wrong with it."""
        text = self.query_one(Prompt).value
        if self._asks in _OF_A_CUT:
            self._answer_cut(self._asks, text)
            return
        try:
            routine, news = answer(self._asks, text, self.setting.routine, place_of(self.setting))
        except CoachError as error:
            self.setting = refuse(self.setting, error)
            self.draw()
            return
        if routine != self.setting.routine:
            changed = turn_to(self.setting, routine, self.setting.counts)
            self.setting = replace(changed, news=news)
        self.action_give_up()

    def _obey_cut(self, order: Order, name: str) -> None:
        """Carry out an order about cutting the music."""
        if order is Order.MAP:
            self._show_map()
        elif order is Order.HEAR_JOINT:
            self._hear_joint()
        else:
            self._ask_cut(name)

    def _ask_cut(self, name: str) -> None:
        """Ask which eights are kept, or where the cut is written."""
        if name == "W" and self._cut_now is None:
            self.setting = refuse(self.setting, CoachError("counts.nothing_cut"))
        elif name == "K" and self.setting.unsaved:
            self.setting = refuse(self.setting, CoachError("counts.save_first"))
        else:
            self._ask(name)
            kept = self._cut.words if self._cut is not None else ""
            self.query_one(Prompt).value = kept if name == "K" else f"{self._opened.path.stem}_cut.wav"

    def _answer_cut(self, name: str, text: str) -> None:
        self.action_give_up()
        path, routine, cut, words = self._opened.path, self.setting.routine, self._cut_now, text.strip()
        if words and name == "K":
            self._beside(tr("cutting the music …"), lambda: try_cut(path, routine, words), self._take_cut)
        elif words and cut is not None:
            self._beside(tr("writing …"), lambda: write_cut(cut, path.parent, words), self._tell)

    def _take_cut(self, made: tuple[CutInHand, Reason]) -> None:
        self._cut, news = made
        self._tell(news)

    @property
    def _cut_now(self) -> CutInHand | None:
        """Return the present cut, unless the routine has changed since."""
        return self._cut if self._cut is not None and self._cut.routine is self.setting.routine else None

    def _hear_joint(self) -> None:
        """Play the next joint, and say what is known of it."""
        cut = self._cut_now
        try:
            if cut is None:
                raise CoachError("counts.nothing_cut")
            self._cut, sound, news = hear_joint(cut)
            self._listening.begin_part(sound)
        except CoachError as error:
            self.setting = refuse(self.setting, error)
        else:
            self._tell(news)

    def _show_map(self) -> None:
        """Compute the map in a thread, and show it."""
        routine, counts = self.setting.routine, self.setting.counts

        def show(rows: tuple[MapRow, ...]) -> None:
            missed = tell_missed(routine.moments, rows, counts)
            lines = [*say_map(rows, counts), *(f"  {eight:>5}  {said}" for eight, said in missed)]
            self.app.push_screen(MapScreen(routine.title, lines))

        self._beside(tr("looking at the music …"), lambda: map_music(self._opened.heard.sound, counts), show)

    def action_end_taps(self) -> None:
        """Apply the taps to the music."""
        self._end_taps()
        self.draw()

    def action_drop_taps(self) -> None:
        """Discard the taps."""
        self._taps = None
        self._listening.stop()
        self.setting = note(self.setting, Reason(Why.NOTHING_TAPPED))
        self.draw()

    def _begin_taps(self, *, all_of_it: bool) -> None:
        self._taps = begin_taps(self.setting, all_of_it=all_of_it)
        self._listen(self._taps.start, clicks=False)

    def _tap(self, name: str, stamp: float) -> None:
        if self._taps is not None and name not in ENDS_TAPS:
            self._taps = self._taps.with_tap(self._listening.music_time(stamp))
        self.draw()

    def _end_taps(self) -> None:
        along, self._taps = self._taps, None
        self._listening.stop()
        if along is None or not along.times:
            self._tell(Reason(Why.NOTHING_TAPPED))
            return
        self._beside(
            tr("putting the taps on the music …"),
            lambda: coach.read_taps(self._opened, along.times, all_of_it=along.all_of_it),
            self._follow,
        )

    def _follow(self, read: tuple[Sequence[Correction], int]) -> None:
        """Apply the taps to the counts."""
        self.setting = do_all(self.setting, read[0], Reason(Why.TAPPED_ANEW, (read[1],)))

    def _listen(self, start: float, *, clicks: bool = True, counts: CountMap | None = None) -> None:
        on = counts or self.setting.counts
        self._beside(tr("one moment …"), lambda: self._listening.begin(on, start, clicks=clicks), lambda _: None)

    def _tell(self, news: Reason) -> None:
        self.setting = note(self.setting, news)

    def _beside(self, busy: str, work: Callable[[], _Found], then: Callable[[_Found], None]) -> None:
        """Run something slow in a thread, then continue with its result, or say why it failed."""
        self._busy = busy
        self.run_worker(self._work(work, then))

    async def _work(self, work: Callable[[], _Found], then: Callable[[_Found], None]) -> None:
        try:
            found = await to_thread(work)
        except CoachError as error:
            self._taps = None  # nobody taps along to what is not heard
            self.setting = refuse(self.setting, error)
        else:
            then(found)
        finally:
            self._busy = ""
            self.draw()

    def _tick(self) -> None:
        if not self._listening.on or self._busy:
            return
        notice = self._listening.tick()
        if notice is not None:
            self.setting = replace(self.setting, news=notice, failed=True)
        heard = self._listening.heard
        if self._taps is not None and (heard is None or heard > self._taps.until):
            self._end_taps()
        if heard is not None and self._taps is None:  # the sheet follows what is heard
            beat = int(np.searchsorted(self.setting.counts.beats, heard + 1e-6, side="right")) - 1
            self.setting = replace(self.setting, beat=max(beat, 0))
        self.draw()

    def draw_page(self, width: int, height: int) -> Page:
        """Return the rows of the sheet."""
        look = Look(self.setting, self._levels, self._lie(), self._listening.heard, self._palette)
        self._drawn = draw_card(
            look,
            title=self.setting.routine.title,
            top=self._drawn.top,
            width=width,
            height=height,
            roomy=self._high,
            asking=bool(self._asks),
            listening=self._busy or (tr("listening") if self._listening.on else ""),
            taps=None if self._taps is None or self._busy else len(self._taps.times),
        )
        lines = self._drawn.lines
        if self._cramped:
            lines[-1] = bar(f" {say_least()}", "", width, self._palette)
        return Page(lines)

    def _lie(self) -> dict[int, SheetRow]:
        """Return the drills on each eight, computed again where routine or counts have changed."""
        routine, counts = self.setting.routine, self.setting.counts
        if self._laid[0] is not routine or self._laid[1] is not counts:
            now = replace(self._opened, routine=routine, counts=counts)
            try:
                rows = coach.sheet_of(now).rows
            except CoachError as error:
                self.setting = refuse(self.setting, error)
                rows = coach.sheet_of(replace(now, routine=replace(routine, laid=()))).rows
            self._laid = (routine, counts, {row.number: row for row in rows})
        return self._laid[2]
