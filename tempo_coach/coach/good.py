"""Whether a take was good enough to go on to a faster one: for steps of tempo, and as steady in the history."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.practice import LEAST_ALLOWANCE

if TYPE_CHECKING:
    from tempo_coach.score.scorecard import Scorecard

#: In a good take at most this share of the cycles has a moment that lies further from her usual place than this share
#: of the interval (two and a half times the 4 % by which people scatter who tap with
#: a click: Repp 2005, from memory), and at most this share of the moments is missed.
UNEVEN_IN_GOOD = 1 / 8
GOOD_WITHIN = 0.1
MISSED_IN_GOOD = 1 / 20
GOOD_IN_WORDS = (
    "Good: in 7 of 8 cycles every moment within a tenth of the interval, one in 20 missed at most, the tempo kept."
)


def is_good(card: Scorecard) -> bool:
    """Whether a take was good enough to go on to a faster one; see ``GOOD_IN_WORDS``.

    Flags do not decide it: they tell what stands out of a take, and in one that is uneven all through nothing does.

    Parameters
    ----------
    card : Scorecard
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
