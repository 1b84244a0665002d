"""What a coach would say: the one thing to work on, and each broken cycle, in words.

Rules, not a model: each looks at one thing, asks whether it is larger than can be heard and larger than chance, and
has one sentence for it. The first that applies is said. See :data:`RULES` for the order.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.pattern.counts import say_count
from tempo_coach.report.let_go import tell_boomerangs, tell_single_boomerangs, tell_throws

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.scorecard import CycleCard, Flag, LagCard, Measure

#: Fewer cycles than this do not show what is usual.
ENOUGH_CYCLES = 8
#: A difference below this share of the interval cannot be heard (Friberg & Sundberg 1995, abstract).
HEARD = 0.025
#: Share of moments without an answer from which on that is the thing to work on.
MANY_MISSED = 0.10
#: Seconds by which people tap ahead of a click without knowing: several tens of ms (Aschersleben 2002, abstract).
USUAL_LEAD_MS = 50.0
#: Share of flagged cycles up to which the rest may be called even.
FEW_BROKEN = 0.25


def tell(card: Scorecard, previous: Scorecard | None = None) -> str:
    """Return the one thing to work on, as a coach says it, with the numbers it rests on.

    Parameters
    ----------
    card : Scorecard
    previous : Scorecard or None
        An earlier take; what became better beyond chance is said first.
    """
    praise = _tell_better(card, previous) if previous is not None else ""
    for rule in RULES:
        said = rule(card)
        if said:
            return f"{praise} {said}".strip()
    return f"{praise} {_tell_good(card)}".strip()


def tell_cycle(card: Scorecard, cycle: CycleCard) -> str:
    """Return what is wrong with a cycle and where it lies in the music; empty where nothing is.

    Cycles are counted from 1, as people do.
    """
    if not cycle.flags:
        return ""
    first = cycle.flags[0]
    place = card.plan.place(_position(cycle, first))
    said = "; ".join(_tell_flag(card, cycle, flag) for flag in cycle.flags)
    return f"cycle {cycle.cycle + 1}, eight {place.eight} count {say_count(place.count - 1)}: {said}"


def _position(cycle: CycleCard, flag: Flag) -> float:
    return cycle.positions[cycle.labels.index(flag.label)] if flag.label in cycle.labels else cycle.positions[0]


def _tell_flag(card: Scorecard, cycle: CycleCard, flag: Flag) -> str:
    what = _name_moment(
        card, cycle.hand, flag.label, dict(zip(cycle.labels, cycle.kinds, strict=True)).get(flag.label, "")
    )
    if flag.kind in ("long", "short"):
        whose = f" of {_the(cycle.hand)}" if len(card.plan.hands) > 1 else ""
        asked = cycle.period / cycle.ratio
        return f"the cycle{whose} was {abs(flag.by) / asked:.0%} too {flag.kind} ({abs(flag.by) * 1000:.0f} ms)"
    if flag.kind == "missed":
        return f"{what} was missed"
    if flag.kind == "extra":
        return f"one too many with {_the(cycle.hand)}" if len(card.plan.hands) > 1 else "one too many"
    return f"{what} came {abs(flag.by) * 1000:.0f} ms {flag.kind}"


def _the(hand: str) -> str:
    return f"the {hand} hand" if hand in ("left", "right") else f"the {hand}"


def _name_moment(card: Scorecard, hand: str, label: str, kind: str) -> str:
    whose = f"{hand} " if len(card.plan.hands) > 1 else ""
    if label in ("", kind):
        return f"the {whose}{kind or 'moment'}"
    return f"the {whose}{kind or 'moment'} “{label}”"


# --- the rules ------------------------------------------------------------------------------------------------------


def _tell_nothing(card: Scorecard) -> str:
    if not card.measures["bias_ms"].n:
        return (
            "Nothing to tell: no onset comes near any moment of the plan. Check that the two belong together and begin "
            "at the same instant."
        )
    return ""


def _tell_slip(card: Scorecard) -> str:
    matching = card.notes.get("matching", "")
    if "half a cycle off" in matching:
        return (
            f"You are about half a cycle off the count ({abs(card.value('bias_ms')):.0f} ms): "
            "the movement itself is there, start it on the other half."
        )
    if "whole cycle" in matching:
        way = "late" if " late" in matching else "early"
        return f"You came in a whole cycle {way}: count the lead-in aloud and start on the one."
    return ""


def _tell_tempo(card: Scorecard) -> str:
    ratio = card.measures["period_ratio_mean"]
    if math.isnan(ratio.value) or abs(ratio.value - 1) <= _allowance(card) or not _sure(ratio, 1.0):
        return ""
    if ratio.value < 1:
        return f"You run ahead of the count: your cycles are {1 - ratio.value:.1%} short on average. Wait for the ones."
    return f"You fall behind the count: your cycles are {ratio.value - 1:.1%} long on average. Stay with the ones."


def _tell_too_few(card: Scorecard) -> str:
    number = len({cycle.cycle for cycle in card.cycles if not all(math.isnan(a) for a in cycle.asynchronies)})
    if number >= ENOUGH_CYCLES:
        return ""
    broken = _worst(card, displaced=True)
    named = f" One thing cannot be mistaken: {tell_cycle(card, broken)}." if broken else ""
    cycles = "1 cycle is" if number == 1 else f"{number} cycles are"
    return f"{cycles} too few to tell what is usual: do {ENOUGH_CYCLES} or more in a row.{named}"


def _tell_missed(card: Scorecard) -> str:
    asked = len(card.missed) + card.measures["bias_ms"].n
    if len(card.missed) < MANY_MISSED * asked:
        return ""
    return (
        f"{len(card.missed)} of {asked} moments are missing: take it slower, with every cue, until each one is there."
    )


def _tell_lag(card: Scorecard) -> str:
    """One moment is off its place in every cycle."""
    worst: tuple[float, LagCard] | None = None
    for lag in card.lags:
        error = abs(lag.lag.error)
        if math.isnan(error) or math.isnan(lag.lag.half_interval) or error <= lag.lag.half_interval:
            continue
        if error / 360 > _allowance(card) and (worst is None or error > worst[0]):
            worst = (error, lag)
    if worst is None:
        return ""
    lag = worst[1]
    off = abs(lag.lag.error) / 360 * card.value("period_mean_ms")
    late = lag.lag.error > 0
    kinds = {(c.hand, label): kind for c in card.cycles for label, kind in zip(c.labels, c.kinds, strict=True)}
    what = _name_moment(card, lag.of, lag.label, kinds.get((lag.of, lag.label), "moment"))
    numbers = f"{off:.0f} ms {'late' if late else 'early'}; {lag.lag.degrees:.0f}° instead of {lag.asked:.0f}°"
    spread = f"± {lag.lag.half_interval:.0f}°, {lag.lag.n} cycles"
    advice = "let it come sooner" if late else "wait for it"
    what = what[0].upper() + what[1:]
    return f"{what} comes too {'late' if late else 'early'} in every cycle ({numbers} {spread}): {advice}."


def _tell_broken(card: Scorecard) -> str:
    worst = _worst(card)
    if worst is None:
        return ""
    broken = len({cycle.cycle for cycle in card.flagged})
    number = len({cycle.cycle for cycle in card.cycles})
    rest = ""
    if broken == 1:
        rest = " The others are even."
    elif broken <= FEW_BROKEN * number:
        rest = f" {broken - 1} more of {number} cycles broke; the others are even."
    else:
        rest = f" {broken} of {number} cycles broke: slow down until none does."
    told = tell_cycle(card, worst)
    return f"Look at {told}.{rest}"


def _tell_drift(card: Scorecard) -> str:
    drift = card.measures["drift_pct_per_cycle"]
    whole = abs(drift.value) * drift.n / 100
    if math.isnan(drift.value) or not _sure(drift, 0.0) or whole <= _allowance(card):
        return ""
    way = "slow down" if drift.value > 0 else "speed up"
    return f"You {way} as you go: {whole:.1%} over {drift.n} cycles. Keep the last cycle like the first."


def _tell_bias(card: Scorecard) -> str:
    bias = card.measures["bias_ms"]
    asked = card.value("period_mean_ms") / card.value("period_ratio_mean")
    if math.isnan(asked) or abs(bias.value) <= _allowance(card) * asked or not _sure(bias, 0.0):
        return ""
    tapped = card.observed_by in ("tap", "coach's tap")
    if tapped and -USUAL_LEAD_MS <= bias.value < 0:
        return ""
    way = "early" if bias.value < 0 else "late"
    numbers = f"{abs(bias.value):.0f} ms, between {min(abs(bias.low), abs(bias.high)):.0f} and "
    numbers += f"{max(abs(bias.low), abs(bias.high)):.0f}"
    other = "later" if way == "early" else "earlier"
    return f"It is even, and all of it is {way} ({numbers}): move the whole of it {other}."


#: In this order; the first that has something to say is what is said.
RULES: tuple[Callable[[Scorecard], str], ...] = (
    _tell_nothing,
    _tell_slip,
    _tell_too_few,
    _tell_missed,
    _tell_tempo,
    tell_throws,
    tell_boomerangs,
    _tell_lag,
    _tell_broken,
    _tell_drift,
    _tell_bias,
    tell_single_boomerangs,
)


def _tell_good(card: Scorecard) -> str:
    cv = card.value("period_cv_pct")
    if math.isnan(cv):
        return f"In time: {card.value('spread_ms'):.0f} ms of spread. Fewer cues next."
    return (
        f"Even and in time: cycles differ by {cv:.1f} %, moments by {card.value('spread_ms'):.0f} ms. Fewer cues next."
    )


def _tell_better(card: Scorecard, previous: Scorecard) -> str:
    for name, noun, unit in (
        ("period_cv_pct", "your cycles are more even", "%"),
        ("spread_ms", "you are steadier", "ms"),
    ):
        now, before = card.measures[name], previous.measures[name]
        if now.value < before.value and _beyond_chance(now, before):
            return f"Better: {noun}, {before.value:.1f} {unit} before and {now.value:.1f} {unit} now."
    return ""


def _beyond_chance(one: Measure, other: Measure) -> bool:
    """Whether two spreads differ by more than both of their intervals allow, on a logarithmic scale."""
    if any(not bound > 0 for bound in (one.low, one.high, other.low, other.high, one.value, other.value)):
        return False
    room = math.hypot(math.log(one.high / one.value), math.log(other.value / other.low))
    return abs(math.log(other.value / one.value)) > room


def _sure(measure: Measure, neutral: float) -> bool:
    """Whether the interval of a measure leaves out the value that means nothing."""
    return not math.isnan(measure.low) and not measure.low <= neutral <= measure.high


def _allowance(card: Scorecard) -> float:
    return max(card.plan.allowance, HEARD)


def _worst(card: Scorecard, *, displaced: bool = False) -> CycleCard | None:
    """The cycle that broke most: by time, missed and extra moments behind those (or, on request, not at all)."""

    def size(cycle: CycleCard) -> float:
        return max((abs(flag.by) for flag in cycle.flags if not math.isnan(flag.by)), default=0.0)

    worst = max(card.flagged, key=size, default=None)
    return None if worst is None or (displaced and size(worst) == 0) else worst
