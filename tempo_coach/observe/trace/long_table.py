"""Long tables spread out: the columns that name a sensor, point, member or axis become names of columns.

Readings of one sensor stand at its own stamps. All get those of the sensor with the most readings, by a line between
two of their own that are near.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.table_text import words_of
from tempo_coach.observe.trace.trace import GAP_STEPS
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.times import Floats

#: Words that name a column of names, in English, German, French, Spanish and Italian, accents left out. A label is
#: none: it says what was done at the time.
_KEYS = {"sensor", "device", "marker", "point", "joint", "landmark", "keypoint", "bodypart", "body", "part", "member"}
_KEYS |= {"gymnast", "athlete", "name", "id", "person", "subject", "hand", "side", "axis", "channel", "type", "kind"}
_KEYS |= {"measure", "measurement", "quantity", "signal", "variable", "segment", "limb"}
_KEYS |= {"gerat", "punkt", "marke", "mitglied", "kanal", "achse", "seite", "typ", "art", "grosse", "messgrosse"}
_KEYS |= {"capteur", "marqueur", "membre", "nom", "axe", "cote", "main", "canal", "appareil", "grandeur"}
_KEYS |= {"marcador", "punto", "miembro", "nombre", "eje", "lado", "mano", "tipo", "dispositivo", "articulacion"}
_KEYS |= {"sensore", "membro", "nome", "asse", "lato", "canale", "grandezza", "marcatore"}
#: Sensors, points or members of the largest table: a hundred points in three axes.
_MOST = 300


class Spread(NamedTuple):
    """A table with a column for each sensor and reading.

    Parameters
    ----------
    time : numpy.ndarray, shape (n,)
        As the stamps were, of the sensor with the most readings.
    names : list of str, length m
    table : numpy.ndarray, shape (n, m)
    columns : list of int, length m
        The column of the long table that each comes from.
    notes : list of Reason
    """

    time: Floats
    names: list[str]
    table: Floats
    columns: list[int]
    notes: list[Reason]


def find_keys(names: Sequence[str], table: Floats, texts: Mapping[int, Sequence[str]]) -> list[int]:
    """Return the columns that identify the source of a row's readings, where rows come from several sources.

    Parameters
    ----------
    names : sequence of str, length m
    table : numpy.ndarray, shape (n, m)
    texts : mapping of column to cells
    """
    keys = []
    for i, name in enumerate(names):
        words = words_of(name)
        if not words or not set(words) <= _KEYS:
            continue
        kinds = len(set(texts[i])) if i in texts else len(np.unique(table[~np.isnan(table[:, i]), i]))
        # a number of its own for every row, or for most of them, numbers the rows
        if kinds > 1 and 2 * kinds <= len(table) and (i in texts or kinds <= _MOST):
            keys.append(i)
    return keys


def spread(
    stamps: Floats,
    names: Sequence[str],
    table: Floats,
    texts: Mapping[int, Sequence[str]],
    keys: Sequence[int],
    columns: Sequence[int],
    *,
    rate_hz: float | None,
) -> Spread:
    """Pivot a long table to one column for each source and reading.

    Parameters
    ----------
    stamps : numpy.ndarray, shape (n,)
        Of each row; NaN where it has none.
    names : sequence of str, length m
    table : numpy.ndarray, shape (n, m)
    texts : mapping of column to cells
    keys : sequence of int
        As :func:`find_keys` gives them.
    columns : sequence of int
        The columns of readings.
    rate_hz : float or None
        Where rows have no stamps but are even.

    Raises
    ------
    CoachError
        If there are more sensors than any record has, or no readings beside their names.
    """
    columns = [i for i in columns if i not in keys]
    said = [names[i] for i in keys]
    if not columns:
        raise CoachError("long_table.no_readings", columns=said)
    labels, group = _group(table, texts, keys)
    if len(labels) * len(columns) > _MOST * 3:
        raise CoachError("long_table.too_many", most=_MOST, columns=said, found=len(labels))
    order = np.argsort(group, kind="stable")
    starts = np.searchsorted(group[order], np.arange(len(labels) + 1))
    rows = [order[a:b] for a, b in pairwise(starts)]
    rows = [mine[~np.isnan(stamps[mine])] for mine in rows]
    times = [np.arange(mine.size) / rate_hz if rate_hz else stamps[mine] for mine in rows]
    most = max(range(len(rows)), key=lambda k: rows[k].size)
    time = times[most]
    out, new, taken = [], [], []
    for k, label in enumerate(labels):
        for i in columns:
            values = table[rows[k], i]
            if np.isnan(values).all():
                continue  # a sensor leaves empty what others read
            same = times[k].size == time.size and np.array_equal(times[k], time)
            out.append(values if same else _onto(time, times[k], values))
            new.append(f"{label} {names[i]}")
            taken.append(i)
    if not out:
        raise CoachError("long_table.no_readings", columns=said)
    note = Reason(Why.LONG_TABLE, (tuple(labels), tuple(said)))
    return Spread(time, new, np.column_stack(out), taken, [note])


def _group(
    table: Floats, texts: Mapping[int, Sequence[str]], keys: Sequence[int]
) -> tuple[list[str], np.ndarray[tuple[int], np.dtype[np.int64]]]:
    """Return the combined names of the keys in order of appearance, and the one of each row."""
    cells = [
        texts[i] if i in texts else [("" if np.isnan(value) else f"{value:.12g}") for value in table[:, i]]
        for i in keys
    ]
    numbers: dict[str, int] = {}
    group = np.empty(len(table), dtype=np.int64)
    for row, parts in enumerate(zip(*cells, strict=True)):
        label = " ".join(part.strip() for part in parts if part.strip())[:200]
        group[row] = numbers.setdefault(label, len(numbers))
    return list(numbers), group


def _onto(time: Floats, own: Floats, values: Floats) -> Floats:
    """Interpolate values linearly at other times, without bridging long gaps."""
    known = ~np.isnan(values)
    own, values = own[known], values[known]
    order = np.argsort(own, kind="stable")
    own, values = own[order], values[order]
    if own.size < 2:
        return np.full(time.size, np.nan)
    found = np.interp(time, own, values, left=np.nan, right=np.nan)
    right = np.clip(np.searchsorted(own, time), 1, own.size - 1)
    steps = own[right] - own[right - 1]
    median = float(np.median(np.diff(own)))
    at = (own[right] == time) | (own[right - 1] == time)
    found[(steps > GAP_STEPS * median) & ~at] = np.nan
    return found
