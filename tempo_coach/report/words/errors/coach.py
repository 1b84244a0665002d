"""Errors of what a verb is asked for, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

WORDS: dict[str, Entry] = {
    "music.laid_evenly": (
        "{problem}",
        "counts are laid evenly at {tempo_bpm:g} a minute, to be put right by hand",
    ),
}
