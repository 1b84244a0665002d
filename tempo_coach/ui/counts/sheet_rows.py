"""A row of the count sheet: its columns, counts, loudness, and what each hand does."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from rich.text import Text

from tempo_coach.coach.counting.setting import beat_near, row_bounds
from tempo_coach.languages import tr
from tempo_coach.music.counts.renumber import modal_length
from tempo_coach.music.files.loudness import level_between
from tempo_coach.report.words.amounts import say_clock
from tempo_coach.signs import columns, cut, pad
from tempo_coach.times import Floats, column
from tempo_coach.ui.palette import HAND_MARKS
from tempo_coach.ui.text_rows import append_signs

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.coach.counting.setting import EightRow, Setting
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.report.words.sheet import SheetRow
    from tempo_coach.ui.palette import Palette

#: Columns of a pause, however long it is: it is folded, and its length is written into it.
PAUSE_COLUMNS = 8
#: Eights that last longer than this many medians are squeezed instead of making all others narrow.
LONGEST = 1.4


@dataclass(frozen=True, eq=False)
class RowColumns:
    """The columns of one row.

    Parameters
    ----------
    starts : tuple of int
        Column at which each count begins.
    end : int
        The column after the last one.
    pauses : tuple of (column, columns, seconds)
        Where pauses are folded, how many columns they have there, and how long they are.
    knot_columns, knot_seconds : array, shape (k,)
        Both ascending: which column is which time.
    squeezed : bool
        Whether the row is drawn narrower than the others, because it is so long.
    tempo_bpm : float
        Of the row, pauses left out.
    """

    starts: tuple[int, ...]
    end: int
    pauses: tuple[tuple[int, int, float], ...]
    knot_columns: Floats
    knot_seconds: Floats
    squeezed: bool
    tempo_bpm: float

    def column_at(self, seconds: float) -> int:
        """Return the column of a time within the row."""
        place = float(np.interp(seconds, self.knot_seconds, self.knot_columns))
        return min(int(place + 1e-9), self.end - 1)

    def count_at(self, at: int) -> int:
        """Return the count of the row, from 0, at a column."""
        return max(0, int(np.searchsorted(self.starts, at, side="right")) - 1)

    def edges(self) -> Floats:
        """Return the seconds of all columns' edges, shape (end + 1,)."""
        return np.asarray(np.interp(np.arange(self.end + 1), self.knot_columns, self.knot_seconds), dtype=np.float64)


def find_scale(counts: CountMap, rows: Sequence[EightRow], columns: int) -> float:
    """Return the number of columns a second, so that all rows but the longest fit.

    Parameters
    ----------
    columns : int
        That a row may have.
    """
    moving, folded = [], []
    for row in rows:
        begin, end = row_bounds(counts, row)
        inside = [(a, b) for a, b in counts.pauses if begin <= a < end]
        moving.append((end - begin - sum(b - a for a, b in inside)) * row.length / row.here)
        folded.append(len(inside) * PAUSE_COLUMNS)
    median = float(np.median(moving))
    fitting = [(columns - fold) / time for time, fold in zip(moving, folded, strict=True) if time <= LONGEST * median]
    return max(min(fitting), 1.0)


def lay_out_columns(counts: CountMap, row: EightRow, *, scale: float, columns: int) -> RowColumns:
    """Return the columns of a row.

    Parameters
    ----------
    scale : float
        Columns a second.
    columns : int
        That it may have: a longer one is squeezed.
    """
    begin, end = row_bounds(counts, row)
    beats = counts.beats[row.beat : row.beat + row.here]
    pauses = [(a, b) for a, b in counts.pauses if begin <= a < end]
    moving = (end - begin) - sum(b - a for a, b in pauses)
    room = max(columns - len(pauses) * PAUSE_COLUMNS, row.here)
    squeezed = moving * scale > room + 0.5
    scale = min(scale, room / moving)
    seconds = np.unique(np.concatenate([beats, [end], np.ravel(pauses)]))
    place, places, folds = 0.0, [0.0], []
    for left, right in pairwise(seconds):
        pause = any(a <= left and right <= b for a, b in pauses)
        if pause:
            folds.append((round(place), PAUSE_COLUMNS, float(right - left)))
        place += PAUSE_COLUMNS if pause else float(right - left) * scale
        places.append(place)
    last = round(place)
    starts = [round(float(at)) for at in np.interp(beats, seconds, places)]
    # a count has a column, however short it is
    for k in range(1, len(starts)):
        starts[k] = max(starts[k], starts[k - 1] + 1)
    return RowColumns(
        starts=tuple(starts),
        end=max(last, starts[-1] + 1),
        pauses=tuple(folds),
        knot_columns=column(places, name="columns"),
        knot_seconds=column(seconds, name="seconds"),
        squeezed=squeezed,
        tempo_bpm=60.0 * row.here / moving,
    )


#: Columns before the counts (number and time of the eight) and after them (its tempo).
LEFT, RIGHT = 13, 7
#: Eighths of a row, lowest first.
_EIGHTHS = " ▁▂▃▄▅▆▇█"

Signs = list[tuple[str, str]]


@dataclass(frozen=True, eq=False)
class Look:
    """Decorations of a row besides the counts themselves.

    Parameters
    ----------
    levels : array, shape (n,)
        Of :func:`tempo_coach.music.files.loudness.find_levels`.
    laid : mapping of int to SheetRow
        What is done on each eight, by its number.
    heard : float or None
        Seconds of the music that are heard now.
    """

    setting: Setting
    levels: Floats
    laid: Mapping[int, SheetRow]
    heard: float | None
    palette: Palette


def row_height(row: EightRow, laid: Mapping[int, SheetRow]) -> int:
    """Return the number of lines of a row of the sheet."""
    return 2 + len(_more(row, laid))


def draw_row(row: EightRow, columns_of_row: RowColumns, look: Look) -> list[Text]:
    """Return the lines of one row of the sheet.

    Parameters
    ----------
    columns_of_row : RowColumns
        Of this row.
    """
    palette = look.palette
    begin, _ = row_bounds(look.setting.counts, row)
    name = f"{row.number:>3}" if row.number else "  –"
    here = row.beat <= look.setting.beat < row.beat + row.here
    head = Text(f"{name} ", palette.strong if here else palette.text)
    head.append(f"{say_clock(begin):>7}  ", palette.text if here else palette.faint)
    counts = append_signs(head, _count_signs(row, columns_of_row, look))
    counts.append(_behind(counts, columns_of_row.end, f"{columns_of_row.tempo_bpm:4.0f}"), palette.faint)
    under = append_signs(Text(" " * LEFT, palette.text), _level_signs(columns_of_row, look))
    odd = row.number and row.length != modal_length(look.setting.counts)
    word = tr("long") if columns_of_row.squeezed else tr("of {length}", length=row.length) if odd else ""
    under.append(_behind(under, columns_of_row.end, f" {word}"), palette.faint)
    lines = [counts, under]
    for label, at_signs, order in _more(row, look.laid):
        style = palette.hands[order] if order is not None else palette.text
        line = Text(pad(cut(label, LEFT), LEFT), style)
        signs: Signs = [(" ", palette.text)] * columns_of_row.end
        for at, sign in at_signs:
            start = _column_of(at, columns_of_row)
            shown = sign
            if start + len(sign) > columns_of_row.end and len(sign) > 1:
                # what is written stands before its place where there is no room after it
                shown = " ".join(reversed(sign.split(" ", 1)))
                start = max(0, start - len(sign) + 1)
            for k, character in enumerate(shown[: columns_of_row.end - start]):
                signs[start + k] = (character, style)
        lines.append(append_signs(line, signs))
    return lines


def _behind(line: Text, end: int, text: str) -> str:
    """Return text for the right margin, wherever the row ends."""
    return " " * max(LEFT + end - line.cell_len, 0) + text


def _count_signs(row: EightRow, columns_of_row: RowColumns, look: Look) -> Signs:
    """Return the counts: a line where each begins, its number, a question mark where doubtful."""
    setting, palette = look.setting, look.palette
    doubtful = {beat_near(setting.counts, doubt.time): doubt for doubt in setting.open_doubts}
    stretch = setting.stretch
    signs: Signs = []
    for k, start in enumerate(columns_of_row.starts):
        beat = row.beat + k
        end = columns_of_row.starts[k + 1] if k + 1 < len(columns_of_row.starts) else columns_of_row.end
        time = float(setting.counts.beats[beat])
        marked = stretch is not None and stretch[0] - 1e-6 <= time <= stretch[1] + 1e-6
        text = str(k + 1) if row.number else "·"
        style = palette.strong if k == 0 and row.number else palette.text if row.number else palette.faint
        doubt = doubtful.get(beat)
        if doubt is not None:
            text += "?"
            style = palette.late
        if beat == setting.beat:
            style = palette.bar
        room = end - start
        shown = f"│{text}" if room > len(text) else text[:room]
        signs += [(character, style) for character in shown]
        fill = "━" if marked else " "
        rest = style if beat == setting.beat else palette.strong if marked else palette.text
        signs += [(fill, rest)] * (room - len(shown))
    for start, width, seconds in columns_of_row.pauses:
        words = tr("‖ {seconds:.1f} s" if seconds < 100 else "‖ {seconds:.0f} s", seconds=seconds)
        for k, character in enumerate(words[: width - 1].ljust(width)):
            signs[start + k] = (character, palette.strong)
    return _with_post(signs, columns_of_row, look)


def _level_signs(columns_of_row: RowColumns, look: Look) -> Signs:
    """Return the loudness of every column, with the lines of the counts between."""
    palette = look.palette
    edges = columns_of_row.edges()
    levels = level_between(look.levels, edges[:-1], edges[1:])
    heights = np.clip(np.ceil(levels * 8), 0, 8).astype(int)
    signs = [(_EIGHTHS[height], palette.faint) for height in heights]
    for start in columns_of_row.starts:
        signs[start] = ("│", palette.coming)
    return _with_post(signs, columns_of_row, look)


def _with_post(signs: Signs, columns_of_row: RowColumns, look: Look) -> Signs:
    """Mark the place where the music is heard now."""
    heard = look.heard
    if heard is not None and columns_of_row.knot_seconds[0] <= heard < columns_of_row.knot_seconds[-1]:
        signs[columns_of_row.column_at(heard)] = ("┃", look.palette.warning)
    return signs


def _more(row: EightRow, laid: Mapping[int, SheetRow]) -> list[tuple[str, list[tuple[float, str]], int | None]]:
    """Return further lines of a row: label, signs with their counts from the row's beginning, and their style."""
    if row.number not in laid:
        return []
    sheet = laid[row.number]
    lines: list[tuple[str, list[tuple[float, str]], int | None]] = []
    begun: list[str] = []
    for hand in sheet.hands:
        if hand.begins and hand.drill not in begun:
            begun.append(hand.drill)
            lines.append(("", [(hand.at, f"▸ {hand.drill}")], None))
        order = min(hand.order, len(HAND_MARKS) - 1)
        signs = [(mark.at, HAND_MARKS[order]) for mark in hand.marks]
        lines.append((_name_hand(order, tr(hand.hand)), signs, order))
    if sheet.events:
        lines.append(("", [(at, f"▲ {text}") for at, text in sheet.events], None))
    if sheet.steps:
        lines.append(
            ("    steps", [(at, "~" * 3) for start, end, _ in sheet.steps for at in _halves(start, end)], None)
        )
    lines += [("", [(0.0, f"“{remark}”")], None) for remark in sheet.remarks]
    return lines


def _halves(start: float, end: float) -> list[float]:
    return [float(at) for at in np.arange(start, end - 1e-6, 0.5)]


def _column_of(at: float, columns_of_row: RowColumns) -> int:
    """Return the column of a position in counts from the row's beginning."""
    starts = [*columns_of_row.starts, columns_of_row.end]
    return min(int(np.interp(at, np.arange(len(starts)), starts) + 1e-6), columns_of_row.end - 1)


def fit_top(heights: list[int], top: int, focus: int, room: int) -> int:
    """Return the first visible row so that a given row is visible whole, scrolling as little as possible.

    Parameters
    ----------
    heights : list of int
        Lines of each row.
    top : int
        The first row that is shown now.
    focus : int
        The row that has to be seen, and, where there is room, its neighbours.
    room : int
        Lines of the screen.

    Examples
    --------
    >>> fit_top([2] * 20, 0, 12, 10), fit_top([2] * 20, 9, 3, 10), fit_top([2] * 20, 9, 11, 10)
    (9, 2, 9)
    """
    before, behind = max(0, focus - 1), min(len(heights) - 1, focus + 1)
    top = min(top, before)
    while top < focus and sum(heights[top : behind + 1]) > room:
        top += 1
    return top


def _name_hand(order: int, name: str) -> str:
    """Return the name of a hand beside its row, as far from the edge as there is room."""
    label = f"{HAND_MARKS[order]} {name}"
    return cut(" " * min(4, max(LEFT - 1 - columns(label), 0)) + label, LEFT - 1)
