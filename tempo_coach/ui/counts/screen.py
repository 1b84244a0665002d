"""The screen on which counts are set: hands keys and clicks on, draws, plays and keeps."""

from __future__ import annotations

import math
import sys
from asyncio import to_thread
from dataclasses import replace
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from textual.binding import Binding

from tempo_coach import coach
from tempo_coach.coach.counting.edits import count_at, go_to_beat
from tempo_coach.coach.counting.listening import Listening
from tempo_coach.coach.counting.setting import begin, do, note, note_saved, refuse, turn_to
from tempo_coach.errors import CoachError
from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.counts.music_map import map_music
from tempo_coach.music.cutting.joints import TEMPO_STEP
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.routine.rules import DEFAULT_CODE, read_code
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.music_map import say_map, tell_missed
from tempo_coach.resources import refuse_existing
from tempo_coach.ui.counts.ask import ASKED, LONGEST, answer, complete, offer
from tempo_coach.ui.counts.keys import BINDINGS, GROUPS, Order, do_all, find_key, place_of
from tempo_coach.ui.counts.map_screen import MapScreen
from tempo_coach.ui.counts.sheet_card import Drawn, draw_card
from tempo_coach.ui.counts.sheet_rows import Look
from tempo_coach.ui.help import Help, HelpScreen
from tempo_coach.ui.row_widgets import Prompt
from tempo_coach.ui.screen import CardScreen, Page, stamp_of
from tempo_coach.ui.text_rows import bar, fits, say_least

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.events import Click, Key

    from tempo_coach.coach import CutMade, OpenRoutine
    from tempo_coach.coach.counting.setting import Setting
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.routine.routine import Routine
    from tempo_coach.report.words.sheet import SheetRow
    from tempo_coach.times import Floats

#: Pictures a second while something is heard.
PICTURES_HZ = 12.0
#: Counts that are heard before the first one to be tapped: half an eight to get into it.
AHEAD = 4
#: Seconds after the last count of a doubtful stretch at which tapping it along ends by itself: a late tap still counts.
_RINGS_FOR = 0.5
#: All keys, by what they are for.
KEYS_HELP = Help(
    "all keys",
    """
    Here you put counts right and lay movements on them. A count or a key of the foot can be clicked; the wheel goes
    from eight to eight.
    """,
    tuple(entry for name, keys in GROUPS for entry in ((name, ""), *((f"  {key.shown}", key.help) for key in keys))),
    """the fourth count of the music is a one: go there with →, press 1. Space lets you hear it with clicks, u takes it
    back. Then n, from one doubtful place to the next, and Ctrl+S.""",
)
#: What leaves, as a key's action has it.
LEAVES = (("ctrl+q",), ("ctrl+c",))
#: What ends tapping along, and is no tap.
ENDS_TAPS = ("enter", "escape")
#: Keys that ask for something about a cut.
_OF_A_CUT = ("K", "W")
#: Seconds that are heard on either side of a joint.
AROUND_JOINT = 4.0
#: What saves, which is told while something is typed.
SAVES = ("ctrl+s",)


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
        self._taps: list[float] | None = None
        self._taps_all = False
        self._taps_until = math.inf
        self._busy = ""
        self._asks = ""
        self._kept = ""
        self._made: tuple[Routine, CutMade] | None = None
        self._joint = 0
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
        """Take in a tap while taps are wanted: whatever key it is, its stamp was taken in the input thread."""
        if self._taps is not None:
            event.stop()
            event.prevent_default()
            self._tap(event.key, stamp_of(event, self._clock))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What is typed or tapped now decides what keys do."""
        if action in ("end_taps", "drop_taps"):
            return self._taps is not None and not self._busy
        if action == "press":
            typing = bool(self._asks) or self._taps is not None
            unanswered = bool(self._asks) and parameters == SAVES
            return not self._busy and (parameters in LEAVES or unanswered or not typing)
        return bool(self._asks) and (action != "complete" or self._asks == "plus")

    def action_press(self, name: str) -> None:
        """Do what a key does."""
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
        """Let something be typed."""
        self._asks = name
        self.setting = note(self.setting, None)
        question, example = ASKED[name]
        offered = offer(name, self.setting.routine, place_of(self.setting))
        self.query_one(Prompt).ask(f"{question}:", f"for example {example}", value=offered, most=LONGEST)

    def on_input_changed(self) -> None:
        """Say no longer what was wrong with what was typed before."""
        self.setting = note(self.setting, None)
        self.draw()

    def action_complete(self) -> None:
        """Go on to the next drill."""
        prompt = self.query_one(Prompt)
        prompt.value = complete(prompt.value)

    def action_give_up(self) -> None:
        """Ask no longer."""
        self._asks = ""
        self.query_one(Prompt).end()
        self.set_focus(None)
        self.draw()

    def action_answer(self) -> None:
        """Do what was typed, or say what is wrong with it."""
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
        """Do what belongs to cutting the music to length."""
        if order is Order.MAP:
            self._busy = "looking at the music …"
            self.run_worker(self._show_map())
        elif order is Order.HEAR_JOINT:
            self._hear_joint()
        else:
            self._ask_cut(name)

    def _ask_cut(self, name: str) -> None:
        """Ask which eights are kept, or where what was cut is written."""
        if name == "W" and self._cut_now is None:
            self.setting = refuse(self.setting, CoachError("counts.nothing_cut"))
        elif name == "K" and self.setting.unsaved:
            self.setting = refuse(self.setting, CoachError("counts.save_first"))
        else:
            self._ask(name)
            if name == "K":
                self.query_one(Prompt).value = self._kept
            else:
                self.query_one(Prompt).value = f"{self._opened.path.stem}_cut.wav"

    def _answer_cut(self, name: str, text: str) -> None:
        self.action_give_up()
        if not text.strip():
            return
        work = self._cut(text.split()) if name == "K" else self._write_cut(text.strip())
        self._busy = "cutting the music …" if name == "K" else "writing …"
        self.run_worker(work)

    async def _cut(self, kept: list[str]) -> None:
        """Cut the music beside the screen, and say how long it is now."""
        path, wishes = self._opened.path, coach.CutWishes(keep=tuple(kept))
        try:
            made = await to_thread(coach.cut_music, path, wishes, beside=path.parent)
        except CoachError as error:
            self.setting = refuse(self.setting, error)
        else:
            self._kept, self._made, self._joint = " ".join(kept), (self.setting.routine, made), 0
            kind = self.setting.routine.kind
            rules = [each for each in read_code(DEFAULT_CODE).rules if each.what == "length" and each.applies_to(kind)]
            length = made.cut.duration - made.cut.begin
            self.setting = note(self.setting, Reason(Why.CUT_TO, (length, rules, kind, len(made.joints))))
        finally:
            self._busy = ""
            self.draw()

    @property
    def _cut_now(self) -> CutMade | None:
        """What was cut, as long as the routine is what it was."""
        return self._made[1] if self._made is not None and self._made[0] is self.setting.routine else None

    def _hear_joint(self) -> None:
        """Let the next joint be heard, with what is to be known of it."""
        made = self._cut_now
        if made is None or not made.joints:
            self.setting = refuse(self.setting, CoachError("counts.nothing_cut"))
            return
        number = self._joint % len(made.joints)
        self._joint = number + 1
        at, rate = made.cut.starts[number + 1], made.sound.rate_hz
        first, last = (max(0, round((at + by) * rate)) for by in (-AROUND_JOINT, AROUND_JOINT))
        self._listening.begin_part(Sound(made.sound.samples[first:last], rate))
        joint, of = made.joints[number], len(made.joints)
        news = Reason(Why.JOINT_HEARD, (number + 1, of, joint, at, made.old, TEMPO_STEP))
        self.setting = note(self.setting, news)

    async def _write_cut(self, name: str) -> None:
        """Write what was cut and its routine, beside the routine of the whole."""
        made = self._cut_now
        if made is None:
            return
        sound = self._opened.path.parent / name
        path = sound.with_suffix(".toml")

        def write() -> None:
            refuse_existing(path, force=False)
            write_sound(sound, made.sound, title=made.routine.title)
            coach.save_cut(made, path, sound, kind=made.routine.kind, force=False)

        try:
            await to_thread(write)
        except CoachError as error:  # a whole path has no room here
            where = Path(error.where).name if error.where else sound.name
            self.setting = refuse(self.setting, error.at(where))
        else:
            self.setting = note(self.setting, Reason(Why.CUT_WRITTEN, (sound.name, path.name)))
        finally:
            self._busy = ""
            self.draw()

    async def _show_map(self) -> None:
        """Make the map beside the screen, and show it."""
        routine, counts = self.setting.routine, self.setting.counts
        rows = await to_thread(map_music, self._opened.heard.sound, counts)
        self._busy = ""
        missed = tell_missed(routine.moments, rows, counts)
        lines = [*say_map(rows, counts).split("\n"), *(f"  {eight:>5}  {said}" for eight, said in missed)]
        self.draw()
        self.app.push_screen(MapScreen(routine.title, lines))

    def action_end_taps(self) -> None:
        """Put what was tapped on the music."""
        self._end_taps()
        self.draw()

    def action_drop_taps(self) -> None:
        """Forget what was tapped."""
        self._taps = None
        self._listening.stop()
        self.setting = note(self.setting, Reason(Why.NOTHING_TAPPED))
        self.draw()

    def _begin_taps(self, *, all_of_it: bool) -> None:
        counts = self.setting.counts
        position = float(self.setting.beat - counts.eights[0][0] - AHEAD)
        self._taps, self._taps_all = [], all_of_it
        doubt = None if all_of_it else self.setting.doubt_here
        self._taps_until = math.inf if doubt is None or doubt.end is None else doubt.end + _RINGS_FOR
        self._listen(0.0 if all_of_it else max(0.0, float(counts.seconds_at(position))), clicks=False)

    def _tap(self, name: str, stamp: float) -> None:
        if self._taps is not None and name not in ENDS_TAPS:
            time = self._listening.music_time(stamp)
            if math.isfinite(time) and time >= 0:
                self._taps.append(time)
        self.draw()

    def _end_taps(self) -> None:
        taps, self._taps = self._taps or [], None
        self._listening.stop()
        if taps:
            self._busy = "putting the taps on the music …"
            self.run_worker(self._follow(taps))
        else:
            self.setting = note(self.setting, Reason(Why.NOTHING_TAPPED))

    async def _follow(self, taps: list[float]) -> None:
        """Put taps on the music beside the screen."""
        try:
            done, number = await to_thread(coach.read_taps, self._opened, taps, all_of_it=self._taps_all)
        except CoachError as error:
            self.setting = refuse(self.setting, error)
        else:
            self.setting = do_all(self.setting, done, Reason(Why.TAPPED_ANEW, (number,)))
        finally:
            self._busy = ""
            self.draw()

    def _listen(self, start: float, *, clicks: bool = True, counts: CountMap | None = None) -> None:
        self._busy = "one moment …"
        self.run_worker(self._begin_listening(start, counts or self.setting.counts, clicks=clicks))

    async def _begin_listening(self, start: float, counts: CountMap, *, clicks: bool) -> None:
        """Mix music and clicks beside the screen."""
        try:
            await to_thread(lambda: self._listening.begin(counts, start, clicks=clicks))
        except CoachError as error:
            self._taps = None
            self.setting = refuse(self.setting, error)
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
        if self._taps is not None and (heard is None or heard > self._taps_until):
            self._end_taps()
        if heard is not None and self._taps is None:  # the sheet follows what is heard
            beat = int(np.searchsorted(self.setting.counts.beats, heard + 1e-6, side="right")) - 1
            self.setting = replace(self.setting, beat=max(beat, 0))
        self.draw()

    def draw_page(self, width: int, height: int) -> Page:
        """Return the sheet as it is."""
        look = Look(self.setting, self._levels, self._lie(), self._listening.heard, self._palette)
        self._drawn = draw_card(
            look,
            title=self.setting.routine.title,
            top=self._drawn.top,
            width=width,
            height=height,
            roomy=self._high,
            asking=bool(self._asks),
            listening=self._busy or ("listening" if self._listening.on else ""),
            taps=None if self._taps is None or self._busy else len(self._taps),
        )
        lines = self._drawn.lines
        if self._cramped:
            lines[-1] = bar(f" {say_least()}", "", width, self._palette)
        return Page(lines)

    def _lie(self) -> dict[int, SheetRow]:
        """Return what lies on each eight, made again where routine or counts have changed."""
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
