"""A stretch of music tapped anew: what the hand meant, in the music around its taps."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.features import hear
from tempo_coach.music.sound import Sound
from tempo_coach.music.taps import follow_taps

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.times import Floats

#: Seconds of music around the taps that are heard with them: the strength of onsets is told against four seconds.
AROUND = 4.0


class Tapped(NamedTuple):
    """``times`` (n,) of beats in seconds; ``pauses``: the last beat before and the first one after each."""

    times: Floats
    pauses: tuple[tuple[float, float], ...]


def place_taps(sound: Sound, taps: ArrayLike) -> Tapped:
    """Return the beats that were meant by tapping along with a part of the music.

    Parameters
    ----------
    sound : Sound
        The whole of it.
    taps : array_like, shape (m,)
        Seconds of the music.

    Raises
    ------
    CoachError
        If fewer than four taps lie inside the music.
    """
    given = np.sort(np.asarray(taps, dtype=np.float64))
    begin = max(0.0, float(given.min(initial=np.inf)) - AROUND) if given.size else 0.0
    first = int(begin * sound.rate_hz)
    last = int((float(given.max(initial=0.0)) + AROUND) * sound.rate_hz)
    part = Sound(sound.samples[first : max(last, first + 1)], sound.rate_hz)
    offset = first / sound.rate_hz
    followed = follow_taps(given - offset, hear(part).fine, duration=part.duration)
    times = followed.times + offset
    breaks = np.flatnonzero(followed.after_pause[1:]) + 1
    return Tapped(times, tuple((float(times[k - 1]), float(times[k])) for k in breaks))
