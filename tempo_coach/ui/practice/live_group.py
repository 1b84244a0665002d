"""The screen of a moving group: the count, and who is early or late now; its card after the take."""

from __future__ import annotations

import math
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

from rich.cells import cell_len, set_cell_size
from rich.text import Text
from textual.binding import Binding

from tempo_coach.coach.practising.group_conductor import GroupConductor
from tempo_coach.languages import tr
from tempo_coach.live.practice.session import Stage
from tempo_coach.report.words.errors import say_error
from tempo_coach.signs import wrap
from tempo_coach.ui.glyphs import NUMBER_ROWS, draw_letters, draw_number, fit_letters
from tempo_coach.ui.practice.moving_screen import ENTER_KEYS, PHONES_KEY, MovingScreen
from tempo_coach.ui.screen import HELP, LEAVE, Page
from tempo_coach.ui.text_rows import append_signs, bar, fill

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.binding import BindingType

    from tempo_coach.coach.practising.picture import PracticePicture
    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.errors import CoachError
    from tempo_coach.live.phones.link import Phones
    from tempo_coach.score.group.now import MemberNow
    from tempo_coach.ui.palette import Palette

#: Seconds that an end of the scale stands for.
SCALE_END = 0.15
#: Seconds that a word stays at least, so that nothing flashes.
STAYS = 1.0
_NAME = 14
_WORDS = {-1: "< early", 0: "", 1: "late >"}


def draw_live_group(
    picture: PracticePicture, standings: Sequence[MemberNow], *, width: int, height: int, palette: Palette
) -> list[Text]:
    """Return the rows of the screen: the count and the move above, a row for each member below.

    Parameters
    ----------
    picture : PracticePicture
    standings : sequence of MemberNow
        Of the members, in their order.
    """
    room = height - 4 - len(standings) - 2
    lines = [bar(f" {tr(picture.title)}", f"{picture.place}   {picture.take} ", width, palette)]
    lines += _head(picture, width, min(max(room, 3), NUMBER_ROWS + 1), palette)
    half = max((width - _NAME - 24) // 2, 8)
    lines.append(Text(f"  {'':<{_NAME}} {tr('early'):<{half}}│{tr('late'):>{half}}      ms", palette.faint))
    lines += [_member(one, half, palette) for one in standings]
    told = wrap(tr(picture.sentence) or picture.caution, width - 6)[:2]
    lines += [Text("  ").append(f" {row} ", palette.warning if picture.sentence else palette.strong) for row in told]
    sound = [] if len(told) > 1 else wrap(picture.sound, width - 4)[: 2 - len(told)]
    lines += [Text(f"  {row}", palette.faint) for row in sound]
    return fill(lines, width, height, palette)


def _head(picture: PracticePicture, width: int, rows: int, palette: Palette) -> list[Text]:
    """Return the count in large digits beside the present move, or a question before a take in large letters."""
    number = draw_number(picture.number[-2:], rows=rows, square=2) if picture.number else []
    wide = max((len(row) for row in number), default=0)
    # a member whose key is asked for has her name as it is
    now = picture.now if picture.stage is Stage.ASKING else tr(picture.now)
    said = fit_letters(now, width - wide - 12) if now else None
    letters = draw_letters(said) if said else [now]
    ahead = [tr(picture.next), tr(picture.next_in)]
    # "or Enter for the usual one, J" and "start with Enter"
    ahead = ahead[::-1] if picture.stage in (Stage.ASKING, Stage.WAITING) else ahead
    beside = ["", *letters, "", tr(picture.number_means), " ".join(ahead).strip()]
    lines = []
    for k in range(rows):
        line = Text("    ", palette.text)
        line.append(f"{number[k] if k < len(number) else '':<{wide}}", palette.number)
        line.append(f"    {beside[k] if k < len(beside) else ''}", palette.strong if k < 5 else palette.faint)
        lines.append(line)
    return lines


def _member(one: MemberNow, half: int, palette: Palette) -> Text:
    signs = [("·", palette.faint)] * (2 * half + 1)
    signs[half] = ("│", palette.text)
    known = not math.isnan(one.offset)
    style = {-1: palette.early, 1: palette.late}.get(one.told, palette.text)
    if known:
        at = half + max(-half, min(round(one.offset / SCALE_END * half), half))
        signs[at] = ("●", palette.strong if one.told else palette.text)
    line = append_signs(Text(f"  {_fit(one.member)} ", palette.text), signs)
    line.append(f"{1000 * one.offset:>+8.0f} " if known else f"{'':>9}", palette.text)
    return line.append(f"{tr(_WORDS[one.told]):<8}", style if one.told else palette.text)


class LiveGroupScreen(MovingScreen[None, GroupConductor]):
    """One practice of a group, from the keys or phones of its members to their card.

    Parameters
    ----------
    context : PracticeContext
    members : sequence of str
    phones : Phones or None
    clock : callable
        ``time.perf_counter`` but in tests.

    Attributes
    ----------
    trouble : CoachError or None
        Why it could not go on.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        *ENTER_KEYS,
        Binding("tab", "card", "its card", key_display="Tab"),
        PHONES_KEY,
        HELP,
        LEAVE,
    ]
    help_name = "live group"

    def __init__(
        self,
        context: PracticeContext,
        members: Sequence[str],
        *,
        phones: Phones | None = None,
        clock: Callable[[], float] = perf_counter,
    ) -> None:
        super().__init__(context, clock=clock)
        self._members, self._phones = tuple(members), phones
        self._shown: tuple[float, list[MemberNow]] = (-math.inf, [])
        self._seen = 0
        self.trouble: CoachError | None = None

    def begin(self) -> GroupConductor:
        """Make the conductor of the group."""
        return GroupConductor(self._practice, self._members, aside=self.aside, phones=self._phones, clock=self._clock)

    def fail(self, error: CoachError) -> None:
        """Leave, with why."""
        self.trouble = error
        self.action_leave()

    @property
    def phones(self) -> Phones | None:
        """The server for phones, where there is one."""
        return self._phones

    @property
    def names(self) -> Sequence[str]:
        """The members."""
        return self._members

    def draw(self) -> None:
        """Advance the practice and draw it; the card comes up by itself."""
        super().draw()
        conductor = self.conductor
        if conductor is not None and len(conductor.takes) > self._seen:
            self._seen = len(conductor.takes)
            self.action_card()

    def draw_page(self, width: int, height: int) -> Page:
        """Return the present state of the members."""
        conductor = self.conductor
        if conductor is None:
            return Page([])
        picture, now = conductor.picture(), self._clock()
        if now - self._shown[0] >= STAYS or conductor.session.stage is not Stage.PLAYING:
            self._shown = (now, conductor.standings())
        if conductor.session.stage is Stage.AFTER:
            failed = conductor.takes[-1].error
            picture = _after(picture, "" if failed is None else say_error(failed))
        return Page(draw_live_group(picture, self._shown[1], width=width, height=height, palette=self._palette))

    @property
    def note(self) -> str:
        """The keys, or the state of the phones."""
        if self.conductor is None:
            return ""
        return self.conductor.picture().keys if self._phones is None else self._phones.note

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available in the present stage."""
        conductor = self.conductor
        if conductor is None:
            return action == "leave"
        stage = conductor.session.stage
        match action:
            case "card":
                return stage is Stage.AFTER and conductor.takes[-1].judged is not None
            case "help":
                return stage in (Stage.ASKING, Stage.WAITING, Stage.AFTER)
        return super().check_action(action, parameters)

    def action_card(self) -> None:
        """Open the card of the newest take."""
        from tempo_coach.ui.group import GroupScreen  # not before it is seen

        judged = self.conductor.takes[-1].judged if self.conductor is not None else None
        if judged is not None:
            self.app.push_screen(GroupScreen(judged.card, over_another=True), lambda _: self.draw())

    def action_leave(self) -> None:
        """Leave the program."""
        self.take_down()
        self.app.exit(0)


def _after(picture: PracticePicture, failed: str) -> PracticePicture:
    return replace(picture, now="over", number="", sentence=picture.sentence or failed)


def _fit(name: str) -> str:
    return set_cell_size(name if cell_len(name) <= _NAME else f"{set_cell_size(name, _NAME - 1).rstrip()}…", _NAME)
