"""Two sides of a group: some members together, and others together behind them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.group.card import Sides
from tempo_coach.score.group.leaving import LEAST_OFFSET

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.score.group.card import Member, MemberEight

#: Members of a side, at least: one alone is late or early by herself.
LEAST_SIDE = 2
#: Standard errors by which the sides have to lie apart, and eights of each member, at least.
ERRORS, LEAST_EIGHTS = 4.0, 3


def find_sides(members: Sequence[Member], by_eight: Sequence[MemberEight]) -> Sides | None:
    """Return the two sides of a group; None without any.

    The sides are told apart at the widest gap between the members' mean distances from the middle. It has to be wider
    than a fifth of a quick count, than what the loudspeaker's distance may give, than either side itself, and than
    chance by the scatter of each member's means from eight to eight.

    Parameters
    ----------
    members : sequence of Member
    by_eight : sequence of MemberEight
    """
    known = sorted((m for m in members if not math.isnan(m.offset)), key=lambda m: m.offset)
    if len(known) < 2 * LEAST_SIDE:
        return None
    places = np.array([m.offset for m in known])
    gaps = np.diff(places)
    at = int(np.argmax(gaps)) + 1
    ahead, behind = places[:at], places[at:]
    if min(len(ahead), len(behind)) < LEAST_SIDE:
        return None
    errors = np.array([_error(m.member, by_eight) for m in known])
    apart = float(behind.mean() - ahead.mean())
    error = math.hypot(*(float(np.sqrt((part**2).sum())) / len(part) for part in (errors[:at], errors[at:])))
    wide = max(float(np.ptp(ahead)), float(np.ptp(behind)), LEAST_OFFSET + max(m.unsure for m in known))
    if not (gaps[at - 1] > wide and apart > ERRORS * error):
        return None
    names = {m.member for m in known[:at]}
    there = [m.member for m in members if m in known]
    return Sides(
        tuple(name for name in there if name in names), tuple(name for name in there if name not in names), apart
    )


def _error(member: str, by_eight: Sequence[MemberEight]) -> float:
    """Return the standard error of her distance, from eight to eight; infinite with too few."""
    means = np.array([one.offset for one in by_eight if one.member == member and not math.isnan(one.offset)])
    return float(means.std(ddof=1)) / math.sqrt(len(means)) if len(means) >= LEAST_EIGHTS else math.inf
