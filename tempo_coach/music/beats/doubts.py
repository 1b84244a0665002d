"""Low-confidence regions of found beats, each with its reason."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.beats.breaks import find_slowing, find_splices, is_silent, is_slower, period_before
from tempo_coach.music.counts.count_map import pauses_of_rests
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.music.files.sound import Sound
    from tempo_coach.times import Floats

#: Ratio of an interval to the local median from which a beat may be missing, and below which one may be too many.
MISSING_FROM, EXTRA_BELOW = 1.6, 0.62
#: Beats on either side of a jump that are compared, and how far their tempo must differ: twice the typical change
#: within a phrase of four beats.
_JUMP_BEATS, JUMP_FROM = 4, 0.15
#: Confidence below which beats form a low-confidence region, and its least length in beats.
WEAK_BELOW, _WEAK_BEATS = 0.25, 4
#: Order in which the doubts of one time are told.
_ORDER = (Why.BEAT_MISSING, Why.BEAT_TOO_MANY, Why.PAUSE, Why.TWO_LEVELS, Why.HARD_TO_HEAR, Why.TEMPO_JUMPS)
#: Doubts that a splice explains, and seconds within which it does: an eight at a quick tempo.
_ODD, _EXPLAINS = (Why.BEAT_MISSING, Why.BEAT_TOO_MANY, Why.TEMPO_JUMPS, Why.PAUSE), 1.3

#: A doubt: seconds, reason and, of a stretch, its end.
Place = tuple[float, Reason, float | None]


def find_doubts(
    times: Floats,
    confidence: Floats,
    rests: Sequence[tuple[float, float]],
    *,
    level: float | None = None,
    unsure: np.ndarray | None = None,
) -> list[tuple[float, Reason, float | None]]:
    """Find the low-confidence regions.

    Parameters
    ----------
    times, confidence : (n,)
        Beats in seconds, and 0 to 1 for each.
    rests : sequence of (start, end)
        Pauses in seconds.
    level : float or None
        How many times the tempo fits nearly as well: 2, 1/2, 3/2 or 2/3.
    unsure : (n,) of bool or None
        True where the beat is hard to hear; without it, where the confidence lies below ``WEAK_BELOW``.

    Returns
    -------
    list of (float, Reason, float or None)
        Seconds, reasons and, of a stretch, its end, in order of time.
    """
    unsure = confidence < WEAK_BELOW if unsure is None else unsure
    # as long as everywhere else: the last count before it keeps its length
    waits = {end: end - start for start, end in pauses_of_rests(times, rests)} if len(rests) else {}
    doubts = [(float(start), Reason(Why.PAUSE, (round(waits.get(end, end - start), 1),))) for start, end in rests]
    steps = np.diff(times)
    resting = np.isin(times[:-1], [start for start, _ in rests])
    for k in np.flatnonzero(~resting):
        near = np.r_[max(0, k - 4) : min(len(steps), k + 5)]
        near = near[(near != k) & ~resting[near]]
        if len(near) < 2:
            continue
        ratio = steps[k] / np.median(steps[near])
        if ratio > MISSING_FROM:
            doubts.append((float(times[k]), Reason(Why.BEAT_MISSING)))
        elif ratio < EXTRA_BELOW:
            doubts.append((float(times[k + 1]), Reason(Why.BEAT_TOO_MANY)))
    odd = [time for time, _ in doubts]
    jumps = (float(times[k]) for k in _find_jumps(steps, resting))
    doubts += [(time, Reason(Why.TEMPO_JUMPS)) for time in jumps if all(abs(time - other) > 2 for other in odd)]
    places: list[tuple[float, Reason, float | None]] = [(time, reason, None) for time, reason in doubts]
    hard = Reason(Why.HARD_TO_HEAR)
    places += [(float(times[first]), hard, float(times[last])) for first, last in _find_runs(unsure)]
    if level is not None and len(steps):
        tempo_bpm = round(60 * level / float(np.median(steps[~resting] if not resting.all() else steps)))
        places.append((float(times[0]), Reason(Why.TWO_LEVELS, (level, tempo_bpm)), None))
    return _once(sorted(places, key=lambda each: (each[0], _ORDER.index(each[1].code))))


def name_breaks(
    doubts: Sequence[Place], times: Floats, rests: Sequence[tuple[float, float]], sound: Sound
) -> list[Place]:
    """Classify doubts by what the music does there: silence, slowing or splice; drop pauses that sound.

    Parameters
    ----------
    doubts : sequence of Place
        Of :func:`find_doubts`.
    times : (n,)
        Beats in seconds.
    rests : sequence of (start, end)
        Pauses in seconds.
    sound : Sound
    """
    odd = [time for time, reason, _ in doubts if reason.code in _ODD]
    splices = find_splices(sound, times, np.array(odd))
    ends = {float(start): float(end) for start, end in rests}
    named: list[Place] = [(at, Reason(Why.SPLICE), None) for at in splices]
    for time, reason, end in doubts:
        if reason.code in _ODD and any(abs(time - at) <= _EXPLAINS for at in splices):
            continue
        if reason.code in (Why.PAUSE, Why.BEAT_MISSING):
            reason = _name_gap(time, reason, ends, times, sound)  # noqa: PLW2901  it is the same doubt
        named.append((time, reason, end))
    return sorted(named, key=lambda each: each[0])


def _name_gap(time: float, reason: Reason, ends: dict[float, float], times: Floats, sound: Sound) -> Reason:
    """Return the kind of the gap after a beat."""
    beat = int(np.abs(times - time).argmin())
    if beat < 1 or beat + 1 >= len(times):
        return reason
    start, end = float(times[beat]), ends.get(time, float(times[beat + 1]))
    if is_silent(sound, start, end):
        return reason
    slowing = find_slowing(sound, start, end, period_before(times, beat))
    if slowing and is_slower(start, slowing, end):
        return Reason(Why.SLOWS, (len(slowing) + 1,))
    if reason.code is Why.PAUSE:
        (seconds,) = reason.args
        return Reason(Why.WAITS, (seconds,))
    return reason


def _once(doubts: list[tuple[float, Reason, float | None]]) -> list[tuple[float, Reason, float | None]]:
    """Merge successive doubts of one kind into the first of them."""
    last: dict[Reason, int] = {}
    kept: list[tuple[float, Reason, float | None]] = []
    until: dict[Reason, float] = {}
    for time, reason, end in doubts:
        if time - until.get(reason, -np.inf) > _SOON:
            last[reason] = len(kept)
            kept.append((time, reason, end))
        elif end is not None:
            kept[last[reason]] = (kept[last[reason]][0], reason, end)
        until[reason] = time if end is None else end
    return kept


#: Seconds within which the same reason is reported once: about an eight and a half.
_SOON = 8.0


def _find_jumps(steps: Floats, resting: np.ndarray) -> list[int]:
    """Return the beats at which the tempo of the next four intervals departs from that of the last four."""
    n = _JUMP_BEATS
    change = np.zeros(len(steps) + 1)
    for k in range(n, len(steps) - n + 1):
        before, after = steps[k - n : k], steps[k : k + n]
        if resting[k - n : k + n].any():
            continue
        # The nearer halves must differ too: a ramp is no jump.
        near = abs(np.log(after[:2].mean() / before[-2:].mean()))
        change[k] = min(abs(np.log(np.median(after) / np.median(before))), near * 1.5)
    found: list[int] = []
    for k in np.argsort(-change):
        if change[k] <= np.log1p(JUMP_FROM):
            break
        if all(abs(k - other) > n for other in found):
            found.append(int(k))
    return found


def _find_runs(flags: np.ndarray) -> list[tuple[int, int]]:
    """Return the first and last index of each run of flagged beats."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return [(int(start), int(end) - 1) for start, end in edges.reshape(-1, 2) if end - start >= _WEAK_BEATS]
