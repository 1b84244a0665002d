"""Broken cycles in words: where each lies in the music, and what is wrong with it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.languages import tr, tr_n
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.moments import say_hand, say_moment
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
    told = [_tell_flag(card, cycle, flag) for flag in cycle.flags if flag.kind != "extra"]
    extra = sum(flag.kind == "extra" for flag in cycle.flags)
    if extra:
        told.insert(0 if first.kind == "extra" else len(told), _tell_extra(card, cycle, extra))
    said = "; ".join(told)
    return tr("{name}: {said}", name=tell_place(card, cycle, first), said=said)


def tell_place(card: Scorecard, cycle: CycleCard, flag: Flag) -> str:
    """Return where in the music a cycle, or the moment that a flag names, lies."""
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
    whose = say_hand(cycle.hand) if flag.of_one_hand else ""
    if flag.kind in ("long", "short"):
        asked = cycle.period / cycle.ratio if cycle.ratio > 0 else asked_period(card)
        return tr(LENGTHS[flag.kind][bool(whose)], share=abs(flag.by) / asked, ms=ms, hand=whose)
    if flag.kind == "missed":
        return tr("{moment} was missed", moment=what)
    if flag.kind == "hesitated":
        return tr(
            "you hesitated {ms:.0f} ms before {moment}, and {hand} after it was late"
            if whose
            else "you hesitated {ms:.0f} ms before {moment}, and everything after it was late",
            ms=ms,
            moment=what,
            hand=whose,
        )
    if flag.kind == "slipped":
        counts = _in_counts(card, flag.by)
        form = (SLIPS_OF_COUNTS if _is_whole(counts) else SLIPS)[counts > 0, bool(whose)]
        return tr(form, ms=ms, moment=what, hand=whose, counts=say_counts(counts))
    return tr(
        "{moment} came {ms:.0f} ms late" if flag.by > 0 else "{moment} came {ms:.0f} ms early", moment=what, ms=ms
    )


def _tell_extra(card: Scorecard, cycle: CycleCard, number: int) -> str:
    if len(card.plan.hands) > 1:
        return tr_n("one too many with {hand}", "{number} too many with {hand}", number, hand=say_hand(cycle.hand))
    return tr_n("one too many", "{number} too many", number)


#: How a cycle was too long or too short, of everything and of one hand.
LENGTHS = {
    "long": (
        "the cycle was {share:.0%} too long ({ms:.0f} ms)",
        "the cycle of {hand} was {share:.0%} too long ({ms:.0f} ms)",
    ),
    "short": (
        "the cycle was {share:.0%} too short ({ms:.0f} ms)",
        "the cycle of {hand} was {share:.0%} too short ({ms:.0f} ms)",
    ),
}
#: What slipped by which way, behind or ahead, everything or one hand: by whole counts, and else.
SLIPS_OF_COUNTS = {
    (True, False): "the count slipped: from {moment} on, everything was {counts} late",
    (True, True): "the count slipped: from {moment} on, {hand} was {counts} late",
    (False, False): "the count slipped: from {moment} on, everything was {counts} early",
    (False, True): "the count slipped: from {moment} on, {hand} was {counts} early",
}
SLIPS = {
    (True, False): "you slipped behind by {ms:.0f} ms at {moment}, and everything after it was late",
    (True, True): "you slipped behind by {ms:.0f} ms at {moment}, and {hand} after it was late",
    (False, False): "you slipped ahead by {ms:.0f} ms at {moment}, and everything after it was early",
    (False, True): "you slipped ahead by {ms:.0f} ms at {moment}, and {hand} after it was early",
}


def say_way(by: float) -> str:
    """Return early or late, given observed minus asked."""
    return tr("late") if by > 0 else tr("early")


def _in_counts(card: Scorecard, seconds: float) -> float:
    return seconds / (asked_period(card) / card.plan.cycle_counts)


def _is_whole(counts: float) -> bool:
    return abs(counts - round(counts)) < SLIP_WITHIN and round(counts) != 0


def say_counts(counts: float) -> str:
    """Return a number of counts without its sign, rounded where it is nearly whole."""
    return several(abs(round(counts)), "count") if _is_whole(counts) else tr("{counts:.1f} counts", counts=abs(counts))


def asked_period(card: Scorecard) -> float:
    """Return the asked seconds of a cycle."""
    moments = card.plan.moments
    first, last = int(moments.cycle[0]), int(moments.cycle[-1])
    if first == last:
        return card.plan.duration - card.plan.start
    begins = [float(moments.time[moments.cycle == cycle].min()) for cycle in (first, last)]
    return (begins[1] - begins[0]) / (last - first)
