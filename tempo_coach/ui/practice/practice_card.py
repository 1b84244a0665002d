"""The practice card: what a gymnast sees from three metres while she moves. Draws a picture; decides nothing."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from tempo_coach.languages import tr
from tempo_coach.live.practice.session import Stage
from tempo_coach.report.drawings.drill import fit_later
from tempo_coach.signs import wrap
from tempo_coach.ui.glyphs import (
    LETTER_ROWS,
    NUMBER_ROWS,
    NUMBER_WIDTH,
    draw_letters,
    draw_number,
    fit_letters,
    letters_width,
)
from tempo_coach.ui.palette import HAND_MARKS, LATER_MARKS, Palette
from tempo_coach.ui.text_rows import HIGH, append_signs, bar, fill, pad

if TYPE_CHECKING:
    from tempo_coach.coach.practising.movement import Movement
    from tempo_coach.coach.practising.picture import PracticePicture

#: Eighths of a row, lowest first.
_EIGHTHS = " ▁▂▃▄▅▆▇█"
_HILL_ROWS = 3
#: Rows of a cycle: the hill, the hands above and below it, the names of its phases.
_CYCLE_ROWS = _HILL_ROWS + 3
_LEFT = 10
#: Most columns of them, whatever the hands are called.
_MOST_LEFT = 24
_LOW = ("low", "floor", "landing", "down", "ready")
_HIGH = ("high", "over", "flight", "up", "lift")
#: How the last word looks besides its colour: an arrow against the direction of time, along it, or level.
WORD_SIGNS = {"early": "< early", "late": "late >", "steady": "= steady ="}


def draw_practice_card(
    picture: PracticePicture, movement: Movement, *, width: int, height: int, palette: Palette
) -> list[Text]:
    """Return the rows of the card.

    Parameters
    ----------
    width, height : int
        Of the screen.

    Returns
    -------
    list of Text
        ``height`` rows, each ``width`` columns wide.
    """
    roomy = height >= HIGH - 1 and width >= 100
    rows = 16 if roomy else NUMBER_ROWS + 1
    square = 3 if roomy else 2
    left = _number(picture, rows, square, palette)
    room = width - _number_width(square) - 8
    moves = _moves(picture, room, palette, roomy=roomy)
    movement = movement.section(picture.section)
    mind = wrap(picture.caution, room)
    if len(moves) + len(mind) <= rows:
        moves += [Text(row, palette.strong) for row in mind]
        cycle = draw_cycle(picture, movement, width=width - 4, palette=palette)
    else:
        mind = wrap(picture.caution, width - 4)
        cycle = _fill_up([Text(f"  {row}", palette.strong) for row in mind], _CYCLE_ROWS)
    right = _fill_up(moves, rows)
    body = [_beside(a, b, width, _number_width(square), palette) for a, b in zip(left, right, strict=True)]
    lines = [
        bar(f" {tr(picture.title)}", f"{picture.place}   {picture.take} ", width, palette),
        Text(),
        *body,
        Text(),
        *cycle,
        *_sentences(picture, width, palette),
    ]
    if roomy and picture.so_far:
        legend = tr("   < early  = steady  > late, the newest last")
        shown = picture.so_far[-2 * ((width - 12 - len(legend)) // 2) + 1 :]
        lines.append(Text(tr("  so far  "), palette.faint).append(shown, palette.strong).append(legend, palette.faint))
    return fill(lines, width, height, palette)


def draw_cycle(picture: PracticePicture, movement: Movement, *, width: int, palette: Palette) -> list[Text]:
    """Return the cycle as a hill: as high as the arm, the moments of the first hand on it, those of the others below.

    Where she is stands a post; what is over is darker than what is coming.

    Returns
    -------
    list of Text
        Six rows.
    """
    left = _find_left(movement)
    columns = width - left
    cycle = movement.plan.cycle_counts
    post = -1 if math.isnan(picture.at) else min(int(picture.at / cycle * columns), columns - 1)
    heights = [_height((k + 0.5) / columns * cycle, movement) for k in range(columns)]
    asks_all = picture.asks_all
    rows = [_mark_row(movement, (0,), columns, post, palette, asks_all=asks_all)]
    for row in range(_HILL_ROWS - 1, -1, -1):
        line = Text(" " * (left + 2), palette.text)
        signs = [_EIGHTHS[max(0, min(8, round(height * (8 * _HILL_ROWS - 1) + 1) - 8 * row))] for height in heights]
        over = max(post, 0)
        line.append("".join(signs[:over]), palette.done)
        line.append("┃" if post >= 0 else signs[0], palette.strong if post >= 0 else palette.coming)
        rows.append(line.append("".join(signs[over + 1 :]), palette.coming))
    others = tuple(range(1, len(movement.plan.hands)))
    rows.append(_mark_row(movement, others, columns, post, palette, asks_all=asks_all))
    names = [" "] * columns
    for phase in movement.phases:
        at = int(phase.start / cycle * columns)
        room = int(phase.end / cycle * columns) - at - 1
        for k, letter in enumerate(tr(phase.name)[: max(room, 1)]):
            names[at + k] = letter
    rows.append(Text(" " * (left + 2) + "".join(names), palette.faint))
    return rows


def _name_hands(movement: Movement, hands: tuple[int, ...]) -> str:
    names = " ".join(tr(movement.plan.hands[hand]) for hand in hands)
    return f"{HAND_MARKS[min(hands[0], 2)]} {names}" if hands else ""


def _find_left(movement: Movement) -> int:
    """Return the columns of the hands' names before the hill, with one free behind them."""
    rows = ((0,), tuple(range(1, len(movement.plan.hands))))
    return min(max(_LEFT, *(cell_len(_name_hands(movement, hands)) + 1 for hands in rows)), _MOST_LEFT)


def _mark_row(
    movement: Movement, hands: tuple[int, ...], columns: int, post: int, palette: Palette, *, asks_all: bool
) -> Text:
    line = Text("  ", palette.text)
    line.append(
        set_cell_size(_name_hands(movement, hands), _find_left(movement)),
        palette.hands[min(hands[0], 2)] if hands else palette.text,
    )
    signs: list[tuple[str, str]] = [(" ", palette.text)] * columns
    if post >= 0:
        signs[post] = ("┃", palette.strong)
    later: list[int] = []
    for mark in movement.marks:
        if mark.hand in hands:
            at = min(round(mark.at / movement.plan.cycle_counts * columns), columns - 1)
            not_yet = mark.later and not asks_all
            later += [at + 1] if not_yet else []
            drawn = (LATER_MARKS if not_yet else HAND_MARKS)[min(mark.hand, 2)]
            signs[at] = (drawn, palette.hands[min(mark.hand, 2)])
    for at in later:
        words = fit_later([sign for sign, _ in signs[at:]], " ")
        signs[at : at + len(words)] = [(letter, palette.faint) for letter in words]
    return append_signs(line, signs)


def _height(count: float, movement: Movement) -> float:
    """Return the height of the arm, 0 to 1, by the phases' names; else the first hand's, lowest at each circle."""
    phases = movement.phases
    index = next((k for k, phase in enumerate(phases) if phase.start <= count < phase.end), None)
    if index is None:
        return 0.1
    phase = phases[index]
    into = (count - phase.start) / (phase.end - phase.start)
    if phase.name == "rise":
        return 0.5 - 0.5 * math.cos(math.pi * into)
    if phase.name == "fall":
        return 0.5 + 0.5 * math.cos(math.pi * into)
    arch = math.sin(math.pi * into)
    if any(word in phase.name for word in _LOW):
        return 0.0
    if any(word in phase.name for word in _HIGH):
        return 1.0 if any(each.name in ("rise", "fall") for each in phases) else 0.35 + 0.65 * arch
    circles = sum(
        mark.hand == 0 and mark.kind == "circle" and phase.start <= mark.at < phase.end for mark in movement.marks
    )
    return 0.5 + 0.5 * math.cos(2 * math.pi * circles * into) if circles else 0.1 + 0.6 * arch


def _number_width(square: int) -> int:
    return NUMBER_WIDTH * square


def _number(picture: PracticePicture, rows: int, square: int, palette: Palette) -> list[Text]:
    if not picture.number:
        return [Text() for _ in range(rows)]
    drawn = draw_number(picture.number[-2:], rows=rows, square=square if len(picture.number) < 2 else 1)
    return [Text(line, palette.number) for line in drawn]


def _beside(left: Text, right: Text, width: int, number_width: int, palette: Palette) -> Text:
    line = Text("    ", palette.text)
    line.append_text(pad(left, number_width, palette))
    line.append("    ", palette.text)
    line.append_text(right)
    return pad(line, width, palette)


def _fill_up(lines: list[Text], rows: int) -> list[Text]:
    """Return lines padded to a number of rows."""
    return [*lines, *[Text() for _ in range(rows - len(lines))]][:rows]


def _moves(picture: PracticePicture, width: int, palette: Palette, *, roomy: bool) -> list[Text]:
    """Return the present move, the next one and the last word, stacked."""
    names = (tr(picture.now), tr(picture.now_short))
    following = (tr(picture.next), tr(picture.next_short))
    playing = picture.stage is Stage.PLAYING
    caption = tr("now") if playing else tr(picture.number_means)
    ahead = tr("next {next_in}", next_in=picture.next_in).strip() if playing else tr(picture.next_in)
    return [
        *_caption_and_letters(caption, names, picture.now_circles, width, palette, palette.strong),
        *([Text()] if roomy else []),
        *_caption_and_letters(ahead, following, picture.next_circles, width, palette, palette.next),
        *([Text(), Text()] if roomy else [Text()]),
        *_last_word(picture, width, palette),
    ]


def _last_word(picture: PracticePicture, width: int, palette: Palette) -> list[Text]:
    if not picture.word:
        return []
    style = {"early": palette.early, "late": palette.late}.get(picture.word, palette.steady)
    drawn = draw_letters(tr(WORD_SIGNS[picture.word]))
    wide = max(len(line) for line in drawn)
    lines = [Text().append(f" {line:<{wide}} ", style) for line in drawn]
    hand = min(picture.word_hand, 2)
    named = f"  {HAND_MARKS[hand]} {tr(picture.word_hand_name)}"
    room = width - wide - 2  # the mark stands for a name that there is no room for
    lines[LETTER_ROWS // 2].append(named if cell_len(named) <= room else named[:3], palette.hands[hand])
    return lines


def _caption_and_letters(
    caption: str, names: tuple[str, str], circles: tuple[int, ...], width: int, palette: Palette, style: str
) -> list[Text]:
    """Return a caption with its circles in one row, and three rows of letters."""
    head = Text(f"{caption}  ", palette.faint)
    for hand, number in enumerate(circles):
        head.append(f"{' '.join(HAND_MARKS[min(hand, 2)] * number)}  ", palette.hands[min(hand, 2)])
    whole = names[0]
    fitting = (name for name in names if name and letters_width(name) <= width)
    shown = next(fitting, None) or fit_letters(names[1] or whole, width)
    if shown is None:
        return [head, Text(), Text(whole, style), Text()]
    if shown != whole:
        head.append(f"({whole})", palette.faint)
    return [head, *(Text(line, style) for line in draw_letters(shown))]


def _sentences(picture: PracticePicture, width: int, palette: Palette) -> list[Text]:
    """Return two rows: the notice, and if there is room, the output device."""
    if not picture.sentence:
        remark = Text(f"  {picture.remark}"[:width], palette.strong) if picture.remark else Text(f"  {picture.rule}")
        return [remark, Text(f"  {picture.sound}", palette.faint)]
    told = wrap(f"! {tr(picture.sentence)}", width - 6)[:2]
    rows = [Text("  ", palette.text).append(f" {row} ", palette.warning) for row in told]
    return [*rows, Text(f"  {picture.sound}", palette.faint)][:2]
