"""A form drawn: one row a line, the chosen one marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from tempo_coach.coach.practising.form import say_line

if TYPE_CHECKING:
    from tempo_coach.coach.practising.form import Form
    from tempo_coach.ui.palette import Palette

#: The columns of labels.
_LABELS = slice(5, 18)
#: Columns for what a line shows.
ROOM = 54


def draw_lines(form: Form, palette: Palette) -> list[Text]:
    """Return the rows of a form, the chosen one marked."""
    rows = []
    for k, line in enumerate(form.lines):
        chosen = k == form.at
        row = Text("  ", palette.text)
        row.append(" ▸ " if chosen else "   ", palette.strong)
        row.append(f"{line.label:<{_LABELS.stop - _LABELS.start}}", palette.strong if chosen else palette.faint)
        shown = say_line(line)
        if len(shown) > ROOM:  # whoever types sees where she is
            shown = f"…{shown[1 - ROOM :]}"
        if chosen:
            typed = f"{shown}▁" if line.kind == "text" else shown
            shown = f"◂ {typed} ▸" if line.kind != "text" or line.choices else typed
        row.append(f" {shown} ", palette.bar if chosen else palette.text)
        rows.append(row)
    return rows


def find_line(form: Form, drawn: str) -> int:
    """Return the number of the form's line that is drawn in a row; -1 where it is none."""
    label = drawn[_LABELS].rstrip()
    return next((k for k, line in enumerate(form.lines) if line.label == label), -1)


def click_line(form: Form, drawn: str, number: int, column: int) -> Form:
    """Return the form after a click on one of its rows: another line chosen, or the chosen one changed.

    Parameters
    ----------
    form : Form
    drawn : str
        The row as it is drawn.
    number : int
        Of the row; one that is none of the form's changes nothing.
    column : int

    Raises
    ------
    CoachError
        As :func:`tempo_coach.coach.practising.form.press`.
    """
    if not 0 <= number < len(form.lines):
        return form
    if number != form.at:
        return form.moved(number - form.at)
    back, on = drawn.find("◂"), drawn.rfind("▸")
    if back < 0 or not back - 1 <= column <= on + 1:
        return form
    return form.put(form.chosen.turned(-1 if column <= back + 1 else 1))
