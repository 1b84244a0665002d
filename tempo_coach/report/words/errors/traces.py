"""Errors of tables of readings in words: columns, units, times, cycles, flights."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import join_words
from tempo_coach.report.words.errors.forms import did_you_mean, first_names, join_names, or_else
from tempo_coach.report.words.errors.resources import HINTS

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

_OTHER_UNIT = {"m": "position=mm", "m/s²": "acceleration=mg", "rad/s": "rotation=deg/s"}


def _ask_unit(ranges: dict[str, tuple[float, float]], rate_hz: float) -> str:
    told = "; ".join(
        tr("{name} from {low:.4g} to {high:.4g}", name=name, low=low, high=high) for name, (low, high) in ranges.items()
    )
    return tr(
        "nothing says what {join_names} are ({told}; {rate_hz:.4g} readings a second)",
        join_names=join_names(list(ranges)),
        told=told,
        rate_hz=rate_hz,
    )


WORDS: dict[str, Entry] = {
    "cycles.few": (
        "expected at least two cycles of about {period_s:.3g} s, found {found}",
        "choose a longer stretch, or the columns that show the movement best",
    ),
    "readings.too_many": (
        "expected up to {most:,} rows, found {found:,}",
        "cut it to the passage, or keep every second reading",
    ),
    "readings.too_wide": ("expected up to {most:,} columns, found {found:,}", "leave out those that are not needed"),
    "readings.empty": ("the file is empty", HINTS["readings"]),
    "readings.few_rows": ("expected at least two rows of readings, got {found}", HINTS["readings"]),
    "readings.none": ("found no rows of numbers in it", HINTS["readings"]),
    "readings.no_header": ("expected a header with a name for every column, found none", HINTS["readings"]),
    "flights.no_height": (
        "expected a column for the height (y or z), got {axes}",
        "name it with --columns, the height last",
    ),
    "long_table.no_readings": (
        lambda columns: tr(
            "found no readings beside the column {names}", names=join_words(columns, "{first} and {second}")
        ),
        "expected positions or readings in it",
    ),
    "long_table.too_many": (
        lambda most, columns, found: tr(
            "expected up to {most} sensors or points in the column {names}, found {found}",
            most=most,
            names=join_words(columns, "{first} and {second}"),
            found=found,
        ),
        "leave out those that are not needed",
    ),
    "trace.few_readings": (
        "expected at least four complete readings, got {found}",
        "record for longer, or check the columns",
    ),
    "trace.too_long": (
        (
            "the readings go on for {minutes:.0f} minutes at {rate_hz:.4g} a second; up to "
            "{most_minutes:.0f} are looked through at once"
        ),
        "choose the take with --from and --to, in seconds",
    ),
    "rhythm.too_slow_for": (
        "{rate_hz:.3g} readings a second are too few for circles of {circle_s:.3g} s",
        "a circle needs {readings:.0f} readings: these show circles of {shortest_s:.3g} s or longer; 50 Hz is good",
    ),
    "rhythm.too_few_readings": (
        "{rate_hz:.3g} readings a second for {duration_s:.3g} s are too few for circles",
        "a circle needs {readings:.0f} readings, and a cycle has to be seen twice; 50 Hz is good",
    ),
    "rhythm.period": (
        "a cycle of {period_s:g} s: expected {least_s:.2g} to {most_s:.3g} s in {duration_s:.3g} s of readings",
        "give about how many seconds one cycle takes, or leave it to be found",
    ),
    "rhythm.none": (
        "found nothing that repeats: the best likeness of a cycle to the next is {similarity:.2f} of 1",
        "choose the columns that show the movement, or a stretch in which it goes on",
    ),
    "columns.mixed": (
        lambda quantities: tr(
            "expected columns of one quantity, got {names}",
            names=join_words(map(tr, quantities), "{first} and {second}"),
        ),
        "name the columns of one sensor or point",
    ),
    "columns.none_changes": (
        lambda quantity, point: (
            tr(
                "found no column of {quantity} that changes for {point}",
                quantity=quantity or "position, acceleration or rotation",
                point=point,
            )
            if point
            else tr(
                "found no column of {quantity} that changes", quantity=quantity or "position, acceleration or rotation"
            )
        ),
        lambda known: tr(
            "the columns: {first_names}. Name those to read with --columns", first_names=first_names(known)
        ),
    ),
    "column.unknown": (
        lambda known, column: tr(
            "expected one of the columns {first_names}, got {column}", first_names=first_names(known), column=column
        ),
        did_you_mean,
    ),
    "point.unknown": (
        lambda known, point: tr(
            "expected one of the points {first_names}, got {point}",
            first_names=first_names(known) or tr("of a table with a single one"),
            point=point,
        ),
        or_else("name one of these points, or leave the option out"),
    ),
    "columns.constant": (
        "the column {column} never changes",
        "name columns that move, or check that the sensor was switched on",
    ),
    "times.never_forward": (
        "expected times that go forward, got stamps that never do",
        "name the time column with --time-column, or give --rate HZ",
    ),
    "times.no_unit": (
        "a usual step of {step:g} is that of no sensor in s, ms, µs or ns",
        "give --rate HZ if the column counts frames",
    ),
    "times.jump": (
        "the times jump by more than an hour {jumps} times",
        "name the time column with --time-column, or give --rate HZ",
    ),
    "times.backwards": ("the times run backwards {steps} times", "name the time column with --time-column"),
    "times.repeated": (
        "the times stand still: {share_pct:.0f} % of them repeat the one before",
        "name the time column with --time-column, or give --rate HZ",
    ),
    "times.few": ("expected at least two times, got {found}", HINTS["readings"]),
    "times.constant": ("expected times that differ", "give --rate HZ"),
    "readings.rate": ("expected a rate above 0, got {rate_hz:g}", "100 is usual"),
    "times.two_columns": (
        lambda columns: tr("two columns could be the time: {names}", names=join_words(columns, "{first} and {second}")),
        "name one with --time-column",
    ),
    "times.no_column": (
        lambda known, constant: (
            tr("the times stand still: {constant} is the same in all rows", constant=constant[0])
            if constant
            else tr("found no time column among {first_names}", first_names=first_names(known))
        ),
        "name it with --time-column, or give --rate HZ for readings at even steps",
    ),
    "readings.beyond_gymnast": (
        "{column} reaches {largest:.4g} {unit}, which no gymnast does",
        lambda unit: tr("give the right unit, for example --unit {unit}", unit=_OTHER_UNIT[unit]),
    ),
    "times.no_stamps": (
        "expected times in the column {name}, got {found!r}",
        "write seconds, or date-times like 2024-05-01T17:30:00.125",
    ),
    "readings.impossible": ("{column} reaches {largest:.4g}, which nothing reads", "see what stands in that column"),
    "readings.nothing_changes": (
        "nothing in it changes: every column is constant or empty",
        "check that the sensor was on, and that the right file was chosen",
    ),
    "trace.few_in_stretch": (
        "expected readings between {start_s:g} and {end_s:g} s, found {found}",
        "the trace runs from {first_s:.3f} to {last_s:.3f} s",
    ),
    "trace.no_dates": (
        "the stamps of the trace tell no date and time",
        "give a clap that both saw instead: --clap ON_TRACE ON_TAKE",
    ),
    "trace.run_through_unplaced": (
        "a trace of a run-through has to be placed on its clock",
        "give --clap with an instant that both saw, or --started",
    ),
    "trace.few_to_fit": (
        "expected three moments and three circles to fit, got {moments} and {circles}",
        "give a clap that both saw instead",
    ),
    "flights.of_a_dial": (
        "found a dial, which a film without markers gives: it turns once a cycle and shows no place",
        "follow a marker for flights",
    ),
    "trace.no_flight": (
        "found no flight in it, and the drill asks for a release and a catch",
        "follow the apparatus itself, and name its height with --columns",
    ),
    "trace.more_bodies_than_hands": (
        "two tracked bodies are named and the plan has {hands} hand",
        "leave --against out",
    ),
    "unit.of_what": (
        "expected one of {known}, got {found}",
        lambda nearest, unit: (
            tr("did you mean {nearest}={unit}?", nearest=nearest, unit=unit[:40])
            if nearest
            else "for example position=cm"
        ),
    ),
    "unit.unknown": "expected a unit of {quantity} ({known}), got {found}",
    "unit.untold": (
        _ask_unit,
        (
            "say it with --unit position=m, --unit acceleration=g (or m/s2), --unit rotation=deg/s (or rad/s), or "
            "write the unit into the header, such as x (m)"
        ),
    ),
    "unit.unused": ("found no columns that could be {quantity}", "leave out what the table has not"),
}
