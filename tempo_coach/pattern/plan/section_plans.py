"""Sections of a run-through as plans of their own: the moments of one drill, numbered from its first cycle."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.plan.plan import Moments, Plan

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Section

#: Counts by which the last instant of a section lies before its end.
_INSIDE = 1e-3


def named_apart(label: str, title: str) -> str:
    """Return the label of a moment in a run-through where another drill has a moment of that label too."""
    return f"{label} ({title})"


def own_name(label: str, title: str) -> str:
    """Return the label that a moment of a run-through has in its own drill, named apart or not.

    A plan's file has the one label of each moment alone, so that it is what the drill's own is found from.

    Examples
    --------
    >>> own_name(named_apart("low", "mills"), "mills"), own_name("low", "mills")
    ('low', 'low')
    """
    return label.removesuffix(named_apart("", title))


def section_plan(plan: Plan, section: Section) -> Plan | None:
    """Return the plan of one section, on the same take clock; None where the take ended before it.

    Parameters
    ----------
    plan : Plan
        Of the run-through.
    section : Section
        One of its own.
    """
    moments, first = plan.moments, section.first_cycle
    kept = np.flatnonzero((moments.cycle >= first) & (moments.cycle < first + len(section.cycle_starts)))
    if not kept.size:
        return None
    labels = [own_name(moments.label[k], section.title) for k in kept]
    cycles = moments.cycle[kept] - first
    return replace(
        plan,
        drill=section.drill,
        title=section.title,
        hands=section.hands,
        cycle_counts=section.cycle_counts,
        allowance=section.allowance,
        eights=tuple(each for each in plan.eights if each.start + each.length > section.start) or plan.eights[-1:],
        duration=min(plan.duration, float(np.interp(section.end, plan.knot_counts, plan.knot_times))),
        moments=Moments(
            time=moments.time[kept],
            cycle=cycles,
            hand=tuple(moments.hand[k] for k in kept),
            label=tuple(labels),
            count=moments.count[kept],
            asked_lag_deg=moments.asked_lag_deg[kept],
            cue=moments.cue[kept],
            kind=tuple(moments.kind[k] for k in kept),
        ),
        pattern=section.pattern,
        cycle_starts=np.array(section.cycle_starts[: int(cycles.max()) + 1]),
        sections=(),
    )


def eights_of_section(plan: Plan, section: Section) -> tuple[int, int]:
    """Return the numbers of the first and the last eight of a section."""
    first, last = (plan.place(position) for position in (section.start, section.end - _INSIDE))
    return first.eight, last.eight
