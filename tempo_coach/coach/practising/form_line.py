"""One line of the set-up as a plain value: turned, typed into, searched, and said."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from tempo_coach.errors import CoachError
from tempo_coach.languages import OWN_NAME, tr
from tempo_coach.report.words.practising import CUES

if TYPE_CHECKING:
    from collections.abc import Mapping


#: What a line shows where nothing was chosen and the drill, the music or the system decides.
DEFAULT = ""


#: Behind a hand in the choice that has it practised alone.
_ALONE = " alone"
DEVICE_WORDS = {DEFAULT: "the system's own", "none": "none: a silent clock"}


@dataclass(frozen=True)
class Line:
    """One line of the set-up.

    Parameters
    ----------
    value : str
        As it is typed; ``DEFAULT`` where nothing was chosen.
    choices : tuple of str
        What left and right lead through; a line that is typed may have some too.
    kind : {"choice", "number", "text"}
    step, low, high : float
        Of a number.
    begin : float
        Where left and right begin while the number is not known.
    default : str
        What ``DEFAULT`` stands for here, as far as it is known.
    labels : mapping of str to str
        What choices are called on the screen; where there are some, typing looks for words in them.
    search : str
        What was typed to find a choice.
    completes : bool
        Whether first letters stand for the only choice that begins so, in a line that is typed.
    """

    key: str
    label: str
    value: str = DEFAULT
    choices: tuple[str, ...] = ()
    kind: Literal["choice", "number", "text"] = "choice"
    step: float = 1.0
    low: float = 0.0
    high: float = 0.0
    begin: float = 0.0
    default: str = ""
    unit: str = ""
    labels: Mapping[str, str] = field(default_factory=dict)
    search: str = ""
    completes: bool = False

    @property
    def completed(self) -> Line:
        """The line with the only choice that begins with its first letters; as it is where there is none, or several.

        Examples
        --------
        >>> line = Line("athlete", "whose take", "be", ("", "Ada", "Bea"), kind="text", completes=True)
        >>> line.completed.value, replace(line, value="Mia").completed.value
        ('Bea', 'Mia')
        """
        typed = self.value.strip().casefold()
        begin = [each for each in self.choices if each and each.casefold().startswith(typed)]
        same = [each for each in begin if each.casefold() == typed]
        found = same or begin
        return replace(self, value=found[0]) if self.completes and typed and len(found) == 1 else self

    @property
    def found(self) -> tuple[str, ...]:
        """The choices whose labels or names have, for each typed word, a word that begins with it."""
        words = self.search.casefold().split()

        def fits(choice: str) -> bool:
            parts = re.split(r"[\W_]+", f"{self.labels.get(choice, '')} {name_of(choice)}".casefold())
            return all(any(part.startswith(word) for part in parts) for word in words)

        return tuple(choice for choice in self.choices if fits(choice))

    def turned(self, by: int) -> Line:
        """Return the line with the next or previous choice, or its number one step up or down."""
        if self.kind == "text" and not self.choices:
            return self
        if self.kind != "number":
            choices = (self.labels and self.found) or self.choices
            index = choices.index(self.value) if self.value in choices else 0
            search = self.search if self.labels else ""
            return replace(self, value=choices[(index + by) % len(choices)], search=search)
        start = self.number if self.number is not None else _number(self.default)
        start = self.begin if start is None else start
        return replace(self, value=f"{min(max(start + by * self.step, self.low), self.high):g}")

    def typed(self, letter: str) -> Line:
        """Return the line with a letter more; a list of choices goes to the next one that begins with what was typed.

        A letter that leaves none begins anew, so that the same one again goes on. Choices with labels are looked for by
        words in them; a letter that leaves none is not taken in.
        """
        if self.labels:
            line = replace(self, search=f"{self.search}{letter}".lstrip())
            left = line.found
            return replace(line, value=self.value if self.value in left else left[0]) if left else self
        if self.kind == "choice":
            return self._found_next(f"{self.search}{letter}", from_here=True) or self._found_next(letter) or self
        if self.kind == "number" and not (letter.isdigit() or letter in ".,"):
            return self
        return replace(
            self, value=self.value + letter.replace(",", ".") if self.kind == "number" else self.value + letter
        )

    def _found_next(self, search: str, *, from_here: bool = False) -> Line | None:
        """Return the line at the next choice whose name or text begins with given letters; None without one."""
        start = self.choices.index(self.value) + (not from_here) if self.value in self.choices else 0
        begins = search.casefold()
        for each in (*self.choices[start:], *self.choices[:start]):
            line = replace(self, value=each, search=search)
            if any(words.casefold().startswith(begins) for words in (name_of(each), say_line(line))):
                return line
        return None

    def erased(self) -> Line:
        """Return the line with a letter less, or with its default where it is a choice."""
        if self.search:
            return replace(self, search=self.search[:-1])
        if self.kind == "choice":
            return replace(self, value=DEFAULT) if DEFAULT in self.choices else self
        return replace(self, value=self.value[:-1])

    @property
    def number(self) -> float | None:
        """The typed number; None without one.

        Raises
        ------
        CoachError
            If it is none, or outside its range.
        """
        if self.value == DEFAULT:
            return None
        number = _number(self.value)
        if number is None or not self.low <= number <= self.high:
            raise CoachError("form.out_of_range", where=tr(self.label), low=self.low, high=self.high, found=self.value)
        return number


def name_of(drill: str) -> str:
    """Return the name of a drill, or of its file."""
    return Path(drill).stem if drill.endswith(".toml") else drill


def alone(hand: str) -> str:
    """Return the choice that has a hand practised alone."""
    return f"{hand}{_ALONE}"


def hand_alone(choice: str) -> str | None:
    """Return the hand that a choice has practised alone; None where it has all of them.

    Examples
    --------
    >>> hand_alone(alone("left")), hand_alone("mirrored")
    ('left', None)
    """
    return choice.removesuffix(_ALONE) if choice.endswith(_ALONE) else None


def say_line(line: Line) -> str:
    """Return what a line shows behind its label."""
    if line.key == "drill":
        # titles and names of drills are as their files have them; the rest that can stand there is the program's
        label = line.labels.get(line.value) or tr(name_of(line.value))
        return tr("{name} (your own)", name=label) if line.value.endswith(".toml") else label
    if line.key == "hands" and (hand := hand_alone(line.value)):
        return tr("{hand} alone", hand=tr(hand))
    if line.key == "language" and line.value != DEFAULT:
        return f"{tr(OWN_NAME)} ({line.value})"  # what is chosen is spoken from then on
    words = {"cues": CUES, "device": DEVICE_WORDS}.get(line.key, {})
    if line.value != DEFAULT or line.key == "device":
        shown = words.get(line.value, line.value)
        return f"{tr(shown) if line.kind == 'choice' else shown} {tr(line.unit)}".strip()
    if line.kind == "text" or (line.kind == "number" and _number(line.default) is None):
        return tr(line.default)
    return tr("{what} (usual)", what=f"{tr(line.default)} {tr(line.unit)}".strip())


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
