"""Tapping along to a stretch of the music, or to all of it: from where, until when, and what was tapped."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tempo_coach.coach.counting.setting import Setting

#: Counts that are heard before the first one to be tapped: half an eight to get into it.
AHEAD = 4
#: Seconds after the last count of a doubtful stretch at which tapping it along ends by itself: a late tap still counts.
_RINGS_FOR = 0.5


@dataclass(frozen=True)
class TapAlong:
    """A stretch to tap along to, and the taps so far.

    Parameters
    ----------
    start, until : float
        Seconds of the music from which it is heard, and at which tapping ends by itself.
    all_of_it : bool
        Whether all of the music is tapped.
    times : tuple of float
        What was tapped so far, in seconds of the music.
    """

    start: float
    until: float
    all_of_it: bool
    times: tuple[float, ...] = ()

    def with_tap(self, time: float) -> TapAlong:
        """Return it with another tap, unless that lies outside the music."""
        return replace(self, times=(*self.times, time)) if math.isfinite(time) and time >= 0 else self


def begin_taps(setting: Setting, *, all_of_it: bool) -> TapAlong:
    """Return the stretch to tap along to from the current count: a doubtful one up to its end."""
    counts = setting.counts
    position = float(setting.beat - counts.eights[0][0] - AHEAD)
    start = 0.0 if all_of_it else max(0.0, float(counts.seconds_at(position)))
    doubt = None if all_of_it else setting.doubt_here
    until = math.inf if doubt is None or doubt.end is None else doubt.end + _RINGS_FOR
    return TapAlong(start, until, all_of_it)
