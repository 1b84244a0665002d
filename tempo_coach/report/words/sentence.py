"""A coach's sentence: the one thing to work on.

A sentence is made of the findings (:mod:`tempo_coach.score.faults.findings`), the first one first, with the numbers
that it rests on. What gives the same onsets is said with it, and nothing is told as known that is not.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.broken import (
    asked_period,
    say_counts,
    say_hand,
    say_moment,
    say_way,
    tell_cycle,
    tell_place,
)
from tempo_coach.report.words.flights import tell_boomerangs, tell_single_boomerangs, tell_throws
from tempo_coach.report.words.places import tells_figures, tells_lateness
from tempo_coach.report.words.run_throughs import tell_sections
from tempo_coach.score.faults.verdict import EARLY_FROM, LATE_FROM
from tempo_coach.score.measures.steadiness import compare_takes, is_steady, measure_scatter
from tempo_coach.score.scorecard import FLAGGED, Flag, is_flagged

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.faults.findings import Finding

#: Fewer cycles than this do not show what is usual.
ENOUGH_CYCLES = 8
#: A difference below this share of the interval cannot be heard (Friberg & Sundberg 1995, abstract).
HEARD = 0.025
#: Share of broken cycles up to which the rest may be called even.
FEW_BROKEN = 0.25
#: Confidence under which a finding is said with "perhaps".
PERHAPS = 0.7
#: Confidence from which on the likeliest of what is doubtful is said at all, where nothing else broke.
SAID_FROM = 0.2
#: Findings that are of the whole take and come before what is let go and caught.
OF_THE_WHOLE = frozenset(
    {"no_rhythm", "other_tempo", "hands_swapped", "late_entry", "stopped", "half_cycle_off", "drifting"}
)
#: Those that are told of a run-through: what else is of the whole there is of a section.
OF_A_RUN_THROUGH = frozenset({"no_rhythm", "other_tempo"})


def tell(card: Scorecard, previous: Scorecard | None = None) -> str:
    """Return the one thing to work on, as a coach says it, with the numbers it rests on.

    Parameters
    ----------
    previous : Scorecard or None
        An earlier take; what became better beyond chance is said first.
    """
    praise = _tell_better(card, previous) if previous is not None and tells_lateness(card) else ""
    return f"{praise} {_tell_first(card)}".strip()


def _tell_first(card: Scorecard) -> str:
    first, answered = card.findings[0], card.measures["bias_ms"].n
    if not answered or not (tells_figures(card) or first.kind == "no_rhythm"):
        none = tr("hardly an") if answered else "no"
        return tr(
            "Nothing to tell: {none} onset comes near a moment of the plan. Check that the two belong together and "
            "begin at the same instant.",
            none=none,
        )
    if first.kind in (OF_A_RUN_THROUGH if card.sections else OF_THE_WHOLE):
        return _with_doubt(card, first)
    if said := tell_sections(card):
        return said
    cycles = len({cycle.cycle for cycle in card.cycles if not all(math.isnan(a) for a in cycle.asynchronies)})
    if first.kind == "too_little" or cycles < ENOUGH_CYCLES:
        return _tell_too_few(card, cycles)
    for rule in (tell_throws, tell_boomerangs):
        if said := rule(card):
            return said
    if first.kind != "even":
        return _with_doubt(card, first)
    return tell_single_boomerangs(card) or _tell_even(card)


# --- a sentence for each kind of finding ----------------------------------------------------------------------------


def _with_doubt(card: Scorecard, found: Finding) -> str:
    said = SENTENCES[found.kind](card, found)
    nearly = [tr(NEARLY[kind]) for kind in found.same_as if kind in NEARLY]
    if found.kind in FLAGGED and nearly:
        said += tr(" It may also be that {names}.", names=" or that ".join(nearly))
    elif others := _otherwise(found):
        said += tr(" In this movement the same is seen when {names}.", names=" or when ".join(others))
    if found.confidence < PERHAPS:
        said = tr("Perhaps: ") + said[0].lower() + said[1:]
    return said


def _otherwise(found: Finding) -> list[str]:
    """How else the same onsets come about; once where they are those that were asked, by whatever way they came."""
    if "even" in found.same_as:
        return [] if found.kind == "late_entry" else [tr(OTHERWISE["even"])]
    kinds = found.same_as
    if found.kind in SHIFTED:
        kinds = tuple(kind for kind in kinds if kind not in SHIFTED)
    elif "half_cycle_off" in kinds:
        kinds = tuple(kind for kind in kinds if kind not in SHIFTED or kind == "half_cycle_off")
    return list(dict.fromkeys(OTHERWISE[kind] for kind in kinds if kind in OTHERWISE and kind != found.kind))


def _tell_no_rhythm(_card: Scorecard, _found: Finding) -> str:
    return tr(
        "No rhythm of this drill is in it: the onsets come as by chance. Check that take and drill belong "
        "together; then take it slower, with every cue."
    )


def _tell_tempo(_card: Scorecard, found: Finding) -> str:
    tempo = found.ratio
    if abs(tempo - 2) < 0.1:
        return tr("You go at double the tempo: two cycles in the time of one. Count aloud, one cycle to its counts.")
    if abs(tempo - 0.5) < 0.04:
        return tr("You go at half the tempo: one cycle in the time of two. Count aloud, one cycle to its counts.")
    change = abs(1 / tempo - 1)
    if tempo > 1:
        return tr(
            "You run ahead of the count: your cycles are {change:.1%} short on average. Wait for the ones.",
            change=change,
        )
    return tr(
        "You fall behind the count: your cycles are {change:.1%} long on average. Stay with the ones.", change=change
    )


def _tell_swapped(card: Scorecard, _found: Finding) -> str:
    one, other = card.plan.hands[:2]
    return tr(
        "The hands are swapped: {hand} does what {hand_2} should. Begin with {hand}.",
        hand=say_hand(one),
        hand_2=say_hand(other),
    )


def _tell_entry(card: Scorecard, found: Finding) -> str:
    counts = abs(found.by_counts)
    way = "late" if found.by_counts > 0 else "early"
    cycles = counts / card.plan.cycle_counts
    size = say_counts(counts)
    if round(cycles) >= 1 and abs(cycles - round(cycles)) < 0.05:
        size = tr("a whole cycle") if round(cycles) == 1 else tr("{cycles} whole cycles", cycles=round(cycles))
    return tr("You came in {size} {way}: count the lead-in aloud and start on the one.", size=size, way=way)


def _tell_stopped(card: Scorecard, found: Finding) -> str:
    done = {cycle.cycle for cycle in card.cycles if not all(math.isnan(a) for a in cycle.asynchronies)}
    if not card.placed or found.cycle is None:
        where = tr("after {cycles}", cycles=several(len(done), "cycle"))
    elif found.cycle in done:
        where = tr(
            "in cycle {cycle} of {number}", cycle=found.cycle + 1, number=len({cycle.cycle for cycle in card.cycles})
        )
    else:
        where = tr(
            "after cycle {cycle} of {number}", cycle=found.cycle, number=len({cycle.cycle for cycle in card.cycles})
        )
    until = tr("; until then it was even") if len(card.told) == 1 else ""
    return tr("You stopped {where}{until}. Go through to the end, slower if need be.", where=where, until=until)


def _tell_half(_card: Scorecard, found: Finding) -> str:
    return tr(
        "You are about half a cycle off the count ({by_ms:.0f} ms {way}): the movement itself is there, start it "
        "on the other half.",
        by_ms=abs(found.by_ms),
        way=say_way(found.by_ms),
    )


def _tell_drift(_card: Scorecard, found: Finding) -> str:
    way = tr("slow down") if found.ratio > 1 else tr("speed up")
    change = tr("{ratio:.1%} from the first cycle to the last", ratio=abs(found.ratio - 1))
    return tr("You {way} as you go: {change}. Keep the last like the first.", way=way, change=change)


def _tell_lag(card: Scorecard, found: Finding) -> str:
    """A moment, or a hand, is off its place in every cycle."""
    late = found.by_ms > 0
    advice = tr("let it come sooner") if late else tr("wait for it")
    if not found.moment:
        hand = say_hand(found.hand)
        return tr(
            "{hand}{hand_2} comes too {way} in every cycle ({by_ms:.0f} ms beside the other): {advice}.",
            hand=hand[0].upper(),
            hand_2=hand[1:],
            way=say_way(found.by_ms),
            by_ms=abs(found.by_ms),
            advice=advice,
        )
    kinds = {(c.hand, label): kind for c in card.cycles for label, kind in zip(c.labels, c.kinds, strict=True)}
    what = say_moment(card, found.hand, found.moment, kinds.get((found.hand, found.moment), "moment"))
    numbers = tr("{by_ms:.0f} ms {way}", by_ms=abs(found.by_ms), way=say_way(found.by_ms))
    for lag in card.lags:
        if (lag.of, lag.label) == (found.hand, found.moment):
            numbers += tr("; {degrees:.0f}° instead of {asked:.0f}°", degrees=lag.lag.degrees, asked=lag.asked)
            numbers += tr(" ± {half_interval:.0f}°, {n} cycles", half_interval=lag.lag.half_interval, n=lag.lag.n)
    return tr(
        "{what}{what_2} comes too {way} in every cycle ({numbers}): {advice}.",
        what=what[0].upper(),
        what_2=what[1:],
        way=say_way(found.by_ms),
        numbers=numbers,
        advice=advice,
    )


def _tell_all(card: Scorecard, found: Finding) -> str:
    bias = card.measures["bias_ms"]
    known = bias.value * found.by_ms > 0
    numbers = tr("{value:.0f} ms", value=abs(bias.value if known else found.by_ms))
    if known and bias.low * bias.high > 0:
        low, high = sorted((abs(bias.low), abs(bias.high)))
        numbers += tr(", between {low:.0f} and {high:.0f}", low=low, high=high)
    other = "earlier" if found.by_ms > 0 else "later"
    rest = tr("It is even, and all of it") if len(card.told) == 1 else tr("All of it")
    setup = tr("keyboard and loudspeaker may be a part of that; ") if _lacks_setup(card) else ""
    return tr(
        "{rest} is {way} ({numbers}): {setup}move the whole of it {other}.",
        rest=rest,
        way=say_way(found.by_ms),
        numbers=numbers,
        setup=setup,
        other=other,
    )


def _tell_broken(card: Scorecard, found: Finding) -> str:
    broken = len({cycle.cycle for cycle in card.flagged})
    number = len({cycle.cycle for cycle in card.cycles})
    if broken == 1:
        rest = tr(" The others are even.")
    elif broken <= FEW_BROKEN * number:
        rest = tr(" {broken} more of {number} cycles broke; the others are even.", broken=broken - 1, number=number)
    else:
        rest = tr(" {broken} of {number} cycles broke: slow down until none does.", broken=broken, number=number)
    return tr("Look at {where}.{rest}", where=_tell_where(card, found), rest=rest)


def _tell_where(card: Scorecard, found: Finding) -> str:
    row = next(
        (cycle for cycle in card.flagged if cycle.cycle == found.cycle and found.hand in ("", cycle.hand)),
        card.flagged[0],
    )
    mine = [cycle for cycle in card.cycles if cycle.cycle == row.cycle]
    if row.flags[0].kind == "missed" and all(math.isnan(a) for cycle in mine for a in cycle.asynchronies):
        return tr("{place}: all of it was missed", place=tell_place(card, row, row.flags[0]))
    return tell_cycle(card, row)


def _tell_too_few(card: Scorecard, cycles: int) -> str:
    named = next((found for found in card.told if found.kind in FLAGGED and not math.isnan(found.by_ms)), None)
    mistaken = (
        tr(" One thing cannot be mistaken: {where}.", where=_tell_where(card, named)) if named and card.flagged else ""
    )
    are = tr("1 cycle is") if cycles == 1 else tr("{cycles} cycles are", cycles=cycles)
    return tr(
        "{are} too few to tell what is usual: do {enough_cycles} or more in a row.{mistaken}",
        are=are,
        enough_cycles=ENOUGH_CYCLES,
        mistaken=mistaken,
    )


SENTENCES: dict[str, Callable[[Scorecard, Finding], str]] = {
    "no_rhythm": _tell_no_rhythm,
    "other_tempo": _tell_tempo,
    "hands_swapped": _tell_swapped,
    "late_entry": _tell_entry,
    "stopped": _tell_stopped,
    "half_cycle_off": _tell_half,
    "drifting": _tell_drift,
    "lag_off": _tell_lag,
    "all_late": _tell_all,
    "all_early": _tell_all,
    **dict.fromkeys(FLAGGED, _tell_broken),
}
#: Findings of which each is all of it shifted by the same.
SHIFTED = frozenset({"all_late", "all_early", "late_entry", "slipped", "half_cycle_off"})
#: How else the same onsets come about.
OTHERWISE = {
    "even": "nothing is off but the circle it began with",
    "hands_swapped": "the hands are swapped",
    "half_cycle_off": "all of it is half a cycle off",
    **dict.fromkeys(SHIFTED - {"half_cycle_off"}, "all of it is earlier or later by part of a cycle"),
    "missed": "every second one is left out",
    "extra": "there are two for each one",
    "lag_off": "one hand is off its place",
}
#: What explains a take nearly as well where something broke.
NEARLY = {
    "long": "the whole cycle was longer",
    "short": "the whole cycle was shorter",
    "late": "one moment alone was late",
    "early": "one moment alone was early",
    "hesitated": "you hesitated for just so long",
    "slipped": "you slipped by part of the cycle",
}


# --- where nothing broke ---------------------------------------------------------------------------------------------


def _step(card: Scorecard) -> float:
    """Seconds asked from one moment of a hand to its next one: the middle of them."""
    moments = card.plan.moments
    steps = [np.diff(moments.time[moments.of_hand(hand)]) for hand in card.plan.hands]
    return float(np.median(np.concatenate(steps))) if any(map(len, steps)) else asked_period(card)


def _tell_even(card: Scorecard) -> str:
    """Return that nothing broke, how sure the place in the music is, and what comes next."""
    said = f"{_say_even(card)} {tr('Fewer cues next.') if is_steady(card) else tr('Again, with the cues as they are.')}"
    doubtful = [found for found in card.findings if found.is_doubtful and found.confidence >= SAID_FROM]
    likeliest = max(doubtful, key=lambda found: found.confidence, default=None)
    return f"{said} {_say_doubtful(card, likeliest)}".rstrip() if likeliest else said


def _say_doubtful(card: Scorecard, found: Finding) -> str:
    """Return what may have happened in a cycle and is not sure enough to call it broken; empty of anything else."""
    rows = [cycle for cycle in card.cycles if cycle.cycle == found.cycle and found.hand in ("", cycle.hand)]
    if not is_flagged(found.kind) or not rows:
        return ""
    row = next((cycle for cycle in rows if found.moment in cycle.labels), rows[0])
    flag = Flag(found.kind, found.moment, found.by_ms / 1000, bool(found.hand) and len(card.plan.hands) > 1)
    other = [tr(", or {kind}", kind=tr(NEARLY[kind])) for kind in found.same_as if kind in NEARLY]
    return tr(
        "Perhaps, but chance does as much: {cycle}{names}.",
        cycle=tell_cycle(card, replace(row, flags=(flag,))),
        names="".join(other),
    )


def _say_even(card: Scorecard) -> str:
    cv, spread = card.value("period_cv_pct"), card.value("spread_ms")
    if "cycles" in card.notes:
        return tr(
            "Whether a single cycle broke cannot be told from this film; as it was seen, cycles differ by {cv:.1f} "
            "%, moments by {spread:.0f} ms. Put the phone on something, or show more of the hall.",
            cv=cv,
            spread=spread,
        )
    even = (
        tr("moments by {spread:.0f} ms", spread=spread)
        if math.isnan(cv)
        else tr("cycles differ by {cv:.1f} %, moments by {spread:.0f} ms", cv=cv, spread=spread)
    )
    bias = card.measures["bias_ms"]
    if math.isnan(bias.value):
        return tr("Even: {even}. How early or late all of it was cannot be told here.", even=even)
    if _lacks_setup(card):
        return tr("Even: {even}. How far from the music depends on keyboard and loudspeaker too.", even=even)
    if math.isnan(bias.low):
        return tr("Even: {even}. Whether early or late cannot be told from so little.", even=even)
    within = max(card.plan.allowance, HEARD) * _step(card)
    if -max(within, EARLY_FROM) <= bias.low / 1000 and bias.high / 1000 <= max(within, LATE_FROM):
        return tr("Even and in time: {even}.", even=even)
    between = tr("between {ms} and {ms_2}", ms=_say_ms(bias.low), ms_2=_say_ms(bias.high))
    if bias.low > 0 or bias.high < 0:
        return tr(
            "Even: {even}; a little {way} ({value:.0f} ms, {between}).",
            even=even,
            way=say_way(bias.value),
            value=abs(bias.value),
            between=between,
        )
    cycles = len({cycle.cycle for cycle in card.cycles})
    return tr(
        "Even: {even}. Whether early or late cannot be told from {cycles} cycles ({between}).",
        even=even,
        cycles=cycles,
        between=between,
    )


def _lacks_setup(card: Scorecard) -> bool:
    """Whether an unknown delay of keyboard and loudspeaker is in every onset."""
    return OBSERVERS[card.observed_by].is_pressed and not card.calibrated


def _say_ms(ms: float) -> str:
    return tr("{ms:.0f} ms late", ms=abs(ms)) if ms > 0 else tr("{ms:.0f} ms early", ms=abs(ms))


def _tell_better(card: Scorecard, previous: Scorecard) -> str:
    if not tells_lateness(previous) or compare_takes(card, previous) <= 0:
        return ""
    before, now = (100 * measure_scatter(each.plan, each.asynchrony).size for each in (previous, card))
    return tr(
        "Better: your cycles are more even; they scattered by {before:.1f} % before and by {now:.1f} % now.",
        before=before,
        now=now,
    )
