"""One recording of several people who cannot be told apart: the width of their onsets."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.group.card import GroupCard
from tempo_coach.score.group.group import asked_period, find_apart, order_parameter
from tempo_coach.score.group.together import measure_over_time
from tempo_coach.score.measures.parts import place_counts
from tempo_coach.score.measures.period import spread

if TYPE_CHECKING:
    from tempo_coach.observe.take.onsets import Take

#: An onset further than this share of the period from a moment is not its own.
SAME_MOMENT = 0.3


def judge_mix(take: Take) -> GroupCard:
    """Judge one recording of several people: how far together they were, not who was early or late.

    Every onset belongs to the moment that is nearest, within ``SAME_MOMENT`` of the asked period.

    Raises
    ------
    CoachError
        If no moment has two onsets.
    """
    plan, moments = take.plan, take.plan.moments
    edges = (moments.time[1:] + moments.time[:-1]) / 2
    at = np.searchsorted(edges, take.onsets.time)
    period = asked_period(plan)
    off = take.onsets.time - moments.time[at]
    near = np.abs(off) <= SAME_MOMENT * period[at]
    at, off = at[near], off[near]
    answers = np.bincount(at, minlength=len(moments))
    shared = np.flatnonzero(answers > 1)
    if not shared.size:
        raise CoachError("group.no_common_moment", where="group")
    by_moment = np.split(off[np.argsort(at, kind="stable")], np.cumsum(answers)[:-1])
    groups = [by_moment[k] for k in shared.tolist()]
    resultants = np.array(
        [order_parameter((one / period[k] * 360.0)[:, None])[0] for one, k in zip(groups, shared.tolist(), strict=True)]
    )
    sds, widths = np.array([spread(one) for one in groups]), np.array([float(np.ptp(one)) for one in groups])
    eights, _ = place_counts(plan, moments.count[shared])
    return GroupCard(
        members=(),
        resultant=float(resultants.mean()),
        chance=math.nan,
        sd=float(sds.mean()),
        width=float(widths.mean()),
        apart=find_apart(widths, plan, shared, period[shared]),
        pairs=(),
        reasons={
            "members": Reason(Why.ONE_RECORDING),
            "group_r_chance": Reason(Why.NUMBER_NOT_KNOWN),
        },
        over_time=measure_over_time(eights, resultants, sds, widths),
    )
