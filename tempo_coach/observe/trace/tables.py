"""CSV and TSV tables of sensors and trackers to ``Trace``.

Any table with a header. Which column is the time and what the others are is found from names and numbers; what was
understood stands in the trace's notes.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError, nearest
from tempo_coach.observe.table_text import plain
from tempo_coach.observe.trace.delimited import load_text, split_columns
from tempo_coach.observe.trace.header import Guess, read_names, read_time_name
from tempo_coach.observe.trace.long_table import find_keys, spread
from tempo_coach.observe.trace.stamps import close_jumps, find_unit, mend, parse_moments
from tempo_coach.observe.trace.trace import TIMING_SD, Channel, Trace
from tempo_coach.observe.trace.untold import GRAVITY, belie, check_units, names_of, settle
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.trace.trace import Quantity
    from tempo_coach.times import Floats

#: Larger than any of these is a wrong unit: a hall is 60 m long, no sensor bears 200 g, none turns 20 times a second.
_LIMITS = {"m": 1000.0, "m/s²": 2000.0, "rad/s": 150.0}
#: Beyond what any sensor or tracker writes, in whatever unit.
_LARGEST = 1e12


def read_trace(
    path: str | Path,
    *,
    time_column: str | None = None,
    rate_hz: float | None = None,
    units: Mapping[str, str] | None = None,
) -> Trace:
    """Return the trace in a CSV or TSV file.

    Parameters
    ----------
    path : str or Path
    time_column : str or None
        Its name, where it is unknown.
    rate_hz : float or None
        Readings a second, for tables without a time column.
    units : mapping of quantity to unit or None
        For example ``{"position": "cm"}``, where the header does not say.

    Raises
    ------
    CoachError
        If it is no table, too large, lacks times or anything that moves, or its numbers cannot be right.
    """
    where = str(path)
    return parse_trace(load_text(Path(path)), where=where, time_column=time_column, rate_hz=rate_hz, units=units)


def parse_trace(
    text: str,
    *,
    where: str = "table",
    time_column: str | None = None,
    rate_hz: float | None = None,
    units: Mapping[str, str] | None = None,
) -> Trace:
    """Return the trace in the text of a table (see :func:`read_trace`)."""
    wanted = check_units(units or {})
    names, written, table, texts = split_columns(text, where)
    at = _time_at(names, table, texts, time_column, rate_hz, where)
    notes: list[Reason] = []
    start = None
    if at is None:
        stamps = np.arange(len(table)) / float(rate_hz or 1)
        notes.append(Reason(Why.EVEN_READINGS, (rate_hz,)))
    else:
        stamps, start, said = _seconds(names[at], texts.get(at), table[:, at], where, rate_hz)
        notes.append(said)
    known = ~np.isnan(stamps)
    if known.sum() < 2:
        raise CoachError("times.few", where=where, found=int(known.sum()))
    dials = {i for i, name in enumerate(names) if name.endswith(TIMING_SD)}
    timing_sd = {names[i].removesuffix(TIMING_SD): _constant(table[:, i]) for i in dials}
    columns = [
        i for i in range(len(names)) if i != at and not {i} & {*texts, *dials} and read_time_name(names[i]) is None
    ]
    keys = find_keys(names, table, texts)
    if keys:
        long = spread(stamps, names, table, texts, keys, columns, rate_hz=None if at is not None else rate_hz)
        stamps, names, table, columns = long.time, long.names, long.table, list(range(len(long.names)))
        written = [written[i] for i in long.columns]
        notes += long.notes
        known = ~np.isnan(stamps)
    stamps, jumps = close_jumps(stamps[known], where=where)
    start = None if jumps else start
    time, rows, mended = mend(stamps, where=where)
    if time.size < 2:
        raise CoachError("times.constant", where=where)
    table = table[known][rows]
    guesses = read_names(names, written)
    rate = 1.0 / float(np.median(np.diff(time)))
    guesses, settled = settle(guesses, table, columns, wanted, where, rate)
    channels, values, said_units = _channels(names, guesses, table, columns, wanted, where)
    all_notes = [*notes, *jumps, *mended, *settled, *said_units]
    return Trace(time, values, channels, notes=all_notes, clock_start=start, timing_sd=timing_sd)


def _constant(numbers: Floats) -> float:
    """Return the largest number of a column; infinite where it is empty."""
    known = numbers[~np.isnan(numbers)]
    return float(known.max()) if known.size else float("inf")


def _time_at(
    names: list[str],
    table: Floats,
    texts: Mapping[int, list[str]],
    wanted: str | None,
    rate_hz: float | None,
    where: str,
) -> int | None:
    if wanted is not None:
        if wanted in names:
            return names.index(wanted)
        close = nearest(wanted, names)
        raise CoachError("column.unknown", where="--time-column", known=names, column=wanted, nearest=close)
    if rate_hz is not None:
        if not 0 < rate_hz < 1e5:
            raise CoachError("readings.rate", where="--rate", rate_hz=rate_hz)
        return None
    likely = []
    still = []
    for i, name in enumerate(names):
        said = read_time_name(name)
        if said is None:
            continue
        numbers = parse_moments(texts[i]) if i in texts else table[:, i]
        if numbers is None or np.isnan(numbers).all():
            continue
        if np.nanmax(numbers) > np.nanmin(numbers):
            likely.append((i, said.exact))
        else:
            still.append(name)
    exact = [i for i, sure in likely if sure] or [i for i, _ in likely]
    if len(exact) > 1:  # in Italian tempo is the time, elsewhere beats a minute
        exact = [i for i in exact if plain(names[i]).split(" ")[0] != "tempo"] or exact
    if len(exact) > 1:
        raise CoachError("times.two_columns", where=where, columns=[names[i] for i in exact])
    if not exact:
        raise CoachError("times.no_column", where=where, known=names, constant=still[:1])
    return exact[0]


def _seconds(
    name: str, cells: list[str] | None, numbers: Floats, where: str, rate_hz: float | None
) -> tuple[Floats, float | None, Reason]:
    """Return seconds from the first stamp, its wall-clock time if known, and how the stamps were read."""
    if rate_hz is not None:
        first = float(np.nanmin(numbers))
        return (numbers - first) / rate_hz, None, Reason(Why.TIME_COUNTED, (name, rate_hz))
    if cells is not None:
        moments = parse_moments(cells)
        if moments is None:
            raise CoachError("times.no_stamps", where=where, name=name, found=cells[0])
        first = float(np.nanmin(moments))
        return moments - first, first if first > 1e8 else None, Reason(Why.TIME_OF_CLOCK, (name,))
    said = read_time_name(name)
    unit = said.unit if said else None
    if unit is None:
        unit, word = find_unit(numbers, where=where)
    else:
        word = {1.0: "s", 1e-3: "ms", 1e-6: "µs", 1e-9: "ns"}[unit]
    first = float(np.nanmin(numbers))
    wall = first * unit
    # Stamps near zero keep their own zero, which a person may have set; seconds since 1970 begin at the first row.
    if 1e8 < wall < 1e10:
        return (numbers - first) * unit, wall, Reason(Why.TIME_SINCE_1970, (name, word))
    return numbers * unit, None, Reason(Why.TIME_IN_UNIT, (name, word))


def _channels(
    names: list[str],
    guesses: list[Guess],
    table: Floats,
    columns: list[int],
    units: Mapping[Quantity, tuple[float, str]],
    where: str,
) -> tuple[list[Channel], Floats, list[Reason]]:
    kept, notes, left, again = [], list[Reason](), [], []
    firsts: dict[str, int] = {}
    for i in columns:
        numbers = table[:, i]
        known = numbers[~np.isnan(numbers)]
        largest = float(np.abs(known).max(initial=0.0))
        if largest > _LARGEST:
            raise CoachError("readings.impossible", where=where, column=names[i], largest=largest)
        if not known.size or np.ptp(known) == 0:
            left.append(names[i])
        elif (before := firsts.get(_cut_number(names[i]))) is not None and np.array_equal(
            numbers, table[:, before], equal_nan=True
        ):
            again.append(names[i])
        else:
            kept.append(i)
            firsts[names[i]] = i
    if not kept:
        raise CoachError("readings.nothing_changes", where=where)
    guesses = _leave_out_lengths(guesses, kept)
    channels, values = [], []
    by_sensor: dict[tuple[str, str], list[int]] = {}
    for i in kept:
        by_sensor.setdefault((guesses[i].channel.quantity, guesses[i].channel.point), []).append(i)
    factors = {}
    for group in by_sensor.values():
        found, said = _factors(group, guesses, table, units)
        factors.update(found)
        notes += said
    for i in kept:
        guess = guesses[i].channel
        factor, unit = factors[i]
        numbers = table[:, i] * factor
        if unit == "px" and guess.axis == "y":
            numbers = -numbers
        _check_size(names[i], numbers, unit, where)
        channels.append(Channel(names[i], guess.quantity, guess.axis, guess.point, unit))
        values.append(numbers)
        notes.append(Reason(Why.COLUMN_IS, (names[i], guess.quantity, guess.axis, guess.point, unit)))
    if left:
        notes.append(Reason(Why.COLUMNS_CONSTANT, (tuple(left),)))
    if again:
        notes.append(Reason(Why.COLUMNS_TWICE, (tuple(again),)))
    return channels, np.column_stack(values), notes


def _cut_number(name: str) -> str:
    """Return the name without the number that the reader appended to a repeated one."""
    first, _, number = name.rpartition(" ")
    return first if number.isdecimal() else ""


def _leave_out_lengths(guesses: Sequence[Guess], kept: Sequence[int]) -> list[Guess]:
    """Return the guesses with magnitudes marked as something else where there are axes."""
    out = list(guesses)
    along = {guesses[i].channel.quantity for i in kept if guesses[i].channel.axis} - {"other"}
    for i in kept:
        channel = guesses[i].channel
        if not channel.axis and (channel.quantity in along or (guesses[i].length and along)):
            out[i] = replace(guesses[i], channel=replace(channel, quantity="other", unit=""), factor=None)
    return out


def _factors(
    group: list[int], guesses: Sequence[Guess], table: Floats, units: Mapping[Quantity, tuple[float, str]]
) -> tuple[dict[int, tuple[float, str]], list[Reason]]:
    """Return factor and unit of one sensor's columns (as asked, as written, or from their size), and notes."""
    quantity = guesses[group[0]].channel.quantity
    if quantity in units:
        factor, unit = units[quantity]
        right = belie(group, guesses, table, factor)
        doubt = Reason(Why.GRAVITY_AGAINST_OPTION, (names_of(guesses, group), right))
        return dict.fromkeys(group, (factor, unit)), [doubt] if right else []
    out = {}
    size = float(np.nanmedian(np.sqrt(np.nansum(table[:, group] ** 2, axis=1))))
    span = float(np.nanmax(np.ptp(np.nan_to_num(table[:, group], nan=0.0), axis=0)))
    for i in group:
        factor_written, unit = guesses[i].factor, guesses[i].channel.unit
        out[i] = _by_size(quantity, size, span) if factor_written is None else (factor_written, unit)
    written = {guesses[i].factor for i in group}
    right = belie(group, guesses, table, written.pop()) if len(written) == 1 else ""
    if not right:
        return out, []
    note = Reason(Why.GRAVITY_AGAINST_HEADER, (names_of(guesses, group), right))
    return dict.fromkeys(group, (GRAVITY if right == "g" else 1.0, "m/s²")), [note]


def _by_size(quantity: str, size: float, span: float) -> tuple[float, str]:
    """Guess the unit of readings from their size; no unit where none is plausible."""
    if quantity == "acceleration":
        # At rest an accelerometer reads gravity: about 1 g or about 9.8 m/s².
        return (9.80665, "m/s²") if size < 4.0 else (1.0, "m/s²")
    if quantity == "rotation":
        return (float(np.pi / 180), "rad/s") if span > 60.0 else (1.0, "rad/s")
    if quantity == "position":
        return (1.0, "m") if span < 12.0 else (1.0, "")
    return 1.0, ""


def _check_size(name: str, numbers: Floats, unit: str, where: str) -> None:
    limit = _LIMITS.get(unit)
    largest = float(np.nanmax(np.abs(numbers)))
    if limit is not None and largest > limit:
        raise CoachError("readings.beyond_gymnast", where=where, column=name, largest=largest, unit=unit)
