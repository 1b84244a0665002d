"""Renumbering of counts when beats are moved, added or dropped.

Eights run on from anchors: the first count 1, and every eight after one of irregular length. An anchor stays on its
beat whatever happens before it; the eights between two anchors are numbered again, and the last of them takes the
remainder.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.counts.count_map import EIGHT, CountMap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.times import Floats

#: Two bars of three, counted as one.
WALTZ = 6
#: Intervals on either side in the local median period.
AROUND = 4

Pauses = tuple[tuple[float, float], ...]


class EightRun(NamedTuple):
    """Successive eights from one anchor: the index of its beat, and their lengths."""

    start: int
    lengths: tuple[int, ...]


def modal_length(counts: CountMap) -> int:
    """Return the most frequent length of the eights: 8, or 6 in a waltz."""
    number = Counter(length for _, length in counts.eights)
    return max(number, key=lambda length: (number[length], length in (EIGHT, WALTZ), length))


def median_period(counts: CountMap, at: float) -> float:
    """Return the local count period: the median of the intervals around a time, pauses left out.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds of the music.

    Returns
    -------
    float
        Seconds.
    """
    beats = counts.beats
    steps = np.diff(beats)
    for start, end in counts.pauses:
        steps[int(np.searchsorted(beats, start, side="right")) - 1] -= end - start
    near = int(np.clip(np.searchsorted(beats, at) - 1, 0, steps.size - 1))
    return float(np.median(steps[max(0, near - AROUND) : near + AROUND + 1]))


def find_runs(counts: CountMap) -> list[EightRun]:
    """Return the eights as runs, one an anchor."""
    eight_length = modal_length(counts)
    found: list[EightRun] = []
    fresh = True
    for start, length in counts.eights:
        if fresh:
            found.append(EightRun(start, ()))
        found[-1] = found[-1]._replace(lengths=(*found[-1].lengths, length))
        fresh = length != eight_length
    return found


def carry(runs: Sequence[EightRun], old: Floats, new: Floats) -> list[EightRun]:
    """Return runs anchored on the new beats nearest to their old ones.

    Parameters
    ----------
    runs : sequence of EightRun
    old, new : array, shape (n,) and (m,)
        Beats in seconds, ascending.

    Returns
    -------
    list of EightRun
        One that began after the old beats begins after the new ones.
    """
    last = old.size - 1
    return [
        run._replace(start=int(np.abs(new - old[run.start]).argmin()) if run.start <= last else new.size)
        for run in runs
    ]


def build(
    counts: CountMap, beats: Floats, runs: Sequence[EightRun], pauses: Pauses, *, eight_length: int | None = None
) -> CountMap:
    """Return a count map whose eights fill each run up to the next anchor.

    Parameters
    ----------
    counts : CountMap
        The map before, for the commonest length of an eight and the local period.
    beats : array, shape (n,)
    runs : sequence of EightRun
        In order; lengths that do not fit are replaced.
    pauses : tuple of (start, end)
        They are fitted into the intervals between the beats.
    eight_length : int or None
        Length of an eight, where it changes.
    """
    eight_length = eight_length or modal_length(counts)
    ends = [run.start for run in runs[1:]]
    eights: list[tuple[int, int]] = []
    for run, end in zip(runs, [*ends, None], strict=True):
        start = run.start
        if (end is not None and start >= end) or (eights and start >= beats.size):
            continue
        room = (beats.size if end is None else end) - start
        for length in _fill(run.lengths, room, eight_length, last=end is None):
            eights.append((start, length))
            start += length
    return CountMap(beats, tuple(eights), _fit_pauses(counts, beats, pauses))


def _fill(lengths: tuple[int, ...], room: int, eight_length: int, *, last: bool) -> tuple[int, ...]:
    """Return lengths of eights that add up to a number of counts: the given ones where they fit, else regular ones."""
    total = sum(lengths)
    if total == room or (last and lengths and total - lengths[-1] < room <= total):
        return lengths
    whole, over = divmod(room, eight_length)
    if last:
        return (eight_length,) * max(1, whole + (over > 0))
    return (*([eight_length] * whole), *([over] if over else []))


def _fit_pauses(counts: CountMap, beats: Floats, pauses: Pauses) -> Pauses:
    """Return the pauses clipped, split or merged so that each lies inside one interval between beats."""
    pieces: list[tuple[int, float, float]] = []
    for start, end in sorted(pauses):
        inner = beats[(beats > start) & (beats < end)]
        period = median_period(counts, start)
        begins = [start, *(inner + period).tolist()]
        stops = [*inner.tolist(), end]
        for begin, stop in zip(begins, stops, strict=True):
            if stop - begin <= 0 or (inner.size and stop - begin < period / 2):
                continue
            place = int(np.searchsorted(beats, (begin + stop) / 2, side="right")) - 1
            if 0 <= place < beats.size - 1:
                pieces.append((place, max(begin, float(beats[place])), min(stop, float(beats[place + 1]))))
    joined: dict[int, tuple[float, float]] = {}
    for place, begin, stop in pieces:
        known = joined.get(place, (begin, stop))
        joined[place] = (min(begin, known[0]), max(stop, known[1]))
    return tuple(pause for pause in joined.values() if pause[0] < pause[1])
