"""Which onset answers which moment of one hand, also when the whole take lies beside the music.

The matcher pairs what is close. A take that is late by half a cycle, that runs faster than the music or that slipped by
a whole cycle is none the less a take: where its offset lies is estimated first and taken out for matching only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.circular import mean_direction
from tempo_coach.score.match import match

if TYPE_CHECKING:
    from tempo_coach.score.match import Pairs
    from tempo_coach.times import Floats, Ints

#: Share of the smallest asked interval of a hand within which an onset may answer a moment: less than half, so that
#: an onset never lies within the reach of two moments.
REACH_SHARE = 0.45
#: Seconds: an answer a quarter of a second away is no answer, however slow the movement is.
LONGEST_REACH = 0.25
#: From this share of a period on, a take is said to be half a cycle off.
HALF_OFF = 0.4
#: Moments from which a constant offset is estimated; evenly drawn from a longer take.
OFFSET_SAMPLE = 400
#: How much better another offset has to fit than none before it is taken out, as a share of the cost without it.
OFFSET_GAIN = 0.6
#: How far beyond the reach an onset may still be its moment's, as a share of the longer step beside it: under a half.
LONGEST_STRAY = 0.45
#: Most pairs that may lie between a moment and an onset which are left alone and belong together.
MOST_BETWEEN = 2
#: Share of moments and onsets left alone from which on the offset is followed through the take; in a take of up to
#: this many moments it is tried wherever something is missed and something else is too many.
FOLLOW_FROM = 0.08
FOLLOW_ALWAYS = 1000
#: Offsets tried per period when the offset is followed, and what a move costs against leaving a moment alone.
FOLLOW_STEPS = 48
FOLLOW_MOVE = 0.3
FOLLOW_JUMP = 1.2
#: A followed offset is believed where it leaves at most this share alone of what was alone before.
FOLLOW_GAIN = 0.7


@dataclass(frozen=True, eq=False)
class Answers:
    """Which onset answers each moment of one hand.

    Parameters
    ----------
    onset : array of int, shape (n,)
        Position of the onset for each moment, or -1.
    extra : array of int
        Positions of the onsets that answer nothing.
    offset : float
        Seconds taken out for matching; its middle value where it was followed.
    slipped : int
        Whole cycles by which the take began late (positive) or early, or ran ahead; those are neither missed nor extra.
    half_off : bool
        Whether the take lies about half a cycle beside the plan.
    followed : bool
        Whether the offset had to be followed through the take.
    reach : float
        Seconds.
    """

    onset: Ints
    extra: Ints
    offset: float
    slipped: int
    half_off: bool
    followed: bool
    reach: float


def choose_reach(moments: Floats) -> float:
    """Return the reach for the moments of one hand, in seconds."""
    steps = np.diff(moments)
    steps = steps[steps > 0]
    return min(REACH_SHARE * float(steps.min()), LONGEST_REACH) if len(steps) else LONGEST_REACH


def answer(moments: Floats, cycles: Ints, onsets: Floats) -> Answers:
    """Pair the moments of one hand with its onsets.

    Parameters
    ----------
    moments : array, shape (n,)
        Seconds, ascending.
    cycles : array of int, shape (n,)
        The cycle that each moment belongs to.
    onsets : array, shape (m,)
        Seconds, ascending.
    """
    reach = choose_reach(moments)
    period = _period(moments, cycles)
    offset = _constant_offset(moments, onsets, reach=reach, period=period)
    offsets = np.full(len(moments), offset)
    pairs = match(moments + offsets, onsets, reach=reach)
    followed = False
    many = _alone(pairs) > FOLLOW_FROM * (len(moments) + len(onsets))
    if (
        pairs.missed.size
        and pairs.extra.size
        and (many or len(moments) <= FOLLOW_ALWAYS)
        and min(len(moments), len(onsets)) > 3
    ):
        for ratio in (1.0, _tempo_ratio(moments, cycles, onsets)) if many else (1.0,):
            even = (ratio - 1) * (moments - moments[0])
            even += _constant_offset(moments + even, onsets, reach=reach, period=period)
            path = even + _follow(moments + even, cycles, onsets, reach=reach, period=period)
            trial = match(np.maximum.accumulate(moments + path), onsets, reach=reach)
            if _alone(trial) < FOLLOW_GAIN * _alone(pairs):
                pairs, offsets, followed = trial, path, True
    onset, extra = _take_in_displaced(moments + offsets, onsets, pairs)
    middle = float(np.median(offsets)) if len(offsets) else 0.0
    return Answers(
        onset=onset,
        extra=extra,
        offset=middle,
        slipped=_slip(moments, cycles, pairs, onsets, middle),
        half_off=not followed and abs(offset) >= HALF_OFF * period,
        followed=followed,
        reach=reach,
    )


def find_nearest(times: Floats, places: Floats) -> Ints:
    """Return the position of the time that is nearest to each place; the earlier one of two."""
    after = np.searchsorted(times, places)
    left, right = np.maximum(after - 1, 0), np.minimum(after, len(times) - 1)
    nearest: Ints = np.where(np.abs(times[left] - places) <= np.abs(times[right] - places), left, right)
    return nearest


def _period(moments: Floats, cycles: Ints) -> float:
    _, first = np.unique(cycles, return_index=True)
    anchors = moments[np.sort(first)]
    return float(np.median(np.diff(anchors))) if len(anchors) > 1 else 2 * LONGEST_REACH


def _alone(pairs: Pairs) -> int:
    return len(pairs.missed) + len(pairs.extra)


def _distance(places: Floats, onsets: Floats) -> Floats:
    """Signed distance from each place to its nearest onset."""
    distance: Floats = onsets[find_nearest(onsets, places)] - places
    return distance


def _constant_offset(moments: Floats, onsets: Floats, *, reach: float, period: float) -> float:
    """Offset within half a period at which the onsets lie closest; 0 unless another is clearly better."""
    if len(moments) < 2 or len(onsets) < 2:
        return 0.0
    drawn = moments[np.linspace(0, len(moments) - 1, min(len(moments), OFFSET_SAMPLE)).astype(int)]
    half = int(np.ceil(period / reach))
    tried = np.arange(-half, half + 1) * (period / 2 / half)
    tried = tried[np.argsort(np.abs(tried), kind="stable")]
    cost = np.array([np.minimum(np.abs(_distance(drawn + shift, onsets)), reach).mean() for shift in tried])
    favoured = cost + 0.05 * reach * np.abs(tried) / (period / 2)
    best = int(np.argmin(favoured))
    shift = float(tried[best]) if favoured[best] < OFFSET_GAIN * cost[0] else 0.0
    near = _distance(drawn + shift, onsets)
    near = near[np.abs(near) <= reach]
    if len(near) < 2:
        return shift
    # NaN, where what is left has no direction, is not closer
    moved = shift + mean_direction(near / period * 360.0) / 360.0 * period
    closer = np.minimum(np.abs(_distance(drawn + moved, onsets)), reach).mean()
    return moved if closer <= np.minimum(np.abs(_distance(drawn + shift, onsets)), reach).mean() else shift


def _follow(moments: Floats, cycles: Ints, onsets: Floats, *, reach: float, period: float) -> Floats:
    """Offset of each moment when it may wander from cycle to cycle: the path of least cost round the period, unrolled.

    Each cycle has a cost at each of FOLLOW_STEPS offsets (its moments' distance from the nearest onset, at most the
    reach); moving from cycle to cycle costs in proportion to the move, a jump costs a fixed price.
    """
    tried = (np.arange(FOLLOW_STEPS) - FOLLOW_STEPS // 2) * (period / FOLLOW_STEPS)
    cost_of = np.minimum(np.abs(_distance(np.add.outer(moments, tried).ravel(), onsets)), reach) / reach
    numbers = np.unique(cycles)
    order = np.argsort(cycles, kind="stable")
    per_moment = cost_of.reshape(len(moments), FOLLOW_STEPS)[order]
    starts = np.searchsorted(cycles[order], numbers)
    emission = np.add.reduceat(per_moment, starts, axis=0)
    steps = np.abs(np.subtract.outer(np.arange(FOLLOW_STEPS), np.arange(FOLLOW_STEPS)))
    round_the_period = np.minimum(steps, FOLLOW_STEPS - steps)
    move = np.minimum(FOLLOW_MOVE * round_the_period * (period / FOLLOW_STEPS) / reach, FOLLOW_JUMP)
    total = emission[0] + 0.02 * np.abs(tried) / period
    back = np.zeros((len(numbers), FOLLOW_STEPS), dtype=np.int64)
    for k in range(1, len(numbers)):
        through = total[:, None] + move
        back[k] = through.argmin(axis=0)
        total = through[back[k], np.arange(FOLLOW_STEPS)] + emission[k]
    path = np.empty(len(numbers), dtype=np.int64)
    path[-1] = int(total.argmin())
    for k in range(len(numbers) - 1, 0, -1):
        path[k - 1] = back[k][path[k]]
    offsets = np.unwrap(tried[path], period=period)
    return offsets[np.searchsorted(numbers, cycles)]


def _tempo_ratio(moments: Floats, cycles: Ints, onsets: Floats) -> float:
    """Usual time that as many onsets take as a cycle has moments, over the time asked for that."""
    a_cycle = int(np.bincount(cycles - cycles.min()).max())
    if min(len(moments), len(onsets)) <= a_cycle:
        return 1.0
    done = np.median(onsets[a_cycle:] - onsets[:-a_cycle])
    return float(done / np.median(moments[a_cycle:] - moments[:-a_cycle]))


def _take_in_displaced(shifted: Floats, onsets: Floats, pairs: Pairs) -> tuple[Ints, Ints]:
    """Give a moment that nothing answered the onset that was left over beside it, and return both lists.

    A circle that came so early or late that it lies beyond the reach, or nearer to the next moment than that moment's
    own onset, leaves one moment and one onset alone, with at most a pair or two between them. They are paired again
    in order where each onset then lies in its moment's half of the way to the next.
    """
    onset = np.full(len(shifted), -1, dtype=np.int64)
    onset[pairs.expected] = pairs.observed
    limit = LONGEST_STRAY * _steps(shifted)
    pairs_before_extra = np.searchsorted(pairs.observed, pairs.extra)
    free = np.ones(len(pairs.extra), dtype=np.bool_)
    for moment, before in zip(
        pairs.missed.tolist(), np.searchsorted(pairs.expected, pairs.missed).tolist(), strict=True
    ):
        near = np.flatnonzero(free & (np.abs(pairs_before_extra - before) <= MOST_BETWEEN))
        for k in near[np.argsort(np.abs(pairs_before_extra[near] - before), kind="stable")].tolist():
            low, high = sorted((before, int(pairs_before_extra[k])))
            moments = np.sort(np.append(pairs.expected[low:high], moment))
            answers = np.sort(np.append(pairs.observed[low:high], pairs.extra[k]))
            untouched = (onset[pairs.expected[low:high]] == pairs.observed[low:high]).all()
            if untouched and (np.abs(onsets[answers] - shifted[moments]) <= limit[moments]).all():
                onset[moments] = answers
                free[k] = False
                break
    return onset, pairs.extra[free]


def _steps(shifted: Floats) -> Floats:
    """Longer one of the two steps to the neighbours of each moment."""
    steps = np.diff(shifted)
    longer: Floats = np.maximum(np.concatenate([[0.0], steps]), np.concatenate([steps, [0.0]]))
    return longer


def _slip(moments: Floats, cycles: Ints, pairs: Pairs, onsets: Floats, offset: float) -> int:
    """Whole cycles missed at one end and done at the other: positive where the take began that much late."""
    if len(pairs) == 0:
        return 0
    a_cycle = int(np.bincount(cycles - cycles.min()).max())
    first, last = int(pairs.expected[0]), int(pairs.expected[-1])
    before = int((onsets[pairs.extra] < moments[0] + offset).sum())
    after = int((onsets[pairs.extra] > moments[-1] + offset).sum())
    late = min(first, after) // a_cycle
    early = min(len(moments) - 1 - last, before) // a_cycle
    return late - early
