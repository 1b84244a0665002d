"""The last word while a take runs: early, late or steady. The scorecard, later, is the reference."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from tempo_coach.score.measures.steadiness import allowed_off

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.live.practice.session import Onset
    from tempo_coach.pattern.plan.plan import Plan

Word = Literal["early", "late", "steady"]

#: Window around a moment while the take runs: relative to the interval, and its limit in seconds.
WINDOW_SHARE, LONGEST_WINDOW = 0.45, 0.25
#: Least onsets of a hand for its median: a constant lead of keyboard or performer is no fault.
LEAST_ONSETS = 3
#: Latest onsets of the running median.
MEDIAN_OVER = 8
#: Seconds that a word stays at least: long enough to be read, and nothing flashes.
STAYS = 1.0


class LastWord(NamedTuple):
    """The verdict on the newest onset that answers a moment."""

    word: Word
    hand: str


def find_last_word(plan: Plan, onsets: Sequence[Onset]) -> LastWord | None:
    """Return the verdict on the newest onset; None before there are enough of them.

    Parameters
    ----------
    plan : Plan
    onsets : sequence of Onset
        In the order in which they came.
    """
    if not onsets:
        return None
    hand = onsets[-1].hand
    asked = plan.moments.time[plan.moments.of_hand(hand)]
    mine = np.array([onset.time for onset in onsets[-3 * MEDIAN_OVER :] if onset.hand == hand])
    if len(asked) < 2 or not np.isfinite(mine[-1]):
        return None
    mine = mine[np.isfinite(mine)]
    behind = np.clip(np.searchsorted(asked, mine), 1, len(asked) - 1)
    nearest = np.where(mine - asked[behind - 1] < asked[behind] - mine, behind - 1, behind)
    off = mine - asked[nearest]
    interval = float(np.diff(asked).min())
    near = np.abs(off) <= min(WINDOW_SHARE * interval, LONGEST_WINDOW)
    if not near[-1] or near.sum() <= LEAST_ONSETS:
        return None
    median = float(np.median(off[near][-1 - MEDIAN_OVER : -1]))
    late = float(off[-1]) - median
    if abs(late) <= allowed_off(plan, hand)[nearest[-1]]:
        return LastWord("steady", hand)
    return LastWord("late" if late > 0 else "early", hand)


class WordsOfTake:
    """The verdicts of a take in order, and the visible one.

    Attributes
    ----------
    so_far : list of LastWord
        All of them, the newest last.
    shown : LastWord or None
        The newest one that came when the one before it had stayed long enough.
    """

    def __init__(self) -> None:
        self.so_far: list[LastWord] = []
        self.shown: LastWord | None = None
        self._since = -math.inf

    def add(self, word: LastWord | None, stamp: float) -> None:
        """Add the verdict on an onset, or None, at a stamp in seconds."""
        if word is not None:
            self.so_far.append(word)
        if stamp - self._since >= STAYS and word != self.shown:
            self.shown, self._since = word, stamp
