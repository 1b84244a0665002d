"""A form as widgets: a row each that is chosen by focus and changed by keys, clicks and typing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from rich.cells import cell_len, set_cell_size
from rich.style import Style
from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.geometry import Region
from textual.message import Message
from textual.screen import ScreenResultType
from textual.suggester import SuggestFromList
from textual.widgets import Input

from tempo_coach.coach.practising.form_line import DEFAULT, say_line
from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.report.words.errors import say_error
from tempo_coach.ui.row_widgets import Card, Foot
from tempo_coach.ui.screen import CardScreen

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.events import Key

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.form_line import Line
    from tempo_coach.ui.palette import Palette

#: Columns before what a line shows: a sign for the chosen one, and its label.
LABEL = 20
#: Keys of every form.
CHOOSE_KEYS = (
    Binding("up,shift+tab", "app.focus_previous", "change", key_display="↑"),
    Binding("down,tab", "app.focus_next", "change", key_display="↓"),
)
CHANGE_KEYS = (
    Binding("left", "turn(-1)", "change", key_display="←"),
    Binding("right", "turn(1)", "change", key_display="→"),
)


class LineChanged(Message):
    """Message: a line of a form was changed.

    Parameters
    ----------
    sentence : str
        Why it could not be changed as asked; empty where it could.
    typed : Typed, Field or None
        Where it was typed, if it was.
    """

    def __init__(self, line: Line, sentence: str = "", *, typed: Typed | Field | None = None) -> None:
        super().__init__()
        self.line = line
        self.sentence = sentence
        self.typed = typed


def turn(line: Line, by: int) -> LineChanged:
    """Return the line with the next choice or number; a number out of range is cleared."""
    try:
        return LineChanged(line.turned(by))
    except CoachError as error:
        return LineChanged(replace(line, value=DEFAULT), say_error(error))


def draw_label(line: Line, palette: Palette, *, chosen: bool) -> Text:
    """Return the label of a line, with the sign of the current one."""
    row = Text("  ", palette.text).append(" ▸ " if chosen else "   ", palette.strong)
    return row.append(set_cell_size(tr(line.label), LABEL - 5), palette.strong if chosen else palette.faint)


def draw_field(line: Line, palette: Palette, *, chosen: bool) -> Text:
    """Return a line with choices or a number; the current one with signs to click."""
    row = draw_label(line, palette, chosen=chosen)
    style = palette.bar if chosen else palette.text
    back, on = (Style.parse(style) + Style(meta={"@click": f"turn({by})"}) for by in (-1, 1))
    row.append("◂ " if chosen else "  ", back if chosen else style).append(say_line(line), style)
    row.append(" ▸" if chosen else "  ", on if chosen else style)
    return row.append(f"  {line.search}▏", palette.text) if chosen and line.search else row


class Field(Card, can_focus=True):
    """A line with choices or a number, changed by arrow keys and typing."""

    def __init__(self, line: Line) -> None:
        super().__init__(lambda *_: [draw_field(self.line, self.palette, chosen=self.has_focus)])
        self.line = line
        self.ahead = 0  # changes that the form has not heard of yet

    def put(self, line: Line) -> None:
        """Show the line as it is now; what is typed meanwhile is newer than what the form has."""
        if not self.ahead:
            self.line = line
        self.redraw()

    def _change(self, line: Line) -> None:
        """Show a changed line at once, so that the next key changes that one, and notify the form."""
        self.line = line
        self.ahead += 1
        self.redraw()
        self.post_message(LineChanged(line, typed=self))

    def on_focus(self) -> None:
        """Show that it is chosen."""
        self.redraw()

    def on_blur(self) -> None:
        """Show that another one is current, and end the search by typing."""
        if self.line.search:
            self._change(replace(self.line, search=""))
        self.redraw()

    def on_key(self, event: Key) -> None:
        """Add or remove a letter."""
        typed = event.character if event.is_printable else None
        if event.key == "backspace" or typed:
            event.stop()
            self._change(self.line.typed(typed) if typed else self.line.erased())

    def action_turn(self, by: int) -> None:
        """Go on to the next choice, or back."""
        self.post_message(turn(self.line, by))


class Typed(Input):
    """A line of text; arrow keys go through its choices, if any."""

    def __init__(self, line: Line) -> None:
        super().__init__(line.value, placeholder=tr(line.default), select_on_focus=False)
        self.line = line
        self.ahead = 0  # changes that the form has not heard of yet
        self.cursor_blink = False

    def put(self, line: Line) -> None:
        """Show the line as it is now."""
        if line.choices != self.line.choices:
            self.suggester = SuggestFromList([each for each in line.choices if each], case_sensitive=False)
        # what is typed meanwhile is newer than what the form has
        newer = self.ahead or self.value != self.line.value
        self.line, self.placeholder = replace(line, value=self.line.value if newer else line.value), tr(line.default)
        if self.value != line.value and not newer:
            self.value = line.value
            self.cursor_position = len(line.value)

    async def _on_key(self, event: Key) -> None:
        """Begin anew where first letters are typed over a choice."""
        if self.line.completes and event.is_printable and self._is_choice:
            self.value = ""
        await super()._on_key(event)

    def complete(self) -> bool:
        """Show the choice that first letters stand for, and return whether they did."""
        value = replace(self.line, value=self.value).completed.value
        completed = value != self.value
        if completed:
            self.value = value
            self.cursor_position = len(value)
        return completed

    def on_blur(self) -> None:
        """Complete first letters when another line is chosen."""
        self.complete()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Tell the form, unless it was the form that told this."""
        event.stop()
        self.call_after_refresh(self._show_cursor)
        if event.value != self.line.value:
            self.line = replace(self.line, value=event.value)
            self.ahead += 1
            self.post_message(LineChanged(self.line, typed=self))

    def _show_cursor(self) -> None:
        """Scroll to the cursor after a paste, once the line has been laid out."""
        column = cell_len(self.value[: self.cursor_position])
        self.scroll_to_region(Region(column, 0, 1, 1), force=True, animate=False)

    def action_cursor_left(self, select: bool = False) -> None:
        """Go back in what is typed, or to another choice."""
        self.action_turn(-1) if self._is_choice else super().action_cursor_left(select)

    def action_cursor_right(self, select: bool = False) -> None:
        """Go on in what is typed, or to another choice."""
        self.action_turn(1) if self._is_choice else super().action_cursor_right(select)

    @property
    def _is_choice(self) -> bool:
        return self.value in self.line.choices

    def action_turn(self, by: int) -> None:
        """Go on to the next choice, or back."""
        self.post_message(turn(self.line, by))


class TypedRow(Horizontal):
    """A label and a line of text."""

    def __init__(self, line: Line) -> None:
        self._typed = Typed(line)
        self._label = Card(self._draw)
        super().__init__(self._label, self._typed)

    def _draw(self, *_size: int) -> list[Text]:
        palette, chosen = self._label.palette, self._typed.has_focus
        row = draw_label(self._typed.line, palette, chosen=chosen)
        if chosen and self._typed.line.choices:
            row.right_crop(1)
            for sign, by in (("◂", -1), ("▸", 1)):
                row.append(sign, Style.parse(palette.strong) + Style(meta={"@click": f"screen.turn({by})"}))
        return [row]

    def put(self, line: Line) -> None:
        """Show the line as it is now."""
        self._typed.put(line)

    def on_descendant_focus(self) -> None:
        """Show that it is chosen."""
        self._label.redraw()

    def on_descendant_blur(self) -> None:
        """Show that another one is."""
        self._label.redraw()

    def on_click(self) -> None:
        """Choose it by its label too."""
        self._typed.focus()


class FormView(VerticalScroll, can_focus=False, inherit_bindings=False):
    """The rows of a form.

    Parameters
    ----------
    form : Form
        As it stands in the first place.
    """

    def __init__(self, form: Form) -> None:
        self._lines = [TypedRow(line) if line.kind == "text" else Field(line) for line in form.lines]
        super().__init__(*self._lines)
        for row, line in zip(self._lines, form.lines, strict=True):
            row.display = line.key not in form.idle

    def choose(self, key: str) -> None:
        """Choose a line by its key."""
        for row in self._lines:
            if isinstance(row, Field) and row.line.key == key:
                row.focus()

    def put(self, form: Form) -> None:
        """Show the form as it is now."""
        for row, line in zip(self._lines, form.lines, strict=True):
            row.put(line)
            row.display = line.key not in form.idle


class FormScreen(CardScreen[ScreenResultType]):
    """A screen of a head, a form, its result, and the keys."""

    def __init__(self, form: Form) -> None:
        super().__init__()
        self._form = form
        self.sentence = ""

    @property
    def form(self) -> Form:
        """The form as it stands."""
        return self._form

    @form.setter
    def form(self, form: Form) -> None:
        self._form = form
        for view in self.query(FormView):
            view.put(form)

    def compose(self) -> ComposeResult:
        """Make the widgets."""
        yield Card(lambda width, _: [self.draw_head(width)], id="head")
        yield FormView(self.form)
        yield Card(self._draw_main, id="main")
        yield Foot(lambda: self.note)

    def draw_head(self, width: int) -> Text:
        """Return the head of the screen."""
        raise NotImplementedError

    def on_line_changed(self, event: LineChanged) -> None:
        """Take a changed line into the form."""
        if event.typed is not None:
            event.typed.ahead -= 1
        self.sentence = event.sentence
        self.form = self.form.put(event.line)
        self.form_changed(event.line)
        self.draw()

    def form_changed(self, line: Line) -> None:
        """Hook for screens that react to a changed line; does nothing here."""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Arrows change what has choices or is a number."""
        if action == "turn":
            return isinstance(self.focused, Field | Typed)
        return super().check_action(action, parameters)

    def action_turn(self, by: int) -> None:
        """Change the chosen line."""
        if isinstance(self.focused, Field | Typed):
            self.focused.action_turn(by)

    def hold_still(self, still: bool) -> None:
        """Disable changes for a while; the current line stays current."""
        chosen, view = self.focused, self.query_one(FormView)
        if still:
            self._chosen = chosen
        view.disabled = still
        if not still:
            self.set_focus(self._chosen)
