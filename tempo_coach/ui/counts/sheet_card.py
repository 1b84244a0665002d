"""The screen on which counts are set: head, sheet, what came of the last step, and keys. Draws; decides nothing."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from rich.text import Text

from tempo_coach.coach.counting.setting import beat_near, row_with, rows_of
from tempo_coach.music.counts.corrections import say_correction
from tempo_coach.pattern.routine.routine import say_clock
from tempo_coach.ui.counts.keys import GROUPS, foot_keys
from tempo_coach.ui.counts.sheet_rows import LEFT, RIGHT, draw_row, find_scale, fit_top, row_height, rule
from tempo_coach.ui.floor import bar, fill

if TYPE_CHECKING:
    from tempo_coach.coach.counting.setting import Setting
    from tempo_coach.ui.counts.sheet_rows import Look, Ruling
    from tempo_coach.ui.palette import Palette

#: Rows of the screen from which on what was done and what is doubtful is listed below the sheet.
ROOMY = 30
_LISTED = 4
#: Lines that a sentence may take.
_SENTENCE_ROWS = 2
#: What the help begins with.
EXAMPLE = (
    "the fourth count of the music is a one: go there with →, press 1. Space lets you hear it with clicks, u takes it "
    "back. Then n, from one doubtful place to the next, and Ctrl+S."
)


class Spot(NamedTuple):
    """Where a row of the sheet stands: its first line on the screen, how many, its first beat, its columns."""

    line: int
    lines: int
    beat: int
    ruling: Ruling


class Button(NamedTuple):
    """A key of the foot that can be clicked: line and columns, and the key."""

    line: int
    start: int
    end: int
    key: str


@dataclass(frozen=True, eq=False)
class Drawn:
    """A screen, and what lies where on it."""

    lines: list[Text]
    top: int
    spots: tuple[Spot, ...] = ()
    buttons: tuple[Button, ...] = ()

    def beat_at(self, column: int, line: int) -> int | None:
        """Return the beat that is drawn there."""
        for spot in self.spots:
            if spot.line <= line < spot.line + spot.lines and LEFT <= column < LEFT + spot.ruling.end:
                return spot.beat + spot.ruling.count_at(column - LEFT)
        return None

    def key_at(self, column: int, line: int) -> str | None:
        """Return the key that is named there."""
        return next((b.key for b in self.buttons if b.line == line and b.start <= column < b.end), None)


def draw_card(
    look: Look, *, title: str, top: int, width: int, height: int, prompt: str = "", listening: str = ""
) -> Drawn:
    """Return the screen.

    Parameters
    ----------
    look : Look
        What is drawn on the sheet.
    title : str
        Of the routine.
    top : int
        The first row of the sheet that was shown before.
    width, height : int
    prompt : str
        What is being typed, where something is.
    listening : str
        What is being heard, in a word; empty for nothing.
    """
    setting, palette = look.setting, look.palette
    rows = rows_of(setting.counts)
    roomy = height >= ROOMY
    foot, buttons = _foot(width, palette)
    below = len(foot) + 1 + (_LISTED + 1 if roomy else 0)
    room = height - 1 - below
    columns = width - LEFT - RIGHT
    scale = find_scale(setting.counts, rows, columns)
    heights = [row_height(row, look.laid) for row in rows]
    top = fit_top(heights, top, row_with(rows, setting.beat), room)
    lines: list[Text] = []
    spots: list[Spot] = []
    for row in rows[top:]:
        if len(lines) >= room:
            break
        ruling = rule(setting.counts, row, scale=scale, columns=columns)
        drawn = draw_row(row, ruling, look)[: room - len(lines)]
        spots.append(Spot(1 + len(lines), len(drawn), row.beat, ruling))
        lines += drawn
    lines += [Text() for _ in range(room - len(lines))]
    if roomy:
        lines += _lists(setting, width, palette)
    told = _told(setting, prompt, width, palette)
    if len(told) > 1:  # what has to be said goes before the last line of the sheet, or of the lists
        del lines[-(len(told) - 1) :]
    lines += told
    lines += foot[:-1]
    whole = fill([_head(setting, title, listening, width, palette), *lines], "", "", width, height, palette)
    whole[-1] = foot[-1]
    first = height - len(foot)
    return Drawn(whole, top, tuple(spots), tuple(each._replace(line=each.line + first) for each in buttons))


def _head(setting: Setting, title: str, listening: str, width: int, palette: Palette) -> Text:
    place = setting.counts.place(float(setting.beat - setting.counts.eights[0][0]))
    where = f"eight {place.eight} count {place.count:g}" if place.eight > 0 else "before the first count"
    state = "NOT SAVED" if setting.unsaved else "saved"
    doubts = len(setting.open_doubts)
    left = f" {title}   {state}   {doubts or 'no'} doubtful"
    heard = f"{listening}   " if listening else ""
    return bar(left, f"{heard}{where}  {say_clock(setting.time)} ", width, palette)


def _told(setting: Setting, prompt: str, width: int, palette: Palette) -> list[Text]:
    """What is being typed, what came of the last step, or why this place is doubtful: a line, or two of a sentence."""
    if prompt:
        return [Text(f"  {prompt}▁"[:width], palette.strong)]
    if setting.sentence:
        style = palette.warning if setting.failed else palette.strong
        mark = "! " if setting.failed else ""
        rows = textwrap.wrap(f"{mark}{setting.sentence}", width - 3, max_lines=_SENTENCE_ROWS, placeholder=" …")
        return [Text("  ", palette.text).append(row, style) for row in rows]
    if setting.doubt_here is not None:
        return [Text(f"  ? {setting.doubt_here.reason}"[:width], palette.text)]
    if setting.stretch is not None:
        begin, end = setting.stretch
        return [Text(f"  Marked from {say_clock(begin)} to {say_clock(end)}.", palette.text)]
    return [Text()]


def _lists(setting: Setting, width: int, palette: Palette) -> list[Text]:
    """Doubtful places to come, and what was done last, beside each other."""
    half = width // 2
    doubts = []
    for doubt in setting.open_doubts[:_LISTED]:
        beat = beat_near(setting.counts, doubt.time)
        place = setting.counts.place(float(beat - setting.counts.eights[0][0]))
        where = f"eight {place.eight} count {place.count:g}" if place.eight > 0 else "before the counts"
        doubts.append(f"? {where}: {doubt.reason}")
    done = [say_correction(each) for each in reversed(setting.routine.corrections[-_LISTED:])]
    more = len(setting.open_doubts) - len(doubts)
    if more > 0:
        doubts[-1] = f"… and {more + 1} more"
    left = [f"doubtful: {len(setting.open_doubts) or 'nothing left'}", *doubts]
    right = [f"put right by hand: {len(setting.routine.corrections) or 'nothing yet'}", *done]
    lines = []
    for k in range(_LISTED + 1):
        a, b = (column[k] if k < len(column) else "" for column in (left, right))
        style = palette.faint if k else palette.strong
        lines.append(Text(f"  {a[: half - 4]:<{half - 2}}{b[: width - half - 2]}", style))
    return lines


def _foot(width: int, palette: Palette) -> tuple[list[Text], list[Button]]:
    """Two lines of keys that can be clicked."""
    lines: list[list[tuple[str, str]]] = [[], []]
    buttons: list[Button] = []
    at, line = 1, 0
    for key in foot_keys():
        words = f"{key.shown} {key.short}"
        if at + len(words) + 1 > width:
            if line == 1:
                break
            at, line = 1, 1
        buttons.append(Button(line, at, at + len(words), key.keys[0]))
        lines[line].append((key.shown, key.short))
        at += len(words) + 2
    drawn = []
    for entries in lines:
        text = Text(" ", palette.bar)
        for shown, short in entries:
            text.append(shown, f"bold {palette.bar}")
            text.append(f" {short}  ", palette.bar)
        text.append(" " * max(width - text.cell_len, 0), palette.bar)
        text.truncate(width)
        drawn.append(text)
    return drawn, buttons


def draw_help(*, width: int, height: int, first: int, palette: Palette) -> list[Text]:
    """Return the screen of all keys, in as many columns as fit.

    Parameters
    ----------
    width, height : int
    first : int
        The first line to show, where they do not fit.
    palette : Palette
    """
    entries: list[tuple[str, str]] = []
    for name, keys in GROUPS:
        entries.append((name, ""))
        lengths = [key for key in keys if key.help.startswith("this eight has")]
        for key in keys:
            if key in lengths:
                if key is lengths[0]:
                    entries.append((f"{lengths[0].shown} to {lengths[-1].shown}", "this eight has so many counts"))
                continue
            entries.append((key.shown, key.help))
    two = width >= 160
    lines = [bar(" All keys", "mouse: click a count or a key, turn the wheel ", width, palette)]
    room = width if not two else width // 2
    body: list[Text] = []
    for shown, words in entries:
        if not words:
            body.append(Text(f"  {shown}", palette.strong))
            continue
        wrapped = textwrap.wrap(words, room - 18)
        body += [
            Text().append(f"    {shown if k == 0 else '':<12}", palette.strong).append(part, palette.text)
            for k, part in enumerate(wrapped)
        ]
    example = "Example" + " " * 7 + EXAMPLE
    body[:0] = [*(Text(f"  {row}", palette.text) for row in textwrap.wrap(example, width - 6)), Text()]
    first = min(first, max(0, len(body) - (height - 2)))
    seen = body[first : first + height - 2]
    more = "  ↑↓: more" if len(body) > height - 2 else ""
    return fill([*lines, *seen], f" Any other key: back{more}", "", width, height, palette)
