"""Entries of errors, and forms that many of them have."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tempo_coach.languages import tr

#: Words with named places for facts, or a function of the facts that its parameters name.
Form = str | Callable[..., str]
#: What was expected and found; or that and the hint.
Entry = Form | tuple[Form, Form]


def did_you_mean(nearest: str | None) -> str:
    """Return a hint with the nearest known word; empty without one."""
    return tr("did you mean {nearest}?", nearest=nearest) if nearest else ""


def or_else(hint: str) -> Callable[[str | None], str]:
    """Return a hint with the nearest known word, or else another hint."""

    def suggest(nearest: str | None) -> str:
        return did_you_mean(nearest) or tr(hint)

    return suggest


def either(words: Sequence[object]) -> str:
    """Return alternatives: ``a, b or c``."""
    *others, last = map(str, words)
    return tr("{names} or {last}", names=", ".join(others), last=last) if others else last


#: Names of columns that are told before the others are only counted.
_TOLD = 12


def first_names(names: Sequence[str], *, most: int = _TOLD) -> str:
    """Return the first names of columns, and how many more there are."""
    told = ", ".join(name[:40] for name in names[:most])
    more = len(names) - most
    return tr("{names} and {number} more", names=told, number=more) if more > 0 else told


def join_names(names: Sequence[str]) -> str:
    """Return two or more names of columns as in a sentence."""
    *others, last = (name[:40] for name in names)
    return tr("{names} and {last}", names=", ".join(others), last=last)
