"""A scorecard in words: as text of 80 columns, and as plain values with its sentences."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import in_english, tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.words.amounts import say_decimal, several
from tempo_coach.report.words.broken import tell_broken, tell_cycle
from tempo_coach.report.words.circle_sizes import sizes_to_dict, tell_sizes
from tempo_coach.report.words.measures import labelled, say_level, say_number
from tempo_coach.report.words.moments import FLAG_WORDS, say_label
from tempo_coach.report.words.observers import say_observer
from tempo_coach.report.words.places import (
    begins_of,
    cycles_left_out,
    first_second,
    say_second,
    tell_lost,
    tells_figures,
    tells_lateness,
    with_jump,
)
from tempo_coach.report.words.reasons import say_reason, say_reasons
from tempo_coach.report.words.run_throughs import say_details, say_eights, say_sign, say_verdict, sections_to_list
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.section_cards import worst_first
from tempo_coach.signs import columns, cut, pad, wrap

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.measures.timekeeping import Entry, Measure
    from tempo_coach.score.scorecard import LagCard

WIDTH = 80
#: Longest list of cycles that is printed whole; of a longer take only what broke is.
MOST_ROWS = 32
#: Half of a cycle's scale in characters, and what its end stands for.
SCALE, SCALE_END = 10, 0.25
#: Most reasons and broken cycles that are printed.
MOST_LINES = 12
#: An interval wider than this, as a multiple of a spread or in ms, says only that nothing is known: left to the JSON.
WIDEST, WIDEST_BIAS_MS = 2.0, 150.0
#: Characters of a hand's name in the table of cycles, and of what trails what: its value takes up to 34 more.
LONGEST_HAND, LONGEST_LAG = 14, 44
#: Characters of the names beside values that are as wide as the rest of the page.
_NAMES = 30


def format_card(card: Scorecard, previous: Scorecard | None = None) -> str:
    """Return the scorecard as text of at most 80 columns.

    Parameters
    ----------
    previous : Scorecard or None
        An earlier take, for praise.
    """
    if not len(card.plan.moments):
        return f"{_head(card)}\n\n{tr('It ended before anything was asked: nothing to tell yet.')}"
    blocks = [
        _head(card),
        _wrap(tell(card, previous)),
        *(["\n".join(rows(card)) for rows in (_measures, _cycles, _broken)] if tells_figures(card) else ()),
        "\n".join(_sections(card)),
        "\n".join(_sizes(card)),
        "\n".join(_reasons(card)),
    ]
    return "\n\n".join(block for block in blocks if block)


def _head(card: Scorecard) -> str:
    answered = card.measures["bias_ms"].n
    asked = answered + len(card.missed)
    cycles = several(card.plan.cycles, "cycle")
    if left_out := cycles_left_out(card):
        cycles = tr("{cycles} of {cycles_2} done", cycles=card.plan.cycles - len(left_out), cycles_2=cycles)
    parts = (
        [cycles, tr("{answered} of {asked} moments answered", answered=answered, asked=asked)]
        if tells_figures(card)
        else [cycles]
    )
    if not card.missing_known and tells_figures(card):
        parts[-1] = tr("{moments} answered", moments=several(answered, "moment"))
    if len(card.missed) and card.missing_known and tells_figures(card):
        parts.append(tr("{number} missed", number=len(card.missed)))
    if len(card.extra_time) and card.missing_known and tells_figures(card):
        parts.append(tr("{number} too many", number=len(card.extra_time)))
    parts.append(tell_observed(card))
    title = cut(tr(card.plan.title or card.plan.drill), WIDTH)
    return f"{title}\n{_wrap(', '.join(parts))}"


def say_missing(card: Scorecard) -> str:
    """Return the numbers of missed moments and extra onsets, where known."""
    return f"{len(card.missed)}, {len(card.extra_time)}" if card.missing_known else tr("not known")


def say_angle(degrees: float) -> str:
    """Return an angle in whole degrees from 0 to 359.

    Examples
    --------
    >>> say_angle(-0.3), say_angle(185.2), say_angle(-90)
    ('0°', '185°', '270°')
    """
    return f"{round(degrees) % 360}°"


def tell_observed(card: Scorecard) -> str:
    """Return how a take was observed, and the noise that it adds to every spread where it was measured."""
    floor = card.noise_floor_ms
    return tr(
        "observed by {observer}"
        if math.isnan(floor)
        else "observed by {observer}, which adds {floor:.2g} ms of its own",
        observer=say_observer(card.observed_by),
        floor=floor,
    )


def _measures(card: Scorecard) -> list[str]:
    rows = []
    for entry, label in labelled("card"):
        if entry.of_place and not tells_lateness(card):
            continue
        value = SAID[entry.key](card) if entry.key in SAID else _number(entry, card.measures[entry.key])
        rows.append((label, with_jump(card, value) if value and entry.of_place else value))
    lags = [(_lag_name(card, lag), _lag(lag)) for lag in card.lags[:8]]
    wide = max((columns(name) for name, value in (*rows, *lags) if value), default=0)
    return [
        *(f"{pad(name, min(wide, _NAMES))}  {value}" for name, value in rows if value),
        *(f"{pad(name, wide)}  {value}" for name, value in lags if value),
    ]


def _between(measure: Measure, digits: int, *, widest: float, sign: bool = False) -> str:
    if math.isnan(measure.low) or measure.high - measure.low > widest:
        return ""
    style = f"{'+' if sign else ''}.{digits}f"
    low, high = (say_decimal(value, style) for value in (measure.low, measure.high))
    return "  " + tr("(between {low} and {high})", low=low, high=high)


def _number(entry: Entry, measure: Measure) -> str:
    widest = math.inf if entry.signed else WIDEST * measure.value
    between = _between(measure, entry.digits, widest=widest, sign=entry.signed)
    return said + between if (said := say_number(entry, measure.value)) else ""


def _against_plan(card: Scorecard) -> str:
    bias = card.measures["bias_ms"]
    if math.isnan(bias.value):
        return ""
    rounded = round(bias.value)
    if rounded == 0:
        return "0 ms" + _between(bias, 0, widest=WIDEST_BIAS_MS, sign=True)
    sure = _between(bias, 0, widest=WIDEST_BIAS_MS, sign=True)
    return (
        tr("{rounded} ms early{sure}", rounded=abs(rounded), sure=sure)
        if rounded < 0
        else tr("{rounded} ms late{sure}", rounded=abs(rounded), sure=sure)
    )


def _period(card: Scorecard) -> str:
    mean, ratio = card.value("period_mean_ms"), card.value("period_ratio_mean")
    return "" if math.isnan(mean) else tr("{mean:.0f} ms, {ratio:.1%} of what was asked", mean=mean, ratio=ratio)


def _drift(card: Scorecard) -> str:
    drift = card.measures["drift_pct_per_cycle"]
    if math.isnan(drift.value):
        return ""
    told = any(found.kind == "drifting" and (found.ratio - 1) * drift.value > 0 for found in card.told)
    if not told and (math.isnan(drift.low) or drift.low <= 0 <= drift.high):
        return tr("none that can be told ({value:+.2f} % a cycle)", value=drift.value)
    return tr(
        "slows down by {value:.2f} % a cycle{between}"
        if drift.value > 0
        else "speeds up by {value:.2f} % a cycle{between}",
        value=abs(drift.value),
        between=_between(drift, 2, widest=math.inf, sign=True),
    )


def _level(sd: Measure) -> str:
    return "" if math.isnan(sd.value) else say_level(sd)


#: Measures that are said in a way of their own.
SAID: dict[str, Callable[[Scorecard], str]] = {
    "bias_ms": _against_plan,
    "period_ratio_mean": _period,
    "drift_pct_per_cycle": _drift,
    "clock_sd_ms": lambda card: _level(card.measures["clock_sd_ms"]),
    "motor_sd_ms": lambda card: _level(card.measures["motor_sd_ms"]),
}


def _lag_name(card: Scorecard, lag: LagCard) -> str:
    labels = {each.label for each in card.lags if each.of == lag.of}
    if lag.of == lag.to:
        return cut(tr("{label} in the cycle", label=say_label(lag.label)), LONGEST_LAG)
    name = tr("{of} behind {to}", of=tr(lag.of), to=tr(lag.to))
    return cut(f"{name}, {say_label(lag.label)}" if len(labels) > 1 else name, LONGEST_LAG)


def _lag(card: LagCard) -> str:
    lag = card.lag
    sure = "" if math.isnan(lag.half_interval) else f" ± {lag.half_interval:.0f}°"
    done = f"{say_angle(lag.degrees)}{sure}"
    return done if math.isnan(card.asked) else tr("{done}, asked {angle}", done=done, angle=say_angle(card.asked))


def _cycles(card: Scorecard) -> list[str]:
    """Return one row a cycle and hand: its place, its length on a scale, and a word for what broke."""
    rows = card.cycles if len(card.cycles) <= MOST_ROWS else ()
    known = [cycle for cycle in rows if not math.isnan(cycle.ratio)]
    if not known:
        return []
    wide = min(max(4, *(columns(tr(cycle.hand)) for cycle in rows)), LONGEST_HAND)
    scale = f"{'-25 %':<{SCALE}}|{'+25 %':>{SCALE}}"
    where = tr("cycle  eight  count") if card.placed else tr("about")
    lines = [f"{where}  {pad(tr('hand'), wide)}  {scale}  {tr('length')}"]
    left_out, first = cycles_left_out(card), first_second(card)
    for cycle in rows:
        where = f"{cycle.cycle + 1:>5}  {cycle.eight:>5}  {say_count(cycle.count - 1):>5}"
        if not card.placed:
            where = f"{max(cycle.time - first, 0.0):>3.0f} s"
        length = "" if math.isnan(cycle.ratio) else f"{say_decimal(cycle.ratio, '.0%'):>6}"
        line = f"{where}  {pad(cut(tr(cycle.hand), wide), wide)}  {_scale(cycle.ratio)}  {length:<6}  "
        kinds = [flag.kind for flag in cycle.flags]
        words = (
            tr("not done")
            if cycle.cycle in left_out and not kinds
            else say_kinds([tr(FLAG_WORDS[kind]) for kind in kinds], WIDTH - columns(line)).upper()
        )
        lines.append(f"{line}{words}".rstrip())
    return lines


def say_kinds(kinds: Iterable[str], room: int) -> str:
    """Return what broke in a cycle, each kind once; without room, the first and how many more.

    Examples
    --------
    >>> say_kinds(["missed", "late", "missed"], 20), say_kinds(["missed", "late"], 10), say_kinds(["missed", "late"], 7)
    ('missed, late', 'missed +1', 'missed+')
    """
    each = list(dict.fromkeys(kinds))
    if not each:
        return ""
    whole, first = ", ".join(each), f"{each[0]} +{len(each) - 1}"
    return next((said for said in (whole, first) if columns(said) <= room), cut(f"{each[0]}+", room))


def _scale(ratio: float) -> str:
    marks = ["."] * (2 * SCALE + 1)
    marks[SCALE] = "|"
    if not math.isnan(ratio):
        place = round((ratio - 1) / SCALE_END * SCALE)
        beyond = "<" if place < -SCALE else ">" if place > SCALE else "o"
        marks[max(-SCALE, min(place, SCALE)) + SCALE] = beyond
    return "".join(marks)


def _sections(card: Scorecard) -> list[str]:
    """Return one row a section of a run-through, the worst first."""
    if not card.sections or not tells_figures(card):
        return []
    order = worst_first(card.sections)
    verdicts = [tr("verdict"), *(say_verdict(each) for each in order)]
    details = ["", *(say_details(each) for each in order)]
    wide = WIDTH - 13 - max(map(columns, verdicts)) - max(map(columns, details))
    names = [tr("section"), *(cut(tr(each.section.title), wide) for each in order)]
    wide = max(map(columns, names))
    where = [tr("eights"), *(say_eights(each.first_eight, each.last_eight) for each in order)]
    signs = ["", *(say_sign(each) for each in order)]
    said = max(map(columns, verdicts))
    rows = zip(where, signs, names, verdicts, details, strict=True)
    return [f"{pad(a, 6)} {b:<1} {pad(c, wide)}  {pad(d, said)}  {e}".rstrip() for a, b, c, d, e in rows]


def _broken(card: Scorecard) -> list[str]:
    undone = _undone(card)
    told = [_tell_undone(card, first, last) for first, last in _runs(undone)]
    told += [_wrap(said, hanging=2) for said in tell_broken(card, but=undone)]
    if not told:
        return []
    more = [tr("… and {number} more", number=len(told) - MOST_LINES)] if len(told) > MOST_LINES else []
    return [tr("What broke:"), *told[:MOST_LINES], *more]


def _sizes(card: Scorecard) -> list[str]:
    told = [_wrap(said, hanging=2) for said in tell_sizes(card)]
    more = [tr("… and {number} more", number=len(told) - MOST_LINES)] if len(told) > MOST_LINES else []
    return [tr("Sizes:"), *told[:MOST_LINES], *more] if told else []


def _undone(card: Scorecard) -> set[int]:
    """Return the cycles without any onset."""
    done = {cycle.cycle for cycle in card.cycles if not all(math.isnan(time) for time in cycle.asynchronies)}
    return {cycle.cycle for cycle in card.flagged} - done


def _runs(numbers: set[int]) -> list[tuple[int, int]]:
    """Return the first and last of each run of neighbours."""
    firsts = sorted(n for n in numbers if n - 1 not in numbers)
    lasts = sorted(n for n in numbers if n + 1 not in numbers)
    return list(zip(firsts, lasts, strict=True))


def _tell_undone(card: Scorecard, first: int, last: int) -> str:
    if not card.placed:
        return tr(
            "{cycles} not done, {second}",
            cycles=several(last - first + 1, "cycle"),
            second=say_second(card, begins_of(card)[first]),
        )
    return (
        tr("cycle {first} was not done", first=first + 1)
        if first == last
        else tr("cycles {first} to {last} were not done", first=first + 1, last=last + 1)
    )


def _reasons(card: Scorecard) -> list[str]:
    """Return the reasons that a person can act on: how the take was matched, and what was left out."""
    lost = tell_lost(card)
    where = [_wrap(tr("Not scored: {lost}.", lost=lost), hanging=2)] if lost else []
    return [*(_wrap(tr("Note: {reason}.", reason=say_reason(note)), hanging=2) for note in card.notes.values()), *where]


def _wrap(text: str, *, hanging: int = 0) -> str:
    return "\n".join(wrap(text, WIDTH, subsequent_indent=" " * hanging))


@in_english
def card_to_dict(card: Scorecard, previous: Scorecard | None = None) -> dict[str, object]:
    """Return the complete scorecard as plain values: the measures, the words of each cycle, and the sentence.

    Parameters
    ----------
    previous : Scorecard or None
        An earlier take of the same drill, for praise where it got better.

    Raises
    ------
    TypeError
        If the scorecard's own values are no scorecard's.
    """
    plain = card.to_dict()
    del plain["reasons"]
    detail = plain.pop("detail")
    cycles = plain["cycles"]
    if not isinstance(cycles, list) or not isinstance(detail, dict):
        raise TypeError("a scorecard's cycles are a list, its detail is by name")
    for row, cycle in zip(cycles, card.cycles, strict=True):
        row["words"] = tell_cycle(card, cycle)
    detail["sizes"] = sizes_to_dict(card)
    if card.sections:
        detail["sections"] = sections_to_list(card)
    return {**plain, "sentence": tell(card, previous), "reasons": say_reasons(card.reasons), "detail": detail}
