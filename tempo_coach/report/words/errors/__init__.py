"""Errors in words: a module for each package that raises them, with an entry for each code, and ``say_error``.

An entry is a sentence without its full stop (what was expected, what was found), or that sentence and a hint: the next
step. Each is a format string whose placeholders are facts of the error, or a function of the facts that it names, which
returns the final text. A list is joined by commas; an error among the facts is represented by what it found. ``forms``
has the entry and the format strings that many errors share; ``films`` and ``traces`` are of ``observe`` too.
"""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError, CoachErrors
from tempo_coach.languages import tr
from tempo_coach.report.words.errors import (
    cli,
    coach,
    films,
    history,
    live,
    music,
    observe,
    pages,
    pattern,
    resources,
    score,
    traces,
    ui,
)
from tempo_coach.signs import show_controls

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry, Form

_ENDS = (".", "?", "!")
#: Facts that are names which the program gave.
NAMED = (
    *("left", "right", "first", "second"),
    *("moment", "circle", "release", "catch", "contact", "wave", "turn", "roll", "pull"),
    *("counts", "tempo", "flight", "distance", "rise", "apex", "speed", "angle"),
)

#: What is said of each code.
WORDS: dict[str, Entry] = {
    code: entry
    for package in (cli, coach, films, history, live, music, observe, pages, pattern, resources, score, traces, ui)
    for code, entry in package.WORDS.items()
}


def say_error(error: CoachError) -> str:
    """Return an error as a sentence; one a line of several.

    Examples
    --------
    >>> say_error(CoachError("toss.catch_above_given_apex", where="catch", apex_m=1.2, catch_m=1.5))
    'catch: the toss tops out at 1.20 m above the floor and cannot be caught at 1.50 m; catch at 1.20 m or lower.'
    """
    if isinstance(error, CoachErrors):
        return "\n".join(map(say_error, error.problems))
    message, hint = message_of(error), hint_of(error)
    # one sentence: a hint may begin with a key, an option or a command, which no capital may change
    joint = " " if message.endswith(_ENDS) else "; "
    said = f"{message}{joint}{_sentence(hint)}" if hint else _sentence(message)
    if error.where:
        said = tr("{name}: {said}", name=error.where, said=said)
    return show_controls(said)  # on one line, whatever it tells


def message_of(error: CoachError) -> str:
    """Return what was expected and what was found, without place and full stop."""
    entry = WORDS[error.code]
    return _fill(entry if isinstance(entry, str) or callable(entry) else entry[0], error)


def hint_of(error: CoachError) -> str | None:
    """Return the next step, without a full stop; None where there is none."""
    entry = WORDS[error.code]
    return None if isinstance(entry, str) or callable(entry) else _fill(entry[1], error) or None


def _fill(form: Form, error: CoachError) -> str:
    if isinstance(form, str):
        return tr(form, **{name: say_fact(value) for name, value in error.facts.items()})
    return form(**{name: error.facts[name] for name in inspect.signature(form).parameters})


def say_fact(value: object) -> object:
    """Return what is put into a place: an error by what it found, a list with commas, a hand in her language."""
    if isinstance(value, CoachError):
        return message_of(value)
    if isinstance(value, (list, tuple)):
        return ", ".join(str(say_fact(each)) for each in value)
    return tr(value) if isinstance(value, str) and value in NAMED else value


def _sentence(text: str) -> str:
    return text if text.endswith(_ENDS) else f"{text}."
