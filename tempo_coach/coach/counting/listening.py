"""Playback of music with clicks on its counts, from any place, with the place known at all times."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.live.audio.playback import State
from tempo_coach.live.mixing.clicks import mix_clicks

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.notices import Notice
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.files.sound import Sound


class Listening:
    """Playback while counts are set.

    Parameters
    ----------
    make_player : callable
        Opens the sound; it is opened when it is needed first.
    """

    def __init__(self, music: Sound, make_player: Callable[[], Player]) -> None:
        self._music = music
        self._make_player = make_player
        self._player: Player | None = None
        self._start = 0.0
        self._on = False

    @property
    def on(self) -> bool:
        """Whether something is being heard."""
        return self._on

    @property
    def heard(self) -> float | None:
        """Second of the music that is heard now, or None."""
        if not self._on or self._player is None or math.isnan(self._start):
            return None
        return self._start + max(self._player.position(), 0.0)

    def begin(self, counts: CountMap, start: float, *, clicks: bool = True) -> None:
        """Start at a second of the music; this takes a moment and may be called in a thread.

        Raises
        ------
        CoachError
            If the counts are none that can be clicked.
        """
        self.stop()
        start = min(max(start, 0.0), self._music.duration)
        sound = mix_clicks(self._music, counts, start, clicks=clicks)
        if self._player is None:
            self._player = self._make_player()
        self._start = start
        self._player.start(sound.samples, sound.rate_hz)
        self._on = True

    def begin_part(self, sound: Sound) -> None:
        """Start a sound that is no part of the music as it is, such as a joint of a cut."""
        self.stop()
        if self._player is None:
            self._player = self._make_player()
        self._start = math.nan
        self._player.start(sound.samples, sound.rate_hz)
        self._on = True

    def tick(self) -> Notice | None:
        """Continue, and return why playback stopped where it failed."""
        if not self._on or self._player is None:
            return None
        self._player.poll()
        if self._player.state is State.PAUSED:
            notice = self._player.notice
            self.stop()
            return notice
        if self._player.state is State.FINISHED:
            self.stop()
        return None

    def music_time(self, stamp: float) -> float:
        """Return the second of the music heard at a stamp, NaN without any."""
        if self._player is None or not self._on:
            return math.nan
        return self._start + self._player.take_time(stamp)

    def stop(self) -> None:
        """Fall silent."""
        self._on = False
        if self._player is not None:
            self._player.stop()

    def close(self) -> None:
        """Release the sound."""
        self._on = False
        if self._player is not None:
            self._player.close()
            self._player = None
