"""Errors of drills, plans, routines and tosses, in words."""

from tempo_coach.report.words.errors.forms import Entry

WORDS: dict[str, Entry] = {
    "toss.catch_above_given_apex": (
        "the toss tops out at {apex_m:.2f} m above the floor and cannot be caught at {catch_m:.2f} m",
        "catch at {apex_m:.2f} m or lower",
    ),
}
