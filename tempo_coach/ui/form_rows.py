"""A form drawn: one row a line, the chosen one marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from tempo_coach.ui.form import say_line

if TYPE_CHECKING:
    from tempo_coach.ui.form import Form
    from tempo_coach.ui.palette import Palette


def draw_lines(form: Form, palette: Palette) -> list[Text]:
    """Return the rows of a form, the chosen one marked."""
    rows = []
    for k, line in enumerate(form.lines):
        chosen = k == form.at
        row = Text("  ", palette.text)
        row.append(" ▸ " if chosen else "   ", palette.strong)
        row.append(f"{line.label:<13}", palette.strong if chosen else palette.faint)
        shown = say_line(line)
        if chosen:
            shown = f"◂ {shown} ▸" if line.kind != "text" else f"{shown}▁"
        row.append(f" {shown} ", palette.bar if chosen else palette.text)
        rows.append(row)
    return rows
