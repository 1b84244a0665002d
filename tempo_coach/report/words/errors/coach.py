"""Errors of what a verb is asked for, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

WORDS: dict[str, Entry] = {
    "group.no_take_of_athlete": (
        "there is no take of {athlete}",
        "tempo-coach history --athletes lists who there is",
    ),
    "music.laid_evenly": (
        "{problem}",
        "counts are laid evenly at {tempo_bpm:g} a minute, to be put right by hand",
    ),
}
