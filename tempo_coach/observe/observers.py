"""Registry of the ways to observe: the source of onsets, what can be concluded, how a kind of sound is detected.

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
    """Kinds of sources of onsets."""

    KEYS = "keys"
    SOUND = "sound"
    FILM = "film"
    SENSOR = "sensor"
    PHONE = "phone"
    SENDER = "sender"
    TABLE = "table"
    NOBODY = "nobody"


class Floor(StrEnum):
    """Origin of the SD that a way of observing adds by itself."""

    SETUP = "measured for each setup"
    KIND = "measured for the kind"
    READINGS = "estimated from the readings"
    UNKNOWN = "not measured"


class SoundProfile(NamedTuple):
    """The profile of a kind of sound.

    Parameters
    ----------
    band_hz : (float, float)
        Pass band.
    closest : float
        Seconds within which a second onset is an echo, a bounce or the same syllable.
    rise_over : float
        Seconds over which a rise is measured.
    least_rise : float
        Threshold without a sample of the sound: nepers of power, mean over the bands.
    delay_ms, spread_ms : float
        Mean and SD of the detector's error, as measured.
    onset : {"rise", "vowel"}
        At the first rise, or, of a syllable, at the rise of its vowel (perceptual onset).
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
    profile : SoundProfile or None
        How it is heard, where it is a kind of sound.
    """

    source: Source
    floor: Floor
    splits: bool = False
    profile: SoundProfile | None = None

    @property
    def is_pressed(self) -> bool:
        """Whether its onsets are time stamps of keys, and so include the delays of keyboard and loudspeaker."""
        return self.source is Source.KEYS

    @property
    def is_there(self) -> bool:
        """Whether anything is observed; without it music and cues are played and nothing is reported."""
        return self.source is not Source.NOBODY

    @property
    def is_later(self) -> bool:
        """Whether results are available only after the take."""
        return self.source in (Source.FILM, Source.SENSOR)


def _sound(profile: SoundProfile) -> Observer:
    return Observer(Source.SOUND, Floor.KIND, profile=profile)


#: Where nobody observes.
NOBODY: ObservedBy = "nobody"
#: Delay and spread of sounds are those of the benchmark ``contacts``: synthesised, in a tune 10 dB below, in a room.
OBSERVERS: dict[ObservedBy, Observer] = {
    "tap": Observer(Source.KEYS, Floor.SETUP, splits=True),
    # how unevenly a coach answers what she sees was not measured
    "coach's tap": Observer(Source.KEYS, Floor.UNKNOWN),
    "contact": _sound(SoundProfile((600.0, 7500.0), 0.10, 0.012, 1.8, 0.1, 0.1)),
    "clap": _sound(SoundProfile((800.0, 7500.0), 0.10, 0.012, 1.8, 0.1, 0.1)),
    "foot": _sound(SoundProfile((100.0, 4000.0), 0.14, 0.012, 1.8, 0.1, 0.3)),
    "voice": _sound(SoundProfile((200.0, 3000.0), 0.16, 0.020, 1.2, 0.6, 2.3, "vowel")),
    "film": Observer(Source.FILM, Floor.READINGS),
    "sensor": Observer(Source.SENSOR, Floor.READINGS),
    "phone": Observer(Source.PHONE, Floor.READINGS),
    "worn phone": Observer(Source.PHONE, Floor.READINGS),
    # what sends over a network or a cable has delays that nobody here can know
    "sender": Observer(Source.SENDER, Floor.UNKNOWN),
    "midi": Observer(Source.SENDER, Floor.UNKNOWN),
    "lsl": Observer(Source.SENDER, Floor.UNKNOWN),
    "file": Observer(Source.TABLE, Floor.UNKNOWN),
    NOBODY: Observer(Source.NOBODY, Floor.UNKNOWN),
}
#: The kinds of sound.
SOUNDS: dict[ObservedBy, SoundProfile] = {
    key: each.profile for key, each in OBSERVERS.items() if each.profile is not None
}
#: The one that is meant where nobody names one.
DEFAULT_SOUND = next(iter(SOUNDS))
