"""One line of a form: a choice, a number or words, changed a step or a letter at a time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from tempo_coach.errors import CoachError

#: What a line shows where nothing was chosen and the drill, the music or the system decides.
USUAL = ""
#: The drill of a set-up whose music is a routine: whatever that has laid on the eight.
AS_LAID = "what the routine has there"
CUE_WORDS = {
    "all": "every moment",
    "alternate": "every other cycle",
    "ones": "the first of each cycle",
    "none": "none",
    "thinning": "fewer and fewer, then none",
}
DEVICE_WORDS = {USUAL: "the system's own", "none": "none: a silent clock"}


@dataclass(frozen=True)
class Line:
    """One line of the set-up.

    Parameters
    ----------
    key, label : str
    value : str
        As it is typed; ``USUAL`` where nothing was chosen.
    choices : tuple of str
        What left and right lead through; a line that is typed may have some too.
    kind : {"choice", "number", "text"}
    step, low, high : float
        Of a number.
    begin : float
        Where left and right begin while the number is not known.
    usual : str
        What ``USUAL`` stands for here, as far as it is known.
    unit : str
    """

    key: str
    label: str
    value: str = USUAL
    choices: tuple[str, ...] = ()
    kind: Literal["choice", "number", "text"] = "choice"
    step: float = 1.0
    low: float = 0.0
    high: float = 0.0
    begin: float = 0.0
    usual: str = ""
    unit: str = ""

    def turned(self, by: int) -> Line:
        """Return the line one choice, or one step of its number, further or back."""
        if self.kind == "text" and not self.choices:
            return self
        if self.kind != "number":
            index = self.choices.index(self.value) if self.value in self.choices else 0
            return replace(self, value=self.choices[(index + by) % len(self.choices)])
        start = self.number if self.number is not None else _number(self.usual)
        start = self.begin if start is None else start
        return replace(self, value=f"{min(max(start + by * self.step, self.low), self.high):g}")

    def typed(self, letter: str) -> Line:
        """Return the line with a letter more; a list of choices goes to the next one that begins with it."""
        if self.kind == "choice":
            start = self.choices.index(self.value) + 1 if self.value in self.choices else 0
            order = (*self.choices[start:], *self.choices[:start])
            found = next((each for each in order if name_of(each).startswith(letter.lower())), self.value)
            return replace(self, value=found)
        if self.kind == "number" and not (letter.isdigit() or letter in ".,"):
            return self
        return replace(
            self, value=self.value + letter.replace(",", ".") if self.kind == "number" else self.value + letter
        )

    def erased(self) -> Line:
        """Return the line with a letter less, or as usual where it is a choice."""
        if self.kind == "choice":
            return replace(self, value=USUAL) if USUAL in self.choices else self
        return replace(self, value=self.value[:-1])

    @property
    def number(self) -> float | None:
        """The number that was typed; None where none was.

        Raises
        ------
        CoachError
            If it is none, or outside its range.
        """
        if self.value == USUAL:
            return None
        number = _number(self.value)
        if number is None or not self.low <= number <= self.high:
            raise CoachError(f"expected {self.low:g} to {self.high:g}, got {self.value}", where=self.label)
        return number


def name_of(drill: str) -> str:
    """Return what a drill is called: its name, or that of its file."""
    return Path(drill).stem if drill.endswith(".toml") else drill


def say_line(line: Line) -> str:
    """Return what a line shows behind its label."""
    if line.key == "drill" and line.value.endswith(".toml"):
        return f"{name_of(line.value)} (your own)"
    words = {"cues": CUE_WORDS, "device": DEVICE_WORDS}.get(line.key, {})
    if line.value != USUAL or line.key == "device":
        return f"{words.get(line.value, line.value)} {line.unit}".strip()
    if line.kind == "text" or (line.kind == "number" and _number(line.usual) is None):
        return line.usual
    return f"{line.usual} {line.unit}".strip() + " (usual)"


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
