"""Ways of observing, one entry each: what gives the onsets, what can be told from them, how a kind of sound is heard.

A further kind of sound or sensor is an entry here and its words in :mod:`tempo_coach.report.words.observers`. Choices
of commands and of the set-up, help, files of takes and what a scorecard may say are made of the two.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal, NamedTuple, TypeAlias

#: The key of a way of observing: one of ``OBSERVERS``.
ObservedBy: TypeAlias = str


class Source(StrEnum):
    """What gives the onsets."""

    KEYS = "keys"
    SOUND = "sound"
    FILM = "film"
    SENSOR = "sensor"
    TABLE = "table"


class Floor(StrEnum):
    """Where the SD that a way of observing adds by itself is known from."""

    SETUP = "measured for each setup"
    KIND = "measured for the kind"
    READINGS = "estimated from the readings"
    UNKNOWN = "not measured"


class Hearing(NamedTuple):
    """How a kind of sound is heard.

    Parameters
    ----------
    band_hz : (float, float)
        Where it is looked for.
    closest : float
        Seconds within which a second one is an echo, a bounce or the same syllable.
    rise_over : float
        Seconds that a rise is looked for over.
    least_rise : float
        Without a sample of the sound, rises of less than this are no onset: nepers of power, mean over the bands.
    delay_ms, spread_ms : float
        By how much its onset is found late, and the SD of that, as measured: what this way of observing adds.
    onset : {"rise", "vowel"}
        Where it begins: at its first rise, or, of a syllable, where its vowel rises.
    """

    band_hz: tuple[float, float]
    closest: float
    rise_over: float
    least_rise: float
    delay_ms: float
    spread_ms: float
    onset: Literal["rise", "vowel"] = "rise"


@dataclass(frozen=True)
class Observer:
    """A way of observing.

    Parameters
    ----------
    source : Source
    floor : Floor
    splits : bool
        Whether the scatter of its onsets can be split into clock and movement: only where nothing that is not the
        performer's own adds to it.
    hearing : Hearing or None
        How it is heard, where it is a kind of sound.
    """

    source: Source
    floor: Floor
    splits: bool = False
    hearing: Hearing | None = None

    @property
    def is_pressed(self) -> bool:
        """Whether its onsets are stamps of keys, in which the delays of keyboard and loudspeaker are."""
        return self.source is Source.KEYS

    @property
    def is_later(self) -> bool:
        """Whether it tells of a take only once that is over."""
        return self.source in (Source.FILM, Source.SENSOR)


def _sound(hearing: Hearing) -> Observer:
    return Observer(Source.SOUND, Floor.KIND, hearing=hearing)


#: Delay and spread of sounds are those of the benchmark ``contacts``: synthesised, in a tune 10 dB below, in a room.
OBSERVERS: dict[ObservedBy, Observer] = {
    "tap": Observer(Source.KEYS, Floor.SETUP, splits=True),
    # how unevenly a coach answers what she sees was not measured
    "coach's tap": Observer(Source.KEYS, Floor.UNKNOWN),
    "contact": _sound(Hearing((600.0, 7500.0), 0.10, 0.012, 1.8, 0.1, 0.1)),
    "clap": _sound(Hearing((800.0, 7500.0), 0.10, 0.012, 1.8, 0.1, 0.1)),
    "foot": _sound(Hearing((100.0, 4000.0), 0.14, 0.012, 1.8, 0.1, 0.3)),
    "voice": _sound(Hearing((200.0, 3000.0), 0.16, 0.020, 1.2, 0.6, 2.3, "vowel")),
    "film": Observer(Source.FILM, Floor.READINGS),
    "sensor": Observer(Source.SENSOR, Floor.READINGS),
    "file": Observer(Source.TABLE, Floor.UNKNOWN),
}
#: The kinds of sound.
SOUNDS: dict[ObservedBy, Hearing] = {key: each.hearing for key, each in OBSERVERS.items() if each.hearing is not None}
#: The one that is meant where nobody names one.
USUAL_SOUND = next(iter(SOUNDS))
