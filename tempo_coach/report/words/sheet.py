"""The count sheet as values and as text: one row an eight, with what each hand does on which count."""

from __future__ import annotations

from bisect import bisect
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.pattern.plan.cycle_moments import cycle_starts
from tempo_coach.pattern.routine.routine import eights_of, position_of, span_of
from tempo_coach.report.words.amounts import say_clock, several
from tempo_coach.report.words.moments import say_label
from tempo_coach.report.words.music_map import tell_eight, tell_missed
from tempo_coach.report.words.rules import KINDS
from tempo_coach.signs import cut, pad, wrap

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.counts.music_map import MapRow
    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.pattern.routine.routine import Laid, Routine

#: Characters of one count in the text, and of what stands before the first.
COUNT_WIDTH = 6
LEFT = 26
#: Signs of the moments of the first, second and any further hand: told by shape.
SIGNS = ("●", "◆", "■")
#: How an eight differs from the one before.
CHANGES = {"slower": "slower", "faster": "faster"}
#: What a moment of a routine is called.
EVENTS = {
    "toss": "toss",
    "catch": "catch",
    "exchange": "exchange",
    "unison": "unison",
    "canon": "canon",
    "mirrored": "mirrored",
    "other": "",
}
#: Two places in counts that are one.
_SAME = 1e-6
#: Tempi of neighbouring eights that differ by more than this share are marked: half of it cannot be heard as a
#: difference between eights (Drake & Botte 1993: about 3 % for six intervals and more, abstract).
CHANGES_FROM = 0.06


class SheetMark(NamedTuple):
    """One moment in an eight: its position in counts from the eight's beginning, and its name."""

    at: float
    label: str


@dataclass(frozen=True)
class HandRow:
    """What one hand does in one eight.

    Parameters
    ----------
    drill : str
        Title of the drill.
    begins : bool
        Whether the drill begins in this eight.
    at : float
        Its beginning, in counts from that of this eight.
    order : int
        Which hand of its drill it is, from 0.
    """

    hand: str
    drill: str
    begins: bool
    at: float
    order: int
    marks: tuple[SheetMark, ...]


@dataclass(frozen=True)
class SheetRow:
    """One eight.

    Parameters
    ----------
    number : int
        From 1.
    start : float
        Seconds of the music.
    tempo_bpm : float
        Pauses left out.
    change : {"", "slower", "faster"}
        Against the eight before.
    lengths : tuple of float
        Seconds of each count, pauses left out.
    pauses : tuple of (count, seconds)
        After how many counts of this eight the count stands still, and how long.
    events : tuple of (count, text)
        Tosses, catches, exchanges: count from 0 within the eight.
    steps : tuple of (start, end, begins)
        Stretches of dance steps in counts from the eight's begin, and whether they begin here.
    first, last : float or None
        Where in this eight the first and the last movement are.
    music : tuple of str
        What the music does in it.
    """

    number: int
    start: float
    tempo_bpm: float
    change: str
    lengths: tuple[float, ...]
    pauses: tuple[tuple[float, float], ...]
    hands: tuple[HandRow, ...]
    events: tuple[tuple[float, str], ...]
    steps: tuple[tuple[float, float, bool], ...]
    remarks: tuple[str, ...]
    first: float | None
    last: float | None
    music: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """A count sheet.

    Parameters
    ----------
    drills : tuple of Drill
        Those that are laid, in order of their first place.
    """

    title: str
    about: str
    notes: str
    rows: tuple[SheetRow, ...]
    drills: tuple[Drill, ...]


def make_sheet(
    routine: Routine,
    counts: CountMap,
    duration: float,
    load_drill: Callable[[str, bool], Drill],
    *,
    music_map: Sequence[MapRow] = (),
) -> Sheet:
    """Return the sheet of a routine.

    Parameters
    ----------
    counts : CountMap
        Of its music, corrected.
    duration : float
        Length of the music in seconds.
    load_drill : callable
        Returns a drill, given its name and whether it is mirrored.
    music_map : sequence of MapRow
        What the music does in each eight, where that is to be told.
    """
    drills = {(each.drill, each.mirrored): load_drill(each.drill, each.mirrored) for each in routine.laid}
    begin, end = routine.first_movement(counts), routine.last_movement(counts)
    eights = eights_of(counts, duration)
    rows: list[SheetRow] = []
    for eight, hands in zip(eights, _hand_rows(routine.laid, counts, drills, eights), strict=True):
        rows.append(_make_row(routine, counts, eight, tuple(hands), rows[-1] if rows else None))
    told: dict[int, list[str]] = {each.number: tell_eight(each, counts) for each in music_map}
    for number, missed in tell_missed(routine.moments, music_map, counts):
        told.setdefault(number, []).append(missed)
    rows = [replace(row, music=tuple(told.get(row.number, ()))) for row in rows]
    about = [
        *([tr(routine.apparatus)] if routine.apparatus != "none" else []),
        tr(KINDS[routine.kind]),
        tr(
            "{clock} from first to last movement ({clock_2} to {clock_3})",
            clock=say_clock(end - begin),
            clock_2=say_clock(begin),
            clock_3=say_clock(end),
        ),
        several(len(rows), "eight"),
    ]
    named = sorted(routine.laid, key=lambda each: (each.at.eight, each.at.count))
    used = list(dict.fromkeys((each.drill, each.mirrored) for each in named))
    return Sheet(routine.title, " · ".join(about), routine.notes, tuple(rows), tuple(drills[each] for each in used))


def _make_row(
    routine: Routine,
    counts: CountMap,
    eight: tuple[int, float, int],
    hands: tuple[HandRow, ...],
    before: SheetRow | None,
) -> SheetRow:
    number, start, length = eight
    lengths = tuple(float(each) for each in counts.period_at(start + np.arange(length)))
    tempo = 60 * length / sum(lengths)
    change = ""
    if before is not None and abs(tempo / before.tempo_bpm - 1) > CHANGES_FROM:
        change = "slower" if tempo < before.tempo_bpm else "faster"

    def inside(position: float) -> float | None:
        return position - start if start - _SAME <= position < start + length - _SAME else None

    pauses = []
    for begin, end in counts.pauses:
        reached = float(counts.counts_at(begin))
        # a pause on the border belongs to the eight that it follows
        if start + _SAME < reached <= start + length + _SAME or (number == 1 and abs(reached - start) <= _SAME):
            pauses.append((round(reached - start, 6), end - begin))
    events = []
    for each in routine.moments:
        at = inside(position_of(counts, each.at))
        if at is not None:
            what = tr(EVENTS.get(each.what, each.what))
            events.append((at, " ".join(part for part in (what, tr(each.hand), each.text) if part)))
    steps = []
    for stretch in routine.steps:
        first, last = position_of(counts, stretch.start) - start, position_of(counts, stretch.end) - start
        if first < length and last > 0:
            steps.append((max(first, 0.0), min(last, float(length)), first >= 0))
    return SheetRow(
        number=number,
        start=float(counts.seconds_at(start, after=True)),
        tempo_bpm=tempo,
        change=change,
        lengths=lengths,
        pauses=tuple(pauses),
        hands=hands,
        events=tuple(sorted(events)),
        steps=tuple(steps),
        remarks=tuple(note.text for note in routine.remarks if note.eight == number),
        first=inside(0.0 if routine.first is None else position_of(counts, routine.first)),
        last=inside(counts.last_count if routine.last is None else position_of(counts, routine.last)),
    )


def _hand_rows(
    laid: Sequence[Laid],
    counts: CountMap,
    drills: Mapping[tuple[str, bool], Drill],
    eights: Sequence[tuple[int, float, int]],
) -> list[list[HandRow]]:
    """Return what the hands do in each eight, in the order of the drills' first places."""
    rows: list[list[HandRow]] = [[] for _ in eights]
    starts = [start for _, start, _ in eights]

    def eight_at(position: float) -> int | None:
        eight = bisect(starts, position + _SAME) - 1
        return eight if eight >= 0 and position < starts[eight] + eights[eight][2] - _SAME else None

    for each in sorted(laid, key=lambda each: (each.at.eight, each.at.count)):
        drill = drills[each.drill, each.mirrored]
        first, end = span_of(counts, each)
        cycles = cycle_starts(drill.pattern, counts, first, end)
        for order, hand in enumerate(drill.pattern.hands):
            if each.hand and hand.name != each.hand:
                continue
            marks: dict[int | None, list[SheetMark]] = {eight_at(first): []}
            for begin in cycles:
                for moment in hand.moments:
                    # the last moment of a hand that trails may lie after the last cycle's end
                    eight = eight_at(begin + moment.at)
                    if eight is not None:
                        marks.setdefault(eight, []).append(
                            SheetMark(begin + moment.at - starts[eight], say_label(moment.label))
                        )
            for eight, mine in marks.items():
                if eight is not None:
                    begins = eight == eight_at(first)
                    at = first - starts[eight]
                    rows[eight].append(HandRow(tr(hand.name), tr(drill.title), begins, at, order, tuple(mine)))
    return rows


def sheet_text(sheet: Sheet) -> str:
    """Return the sheet as plain text, at most 80 columns wide for eights of 8 counts."""
    lines = [sheet.title, sheet.about, *([sheet.notes] if sheet.notes else []), ""]
    for row in sheet.rows:
        lines += _row_text(row)
    if sheet.drills:
        for drill in sheet.drills:
            lines += ["", *wrap(_tell_drill(drill, signs=True), 80, subsequent_indent="  ")]
    return "\n".join(line.rstrip() for line in lines)


def sheet_lines(sheet: Sheet) -> str:
    """Return the sheet for reading aloud: an eight a line, with all that falls on its counts."""
    lines = [sheet.title, sheet.about, *([sheet.notes] if sheet.notes else []), ""]
    lines += [_row_line(row) for row in sheet.rows]
    lines += [""]
    lines += [f"{_tell_drill(drill, signs=False)}." for drill in sheet.drills]
    return "\n".join(lines)


def _tell_drill(drill: Drill, *, signs: bool) -> str:
    return tr("{name}: {said}", name=tr(drill.title), said=moments_of(drill, signs=signs))


def _row_line(row: SheetRow) -> str:
    said = tr(
        "Eight {number}, {clock}, {tempo_bpm:.0f} a minute",
        number=row.number,
        clock=say_clock(row.start),
        tempo_bpm=row.tempo_bpm,
    )
    length = several(len(row.lengths), "count") if len(row.lengths) != 8 else ""
    told = [", ".join(filter(None, (said, tr(CHANGES.get(row.change, "")), length)))]
    told += [
        tr(
            "{drill}, {hand} on {names}",
            drill=each.drill,
            hand=each.hand,
            names=", ".join(say_count(mark.at) for mark in each.marks),
        )
        for each in row.hands
    ]
    told += [_tell_steps(first, last, len(row.lengths)) for first, last, _ in row.steps]
    return "; ".join([*told, *_told_at_counts(row), *row.music, *row.remarks]) + "."


def _tell_steps(first: float, last: float, length: int) -> str:
    begins, ends = first > 0, last < length
    return tr(
        "dance steps from {first} until {last}"
        if begins and ends
        else "dance steps from {first}"
        if begins
        else "dance steps until {last}"
        if ends
        else "dance steps throughout",
        first=say_count(first),
        last=say_count(last),
    )


def _told_at_counts(row: SheetRow) -> list[str]:
    """Return what happens on the counts of an eight, in order."""
    told = [(at, tr("{name}: {said}", name=say_count(at), said=text)) for at, text in row.events]
    told += [(at, tr("after {at:g}: pause of {seconds:.1f} s", at=at, seconds=seconds)) for at, seconds in row.pauses]
    told += [(at, tr("{count}: first movement", count=say_count(at))) for at in [row.first] if at is not None]
    told += [(at, tr("{count}: last movement", count=say_count(at))) for at in [row.last] if at is not None]
    return [text for _, text in sorted(told)]


def moments_of(drill: Drill, *, signs: bool = True) -> str:
    """Return one line on the moments of a drill's cycle, and the sign of each hand."""
    parts = [
        (f"{SIGNS[min(order, 2)]} " if signs else "")
        + tr(
            "{hand} on {names}",
            hand=tr(hand.name),
            names=", ".join(f"{say_count(moment.at)} ({say_label(moment.label)})" for moment in hand.moments),
        )
        for order, hand in enumerate(drill.pattern.hands)
    ]
    return tr("every {cycle_counts:g} counts, {hands}", cycle_counts=drill.pattern.cycle_counts, hands="; ".join(parts))


def _row_text(row: SheetRow) -> list[str]:
    sign = {"slower": "↓", "faster": "↑"}.get(row.change, " ")
    head = f"{row.number:>4}  {say_clock(row.start):>7}  {row.tempo_bpm:>5.0f} {sign}"
    numbers = "".join(f"{count:<{COUNT_WIDTH}}" for count in range(1, len(row.lengths) + 1))
    lines = [f"{head:<{LEFT}}{numbers}"]
    if row.steps:
        lines.append(
            pad(f"      {cut(tr('dance steps'), LEFT - 7)}", LEFT) + _place_signs([], len(row.lengths), row.steps)
        )
    begun: list[str] = []
    for hand in row.hands:
        sign = SIGNS[min(hand.order, 2)]
        if hand.begins and hand.drill not in begun:
            begun.append(hand.drill)
            lines.append(f"{'':<{LEFT}}{hand.drill}:")
        lines.append(
            pad(cut(f"      {hand.hand}", LEFT - 1), LEFT)
            + _place_signs([(mark.at, sign) for mark in hand.marks], len(row.lengths))
        )
    lines += [f"{'':<{LEFT}}{text}" for text in _told_at_counts(row)]
    lines += [f"{'':<{LEFT}}{said}" for said in (*row.music, *row.remarks)]
    return lines


def _place_signs(
    signs: list[tuple[float, str]], length: int, stretches: Sequence[tuple[float, float, bool]] = ()
) -> str:
    cells = [" "] * (length * COUNT_WIDTH)
    for first, last, _ in stretches:
        for k in range(int(first * COUNT_WIDTH), min(int(last * COUNT_WIDTH), len(cells))):
            cells[k] = "~"
    for at, sign in signs:
        cells[min(int(round(at * COUNT_WIDTH, 6)), len(cells) - 1)] = sign
    return "".join(cells)
