"""Members' lead and lag at this moment, while the group moves; the card, later, is the reference."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Most and least onsets of a member that count: enough that none of them decides alone.
NEWEST, LEAST = 8, 4
#: Seconds without an onset after which a member's lead or lag is unknown.
SILENT = 6.0
#: Window around a moment: relative to the interval, and its limit in seconds.
_WINDOW_SHARE, _LONGEST_WINDOW = 0.45, 0.25
#: Least distance in seconds that is told, and in standard errors of the two that are compared (tested by simulation).
LEAST_TOLD, ERRORS = 0.03, 4.0


class MemberNow(NamedTuple):
    """The present state of a member.

    ``offset`` is her distance in seconds from the middle of the others, late being positive, NaN while it is not known;
    ``error`` its standard error; ``told`` is -1 for early, 1 for late, 0 for neither.
    """

    member: str
    offset: float
    error: float
    told: int


def measure_now(
    plan: Plan, onsets: Mapping[str, Sequence[tuple[float, str]]], now: float, *, bound: float = 0.0
) -> list[MemberNow]:
    """Return the present state of the members.

    Parameters
    ----------
    plan : Plan
    onsets : mapping of member to sequence of (time, hand)
        In the order in which they came, on the take clock.
    now : float
        Take time.
    bound : float
        Bound in seconds of the error of the members' clocks; within it nobody is called early or late.

    Examples
    --------
    >>> from tempo_coach.music.counts.count_map import CountMap
    >>> from tempo_coach.pattern.plan.every_count import lay_every_count
    >>> plan = lay_every_count(CountMap.steady(120), end=16, tempo_bpm=120)
    >>> at = plan.moments.time[:8]
    >>> late = {"Ada": 0.0, "Bea": 0.1, "Cyl": 0.0}
    >>> onsets = {name: [(t + by, plan.hands[0]) for t in at] for name, by in late.items()}
    >>> [one.member for one in measure_now(plan, onsets, at[-1] + 0.2) if one.told > 0]
    ['Bea']
    """
    off = {member: _newest(plan, mine, now) for member, mine in onsets.items()}
    middles = {member: float(np.median(each)) for member, each in off.items() if each.size >= LEAST}
    found = []
    for member in onsets:
        others = [value for name, value in middles.items() if name != member]
        if member not in middles or not others:
            found.append(MemberNow(member, math.nan, math.nan, 0))
            continue
        offset = middles[member] - float(np.median(others))
        # a median's error is 1.25 times a mean's (of normal errors); that of the others' middle comes on top
        error = 1.25 * _error(off[member]) * math.sqrt(1 + 1 / len(others))
        told = abs(offset) > max(LEAST_TOLD, ERRORS * error) + 2 * bound
        found.append(MemberNow(member, offset, error, int(math.copysign(1, offset)) if told else 0))
    return found


def _error(off: Floats) -> float:
    return float(np.std(off, ddof=1)) / math.sqrt(off.size)


def _newest(plan: Plan, onsets: Sequence[tuple[float, str]], now: float) -> Floats:
    """Return the asynchronies of a member's newest onsets; none if she has been silent."""
    newest = [each for each in onsets[-2 * NEWEST :] if math.isfinite(each[0])]
    if not newest or now - newest[-1][0] > SILENT:
        return np.array([])
    hands = np.array([hand for _, hand in newest])
    times = np.array([time for time, _ in newest])
    off = np.full(times.size, np.nan)
    for hand in set(hands.tolist()) & set(plan.hands):
        asked, mine = plan.moments.time[plan.moments.of_hand(hand)], hands == hand
        if asked.size < 2:
            continue
        behind = np.clip(np.searchsorted(asked, times[mine]), 1, asked.size - 1)
        before, after = times[mine] - asked[behind - 1], times[mine] - asked[behind]
        nearest = np.where(np.abs(before) < np.abs(after), before, after)
        room = min(_WINDOW_SHARE * float(np.diff(asked).min()), _LONGEST_WINDOW)
        off[mine] = np.where(np.abs(nearest) <= room, nearest, np.nan)
    known: Floats = off[~np.isnan(off)]
    return known[-NEWEST:]
