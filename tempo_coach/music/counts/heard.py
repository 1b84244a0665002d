"""A piece of music that was heard: its sound, beats and counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.music.beats.finder import Beats
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.files.sound import Sound


@dataclass(frozen=True, eq=False)
class Heard:
    """A piece of music with its beats and counts.

    Parameters
    ----------
    path : str
    samples : Sound or callable
        Its sound, or what reads it: of music that was heard before nothing is decoded until somebody asks for it.
    beats : Beats
    counts : CountMap
    """

    path: str
    samples: Sound | Callable[[], Sound]
    beats: Beats
    counts: CountMap

    @property
    def sound(self) -> Sound:
        """The samples, read on first use.

        Raises
        ------
        CoachError
            If the file cannot be read any more.
        """
        return self.samples() if callable(self.samples) else self.samples

    @property
    def duration(self) -> float:
        """Length of the sound in seconds."""
        return self.beats.duration
