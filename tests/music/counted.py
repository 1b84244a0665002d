"""Counts to correct: steady ones, and some with a pause."""

from __future__ import annotations

import numpy as np

from tempo_coach.music.counts.count_map import CountMap

#: 64 counts of half a second from 1 s on, in eights.
STEADY = CountMap(1 + 0.5 * np.arange(64), tuple((k, 8) for k in range(0, 64, 8)))
#: Two eights, two seconds of silence, two eights more.
WITH_PAUSE = CountMap(
    np.concatenate([0.5 * np.arange(16), 10 + 0.5 * np.arange(16)]),
    tuple((k, 8) for k in range(0, 32, 8)),
    ((8.0, 10.0),),
)


def place(counts: CountMap, at: float) -> tuple[int, float]:
    """Return eight and count, both from 1, at a time in seconds."""
    where = counts.place(float(counts.counts_at(at)))
    return where.eight, round(where.count, 6)
