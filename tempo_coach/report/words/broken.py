"""A cycle that broke in words: where it lies in the music, and what is wrong with it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.places import say_second
from tempo_coach.score.faults.broken import SLIP_WITHIN

if TYPE_CHECKING:
    from collections.abc import Collection

    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.scorecard import CycleCard, Flag


def tell_broken(card: Scorecard, *, but: Collection[int] = ()) -> list[str]:
    """Return what broke, a sentence a cycle; what all hands did is said once.

    Parameters
    ----------
    but : collection of int
        Cycles that are left out.
    """
    told: list[str] = []
    said: set[tuple[int, Flag]] = set()
    for cycle in card.flagged:
        flags = tuple(flag for flag in cycle.flags if flag.of_one_hand or (cycle.cycle, flag) not in said)
        said |= {(cycle.cycle, flag) for flag in flags if flag.kind in ("long", "short")}
        if flags and cycle.cycle not in but:
            told.append(tell_cycle(card, replace(cycle, flags=flags)))
    return told


def tell_cycle(card: Scorecard, cycle: CycleCard) -> str:
    """Return what is wrong with a cycle and where it lies in the music; empty where nothing is.

    Cycles are counted from 1, as people do.
    """
    if not cycle.flags:
        return ""
    first = cycle.flags[0]
    said = "; ".join(_tell_flag(card, cycle, flag) for flag in cycle.flags)
    return f"{tell_place(card, cycle, first)}: {said}"


def tell_place(card: Scorecard, cycle: CycleCard, flag: Flag) -> str:
    """Return where in the music a cycle lies, or the moment of it that a flag is of."""
    position = cycle.positions[cycle.labels.index(flag.label)] if flag.label in cycle.labels else cycle.positions[0]
    if not card.placed:
        return tr("the cycle {second}", second=say_second(card, cycle.time))
    place = card.plan.place(position)
    return tr(
        "cycle {cycle}, eight {eight} count {count}",
        cycle=cycle.cycle + 1,
        eight=place.eight,
        count=say_count(place.count - 1),
    )


def _tell_flag(card: Scorecard, cycle: CycleCard, flag: Flag) -> str:
    kinds = dict(zip(cycle.labels, cycle.kinds, strict=True))
    what = say_moment(card, cycle.hand, flag.label, kinds.get(flag.label, ""))
    ms = abs(flag.by) * 1000
    if flag.kind in ("long", "short"):
        whose = tr(" of {hand}", hand=say_hand(cycle.hand)) if flag.of_one_hand else ""
        asked = cycle.period / cycle.ratio if cycle.ratio > 0 else asked_period(card)
        return tr(
            "the cycle{whose} was {by:.0%} too {kind} ({ms:.0f} ms)",
            whose=whose,
            by=abs(flag.by) / asked,
            kind=flag.kind,
            ms=ms,
        )
    if flag.kind == "missed":
        return tr("{what} was missed", what=what)
    if flag.kind == "extra":
        return (
            tr("one too many with {hand}", hand=say_hand(cycle.hand))
            if len(card.plan.hands) > 1
            else tr("one too many")
        )
    if flag.kind == "hesitated":
        return tr(
            "you hesitated {ms:.0f} ms before {what}, and {all_of} after it was late",
            ms=ms,
            what=what,
            all_of=_all_of(cycle, flag),
        )
    if flag.kind == "slipped":
        counts, rest = _in_counts(card, flag.by), _all_of(cycle, flag)
        if not _is_whole(counts):
            along = "behind" if counts > 0 else "ahead"
            return tr(
                "you slipped {along} by {ms:.0f} ms at {what}, and {rest} after it was {way}",
                along=along,
                ms=ms,
                what=what,
                rest=rest,
                way=say_way(counts),
            )
        return tr(
            "the count slipped: from {what} on, {rest} was {counts} {way}",
            what=what,
            rest=rest,
            counts=say_counts(counts),
            way=say_way(counts),
        )
    return tr("{what} came {ms:.0f} ms {kind}", what=what, ms=ms, kind=flag.kind)


def _all_of(cycle: CycleCard, flag: Flag) -> str:
    return say_hand(cycle.hand) if flag.of_one_hand else "everything"


def say_way(by: float) -> str:
    """Return early or late, of what was observed minus what was asked."""
    return "late" if by > 0 else "early"


def _in_counts(card: Scorecard, seconds: float) -> float:
    return seconds / (asked_period(card) / card.plan.cycle_counts)


def _is_whole(counts: float) -> bool:
    return abs(counts - round(counts)) < SLIP_WITHIN and round(counts) != 0


def say_counts(counts: float) -> str:
    """Return a number of counts without its sign, whole where it nearly is."""
    return several(abs(round(counts)), "count") if _is_whole(counts) else tr("{counts:.1f} counts", counts=abs(counts))


def asked_period(card: Scorecard) -> float:
    """Seconds asked for a cycle."""
    moments = card.plan.moments
    first, last = int(moments.cycle[0]), int(moments.cycle[-1])
    if first == last:
        return card.plan.duration - card.plan.start
    begins = [float(moments.time[moments.cycle == cycle].min()) for cycle in (first, last)]
    return (begins[1] - begins[0]) / (last - first)


def say_hand(hand: str) -> str:
    """Return a hand, or whatever else moves, with its article."""
    return tr("the {hand} hand", hand=hand) if hand in ("left", "right") else tr("the {hand}", hand=hand)


def say_moment(card: Scorecard, hand: str, label: str, kind: str) -> str:
    """Return which moment of a cycle it is, with its hand where there are two."""
    whose = f"{hand} " if len(card.plan.hands) > 1 else ""
    if label in ("", kind):
        return tr("the {whose}{kind}", whose=whose, kind=kind or "moment")
    return tr("the {whose}{kind} “{label}”", whose=whose, kind=kind or "moment", label=label)
