"""Errors of what was observed: takes, tables, traces, recordings, films, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.report.words.errors.resources import WANTED, hint_for

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

WORDS: dict[str, Entry] = {
    "table.no_text": (
        lambda what: f"expected {WANTED[what]}, found a picture, sound or other file that is no text",
        hint_for,
    ),
    "table.empty": ("the file is empty", hint_for),
    "table.too_long": ("expected up to {most:,} rows, found {found:,}", hint_for),
    "table.unreadable": ("this is no table ({reason})", hint_for),
}
