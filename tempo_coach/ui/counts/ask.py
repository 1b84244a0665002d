"""Questions while counts are set: a drill to lay, a toss, a remark, the title."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError, nearest
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.pattern.routine.routine import MOMENTS, Laid, Remark, RoutineMoment

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
}
LONGEST = 120


def complete(text: str) -> str:
    """Return the next drill whose name begins as typed, or that follows the one that is there."""
    names = [path.stem for path in list_drills()]
    if text in names:
        return names[(names.index(text) + 1) % len(names)]
    return next((name for name in names if name.startswith(text)), text)


def answer(key: str, text: str, routine: Routine, place: Position) -> tuple[Routine, str]:
    """Return the routine with what was typed, and what to say of it.

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
        return (replace(routine, title=text.strip()), "renamed") if words else (routine, "")
    if key == "k":
        return _set_kind(routine, text.strip())
    if key == "quotation_mark":
        others = tuple(note for note in routine.remarks if note.eight != place.eight)
        remarks = (*others, Remark(place.eight, text.strip())) if words else others
        return replace(routine, remarks=remarks), "remark set" if words else "no remark"
    if not words:
        return routine, ""
    if key == "plus":
        laid = _read_laid(words, place)
        return routine.with_laid(laid), f"{laid.drill} laid on eight {place.eight}"
    what, rest = (words[0], words[1:]) if words[0] in MOMENTS else ("other", words)
    hand = rest.pop(0) if rest and rest[0] in ("left", "right", "both") else ""
    moment = RoutineMoment(what, place, hand, " ".join(rest))
    return replace(routine, moments=(*routine.moments, moment)), f"{what} set on count {place.count:g}"


def _set_kind(routine: Routine, word: str) -> tuple[Routine, str]:
    if word == "alone":
        return replace(routine, kind="alone"), "alone"
    if word == "group":
        return replace(routine, kind="group"), "in a group"
    raise CoachError("steps.alone_or_group", found=word)


def _read_laid(words: list[str], place: Position) -> Laid:
    name, *rest = words
    names = [path.stem for path in list_drills()]
    if name not in names and not name.endswith(".toml"):
        guess = nearest(name, names)
        raise CoachError("laid.no_drill", drill=name, nearest=guess)
    eights = next((int(word) for word in rest if word.isdigit() and 1 <= int(word) <= 999), 1)
    hand = " ".join(word for word in rest if not word.isdigit() and word != "mirrored")
    return Laid(name, place, eights, hand, "mirrored" in rest)
