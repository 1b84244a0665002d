"""Words for the ways of observing, on cards, in the set-up and in the help of commands."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.languages import tr
from tempo_coach.observe.observers import OBSERVERS, SOUNDS, Source

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tempo_coach.observe.observers import ObservedBy, Observer


class ObserverWords(NamedTuple):
    """Words for a way of observing.

    Parameters
    ----------
    said : str
        Behind "observed by".
    chosen : str
        As it is chosen before a take; empty where it cannot be.
    live, recorded : str
        What the microphone hears while she practises, and what is heard in a recording; of kinds of sound alone.
    """

    said: str
    chosen: str = ""
    live: str = ""
    recorded: str = ""


WORDS: dict[ObservedBy, ObserverWords] = {
    "tap": ObserverWords("taps", "her own taps"),
    "coach's tap": ObserverWords("the coach's taps", "a coach who taps"),
    "contact": ObserverWords(
        "contacts heard", "the microphone: contacts", "the rope on the floor", "rope or apparatus on the floor"
    ),
    "clap": ObserverWords("claps", "the microphone: claps", "claps", "claps"),
    "foot": ObserverWords("a foot heard", "the microphone: a foot", "a foot", "a foot on a board"),
    "voice": ObserverWords(
        "the voice", "the microphone: her voice", "her voice on each circle", 'a voice that says "ta"'
    ),
    "film": ObserverWords("a film", "a film, afterwards"),
    "sensor": ObserverWords("a sensor", "a sensor, afterwards"),
    "phone": ObserverWords("taps on a phone", "phones"),
    "worn phone": ObserverWords("a worn phone"),
    "sender": ObserverWords("what another program sent"),
    "midi": ObserverWords("pads or pedals"),
    "lsl": ObserverWords("a laboratory's stream"),
    "file": ObserverWords("a table of times"),
    "nobody": ObserverWords("nobody", "nobody: it just plays"),
}


def say_observer(observed_by: ObservedBy) -> str:
    """Return how a take was observed.

    Examples
    --------
    >>> say_observer("clap"), say_observer("film")
    ('claps', 'a film')
    """
    return tr(WORDS[observed_by].said) if observed_by in WORDS else observed_by


def list_choices() -> Mapping[str, ObservedBy]:
    """Return the choices before a take, in order: keys, what is seen later, sounds by their names."""

    def place(item: tuple[ObservedBy, Observer]) -> tuple[int, str]:
        key, observer = item
        heard = observer.source is Source.SOUND
        return (2, key) if heard else (1 if observer.is_later else 0, "")

    return {WORDS[key].chosen: key for key, _ in sorted(OBSERVERS.items(), key=place) if WORDS[key].chosen}


def say_live() -> str:
    """Return what the microphone can listen for while she practises."""
    return _list([tr(WORDS[key].live) for key in SOUNDS])


def say_recorded() -> str:
    """Return what can be heard in a recording, the default first."""
    first, *others = (tr(WORDS[key].recorded) for key in SOUNDS)
    return _list([tr("{first} (default)", first=first), *others])


def _list(told: list[str]) -> str:
    return tr("{names}, or {told}", names=", ".join(told[:-1]), told=told[-1])
