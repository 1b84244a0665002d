"""A drill drawn in text: its phases along the counts, the circles of each hand under them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr, tr_as
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.drawings.plain import is_read_out
from tempo_coach.report.words.moments import say_label
from tempo_coach.signs import cut, pad, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern

#: What stands for a moment of each kind; anything else is a contact.
MARKS = {"circle": "●", "release": "▲", "catch": "▼"}
OTHER_MARK = "■"
#: The same where the first cycle does not ask for it yet: it trails past the end of its own cycle.
LATER_MARKS = {"●": "○", "▲": "△", "▼": "▽", "■": "□"}
#: What is written after such a mark, the first that there is room for.
LATER = ("from cycle 2", "later")
_LEAD = 13

#: What stands in the file of a drill that has just been begun.
BEGUN = (
    "what it trains, in your words",
    "my own",
    "keep clear space all round you; stop when something hurts",
    "almost up",
    "the second circle comes late",
    "start it while the first one is still finishing",
)
#: What stands in a drill's file about it, and how it is told.
ABOUT = {
    "trains": "trains: {text}",
    "caution": "caution: {text}",
    "notes": "notes: {text}",
    "source": "source: {text}",
}


#: Where a phone that is worn may be.
WORN_PLACES = {"forearm": "forearm", "upper arm": "upper arm", "ankle": "ankle"}


def say_worn_at(places: Sequence[str]) -> str:
    """Return where a worn phone can feel the cycles of a drill."""
    if not places:
        return tr("a worn phone: not here, it would be in danger or does not feel the cycles")
    return tr(
        "a worn phone feels the cycles here: {places}", places=", ".join(tr(WORN_PLACES[each]) for each in places)
    )


def draw_drill(drill: Drill, *, width: int = 78) -> str:
    """Return a drill as text.

    Parameters
    ----------
    width : int
        Columns to fill, at least 60.

    Returns
    -------
    str
    """
    pattern = drill.pattern
    head = tr(
        "{title}  ({apparatus}, a cycle of {cycle_counts:g} counts)",
        title=tr(drill.title),
        apparatus=tr(drill.apparatus),
        cycle_counts=pattern.cycle_counts,
    )
    lines = [*_wrap(head, width), ""]
    lines += draw_pattern(pattern, width=width)
    lines.append("")
    used = {moment.kind for hand in pattern.hands for moment in hand.moments}
    legend = [f"{MARKS.get(kind, OTHER_MARK)} {tr(kind)}" for kind in sorted(used)]
    if any(moment.at >= pattern.cycle_counts for hand in pattern.hands for moment in hand.moments):
        legend.append(tr("hollow: of the cycle before"))
    lines += _wrap("  ".join(legend), width)
    for hand in pattern.hands:
        lines += _wrap(tr("{name}: {said}", name=tr(hand.name), said=_tell_moments(hand, pattern)), width)
    if pattern.carried:
        room, arm = pattern.carried.in_frame("room"), pattern.carried.in_frame("arm")
        lines += _wrap(
            tr(
                "carried round a bigger circle, turning the same way: {room} small circles to each bigger one as the "
                "room sees it, {arm} as the arm feels it"
                if pattern.carried.sense == "same"
                else "carried round a bigger circle, turning the opposite way: {room} small circles to each bigger one "
                "as the room sees it, {arm} as the arm feels it",
                room=room,
                arm=arm,
            ),
            width,
        )
    slow, fast = drill.practice.tempi_bpm
    lines.append(
        tr(
            "tempo: usually {tempo_bpm:g} beats a minute, {slow:g} to {fast:g}",
            tempo_bpm=drill.practice.tempo_bpm,
            slow=slow,
            fast=fast,
        )
    )
    for name, form in ABOUT.items():
        if text := getattr(drill, name):
            lines += _wrap(tr(form, text=tr(text)), width)
    if drill.worn_at is not None:
        lines += _wrap(say_worn_at(drill.worn_at), width)
    for fault, say in drill.faults:
        lines += _wrap(tr("if {fault}: {say}", fault=tr(fault), say=tr(say)), width)
    return "\n".join(lines)


def draw_pattern(pattern: Pattern, *, width: int = 78) -> list[str]:
    """Return the rows of a pattern, ``width`` columns wide: counts, phases, and one row a hand.

    A moment that falls after the end of the cycle, because its hand trails, is drawn where the next cycle has it, with
    a hollow mark. For reading out there are the names of the phases alone.
    """
    if is_read_out():
        names = [tr_as("phase", phase.name) for phase in pattern.phases]
        return ["  ".join((tr("phases"), *names))] if names else []
    columns = width - _LEAD
    scale = columns / pattern.cycle_counts

    def at(count: float) -> int:
        return min(int(round(count * scale, 6)), columns - 1)

    counts = [" "] * columns
    for count in range(int(pattern.cycle_counts) + (pattern.cycle_counts % 1 > 0)):
        for k, character in enumerate(say_count(count)):
            counts[min(at(count) + k, columns - 1)] = character
    rows = [f"{_lead(tr('counts'))}{''.join(counts)}".rstrip()]
    if pattern.phases:
        phases = ["·"] * columns
        for phase in pattern.phases:
            start, end = at(phase.start), at(phase.end) if phase.end < pattern.cycle_counts else columns
            label = tr_as("phase", phase.name)[: max(end - start - 2, 1)]
            phases[start:end] = f"│{label}".ljust(end - start, "─")[: end - start]
        rows.append(f"{_lead(tr('phases'))}{''.join(phases)}")
    for hand in pattern.hands:
        row = ["·"] * columns
        for moment in hand.moments:
            row[at(moment.at % pattern.cycle_counts)] = _mark_of(moment, pattern)
        for moment in hand.moments:
            behind = at(moment.at % pattern.cycle_counts) + 1
            if moment.at >= pattern.cycle_counts:
                words = fit_later(row[behind:], "·")
                row[behind : behind + len(words)] = words
        rows.append(f"{_lead(tr(hand.name))}{''.join(row)}")
    return rows


def _lead(name: str) -> str:
    return pad(cut(name, _LEAD - 1), _LEAD)


def fit_later(row: Sequence[str], empty: str) -> str:
    """Return the text after a hollow mark that fits into the rest of a row; empty where none does."""
    free = next((k for k, sign in enumerate(row) if sign != empty), len(row))
    return next((f" {words}" for words in map(tr, LATER) if len(words) + 1 < free), "")


def _mark_of(moment: Moment, pattern: Pattern) -> str:
    mark = MARKS.get(moment.kind, OTHER_MARK)
    return LATER_MARKS[mark] if moment.at >= pattern.cycle_counts else mark


def _tell_moments(hand: Hand, pattern: Pattern) -> str:
    told = "; ".join(
        tr("{label} on {count}", label=say_label(moment.label), count=say_count(moment.at)) for moment in hand.moments
    )
    if any(moment.at >= pattern.cycle_counts for moment in hand.moments):
        told = tr("{said}, behind the cycle's {cycle_counts:g} counts", said=told, cycle_counts=pattern.cycle_counts)
    how = ", ".join(map(tr, filter(None, (hand.plane, hand.direction))))
    return f"{told} ({how})" if how else told


def _wrap(text: str, width: int) -> list[str]:
    return wrap(text, width, subsequent_indent="  ")
