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
from tempo_coach.observe.observers import OBSERVERS, Source
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.group.canon import find_canon, find_mirrored, shift_take
from tempo_coach.score.group.card import Apart, GroupCard, Member
from tempo_coach.score.group.eights import find_wandered, measure_by_eight, place_left
from tempo_coach.score.group.following import average_cycles, least_cycles, measure_following
from tempo_coach.score.group.formation import mirror
from tempo_coach.score.group.leaving import LEAST_MEMBERS, find_left
from tempo_coach.score.group.own_beat import set_on_own_beat
from tempo_coach.score.group.own_moments import drop_doubles, measure_to_nearest, pair_own_part
from tempo_coach.score.group.pace import find_pace, keep_one_tempo, keeps_another_pace, list_onsets
from tempo_coach.score.group.sides import find_sides
from tempo_coach.score.group.together import RELEASE, find_exchanges, measure_over_time
from tempo_coach.score.group.turns import find_turns, gather_rounds, in_order
from tempo_coach.score.measures.parts import place_counts
from tempo_coach.score.measures.period import robust_sd, spread

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.group.formation import Formation
    from tempo_coach.score.group.together import AskedExchange
    from tempo_coach.times import Floats, Ints

#: Members of a group; a group exercise has five.
MEMBERS = (2, 30)
#: Robust SDs above the median range from which a moment is said to have fallen apart.
APART = 4.0
#: Seconds that sound takes for a metre: 1 / 344 m/s, in a hall of 20 °C.
SOUND_PER_METRE = 0.0029
#: Seconds by which sound and picture of a film may lie apart without anybody seeing it (ITU-R BT.1359-1, from memory:
#: sound 45 ms early to 125 ms late); so much is not told of one who was filmed.
LIP_SYNC = 0.045
#: Metres from one side of the floor to the other (13 m inside its borders, in the rules of the sport; common practice).
FLOOR = 14.0


def judge_group(
    takes: Mapping[str, Take],
    *,
    metres: Mapping[str, float] | None = None,
    shifts: Mapping[str, float] | None = None,
    partners: Mapping[str, str] | None = None,
    exchanges: Sequence[AskedExchange] = (),
    formations: Sequence[Formation] = (),
    own_clock: bool = False,
    hall: float | None = None,
    unsure: float | None = None,
    without_zero: Collection[str] = (),
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
    formations : sequence of Formation
        Where a routine marks a canon or mirrored hands: each is judged by her own part, and none is looked for.
    own_clock : bool
        Whether the start of the take clock means nothing, as in a recording without music: the members are then put on
        the plan by their own beat and have no bias.
    hall : float or None
        Metres from the loudspeaker within which a member stood of whom ``metres`` says nothing: the offset between two
        such members is unsure by the time that sound takes for them. None is ``FLOOR`` for what a microphone or camera
        recorded, which hears the music where it is, and 0 for keys and tables.
    unsure : float or None
        Seconds by which members may lie apart by how they were observed, where that is known: all in one film.
    without_zero : collection of str
        Members of whom nothing shows at which place of the movement they were timed: they have no bias, and their
        distance from the others is unsure by half a cycle.

    Raises
    ------
    CoachError
        If there are too few or too many members, their plans differ, or nobody did anything at the same moment.
    """
    low, high = MEMBERS
    if not low <= len(takes) <= high:
        raise CoachError("group.size", where="group", low=low, high=high, found=len(takes))
    plan = next(iter(takes.values())).plan
    _check_alike(takes)
    both = {*(partners or {}), *(partners or {}).values()}
    for name, given in (("--place", set(metres or {})), ("--canon", set(shifts or {})), ("--exchange", both)):
        unknown = sorted(given - set(takes))
        if unknown:
            raise CoachError("group.member", where=name, members=[*takes], found=unknown[0])
    reasons: dict[str, Reason] = {}
    takes = {member: drop_doubles(member, take, reasons) for member, take in takes.items()}
    as_given = takes
    if own_clock:
        takes = set_on_own_beat(takes)
        plan = next(iter(takes.values())).plan
        reasons["bias_ms"] = Reason(Why.NO_MUSIC)
    unknown = sorted({name for one in formations for name in (*one.later, *one.mirrored)} - set(takes))
    if unknown:
        raise CoachError("group.member", where="routine", members=[*takes], found=unknown[0])
    near = np.array([] if shifts or formations else [measure_to_nearest(take) for take in takes.values()])
    turns = None if shifts or formations else find_turns(near)
    mirrored = frozenset() if turns or formations else find_mirrored(takes)
    canon = {} if turns or formations else find_canon(takes, declared={**(shifts or {}), **dict.fromkeys(mirrored, 0)})
    # even counts say nothing of where they began, and a table nothing of its clock
    for member in [one for one in canon if takes[one].observed_by == "file" and len(plan.hands) == 1]:
        later = float(np.median(shift_take(takes[member], canon[member]).plan.moments.time - plan.moments.time))
        reasons[f"canon of {member}"] = Reason(Why.CANON_OR_CLOCK, (member, -later))
    if mirrored:
        formations = (mirror(plan, mirrored),)
        reasons["mirrored"] = Reason(Why.MIRRORED, (tuple(sorted(mirrored)),))
    seen = None
    if turns:
        asynchronies, plan = gather_rounds(near, plan, turns)
        reasons["turns"] = Reason(Why.IN_TURN, (tuple(in_order([*takes], turns, near)), turns.moments))
    else:
        parts = [
            pair_own_part(shift_take(take, {**canon, **(shifts or {})}.get(member, 0.0)), member, formations)
            for member, take in takes.items()
        ]
        asynchronies, seen = np.array([part for part, _ in parts]), np.array([seen for _, seen in parts])
    # a recording is put on the music as it was heard where she was
    walked = [0.0 if _is_recorded(take) else (metres or {}).get(member, 0.0) for member, take in takes.items()]
    asynchronies -= SOUND_PER_METRE * np.array(walked)[:, None]
    there = ~np.isnan(asynchronies)
    if not (there.sum(axis=0) > 1).any():
        raise CoachError("group.nothing_common", where="group")
    _say_who_was_not_there(as_given, there, reasons)
    if own_clock:
        asynchronies -= np.nanmedian(asynchronies)
    if unsure is not None:
        reasons["unsure"] = Reason(Why.MARKS_APART, (1000 * unsure,))
    onsets = [list_onsets(take) for take in takes.values()]
    card = measure_group(
        tuple(takes), asynchronies, plan, partners=partners, exchanges=exchanges, seen=seen, onsets=onsets
    )
    half = float(np.median(asked_period(plan))) / 2
    carried = _find_unsure(takes, hall, metres or {}, dict.fromkeys(without_zero, half))
    reasons |= {f"place of {member}": Reason(Why.NO_ZERO, (member,)) for member in takes if member in without_zero}
    members = tuple(
        m._replace(
            bias=math.nan if own_clock or m.member in without_zero else m.bias,
            unsure=carried[m.member] if unsure is None else unsure,
            observed_by=takes[m.member].observed_by,
            noise=math.nan if (noise := takes[m.member].noise_floor_ms) is None else noise / 1000,
        )
        for m in card.members
    )
    return replace(
        card,
        members=members,
        reasons={**reasons, **card.reasons},
        canon=canon,
        sides=None if any(keeps_another_pace(m, members) for m in members) else find_sides(members, card.by_eight),
        reference="nothing" if own_clock else "cues" if plan.music is None else "music",
    )


def _is_recorded(take: Take) -> bool:
    return OBSERVERS[take.observed_by].source in (Source.SOUND, Source.FILM)


def _find_unsure(
    takes: Mapping[str, Take], hall: float | None, metres: Mapping[str, float], besides: Mapping[str, float]
) -> dict[str, float]:
    """Return by how many seconds each distance may be off as a whole, from the clocks of hers and the others'.

    The way of the sound is somewhere in the hall, so that two of them differ by one hall at most; what picture and
    sound of a film are apart by is independent of that of another film.
    """
    ways = [
        besides.get(member, 0.0)
        + (0.0 if member in metres else SOUND_PER_METRE * (hall if hall is not None else FLOOR * _is_recorded(take)))
        for member, take in takes.items()
    ]
    films = [LIP_SYNC * (OBSERVERS[take.observed_by].source is Source.FILM) for take in takes.values()]
    found = {}
    for k, member in enumerate(takes):
        way, film = (float(np.median(np.delete(each, k))) for each in (ways, films))
        found[member] = max(ways[k], way) + math.hypot(films[k], film)
    return found


def _say_who_was_not_there(takes: Mapping[str, Take], there: NDArray[np.bool_], reasons: dict[str, Reason]) -> None:
    for (member, take), row in zip(takes.items(), there, strict=True):
        if not len(take.onsets):
            reasons[f"member {member}"] = Reason(Why.NEVER_THERE, (member,))
        elif not row.any():
            ends = (float(take.onsets.time[0]), float(take.onsets.time[-1]))
            reasons[f"member {member}"] = Reason(Why.ELSEWHERE, (member, len(take.onsets), *ends))


def measure_group(
    members: tuple[str, ...],
    asynchronies: Floats,
    plan: Plan,
    *,
    partners: Mapping[str, str] | None = None,
    exchanges: Sequence[AskedExchange] = (),
    seen: NDArray[np.bool_] | None = None,
    onsets: Sequence[Floats | None] | None = None,
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
    seen : array of bool, shape (m, n), optional
        Whether a moment could be observed; by default all could.
    onsets : sequence of array or None, length m, optional
        All that each did, paired or not, where it says at which tempo.
    """
    paces = [find_pace(row, plan, own) for row, own in zip(asynchronies, onsets or [None] * len(members), strict=True)]
    # whoever keeps a tempo of her own is not in the middle of the group, wherever she is
    one_tempo = keep_one_tempo(paces)
    present = (~np.isnan(asynchronies[one_tempo])).sum(axis=0)
    together = present > 1
    shared = asynchronies[one_tempo][:, together]
    centre = np.nanmean(shared, axis=0) if together.any() else np.array([])
    offsets = asynchronies[:, together] - centre
    period = asked_period(plan)[together]
    ranges = np.nanmax(shared, axis=0) - np.nanmin(shared, axis=0) if together.any() else np.array([])
    sds = np.nanstd(shared, axis=0, ddof=1) if together.any() else np.array([])
    resultants = order_parameter(shared / period * 360.0)
    reasons: dict[str, Reason] = {}
    cycles = np.unique(plan.moments.cycle)
    by_cycle = average_cycles(asynchronies, plan.moments.cycle)
    pairs = measure_following(members, by_cycle)
    if len(cycles) < least_cycles(len(members)):
        reasons["pairs"] = Reason(Why.FEW_CYCLES, (len(members), least_cycles(len(members)), len(cycles)))
    elif all(pair.follows is None for pair in pairs):
        reasons["pairs"] = Reason(Why.NO_FOLLOWING)
    if partners and not exchanges and RELEASE not in plan.moments.kind:
        reasons["exchanges"] = Reason(Why.NO_RELEASE)
    eights, _ = place_counts(plan, plan.moments.count[together])
    left = find_left(asynchronies, plan.moments.hand, seen=seen)
    distances = _distances(asynchronies)
    if len(members) < LEAST_MEMBERS and not left:
        reasons["left"] = Reason(Why.TWO_MEMBERS)
    return GroupCard(
        members=tuple(
            _measure_member(name, row, offset, median, pace)
            for name, row, offset, median, pace in zip(
                members, asynchronies, offsets, _median_distances(distances), paces, strict=True
            )
        ),
        resultant=float(resultants.mean()) if len(resultants) else math.nan,
        chance=chance_order_parameter(len(members)),
        sd=float(sds.mean()) if len(sds) else math.nan,
        width=float(ranges.mean()) if len(ranges) else math.nan,
        apart=find_apart(ranges, plan, np.flatnonzero(together), period),
        pairs=pairs,
        reasons=reasons,
        over_time=measure_over_time(eights, resultants, sds, ranges),
        exchanges=find_exchanges(members, asynchronies, plan, partners=partners, asked=exchanges),
        left=place_left(members, left, plan, asynchronies),
        by_eight=measure_by_eight(members, distances, plan, left),
        wandered=find_wandered(asynchronies, plan),
    )


def _distances(asynchronies: Floats) -> Floats:
    """Return each member's distance from the median of the others, shape (m, n); NaN where she was alone."""
    found = np.full(asynchronies.shape, np.nan)
    for b, row in enumerate(asynchronies):
        others = np.delete(asynchronies, b, axis=0)
        both = ~np.isnan(row) & ~np.isnan(others).all(axis=0)
        found[b, both] = row[both] - np.nanmedian(others[:, both], axis=0)
    return found


def _median_distances(distances: Floats) -> list[float]:
    return [float(np.nanmedian(row)) if not np.isnan(row).all() else math.nan for row in distances]


def order_parameter(phases: Floats) -> Floats:
    """Return the resultant length of each column of phases in degrees, members along the rows, NaN ignored.

    Y. Kuramoto, *Chemical Oscillations, Waves, and Turbulence* (1984).

    Parameters
    ----------
    phases : numpy.ndarray, shape (members, n)
        Degrees.
    """
    lengths: Floats = np.abs(np.nanmean(np.exp(1j * np.radians(phases)), axis=0)) if phases.size else np.array([])
    return lengths


@cache
def chance_order_parameter(n: int) -> float:
    """Return the expected order parameter of n independent, uniformly distributed phases.

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


def _measure_member(name: str, row: Floats, offset: Floats, median: float, pace: float) -> Member:
    known, off = row[~np.isnan(row)], offset[~np.isnan(offset)]
    return Member(
        name,
        float(known.mean()) if len(known) else math.nan,
        float(off.mean()) if len(off) else math.nan,
        spread(known),
        len(known),
        median,
        pace=pace,
    )


def _check_alike(takes: Mapping[str, Take]) -> None:
    first_name, first = next(iter(takes.items()))
    for name, take in takes.items():
        one, other = first.plan.moments, take.plan.moments
        if take.plan.drill != first.plan.drill:
            raise CoachError(
                "group.other_drill",
                where="group",
                drill=first.plan.drill,
                member=first_name,
                other_drill=take.plan.drill,
                other_member=name,
            )
        if len(one) != len(other) or one.label != other.label or np.abs(one.time - other.time).max(initial=0) > 0.001:
            raise CoachError(
                "group.other_plan",
                where="group",
                member=first_name,
                other_member=name,
                moments=len(one),
                other_moments=len(other),
            )


def asked_period(plan: Plan) -> Floats:
    """Return the asked period at each moment of the plan: seconds of a cycle's counts around it."""
    moments = plan.moments
    _, row = np.unique(moments.cycle, return_inverse=True)
    anchors = np.full(row.max(initial=-1) + 1, np.inf)
    np.minimum.at(anchors, row, moments.time)
    median = float(np.median(np.diff(anchors))) if len(anchors) > 1 else plan.duration - plan.start
    return np.append(np.diff(anchors), median)[row]


def find_apart(ranges: Floats, plan: Plan, at: Ints, period: Floats) -> tuple[Apart, ...]:
    """Return the moments whose range stands out from the others.

    Parameters
    ----------
    ranges : array, shape (k,)
        Seconds from the first to the last.
    plan : Plan
    at : array of int, shape (k,)
        Which moments of the plan they are of.
    period : array, shape (k,)
        Asked period there, in seconds.
    """
    if not len(ranges):
        return ()
    limit = np.maximum(np.median(ranges) + APART * robust_sd(ranges), 2 * plan.allowance * period)
    out = at[ranges > limit]
    eights, counts = place_counts(plan, plan.moments.count[out])
    return tuple(
        Apart(eight, count, float(wide))
        for eight, count, wide in zip(eights, counts, ranges[ranges > limit].tolist(), strict=True)
    )
