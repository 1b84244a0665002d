"""Questions while counts are set: a drill to lay, a toss, a remark, the title."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.coach.drills import list_names_of_drills
from tempo_coach.errors import CoachError, nearest
from tempo_coach.pattern.routine.routine import MOMENTS, Laid, Remark, RoutineMoment
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from tempo_coach.music.counts.count_map import Position
    from tempo_coach.pattern.routine.routine import Routine

#: What each key asks for, and an example.
ASKED = {
    "plus": ("drill, eights, hand, mirrored", "clubs_mills 2 left; Tab: next drill"),
    "exclamation_mark": ("toss, catch, exchange, canon or other words", "toss right with a turn"),
    "quotation_mark": ("a remark on this eight; nothing takes it off", "chin up"),
    "equals_sign": ("the title of the routine", "Ball, spring"),
    "k": ("alone or group", "alone"),
    "K": ("the eights to keep, one after the other", "1-8 17-24"),
    "W": ("the sound file to write, the routine beside it", "short.wav"),
}
LONGEST = 120


def complete(text: str) -> str:
    """Return the next drill whose name begins as typed, or that follows the one already there."""
    names = list_names_of_drills()
    if text in names:
        return names[(names.index(text) + 1) % len(names)]
    return next((name for name in names if name.startswith(text)), text)


def offer(key: str, routine: Routine, place: Position) -> str:
    """Return the initial text of a prompt, which Enter accepts: the present value, or the other choice.

    Parameters
    ----------
    key : str
        Which of ``ASKED`` it is.
    routine : Routine
    place : Position
        Where the coach is.
    """
    match key:
        case "equals_sign":
            return routine.title
        case "k":
            return "group" if routine.kind == "alone" else "alone"
        case "quotation_mark":
            return next((each.text for each in routine.remarks if each.eight == place.eight), "")
        case _:
            return ""


def answer(key: str, text: str, routine: Routine, place: Position) -> tuple[Routine, Reason | None]:
    """Return the routine after an answer, and what came of it.

    Parameters
    ----------
    key : str
        Which of ``ASKED`` it is.
    text : str
        What was typed.
    place : Position
        Where the coach is.

    Raises
    ------
    CoachError
        If it is not understood.
    """
    words = text.split()
    if key in ("plus", "exclamation_mark") and place.eight < 1:
        raise CoachError("place.before_one")
    if key == "equals_sign":
        return (replace(routine, title=text.strip()), Reason(Why.RENAMED)) if words else (routine, None)
    if key == "k":
        return _set_kind(routine, text.strip())
    if key == "quotation_mark":
        others = tuple(note for note in routine.remarks if note.eight != place.eight)
        remarks = (*others, Remark(place.eight, text.strip())) if words else others
        return replace(routine, remarks=remarks), Reason(Why.REMARK_SET) if words else Reason(Why.NO_REMARK)
    if not words:
        return routine, None
    if key == "plus":
        laid = _read_laid(words, place)
        return routine.with_laid(laid), Reason(Why.LAID_ON, (laid.drill, place.eight))
    what, rest = (words[0], words[1:]) if words[0] in MOMENTS else ("other", words)
    hand = rest.pop(0) if rest and rest[0] in ("left", "right", "both") else ""
    moment = RoutineMoment(what, place, hand, " ".join(rest))
    return replace(routine, moments=(*routine.moments, moment)), Reason(Why.MOMENT_SET, (what, place.count))


def _set_kind(routine: Routine, word: str) -> tuple[Routine, Reason | None]:
    if word not in ("alone", "group"):
        raise CoachError("steps.alone_or_group", found=word)
    return replace(routine, kind="alone" if word == "alone" else "group"), Reason(Why.KIND_SET, (word,))


def _read_laid(words: list[str], place: Position) -> Laid:
    name, *rest = words
    names = list_names_of_drills()
    if name not in names and not name.endswith(".toml"):
        guess = nearest(name, names)
        raise CoachError("laid.no_drill", drill=name, nearest=guess)
    eights = next((int(word) for word in rest if word.isdigit() and 1 <= int(word) <= 999), 1)
    hand = " ".join(word for word in rest if not word.isdigit() and word != "mirrored")
    return Laid(name, place, eights, hand, "mirrored" in rest)
