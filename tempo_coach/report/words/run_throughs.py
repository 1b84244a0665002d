"""Sections of a run-through in words: where each lies, what became of it, and which one to work on first."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.broken import tell_cycle
from tempo_coach.score.section_cards import SectionKind, worst_first

if TYPE_CHECKING:
    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.section_cards import SectionCard

#: Nothing to work on, by whether that is told of evenness alone, and of several sections.
_WELL_WORDS = {
    (True, True): "All of it is even ({sections}): fewer cues next.",
    (True, False): "It is even ({sections}): fewer cues next.",
    (False, True): "All of it is in time ({sections}): fewer cues next.",
    (False, False): "It is in time ({sections}): fewer cues next.",
}


def say_eights(first: int, last: int) -> str:
    """Return the eights of something.

    Examples
    --------
    >>> say_eights(3, 3), say_eights(3, 4)
    ('3', '3-4')
    """
    return f"{first}" if first == last else f"{first}-{last}"


def say_verdict(section: SectionCard) -> str:
    """Return the outcome of a section in a few words, with its number.

    Early and late of a take whose own place or delay is not known are told beside the rest of it.
    """
    missed = section.asked - section.answered
    bias = abs(section.bias) * 1000
    match section.kind:
        case SectionKind.NOT_REACHED:
            return tr("not reached")
        case SectionKind.NOT_DONE:
            return tr("not done")
        case SectionKind.MANY_MISSED | SectionKind.MISSED:
            return tr("{missed} of {asked} missed", missed=missed, asked=section.asked)
        case SectionKind.LATE:
            return tr("{bias:.0f} ms later than the rest" if section.relative else "{bias:.0f} ms late", bias=bias)
        case SectionKind.EARLY:
            return tr("{bias:.0f} ms earlier than the rest" if section.relative else "{bias:.0f} ms early", bias=bias)
        case SectionKind.UNEVEN:
            return tr("uneven, scatter {scatter:.1f} %", scatter=100 * section.scatter)
        case _:
            return tr("even") if section.relative else tr("in time")


def say_sign(section: SectionCard) -> str:
    """Return the sign of an outcome: an arrow against time or along it, level, or what is missing."""
    signs = {
        SectionKind.LATE: ">",
        SectionKind.EARLY: "<",
        SectionKind.UNEVEN: "~",
        SectionKind.IN_TIME: "=",
        SectionKind.NOT_REACHED: " ",
    }
    return signs.get(section.kind, "x")


def say_details(section: SectionCard) -> str:
    """Return the details of a section beside its outcome: lateness, scatter, what broke."""
    told: list[str] = []
    if section.kind not in (SectionKind.LATE, SectionKind.EARLY) and math.isfinite(section.bias):
        told.append(tr("{bias:+.0f} ms", bias=1000 * section.bias))
    if section.kind is not SectionKind.UNEVEN and math.isfinite(section.scatter):
        told.append(tr("scatter {scatter:.1f} %", scatter=100 * section.scatter))
    missed = section.asked - section.answered
    if missed and section.kind in (SectionKind.LATE, SectionKind.EARLY, SectionKind.UNEVEN):
        told.append(tr("{missed} missed", missed=missed))
    return ", ".join(told)


def tell_sections(card: Scorecard) -> str:
    """Return the one section to work on, as a coach says it, and how many were in time; empty without sections."""
    judged = [each for each in card.sections if each.kind is not SectionKind.NOT_REACHED]
    if not judged:
        return ""
    fine = sum(each.kind is SectionKind.IN_TIME for each in judged)
    worst = worst_first(judged)[0]
    if worst.kind is SectionKind.IN_TIME:
        return tr(_WELL_WORDS[worst.relative, fine > 1], sections=several(fine, "section"))
    last = worst.first_eight != worst.last_eight
    where = (
        tr("eights {eights}", eights=say_eights(worst.first_eight, worst.last_eight))
        if last
        else tr("eight {eights}", eights=say_eights(worst.first_eight, worst.last_eight))
    )
    said = tr(
        "Work on {where}, {title}: {verdict}.", where=where, title=tr(worst.section.title), verdict=say_verdict(worst)
    )
    broken = worst.card.flagged if worst.card is not None else ()
    if worst.card is not None and broken and worst.kind not in (SectionKind.NOT_DONE, SectionKind.MANY_MISSED):
        said += f" {_capital(tell_cycle(worst.card, broken[0]))}."
    others = tr(
        "{fine} of {sections} even." if worst.relative else "{fine} of {sections} in time.",
        fine=fine,
        sections=several(len(judged), "section"),
    )
    return f"{said} {others}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def sections_to_list(card: Scorecard) -> list[dict[str, object]]:
    """Return the sections as plain values, in the order of the routine."""
    return [
        {
            "drill": each.section.drill,
            "title": each.section.title,
            "hands": list(each.section.hands),
            "first_eight": each.first_eight,
            "last_eight": each.last_eight,
            "verdict": str(each.kind),
            "words": say_verdict(each),
            "asked": each.asked,
            "answered": each.answered,
            "bias_ms": _plain(1000 * each.bias),
            "relative": each.relative,
            "scatter_pct": _plain(100 * each.scatter),
            "off_pct": _plain(100 * each.off),
        }
        for each in card.sections
    ]


def _plain(number: float) -> float | None:
    return number if math.isfinite(number) else None
