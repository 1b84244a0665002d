"""The last word while a take runs (early, late or steady), and whether a take was a good one.

The scorecard is the reference for both.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from tempo_coach.pattern.practice import LEAST_ALLOWANCE
from tempo_coach.score.align import LONGEST_REACH, REACH_SHARE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.live.session import Onset
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.score.card import Scorecard

Word = Literal["early", "late", "steady"]

#: How far one onset may lie from her own usual place and still be steady, a share of the interval: people who tap with
#: a click scatter by about 4 % of it (Repp 2005, from memory), so that less than this would be said of everybody.
STEADY = 0.06
#: So many onsets of a hand show where she usually is: a lead that a keyboard or an ear adds is no fault.
USUAL_AFTER = 3
#: So many of her newest ones tell it.
USUAL_OVER = 8


#: In a good take at most this share of the cycles has a moment that lies further from her usual place than this share
#: of the interval (two and a half times the scatter above), and at most this share of the moments is missed.
UNEVEN_IN_GOOD = 1 / 8
GOOD_WITHIN = 0.1
MISSED_IN_GOOD = 1 / 20
GOOD_IN_WORDS = (
    "Good: in 7 of 8 cycles every moment within a tenth of the interval, one in 20 missed at most, the tempo kept."
)


class LastWord(NamedTuple):
    """What is to be said about the newest onset that answers a moment."""

    word: Word
    hand: str


def find_last_word(plan: Plan, onsets: Sequence[Onset]) -> LastWord | None:
    """Return what there is to say about the newest onset; None before enough of them are there.

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
    mine = np.array([onset.time for onset in onsets[-3 * USUAL_OVER :] if onset.hand == hand])
    if len(asked) < 2 or not np.isfinite(mine[-1]):
        return None
    mine = mine[np.isfinite(mine)]
    behind = np.clip(np.searchsorted(asked, mine), 1, len(asked) - 1)
    nearest = np.where(mine - asked[behind - 1] < asked[behind] - mine, behind - 1, behind)
    off = mine - asked[nearest]
    interval = float(np.diff(asked).min())
    near = np.abs(off) <= min(REACH_SHARE * interval, LONGEST_REACH)
    if not near[-1] or near.sum() <= USUAL_AFTER:
        return None
    usual = float(np.median(off[near][-1 - USUAL_OVER : -1]))
    late = float(off[-1]) - usual
    local = float(asked[behind[-1]] - asked[behind[-1] - 1])
    if abs(late) <= STEADY * local:
        return LastWord("steady", hand)
    return LastWord("late" if late > 0 else "early", hand)


def is_good(card: Scorecard) -> bool:
    """Whether a take was good enough to go on to a faster one; see ``GOOD_IN_WORDS``.

    Flags do not decide it: they tell what stands out of a take, and in one that is uneven all through nothing does.
    """
    plan, late = card.plan, card.asynchrony
    known = ~np.isnan(late)
    asked = int(known.sum()) + len(card.missed)
    if not known.any() or len(card.missed) > MISSED_IN_GOOD * asked:
        return False
    if abs(card.value("period_ratio_mean") - 1) > max(plan.allowance, LEAST_ALLOWANCE):
        return False
    uneven: set[int] = set()
    for hand in plan.hands:
        mine = plan.moments.of_hand(hand)
        mine = mine[known[mine]]
        if len(mine) > 1:
            off = np.abs(late[mine] - np.median(late[mine]))
            interval = float(np.diff(plan.moments.time[plan.moments.of_hand(hand)]).min())
            uneven.update(plan.moments.cycle[mine[off > GOOD_WITHIN * interval]].tolist())
    return len(uneven) <= UNEVEN_IN_GOOD * plan.cycles
