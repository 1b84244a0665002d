"""A drill and music that are made up, to lay the one on the other."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.drill.drill import Drill, Practice
from tempo_coach.pattern.drill.pattern import Hand, Pattern, Phase, place_moments
from tempo_coach.pattern.plan.plan import Music

MUSIC = Music("/invented/music.wav", "0" * 64)


def make_drill(
    cycle_counts: float = 4.0, circles: int = 1, restart: Literal["never", "eight"] = "never", **practice: Any
) -> Drill:
    """Return a drill of one hand, with so many circles spread evenly over its cycle."""
    phases = (Phase("circle", 0, cycle_counts),)
    hand = Hand("right", place_moments(phases, {"circle": circles}))
    return Drill("made", "Made up", "rope", Pattern(cycle_counts, phases, (hand,), None, restart), Practice(**practice))


def paused_music(beats: int = 48) -> CountMap:
    """Half a second a beat, a pause of 3 s after the first 12 counts are over."""
    times = 1.0 + 0.5 * np.arange(beats, dtype=float)
    times[12:] += 3.0
    return CountMap(times, tuple((8 * k, 8) for k in range(beats // 8)), ((7.0, 10.0),))
