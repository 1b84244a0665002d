"""The report of a take as one HTML page."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.pages import pictures
from tempo_coach.report.pages.page import Figure, Table, legend, render
from tempo_coach.report.words.amounts import begin, join_words, say_decimal, several
from tempo_coach.report.words.broken import say_way, tell_broken
from tempo_coach.report.words.card import say_angle, say_missing, tell_observed
from tempo_coach.report.words.circle_sizes import tell_sizes
from tempo_coach.report.words.measures import NAMES, labelled, say_level
from tempo_coach.report.words.moments import say_flag, say_label
from tempo_coach.report.words.places import (
    begins_of,
    cycles_left_out,
    first_second,
    say_place,
    say_what_is_steady,
    tells_figures,
    tells_lateness,
)
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.report.words.run_throughs import say_details, say_eights, say_verdict
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.measures.steadiness import measure_steadiness
from tempo_coach.score.section_cards import worst_first

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.score.measures.parts import Part
    from tempo_coach.score.measures.timekeeping import Measure
    from tempo_coach.score.scorecard import Scorecard

#: Broken cycles that are told one by one.
MOST_TOLD = 24
#: Columns of the lengths of cycles, behind where they lie.
LENGTHS = ("hand", "ms", "% of asked", "flags")
#: The take in parts, by what they are.
BY = {
    "circle": "By circle",
    "hand": "By hand",
    "count": "By count",
    "eight": "By eight",
    "cues": "By cues",
}
CAUTION = (
    "This is no judge's score. Stop for pain; try clubs and tosses at speed only with clear space and a coach, and "
    "keep the volume down."
)


def take_page(
    card: Scorecard, *, athlete: str = "", begun: str = "", notes: Sequence[str] = (), previous: Scorecard | None = None
) -> str:
    """Return the report of a take.

    Parameters
    ----------
    athlete, begun : str
        Left out where they are empty.
    previous : Scorecard or None
        An earlier take of the same drill, for praise where it got better.
    """
    plan = card.plan
    when = begun[:16].replace("T", " ")
    tempo = (
        tr("{tempo_bpm:g} beats a minute", tempo_bpm=plan.tempo_bpm)
        if plan.tempo_bpm
        else tr("to music at {speed:.0%} of its speed", speed=plan.speed)
    )
    answered = card.measures["bias_ms"].n
    asked = answered + len(card.missed)
    cycles = several(plan.cycles, "cycle")
    if left_out := cycles_left_out(card):
        cycles = tr("{cycles} of {cycles_2} done", cycles=plan.cycles - len(left_out), cycles_2=cycles)
    of_asked = (
        tr("{answered} of {asked} moments", answered=answered, asked=asked)
        if card.missing_known
        else several(answered, "moment")
    )
    matched = [tr("{of_asked} answered", of_asked=of_asked)] if tells_figures(card) else []
    about = (
        ", ".join(filter(None, (athlete, when))),
        "; ".join([f"{cycles}, {tempo}", *matched, tell_observed(card)]),
    )
    told = [*(tell_broken(card) if tells_figures(card) else []), *tell_sizes(card)]
    more = [tr("and {number} more", number=len(told) - MOST_TOLD)] if len(told) > MOST_TOLD else []
    known = tells_figures(card)
    return render(
        "take.html",
        title=tr(plan.title or plan.drill),
        about=about,
        sentence=tell(card, previous),
        numbers=_numbers(card) if known else [],
        hands=legend([tr(hand) for hand in plan.hands]),
        sections=_sections(card) if known else None,
        figures=_figures(card) if known else [],
        broken=[*told[:MOST_TOLD], *more],
        places=_parts(card) if tells_lateness(card) else [],
        notes=notes,
        small_print=_small_print(card),
    )


def _numbers(card: Scorecard) -> list[tuple[str, str, str]]:
    m = card.measures
    bias = m["bias_ms"]
    way = "" if math.isnan(bias.value) or not round(bias.value) else f" {say_way(bias.value)}"
    rows = []
    for entry, label in labelled("page"):
        if entry.of_place and not tells_lateness(card):
            continue
        if entry.key == "bias_ms":
            said = _value(bias._replace(value=abs(bias.value)), entry.unit, interval=bias, after=way)
        else:
            said = _value(m[entry.key], entry.unit, digits=entry.digits, sign=entry.signed)
        rows.append((label, *said))
    for lag in card.lags[:4]:
        if lag.of != lag.to:
            half = lag.lag.half_interval
            sure = f" ± {half:.0f}°" if not math.isnan(half) else ""
            asked = tr("asked {angle}", angle=say_angle(lag.asked)) if not math.isnan(lag.asked) else ""
            name = tr("{of} behind {to}", of=tr(lag.of), to=tr(lag.to))
            rows.append((name, f"{say_angle(lag.lag.degrees)}{sure}", f"{asked} (n {lag.lag.n})"))
    rows.append((tr("missed, too many"), say_missing(card), ""))
    return rows


def _value(
    measure: Measure,
    unit: str,
    *,
    digits: int = 0,
    sign: bool = False,
    interval: Measure | None = None,
    after: str = "",
) -> tuple[str, str]:
    if math.isnan(measure.value):
        return "–", say_reason(measure.reason)
    style = f"{'+' if sign else ''}.{digits}f"
    between = interval or measure
    form = f"{'+' if sign or interval else ''}.{digits}f"
    low, high = (say_decimal(value, form) for value in (between.low, between.high))
    n = f"n {measure.n}"
    under = n if math.isnan(between.low) else tr("between {low} and {high}, {n}", low=low, high=high, n=n)
    return f"{say_decimal(measure.value, style)}{unit and f' {unit}'}{after}", under


def _figures(card: Scorecard) -> list[Figure]:
    """Return the pictures of a take with the numbers behind them; one of two hands is empty for one."""
    if not tells_lateness(card):
        return [_lengths(card)]
    return [_lengths(card), _along_the_music(card), _on_the_cycle(card), _hand_against_hand(card)]


def _lengths(card: Scorecard) -> Figure:
    first = first_second(card)
    rows = [
        [
            *([str(cycle.cycle + 1), say_place(card, cycle.positions[0])] if card.placed else [_in(cycle.time, first)]),
            tr(cycle.hand),
            _plain(1000 * cycle.period, "%.0f"),
            _plain(100 * cycle.ratio, "%.1f"),
            ", ".join(map(say_flag, cycle.flags)),
        ]
        for cycle in card.cycles
    ]
    return Figure(
        tr("Length of each cycle"),
        tr(
            "0 is what was asked; in the band it is in time (± {allowance:g} %). A ring marks a cycle that stands "
            "out of this take's own scatter, a dotted line one in which she hesitated or the count slipped.",
            allowance=100 * card.plan.allowance,
        ),
        pictures.draw_periods(card),
        Table(
            (*((tr("cycle"), tr("place")) if card.placed else (tr("about"),)), *map(tr, LENGTHS)),
            rows,
        ),
    )


def _along_the_music(card: Scorecard) -> Figure:
    moments, first = card.plan.moments, first_second(card) if len(card.plan.moments) else 0.0
    rows = []
    for k, count in enumerate(moments.count):
        place = say_place(card, float(count)) if card.placed else _in(float(moments.time[k]), first)
        late = _plain(1000 * card.asynchrony[k], "%+.0f")
        rows.append([place, tr(moments.hand[k]), say_label(moments.label[k]), late])
    return Figure(
        tr("Early and late along the music") if card.placed else tr("Early and late from the first onset on"),
        tr(
            "Each mark is a moment, a cross was missed; the dashed line is the middle, a dotted one where she "
            "hesitated or the count slipped. Shaded: fewer cues, or none."
            if card.placed
            else "Each mark is a moment, a cross was missed; the dashed line is the middle, a dotted one where she "
            "hesitated or the count slipped."
        ),
        pictures.draw_asynchrony(card),
        Table((tr("place" if card.placed else "about"), "hand", "moment", "ms late"), rows),
    )


def _on_the_cycle(card: Scorecard) -> Figure:
    hands = card.plan.hands
    rows = [
        [
            tr(p.hand),
            say_label(p.label),
            _plain(100 * p.asked, "%.1f"),
            _plain(100 * p.place, "%.1f"),
            _plain(100 * p.sd, "%.1f"),
            str(p.n),
        ]
        for p in pictures.find_places(card)
    ]
    return Figure(
        tr("Places on the cycle"),
        tr(
            "The cycle goes round as a clock, its first count at the top. Squares are asked, marks are done, the "
            "arc is one spread to each side. Outer ring: {hand}."
            if len(hands) > 1
            else "The cycle goes round as a clock, its first count at the top. Squares are asked, marks are done, the "
            "arc is one spread to each side.",
            hand=tr(hands[0]),
        ),
        pictures.draw_places(card),
        Table(("hand", "moment", "asked %", "done %", "spread %", "n"), rows),
    )


def _hand_against_hand(card: Scorecard) -> Figure:
    hands, pairs = card.plan.hands[:2], pictures.find_pairs(card)
    begins, first = (begins_of(card), first_second(card)) if pairs else ({}, 0.0)

    def which(cycle: int) -> str:
        return str(cycle + 1) if card.placed else _in(begins[cycle], first)

    return Figure(
        begin(join_words(map(tr, hands), "{first} against {second}")),
        tr("Each mark is a cycle. On the dotted line both are as late as each other; off it they come apart."),
        pictures.draw_hands(card),
        Table(
            (tr("cycle" if card.placed else "about"), *(tr("{hand}, ms late", hand=tr(hand)) for hand in hands)),
            [[which(cycle), f"{a:+.0f}", f"{b:+.0f}"] for cycle, a, b in pairs],
        ),
    )


def _sections(card: Scorecard) -> Table | None:
    """Return the sections of a run-through, the worst first."""
    if not card.sections:
        return None
    rows = [
        [say_eights(each.first_eight, each.last_eight), tr(each.section.title), say_verdict(each), say_details(each)]
        for each in worst_first(card.sections)
    ]
    return Table(("eights", "what is laid", "verdict", ""), rows)


def _parts(card: Scorecard) -> list[Figure]:
    return [
        Figure(
            tr(BY[by]),
            tr("The mark is the middle with its 95 % interval, the bar is one spread to each side."),
            pictures.draw_parts(parts, by),
            Table(("", "ms late", "between", "and", "spread", "n"), [_part(part, by) for part in parts]),
        )
        for by, parts in card.parts.items()
        if len(parts) > 1 and not (by == "hand" and len(parts) == len(card.parts["circle"]))
    ]


def _part(part: Part, by: str) -> list[str]:
    values = (part.bias, part.low, part.high)
    return [
        pictures.say_part(part, by),
        *(_plain(1000 * v, "%+.0f") for v in values),
        _plain(1000 * part.spread, "%.0f"),
        str(part.n),
    ]


def _small_print(card: Scorecard) -> list[str]:
    m = card.measures
    lines = [
        tr("Early is negative, late is positive, everywhere. Spread is a standard deviation. Intervals are of 95 %."),
        tr(
            "Paired moments out of all, missed and too many among them: F {plain}.",
            plain=_plain(m["f_measure"].value, "%.3f"),
        ),
    ]
    if not math.isnan(m["clock_sd_ms"].value):
        told = ", ".join(
            f"{name} {say_level(m[f'{key}_sd_ms'])}"
            for name, key in ((tr("inner clock"), "clock"), (tr("movement"), "motor"))
        )
        lines.append(tr("Two-level split of the periods without cues, as SD: {told}.", told=told))
    how = measure_steadiness(card)
    if not math.isnan(how.scatter.size):
        off = tr("off by {size:.1f} %, {missed:.0f} % missed", size=100 * how.scatter.size, missed=100 * how.missed)
        lines.append(
            tr("This take was steady: {off}. {steady_in_words}", off=off, steady_in_words=say_what_is_steady())
            if how.steady
            else tr("This take was not steady: {off}. {steady_in_words}", off=off, steady_in_words=say_what_is_steady())
        )
    lines += [
        tr("{name}: {said}.", name=begin(tr(NAMES[name])), said=say_reason(reason))
        if name in NAMES
        else tr("{said}.", said=begin(say_reason(reason)))
        for name, reason in card.reasons.items()
        if not name.endswith("_variance_ms2")
    ]
    return [*lines, CAUTION]


def _in(time: float, first: float) -> str:
    return tr("{time:.0f} s in", time=max(time - first, 0.0))


def _plain(value: float, form: str) -> str:
    return "–" if math.isnan(value) else say_decimal(value, form.removeprefix("%"))
