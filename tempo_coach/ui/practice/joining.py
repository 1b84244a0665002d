"""The screen that admits phones: a code to scan, and a name and a role for each phone that asks."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from rich.text import Text
from textual.binding import Binding

from tempo_coach.coach.notices import tell
from tempo_coach.languages import tr
from tempo_coach.report.drawings.drill import say_worn_at
from tempo_coach.signs import cut, wrap
from tempo_coach.ui.screen import HELP, LEAVE, CardScreen, Page
from tempo_coach.ui.text_rows import bar, fill

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.binding import BindingType

    from tempo_coach.live.phones.joined import JoinedPhone
    from tempo_coach.live.phones.link import Phones
    from tempo_coach.ui.palette import Palette

#: Pictures a second while nothing moves.
_PICTURES_HZ = 4.0
#: Light modules around a code; readers ask for four, and two do on a light ground (seen with OpenCV's reader).
QUIET = 2
#: Columns beside the code that what is said there needs.
_LEAST = 28


class PhoneRole(NamedTuple):
    """A choice for a phone: its name, its roles, and the hands of its fields."""

    said: str
    roles: tuple[str, ...]
    fields: tuple[str, ...]


def list_roles(hands: Sequence[str]) -> list[PhoneRole]:
    """Return the possible roles of a phone for some hands."""
    both = tuple(hands)
    roles = [PhoneRole("tap", ("tap",), both), PhoneRole(tr("tap, remote"), ("tap", "remote"), both)]
    if len(both) > 1:
        roles += [PhoneRole(tr("tap, {hand} alone", hand=tr(hand)), ("tap",), (hand,)) for hand in both]
    roles += [PhoneRole(tr("worn, {hand}", hand=tr(hand)), ("worn",), (hand,)) for hand in both]
    roles += [PhoneRole("count", ("count",), ()), PhoneRole(tr("count, remote"), ("count", "remote"), ())]
    return [*roles, PhoneRole("remote", ("remote",), ())]


def draw_code(text: str, *, coloured: bool = True) -> list[Text]:
    """Return an address as a two-dimensional code, two modules a character.

    Parameters
    ----------
    text : str
    coloured : bool
        Whether dark is drawn on light whatever the terminal's colours are; else what is light is drawn.
    """
    import segno

    code = segno.make(text, error="l", boost_error=False, micro=False)
    rows = [list(map(bool, row)) for row in code.matrix_iter(scale=1, border=QUIET)]
    rows += [[False] * len(rows[0])] * (len(rows) % 2)
    signs = " ▀▄█" if coloured else "█▄▀ "
    style = "#000000 on #FFFFFF" if coloured else ""
    pairs = zip(rows[::2], rows[1::2], strict=True)
    return [Text("".join(signs[a + 2 * b] for a, b in zip(*pair, strict=True)), style) for pair in pairs]


class JoiningScreen(CardScreen[None]):
    """The code, the phones, and the choices for the newest one that asks.

    Parameters
    ----------
    phones : Phones
    hands : sequence of str
        Of the plan.
    names : sequence of str
        Whose phone it may be, the likeliest first.
    worn_at : sequence of str or None
        Where a worn one feels the drill's cycles; None where nothing is said of it.
    alone : bool
        Whether nothing else asks the phones for news meanwhile.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "go", "let it in", key_display="Enter", priority=True),
        Binding("left", "role(-1)", "role", key_display="← →"),
        Binding("right", "role(1)", "role", show=False),
        Binding("up", "name(-1)", "whose", key_display="↑ ↓"),
        Binding("down", "name(1)", "whose", show=False),
        Binding("backspace,delete", "refuse", "send it away", key_display="Backspace"),
        Binding("escape", "back", "back", key_display="Escape"),
        HELP,
        LEAVE,
    ]
    help_name = "phones"

    def __init__(
        self,
        phones: Phones,
        *,
        hands: Sequence[str],
        names: Sequence[str],
        worn_at: Sequence[str] | None = None,
        alone: bool = False,
    ) -> None:
        super().__init__()
        self._worn_at = worn_at
        self._phones, self._alone = phones, alone
        self._roles, self._chosen = list_roles(hands), 0
        self._names, self._whose = list(names), 0
        self._offered = 0
        self._drawn: tuple[str, list[Text]] = ("", [])

    def on_mount(self) -> None:
        """Look for phones again and again."""
        self._phones.watched = True
        self.set_interval(1 / _PICTURES_HZ, self._look)

    def _look(self) -> None:
        if self._alone:
            self._phones.poll()
        self.draw()

    def on_unmount(self) -> None:
        """Let the practice tell who asks."""
        self._phones.watched = False

    @property
    def _asking(self) -> JoinedPhone | None:
        return next(iter(self._phones.unconfirmed), None)

    @property
    def note(self) -> str:
        """The bound of the clocks."""
        return self._phones.note

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action is available: choices need a phone that asks."""
        if action in ("role", "name", "refuse"):
            return self._asking is not None
        return super().check_action(action, parameters)

    def draw_page(self, width: int, height: int) -> Page:
        """Return the code at the left, the phones at its right."""
        palette = self._palette
        if self._drawn[0] != self._phones.url:
            code = draw_code(self._phones.url, coloured=bool(palette.card)) if self._phones.url else []
            self._drawn = (self._phones.url, code)
        code = self._drawn[1]
        left = code[0].cell_len + 3 if code else 2
        rows = [bar(tr(" tempo_coach   phones"), "", width, palette), Text()]
        if width - left - 2 < _LEAST or height < len(code) + len(rows):
            told = self._draw_phones(width - 4, palette)
            need = tr(
                "The code needs a window of {left} columns and {number} rows.",
                left=left + 2 + _LEAST,
                number=len(code) + len(rows) + 2,
            )
            told += [Text(), *(Text(row, palette.warning) for row in wrap(need, width - 4))] if code else []
            return Page(fill([*rows, *(Text("  ").append_text(row) for row in told)], width, height, palette))
        right = self._draw_phones(width - left - 2, palette)
        for k in range(max(len(code), len(right))):
            row = Text("  ", palette.text)
            row.append_text(code[k] if k < len(code) else Text(" " * max(left - 3, 0), palette.text))
            row.append("  ", palette.text)
            rows.append(row.append_text(right[k]) if k < len(right) else row)
        return Page(fill(rows, width, height, palette))

    def _draw_phones(self, room: int, palette: Palette) -> list[Text]:
        phones = self._phones
        if phones.trouble is not None:
            return [Text(row, palette.warning) for row in wrap(tell(phones.trouble), room)]
        if not phones.url:
            return [Text(tr("Opening the server …"), palette.text)]
        rows = [
            Text(tr("Scan with the phone, in this network:"), palette.text),
            Text(phones.url.partition("#")[0], palette.strong),
            Text(tr("Its browser warns of a certificate that"), palette.faint),
            Text(tr("nobody signed: go on. SHA-256 begins"), palette.faint),
            Text(tr("and ends {fingerprint}", fingerprint=phones.fingerprint), palette.faint),
            Text(),
        ]
        for each in phones.phones.values():
            if each.roles:
                bound = "" if each.half_width > 1 else tr(" ±{value} ms", value=max(1, round(1000 * each.half_width)))
                state = tr(" silent") if each.silent else bound
                parts = " ".join(map(tr, (*each.roles, *each.fields)))
                told = f"{cut(each.name, room - 1)}: {parts}{state}"
                rows += [Text(row, palette.text) for row in wrap(told, room, subsequent_indent="  ")]
        asking = self._chosen_for()
        if asking is not None:
            rows += [
                Text(),
                Text(tr(" The phone that shows {sign} ", sign=asking.sign), palette.warning),
                Text(tr("is ◂ {said} ▸", said=tr(self._roles[self._chosen].said)), palette.strong),
                Text(cut(tr("of ▴ {name} ▾", name=cut(self._names[self._whose], room - 10)), room), palette.strong),
                *(Text(row, palette.text) for row in wrap(self._say_worn(asking), room)),
                *(Text(row, palette.warning) for row in wrap(self._say_rivals(asking), room)),
            ]
        elif not phones.phones:
            rows.append(Text(tr("No phone yet."), palette.text))
        return rows

    def _chosen_for(self) -> JoinedPhone | None:
        """Return the asking phone as it would be admitted now."""
        asking = self._asking
        if asking is None:
            return None
        if asking.before and asking.number != self._offered:
            # one that took part already is offered what it was
            self._offered = asking.number
            was = self._phones.phones.get(asking.before)
            same = [k for k, each in enumerate(self._roles) if was and each[1:] == (was.roles, was.fields)]
            if was is not None and same and was.name in self._names:
                self._chosen, self._whose = same[0], self._names.index(was.name)
        _, roles, fields = self._roles[self._chosen]
        return replace(asking, name=self._names[self._whose], roles=roles, fields=fields)

    def _say_worn(self, joined: JoinedPhone) -> str:
        """Return where a phone to be worn feels the cycles."""
        return say_worn_at(self._worn_at) if self._worn_at is not None and "worn" in joined.roles else ""

    def _say_rivals(self, joined: JoinedPhone) -> str:
        """Return which phone it replaces."""
        rivals = self._phones.rivals(joined)
        if not rivals:
            return ""
        if all(each.number == joined.before for each in rivals):
            return tr("It was here already: it goes on as the same.")
        named = ", ".join(
            tr(
                "{sign} of {name} ({names})",
                sign=each.sign,
                name=each.name,
                names=" ".join(map(tr, (*each.roles, *each.fields))),
            )
            for each in rivals
        )
        return tr(
            "Enter puts it in the place of {named}: no take can have both. Measured delays are not its own.",
            named=named,
        )

    def action_role(self, by: int) -> None:
        """Choose another role."""
        self._chosen = (self._chosen + by) % len(self._roles)
        self.draw()

    def action_name(self, by: int) -> None:
        """Choose another name."""
        self._whose = (self._whose + by) % len(self._names)
        self.draw()

    def action_go(self) -> None:
        """Admit the asking phone; without one, go back."""
        asking = self._chosen_for()
        if asking is None:
            self.dismiss()
            return
        self._phones.confirm(asking.number, name=asking.name, roles=asking.roles, fields=asking.fields)
        self.draw()

    def action_refuse(self) -> None:
        """Refuse the asking phone."""
        asking = self._asking
        if asking is not None:
            self._phones.refuse(asking.number)
            self.draw()
