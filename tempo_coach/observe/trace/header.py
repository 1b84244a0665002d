"""Columns of a sensor's or tracker's table, told by their names.

A name is cut into words ("LeftWrist_accX (m/s²)" gives left, wrist, acc, x and the unit m/s²). The last word that is
x, y or z is the axis, a word like acc or gyro the quantity, and what is left is the point or sensor.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.trace import Channel
from tempo_coach.resources import check_file

if TYPE_CHECKING:
    from tempo_coach.observe.trace.trace import Quantity

_WORDS: dict[str, Quantity] = {
    **dict.fromkeys(("pos", "position", "loc", "location", "coord", "marker", "p"), "position"),
    **dict.fromkeys(("acc", "accel", "acceleration", "accelerometer", "a", "linacc", "force"), "acceleration"),
    **dict.fromkeys(
        ("gyro", "gyr", "gyroscope", "rot", "rotation", "omega", "angvel", "w", "g", "angular"), "rotation"
    ),
    **dict.fromkeys(("mag", "magnetometer", "quat", "quaternion", "q", "m", "euler", "angle", "temp"), "other"),
}
#: Words that say nothing about which point it is.
_EMPTY = {"sensor", "data", "value", "rate", "linear", "speed", "velocity", "without", "incl", "user", "raw"}
_SPEEDS = {"speed", "velocity", "vel", "v"}

#: Unit as written: what it measures, the unit inside, and the factor to it.
_UNITS: dict[str, tuple[Quantity, str, float]] = {
    "m": ("position", "m", 1.0),
    "metre": ("position", "m", 1.0),
    "meter": ("position", "m", 1.0),
    "cm": ("position", "m", 0.01),
    "mm": ("position", "m", 0.001),
    "px": ("position", "px", 1.0),
    "pixel": ("position", "px", 1.0),
    "pixels": ("position", "px", 1.0),
    "m/s2": ("acceleration", "m/s²", 1.0),
    "m/s^2": ("acceleration", "m/s²", 1.0),
    "m/s²": ("acceleration", "m/s²", 1.0),
    "m/s/s": ("acceleration", "m/s²", 1.0),
    "m.s-2": ("acceleration", "m/s²", 1.0),
    "ms-2": ("acceleration", "m/s²", 1.0),
    "g": ("acceleration", "m/s²", 9.80665),
    "mg": ("acceleration", "m/s²", 0.00980665),
    "rad/s": ("rotation", "rad/s", 1.0),
    "deg/s": ("rotation", "rad/s", float(np.pi / 180)),
    "°/s": ("rotation", "rad/s", float(np.pi / 180)),
    "dps": ("rotation", "rad/s", float(np.pi / 180)),
    "degrees/s": ("rotation", "rad/s", float(np.pi / 180)),
}
_TIME_UNITS = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1.0),
    **dict.fromkeys(("ms", "msec", "millis", "milliseconds", "millisecond"), 1e-3),
    **dict.fromkeys(("us", "µs", "μs", "usec", "micros", "microseconds"), 1e-6),
    **dict.fromkeys(("ns", "nanos", "nanoseconds"), 1e-9),
}
_TIME_WORDS = {"time", "t", "ts", "timestamp", "timestamps", "stamp", "elapsed", "epoch", "clock", "unix"}
_TIME_WORDS |= {"date", "datetime", "zeit"}


@dataclass(frozen=True)
class TimeName:
    """A column's name that speaks of time.

    Parameters
    ----------
    unit : float or None
        Seconds a unit, or None where the name gives none.
    exact : bool
        Whether the name says nothing else, so that it wins over one that does.
    """

    unit: float | None
    exact: bool


@dataclass(frozen=True)
class Guess:
    """A channel, and the factor to its unit; None where the name gives no unit."""

    channel: Channel
    factor: float | None


def read_time_name(name: str) -> TimeName | None:
    """Return what a column's name says about time, or None if it says nothing."""
    words, unit = _split(name)
    if unit in _TIME_UNITS and (not words or set(words) & _TIME_WORDS):
        return TimeName(_TIME_UNITS[unit], exact=set(words) <= _TIME_WORDS)
    units = [word for word in words if word in _TIME_UNITS]
    rest = [word for word in words if word not in _TIME_UNITS]
    if set(rest) & _TIME_WORDS:
        return TimeName(_TIME_UNITS[units[-1]] if units else None, exact=set(rest) <= _TIME_WORDS)
    if units and not rest:
        return TimeName(_TIME_UNITS[units[-1]], exact=True)
    return None


def read_name(name: str) -> Guess:
    """Return what a column is, as far as its name tells.

    Examples
    --------
    >>> read_name("LeftWrist_accX (g)").channel
    Channel(name='LeftWrist_accX (g)', quantity='acceleration', axis='x', point='LeftWrist', unit='m/s²')
    """
    words, written = _split(name)
    known = _UNITS.get(written) if written else None
    tail = words[-1] if len(words) > 1 else ""
    # A bare g or m at the end is a unit only after a word that says what was measured.
    short = tail in {"g", "m"} and not any(word in "xyz" or word in _WORDS for word in words[:-1])
    if known is None and tail in _UNITS and not short:
        known, words = _UNITS[tail], words[:-1]
    axis, words = _take_axis(words)
    quantity: Quantity | None = known[0] if known else None
    rest = []
    for word in words:
        meaning = _WORDS.get(word)
        if meaning is not None and (len(word) > 1 or (axis and word == words[-1])):
            quantity = quantity or meaning
        elif word not in _EMPTY:
            rest.append(word)
    if quantity is None:
        quantity = "position" if axis and not set(words) & _SPEEDS else "other"
    if known is not None and quantity != known[0]:
        known = None
    point = _spelling(name, rest)
    return Guess(Channel(name, quantity, axis, point, known[1] if known else ""), known[2] if known else None)


def _take_axis(words: list[str]) -> tuple[str, list[str]]:
    """Take the axis out of the words: the last x, y or z, alone or glued to a quantity (accx, gz)."""
    for at in range(len(words) - 1, -1, -1):
        word = words[at]
        if word in ("x", "y", "z"):
            return word, words[:at] + words[at + 1 :]
        if word[-1:] in ("x", "y", "z") and word[:-1] in _WORDS:
            return word[-1], [*words[:at], word[:-1], *words[at + 1 :]]
        if word[:1] in ("x", "y", "z") and word[1:] in _WORDS:
            return word[0], [*words[:at], word[1:], *words[at + 1 :]]
    return "", words


def _split(name: str) -> tuple[list[str], str]:
    """Return the lower-case words of a name, and the unit in brackets (or after a slash) if there is one."""
    unit = ""
    bracket = re.search(r"[(\[{]([^)\]}]*)[)\]}]", name)
    bare = name
    if bracket:
        unit = bracket.group(1).strip().lower().replace(" ", "")
        bare = name[: bracket.start()] + " " + name[bracket.end() :]
        if unit in ("x", "y", "z"):
            bare, unit = f"{bare} {unit}", ""
    bare = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", bare)
    words = [word for word in re.split(r"[^0-9A-Za-zÀ-ÿµμ°]+", bare) if word]
    return [word.lower() for word in words], unit


def _spelling(name: str, rest: list[str]) -> str:
    """Return the words that are left as they stood in the name."""
    if not rest:
        return ""
    pattern = r"[^0-9A-Za-zÀ-ÿ]*".join(re.escape(word) for word in rest)
    found = re.search(pattern, name, flags=re.IGNORECASE)
    return found.group(0) if found else " ".join(rest)


def is_header_of_trace(line: str) -> bool:
    """Return whether a table with this header is a trace: it names readings, and no hand as a table of onsets does.

    Examples
    --------
    >>> is_header_of_trace("time,wrist_x,wrist_y"), is_header_of_trace("time,hand"), is_header_of_trace("time;x")
    (True, False, True)
    """
    names = [name.strip().strip('"') for name in re.split(r"[,;\t]", line)]
    if "hand" in {name.lower() for name in names}:
        return False
    return any(read_name(name).channel.quantity != "other" for name in names if read_time_name(name) is None)


def is_trace(path: str | Path) -> bool:
    """Return whether a file is a table of readings, and not one of onsets; by its header alone."""
    try:
        check_file(path, what="a table")
        with Path(path).open("rb") as stream:
            start = stream.read(20_000)
    except (CoachError, OSError):
        return False  # whoever reads it says why
    text = start.decode("utf-16" if start[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig", errors="replace")
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    return any(is_header_of_trace(line) for line in lines[:1])
