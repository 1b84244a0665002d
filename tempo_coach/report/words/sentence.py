"""A coach's sentence: the one thing to work on.

A sentence is made of the findings (:mod:`tempo_coach.score.faults.findings`), the first one first, with the numbers
that it rests on. What gives the same onsets is said with it, and nothing is told as known that is not.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr, tr_n
from tempo_coach.report.words.amounts import begin, join_words
from tempo_coach.report.words.broken import (
    say_counts,
    tell_cycle,
    tell_place,
)
from tempo_coach.report.words.even import NEARLY, lacks_setup, say_ms, tell_even
from tempo_coach.report.words.flights import tell_boomerangs, tell_single_boomerangs, tell_throws
from tempo_coach.report.words.moments import say_hand, say_moment
from tempo_coach.report.words.places import tells_figures, tells_lateness
from tempo_coach.report.words.run_throughs import tell_sections
from tempo_coach.score.measures.steadiness import compare_takes, measure_scatter
from tempo_coach.score.scorecard import FLAGGED

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.faults.findings import Finding

#: Fewer cycles than this do not show what is usual.
ENOUGH_CYCLES = 8
#: Share of broken cycles up to which the rest may be called even.
FEW_BROKEN = 0.25
#: Confidence under which a finding is said with "perhaps".
PERHAPS = 0.7
#: Findings that are of the whole take and come before what is let go and caught.
OF_THE_WHOLE = frozenset(
    {"no_rhythm", "other_tempo", "hands_swapped", "late_entry", "stopped", "half_cycle_off", "drifting"}
)
#: Those that are told of a run-through: what else is of the whole there is of a section.
OF_A_RUN_THROUGH = frozenset({"no_rhythm", "other_tempo"})


def tell(card: Scorecard, previous: Scorecard | None = None) -> str:
    """Return the one thing to work on, as a coach says it, with the numbers behind it.

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
        return tr(
            "Nothing to tell: hardly an onset comes near a moment of the plan. Check that the two belong together and "
            "begin at the same instant."
            if answered
            else "Nothing to tell: no onset comes near a moment of the plan. Check that the two belong together and "
            "begin at the same instant."
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
    return tell_single_boomerangs(card) or tell_even(card)


# --- a sentence for each kind of finding ----------------------------------------------------------------------------


def _with_doubt(card: Scorecard, found: Finding) -> str:
    said = SENTENCES[found.kind](card, found)
    nearly = [tr(NEARLY[kind]) for kind in found.same_as if kind in NEARLY]
    if found.confidence < PERHAPS:
        said = tr("Perhaps: {said}", said=said[0].lower() + said[1:])
    if found.kind in FLAGGED and nearly:
        also = tr("It may also be that {nearly}.", nearly=join_words(nearly, "{first} or that {second}"))
        return f"{said} {also}"
    if others := _otherwise(found):
        seen = tr(
            "In this movement the same is seen when {others}.", others=join_words(others, "{first} or when {second}")
        )
        return f"{said} {seen}"
    return said


def _otherwise(found: Finding) -> list[str]:
    """Return other explanations of the same onsets; once only, however the asked ones may have come about."""
    if "even" in found.same_as:
        return [] if found.kind == "late_entry" else [tr(OTHERWISE["even"])]
    kinds = found.same_as
    if found.kind in SHIFTED:
        kinds = tuple(kind for kind in kinds if kind not in SHIFTED)
    elif "half_cycle_off" in kinds:
        kinds = tuple(kind for kind in kinds if kind not in SHIFTED or kind == "half_cycle_off")
    return list(dict.fromkeys(tr(OTHERWISE[kind]) for kind in kinds if kind in OTHERWISE and kind != found.kind))


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
    size = _say_entry(card, found)
    if found.hand:
        said = [
            tr(
                "{hand} came in {size} late." if each.by_counts > 0 else "{hand} came in {size} early.",
                hand=begin(say_hand(each.hand)),
                size=_say_entry(card, each),
            )
            for each in card.told
            if each.kind == found.kind and each.hand
        ]
        return f"{' '.join(said)} {tr('Count the lead-in aloud and start each hand on its own one.')}"
    return tr(
        "You came in {size} late: count the lead-in aloud and start on the one."
        if found.by_counts > 0
        else "You came in {size} early: count the lead-in aloud and start on the one.",
        size=size,
    )


def _say_entry(card: Scorecard, found: Finding) -> str:
    """Return by how much the entry was early or late, in counts or whole cycles."""
    counts = abs(found.by_counts)
    cycles = round(counts / card.plan.cycle_counts)
    whole = cycles >= 1 and abs(counts / card.plan.cycle_counts - cycles) < 0.05
    return tr_n("a whole cycle", "{number} whole cycles", cycles) if whole else say_counts(counts)


def _tell_stopped(card: Scorecard, found: Finding) -> str:
    done = {cycle.cycle for cycle in card.cycles if not all(math.isnan(a) for a in cycle.asynchronies)}
    number = len({cycle.cycle for cycle in card.cycles})
    if not card.placed or found.cycle is None:
        where = tr_n("after 1 cycle", "after {number} cycles", len(done))
    elif found.cycle in done:
        where = tr("in cycle {cycle} of {number}", cycle=found.cycle + 1, number=number)
    else:
        where = tr("after cycle {cycle} of {number}", cycle=found.cycle, number=number)
    return tr(
        "You stopped {where}; until then it was even. Go through to the end, slower if need be."
        if len(card.told) == 1
        else "You stopped {where}. Go through to the end, slower if need be.",
        where=where,
    )


def _tell_half(_card: Scorecard, found: Finding) -> str:
    return tr(
        "You are about half a cycle off the count ({ms:.0f} ms late): the movement itself is there, start it on the "
        "other half."
        if found.by_ms > 0
        else "You are about half a cycle off the count ({ms:.0f} ms early): the movement itself is there, start it on "
        "the other half.",
        ms=abs(found.by_ms),
    )


def _tell_drift(_card: Scorecard, found: Finding) -> str:
    return tr(
        "You slow down as you go: {change:.1%} from the first cycle to the last. Keep the last like the first."
        if found.ratio > 1
        else "You speed up as you go: {change:.1%} from the first cycle to the last. Keep the last like the first.",
        change=abs(found.ratio - 1),
    )


def _tell_lag(card: Scorecard, found: Finding) -> str:
    """Return that a moment, or a hand, is displaced in every cycle."""
    late, ms = found.by_ms > 0, abs(found.by_ms)
    if not found.moment:
        return tr(
            "{hand} comes too late in every cycle ({ms:.0f} ms beside the other): let it come sooner."
            if late
            else "{hand} comes too early in every cycle ({ms:.0f} ms beside the other): wait for it.",
            hand=begin(say_hand(found.hand)),
            ms=ms,
        )
    kinds = {(c.hand, label): kind for c in card.cycles for label, kind in zip(c.labels, c.kinds, strict=True)}
    numbers = say_ms(found.by_ms)
    for lag in card.lags:
        if (lag.of, lag.label) == (found.hand, found.moment):
            numbers = tr(
                "{ms}; {degrees:.0f}° instead of {asked:.0f}° ± {half_interval:.0f}°, {n} cycles",
                ms=numbers,
                degrees=lag.lag.degrees,
                asked=lag.asked,
                half_interval=lag.lag.half_interval,
                n=lag.lag.n,
            )
    return tr(
        "{moment} comes too late in every cycle ({numbers}): let it come sooner."
        if late
        else "{moment} comes too early in every cycle ({numbers}): wait for it.",
        moment=begin(say_moment(card, found.hand, found.moment, kinds.get((found.hand, found.moment), "moment"))),
        numbers=numbers,
    )


def _tell_all(card: Scorecard, found: Finding) -> str:
    bias = card.measures["bias_ms"]
    known = bias.value * found.by_ms > 0
    ms = abs(bias.value if known else found.by_ms)
    numbers = tr("{ms:.0f} ms", ms=ms)
    if known and bias.low * bias.high > 0:
        low, high = sorted((abs(bias.low), abs(bias.high)))
        numbers = tr("{ms:.0f} ms, between {low:.0f} and {high:.0f}", ms=ms, low=low, high=high)
    form = (EVEN_BUT_OFF if len(card.told) == 1 else ALL_OFF)[found.by_ms > 0, lacks_setup(card)]
    return tr(form, numbers=numbers)


def _tell_broken(card: Scorecard, found: Finding) -> str:
    broken = len({cycle.cycle for cycle in card.flagged})
    number = len({cycle.cycle for cycle in card.cycles})
    if found.kind == "extra" and len(card.extra_time) >= len(card.plan.moments):
        return tr(
            "{onsets} onsets for {moments} moments: most of them answer nothing. See whether each movement is tapped, "
            "heard or seen once, and nothing else with it.",
            onsets=len(card.extra_time) + card.measures["bias_ms"].n,
            moments=len(card.plan.moments),
        )
    where = _tell_where(card, found)
    if broken == 1:
        return tr("Look at {where}. The others are even.", where=where)
    return tr(
        "Look at {where}. {more} more of {number} cycles broke; the others are even."
        if broken <= FEW_BROKEN * number
        else "Look at {where}. {broken} of {number} cycles broke: slow down until none does.",
        where=where,
        more=broken - 1,
        broken=broken,
        number=number,
    )


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
    said = tr_n(
        "1 cycle is too few to tell what is usual: do {enough} or more in a row.",
        "{number} cycles are too few to tell what is usual: do {enough} or more in a row.",
        cycles,
        enough=ENOUGH_CYCLES,
    )
    if named and card.flagged:
        said = f"{said} {tr('One thing cannot be mistaken: {where}.', where=_tell_where(card, named))}"
    return said


#: What all of it is, early or late, with keyboard and loudspeaker in it or not: where nothing else is off, and else.
EVEN_BUT_OFF = {
    (True, False): "It is even, and all of it is late ({numbers}): move the whole of it earlier.",
    (False, False): "It is even, and all of it is early ({numbers}): move the whole of it later.",
    (True, True): "It is even, and all of it is late ({numbers}): keyboard and loudspeaker may be a part of that; move "
    "the whole of it earlier.",
    (False, True): "It is even, and all of it is early ({numbers}): keyboard and loudspeaker may be a part of that; "
    "move the whole of it later.",
}
ALL_OFF = {
    (True, False): "All of it is late ({numbers}): move the whole of it earlier.",
    (False, False): "All of it is early ({numbers}): move the whole of it later.",
    (True, True): "All of it is late ({numbers}): keyboard and loudspeaker may be a part of that; move the whole of it "
    "earlier.",
    (False, True): "All of it is early ({numbers}): keyboard and loudspeaker may be a part of that; move the whole of "
    "it later.",
}
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
#: Findings that are each a constant shift of the whole take.
SHIFTED = frozenset({"all_late", "all_early", "late_entry", "slipped", "half_cycle_off"})
#: How else the same onsets come about.
OTHERWISE = {
    "even": "nothing is off but the circle it began with",
    "hands_swapped": "the hands are swapped",
    "half_cycle_off": "all of it is half a cycle off",
    "all_late": "all of it is earlier or later by part of a cycle",
    "all_early": "all of it is earlier or later by part of a cycle",
    "late_entry": "all of it is earlier or later by part of a cycle",
    "slipped": "all of it is earlier or later by part of a cycle",
    "missed": "every second one is left out",
    "extra": "there are two for each one",
    "lag_off": "one hand is off its place",
}


# --- where nothing broke ---------------------------------------------------------------------------------------------


def _tell_better(card: Scorecard, previous: Scorecard) -> str:
    if not tells_lateness(previous) or compare_takes(card, previous) <= 0:
        return ""
    before, now = (100 * measure_scatter(each.plan, each.asynchrony).size for each in (previous, card))
    return tr(
        "Better: your cycles are more even; they scattered by {before:.1f} % before and by {now:.1f} % now.",
        before=before,
        now=now,
    )
