"""A group: who is early and late, and where it falls apart.

Asynchronies are taken to the plan and never to the members' common mean, whose removal invents mirror images: of two
members each would then be exactly as late as the other is early. A member who is always 80 ms late is perfectly steady
in phase with the others, so offsets stand beside the order parameter.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.score.card import judge
from tempo_coach.score.following import average_cycles, least_cycles, measure_following
from tempo_coach.score.group_card import Apart, GroupCard, Member
from tempo_coach.score.parts import place_counts
from tempo_coach.score.period import spread
from tempo_coach.score.residual import robust_sd
from tempo_coach.score.together import RELEASE, find_exchanges, measure_over_time

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.onsets import Take
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.score.together import AskedExchange
    from tempo_coach.times import Floats, Ints

#: Members of a group; a group exercise has five.
MEMBERS = (2, 30)
#: Robust SDs above the usual range at which a moment is said to have fallen apart.
APART = 4.0
#: In one recording of several people: an onset further than this share of the period from a moment is not its own.
SAME_MOMENT = 0.3
#: Seconds that sound takes for a metre: 1 / 344 m/s, in a hall of 20 °C.
SOUND_PER_METRE = 0.0029


def judge_group(
    takes: Mapping[str, Take],
    *,
    metres: Mapping[str, float] | None = None,
    shifts: Mapping[str, float] | None = None,
    partners: Mapping[str, str] | None = None,
    exchanges: Sequence[AskedExchange] = (),
) -> GroupCard:
    """Judge a group from one take of each member, all on the same take clock.

    Parameters
    ----------
    takes : mapping of member to Take
        All of the same plan.
    metres : mapping of member to float, optional
        How far each stood from the loudspeaker; the time that the music took to reach them is taken off.
    shifts : mapping of member to float, optional
        For a canon: by how many counts a member's part comes later on purpose.
    partners : mapping of member to member, optional
        In exchanges: who catches what a member throws.
    exchanges : sequence of AskedExchange
        Where a routine has them; without any they are the releases and catches of the plan.

    Raises
    ------
    CoachError
        If there are too few or too many members, their plans differ, or nobody did anything at the same moment.
    """
    low, high = MEMBERS
    if not low <= len(takes) <= high:
        raise CoachError(f"expected {low} to {high} members, got {len(takes)}", where="group")
    plan = next(iter(takes.values())).plan
    _check_alike(takes)
    both = {*(partners or {}), *(partners or {}).values()}
    for name, given in (("--place", set(metres or {})), ("--canon", set(shifts or {})), ("--exchange", both)):
        unknown = sorted(given - set(takes))
        if unknown:
            raise CoachError(f"expected a member ({', '.join(takes)}), found {unknown[0]}", where=name)
    asynchronies = np.array(
        [
            judge(shift_take(take, (shifts or {}).get(member, 0.0))).asynchrony
            - SOUND_PER_METRE * (metres or {}).get(member, 0.0)
            for member, take in takes.items()
        ]
    )
    if not ((~np.isnan(asynchronies)).sum(axis=0) > 1).any():
        raise CoachError("no two members did any moment together", where="group", hint="check that the clocks agree")
    return measure_group(tuple(takes), asynchronies, plan, partners=partners, exchanges=exchanges)


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
    period = _asked_period(plan)
    off = take.onsets.time - moments.time[at]
    near = np.abs(off) <= SAME_MOMENT * period[at]
    at, off = at[near], off[near]
    answers = np.bincount(at, minlength=len(moments))
    shared = np.flatnonzero(answers > 1)
    if not shared.size:
        raise CoachError("no moment of the plan has two onsets", where="group", hint="check that the clocks agree")
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
        apart=_find_apart(widths, plan, shared, period[shared]),
        pairs=(),
        reasons={
            "members": "one recording of several people: who was who cannot be told, so nobody is early or late",
            "group_r_chance": "nobody knows how many they were",
        },
        over_time=measure_over_time(eights, resultants, sds, widths),
    )


def measure_group(
    members: tuple[str, ...],
    asynchronies: Floats,
    plan: Plan,
    *,
    partners: Mapping[str, str] | None = None,
    exchanges: Sequence[AskedExchange] = (),
) -> GroupCard:
    """Return the measures of a group.

    Parameters
    ----------
    members : tuple of str, length m
    asynchronies : array, shape (m, n)
        Seconds to the plan for each member and moment; NaN where missed.
    plan : Plan
        Of n moments.
    partners, exchanges
        As in :func:`judge_group`.
    """
    present = (~np.isnan(asynchronies)).sum(axis=0)
    together = present > 1
    shared = asynchronies[:, together]
    centre = np.nanmean(shared, axis=0) if together.any() else np.array([])
    offsets = shared - centre
    period = _asked_period(plan)[together]
    ranges = np.nanmax(shared, axis=0) - np.nanmin(shared, axis=0) if together.any() else np.array([])
    sds = np.nanstd(shared, axis=0, ddof=1) if together.any() else np.array([])
    resultants = order_parameter(shared / period * 360.0)
    reasons = {}
    cycles = np.unique(plan.moments.cycle)
    by_cycle = average_cycles(asynchronies, plan.moments.cycle)
    pairs = measure_following(members, by_cycle)
    if len(cycles) < least_cycles(len(members)):
        reasons["pairs"] = (
            f"who follows whom among {len(members)} needs {least_cycles(len(members))} cycles, there are {len(cycles)}"
        )
    elif all(pair.follows is None for pair in pairs):
        reasons["pairs"] = "who follows whom cannot be told of members who were hardly there or do not vary"
    if partners and not exchanges and RELEASE not in plan.moments.kind:
        reasons["exchanges"] = "the plan has no release, so nothing is thrown in it"
    eights, _ = place_counts(plan, plan.moments.count[together])
    return GroupCard(
        members=tuple(
            _measure_member(name, row, offset) for name, row, offset in zip(members, asynchronies, offsets, strict=True)
        ),
        resultant=float(resultants.mean()) if len(resultants) else math.nan,
        chance=chance_order_parameter(len(members)),
        sd=float(sds.mean()) if len(sds) else math.nan,
        width=float(ranges.mean()) if len(ranges) else math.nan,
        apart=_find_apart(ranges, plan, np.flatnonzero(together), period),
        pairs=pairs,
        reasons=reasons,
        over_time=measure_over_time(eights, resultants, sds, ranges),
        exchanges=find_exchanges(members, asynchronies, plan, partners=partners, asked=exchanges),
    )


def order_parameter(phases: Floats) -> Floats:
    """Return the resultant length of each column of phases in degrees, members along the rows; NaN is left out.

    Y. Kuramoto, *Chemical Oscillations, Waves, and Turbulence* (1984).
    """
    lengths: Floats = np.abs(np.nanmean(np.exp(1j * np.radians(phases)), axis=0)) if phases.size else np.array([])
    return lengths


@cache
def chance_order_parameter(n: int) -> float:
    """Return the order parameter expected of n independent phases that are spread evenly.

    It is the mean length of a plane walk of n unit steps in random directions, over n: the integral of
    ``(1 - J0(t)^n) / t^2`` over all t above 0 (J. C. Kluyver 1905, from memory; held against random numbers in the
    tests).
    """
    from scipy.special import j0

    if n < 1:
        raise ValueError(f"expected at least one phase, got {n}")
    end, steps = 2000.0, 400_000
    t = (np.arange(steps) + 0.5) * (end / steps)
    return float((((1 - j0(t) ** n) / t**2).sum() * (end / steps) + 1 / end) / n)


def shift_take(take: Take, counts: float) -> Take:
    """Return the take with its moments that many counts later, for a canon."""
    if not counts:
        return take
    plan = take.plan
    moments = plan.moments
    knots, first = np.unique(plan.knot_counts, return_index=True)
    times = plan.knot_times[first]
    edge = (times[-1] - times[-2]) / (knots[-1] - knots[-2])
    wanted = moments.count + counts
    inside = np.interp(wanted, knots, times) + np.maximum(wanted - knots[-1], 0) * edge
    return replace(take, plan=replace(plan, moments=replace(moments, time=inside)))


def _measure_member(name: str, row: Floats, offset: Floats) -> Member:
    known, off = row[~np.isnan(row)], offset[~np.isnan(offset)]
    return Member(
        name,
        float(known.mean()) if len(known) else math.nan,
        float(off.mean()) if len(off) else math.nan,
        spread(known),
        len(known),
    )


def _check_alike(takes: Mapping[str, Take]) -> None:
    first_name, first = next(iter(takes.items()))
    for name, take in takes.items():
        one, other = first.plan.moments, take.plan.moments
        if take.plan.drill != first.plan.drill:
            raise CoachError(
                f"expected one drill for all, found {first.plan.drill} ({first_name}) and {take.plan.drill} ({name})",
                where="group",
            )
        if len(one) != len(other) or one.label != other.label or np.abs(one.time - other.time).max(initial=0) > 0.001:
            raise CoachError(
                f"the plans of {first_name} and {name} differ ({len(one)} and {len(other)} moments)",
                where="group",
                hint="record the group to one plan, or score its members one by one",
            )


def _asked_period(plan: Plan) -> Floats:
    """Asked period at each moment of the plan: seconds of the cycle's counts around it."""
    moments = plan.moments
    _, row = np.unique(moments.cycle, return_inverse=True)
    anchors = np.full(row.max(initial=-1) + 1, np.inf)
    np.minimum.at(anchors, row, moments.time)
    usual = float(np.median(np.diff(anchors))) if len(anchors) > 1 else plan.duration - plan.start
    return np.append(np.diff(anchors), usual)[row]


def _find_apart(ranges: Floats, plan: Plan, at: Ints, period: Floats) -> tuple[Apart, ...]:
    if not len(ranges):
        return ()
    limit = np.maximum(np.median(ranges) + APART * robust_sd(ranges), 2 * plan.allowance * period)
    out = at[ranges > limit]
    eights, counts = place_counts(plan, plan.moments.count[out])
    return tuple(
        Apart(eight, count, float(wide))
        for eight, count, wide in zip(eights, counts, ranges[ranges > limit].tolist(), strict=True)
    )
