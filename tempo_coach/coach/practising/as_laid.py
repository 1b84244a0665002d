"""A routine's stretch practised from the set-up as it is laid: the routine says which drill, where, and how."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach import coach
from tempo_coach.coach.practising.form import AS_LAID, AS_TAUGHT, DEFAULT, FIRST_DRILL
from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.coach import Heard, Request
    from tempo_coach.coach.practising.form import Form

#: Lines that the routine answers, and what they show when nobody has.
_ANSWERED = (("tempo", DEFAULT), ("eights", DEFAULT), ("hands", AS_TAUGHT))


def offer_laid(form: Form) -> Form:
    """Return the set-up with what the routine has laid among its drills, or without it where there is no routine."""
    line = form.line("drill")
    others = tuple(each for each in line.choices if each != AS_LAID)
    if coach.is_routine(form.value("music").strip()):
        return form.put(replace(line, choices=(*others, AS_LAID)))
    usual = FIRST_DRILL if FIRST_DRILL in others else others[0]
    return form.put(replace(line, choices=others, value=usual if line.value == AS_LAID else line.value))


def read_laid(form: Form, *, progress: Callable[[float], None] | None = None) -> tuple[Request, Heard]:
    """Return what is laid on the eight that the set-up names (by default what is laid first), and its music, heard.

    Parameters
    ----------
    form : Form
        Its drill is ``AS_LAID``.
    progress : callable or None

    Raises
    ------
    CoachError
        If nothing is laid there, the routine or its music cannot be read, or the set-up says what the routine says.
    """
    for key, unsaid in _ANSWERED:
        line = form.line(key)
        if line.value != unsaid:
            raise CoachError("the routine says it", where=line.label, hint="make this line as usual again")
    from_eight = form.line("from_eight").number
    opened = coach.open_routine(form.value("music").strip(), progress=progress)
    try:
        laid = coach.stretch_request(opened, None if from_eight is None else int(from_eight))
    except CoachError as error:  # told by the line of the set-up, not by an option of a command
        raise CoachError(error.message, where=form.line("from_eight").label, hint=error.hint) from error
    asked = form.request()
    request = replace(laid, cycles=asked.cycles, speed=asked.speed, cues=asked.cues, spoken=asked.spoken)
    return request, coach.counts_of(opened)
