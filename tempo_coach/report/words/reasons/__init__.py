"""Reasons in words: a module for each subject with an entry for each code, and the only place for them.

``score`` takes and groups, ``trace`` traces and their tables, ``film`` films and recordings, ``music`` beats, counts,
routines and cuts, ``history`` finished takes and takes over days. :func:`say_reason` and its neighbours put the
arguments of a :class:`tempo_coach.reasons.Reason` in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.reasons import Why
from tempo_coach.report.words.amounts import say_clock, several
from tempo_coach.report.words.errors import message_of, say_error, say_fact
from tempo_coach.report.words.reasons import film, history, music, score, trace

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from tempo_coach.reasons import Note, Reason

#: Keys of the screen of the counts that answer a doubt.
_ANSWERS = {
    Why.PAUSE: "silent; s: counts through it",
    Why.WAITS: "p: a pause",
    Why.SLOWS: "s lays them, slowing",
    Why.SPLICE: "c: a new count 1",
    Why.BEAT_MISSING: "a adds one",
    Why.BEAT_TOO_MANY: "x drops one",
}
#: Codes with another reason among their arguments.
_NESTED: dict[Why, str | Callable[..., str]] = {
    Why.OF_ROUTINE: lambda path, reason: tr("{name}: {said}", name=path, said=say_reason(reason)),
    Why.MORE_NOTES: lambda note, more: tr(
        "{message_of} (and {more} more)",
        message_of=message_of(note) if isinstance(note, CoachError) else say_reason(note),
        more=more,
    ),
    Why.DOUBT: lambda reason, end, left: (
        tr(
            "{reason}. {places} left; y: it is right",
            reason="; ".join(filter(None, (say_reason(reason), tr(_ANSWERS.get(reason.code, ""))))),
            places=several(left, "place"),
        )
        if end is None
        else tr(
            "{reason}, up to {clock}: tap along there. {places} left; y: it is right",
            reason=say_reason(reason),
            clock=say_clock(end),
            places=several(left, "place"),
        )
    ),
}
#: The words of each code: a form that the arguments are put into, or a function of them. No full stop.
WORDS: dict[Why, str | Callable[..., str]] = {
    **score.WORDS,
    **trace.WORDS,
    **film.WORDS,
    **music.WORDS,
    **history.WORDS,
    **_NESTED,
}


def say_reason(reason: Reason | None) -> str:
    """Return a reason without a full stop; empty where there is none.

    Examples
    --------
    >>> from tempo_coach.reasons import Reason
    >>> say_reason(Reason(Why.FEW_PERIODS, (5, 3))), say_reason(None)
    ('needs 5 periods, there are 3', '')
    """
    if reason is None:
        return ""
    words = WORDS[reason.code]
    if not isinstance(words, str):
        return words(*reason.args)
    return tr(words, *map(say_fact, reason.args))


def say_reasons(reasons: Mapping[str, Reason]) -> dict[str, str]:
    """Return several reasons in words, by what each is about."""
    return {about: say_reason(reason) for about, reason in reasons.items()}


def say_note(note: Note) -> str:
    """Return a note while work goes on, with a full stop unless it is a question; in lower case.

    Examples
    --------
    >>> from tempo_coach.reasons import Reason
    >>> say_note(Reason(Why.HIDDEN_MOMENTS, (2, 40)))
    '2 of 40 moments were hidden or not filmed: not scored.'
    >>> say_note(Reason(Why.OTHER_STEPS, ("left", 0.8, 1.6)))[-13:]
    'of this take?'
    """
    if isinstance(note, CoachError):
        return say_error(note)
    said = say_reason(note)
    return said if said.endswith("?") else f"{said}."


def say_news(note: Note | None) -> str:
    """Return a result as a whole sentence; empty without one.

    Examples
    --------
    >>> from tempo_coach.reasons import Reason
    >>> say_news(Reason(Why.NO_STRETCH)), say_news(None)
    ('No stretch is marked.', '')
    """
    if note is None:
        return ""
    words = say_note(note)
    # the name of a file is as it is
    return words if isinstance(note, CoachError) and note.where else words[:1].upper() + words[1:]
