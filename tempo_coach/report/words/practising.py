"""Words of the practise screen at one instant, and of what is chosen before a practice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import begin, join_words, several

if TYPE_CHECKING:
    from collections.abc import Sequence

#: The drill of a set-up whose music is a routine: whatever that has laid on the eight.
AS_LAID = "what the routine has there"
#: Ways of cueing as they are chosen.
CUES = {
    "all": "every moment",
    "alternate": "every other cycle",
    "ones": "the first of each cycle",
    "none": "none",
    "thinning": "fewer and fewer, then none",
}
#: How many eights where nobody says: with music, and without.
ALL_EIGHTS, ENOUGH_EIGHTS, FITTING_CYCLES = "all that follow", "as many as it takes", "as many as fit"
#: What is asked for where a hand's key is: before the hand, and behind the key that Enter takes.
ASK_KEY, DEFAULT_KEY = "press the key for", "or Enter for the usual one,"
JUDGING = "Judging the take …"
OPENING, MAKING_CUES = "Opening the sound …", "Making the cues …"


def say_take(number: int, of: int) -> str:
    """Return the number of the take, out of how many in a row.

    Examples
    --------
    >>> say_take(2, 1), say_take(2, 5)
    ('take 2', 'take 2 of 5')
    """
    return tr("take {number} of {of}", number=number, of=of) if of > 1 else tr("take {number}", number=number)


def say_tempo(tempo_bpm: float | None) -> str:
    """Return a tempo as shown before a take; empty without one."""
    return tr("{tempo_bpm:.0f} a minute", tempo_bpm=tempo_bpm) if tempo_bpm else ""


def say_key(key: str) -> str:
    """Return a key as printed on it.

    Examples
    --------
    >>> say_key("j"), say_key("left_square_bracket")
    ('J', 'Left square bracket')
    """
    return begin(tr(key.replace("_", " ")))


def say_keys(keys: Sequence[tuple[str, str]]) -> str:
    """Return each hand with its key."""
    return "   ".join(tr("{name}: {said}", name=tr(hand), said=say_key(key)) for hand, key in keys)


def say_how_to_go_on(keys: Sequence[tuple[str, str]], *, can_resume: bool) -> str:
    """Return what resumes a paused take."""
    if not can_resume:
        return tr("Waiting for the sound …")
    names = join_words(map(say_key, dict(keys).values()), "{first} or {second}") if keys else tr("Space")
    return tr("Press {names} to go on.", names=names)


def say_eight(eight: int, first: int, last: int) -> str:
    """Return the eight of a passage.

    Examples
    --------
    >>> say_eight(3, 3, 3), say_eight(3, 3, 6)
    ('eight 3', 'eight 3 (3 to 6)')
    """
    return (
        tr("eight {eight} ({first} to {last})", eight=eight, first=first, last=last)
        if last > first
        else tr("eight {eight}", eight=eight)
    )


def say_ahead(counts: int) -> str:
    """Return how far ahead the next move is."""
    return tr("in {counts}", counts=several(counts, "count"))


def say_broken_off(takes: Sequence[str]) -> str:
    """Return what is said in the set-up of takes that were broken off, by their files; nothing where there is none."""
    if not takes:
        return ""
    return tr(
        "A take was broken off (and {more} more). F2: its scorecard, F3: put it by. It is {name}."
        if len(takes) > 1
        else "A take was broken off. F2: its scorecard, F3: put it by. It is {name}.",
        more=len(takes) - 1,
        name=takes[0],
    )
