"""A trace of a run-through: each of its sections followed by itself, as each is another movement."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.observe.trace.trace import cut
from tempo_coach.observe.trace.trace_take import Placing, follow, keep_moments, to_take
from tempo_coach.pattern.plan.section_plans import section_plan
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.plan.plan import Plan

#: Seconds around the moments of a section that are looked at, where no other section is nearer.
_AROUND = 1.5


class FollowedSections(NamedTuple):
    """The take of a run-through as a trace shows it, whether its moments are the low points, and what was left out."""

    take: Take
    absolute: bool
    left_out: tuple[Reason, ...]


def follow_sections(
    trace: Trace,
    plan: Plan,
    offset: float,
    *,
    point: str | None = None,
    columns: Sequence[str] = (),
    against: Sequence[str] = (),
) -> FollowedSections:
    """Return the take of a trace of a run-through.

    Parameters
    ----------
    trace : Trace
    plan : Plan
        With sections.
    offset : float
        Seconds to add to the trace's clock.
    point, columns, against
        As in :func:`tempo_coach.observe.trace.trace_take.follow`.

    Returns
    -------
    FollowedSections
        A section in which nothing can be followed has no onsets, and is reported.

    Raises
    ------
    CoachError
        If none of them can be followed.
    """
    plans = [own for each in plan.sections if (own := section_plan(plan, each)) is not None]
    ends = [(float(own.moments.time[0]), float(own.moments.time[-1])) for own in plans]
    takes: list[Take] = []
    left_out: list[Reason] = []
    failed: list[CoachError] = []
    seen: set[tuple[float, str]] = set()
    absolute = True
    for own, (first, last) in zip(plans, ends, strict=True):
        before = max((end for _, end in ends if end < first), default=-np.inf)
        behind = min((start for start, _ in ends if start > last), default=np.inf)
        start, end = max(first - _AROUND, (before + first) / 2), min(last + _AROUND, (last + behind) / 2)
        moments = own.moments
        try:
            part = cut(trace, start - offset, end - offset)
            followed = follow(part, own, point=point, columns=columns, against=against)
        except CoachError as error:
            failed.append(error)
            left_out.append(Reason(Why.SECTION_UNSEEN, (own.title, error)))
        else:
            takes.append(to_take(followed, Placing(offset)))
            left_out += followed.left_out
            absolute = absolute and followed.absolute
            moments = followed.plan.moments
        seen.update(zip(moments.time.tolist(), moments.hand, strict=True))
    if not takes:
        raise failed[0]
    every = zip(plan.moments.time.tolist(), plan.moments.hand, strict=True)
    kept = np.array([k for k, each in enumerate(every) if each in seen], dtype=np.int64)
    times = np.concatenate([each.onsets.time for each in takes])
    hands = [hand for each in takes for hand in each.onsets.hand]
    floors = [each.noise_floor_ms for each in takes if each.noise_floor_ms is not None]
    take = Take(
        replace(plan, moments=keep_moments(plan.moments, kept)),
        Onsets.unsorted(times.tolist(), hands),
        observed_by="sensor",
        noise_floor_ms=max(floors) if len(floors) == len(takes) else None,
    )
    return FollowedSections(take, absolute, tuple(dict.fromkeys(left_out)))
