"""The set-up as rows of text: what is to be practised, line by line, and one cycle of the drill."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from rich.text import Text

from tempo_coach.report.draw import draw_pattern
from tempo_coach.ui.floor import bar, fill
from tempo_coach.ui.form_rows import draw_lines

if TYPE_CHECKING:
    from tempo_coach.pattern.practice import Drill
    from tempo_coach.ui.form import Form
    from tempo_coach.ui.palette import Palette

#: Rows that are no sentence, however long it is: head, foot, and the chosen line.
_LEAST = 3
FOOT = " Enter: start  ↑↓ ←→: set  F1: help  F4: new drill  F5: history  Ctrl+Q: leave"


def draw_setup(
    form: Form, drill: Drill | None, *, sentence: str, calm: bool, width: int, height: int, palette: Palette
) -> list[Text]:
    """Return the rows of the set-up.

    What she has to mind and what has to be said stand there whole; the rest takes the rows that are left.

    Parameters
    ----------
    form : Form
    drill : Drill or None
        The one that is chosen, drawn below.
    sentence : str
        What has to be said.
    calm : bool
        Whether that is no warning.
    width, height : int
    palette : Palette
    """
    said = [Text(f" {row} ", palette.text if calm else palette.warning) for row in textwrap.wrap(sentence, width - 4)]
    told = [_pad(Text(" ", palette.text).append_text(row), width, palette) for row in said[: max(height - _LEAST, 1)]]
    mind = textwrap.wrap(f"Mind: {drill.caution}.", width - 4) if drill and drill.caution else []
    caution = [Text(f"  {row}", palette.strong) for row in mind]
    airy = [Text()] if height >= 30 else []
    room = height - 2 - len(caution) - len(told)
    form_rows = _around(draw_lines(form, palette), form.at, room - 2 * len(airy))
    lines = [bar(" tempo_coach   set up", f"{drill.title if drill else ''} ", width, palette), *airy, *form_rows, *airy]
    if drill is not None:
        lines += _about(drill, width, room - len(lines) + 1, palette)
    lines += caution
    rows = fill(lines[: height - 1 - len(told)], FOOT, "", width, height, palette)
    return [*rows[: height - 1 - len(told)], *told, rows[-1]]


def _around(rows: list[Text], at: int, room: int) -> list[Text]:
    """As many rows of a form as there is room for, with the chosen one among them."""
    first = max(0, min(at - room // 2, len(rows) - room))
    return rows[first : first + max(room, 1)]


def _about(drill: Drill, width: int, room: int, palette: Palette) -> list[Text]:
    """One cycle of a drill and what it trains, in so many rows: where they are few, its phases go first."""
    drawn = [Text(f"  {row}", palette.text) for row in draw_pattern(drill.pattern, width=width - 6)]
    if len(drawn) > room and drill.pattern.phases:
        del drawn[1]
    if len(drawn) > room:
        return []
    trains = textwrap.wrap(f"It trains {drill.trains}.", width - 4) if drill.trains else []
    if trains and len(trains) + 1 + len(drawn) <= room:
        return [*(Text(f"  {row}", palette.text) for row in trains), Text(), *drawn]
    return drawn


def _pad(row: Text, width: int, palette: Palette) -> Text:
    row.append(" " * max(width - row.cell_len, 0), palette.text)
    return row
