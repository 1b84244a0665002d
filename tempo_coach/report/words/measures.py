"""Measures in words: their labels, and the meaning of each name of a scorecard's JSON.

What a measure is (unit, digits, sign, what is good) stands in :data:`tempo_coach.score.measures.timekeeping.MEASURES`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import say_decimal
from tempo_coach.score.measures.timekeeping import MEASURES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.score.measures.timekeeping import Entry, Measure

ENTRIES = {entry.key: entry for entry in MEASURES}


class MeasureWords(NamedTuple):
    """Labels of a measure; where one is empty, the measure is left out there.

    Parameters
    ----------
    card : str
        Beside its value in a card of text.
    page : str
        The same on a page.
    pair : str
        Where two takes stand side by side.
    course : str
        What its course over the days is called.
    """

    card: str = ""
    page: str = ""
    pair: str = ""
    course: str = ""


WORDS: dict[str, MeasureWords] = {
    "bias_ms": MeasureWords("against the plan", "against the plan", "early or late", "distance from the beat"),
    "spread_ms": MeasureWords("spread", "spread", "spread", "spread"),
    "period_ratio_mean": MeasureWords("length of a cycle"),
    "period_cv_pct": MeasureWords(
        "cycles differ by",
        "cycles differ by",
        "cycles differ by",
        "unevenness of the cycles",
    ),
    "drift_pct_per_cycle": MeasureWords("drift", "drift per cycle", "drift per cycle"),
    "clock_sd_ms": MeasureWords("inner clock, SD"),
    "motor_sd_ms": MeasureWords("movement, SD"),
}
#: What a measure is called where it is said why it has no value.
NAMES = {
    "bias_ms": "early or late",
    "spread_ms": "spread",
    "period_ratio_mean": "length of a cycle",
    "period_mean_ms": "length of a cycle",
    "period_cv_pct": "unevenness of the cycles",
    "period_sd_ms": "unevenness of the cycles",
    "period_rmssd_pct": "difference from one cycle to the next",
    "drift_pct_per_cycle": "drift per cycle",
    "lag1_asynchrony": "correction from one moment to the next",
    "clock_sd_ms": "inner clock, SD",
    "motor_sd_ms": "movement, SD",
}
#: Names of a scorecard's JSON, those of one meaning together, and what they are.
MEANINGS: tuple[tuple[tuple[str, ...], str], ...] = (
    (
        ("bias_ms", "spread_ms", "n"),
        "mean and SD of the asynchronies of all paired moments, and how many",
    ),
    (
        ("period_ratio_mean", "period_cv_pct"),
        (
            "a period leads from a hand's first moment of a cycle to its first one of the next cycle; beside a "
            "missed one there is none. Each over the one asked there, all hands together: mean, and SD over mean"
        ),
    ),
    (
        ("scatter_pct",),
        (
            "what steady goes by, 4.5 or less: the time from each moment to the same one of the next cycle over the "
            "one asked there, less the median of all, in per cent, one that is off by more than 9 as 9; root of the "
            "sum of squares over their number less 1"
        ),
    ),
    (
        ("period_rmssd_pct",),
        "root mean square of the differences of a hand's neighbouring ratios: steadiness with slow drift taken out",
    ),
    (
        ("period_mean_ms", "period_sd_ms"),
        "the same periods in time",
    ),
    (
        ("drift_pct_per_cycle",),
        (
            "the ratios of a cycle averaged over the hands; median of the slopes between all pairs of cycles (of "
            "more than 200 values between the medians of 200 runs of neighbours); positive is slowing. The first "
            "two cycles without a cue behind one that has all of them are left out"
        ),
    ),
    (
        ("lag1_asynchrony",),
        (
            "of each hand: asynchronies less the mean of their place in the cycle, less the straight line of "
            "least squares on their number (a missed one keeps its number). Sum of the products of neighbours "
            "over the sum of squares, both over all hands: above 0 corrects slowly, far below 0 corrects too much"
        ),
    ),
    (
        ("clock_variance_ms2", "motor_variance_ms2", "clock_sd_ms", "motor_sd_ms"),
        (
            "the two levels of Wing and Kristofferson (1973), below: taps without cues alone, from 30 periods on, "
            "of the hand with the most. Average the variances over takes; the SDs are their roots, 0 where chance "
            "puts the variance below 0. Where the interval of an SD begins at 0, all that is known is that it "
            "lies below the interval's end"
        ),
    ),
    (
        ("missed", "extra", "f_measure"),
        "moments without an onset, onsets without a moment; twice the pairs over twice the pairs and both of these",
    ),
    (
        ("missed_moments", "extra_onsets"),
        "each of them with its `time`, eight and count",
    ),
    (
        ("findings",),
        (
            "what happened, the first thing first, as values; `sentence`, `flags` and `words` are made of them. "
            "Of each: `kind` (below); `cycle`, from 0, null where it is of the whole take or not known; `hand` "
            "and `moment` (its label), null where it is of all; `by_ms`, `by_counts`, observed minus asked; "
            "`ratio`; `confidence`, 0 to 1, how likely it is that, as simulated performers showed: what is below .35 "
            "comes last, flags no cycle and is said with “perhaps”, if at all; `same_as`, the "
            "kinds that would give the same onsets in this plan, or explain this take nearly as well"
        ),
    ),
    (
        ("observed_by", "noise_floor_ms"),
        "the way of observing, and the SD that it adds by itself",
    ),
    (
        ("cycles",),
        (
            "each cycle of each hand: `cycle` (from 0), `eight` and `count` of its first moment, null where the "
            "place in the music is not known; `time` at which that was asked, `period_ms`, `period_ratio`, the "
            "asynchronies of its `moments`, `flags`, `words`"
        ),
    ),
    (
        ("lags",),
        (
            "`of` one hand's moment behind that of another (`to`): circular mean `deg`, `error_deg` from what was "
            "asked, `ms` (`deg` over 360 times the mean period of the hand `to`), circular SD, resultant length "
            "`R` (Fisher 1993), interval by Zar's form, widened where neighbours go together"
        ),
    ),
    (
        ("sentence", "reasons"),
        "what a coach would say; what is null and why",
    ),
    (
        ("detail",),
        (
            "`n` and `ci95` of each measure, bias and spread `by` circle, hand, count, eight and cues; "
            "`lag_tests`: Rayleigh's test, the V test for the asked lag, Watson and Williams's between cycles "
            "with and without a cue"
        ),
    ),
)


def labelled(where: str) -> Iterator[tuple[Entry, str]]:
    """Yield each measure that has a label in a place (a field of :class:`MeasureWords`), with it."""
    for entry in MEASURES:
        if label := getattr(WORDS.get(entry.key, MeasureWords()), where):
            yield entry, tr(label)


def say_number(entry: Entry, value: float) -> str:
    """Return a value in its number of digits, with its unit; empty without a value.

    Examples
    --------
    >>> say_number(ENTRIES["bias_ms"], -0.4), say_number(ENTRIES["period_cv_pct"], 2.345)
    ('+0 ms', '2.3 %')
    """
    if math.isnan(value):
        return ""
    form = f"{'+z' if entry.signed else ''}.{entry.digits}f"
    return f"{say_decimal(value, form)} {entry.unit}".rstrip()


def say_level(sd: Measure) -> str:
    """Return the SD of clock or motor; where its interval includes 0, only the upper limit.

    Examples
    --------
    >>> from tempo_coach.score.measures.timekeeping import Measure
    >>> say_level(Measure(11.04, 30, 8.0, 15.0)), say_level(Measure(0.0, 30, 0.0, 9.2))
    ('11.0 ms (between 8.0 and 15.0)', 'below 9.2 ms')
    """
    return (
        tr("below {high:.1f} ms", high=sd.high)
        if sd.low <= 0
        else tr("{value:.1f} ms (between {low:.1f} and {high:.1f})", value=sd.value, low=sd.low, high=sd.high)
    )
