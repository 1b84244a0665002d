"""Renumbering of counts when beats are moved, added or dropped.

Eights run on from where counting was last set. Such a place (the first count 1, and every eight behind one of unusual
length) stays on its beat whatever happens before it; the eights between two such places are counted anew, and the
last of them keeps what is left over.
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
#: Intervals on either side that say how long a count is here.
AROUND = 4

Pauses = tuple[tuple[float, float], ...]


class Stretch(NamedTuple):
    """Eights that follow each other from one set place: the beat of the first count, and their lengths."""

    start: int
    lengths: tuple[int, ...]


def usual_length(counts: CountMap) -> int:
    """Return how long most of the eights are: 8, or 6 in a waltz."""
    number = Counter(length for _, length in counts.eights)
    return max(number, key=lambda length: (number[length], length in (EIGHT, WALTZ), length))


def usual_period(counts: CountMap, at: float) -> float:
    """Return how long a count is around a place: the median of the intervals there, pauses left out.

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


def stretches_of(counts: CountMap) -> list[Stretch]:
    """Return the eights as stretches: one begins at the first count 1 and behind every eight of unusual length."""
    usual = usual_length(counts)
    found: list[Stretch] = []
    fresh = True
    for start, length in counts.eights:
        if fresh:
            found.append(Stretch(start, ()))
        found[-1] = found[-1]._replace(lengths=(*found[-1].lengths, length))
        fresh = length != usual
    return found


def carry(stretches: Sequence[Stretch], old: Floats, new: Floats) -> list[Stretch]:
    """Return stretches that begin on the new beat nearest to where each began.

    Parameters
    ----------
    stretches : sequence of Stretch
    old, new : array, shape (n,) and (m,)
        Beats in seconds, ascending.

    Returns
    -------
    list of Stretch
        One that began behind the old beats begins behind the new ones.
    """
    last = old.size - 1
    return [
        stretch._replace(start=int(np.abs(new - old[stretch.start]).argmin()) if stretch.start <= last else new.size)
        for stretch in stretches
    ]


def build(
    counts: CountMap, beats: Floats, stretches: Sequence[Stretch], pauses: Pauses, *, usual: int | None = None
) -> CountMap:
    """Return a count map whose eights fill each stretch up to the next one.

    Parameters
    ----------
    counts : CountMap
        As it was: it says how long an eight and a count usually are.
    beats : array, shape (n,)
    stretches : sequence of Stretch
        In order; lengths that do not fit are counted anew.
    pauses : tuple of (start, end)
        They are fitted into the intervals between the beats.
    usual : int or None
        Length of an eight where it is another one from now on.
    """
    usual = usual or usual_length(counts)
    ends = [stretch.start for stretch in stretches[1:]]
    eights: list[tuple[int, int]] = []
    for stretch, end in zip(stretches, [*ends, None], strict=True):
        start = stretch.start
        if (end is not None and start >= end) or (eights and start >= beats.size):
            continue
        room = (beats.size if end is None else end) - start
        for length in _fill(stretch.lengths, room, usual, last=end is None):
            eights.append((start, length))
            start += length
    return CountMap(beats, tuple(eights), _fit_pauses(counts, beats, pauses))


def _fill(lengths: tuple[int, ...], room: int, usual: int, *, last: bool) -> tuple[int, ...]:
    """Return the lengths of the eights that fill so many counts: as they were where they fit, else usual ones."""
    total = sum(lengths)
    if total == room or (last and lengths and total - lengths[-1] < room <= total):
        return lengths
    whole, over = divmod(room, usual)
    if last:
        return (usual,) * max(1, whole + (over > 0))
    return (*([usual] * whole), *([over] if over else []))


def _fit_pauses(counts: CountMap, beats: Floats, pauses: Pauses) -> Pauses:
    """Return pauses that lie each inside one interval between beats, whatever was moved, added or dropped."""
    pieces: list[tuple[int, float, float]] = []
    for start, end in sorted(pauses):
        inner = beats[(beats > start) & (beats < end)]
        period = usual_period(counts, start)
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
