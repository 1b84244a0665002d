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

FOOT = " Enter: start  ↑↓ ←→: set  F1: help  F4: new drill  F5: history  Ctrl+Q: leave"


def draw_setup(
    form: Form, drill: Drill | None, *, sentence: str, calm: bool, width: int, height: int, palette: Palette
) -> list[Text]:
    """Return the rows of the set-up.

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
    lines = [bar(" tempo_coach   set up", f"{drill.title if drill else ''} ", width, palette)]
    if height >= 30:
        lines.append(Text())
    lines += draw_lines(form, palette)
    if height >= 30:
        lines.append(Text())
    if drill is not None:
        room = height - len(lines) - 1
        about = [Text(f"  {row}", palette.text) for row in draw_pattern(drill.pattern, width=width - 6)]
        if drill.caution and len(about) < room:
            about.append(Text(f"  Mind: {drill.caution}.", palette.strong))
        if drill.trains and len(about) + 1 < room:
            about[:0] = [Text(f"  It trains {drill.trains}."[: width - 2], palette.text), Text()]
        lines += about[:room]
    rows = fill(lines, FOOT, "", width, height, palette)
    if sentence:
        told = [
            Text(f" {row} ", palette.text if calm else palette.warning) for row in textwrap.wrap(sentence, width - 4)
        ]
        for y, row in enumerate(told[:2], start=height - 1 - len(told[:2])):
            rows[y] = Text(" ", palette.text).append_text(row)
            rows[y].append(" " * max(width - rows[y].cell_len, 0), palette.text)
    return rows
