"""The interface of every player of a take, with or without sound: states and news."""

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
MAY_COME_BACK = frozenset({Trouble.NO_DEVICE, Trouble.NOT_OPENED, Trouble.LOST, Trouble.FROZEN, Trouble.OTHER_RATE})


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
    """One event of a player.

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
    """A player of a take's samples, which knows what is heard when.

    Nothing happens by itself and no method waits: :meth:`poll` is called ten times a second or more, and says
    what is new. All stamps are ``time.perf_counter``; all other times are take time in seconds.
    """

    @property
    def name(self) -> str:
        """Name of the output, for the screen and the take."""

    @property
    def silent(self) -> bool:
        """Whether nothing can be heard."""

    @property
    def state(self) -> State:
        """Present state."""

    @property
    def notice(self) -> Notice | None:
        """Notice for the gymnast; None while all is well."""

    @property
    def trouble(self) -> Trouble | None:
        """Reason for a pause."""

    @property
    def can_resume(self) -> bool:
        """Whether a paused take can be resumed now."""

    @property
    def duration(self) -> float:
        """Length of the samples in seconds."""

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """All stretches of the take in which nothing can be measured, in order."""

    @property
    def latency_known(self) -> bool:
        """Whether the output latency is known; without it early and late cannot be told apart."""

    def start(self, samples: np.ndarray, rate_hz: int, *, first_frame: int = 0, loops: bool = False) -> None:
        """Start the samples: shape (frames,) or (frames, channels), float, full scale 1.

        Where they loop, the first follows the last until :meth:`stop`, and take time goes on after their end.
        """

    def poll(self) -> list[News]:
        """Return what is new."""

    def position(self) -> float:
        """Return the take time heard now: negative before the first sample, constant in a pause."""

    def take_time(self, stamp: float) -> float:
        """Return the take time heard at a stamp, or NaN.

        Soon after a stamp the answer may still move by a fraction of a millisecond: after the take it stands.
        """

    def measurable(self, time: float) -> bool:
        """Return whether an onset at a take time can be scored."""

    def resume(self, *, first_frame: int | None = None) -> None:
        """Resume after a pause, from the interruption or from a frame."""

    def stop(self) -> None:
        """Fall silent at once; stamps of the take can still be converted to take time."""

    def close(self) -> None:
        """Stop, and release processes and files."""
