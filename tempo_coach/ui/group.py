"""The group screen: members on a scale, eights, where it falls apart, who follows whom."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar

from rich.cells import cell_len, set_cell_size
from rich.text import Text
from textual.binding import Binding

from tempo_coach.languages import tr, tr_n
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.words.group import tell_exchange
from tempo_coach.report.words.group_sentence import head_group, list_left, tell_group
from tempo_coach.report.words.observers import say_observer
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.signs import cut, pad, wrap
from tempo_coach.ui.glyphs import draw_letters, letters_width
from tempo_coach.ui.screen import BACK, HELP, LEAVE, CardScreen, Page, scroll_keys
from tempo_coach.ui.text_rows import append_signs, bar, fill

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.binding import BindingType

    from tempo_coach.score.group.card import GroupCard
    from tempo_coach.ui.palette import Palette

#: What can be looked at, in the order in which Tab goes through it.
VIEWS = ("members", "members by eights", "who follows whom", "eight by eight", "fell apart", "exchanges", "notes")
#: Seconds that an end of the members' scale stands for, at least.
SCALE_END = 0.15
_NAME = 16
#: Columns of a number of ms.
_NUMBER = 8
#: The key of each member's own card, as many as a group may have members.
KEYS = "1234567890abcdefghijklmnopqrst"
#: Members whose keys are told as a row of numbers; of more, each key stands before its name.
IN_A_ROW = 9


def draw_group(
    card: GroupCard,
    *,
    view: int,
    first_row: int,
    width: int,
    height: int,
    palette: Palette,
    notes: Sequence[str] = (),
) -> Page:
    """Return the rows of the group screen.

    Parameters
    ----------
    notes : sequence of str
        What was said while the members were read.
    view : int
        Which of ``VIEWS``; beyond them a member's own card, in order.
    first_row : int
        How many of its rows are scrolled away.
    """
    number = tr_n("{number} member", "{number} members", len(card.members)) if card.members else tr("one recording")
    own = view - len(VIEWS)
    name = VIEWS[view] if own < 0 else card.members[own].member
    lines = [bar(f" {tr('A group')}   {tr(name) if own < 0 else name}", f"{number} ", width, palette), Text()]
    lines += [Text(f"  {row}", palette.strong) for row in draw_letters(_headline(card))[: 3 if height >= 20 else 0]]
    lines += [Text(f"  {row}", palette.text) for row in wrap(tell_group(card), width - 4)]
    lines += [Text(f"  {row}", palette.faint) for row in wrap(_figures(card), width - 4) or [""]]
    lines.append(Text())
    if name == "notes":
        head, *rows = _notes(card, notes, width, palette)
    else:
        head, *rows = _VIEWS[view](card, width, palette) if own < 0 else _own_card(card, own, width, palette)
    lines.append(head)
    room = max(height - len(lines), 0)
    first = max(0, min(first_row, len(rows) - room))
    lines += rows[first : first + room]
    return Page(fill(lines, width, height, palette), first, len(rows[first + room :]))


def _headline(card: GroupCard) -> str:
    """Return the headline in large letters, which have A to Z only; other names stand in the sentence below."""
    told = head_group(card)
    return told if told.isascii() and letters_width(told) <= 76 else tr("not together")


def _figures(card: GroupCard) -> str:
    if math.isnan(card.resultant):
        return ""
    return tr(
        "together {resultant:.2f} of 1, first to last {width:.0f} ms, spread {sd:.0f} ms"
        if math.isnan(card.chance)
        else "together {resultant:.2f} of 1 (chance {chance:.2f}), first to last {width:.0f} ms, spread {sd:.0f} ms",
        resultant=card.resultant,
        chance=card.chance,
        width=1000 * card.width,
        sd=1000 * card.sd,
    )


def _members(card: GroupCard, width: int, palette: Palette) -> list[Text]:
    heads = (tr("to group"), "" if card.reference == "nothing" else tr(card.reference), tr("spread"))
    columns = [max(_NUMBER, cell_len(head) + bool(at)) for at, head in enumerate(heads)]
    half = max((width - _NAME - 7 - sum(columns)) // 2, 8)
    ends = [abs(value) for m in card.members for value in (m.offset, m.bias) if not math.isnan(value)]
    end = max([*ends, SCALE_END])
    late = cut(tr("late"), half)
    scale = f"{_cell(tr('early'), half)}│{' ' * (half - cell_len(late))}{late}"
    named = "".join(" " * (wide - cell_len(head)) + head for head, wide in zip(heads, columns, strict=True))
    lines = [Text(f"  {_cell(tr('member'), _NAME)} {scale}  {named}", palette.faint)]
    for key, member in zip(KEYS, card.members, strict=False):
        signs = [("·", palette.faint)] * (2 * half + 1)
        signs[half] = ("│", palette.text)
        for value, sign, style in (
            (member.bias, "○", palette.faint),
            (member.offset, "●", palette.hands[0]),
        ):
            if not math.isnan(value):
                signs[half + max(-half, min(round(value / end * half), half))] = (sign, style)
        line = append_signs(Text(f"{key} {_cell(member.member, _NAME)} ", palette.text), signs)
        said = (_ms(member.offset), _ms(member.bias), _ms(member.spread, ""))
        numbers = "".join(f"{number:>{wide}}" for number, wide in zip(said, columns, strict=True))
        lines.append(line.append(f"  {numbers}", palette.text))
    if card.members:
        legend = tr(
            "  ● against the group, in ms; an end of a row: {end:.0f} ms"
            if card.reference == "nothing"
            else "  ● against the group, ○ against the {reference}, in ms; an end of a row: {end:.0f} ms",
            reference=tr(card.reference),
            end=1000 * end,
        )
        lines += [
            Text(),
            *(Text(f"  {row}", palette.faint) for row in wrap(legend.strip(), width - 4)),
            Text(
                tr("  1 to {number}: a member's own card", number=len(card.members))
                if len(card.members) <= IN_A_ROW
                else tr("  the key before her name: a member's own card"),
                palette.faint,
            ),
        ]
    else:
        lines.append(Text(tr("  Who was who cannot be told in one recording."), palette.text))
    return lines


def _over_time(card: GroupCard, width: int, palette: Palette) -> list[Text]:
    lines = [Text(tr("  eight  first to last"), palette.faint)]
    most = max((s.width for s in card.over_time), default=0.0) or 1.0
    columns = width - 24
    for stretch in card.over_time:
        line = Text(
            tr("  {eight:>5}  {width:>6.0f} ms  ", eight=stretch.eight, width=1000 * stretch.width), palette.text
        )
        dark, light = round(stretch.sd / most * columns), round(stretch.width / most * columns)
        line.append("█" * dark, palette.done).append("░" * max(light - dark, 0), palette.done)
        lines.append(line)
    if card.over_time:
        lines += [Text(), Text(tr("  █ spread, ░ from the first to the last"), palette.faint)]
    return lines


#: Shades of a distance, and the seconds from which on each stands.
_SHADES = ((0.12, "█"), (0.06, "▓"), (0.03, "▒"), (0.015, "░"))


def _shade(seconds: float) -> str:
    """Return a cell of three signs: early or late, and by how much."""
    if math.isnan(seconds):
        return "   "
    sign = next((shade for least, shade in _SHADES if abs(seconds) >= least), "")
    return f"{'>' if seconds > 0 else '<'}{sign * 2}" if sign else " · "


def _by_eights(card: GroupCard, width: int, palette: Palette) -> list[Text]:
    """Return members as rows and eights as columns, in as many blocks as needed."""
    eights = sorted({one.eight for one in card.by_eight})
    cells = {(one.member, one.eight): one for one in card.by_eight}
    if not cells:
        return [Text(tr("  Who was who cannot be told in one recording."), palette.text)]
    per_block = max((width - _NAME - 4) // 4, 1)
    lines = []
    for first in range(0, len(eights), per_block):
        block = eights[first : first + per_block]
        lines.append(Text(f"  {tr('eight'):<{_NAME}}" + "".join(f"{eight:>4}" for eight in block), palette.faint))
        for member in card.members:
            line = Text(f"  {_cell(member.member, _NAME)}", palette.text)
            for eight in block:
                one = cells[member.member, eight]
                line.append("!" if one.away else " ", palette.strong)
                line.append(_shade(one.offset), palette.hands[0] if one.away else palette.text)
            lines.append(line)
        lines.append(Text())
    told = tr("< early, > late of the others: · under 15 ms, ░ 15, ▒ 30, ▓ 60, █ 120 ms and more; ! beyond chance")
    lines += [Text(f"  {row}", palette.faint) for row in wrap(told, width - 4)]
    return lines


def _own_card(card: GroupCard, number: int, width: int, palette: Palette) -> list[Text]:
    """Return the view of one member."""
    member = card.members[number]
    member = member._replace(unsure=0.0) if "clocks" in card.reasons else member  # a note says what clocks leave open
    told = tr(
        "  to the group {offset} ms, spread {spread} ms, {n} moments, observed by {observer}",
        offset=_ms(member.offset).strip(),
        spread=_ms(member.spread, "").strip(),
        n=member.n,
        observer=say_observer(member.observed_by),
    )
    lines = [Text(told, palette.text)]
    if member.unsure:
        unsure = 1000 * member.unsure
        told = (
            tr("  of it {unsure:.0f} ms either way may be where in the circle a sensor times it", unsure=unsure)
            if card.without_zero
            else tr(
                "  of it {unsure:.0f} ms either way may be distances from the loudspeaker, hers or theirs",
                unsure=unsure,
            )
        )
        lines.append(Text(told, palette.faint))
    mine = [one for one in card.by_eight if one.member == member.member]
    half = max((width - 24) // 2, 8)
    end = max([abs(one.offset) for one in mine if not math.isnan(one.offset)] + [SCALE_END])
    lines += [Text(), Text(f"  {tr('eight'):<6} {tr('early'):<{half}}│{tr('late'):>{half}}      ms", palette.faint)]
    for one in mine:
        signs = [("·", palette.faint)] * (2 * half + 1)
        signs[half] = ("│", palette.text)
        if not math.isnan(one.offset):
            signs[half + round(one.offset / end * half)] = ("◆" if one.away else "●", palette.hands[0])
        line = append_signs(Text(f"  {one.eight:>5}  ", palette.text), signs)
        lines.append(line.append(_ms(one.offset), palette.text))
    lines.append(Text())
    lines += [Text(f"  {list_left(one)}", palette.text) for one in card.left if one.member == member.member]
    for pair in card.pairs:
        if pair.follows and member.member in (pair.a, pair.b):
            lines.append(Text(tr("  {b} follows {a}: {gain:.0%}", b=pair.b, a=pair.a, gain=pair.gain), palette.text))
    return lines


def _apart(card: GroupCard, width: int, palette: Palette) -> list[Text]:
    lines = []
    if card.left:
        lines += [Text(tr("  who left the group"), palette.faint)]
        lines += [Text(f"  {_cell(list_left(one), width - 4).rstrip()}", palette.text) for one in card.left]
        lines.append(Text())
    lines.append(Text(tr("  place           from the first to the last"), palette.faint))
    for each in card.apart:
        place = tr("eight {eight} count {count}", eight=each.eight, count=say_count(each.count - 1))
        size = tr("{width:>5.0f} ms", width=1000 * each.width)
        lines.append(Text(f"  {pad(place, 20)} {size}", palette.text))
    return lines if card.apart else [*lines, Text(tr("  No moment stands out of the others."), palette.text)]


def _pairs(card: GroupCard, width: int, palette: Palette) -> list[Text]:
    lines = [Text(tr("  who follows whom: the share of a lead that is taken over by the next cycle"), palette.faint)]
    for pair in sorted((p for p in card.pairs if p.follows), key=lambda p: -p.gain):
        told = tr(
            "{b} follows {a}: {gain:.0%}, between {low:.0%} and {high:.0%}",
            b=pair.b,
            a=pair.a,
            gain=pair.gain,
            low=pair.low,
            high=pair.high,
        )
        lines.append(Text(f"  {_cell(told, width - 4).rstrip()}", palette.text))
    if len(lines) == 1:
        nobody = tr("nobody, beyond chance") if card.pairs else tr("members cannot be told apart")
        reason = say_reason(card.reasons.get("pairs")) or nobody
        lines.append(Text(f"  {reason}", palette.text))
    return lines


def _has_exchanges(card: GroupCard) -> bool:
    """Return whether there are exchanges, or requested ones that are missing."""
    return bool(card.exchanges) or "exchanges" in card.reasons


def _exchanges(card: GroupCard, width: int, palette: Palette) -> list[Text]:
    lines = [Text(tr("  from hand to hand"), palette.faint)]
    for exchange in card.exchanges:
        for line in tell_exchange(exchange):
            rows = wrap(f"  {line}", width - 2, subsequent_indent="      ")
            lines += [Text(row, palette.text) for row in rows]
    reason = say_reason(card.reasons.get("exchanges")) or tr("nothing is thrown and caught here")
    return lines if card.exchanges else [*lines, Text(f"  {reason}", palette.text)]


def _notes(card: GroupCard, notes: Sequence[str], width: int, palette: Palette) -> list[Text]:
    """Return why something is not known, and notes from reading the members."""
    said = [*notes, *(f"{told[0].upper()}{told[1:]}." for told in map(say_reason, card.reasons.values()))]
    lines = [
        Text(tr("  what else there is to know") if said else tr("  There is nothing else to know."), palette.faint)
    ]
    for each in said:
        lines += [Text(), *(Text(f"  {row}", palette.text) for row in wrap(each, width - 4))]
    return lines


_VIEWS = (_members, _by_eights, _pairs, _over_time, _apart, _exchanges)


def _cell(words: str, width: int) -> str:
    if cell_len(words) > width:
        words = set_cell_size(words, max(width - 1, 0)).rstrip() + "…"
    return set_cell_size(words, width)


def _ms(seconds: float, sign: str = "+") -> str:
    return f"{'' if math.isnan(seconds) else f'{1000 * seconds:{sign}z.0f}':>{_NUMBER}}"


class GroupScreen(CardScreen[None]):
    """The card of a group; Tab goes on to what else there is.

    Parameters
    ----------
    notes : sequence of str
        What was said while the members were read.
    over_another : bool
        Whether it was opened from another screen, to which Enter goes back.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding("tab", f"look({view})", name, key_display="Tab") for view, name in enumerate(VIEWS)),
        Binding("right", "turn(1)", "on", show=False),
        Binding("left,shift+tab", "turn(-1)", "back", show=False),
        *(Binding(key, f"member({number})", "member", show=False) for number, key in enumerate(KEYS, 1)),
        *scroll_keys("rows"),
        HELP,
        *BACK,
        LEAVE,
    ]
    help_name = "group"

    def __init__(self, card: GroupCard, *, notes: Sequence[str] = (), over_another: bool = False) -> None:
        super().__init__()
        self._card = card
        self._notes = tuple(notes)
        self._over_another = over_another
        self._view = 0
        #: Of ``VIEWS`` those that have something to show.
        self._shown = [k for k, name in enumerate(VIEWS) if name != "exchanges" or _has_exchanges(card)]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Of the views, Tab names the next one; back goes to the screen below, where there is one."""
        if action == "back":
            return self._over_another
        if action == "look":
            return parameters == (self._step(1) if self._view < len(VIEWS) else 0,)
        return super().check_action(action, parameters)

    def action_look(self, view: int) -> None:
        """Show another view."""
        self._view, self._first_row = view, 0
        self.draw()

    def action_turn(self, by: int) -> None:
        """Go on to the next view, or back."""
        if self._view < len(VIEWS):
            self.action_look(self._step(by))
        else:
            self.action_look(len(VIEWS) + (self._view - len(VIEWS) + by) % len(self._card.members))

    def _step(self, by: int) -> int:
        """Return the view a number of visible ones further on."""
        return self._shown[(self._shown.index(self._view) + by) % len(self._shown)]

    def action_member(self, number: int) -> None:
        """Show the card of a member, by her number in the list."""
        if number <= len(self._card.members):
            self.action_look(len(VIEWS) + number - 1)

    def draw_page(self, width: int, height: int) -> Page:
        """Return the current view."""
        return draw_group(
            self._card,
            view=self._view,
            first_row=self._first_row,
            width=width,
            height=height,
            palette=self._palette,
            notes=self._notes,
        )


def open_group(card: GroupCard, *, notes: Sequence[str] = ()) -> int:
    """Open the card of a group on the screen, with what was said while its members were read.

    Raises
    ------
    CoachError
        If there is no terminal, or the screen ended on its own.
    """
    from tempo_coach.ui.app import AloneApp
    from tempo_coach.ui.terminal import check_terminal, run_app

    check_terminal()
    run_app(AloneApp(GroupScreen(card, notes=notes)))
    return 0
