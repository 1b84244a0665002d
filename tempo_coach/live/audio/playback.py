"""The interface of every player of a take, with sound or without: states, news, one sentence for each trouble."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np

    from tempo_coach.live.audio.timeline import Gap


class State(StrEnum):
    """How far a player has come with its samples."""

    IDLE = "idle"
    OPENING = "opening"
    PLAYING = "playing"
    PAUSED = "paused"
    FINISHED = "finished"


class Trouble(StrEnum):
    """What can go wrong with sound."""

    NO_LIBRARY = "no library"
    NO_DEVICE = "no device"
    REFUSED = "refused"
    NOT_OPENED = "not opened"
    LOST = "lost"
    FROZEN = "frozen"
    NO_ROOM = "no room"


#: Troubles after which trying again by itself makes sense: the server or the device may come back.
MAY_COME_BACK = frozenset({Trouble.NO_DEVICE, Trouble.NOT_OPENED, Trouble.LOST, Trouble.FROZEN})


class Kind(StrEnum):
    """What a piece of news is about."""

    PLAYING = "playing"
    GAP = "gap"
    PAUSED = "paused"
    BACK = "back"
    NOTED = "noted"
    FINISHED = "finished"


@dataclass(frozen=True)
class News:
    """Something that happened to a player since it was last asked.

    Attributes
    ----------
    kind : Kind
    time : float
        Take time in seconds at which it happened; NaN where nothing had been heard yet.
    sentence : str
        What to tell the gymnast; empty where there is nothing to say.
    trouble : Trouble or None
        Why it paused.
    gap : Gap or None
        Where sound was lost; its stretch is not measurable.
    """

    kind: Kind
    time: float
    sentence: str = ""
    trouble: Trouble | None = None
    gap: Gap | None = None


class Player(Protocol):
    """Something that plays a take's samples and knows what is heard when.

    Nothing happens by itself and no method waits: :meth:`poll` is called ten times a second or more, and says
    what is new. All stamps are ``time.perf_counter``; all other times are take time in seconds.
    """

    @property
    def name(self) -> str:
        """What it plays through, for the screen and the take."""

    @property
    def silent(self) -> bool:
        """Whether nothing can be heard."""

    @property
    def state(self) -> State:
        """How far it has come."""

    @property
    def sentence(self) -> str:
        """What the gymnast has to know now; empty while all is well."""

    @property
    def trouble(self) -> Trouble | None:
        """Why it is paused."""

    @property
    def can_resume(self) -> bool:
        """Whether a paused take can go on now."""

    @property
    def duration(self) -> float:
        """Length of the samples in seconds."""

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """Every stretch of the take in which nothing can be measured, in order."""

    def start(self, samples: np.ndarray, rate_hz: int, *, first_frame: int = 0) -> None:
        """Begin with the samples: shape (frames,) or (frames, channels), float, full scale 1."""

    def poll(self) -> list[News]:
        """Take in what happened, and return what is new."""

    def position(self) -> float:
        """Return the take time heard now: negative before the first sample, standing still in a pause."""

    def take_time(self, stamp: float) -> float:
        """Return the take time heard at a stamp, or NaN where none was.

        Soon after a stamp the answer may still move by a fraction of a millisecond: after the take it stands.
        """

    def measurable(self, time: float) -> bool:
        """Whether an onset at a take time can be scored."""

    def resume(self, *, first_frame: int | None = None) -> None:
        """Go on after a pause, from where it broke or from a frame."""

    def stop(self) -> None:
        """Fall silent at once. Stamps of the take can still be turned into take time."""

    def close(self) -> None:
        """Stop, and let go of processes and files."""


def sentence_for(trouble: Trouble, *, rate_hz: int = 0, offers_hz: int | None = None) -> str:
    """Return the one sentence that the screen shows for a trouble.

    Parameters
    ----------
    trouble : Trouble
    rate_hz : int
        The rate that was asked for.
    offers_hz : int or None
        The rate that the device would like, where it says so.
    """
    instead = f"; it offers {offers_hz}" if offers_hz and offers_hz != rate_hz else ""
    return {
        Trouble.NO_LIBRARY: "No sound: the PortAudio library is not installed (Debian calls it libportaudio2).",
        Trouble.NO_DEVICE: "No sound: no output device is there; plug one in or start the sound server.",
        Trouble.REFUSED: f"No sound: the device refused two channels at {rate_hz} samples a second{instead}.",
        Trouble.NOT_OPENED: "No sound: the device could not be opened; it may be in use or not answering.",
        Trouble.LOST: "The sound went away: device unplugged or server ended. The take is paused and kept.",
        Trouble.FROZEN: "The sound stopped moving: the device does not answer. The take is paused and kept.",
        Trouble.NO_ROOM: "No sound: the samples cannot be written; the disk is full or the folder read-only.",
    }[trouble]


BACK = "The sound is back: the take can go on."
NO_MICROPHONE = "The microphone cannot be opened: the take goes on without it."
