"""Words of a phone's page: the server has them from the program, in the language that is spoken there."""

from __future__ import annotations

from tempo_coach.languages import spoken, tr

#: Sentences of the page by the names that it knows them by; what stands in braces is filled in by the page.
PAGE_WORDS = {
    "opening": "One moment …",
    "tell": "Tell whoever sits at the computer: this is the phone with this number.",
    "scan": "Scan the code that the computer shows.",
    "used": "This code was used already: scan the one that is shown now.",
    "over": "The session is over. Nothing of it stays on this phone.",
    "kept": "no connection: it is kept here",
    "eight": "eight {number}",
    "lead_in": "lead-in",
    "then": "then {move}",
    "tap": "tap",
    "where": "In a band at the forearm, the upper arm or the ankle; screen outwards.",
    "mind": "Not in tosses, not in rolls, not over the head.",
    "put_on": "Put it on, then press.",
    "measure": "measure",
    "measures": "It measures.",
    "no_sensor": "This browser tells no motion: use another phone.",
    "no_motion": "No motion comes: use another browser or phone.",
    "start": "start",
    "end": "end",
}


def say_page() -> dict[str, str]:
    """Return the words of a page by their names, and the code of its language."""
    return {"language": spoken().code.replace("_", "-"), **{name: tr(text) for name, text in PAGE_WORDS.items()}}
