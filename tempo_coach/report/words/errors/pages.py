"""Errors of pages and films that are written, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

WORDS: dict[str, Entry] = {
    "film.not_written": "the film cannot be written ({reason})",
    "film.no_mp4": ("this build of PyAV writes no mp4", "look at a page instead: --check OUT.html"),
    "browser.missing": (
        "there is no browser that can print here",
        "open the HTML page and print it from there, or install Chromium",
    ),
    "browser.failed": "{browser} could not print the page: {said}",
}
