"""The area below the set-up: one cycle of the chosen drill, what she has to mind, and what has to be said."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from rich.text import Text

from tempo_coach.languages import tr
from tempo_coach.report.drawings.drill import draw_pattern
from tempo_coach.signs import wrap
from tempo_coach.ui.text_rows import fill

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.ui.palette import Palette


class Below(NamedTuple):
    """The area below the form, and how many rows it leaves to the form."""

    form_rows: int
    rows: list[Text]


def draw_below(
    drill: Drill | None,
    *,
    sentence: str,
    calm: bool,
    lines: int,
    width: int,
    height: int,
    palette: Palette,
    found: Sequence[str] = (),
) -> Below:
    """Return the area below the form.

    What she has to mind and what has to be said stand there whole; the form takes what that leaves, one row at least,
    and one cycle of the drill what is left then.

    Parameters
    ----------
    drill : Drill or None
        The one that is chosen, drawn below.
    sentence : str
        What has to be said.
    calm : bool
        Whether that is no warning.
    lines : int
        Of the form.
    width, height : int
        Of the form and what is below it.
    found : sequence of str
        Titles of the drills that were looked for, the chosen one first; they stand in the place of the drawing.
    """
    style = palette.text if calm else palette.warning
    told = [Text(" ", palette.text).append(f" {row} ", style) for row in wrap(sentence, width - 4)]
    mind = wrap(tr("Mind: {caution}.", caution=tr(drill.caution)), width - 4) if drill and drill.caution else []
    caution = [Text(f"  {row}", palette.strong) for row in mind]
    told = told[: max(height - len(caution) - 1, 1)]
    form_rows = max(min(lines, height - len(caution) - len(told)), 1)
    room = height - form_rows - len(caution) - len(told)
    about = _list_found(found, room, palette) or (_about(drill, width, room, palette) if drill else [])
    airy = [Text()] if len(about) < room else []
    rows = fill([*airy, *about, *caution], width, height - form_rows - len(told), palette)
    return Below(form_rows, [*rows, *fill(told, width, len(told), palette)])


def _list_found(found: Sequence[str], room: int, palette: Palette) -> list[Text]:
    """Return titles in a number of rows, the last one saying how many more there are."""
    rows = [Text(f"  {title}", palette.text if k else palette.strong) for k, title in enumerate(found)]
    if len(rows) > room > 0:
        rows[room - 1 :] = [Text(f"  and {len(rows) - room + 1} more: type on", palette.faint)]
    return rows


def _about(drill: Drill, width: int, room: int, palette: Palette) -> list[Text]:
    """Return one cycle of a drill and what it trains; where rows are few, phases are left out first."""
    drawn = [Text(f"  {row}", palette.text) for row in draw_pattern(drill.pattern, width=width - 6)]
    if len(drawn) > room and drill.pattern.phases:
        del drawn[1]
    if len(drawn) > room:
        return []
    trains = wrap(tr("It trains {trains}.", trains=tr(drill.trains)), width - 4) if drill.trains else []
    if trains and len(trains) + 1 + len(drawn) <= room:
        return [*(Text(f"  {row}", palette.text) for row in trains), Text(), *drawn]
    return drawn
