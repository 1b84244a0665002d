"""A trace in words and as plain values, alone and beside what a drill teaches."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import in_english, tr, tr_as
from tempo_coach.observe.trace.sizes import measure_circles, measure_cycles
from tempo_coach.report.words.amounts import join_words, several
from tempo_coach.report.words.circle_sizes import ratio_to_dict, tell_ratio
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.report.words.tossed import flight_to_dict, say_flight
from tempo_coach.score.trace.study import SURE

if TYPE_CHECKING:
    from tempo_coach.observe.trace.rhythm import Rhythm
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.observe.trace.tracked_body import TrackedBody
    from tempo_coach.observe.trace.uneven import Uneven
    from tempo_coach.pattern.drill.pattern import Pattern
    from tempo_coach.score.trace.body_lag import BodyLag
    from tempo_coach.score.trace.study import Study

#: What columns can be whose names do not say it, by quantity and unit.
COLUMNS = {
    ("position", "m"): "positions in m",
    ("position", "cm"): "positions in cm",
    ("position", "mm"): "positions in mm",
    ("position", "px"): "positions in pixels",
    ("acceleration", "g"): "accelerations in g",
    ("acceleration", "m/s2"): "accelerations in m/s²",
    ("rotation", "deg/s"): "turning rates in degrees a second",
    ("rotation", "rad/s"): "turning rates in radians a second",
}
#: Part of a period within which another estimate of it is the same level.
SAME_LEVEL = 0.06
_NUMBERS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}
#: Of cycles and circles that stand out by their size, and of circles missing or in excess, with their number if known.
_SIZE_WORDS = {
    ("bigger", "cycles"): "cycles {first} to {last} are up to {change:.0f} % bigger than their neighbours, {where}",
    ("smaller", "cycles"): "cycles {first} to {last} are up to {change:.0f} % smaller than their neighbours, {where}",
    ("bigger", "cycle"): "cycle {first} is {change:.0f} % bigger than its neighbours, {where}",
    ("smaller", "cycle"): "cycle {first} is {change:.0f} % smaller than its neighbours, {where}",
    ("bigger", "circle"): "circle {circle} of cycle {first} is {change:.0f} % bigger than its neighbours, {where}",
    ("smaller", "circle"): "circle {circle} of cycle {first} is {change:.0f} % smaller than its neighbours, {where}",
}
_NUMBER_WORDS = {
    ("missed", False): "cycle {first}: a circle is missing, {where}",
    ("missed", True): "cycle {first}: a circle is missing ({circles} in it), {where}",
    ("extra", False): "cycle {first}: a circle too many, {where}",
    ("extra", True): "cycle {first}: a circle too many ({circles} in it), {where}",
}
_SENSES = {1: "against the clock", -1: "with the clock", 0: "to and fro"}
#: Parts of the carrying cycle from its low point, up to the one given: common practice's words for the arm.
_WORDS = (
    (0.06, "at the bottom"),
    (0.2, "as it starts up"),
    (0.34, "half-way up"),
    (0.44, "as it is almost up"),
    (0.56, "at the top"),
    (0.7, "as it starts down"),
    (0.84, "half-way down"),
    (0.94, "as it is almost down"),
    (1.0, "at the bottom"),
)


@in_english
def study_to_dict(found: Study, trace: Trace) -> dict[str, object]:
    """Return all results as plain values."""
    cycles = found.bodies[0].cycles if found.bodies else None
    out: dict[str, object] = {
        "understood": [say_reason(note) for note in trace.notes],
        "rate_hz": round(trace.rate_hz, 4),
        "period_s": round(_period(found.bodies[0]), 6) if found.bodies else None,
        "period_confidence": round(cycles.rhythm.confidence, 3) if cycles else None,
        "period_could_be_s": [round(other, 6) for other in cycles.rhythm.alternatives] if cycles else [],
        "levels": _levels(cycles.rhythm) if cycles else [],
        "cycle_count": cycles.number if cycles else 0,
        "cycles": [round(float(time), 6) for time in cycles.time] if cycles else [],
        "bouts": [[round(float(a), 3), round(float(b), 3)] for a, b in cycles.span] if cycles else [],
        "circles": [
            {"time": round(float(time), 6), "place": round(float(place), 4), "part": body.name}
            for body in found.bodies
            for time, place in zip(body.circles.time, body.circles.place, strict=True)
        ],
        "places": [{"at": round(p.at, 4), "sd": round(p.sd, 4), "n": p.n} for p in found.places],
        "lags": [_lag_to_dict(lag) for lag in found.lags],
        "rotations": [rotation for body in found.bodies for rotation in _rotations(body)],
        "flights": [flight_to_dict(tossed) for tossed in found.tossed],
        "sizes": [sizes for body in found.bodies for sizes in _sizes(body)],
        "size_ratios": [ratio_to_dict(each) for each in found.size_ratios],
        "flags": [_flag_to_dict(name, flag) for name, flag in found.uneven],
        "left_out": [say_reason(reason) for reason in found.left_out],
    }
    return out


def _levels(rhythm: Rhythm) -> list[dict[str, object]]:
    """Return every period that may be the cycle or is carried by it, the shortest first.

    With how alike each is to the next, that against the best at a longer lag, and the energy at this period or faster.
    """
    told = (rhythm.period, rhythm.inner, *rhythm.alternatives)
    found = [each for each in rhythm.candidates if any(abs(each.period - one) < SAME_LEVEL * one for one in told)]
    return [
        {
            "period_s": round(each.period, 6),
            "is_cycle": abs(each.period - rhythm.period) < SAME_LEVEL * rhythm.period,
            "alike": round(each.similarity, 3),
            "alike_relative": round(each.relative, 3),
            "energy_share": round(each.share, 3),
        }
        for each in found
    ]


def _say_levels(rhythm: Rhythm) -> list[str]:
    """Return every level in one line, where there is more than one."""
    levels = _levels(rhythm)
    if len(levels) < 2:
        return []
    told = [
        tr(
            "{period:.3f} s ({alike:.0%} alike), the cycle"
            if level["is_cycle"]
            else "{period:.3f} s ({alike:.0%} alike)",
            period=level["period_s"],
            alike=level["alike"],
        )
        for level in levels
    ]
    return [tr("it repeats every {levels}", levels="; ".join(told))]


def format_study(found: Study, trace: Trace, *, taught: str = "") -> str:
    """Return the results as sentences, the most useful ones first."""
    lines = [tr("read: {reason}", reason=say_reason(note)) for note in trace.notes]
    lines += _say_main(found, taught) if found.bodies else []
    lines += [_say_rotation(values) for body in found.bodies for values in _rotations(body)]
    lines += [_say_lag(lag) for lag in found.lags]
    lines += [tell_ratio(ratio) for ratio in found.size_ratios if ratio.differs]
    lines += [say_flight(tossed) for tossed in found.tossed]
    lines += [tr("{name}: {said}", name=tr(name), said=say_uneven(flag)) for name, flag in found.uneven]
    if found.bodies and not found.uneven and all(m.cycles.rhythm.confidence >= SURE for m in found.bodies):
        lines.append(tr("no cycle stands out from the others"))
    lines += _say_levels(found.main.cycles.rhythm) if found.bodies else []
    lines += [tr("not found: {reason}", reason=say_reason(reason)) for reason in found.left_out]
    return "\n".join(lines)


def _say_main(found: Study, taught: str) -> list[str]:
    """Return the number of circles and cycles, their steadiness, and the phases of the circles."""
    main = found.main
    period = _period(main)
    count = main.circles.time.size
    spread = 100 * float(np.std(main.cycles.periods, ddof=1)) / period if main.cycles.periods.size > 1 else math.nan
    said = tr(
        "{circles} in {cycles} of {period:.3f} s"
        if main.circles.carried
        else "{circles}, {cycles} of {period:.3f} s"
        if count
        else "{cycles} of {period:.3f} s",
        circles=several(count, "circle"),
        cycles=several(main.cycles.number, "cycle"),
        period=period,
    )
    if math.isfinite(spread):
        said = tr("{said}, periods within {spread:.1f} %", said=said, spread=spread)
    lines = [tr("{name}: {said}", name=tr(main.name), said=said)]
    if main.cycles.rhythm.confidence < SURE:
        others = (
            join_words(
                (tr("{period:.3f} s", period=other) for other in main.cycles.rhythm.alternatives), "{first} or {second}"
            )
            if main.cycles.rhythm.alternatives
            else tr("another period")
        )
        lines.append(tr("the period is not sure: it could be {others}; --period S decides", others=others))
    if len(main.cycles.span) > 1:
        lines.append(tr("{number} bouts with pauses between them", number=len(main.cycles.span)))
    if found.places:
        # a circle at the low point falls now just before it and now just after: it is told first all the same
        order = sorted(found.places, key=lambda place: (place.at + 1 - _WORDS[-2][0]) % 1)
        done = ", ".join(
            tr("one at {at} % {place}", at=round(100 * place.at) % 100, place=say_place(place.at)) for place in order
        )
        lines.append(
            tr("taught: {taught}; this take: {done} (0 % is the cycle's low point)", taught=taught, done=done)
            if taught
            else tr("this take: {done} (0 % is the cycle's low point)", done=done)
        )
    return lines


def say_taught(pattern: Pattern) -> str:
    """Return the number of circles that a drill teaches in each phase of its first hand.

    Examples
    --------
    >>> from tempo_coach.coach import load_drill
    >>> say_taught(load_drill("rope_figure_eight").pattern)
    'one while low, two while high'
    """
    told = []
    for phase in pattern.phases:
        count = sum(phase.start - 1e-9 <= moment.at < phase.end - 1e-9 for moment in pattern.hands[0].moments)
        if count:
            told.append(
                tr("{get} while {name}", get=tr(_NUMBERS.get(count, str(count))), name=tr_as("phase", phase.name))
            )
    return ", ".join(told) or tr("{number} a cycle", number=len(pattern.hands[0].moments))


def say_place(at: float) -> str:
    """Return a phase of the arm's cycle in a coach's words.

    Examples
    --------
    >>> say_place(0.41), say_place(0.62)
    ('as it is almost up', 'as it starts down')
    """
    return tr(next(words for limit, words in _WORDS if at % 1 <= limit))


def say_uneven(flag: Uneven) -> str:
    """Return which cycle broke, and how."""
    first, last = flag.first + 1, flag.last + 1
    where = tr("from {start:.2f} to {end:.2f} s", start=flag.start, end=flag.end)
    if flag.kind == "irregular":
        return tr("cycles {first} to {last} are irregular, {where}", first=first, last=last, where=where)
    if flag.kind in ("missed", "extra"):
        form = _NUMBER_WORDS[flag.kind, flag.circles is not None]
        return tr(form, first=first, circles=flag.circles, where=where)
    change = 100 * abs(flag.ratio - 1)
    if flag.kind in ("bigger", "smaller"):
        if last > first:
            form = _SIZE_WORDS[flag.kind, "cycles"]
            return tr(form, first=first, last=last, change=change, where=where)
        form = _SIZE_WORDS[flag.kind, "cycle" if flag.circle is None else "circle"]
        return tr(form, first=first, circle=flag.circle, change=change, where=where)
    return tr(
        "cycle {first} is {change:.0f} % longer than its neighbours, {where}"
        if flag.kind == "long"
        else "cycle {first} is {change:.0f} % shorter than its neighbours, {where}",
        first=first,
        change=change,
        where=where,
    )


def _period(body: TrackedBody) -> float:
    periods = body.cycles.periods
    return float(np.median(periods)) if periods.size else body.cycles.rhythm.period


def _plain(number: float, digits: int) -> float | None:
    return round(number, digits) if math.isfinite(number) else None


def _lag_to_dict(lag: BodyLag) -> dict[str, object]:
    value = lag.lag
    half = value.half_interval
    return {
        "of": lag.of,
        "to": lag.to,
        "asked_deg": _plain(lag.asked_deg, 3),
        "deg": _plain(value.degrees, 4),
        "ms": _plain(1000 * value.seconds, 3),
        "sd_deg": _plain(value.sd, 4),
        "R": _plain(value.resultant, 6),
        "n": value.n,
        "ci95_deg": [_plain(value.degrees - half, 4), _plain(value.degrees + half, 4)] if math.isfinite(half) else None,
        "reason": say_reason(lag.reason),
        "caution": say_reason(lag.caution),
        "level": lag.level,
    }


def _flag_to_dict(name: str, flag: Uneven) -> dict[str, object]:
    return {
        "part": name,
        "kind": flag.kind,
        "cycle": flag.first,
        "to_cycle": flag.last,
        "start": round(flag.start, 4),
        "end": round(flag.end, 4),
        "ratio": round(flag.ratio, 4),
        "words": say_uneven(flag),
    }


def _rotations(body: TrackedBody) -> list[dict[str, object]]:
    if not body.circles.separations:
        return []
    return [
        {
            "part": body.name,
            "small_hz": round(float(each.small[-1] - each.small[0]) / float(end - start), 4),
            "big_hz": round(float(each.carrying[-1] - each.carrying[0]) / float(end - start), 4),
            "small_phase_deg": round(float(each.small[0]) % 1 * 360, 2),
            "big_phase_deg": round(float(each.carrying[0]) % 1 * 360, 2),
            "from_s": round(float(start), 4),
            "circles_in_room": round(each.in_room, 3),
            "circles_on_arm": _plain(each.on_arm, 3),
            "small_radius": round(each.small_radius, 5),
            "big_radii": [round(radius, 5) for radius in each.carrying_radii],
            "small_sense": each.small_sense,
            "big_sense": each.carrying_sense,
            "separable": not each.reasons,
            "reasons": [say_reason(reason) for reason in each.reasons],
        }
        for each, (start, end) in zip(body.circles.separations, body.cycles.span, strict=True)
    ]


def _sizes(body: TrackedBody) -> list[dict[str, object]]:
    sizes = measure_circles(body) or measure_cycles(body)
    if sizes is None:
        return []
    radii = [_plain(float(radius), 5) for radius in sizes.radius]
    return [{"part": body.name, "unit": body.trace.unit, "times": sizes.time.round(6).tolist(), "radii": radii}]


def _say_rotation(values: dict[str, object]) -> str:
    if values["reasons"]:
        return tr(
            "small and big movement cannot be told apart safely: {names}",
            names="; ".join(map(str, values["reasons"])),  # type: ignore[call-overload]  # a list of sentences
        )
    small, big = tr(_SENSES[int(str(values["small_sense"]))]), tr(_SENSES[int(str(values["big_sense"]))])
    if values["circles_on_arm"] is None:
        return tr(
            "{circles_in_room:.2f} small circles a big cycle, seen edge on: no turning shows",
            circles_in_room=values["circles_in_room"],
        )
    return tr(
        "{circles_in_room:.2f} small circles ({small}) a big cycle ({big}) in the room, {circles_on_arm:.2f} as "
        "the arm feels them",
        circles_in_room=values["circles_in_room"],
        small=small,
        big=big,
        circles_on_arm=values["circles_on_arm"],
    )


def _say_lag(lag: BodyLag) -> str:
    value = lag.lag
    if lag.reason:
        why = say_reason(lag.reason)
        return tr(
            "by how much {of} trails {to} cannot be told: {why} (it varies by {sd:.1f}°)",
            of=tr(lag.of),
            to=tr(lag.to),
            why=why,
            sd=value.sd,
        )
    if value.n == 0 or not math.isfinite(value.degrees):
        return tr("{of} and {to} have no cycles in common", of=tr(lag.of), to=tr(lag.to))
    sure = tr(" ± {half:.1f}°", half=value.half_interval) if math.isfinite(value.half_interval) else ""
    ms = tr(
        "{ms:.0f} ms, {asked_deg:.0f}° asked" if math.isfinite(lag.asked_deg) else "{ms:.0f} ms",
        ms=1000 * value.seconds,
        asked_deg=lag.asked_deg,
    )
    said = tr(
        "{of} trails {to} by {degrees:.1f}°{sure} of a small circle ({ms})"
        if lag.level == "circle"
        else "{of} trails {to} by {degrees:.1f}°{sure} ({ms})",
        of=tr(lag.of),
        to=tr(lag.to),
        degrees=value.degrees,
        sure=sure,
        ms=ms,
    )
    return f"{said}; {say_reason(lag.caution)}" if lag.caution else said
