"""The count sheet of the counts screen, messages and lists. Decides nothing."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from rich.text import Text

from tempo_coach.coach.counting.setting import beat_near, row_with, rows_of
from tempo_coach.coach.notices import tell
from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import say_clock
from tempo_coach.report.words.counts import say_correction
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.ui.counts.sheet_rows import LEFT, RIGHT, draw_row, find_scale, fit_top, lay_out_columns, row_height
from tempo_coach.ui.glyphs import draw_letters
from tempo_coach.ui.text_rows import bar, fill

if TYPE_CHECKING:
    from tempo_coach.coach.counting.setting import Setting
    from tempo_coach.ui.counts.sheet_rows import Look, RowColumns
    from tempo_coach.ui.palette import Palette

_LISTED = 4
#: Lines that a sentence may take.
_SENTENCE_ROWS = 2


class Spot(NamedTuple):
    """The place of a row of the sheet: its first line on the screen, their number, its first beat, its columns."""

    line: int
    lines: int
    beat: int
    columns_of_row: RowColumns


@dataclass(frozen=True, eq=False)
class Drawn:
    """A drawn sheet, and what is where on it."""

    lines: list[Text]
    top: int
    spots: tuple[Spot, ...] = ()

    def beat_at(self, column: int, line: int) -> int | None:
        """Return the beat drawn at a place."""
        for spot in self.spots:
            if spot.line <= line < spot.line + spot.lines and LEFT <= column < LEFT + spot.columns_of_row.end:
                return spot.beat + spot.columns_of_row.count_at(column - LEFT)
        return None


def draw_card(
    look: Look,
    *,
    title: str,
    top: int,
    width: int,
    height: int,
    roomy: bool,
    asking: bool = False,
    listening: str = "",
    taps: int | None = None,
) -> Drawn:
    """Return head and sheet, and the message about the last step.

    Parameters
    ----------
    look : Look
        What is drawn on the sheet.
    title : str
        Of the routine.
    top : int
        The first row of the sheet that was shown before.
    roomy : bool
        Whether there is room for what was done and what is doubtful.
    asking : bool
        Whether something is being typed below.
    listening : str
        What is being heard, in a word; empty for nothing.
    taps : int or None
        How many counts were tapped so far, while that is what is to be done.
    """
    setting, palette = look.setting, look.palette
    rows = rows_of(setting.counts)
    reserved = 0 if asking else 1
    room = max(height - 1 - reserved - (_LISTED + 1 if roomy else 0), 0)
    columns = width - LEFT - RIGHT
    scale = find_scale(setting.counts, rows, columns)
    heights = [row_height(row, look.laid) for row in rows]
    top = fit_top(heights, top, row_with(rows, setting.beat), room)
    lines: list[Text] = []
    spots: list[Spot] = []
    for row in rows[top:]:
        if len(lines) >= room:
            break
        columns_of_row = lay_out_columns(setting.counts, row, scale=scale, columns=columns)
        drawn = draw_row(row, columns_of_row, look)[: room - len(lines)]
        spots.append(Spot(1 + len(lines), len(drawn), row.beat, columns_of_row))
        lines += drawn
    lines += [Text() for _ in range(room - len(lines))]
    if roomy:
        lines += _lists(setting, width, palette)
    told = _told(setting, width, palette) or [Text()] * reserved
    if len(told) > reserved:  # what has to be said goes before the last line of the sheet, or of the lists
        del lines[reserved - len(told) :]
    if taps is not None:
        banner = _tap_along(taps, palette)
        lines[: len(banner)] = banner[: len(lines)]
    lines = fill([_head(setting, title, listening, width, palette), *lines, *told], width, height, palette)
    return Drawn(lines, top, tuple(spots))


def _tap_along(taps: int, palette: Palette) -> list[Text]:
    """Show the instruction in large letters over the first rows of the sheet, which do not change meanwhile."""
    large = [Text(f"   {row}", palette.strong) for row in draw_letters(tr("tap along"))]
    said = tr("   Any key on each count. Enter: that was all. Escape: drop them.   {taps} tapped", taps=taps)
    return [Text(), *large, Text(said, palette.strong), Text()]


def _head(setting: Setting, title: str, listening: str, width: int, palette: Palette) -> Text:
    place = setting.counts.place(float(setting.beat - setting.counts.eights[0][0]))
    where = (
        tr("eight {eight} count {count:g}", eight=place.eight, count=place.count)
        if place.eight > 0
        else tr("before the first count")
    )
    state = tr("NOT SAVED") if setting.unsaved else tr("saved")
    doubts = len(setting.open_doubts)
    left = f" {title}   {state}   {tr('{doubts} doubtful', doubts=doubts) if doubts else tr('no doubtful')}"
    heard = f"{listening}   " if listening else ""
    return bar(left, f"{heard}{where}  {say_clock(setting.time)} ", width, palette)


def _told(setting: Setting, width: int, palette: Palette) -> list[Text]:
    """Return the message about the last step, or the reason of the current doubt, in one or two lines."""
    if setting.news is not None:
        style = palette.warning if setting.failed else palette.strong
        mark = "! " if setting.failed else ""
        rows = textwrap.wrap(f"{mark}{tell(setting.news)}", width - 3, max_lines=_SENTENCE_ROWS, placeholder=" …")
        return [Text("  ", palette.text).append(row, style) for row in rows]
    if setting.doubt_here is not None:
        said = f"? {say_reason(setting.doubt_here.reason)}"
        rows = textwrap.wrap(said, width - 3, max_lines=_SENTENCE_ROWS, placeholder=" …")
        return [Text(f"  {row}", palette.text) for row in rows]
    if setting.stretch is not None:
        begin, end = setting.stretch
        return [
            Text(
                tr("  Marked from {clock} to {clock_2}.", clock=say_clock(begin), clock_2=say_clock(end)), palette.text
            )
        ]
    return []


def _lists(setting: Setting, width: int, palette: Palette) -> list[Text]:
    """Return doubts to come and recent steps, side by side."""
    half = width // 2
    doubts = []
    for doubt in setting.open_doubts[:_LISTED]:
        beat = beat_near(setting.counts, doubt.time)
        place = setting.counts.place(float(beat - setting.counts.eights[0][0]))
        where = (
            tr("eight {eight} count {count:g}", eight=place.eight, count=place.count)
            if place.eight > 0
            else tr("before the counts")
        )
        doubts.append(f"? {where}: {say_reason(doubt.reason)}")
    done = [say_correction(each) for each in reversed(setting.routine.corrections[-_LISTED:])]
    more = len(setting.open_doubts) - len(doubts)
    if more > 0:
        doubts[-1] = tr("… and {more} more", more=more + 1)
    left = [tr("doubtful: {number}", number=len(setting.open_doubts) or tr("nothing left")), *doubts]
    right = [tr("put right by hand: {number}", number=len(setting.routine.corrections) or tr("nothing yet")), *done]
    lines = []
    for k in range(_LISTED + 1):
        a, b = (column[k] if k < len(column) else "" for column in (left, right))
        style = palette.faint if k else palette.strong
        lines.append(Text(f"  {a[: half - 4]:<{half - 2}}{b[: width - half - 2]}", style))
    return lines
