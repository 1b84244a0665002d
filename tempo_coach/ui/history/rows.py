"""The history as rows of text: the list with its trend, and two takes side by side."""

from __future__ import annotations

import math
from itertools import zip_longest
from typing import TYPE_CHECKING

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from tempo_coach.coach.judging import compare_takes, measure_scatter
from tempo_coach.coach.looking_back import LEVEL_DAYS
from tempo_coach.languages import tr, tr_as
from tempo_coach.report.pages.pictures import say_part
from tempo_coach.report.words.card import say_missing
from tempo_coach.report.words.history import tell_progress
from tempo_coach.report.words.measures import labelled, say_number
from tempo_coach.report.words.places import tells_figures, tells_lateness
from tempo_coach.signs import pad, show_controls, wrap
from tempo_coach.ui.practice.told_take import compare
from tempo_coach.ui.text_rows import append_signs, bar, fill

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.coach.judging import Part
    from tempo_coach.coach.looking_back import TakeRow, Trend
    from tempo_coach.score.scorecard import Scorecard
    from tempo_coach.ui.palette import Palette

#: Columns of an athlete's and of a drill's name on the narrowest screen; a wider one shares its columns between them.
_NAME, _DRILL, _NARROW = 10, 16, 80
_LABEL = 9
#: Least columns of what two takes are compared in.
_LEAST_LABEL = 20


#: What stands in the place of the list where there is nothing to list.
NONE_LIKE_IT = "No take is like that. Escape shows all again."
NONE_YET = "No take is kept yet: practise once, and it is here."
#: Rows that a sentence may take.
_SENTENCE_ROWS = 3


def draw_told(sentence: str, *, width: int, palette: Palette) -> list[Text]:
    """Return messages to the person, and the heads of the list's columns."""
    said = wrap(sentence, width - 4)[:_SENTENCE_ROWS]
    name, drill = _columns(width)
    begun, athlete, of = tr("begun"), tr("athlete"), tr("drill")
    start = f"{pad(tr_as('column', 'take'), 4)} {begun}"
    head = f"    {_cell(start, 21)} {_cell(athlete, name)} {_cell(of, drill)} {tr('tempo early/late spread')}"
    rows = [*([Text(f"  {each}", palette.warning) for each in said] or [Text()]), Text(head, palette.faint)]
    return fill(rows, width, len(rows), palette)


def draw_row(row: TakeRow, *, chosen: bool, marked: bool, width: int) -> Text:
    """Return a take as a row of the list."""
    name, drill = _columns(width)
    spread = "" if math.isnan(row.spread_ms) else tr("{spread_ms:.0f} ms", spread_ms=row.spread_ms)
    bias = "" if math.isnan(row.bias_ms) else tr("{bias_ms:+z.0f} ms", bias_ms=row.bias_ms)
    signs = ("›" if chosen else " ") + ("◆" if marked else " ")
    words = (
        f" {signs}{row.number:>5} {row.begun[:16].replace('T', ' ')} {_cell(row.athlete, name)} "
        f"{_cell(row.drill, drill)} {row.tempo_bpm:>3.0f} {'=' if row.steady else ' '} {bias:>9}{spread:>8}"
    )
    return Text(show_controls(words), "bold" if chosen else "", no_wrap=True, overflow="ellipsis")


def _columns(width: int) -> tuple[int, int]:
    """Columns of an athlete's and of a drill's name."""
    more = max(width - _NARROW, 0) // 2
    return _NAME + more, _DRILL + more


def draw_chart(progress: Trend, *, width: int, height: int, palette: Palette) -> list[Text]:
    """Return level and change as rows of text, from 0 up: ``●`` a day, ``─`` the level, over the days it is of."""
    columns = max(width - _LABEL, 8)
    values, since = [p.value for p in progress.points], [p.since for p in progress.points]
    most = max(values, default=0.0) or 1.0
    span = since[-1] - since[0] if len(since) > 1 else 1.0
    grid: list[list[tuple[str, str]]] = [[(" ", palette.text)] * columns for _ in range(height)]

    def place(day: float, value: float) -> tuple[int, int]:
        across = round((day - since[0]) / (span or 1.0) * (columns - 1))
        up = min(max(value, 0.0) / most, 1.0) * (height - 1)
        return height - 1 - round(up), across

    if since:
        row, first = place(since[-LEVEL_DAYS:][0], progress.level)
        for column in range(first, place(since[-1], progress.level)[1] + 1):
            grid[row][column] = ("─", palette.faint)
    for day, value in zip(since, values, strict=True):
        row, column = place(day, value)
        grid[row][column] = ("●", palette.hands[0])
    lines = []
    for number, signs in enumerate(grid):
        label = tr("{most:.0f} ms", most=most) if number == 0 else "0" if number == height - 1 else ""
        line = Text(f"{label:>{_LABEL - 3}} ", palette.faint).append("│" if number < height - 1 else "└", palette.faint)
        lines.append(append_signs(line.append(" ", palette.text), signs))
    return lines


def draw_comparison(
    pair: Sequence[tuple[TakeRow, Scorecard]], *, width: int, height: int, palette: Palette
) -> list[Text]:
    """Return two takes side by side, the earlier one at the left."""
    (one, first), (other, second) = sorted(pair, key=lambda each: each[0].begun)
    parts = [{part.name: part for part in card.parts.get("circle", ())} for card in (first, second)]
    named = {
        name: say_part(next(side[name] for side in parts if name in side), "circle")
        for name in dict.fromkeys([*parts[0], *parts[1]])
    }
    measured = {entry: tr(name) for entry, name in labelled("pair")}
    names = (*named.values(), *measured.values(), tr("missed, too many"), tr("cycles that broke"))
    label = max(_LEAST_LABEL, *(cell_len(name) + 1 for name in names))
    wide = (width - label - 6) // 2
    lines = [bar(f" {tr('Two takes')}", "", width, palette), Text()]

    def add(name: str, left: str, right: str, style: str = palette.text) -> None:
        both = zip_longest(wrap(left, wide), wrap(right, wide), fillvalue="")
        for k, (one_row, other_row) in enumerate(both):
            line = Text(f"  {_cell('' if k else name, label)}", palette.faint)
            line.append(_cell(one_row, wide), style).append("  ", palette.text)
            lines.append(line.append(_cell(other_row, wide), style))

    add(tr("take"), f"{one.number}, {one.athlete}", f"{other.number}, {other.athlete}", palette.strong)
    add(tr("begun"), one.begun[:16].replace("T", " "), other.begun[:16].replace("T", " "))
    add(tr("drill"), tr(one.title), tr(other.title))
    add(tr("tempo"), f"{one.tempo_bpm:.0f}", f"{other.tempo_bpm:.0f}")
    lines.append(Text())
    for entry, name in measured.items():
        add(name, *(say_number(entry, card.value(entry.key)) or "–" for card in (first, second)))
    add(tr("missed, too many"), *(say_missing(card) for card in (first, second)))
    add(
        tr("cycles that broke"),
        *(
            tr("{number} of {number_2}", number=len(card.flagged), number_2=len(card.cycles))
            for card in (first, second)
        ),
    )
    lines.append(Text())
    for name in list(named)[: height - len(lines) - 6]:
        add(named[name], *(_part(side.get(name)) for side in parts))
    lines.append(Text())
    if one.drill == other.drill:
        verdict, why = (
            compare(second, first) if one.athlete == other.athlete else _compare_two(one, other, first, second)
        )
        lines.append(Text("  ").append(f"{tr('{name}:', name=verdict)} ", palette.strong).append(why, palette.text))
    else:
        lines.append(Text(tr("  Two drills: their spreads cannot be compared."), palette.text))
    return fill(lines, width, height, palette)


def _compare_two(one: TakeRow, other: TakeRow, first: Scorecard, second: Scorecard) -> tuple[str, str]:
    """Return which of two athletes is steadier, neither take being the one before of the other."""
    sizes = [measure_scatter(card.plan, card.asynchrony).size for card in (first, second)]
    told = all(tells_figures(card) and tells_lateness(card) for card in (first, second))
    if not told or any(map(math.isnan, sizes)):
        return tr("too short"), tr("too few onsets to compare them")
    steadier = compare_takes(second, first)
    athlete = (one if steadier < 0 else other).athlete
    said = tr("{athlete} is steadier", athlete=athlete) if steadier else tr("as steady as each other")
    return said, tr(
        "scatter {size:.1f} % and {size_2:.1f} %"
        if steadier
        else "scatter {size:.1f} % and {size_2:.1f} %: no more than chance",
        size=100 * sizes[0],
        size_2=100 * sizes[1],
    )


def draw_progress(
    row: TakeRow | None, progress: Trend | None, *, width: int, height: int, palette: Palette
) -> list[Text]:
    """Return the course of an athlete in a drill: level, change, and a sentence; nothing without a take."""
    lines = []
    if row is not None and progress is not None:
        lines.append(Text(f"  {_cell(f'{row.athlete}, {tr(row.title)}', width - 4).rstrip()}", palette.faint))
        said = wrap(tell_progress(progress, "spread", "ms"), width - 4)[:2]
        if len(progress.points) > 1:
            lines += draw_chart(progress, width=width - 2, height=max(height - 3, 2), palette=palette)
        lines += [Text(f"  {each}", palette.text) for each in said]
    return fill(lines, width, height, palette)


def _cell(words: str, width: int) -> str:
    if cell_len(words) > width:
        words = set_cell_size(words, max(width - 1, 0)).rstrip() + "…"
    return set_cell_size(words, width)


def _part(part: Part | None) -> str:
    if part is None or math.isnan(part.bias):
        return "–"
    return tr("{bias:+z.0f} ms", bias=1000 * part.bias) + (
        "" if math.isnan(part.spread) else f" ± {1000 * part.spread:.0f}"
    )
