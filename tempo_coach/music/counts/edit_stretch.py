"""Corrections by hand over a range of counts: pure functions from one count map to the next.

Double and half tempo, beats tapped again, a pause, or counts through a gap. Ranges are in seconds of the music;
corrections of one beat are in :mod:`tempo_coach.music.counts.edit_place`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.counts.count_map import EIGHT
from tempo_coach.music.counts.edit_place import CLOSEST, find_beat
from tempo_coach.music.counts.renumber import WALTZ, build, carry, find_runs, median_period

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.times import Floats


def thin(counts: CountMap, every: int, *, start: float | None = None, end: float | None = None) -> CountMap:
    """Return the counts with every second (or third) beat kept, so that each count lasts longer; ones stay ones.

    Parameters
    ----------
    counts : CountMap
    every : int
        2 halves the tempo; 3 counts a waltz by the bar.
    start, end : float or None
        Seconds between which; by default everywhere.

    Raises
    ------
    CoachError
        If fewer than two counts would be left.
    """
    beats = counts.beats
    runs = find_runs(counts)
    begun = np.array([run.start for run in runs])
    own = begun[np.maximum(np.searchsorted(begun, np.arange(beats.size), side="right") - 1, 0)]
    inside = _between(beats, start, end)
    kept = ~inside | ((np.arange(beats.size) - own) % every == 0)
    if kept.sum() < 2:
        raise CoachError("counts.two_left")
    return build(
        counts,
        beats[kept],
        carry(runs, beats, beats[kept]),
        counts.pauses,
        eight_length=EIGHT if every == 3 and inside.all() else None,
    )


def split(counts: CountMap, parts: int, *, start: float | None = None, end: float | None = None) -> CountMap:
    """Return the counts with each one divided evenly, so that each count is shorter.

    Parameters
    ----------
    counts : CountMap
    parts : int
        2 doubles the tempo; 3 counts a waltz that was counted by the bar in beats, and in sixes.
    start, end : float or None
        Seconds between which; by default everywhere.

    Raises
    ------
    CoachError
        If the counts would be too close.
    """
    beats = counts.beats
    inside = np.flatnonzero(_between(beats, start, end))
    inside = inside[inside + 1 < beats.size]
    positions = (inside[:, None] + np.arange(1, parts) / parts).ravel() + counts.first_count
    new = np.sort(np.concatenate([beats, counts.seconds_at(positions)]))
    if np.diff(new).min(initial=1.0) < CLOSEST:
        raise CoachError("counts.too_close")
    whole = inside.size == beats.size - 1
    eight_length = WALTZ if parts == 3 and whole else None
    return build(counts, new, carry(find_runs(counts), beats, new), counts.pauses, eight_length=eight_length)


def set_level(counts: CountMap, tempo_bpm: float, *, start: float | None = None, end: float | None = None) -> CountMap:
    """Return the counts halved, doubled or tripled, whichever brings them nearest to a tempo.

    Unlike halving itself this can be done again: on counts that are at that level it does nothing.

    Parameters
    ----------
    counts : CountMap
    tempo_bpm : float
        Right within a third or so: the nearest of half, twice, a third, three times … is taken.
    start, end : float or None
        Seconds between which; by default everywhere.

    Raises
    ------
    CoachError
        If the counts would be too close, or fewer than two.
    """
    inside = _between(counts.beats, start, end)
    steps = np.diff(counts.beats)[inside[:-1]]
    if not steps.size:
        return counts
    wanted = np.log(np.median(steps) * tempo_bpm / 60)
    ratio = min((1, 2, 3, 4, 1 / 2, 1 / 3, 1 / 4), key=lambda each: abs(float(np.log(each) - wanted)))
    if ratio == 1:
        return counts
    if ratio > 1:
        return split(counts, int(ratio), start=start, end=end)
    return thin(counts, round(1 / ratio), start=start, end=end)


def tap_anew(counts: CountMap, times: ArrayLike, *, start: float | None = None, end: float | None = None) -> CountMap:
    """Return the counts with a stretch of beats replaced by others.

    Parameters
    ----------
    counts : CountMap
    times : array_like, shape (n,), n >= 2
        Seconds, strictly ascending. What lies between the first and the last of them, and within half a count
        outside, is replaced.
    start, end : float or None
        Seconds between which everything else is replaced as well, where that is more.

    Raises
    ------
    CoachError
        If there are fewer than two, or they are too close.
    """
    new = np.asarray(times, dtype=np.float64)
    if new.size < 2 or np.diff(new).min() < CLOSEST:
        raise CoachError("counts.no_stretch")
    beats = counts.beats
    margin = float(np.diff(new).min()) / 2
    first = min(new[0] - margin, np.inf if start is None else start)
    last = max(new[-1] + margin, -np.inf if end is None else end)
    kept = beats[(beats < first) | (beats > last)]
    joined = np.sort(np.concatenate([kept, new]))
    pauses = tuple(pause for pause in counts.pauses if pause[1] <= max(first, 0.0) or pause[0] >= last)
    return build(counts, joined, carry(find_runs(counts), beats, joined), pauses)


def pause(counts: CountMap, start: float, end: float) -> CountMap:
    """Return the counts with a pause from the count at ``start``, the last before it, to that at ``end``, the next one.

    The last count keeps the local median length; beats in between are dropped.

    Parameters
    ----------
    counts : CountMap
    start, end : float
        Seconds of the music.

    Raises
    ------
    CoachError
        If the two are too close for a pause.
    """
    left, right = find_beat(counts, start), find_beat(counts, end)
    beats = counts.beats
    if left >= right:
        raise CoachError("pause.backwards")
    begin = float(beats[left]) + median_period(counts, float(beats[left]))
    if begin > beats[right] - CLOSEST:
        raise CoachError("pause.no_room")
    kept = np.concatenate([beats[: left + 1], beats[right:]])
    removed = right - left - 1
    runs = [run._replace(start=min(run.start, max(left + 1, run.start - removed))) for run in find_runs(counts)]
    others = tuple(each for each in counts.pauses if each[1] <= beats[left] or each[0] >= beats[right])
    return build(counts, kept, runs, (*others, (begin, float(beats[right]))))


def count_through(counts: CountMap, at: float, number: int | None = None) -> CountMap:
    """Return the counts continued evenly through the gap around a place.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds inside the gap, or its last count before.
    number : int or None
        Counts between the two beats around it; by default as many as fit at the local tempo.

    Raises
    ------
    CoachError
        If the place lies before the first or after the last beat, or the counts would be too close.
    """
    beats = counts.beats
    left = _find_gap(counts, at)
    gap = float(beats[left + 1] - beats[left])
    number = number or max(1, round(gap / median_period(counts, float(beats[left]))))
    if gap / number < CLOSEST:
        raise CoachError("counts.do_not_fit", counts=number, gap_s=gap)
    return _fill(counts, left, beats[left] + gap * np.arange(1, number) / number)


def count_slowing(counts: CountMap, at: float, times: ArrayLike) -> CountMap:
    """Return the counts with given ones, even or not, inside the gap around a place.

    Parameters
    ----------
    counts : CountMap
    at : float
        Seconds inside the gap, or its last count before.
    times : array_like, shape (n,)
        Seconds of the music, strictly ascending.

    Raises
    ------
    CoachError
        If the place lies before the first or after the last beat, or the counts would be too close.
    """
    left = _find_gap(counts, at)
    new = np.asarray(times, dtype=np.float64)
    gap = counts.beats[left : left + 2]
    if np.diff([gap[0], *new, gap[1]]).min() < CLOSEST:
        raise CoachError("counts.do_not_fit", counts=new.size + 1, gap_s=float(gap[1] - gap[0]))
    return _fill(counts, left, new)


def _find_gap(counts: CountMap, at: float) -> int:
    """Return the beat before the gap around a place."""
    left = int(np.searchsorted(counts.beats, at + 1e-6, side="right")) - 1
    if not 0 <= left < counts.beats.size - 1:
        raise CoachError("count.not_between", at_s=at)
    return left


def _fill(counts: CountMap, left: int, new: Floats) -> CountMap:
    """Return the counts with beats inserted between one and the next, and no pause between them."""
    beats = counts.beats
    runs = [run._replace(start=run.start + (new.size if run.start > left else 0)) for run in find_runs(counts)]
    others = tuple(each for each in counts.pauses if not beats[left] <= each[0] < beats[left + 1])
    return build(counts, np.insert(beats, left + 1, new), runs, others)


def _between(beats: Floats, start: float | None, end: float | None) -> np.ndarray:
    slack = CLOSEST / 2
    return (beats >= (-np.inf if start is None else start - slack)) & (
        beats <= (np.inf if end is None else end + slack)
    )
