"""Takes of a group that was observed while it moved: of each member from what came, their card, their files."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.coach.judging import JudgedGroup
from tempo_coach.coach.practising.sensed import OnTakeClock, place_sensed, put_on_take_clock
from tempo_coach.observe.take.take_file import EARLIEST, make_take
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.pattern.plan.layout import cut_short
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from tempo_coach.errors import CoachError
    from tempo_coach.live.inputs.source import Collected
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.group.card import GroupCard

#: Least and most members of a group that is observed live: as many phones, and as many rows on the screen.
MEMBERS = (2, 12)
#: Bound of the clocks in seconds beyond which nobody of a group is called early or late.
SUREST = 0.010


class MemberHand(NamedTuple):
    """A member and one of her hands."""

    member: str
    hand: str


class GroupTake(NamedTuple):
    """A finished take of a group: its card or why there is none, and the files of the members' takes."""

    judged: JudgedGroup | None
    error: CoachError | None
    paths: tuple[Path, ...]
    begun: str


class OverTake(NamedTuple):
    """A take at its end, to be judged once it is complete."""

    take_time: Callable[[float], float]
    gaps: tuple[tuple[float, float], ...]
    since: float
    writers: Mapping[str, TakeWriter]


def parts_of(members: Sequence[str], plan: Plan) -> dict[str, MemberHand]:
    """Return, for each key's name, the member, and her hand where there are several.

    Examples
    --------
    >>> from tempo_coach import coach
    >>> list(parts_of(["Ada", "Bea"], coach.lay(coach.Request("clubs_mills", cycles=2))))
    ['Ada right', 'Ada left', 'Bea right', 'Bea left']
    """
    several = len(plan.hands) > 1
    return {f"{one} {hand}" if several else one: MemberHand(one, hand) for one in members for hand in plan.hands}


def takes_of(
    found: Mapping[str, Collected], over: OverTake, plan: Plan, *, observed_by: str, stopped: float | None
) -> dict[str, Take]:
    """Return the members' takes of one plan, ended early at the last moment that anybody did."""
    placed = {member: put_on_take_clock(each, over.take_time) for member, each in found.items()}
    if stopped is not None:
        times = [time for each in placed.values() for time, _ in each.onsets if math.isfinite(time)]
        plan = cut_short(plan, min(stopped, max(times, default=stopped) + EARLIEST))
    return {
        member: _take_of(found[member], each, over, plan, observed_by=observed_by) for member, each in placed.items()
    }


def _take_of(found: Collected, placed: OnTakeClock, over: OverTake, plan: Plan, *, observed_by: str) -> Take:
    if placed.readings:
        seen, _ = place_sensed(found, placed, plan, observed_by=observed_by, stopped=None, unmeasurable=over.gaps)
        return seen.take
    return make_take(
        plan,
        placed.onsets,
        observed_by="phone" if observed_by == "worn phone" else observed_by,
        noise_floor_ms=found.noise_floor_ms,
        unmeasurable=tuple(sorted([*over.gaps, *placed.gaps])),
        calibrated=found.calibrated,
    )


def judge_together(takes: Mapping[str, Take], found: Mapping[str, Collected]) -> JudgedGroup:
    """Return the card of a group's takes; within the bound of their clocks nobody is called early or late.

    Raises
    ------
    CoachError
        If nobody did anything at the same moment.
    """
    from tempo_coach.score.group.group import judge_group

    return JudgedGroup(
        within_clocks(judge_group(takes), {member: each.half_width for member, each in found.items()}),
        takes,
        frozenset(),
        own_clock=False,
    )


def within_clocks(card: GroupCard, bounds: Mapping[str, float]) -> GroupCard:
    """Return a card that calls nobody early or late within the bounds of the clocks, in seconds."""
    from tempo_coach.score.group.sides import find_sides

    widest = max(bounds.values(), default=0.0)
    if not widest:
        return card
    known = widest <= SUREST
    members = tuple(
        m._replace(
            unsure=m.unsure + bounds.get(m.member, 0.0) + (0.0 if known or math.isnan(m.steady) else abs(m.steady))
        )
        for m in card.members
    )
    reason = Reason(Why.CLOCKS_BOUND, (1000 * widest,)) if known else Reason(Why.CLOCKS_WIDE)
    sides = find_sides(members, card.by_eight) if known and card.sides is not None else None
    return replace(card, members=members, reasons={**card.reasons, "clocks": reason}, sides=sides)


def finish(
    writers: Mapping[str, TakeWriter], takes: Mapping[str, Take], plan: Plan, *, how: str, stopped: float | None
) -> None:
    """Write the members' onsets as finally placed by the clocks, and close their files."""
    for member, writer in writers.items():
        take = takes[member]
        if not _is_of(take.plan, plan):  # what was worn shows other moments than were asked for
            writer.discard()
            extra = {"member": member}
            own = TakeWriter(writer.path, take.plan, observed_by=take.observed_by, begun=writer.begun, extra=extra)
        else:
            own = writer
        own.finish(
            list(zip(take.onsets.time.tolist(), take.onsets.hand, strict=True)),
            how=how,
            stopped=stopped,
            noise_floor_ms=take.noise_floor_ms,
            unmeasurable=take.unmeasurable,
            calibrated=take.calibrated,
        )


def _is_of(plan: Plan, asked: Plan) -> bool:
    """Return whether a plan is the requested one, or its beginning."""
    n = len(plan.moments)
    return plan.hands == asked.hands and np.array_equal(plan.moments.time, asked.moments.time[:n])
