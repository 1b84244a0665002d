"""Columns whose names do not give their meaning: from an answer, the file's name or gravity; else one question."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError, nearest
from tempo_coach.observe.trace.header import Guess, quantity_of, read_unit
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.trace.trace import Quantity
    from tempo_coach.times import Floats

_UNIT_OVERRIDES: dict[Quantity, tuple[str, ...]] = {
    "position": ("m", "cm", "mm", "px"),
    "acceleration": ("g", "m/s2", "mg"),
    "rotation": ("rad/s", "deg/s"),
}
GRAVITY = 9.80665
#: How near the median length of an accelerometer's readings lies to gravity when it is moved by hand, and where the
#: tenth and the ninetieth percentile of the lengths lie then, in parts of gravity. In g less is believed than in m/s²,
#: because positions in metres lie about 1 as well.
_NEAR, _NEAR_IN_G = 0.15, 0.08
#: How near it lies where something else is written: a club that turns evenly may read 9 g as well.
_NEAR_DESPITE = 0.05
_STEADY = {GRAVITY: (0.4, 1.9), 1.0: (0.75, 1.3)}
#: Steps of a column that are looked at to tell gravity.
_LOOKED_AT = 100_000


def check_units(units: Mapping[str, str]) -> dict[Quantity, tuple[float, str]]:
    """Return factor and internal unit for each quantity that was answered for."""
    out = {}
    for what, unit in units.items():
        quantity = next((known for known in _UNIT_OVERRIDES if known == what), None)
        if quantity is None:
            kinds: list[str] = list(_UNIT_OVERRIDES)
            close = nearest(what, kinds)
            raise CoachError("unit.of_what", where="--unit", known=kinds, found=what[:40], nearest=close, unit=unit)
        read = read_unit(unit)
        if read is None or read[0] != quantity:
            there = _UNIT_OVERRIDES[quantity]
            raise CoachError("unit.unknown", where="--unit", quantity=quantity, known=there, found=unit[:40])
        out[quantity] = (read[2], read[1])
    return out


def settle(
    guesses: Sequence[Guess],
    table: Floats,
    columns: Sequence[int],
    wanted: Mapping[Quantity, tuple[float, str]],
    where: str,
    rate_hz: float,
) -> tuple[list[Guess], list[Reason]]:
    """Return the meaning of columns whose names do not give it: as answered, by the file's name, by gravity; or ask.

    Parameters
    ----------
    guesses : sequence of Guess
        A column each.
    table : numpy.ndarray, shape (n, columns)
        In the units of the file.
    columns : sequence of int
        Of the table, one a guess.
    wanted : mapping
        Unit and its place by quantity, as answered.
    where : str
    rate_hz : float

    Raises
    ------
    CoachError
        If x, y and z could be anything, or an answer is for columns that are not there.
    """
    out, notes = list(guesses), list[Reason]()
    told = {guesses[i].channel.quantity for i in columns if guesses[i].told}
    open_: dict[str, list[int]] = {}
    for i in columns:
        if not guesses[i].told and guesses[i].channel.axis and np.ptp(_known(table[:, i])) > 0:
            open_.setdefault(guesses[i].channel.point, []).append(i)
    answers = [quantity for quantity in wanted if quantity not in told]
    if len(answers) > 1 or (answers and not open_):
        raise CoachError("unit.unused", where="--unit", quantity=answers[-1])
    by_file = quantity_of(Path(where).stem)
    for point, axes in open_.items():
        if answers:
            quantity, why = answers[0], None
        elif by_file is not None and by_file != "other":
            quantity, why = by_file, Reason(Why.FILE_NAME_SAYS, (by_file,))
        elif len(axes) == 3 and _find_gravity(table[:, axes]) is not None:
            quantity, why = "acceleration", Reason(Why.HOLD_GRAVITY, (names_of(out, axes),))
        elif len(axes) == 3 and not point.strip("0123456789 "):
            raise _question(out, axes, table, where, rate_hz)
        else:
            continue
        notes += [why] if why and why not in notes else []
        for i in axes:
            out[i] = replace(out[i], channel=replace(out[i].channel, quantity=quantity), told=True)
    return out, notes


def _question(guesses: Sequence[Guess], axes: Sequence[int], table: Floats, where: str, rate_hz: float) -> CoachError:
    ranges = {
        guesses[i].channel.name: (float(_known(table[:, i]).min()), float(_known(table[:, i]).max())) for i in axes
    }
    return CoachError("unit.untold", where=where, ranges=ranges, rate_hz=rate_hz)


def names_of(guesses: Sequence[Guess], axes: Sequence[int]) -> tuple[str, ...]:
    """Return the names of columns."""
    return tuple(guesses[i].channel.name for i in axes)


def _find_gravity(axes: Floats, *, near: float = _NEAR) -> float | None:
    """Return the size of gravity in three columns, 1 or 9.80665; None where it does not show.

    Parameters
    ----------
    axes : numpy.ndarray, shape (n, 3)
    near : float
        Part of gravity by which the median length may be off.
    """
    some = axes[:: max(1, len(axes) // _LOOKED_AT)]
    length = np.sqrt((some**2).sum(axis=1))
    length = length[~np.isnan(length)]
    if length.size < 2:
        return None
    low, middle, high = (float(part) for part in np.quantile(length, [0.1, 0.5, 0.9]))
    for gravity, off in ((GRAVITY, near), (1.0, min(near, _NEAR_IN_G))):
        least, most = _STEADY[gravity]
        if abs(middle / gravity - 1) < off and low > least * gravity and high < most * gravity:
            return gravity
    return None


def _known(numbers: Floats) -> Floats:
    known = numbers[~np.isnan(numbers)]
    return known if known.size else np.zeros(1)


def belie(group: Sequence[int], guesses: Sequence[Guess], table: Floats, factor: float | None) -> str:
    """Return the unit of accelerations that gravity shows where another one was declared; else nothing.

    Parameters
    ----------
    group : sequence of int
        The guesses of one sensor's x, y and z.
    guesses : sequence of Guess
        A column each.
    table : numpy.ndarray, shape (n, columns)
        In the units of the file.
    factor : float or None
        Of the declared unit, in m/s².
    """
    channels = [guesses[i].channel for i in group]
    if factor not in (1.0, GRAVITY) or len(group) != 3 or any(guesses[i].free for i in group):
        return ""
    if any(channel.quantity != "acceleration" for channel in channels):
        return ""
    gravity = _find_gravity(table[:, group], near=_NEAR_DESPITE)
    if gravity is None or gravity * factor == GRAVITY:
        return ""
    return "g" if gravity == 1.0 else "m/s²"
