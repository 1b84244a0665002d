"""Errors of pages and films that are written, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

WORDS: dict[str, Entry] = {
    "clip.few_cycles": (
        "expected {least} whole cycles or more to show one beside another, found {found}",
        "film more of it, or name what repeats with --part or --marker",
    ),
    "clip.no_film": ("expected a take that was read from a film and written", "read its film first"),
    "clip.no_cycle": ("expected a whole cycle from {first} to {last}, got {found}", "trace numbers them"),
    "clip.is_mp4": ("expected a name that ends in .mp4, got {found}", "phones and browsers play mp4"),
    "clip.slower": ("expected 1 to 20 times slower, got {found:g}", "4 is usual"),
    "film.not_written": "the film cannot be written ({reason})",
    "film.no_mp4": ("this build of PyAV writes no mp4", "look at a page instead: --check OUT.html"),
    "browser.missing": (
        "there is no browser that can print here",
        "open the HTML page and print it from there, or install Chromium",
    ),
    "browser.failed": "{browser} could not print the page: {said}",
}
