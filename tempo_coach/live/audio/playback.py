"""The interface of every player of a take, with sound or without: states and news."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Protocol

from tempo_coach.live.notices import Trouble

if TYPE_CHECKING:
    import numpy as np

    from tempo_coach.live.audio.timeline import Gap
    from tempo_coach.live.notices import Notice


class State(StrEnum):
    """States of a player."""

    IDLE = "idle"
    OPENING = "opening"
    PLAYING = "playing"
    PAUSED = "paused"
    FINISHED = "finished"


#: Troubles after which trying again by itself makes sense: the server or the device may come back.
MAY_COME_BACK = frozenset({Trouble.NO_DEVICE, Trouble.NOT_OPENED, Trouble.LOST, Trouble.FROZEN})


class NewsKind(StrEnum):
    """Kinds of news."""

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
    kind : NewsKind
    time : float
        Take time in seconds at which it happened; NaN where nothing had been heard yet.
    notice : Notice or None
        What to tell the gymnast; None where there is nothing to say.
    trouble : Trouble or None
        Why it paused.
    gap : Gap or None
        Where sound was lost; its stretch is not measurable.
    """

    kind: NewsKind
    time: float
    notice: Notice | None = None
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
    def notice(self) -> Notice | None:
        """What the gymnast has to know now; None while all is well."""

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

    @property
    def latency_known(self) -> bool:
        """Whether it is known how long a sample waits before it is heard; without it early and late cannot be told."""

    def start(self, samples: np.ndarray, rate_hz: int, *, first_frame: int = 0, loops: bool = False) -> None:
        """Begin with the samples: shape (frames,) or (frames, channels), float, full scale 1.

        Where they loop, the first follows the last until :meth:`stop`, and take time goes on behind their end.
        """

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
        """Stop, and release processes and files."""
