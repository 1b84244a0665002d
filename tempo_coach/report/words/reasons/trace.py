"""Reasons about traces, their tables, and what they show of a plan, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.reasons import Why
from tempo_coach.report.words.amounts import join_words
from tempo_coach.report.words.errors import message_of
from tempo_coach.report.words.errors.forms import first_names, join_names

if TYPE_CHECKING:
    from collections.abc import Callable


_QUANTITIES = {"position": "position", "acceleration": "acceleration", "rotation": "turning rate"}
_PLURAL = {
    "position": "positions",
    "acceleration": "accelerations",
    "rotation": "turning rates",
    "other": "readings",
}


def _column_is(name: str, quantity: str, axis: str, point: str, unit: str) -> str:
    if quantity == "other":
        return tr("{name}: {said}", name=name, said=tr("not used unless named"))
    what = f"{tr(_QUANTITIES[quantity])} {axis}".rstrip()
    what = tr("{what} of {point}", what=what, point=tr(point)) if point else what
    return tr("{name}: {what} in {unit}" if unit else "{name}: {what}, unit not told", name=name, what=what, unit=unit)


def _ambiguous_fit(away: float, confidence: float) -> str:
    return tr(
        "the trace was put on the plan where it fits best, and it fits nearly as well {away:.2f} s later (confidence "
        "{confidence:.2f}); a clap that both saw decides: --clap ON_TRACE ON_TAKE"
        if away > 0
        else "the trace was put on the plan where it fits best, and it fits nearly as well {away:.2f} s earlier "
        "(confidence {confidence:.2f}); a clap that both saw decides: --clap ON_TRACE ON_TAKE",
        away=abs(away),
        confidence=confidence,
    )


#: The words of each code. See :data:`tempo_coach.report.words.reasons.WORDS`.
WORDS: dict[Why, str | Callable[..., str]] = {
    Why.NO_STEADY_LAG: "the two keep no lag, it lies anywhere in the circle (Rayleigh's test: p = {:.2f} of {})",
    Why.TURNING_RATE: "a turning rate shows how far each has turned and not where in the circle it is; accelerations "
    "would",
    Why.CONE: "a wrist's turning rate on its cone shows no place of the circle that two sensors share",
    Why.OTHER_PLACE: "the two sensors do not show the same place of a circle",
    Why.OTHER_AXES: "the two sensors do not have the same axes",
    Why.TILTED: "the two sensors sit differently: their main axes are {:.0f}° apart",
    # two sensors that were meant to sit alike showed a false lag of 2 % of a cycle; seen in recordings of limbs
    Why.SEAT_SHIFTS: "how each sensor sits shifts this lag, by about 7° (2 % of a cycle) even where both sit alike, by "
    "half a cycle where one is upside down: hold it against another take with the sensors left on, not against 0",
    Why.NO_FLIGHTS: "flights: {}",
    Why.NO_CYCLES: "cycles: {}",
    Why.NO_SECOND: "a second mover: {}",
    Why.UNEVEN_CYCLE: "cycle {} of {} ({}, {:.2f} to {:.2f} s)",
    Why.UNSEEN_MOMENTS: "the {} of {} shows in no trace",
    Why.NO_COMMON_ZERO: "a turning rate does not show where in its circle {} is beside the first",
    Why.NO_ZERO: "the sensor of {} does not show where in her circle she is: how even she was is known, how early or "
    "late all of it was is not",
    Why.OTHER_STEPS: "the circles of {} come every {:.2f} s and the plan asks for one every {:.2f} s: is it the plan "
    "of this take?",
    Why.NOT_FOLLOWED: "nothing in the trace follows {}",
    Why.SECTION_UNSEEN: lambda title, error: tr(
        "{title}: nothing could be followed there ({message})", title=title, message=message_of(error)
    ),
    Why.AMBIGUOUS_FIT: _ambiguous_fit,
    Why.FEW_CARRYING: "only {:.1f} carrying cycles were seen, and three are needed",
    Why.ONE_SPEED: "both turn at nearly one speed",
    Why.SMALL_IN_RESIDUAL: "the small circle ({:.3g}) hardly stands out of the rest ({:.3g})",
    Why.BACKWARDS: "a phase would run backwards",
    Why.EVEN_READINGS: "time: {:g} readings a second, as given",
    Why.TIME_COUNTED: "time: {}, counted at {:g} a second",
    Why.TIME_OF_CLOCK: "time: {}, times of the clock",
    Why.TIME_IN_UNIT: "time: {} in {}",
    Why.TIME_SINCE_1970: "time: {} in {} since 1970",
    Why.CLOCK_SET: "the clock was set after reading {}, from {:.10g} to {:.10g} s: this is taken for {:g} s in which "
    "nothing was read",
    Why.CLOCK_SET_MORE: "and {} times more",
    Why.CLOCK_KEPT: "times are as the clock had them in readings {} to {}",
    Why.TIMES_FROM_FIRST: "times are counted from the first reading",
    Why.ROWS_SORTED: "{} rows were out of order and were sorted by time",
    Why.ROWS_REPEATED: "{} rows repeated the stamp of the row before and were left out",
    Why.EVEN_STEPS: lambda share, step: tr(
        "stamps repeat and jump ({share:.0f} % repeat): readings were put on even steps of {step:.4g} ms between them",
        share=100 * share,
        step=1000 * step,
    ),
    Why.FILE_NAME_SAYS: lambda quantity: tr(
        "the file's name says that its columns are {quantity}", quantity=tr(_PLURAL[quantity])
    ),
    Why.HOLD_GRAVITY: lambda columns: tr(
        "{join_names} hold gravity: they are accelerations", join_names=join_names(columns)
    ),
    Why.GRAVITY_AGAINST_OPTION: lambda columns, unit: tr(
        "{join_names}: by gravity they are in {unit}, and read as --unit says",
        join_names=join_names(columns),
        unit=unit,
    ),
    Why.GRAVITY_AGAINST_HEADER: lambda columns, unit: tr(
        "{join_names}: by gravity they are in {unit}, and read so, whatever is written",
        join_names=join_names(columns),
        unit=unit,
    ),
    Why.AS_ANSWERED: "read as was answered for tables with this header: {}={}",
    Why.COLUMN_IS: _column_is,
    Why.COLUMNS_CONSTANT: lambda columns: tr(
        "left out, because they never change: {first_names}", first_names=first_names(columns)
    ),
    Why.COLUMNS_TWICE: lambda columns: tr(
        "left out, because they hold what the column of that name holds: {first_names}",
        first_names=first_names(columns),
    ),
    Why.LONG_TABLE: lambda labels, columns: tr(
        "rows are of {first_names} (column {names})",
        first_names=first_names(labels, most=6),
        names=join_words(columns, "{first} and {second}"),
    ),
    Why.TABLE_SORTED: "{}: the rows were not in order of time and have been put in order",
    Why.LINE_LEFT_OUT: "{}: line {} cannot be read and was left out",
    Why.LAST_LINE_CUT: "{}: the last line was cut off and was left out",
}
