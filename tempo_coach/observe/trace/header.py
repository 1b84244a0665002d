"""Columns of a sensor's or tracker's table, told by their names, all names of a table together.

Names that differ in one letter alone, x, y or z at the same place, are the axes of one sensor ("ax_g", "ay_g", "az_g").
What is left of a name without that letter is cut into words: a unit at their end, a word like acc or gyro for the
quantity, and the rest is the point or sensor ("LeftWrist_accX (m/s²)" gives x, m/s², acceleration, LeftWrist).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.observe.table_text import HAND_WORDS, SECONDS, find_column, guess_encoding, plain
from tempo_coach.observe.trace.header_words import (
    EMPTY_WORDS,
    FREE_WORDS,
    LENGTH_WORDS,
    QUANTITIES,
    QUANTITY_STEMS,
    SPEED_WORDS,
    TIME_WORDS,
    UNIT_SPELLINGS,
    UNITS,
)
from tempo_coach.observe.trace.trace import Channel
from tempo_coach.resources import check_file

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.trace import Quantity

#: Bytes of a table within which its header and first readings stand.
_BEGINNING = 20_000


@dataclass(frozen=True)
class TimeName:
    """The name of a column of times.

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
    """The meaning of a column as far as names show it.

    Parameters
    ----------
    channel : Channel
    factor : float or None
        To the channel's unit; None where the name gives no unit.
    told : bool
        Whether a word or a unit says the quantity; a position is what is left without.
    free : bool
        Whether a word says that gravity was taken out.
    length : bool
        Whether a word says that it is a length over all axes.
    """

    channel: Channel
    factor: float | None
    told: bool = True
    free: bool = False
    length: bool = False


def read_time_name(name: str) -> TimeName | None:
    """Return the meaning of a name as a column of times, or None."""
    words, unit = _split(name)
    words = [plain(word) for word in words]
    if unit in SECONDS and (not words or set(words) & TIME_WORDS):
        return TimeName(SECONDS[unit], exact=set(words) <= TIME_WORDS)
    units = [word for word in words if word in SECONDS]
    rest = [word for word in words if word not in SECONDS]
    if set(rest) & TIME_WORDS:
        return TimeName(SECONDS[units[-1]] if units else None, exact=set(rest) <= TIME_WORDS)
    if units and not rest:
        return TimeName(SECONDS[units[-1]], exact=True)
    return None


def read_name(name: str) -> Guess:
    """Return the meaning of a column as far as its own name shows it.

    Examples
    --------
    >>> read_name("LeftWrist_accX (g)").channel
    Channel(name='LeftWrist_accX (g)', quantity='acceleration', axis='x', point='LeftWrist', unit='m/s²')
    """
    return read_names([name])[0]


def read_names(names: Sequence[str], units: Sequence[str] | None = None) -> list[Guess]:
    """Return the meaning of all columns as far as their names show it.

    Parameters
    ----------
    names : sequence of str, length m
    units : sequence of str, length m, or None
        Units that stand beside the names; empty where none does.

    Examples
    --------
    >>> [guess.channel.point for guess in read_names(["Rx_m", "Ry_m", "Lx_m", "Ly_m"])]
    ['R', 'R', 'L', 'L']
    """
    places = _find_axes(names)
    out = []
    for i, name in enumerate(names):
        bare, number = name, ""
        again = re.fullmatch(r"(.+) (\d+)", name)
        if again and again.group(1) in names[:i]:
            bare, number = again.groups()
        guess = _read(bare, places[i], units[i] if units else "")
        point = f"{guess.channel.point} {number}".strip()
        out.append(replace(guess, channel=replace(guess.channel, name=name, point=point)))
    return out


def read_unit(unit: str) -> tuple[Quantity, str, float] | None:
    """Return the quantity of a unit, the internal unit and the factor to it; None for an unknown one.

    Examples
    --------
    >>> read_unit("mm")
    ('position', 'm', 0.001)
    """
    return UNITS.get(_spell_unit(unit))


def is_unit(cell: str) -> bool:
    """Return whether a cell may belong to a row of units: a unit, in brackets or not, or nothing."""
    bare = cell.strip("()[]").lower()
    time = read_time_name(bare)
    return (
        bare in {"", "-"} or read_unit(bare) is not None or "/s" in bare or (time is not None and time.unit is not None)
    )


def quantity_of(words: str) -> Quantity | None:
    """Return the quantity named by words, such as those of a file's name; None if they name none.

    Examples
    --------
    >>> quantity_of("Gyroscope 2"), quantity_of("a recording")
    ('rotation', None)
    """
    split = [plain(word) for word in _split(words)[0]]
    return next((meaning for word in split if len(word) > 2 and (meaning := _meaning(word))), None)


def _find_axes(names: Sequence[str]) -> list[tuple[int, str] | None]:
    """Return the position and letter of the axis in each name whose siblings have the other letters there.

    Numbers of axes count where no letters are: 0, 1, 2 or 1, 2, 3 after a word that says what was measured.
    """
    lower = [name.lower() if len(name.lower()) == len(name) else "" for name in names]
    out = [_choose(places) for places in _find_families(lower, "xyz")]
    numbered: list[tuple[int, str] | None] = [None] * len(names)
    for digits in ("012", "123"):
        for i, places in enumerate(_find_families(lower, digits)):
            whole = [place for place in places if place[1] == 3]
            if whole and out[i] is None and quantity_of(names[i]) not in (None, "other"):
                at = max(whole)[0]
                numbered[i] = numbered[i] or (at, "xyz"[digits.index(names[i][at])])
    return [letter or number for letter, number in zip(out, numbered, strict=True)]


def _find_families(names: Sequence[str], letters: str) -> list[list[tuple[int, int, str]]]:
    """Return for each name the places of such letters, how many of them the names alike have, and the letter."""
    families: dict[tuple[str, str], set[str]] = {}
    held = []
    for name in names:
        mine = [(at, name[at], (name[:at], name[at + 1 :])) for at in range(min(len(name), 200)) if name[at] in letters]
        for _, letter, key in mine:
            families.setdefault(key, set()).add(letter)
        held.append(mine)
    return [[(at, len(families[key]), letter) for at, letter, key in mine] for mine in held]


def _choose(places: Sequence[tuple[int, int, str]]) -> tuple[int, str] | None:
    best = max(places, key=lambda place: (place[1], place[0]), default=None)
    return (best[0], best[2]) if best is not None and best[1] > 1 else None


def _read(name: str, place: tuple[int, str] | None, beside: str) -> Guess:
    if place is None:
        words, written = _split(name)
        axis, words = _take_axis(words)
        before = len(words)
    else:
        at, axis = place
        head, tail = _split(name[:at]), _split(name[at + 1 :])
        # a bracket that stands around the letter is cut by it
        words, written = [*head[0], *tail[0]], head[1] or tail[1]
        before = len(head[0])
    words, before = _cut_numbers(words[:before]) + _cut_numbers(words[before:]), len(_cut_numbers(words[:before]))
    known = read_unit(written or beside) if written or beside else None
    if known is None:
        known, words = _take_unit(words, before, axis)
    quantity: Quantity | None = known[0] if known and known[0] != "other" else None
    rest, free, speed = [], False, False
    for k, word in enumerate(words):
        bare = plain(word)
        meaning = _meaning(bare)
        free |= bare in FREE_WORDS
        if meaning is not None and (len(word) > 1 or (axis and k == min(before, len(words)) - 1)):
            quantity = meaning if quantity is None or (quantity == "other" and not known) else quantity
        elif bare in SPEED_WORDS:
            speed = True
        elif bare not in EMPTY_WORDS and (axis or bare not in LENGTH_WORDS):
            rest.append(word)
    told = quantity is not None or known is not None or speed
    if quantity is None:
        quantity = "position" if axis and not told else "other"
    if known is not None and quantity != known[0]:
        known = None
    channel = Channel(name, quantity, axis, _spelling(name, rest), known[1] if known else "")
    length = not axis and any(plain(word) in LENGTH_WORDS for word in words)
    return Guess(channel, known[2] if known else None, told, free, length)


def _cut_numbers(words: Sequence[str]) -> list[str]:
    """Return the words with numbers apart that stand at the end of a quantity (acc2)."""
    out: list[str] = []
    for word in words:
        cut = re.fullmatch(r"([^\W\d]{3,})(\d+)", word)
        out += cut.groups() if cut and _meaning(plain(cut.group(1))) else [word]
    return out


def _take_unit(words: list[str], before: int, axis: str) -> tuple[tuple[Quantity, str, float] | None, list[str]]:
    """Take a unit off the end of the words, joined or split (m_s2), or from before the axis (acc_g_x)."""
    for count in (3, 2, 1):
        if len(words) >= count and (len(words) > count or axis):
            known = read_unit("_".join(words[-count:]))
            # A bare g or m is a unit only after the axis, or after a word that says what was measured.
            bare = count == 1 and words[-1] in {"g", "m", "a", "w"}
            behind = bool(axis) and len(words) - count >= before
            if known is not None and (not bare or behind or any(_meaning(plain(word)) for word in words[:-1])):
                return known, words[:-count]
    return None, words


def _meaning(word: str) -> Quantity | None:
    return QUANTITIES.get(word) or next((quantity for stem, quantity in QUANTITY_STEMS if word.startswith(stem)), None)


def _spell_unit(unit: str) -> str:
    spelled = plain(unit.replace("²", "2"))
    for pattern, short in UNIT_SPELLINGS:
        spelled = re.sub(pattern, short, spelled)
    return spelled


def _take_axis(words: list[str]) -> tuple[str, list[str]]:
    """Take the axis out of the words: the last x, y or z, alone or joined to a quantity (accx, gz)."""
    for at in range(len(words) - 1, -1, -1):
        word = words[at]
        if word in ("x", "y", "z"):
            return word, words[:at] + words[at + 1 :]
        for axis, left in ((word[-1], word[:-1]), (word[0], word[1:])):
            if axis in "xyz" and left and (left in QUANTITIES or _meaning(left) not in (None, "other")):
                return axis, [*words[:at], left, *words[at + 1 :]]
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
    if re.search(r"\|[^|]+\|", bare):
        bare = f"{bare.replace('|', ' ')} magnitude"
    bare = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", bare)
    words = [word for word in re.split(r"(?:[^\w°²]|_)+", bare) if word]
    return [word.lower() for word in words], unit


def _spelling(name: str, rest: list[str]) -> str:
    """Return the remaining words as spelt in the name."""
    if not rest:
        return ""
    pattern = r"[\W_]*".join(re.escape(word) for word in rest)
    found = re.search(pattern, name, flags=re.IGNORECASE)
    return found.group(0) if found else " ".join(rest)


def is_header_of_trace(names: Sequence[str]) -> bool:
    """Return whether columns are those of a trace: readings are named, and no hand as in a table of onsets.

    Examples
    --------
    >>> is_header_of_trace(["time", "wrist_x"]), is_header_of_trace(["Zeit", "Hand"]), is_header_of_trace(["time", "x"])
    (True, False, True)
    """
    guesses = read_names([name for name in names if read_time_name(name) is None])
    axes = [guess.channel for guess in guesses if guess.channel.axis and guess.channel.quantity != "other"]
    if find_column(names, HAND_WORDS) is not None:
        return len(axes) > 1
    return any(guess.channel.quantity != "other" for guess in guesses)


def is_trace(path: str | Path) -> bool:
    """Return whether a file is a table of readings rather than of onsets, from its beginning alone."""
    return is_header_of_trace(peek_header(path))


def peek_header(path: str | Path) -> list[str]:
    """Return the column names of a table's file from its beginning alone; none if it is not a table."""
    from tempo_coach.observe.trace.delimited import read_header

    try:
        check_file(path, what="readings")
        with Path(path).open("rb") as stream:
            start = stream.read(_BEGINNING)
    except (CoachError, OSError, ValueError):
        return []  # whoever reads it says why
    start = start.rpartition(b"\n")[0] or start if len(start) == _BEGINNING else start
    text = start.decode(guess_encoding(start) or "latin-1", errors="replace")
    return read_header(text.removeprefix("\ufeff"))
