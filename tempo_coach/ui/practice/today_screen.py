"""Today's practice on the screen: its list, each item begun with one Enter, the card after it, and on."""

from __future__ import annotations

from asyncio import to_thread
from itertools import zip_longest
from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

from rich.cells import set_cell_size
from rich.text import Text
from textual.binding import Binding

from tempo_coach.coach import todays_practice as todays
from tempo_coach.coach.practising.conductor import HOLD_AFTER
from tempo_coach.coach.todays_practice import DONE, LENGTHS, SKIPPED
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.live.practice.session import Stage
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.todays_list import say_how_long, say_item
from tempo_coach.signs import wrap
from tempo_coach.ui.practice.moving_screen import ENTER_KEYS
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.practice.todays_group_screen import TodaysGroupScreen
from tempo_coach.ui.screen import HELP, LEAVE, CardScreen, Page
from tempo_coach.ui.text_rows import bar, fill

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.binding import BindingType
    from textual.events import Key

    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.coach.todays_practice import TodaysPractice
    from tempo_coach.ui.practice.person_screen import Looked

#: Beats a minute by which one key changes the tempo.
_STEP = 4.0
#: Columns of the part of the session, and of how an item is done.
_PART, _HOW = 9, 30
#: Columns that a title needs to have beside it how the item is done; in a narrower window that stands below it.
_LEAST = 20
_OVER = "Today is done. Tab leads to the set-up for whatever else you want to practise."


class ItemScreen(PractiseScreen):
    """One item of a session: Enter on the card after it goes on to the next one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *(each for each in ENTER_KEYS if each.action != f"go('{Stage.AFTER.name}')"),
        Binding("enter", "on", "next", key_display="Enter"),
        Binding("tab", "set_up", "today's list", key_display="Tab"),
        *(each for each in PractiseScreen.BINDINGS if isinstance(each, Binding) and each.key not in ("enter", "tab")),
    ]
    goes_on = False

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available; continuing is for the card after a take."""
        if action == "on":
            return self.conductor is not None and self.conductor.session.stage is Stage.AFTER
        return super().check_action(action, parameters)

    def action_on(self) -> None:
        """Continue with the next item; a second press right after it starts nothing."""
        if self.conductor is not None and self._clock() - self.conductor.session.since >= HOLD_AFTER:
            self.goes_on = True
            self.action_set_up()


class TodayScreen(CardScreen[bool]):
    """The list of today; dismissed with True to go to the set-up.

    Parameters
    ----------
    today : TodaysPractice
    people : sequence of str
        Everybody there is, in the order in which a key leads through them.
    group : sequence of str
        Those whose lists are shown together, before hers is; where there are none, a key shows those of the first.
    minutes : int or None
        Of the sessions of the group; by default as each had last.
    prepare : callable
        Returns the practice of an item, told today's practice and the item's place.
    clock : callable
        ``time.perf_counter`` but in tests.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "start", "start", key_display="Enter"),
        Binding("up", "choose(-1)", "choose", key_display="↑"),
        Binding("down", "choose(1)", "choose", key_display="↓"),
        Binding("left", "tempo(-1)", "tempo", key_display="←"),
        Binding("right", "tempo(1)", "tempo", key_display="→"),
        Binding("f2", "skip", "skip", key_display="F2"),
        Binding("f3", "drill", "other drill", key_display="F3"),
        Binding("f4", "minutes", "minutes", key_display="F4"),
        Binding("f5", "person", "who", key_display="F5"),
        Binding("f6", "group", "a group", key_display="F6"),
        Binding("f7", "look", "her file", key_display="F7"),
        Binding("tab", "set_up", "set up", key_display="Tab", priority=True),
        HELP,
        LEAVE,
    ]
    help_name = "today"

    def __init__(
        self,
        today: TodaysPractice,
        people: tuple[str, ...] = (),
        *,
        group: tuple[str, ...] = (),
        minutes: int | None = None,
        prepare: Callable[[TodaysPractice, int], PracticeContext] = todays.prepare_item,
        clock: Callable[[], float] = perf_counter,
    ) -> None:
        super().__init__()
        self._clock = clock
        self.today = today
        self._people = people
        self._group = group or people[: todays.MOST_PEOPLE]
        self._together = bool(group)
        self._minutes = minutes
        self._prepare = prepare
        self._busy = False
        self.sentence = say_how_long(today.record.minutes) if today.asks else ""
        self.chosen = today.record.next or 0

    def on_mount(self) -> None:
        """Show the lists of a group at once where they were asked for."""
        if self._together:
            self.action_group()

    def draw_page(self, width: int, height: int) -> Page:
        """Return the list, and the reason for the current item."""
        record, palette = self.today.record, self._palette
        done = sum(bool(state) for state in record.states)
        head = bar(
            tr(" Today   {name}", name=self.today.person.name),
            tr(
                "{minutes} minutes, {done} of {number} done ",
                minutes=record.minutes,
                done=done,
                number=len(record.items),
            ),
            width,
            palette,
        )
        below = self._below(width, max(height - 4, 1))
        room = max(height - 2 - len(below), 1)
        items = [self._rows(place, width) for place in range(len(record.items))]
        rows = [row for item in items for row in item]
        chosen = sum(map(len, items[: self.chosen]))
        first = min(max(chosen - room // 2, 0), max(len(rows) - room, 0))
        return Page(
            [
                head,
                *fill([self._heading(width), *rows[first : first + room]], width, height - 1 - len(below), palette),
                *below,
            ]
        )

    def _heading(self, width: int) -> Text:
        """Return the heads of the columns, where details stand beside the title."""
        room = width - _PART - _HOW - 8
        if room < _LEAST:
            return Text()
        what = f"{' ' * (5 + _PART)}{set_cell_size(tr('drill'), room + 1)} {tr('beats a minute, its cues')}"
        return Text(what, self._palette.faint)

    def _rows(self, place: int, width: int) -> list[Text]:
        """Return the rows of an item: one, or more where its title or details need them."""
        record, palette = self.today.record, self._palette
        item, state = record.items[place], record.states[place]
        told = say_item(item, self.today.drills[item.drill].title, state)
        chosen = place == self.chosen
        before = record.items[place - 1] if place else None
        part = "" if before is not None and (before.part, before.block) == (item.part, item.block) else told.part
        beside = width - _PART - _HOW - 8 >= _LEAST
        room = width - _PART - (_HOW + 8 if beside else 8)
        titles = wrap(tr(told.title), room)
        hows = wrap(told.short, _HOW - 1 if beside else room, subsequent_indent="    ")
        below = [*((each, "") for each in titles), *(("", each) for each in hows)]
        pairs = zip_longest(titles, hows, fillvalue="") if beside else below
        rows = []
        for k, (title, how) in enumerate(pairs):
            row = Text(" ▸ " if chosen and not k else "   ", palette.strong)
            row.append(f"{' ' if k else told.sign} ", palette.text)
            row.append(set_cell_size("" if k else part, _PART), palette.faint)
            row.append(set_cell_size(title, room + 1) if beside else title, palette.bar if chosen else palette.text)
            rows.append(row.append(f" {how}" if beside else how, palette.strong if chosen else palette.faint))
        return rows

    def _below(self, width: int, most: int) -> list[Text]:
        """Return the reason and the cautions of the current item, as far as there is room."""
        palette, record = self._palette, self.today.record
        item = record.items[self.chosen]
        drill = self.today.drills[item.drill]
        keys = ", ".join(f"{tr(hand)} {key}" for hand, key in todays.keys_of(self.today, drill))
        told = say_item(item, drill.title)
        lines = [tr("{why}{why_2}. Keys: {keys}.", why=told.why[0].upper(), why_2=told.why[1:], keys=keys)]
        lines += [tr("Mind: {caution}.", caution=tr(drill.caution))] if drill.caution else []
        rows = [Text(f"  {row}", palette.text) for line in lines for row in wrap(line, width - 4)]
        said = self.sentence or (tr("One moment …") if self._busy else tr(_OVER) if record.next is None else "")
        news = [Text("  ").append(f" {row} ", palette.warning) for row in wrap(said, width - 6)]
        rows = [Text(), *rows[: max(most - 1 - len(news), 0)], *news][:most]
        return fill(rows, width, len(rows), palette)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available: none while a practice is being prepared."""
        if self._busy and action != "leave":
            return False
        others = action in ("person", "group")
        return len(self._people) > 1 if others else super().check_action(action, parameters)

    def action_choose(self, by: int) -> None:
        """Choose another item."""
        self.sentence = ""
        self.chosen = min(max(self.chosen + by, 0), len(self.today.record.items) - 1)
        self.draw()

    def action_start(self) -> None:
        """Start the chosen item."""
        self._busy, self.sentence = True, ""
        self.draw()
        self.run_worker(self._start(self.chosen))

    async def _start(self, place: int) -> None:
        try:
            context = await to_thread(self._prepare, self.today, place)
        except CoachError as error:
            self.sentence = say_error(error)
        else:
            self._open(context, place)
        finally:
            self._busy = False
            self.draw()

    def _open(self, context: PracticeContext, place: int) -> None:
        screen = ItemScreen(context, clock=self._clock)

        def back(left: bool | CoachError | None) -> None:
            conductor = screen.conductor
            if conductor is not None and conductor.takes.done:
                self._change(lambda: todays.settle(self.today, place, DONE))
                keys = "".join(key for _, key in conductor.session.keys)
                self._change(lambda: todays.remember(self.today, keys=keys))
            if isinstance(left, CoachError):
                self.sentence = say_error(left)
            elif not left:
                self.app.exit(0)
                return
            self._go_to_next()
            if screen.goes_on and self.today.record.next is not None:
                self.action_start()
            self.draw()

        self.app.push_screen(screen, back)

    def _go_to_next(self) -> None:
        following = self.today.record.next
        if following is not None:
            self.chosen = following

    def _change(self, change: Callable[[], TodaysPractice]) -> None:
        """Change today's practice, or say why that is impossible."""
        try:
            self.today = change()
        except CoachError as error:
            self.sentence = say_error(error)
        self.chosen = min(self.chosen, len(self.today.record.items) - 1)
        self.draw()

    def action_tempo(self, by: int) -> None:
        """Do the chosen item faster or slower."""
        self._change(lambda: todays.change_tempo(self.today, self.chosen, by * _STEP))

    def action_drill(self) -> None:
        """Put another of her drills there."""
        self._change(lambda: todays.change_drill(self.today, self.chosen))

    def action_skip(self) -> None:
        """Skip the chosen item, or take that back."""
        state = "" if self.today.record.states[self.chosen] == SKIPPED else SKIPPED
        self._change(lambda: todays.settle(self.today, self.chosen, state))
        if state:
            self._go_to_next()
        self.draw()

    def action_minutes(self) -> None:
        """Plan the session anew with the next duration."""
        minutes = LENGTHS[(LENGTHS.index(self.today.record.minutes) + 1) % len(LENGTHS)]
        self._reopen(self.today.person.name, minutes)

    def action_person(self) -> None:
        """Show somebody else's list."""
        here = self._people.index(self.today.person.name) if self.today.person.name in self._people else -1
        self._reopen(self._people[(here + 1) % len(self._people)], None)

    def action_look(self) -> None:
        """Open the form of the person; what changes there plans the session anew."""
        from tempo_coach.ui.practice.person_screen import PersonScreen

        try:
            screen = PersonScreen(self.today.file, self.today.person.name, self._people)
        except CoachError as error:
            self.sentence = say_error(error)
            self.draw()
            return

        def back(looked: Looked | None) -> None:
            if looked is not None:
                self._people = screen.people
                self._reopen(looked.person.name, looked.person.minutes or None)

        self.app.push_screen(screen, back)

    def action_group(self) -> None:
        """Show the lists of a group together."""
        self._busy, self.sentence = True, ""
        self.draw()
        self.run_worker(self._show_group())

    async def _show_group(self) -> None:
        try:
            found = await to_thread(
                todays.open_group, self.today.file, self._group, day=self.today.day, minutes=self._minutes
            )
        except CoachError as error:
            self.sentence = say_error(error)
        else:
            self.app.push_screen(TodaysGroupScreen(found, self.today.person.name), self._open_list)
        finally:
            self._busy = False
            self.draw()

    def _open_list(self, name: str | None) -> None:
        if name is not None:
            self._reopen(name, self._minutes)

    def on_key(self, event: Key) -> None:
        """Show the list of the next person whose name begins with a letter."""
        letter = (event.character or "").casefold()
        if self._busy or not letter.strip() or not event.is_printable:
            return
        here = self._people.index(self.today.person.name) + 1 if self.today.person.name in self._people else 0
        order = (*self._people[here:], *self._people[:here])
        found = next((name for name in order if name.casefold().startswith(letter)), None)
        if found is not None:
            event.stop()
            self._reopen(found, None)

    def _reopen(self, name: str, minutes: int | None) -> None:
        self.sentence = ""
        self._change(lambda: todays.open_today(self.today.file, name, day=self.today.day, minutes=minutes))
        self.chosen = self.today.record.next or 0
        self.draw()

    def action_set_up(self) -> None:
        """Go to the set-up."""
        self.dismiss(True)
