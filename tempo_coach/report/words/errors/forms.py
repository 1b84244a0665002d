"""Entries of errors, and forms that many of them have."""

from __future__ import annotations

from collections.abc import Callable

#: Words with named places for facts, or a function of the facts that its parameters name.
Form = str | Callable[..., str]
#: What was expected and found; or that and the hint.
Entry = Form | tuple[Form, Form]


def did_you_mean(nearest: str | None) -> str:
    """Return the hint that suggests a near miss; empty where nothing is near."""
    return f"did you mean {nearest}?" if nearest else ""


def or_else(hint: str) -> Callable[[str | None], str]:
    """Return a hint that suggests a near miss, or else says something."""

    def suggest(nearest: str | None) -> str:
        return did_you_mean(nearest) or hint

    return suggest


def either(words: tuple[str, ...] | list[str]) -> str:
    """Return words of which one is meant: ``a, b or c``."""
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]
