"""Corrections by hand at one beat: pure functions from one count map to the next.

A beat is named by a time in seconds of the music and is the nearest one to it, so that a correction holds when a better
finder has moved the beats a little. Numbering is in :mod:`tempo_coach.music.counts.renumber`, corrections of a range
of counts in :mod:`tempo_coach.music.counts.edit_stretch`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.counts.renumber import EightRun, build, find_runs, median_period

if TYPE_CHECKING:
    from tempo_coach.music.counts.count_map import CountMap

#: Beats closer than this (s) are one: 600 a minute, which nobody counts.
CLOSEST = 0.1
#: Counts within which a time snaps to the nearest beat.
SNAP_COUNTS = 0.75
#: At a cut, a beat closer to it than this many counts is a stump of the piece that ends or begins there.
STUMP = 0.4
#: Lengths that an eight may be given: bridges of 4, waltzes of 6, and whatever else a choreographer counts.
LENGTHS = (1, 16)


def find_beat(counts: CountMap, at: float) -> int:
    """Return the index of the beat nearest to a time.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds of the music.

    Raises
    ------
    CoachError
        If no beat is within ``SNAP_COUNTS`` counts.
    """
    beat = int(np.abs(counts.beats - at).argmin())
    if abs(float(counts.beats[beat]) - at) > SNAP_COUNTS * median_period(counts, at):
        raise CoachError("count.none_near", at_s=at)
    return beat


def begin_eight(counts: CountMap, at: float) -> CountMap:
    """Return the counts with a count 1 on the beat at a time: "this is one".

    The eights behind follow from it, up to the next place that was set. The eight before ends there with the counts
    that it has; inside the very first eight, what comes before is not counted.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds of the music.

    Raises
    ------
    CoachError
        If no beat is near.
    """
    beat = find_beat(counts, at)
    runs = find_runs(counts)
    if beat < runs[0].start + runs[0].lengths[0]:
        return build(counts, counts.beats, [EightRun(beat, ()), *runs[1:]], counts.pauses)
    k = max(k for k, run in enumerate(runs) if run.start <= beat)
    return build(counts, counts.beats, [*runs[: k + 1], EightRun(beat, ()), *runs[k + 1 :]], counts.pauses)


def begin_movement(counts: CountMap, at: float) -> CountMap:
    """Return the counts from the first movement on: count 1 of eight 1 on a beat, and no counts before it.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds of the music.

    Raises
    ------
    CoachError
        If no beat is near.
    """
    beat = find_beat(counts, at)
    later = [run for run in find_runs(counts)[1:] if run.start > beat]
    return build(counts, counts.beats, [EightRun(beat, ()), *later], counts.pauses)


def set_length(counts: CountMap, at: float, length: int) -> CountMap:
    """Return the counts with another length for the eight around a place, for example 4 for a bridge.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds of the music.
    length : int
        1 to 16 counts.

    Raises
    ------
    CoachError
        If the length is none that is counted, or the place lies before the first count 1.
    """
    if not LENGTHS[0] <= length <= LENGTHS[1]:
        raise CoachError("eight.length", least=LENGTHS[0], most=LENGTHS[1], counts=length)
    beat = find_beat(counts, at)
    rows = [(start, size) for start, size in counts.eights if start <= beat]
    if not rows:
        raise CoachError("count.before_one", at_s=at)
    start, _ = rows[-1]
    end = start + length
    runs = find_runs(counts)
    before = [run for run in runs if run.start < start]
    # what was set inside the new eight moves after it
    later = [run for run in runs if run.start > end]
    return build(counts, counts.beats, [*before, EightRun(start, (length,)), EightRun(end, ()), *later], counts.pauses)


def move_beat(counts: CountMap, at: float, to: float) -> CountMap:
    """Return the counts with one beat moved; a pause that ended on it still does.

    Parameters
    ----------
    counts : CountMap
    at, to : float
        Seconds of the music.

    Raises
    ------
    CoachError
        If it would come on or past its neighbour.
    """
    beat = find_beat(counts, at)
    beats = counts.beats.copy()
    low = beats[beat - 1] + CLOSEST if beat else 0.0
    high = beats[beat + 1] - CLOSEST if beat + 1 < beats.size else np.inf
    if not low - 1e-9 <= to <= high + 1e-9:
        raise CoachError("count.past_next", to_s=to)
    old = float(beats[beat])
    beats[beat] = to
    pauses = tuple((start, to if end == old else end) for start, end in counts.pauses)
    return build(counts, beats, find_runs(counts), pauses)


def add_beat(counts: CountMap, at: float) -> CountMap:
    """Return the counts with a beat inserted; later ones come one count later.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds of the music.

    Raises
    ------
    CoachError
        If there is a beat already.
    """
    if at < 0:
        raise CoachError("count.added_before_music", at_s=at)
    if np.abs(counts.beats - at).min() < CLOSEST:
        raise CoachError("count.added_twice", at_s=at)
    place = int(np.searchsorted(counts.beats, at))
    runs = [run._replace(start=run.start + (place <= run.start)) for run in find_runs(counts)]
    return build(counts, np.insert(counts.beats, place, at), runs, counts.pauses)


def drop_beat(counts: CountMap, at: float) -> CountMap:
    """Return the counts with a beat removed; later ones come one count earlier.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds of the music.

    Raises
    ------
    CoachError
        If no beat is there, or only two are left.
    """
    beat = find_beat(counts, at)
    if counts.beats.size <= 2:
        raise CoachError("counts.two_left")
    runs = [run._replace(start=run.start - (beat < run.start)) for run in find_runs(counts)]
    return build(counts, np.delete(counts.beats, beat), runs, counts.pauses)


def cut(counts: CountMap, at: float) -> CountMap:
    """Return the counts of music spliced at a time: a count 1 exactly there, no fraction of a count beside it.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds of the music.

    Raises
    ------
    CoachError
        If it lies outside the counts.
    """
    beats = counts.beats
    if not beats[0] < at < beats[-1]:
        raise CoachError("count.outside", at_s=at)
    before, after = median_period(counts, at - 1e-6), median_period(counts, at + 1e-6)
    near = int(np.abs(beats - at).argmin())
    half = 0.5 * (before if beats[near] < at else after)
    if abs(float(beats[near]) - at) < half and near > 0:
        low, high = beats[near - 1] + CLOSEST, beats[near + 1] - CLOSEST if near + 1 < beats.size else np.inf
        counts = move_beat(counts, float(beats[near]), float(np.clip(at, low, high)))
    else:
        counts = add_beat(counts, at)
    here = int(np.abs(counts.beats - at).argmin())
    for beside, period in ((here + 1, after), (here - 1, before)):
        inside = 0 < beside < counts.beats.size
        if inside and abs(float(counts.beats[beside]) - at) < STUMP * period:
            counts = drop_beat(counts, float(counts.beats[beside]))
    return begin_eight(counts, at)
