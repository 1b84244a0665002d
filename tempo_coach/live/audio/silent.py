"""A player without sound: the same take on this computer's own clock, where nothing can be heard."""

from __future__ import annotations

import math
from time import perf_counter
from typing import TYPE_CHECKING

from tempo_coach.live.audio.playback import News, NewsKind, State
from tempo_coach.live.audio.player import BEFORE

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from tempo_coach.live.audio.timeline import Gap
    from tempo_coach.live.notices import Notice, Trouble


class SilentClock:
    """Keeps time and plays nothing. See :class:`tempo_coach.live.audio.playback.Player` for the interface.

    Parameters
    ----------
    because : Notice or None
        Why there is no sound, which the screen shows with the name.
    clock : callable
        The clock to run on; ``time.perf_counter`` but in tests.

    Examples
    --------
    >>> import numpy as np
    >>> now = [100.0]
    >>> player = SilentClock(clock=lambda: now[0])
    >>> player.start(np.zeros(96_000), 48_000)
    >>> now[0] = 101.5
    >>> player.position()
    1.0
    """

    name = "silent clock"
    silent = True
    trouble: Trouble | None = None
    can_resume = False
    latency_known = True
    gaps: tuple[Gap, ...] = ()

    def __init__(self, because: Notice | None = None, *, clock: Callable[[], float] = perf_counter) -> None:
        self.notice = because
        self.state = State.IDLE
        self.duration = 0.0
        self._clock = clock
        self._zero = math.nan
        self._stopped = math.inf
        self._told = State.IDLE
        self._loops = False

    def start(self, samples: np.ndarray, rate_hz: int, *, first_frame: int = 0, loops: bool = False) -> None:
        """Start to count the duration of the samples.

        Parameters
        ----------
        samples : numpy.ndarray, shape (n,) or (n, channels)
        rate_hz : int
        first_frame : int
            With which of them it begins.
        loops : bool
            Whether they begin again at their end.
        """
        self._loops = loops
        self.duration = len(samples) / rate_hz
        self._zero = self._clock() + BEFORE - first_frame / rate_hz
        self._stopped = math.inf
        self.state, self._told = State.PLAYING, State.IDLE

    def poll(self) -> list[News]:
        """Return what is new: the beginning, the end."""
        if self.state is State.PLAYING and not self._loops and self.position() >= self.duration:
            self.state = State.FINISHED
        news = []
        if self.state in (State.PLAYING, State.FINISHED) and self._told is State.IDLE:
            news.append(News(NewsKind.PLAYING, self.position(), self.notice))
            self._told = State.PLAYING
        if self.state is State.FINISHED and self._told is State.PLAYING:
            news.append(News(NewsKind.FINISHED, self.duration))
            self._told = State.FINISHED
        return news

    def position(self) -> float:
        """Return the take time now."""
        if math.isnan(self._zero):
            return -BEFORE
        return min(self._clock(), self._stopped) - self._zero

    def take_time(self, stamp: float) -> float:
        """Return the take time at a stamp, or NaN before the start and after a stop."""
        return stamp - self._zero if stamp <= self._stopped else math.nan

    def measurable(self, time: float) -> bool:
        """Return whether an onset at a take time can be scored: it is a number."""
        return math.isfinite(time)

    def resume(self, *, first_frame: int | None = None) -> None:  # noqa: ARG002 - the player's signature
        """Refuse: a silent clock never pauses.

        Raises
        ------
        ValueError
            Always.
        """
        raise ValueError("expected a paused take, but a silent clock never pauses")

    def stop(self) -> None:
        """Stop the clock."""
        if self.state in (State.PLAYING, State.FINISHED):
            self._stopped = self._clock()
        self.state = State.IDLE

    def close(self) -> None:
        """Stop the clock for good."""
        self.stop()
