"""Counts of cut music, each where its sound is now heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.counts.count_map import EIGHT, CountMap

if TYPE_CHECKING:
    from tempo_coach.music.cutting.cut_list import CutList

#: Seconds by which a count may lie before the attack that a piece begins with, and still be its first one.
SLACK = 0.045


def move_counts(counts: CountMap, cut: CutList, *, accent: bool = False) -> CountMap:
    """Return the counts of the cut: those kept of the music, numbered on across the joints.

    Parameters
    ----------
    counts : CountMap
        Of the music that is cut, corrected.
    cut : CutList
    accent : bool
        Whether its last piece is an accent alone, which is the one that follows and has no count after it.

    Returns
    -------
    CountMap
        Two counts or more. An eight ends at a joint where the music goes on with another count than comes next.

    Raises
    ------
    ValueError
        If fewer than two counts are kept.
    """
    beats: list[float] = []
    said: list[int] = []
    pauses: list[tuple[float, float]] = []
    for number, (piece, start) in enumerate(zip(cut.pieces, cut.starts, strict=False), 1):
        kept = [
            k
            for k, beat in enumerate(counts.beats.tolist())
            if piece.start - SLACK <= beat < piece.end - SLACK  # its last one is the first of what follows
        ]
        if accent and number == len(cut.pieces):
            beats.append(start)
            said.append(said[-1] + 1 if said and said[-1] % EIGHT else 1)
            break
        for k in kept:
            there = max(start + float(counts.beats[k]) - piece.start, 0.0)
            if beats and there <= beats[-1] + SLACK:
                continue
            beats.append(there)
            said.append(round(counts.place(k - counts.eights[0][0]).count))
        pauses += [
            (start + begin - piece.start, min(start + end - piece.start, start + piece.end - piece.start))
            for begin, end in counts.pauses
            if piece.start <= begin and end <= piece.end + SLACK
        ]
    if len(beats) < 2:
        raise ValueError("move_counts: expected two counts or more to be kept")
    return CountMap(np.array(beats), tuple(_number(said)), tuple(_inside(beats, pauses)))


def _number(said: list[int]) -> list[tuple[int, int]]:
    """Return the eights of counts: one begins at each 1, and where the numbering breaks."""
    starts = [0, *(k for k in range(1, len(said)) if said[k] == 1 or said[k] != said[k - 1] + 1)]
    ends = [*starts[1:], len(said)]
    eights = [(start, end - start) for start, end in zip(starts, ends, strict=True)]
    start, length = eights[-1]
    # the last one may be cut off by the end of the music
    eights[-1] = (start, max(length, 8 if length < 8 and said[start] == 1 else length))
    return eights


def _inside(beats: list[float], pauses: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the pauses that lie inside one interval between two counts."""
    found = []
    for begin, end in pauses:
        before = int(np.searchsorted(beats, begin, side="right")) - 1
        if 0 <= before < len(beats) - 1:
            over = min(end, beats[before + 1])
            if begin < over:
                found.append((begin, over))
    return found
