"""Reader of TOML written by people: every problem of a file reported at once, with its line.

A :class:`TomlTable` returns checked values and records problems instead of stopping; the reader goes on with a default,
and :meth:`Problems.raise_if_any` reports all of them in the order of the file.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError, CoachErrors, nearest
from tempo_coach.pattern.drill.count_names import read_count
from tempo_coach.resources import read_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

Key = tuple[str | int, ...]

#: Problems of one file that are told; more would scroll the first ones away.
_MOST_TOLD = 20
#: Letters of a wrong value that are told again.
_LONGEST = 80
_HEADER = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_.\"' -]+?)\s*\]\]?\s*(?:#.*)?$")
#: A name of more parts than any has that is asked for.
_DEEP_NAME = re.compile(r"(?:[\w\"'-]{1,60}[ \t]*\.[ \t]*){40}")
_ENTRY = re.compile(r"^\s*([A-Za-z0-9_\"'.-]+)\s*=")


@dataclass
class Problems:
    """The problems found so far in one file.

    Parameters
    ----------
    path : str
    lines : dict
        The line of every table and entry, as :func:`find_lines` gives it.
    found : list of (line, CoachError)
    """

    path: str
    lines: dict[Key, int]
    found: list[tuple[int, CoachError]] = field(default_factory=list)

    def add(self, key: Key, code: str, /, **facts: object) -> None:
        """Note one problem of the entry at ``key``."""
        self.note(key, CoachError(code, where=None, **facts))

    def note(self, key: Key, error: CoachError) -> None:
        """Note an error as a problem of the entry at ``key``."""
        line = self.line_of(key)
        name = ".".join(str(part) for part in key if isinstance(part, str))
        self.found.append((line, error.at(f"{self.path}:{line}: {name}" if name else f"{self.path}:{line}")))

    def line_of(self, key: Key) -> int:
        """Return the line of an entry, or of the nearest table around it."""
        while key and key not in self.lines:
            key = key[:-1]
        return self.lines.get(key, 1)

    def raise_if_any(self) -> None:
        """Raise :class:`CoachErrors` with all problems, in the order of the file.

        Raises
        ------
        CoachErrors
            If anything was found.
        """
        if self.found:
            errors = [error for _, error in sorted(self.found, key=lambda each: each[0])]
            if len(errors) > _MOST_TOLD:
                errors[_MOST_TOLD:] = [CoachError("file.more_problems", where=self.path, more=len(errors) - _MOST_TOLD)]
            raise CoachErrors(errors)


@dataclass
class TomlTable:
    """A table of a file whose getters always return a usable value and record what was wrong with the given one.

    Parameters
    ----------
    data : dict
        As tomllib gives it.
    key : tuple
        Where the table stands in the file: names, and numbers of tables in an array.
    problems : Problems
        Where what is wrong goes.
    asked : set of str
        Entries that were asked for: the others are none that is known.
    """

    data: dict[str, Any]
    key: Key
    problems: Problems
    asked: set[str] = field(default_factory=set)

    def has(self, name: str) -> bool:
        """Return whether an entry is there; asking makes it a known one."""
        self.asked.add(name)
        return name in self.data

    def problem(self, entry: str, code: str, /, **facts: object) -> None:
        """Record a problem of one entry."""
        self.problems.add((*self.key, entry), code, **facts)

    def note(self, name: str, error: CoachError) -> None:
        """Note an error as a problem of one entry."""
        self.problems.note((*self.key, name), error)

    def text(self, name: str, default: str | None = "") -> str:
        """Return a string; without a default it is required."""
        value = self._value(name, default)
        if isinstance(value, str) and (value.strip() or default is not None):
            return value
        if value is not None:
            self.problem(name, "entry.no_text", found=_told(value))
        return default or ""

    def choice(self, name: str, among: Sequence[str], default: str) -> str:
        """Return one of the allowed words."""
        value = self._value(name, default)
        if value in among:
            return str(value)
        guess = nearest(str(value), list(among))
        self.problem(name, "entry.no_choice", choices=tuple(among), found=_told(value), nearest=guess)
        return default

    def choices(self, name: str, among: Sequence[str]) -> tuple[str, ...] | None:
        """Return some of the allowed words, possibly none; None where the entry is missing."""
        value = self._value(name, ())
        if value == ():
            return None
        if not isinstance(value, list):
            self.problem(name, "entry.no_list", choices=tuple(among), found=_told(value))
            return None
        for each in value:
            if each not in among:
                guess = nearest(str(each), list(among))
                self.problem(name, "entry.no_choice", choices=tuple(among), found=_told(each), nearest=guess)
        return tuple(each for each in among if each in value)

    def number(self, name: str, default: float | None, *, low: float, high: float) -> float:
        """Return a number within a range; NaN where it is invalid and there is no default."""
        value = self._value(name, default)
        if isinstance(value, (int, float)) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        if value is not None:
            self.problem(name, "entry.no_number", low=low, high=high, found=_told(value))
        return default if default is not None else math.nan

    def whole(self, name: str, default: int | None, *, low: int, high: int) -> int:
        """Return an integer within a range."""
        value = self._value(name, default)
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        if value is not None:
            self.problem(name, "entry.no_whole_number", low=low, high=high, found=_told(value))
        return default if default is not None else low

    def flag(self, name: str) -> bool:
        """Return true or false; false where it is missing or neither."""
        value = self._value(name, False)
        if not isinstance(value, bool):
            self.problem(name, "entry.no_flag", found=_told(value))
        return value is True

    def count(self, name: str) -> float:
        """Return a position in counts from 0, written as a coach says it, from 1; NaN where it is invalid."""
        value = self._value(name, None)
        if value is None:
            return math.nan
        try:
            return read_count(value)
        except ValueError as error:
            self.problem(name, "entry.refused", said=str(error))
            return math.nan

    def table(self, name: str) -> TomlTable:
        """Return a nested table, empty where it is missing."""
        value = self._value(name, {})
        if not isinstance(value, dict):
            self.problem(name, "entry.no_table", found=_told(value))
            value = {}
        return TomlTable(value, (*self.key, name), self.problems)

    def tables(self, name: str) -> Iterator[TomlTable]:
        """Yield the tables of an array of tables; none where it is missing."""
        value = self._value(name, [])
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            self.problem(name, "entry.no_tables", name=name)
            return
        for k, each in enumerate(value):
            yield TomlTable(each, (*self.key, name, k), self.problems)

    def no_more(self) -> None:
        """Record every unknown entry, with the nearest known one."""
        unknown = [name for name in self.data if name not in self.asked]
        for k, name in enumerate(unknown):
            if k >= _MOST_TOLD:
                self.problem(name, "entry.unknown_too")
            else:
                guess = nearest(name, sorted(self.asked - set(self.data)) or sorted(self.asked))
                self.problem(name, "entry.unknown", known=sorted(self.asked), nearest=guess)

    def _value(self, name: str, default: object) -> Any:
        self.asked.add(name)
        if name not in self.data:
            if default is None:
                self.problem(name, "entry.missing", name=name)
            return default
        return self.data[name]


def read_table(path: str | Path, *, what: str) -> TomlTable:
    """Return the top table of a TOML file.

    Parameters
    ----------
    path : str or Path
    what : str
        What the file should be, for the error: ``"drill"``.

    Raises
    ------
    CoachError
        If it cannot be read or is not TOML.
    """
    return read_table_text(read_text(path, what=what), where=str(path), what=what)


def read_table_text(text: str, *, where: str, what: str) -> TomlTable:
    """Return the top table of a TOML text that came from somewhere; see :func:`read_table`."""
    deep = _DEEP_NAME.search(text)
    if deep:  # which would take the reader of TOML minutes
        line = str(text.count("\n", 0, deep.start()) + 1)
        raise CoachError("toml.deep_name", where=f"{where}:{line}", what=what)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = found.group(1) if found else str(text.count("\n") + 1)
        said = re.sub(r"\s*\(at .*\)$", "", str(error))[:200]
        raise CoachError("toml.unreadable", where=f"{where}:{line}", what=what, said=said) from None
    except (RecursionError, ValueError) as error:
        code = "toml.too_deep" if isinstance(error, RecursionError) else "toml.too_many_digits"
        raise CoachError(code, where=where, what=what) from None
    return TomlTable(data, (), Problems(where, find_lines(text)))


def find_lines(text: str) -> dict[Key, int]:
    """Return the line of every table and entry of a TOML text, keyed by its path.

    Arrays of tables are counted from 0: ``("phase", 1, "start")``.
    """
    lines: dict[Key, int] = {(): 1}
    numbers: dict[Key, int] = {}
    here: Key = ()
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header:
            here = ()
            names = [name.strip().strip("\"'") for name in header[2].split(".")]
            for name in names[:-1]:
                here = (*here, name)
                if here in numbers:
                    here = (*here, numbers[here])
            here = (*here, names[-1])
            lines.setdefault(here, number)
            if header[1] == "[[":
                numbers[here] = numbers.get(here, -1) + 1
                here = (*here, numbers[here])
                lines[here] = number
            continue
        entry = _ENTRY.match(line)
        if entry:
            lines.setdefault((*here, *entry[1].replace('"', "").replace("'", "").split(".")), number)
    return lines


def _told(value: object) -> str:
    """Return a value shortened for an error message."""
    try:
        text = f"{value:g}" if isinstance(value, float) else repr(value)
    except ValueError:  # a whole number of thousands of digits, which Python writes to another base alone
        text = hex(value) if isinstance(value, int) else type(value).__name__
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]} …"
