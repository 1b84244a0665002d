"""A benchmark's row, and its table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True)
class Row:
    """One measured figure with the floor that must hold and the aim that is wanted.

    ``better`` says which way is good: ``"low"`` or ``"high"``. Without a floor the figure is shown and not judged.
    """

    what: str
    value: float
    unit: str = ""
    floor: float | None = None
    aim: float | None = None
    better: str = "low"

    @property
    def holds(self) -> bool:
        """Whether the floor is kept; True where there is none."""
        if self.floor is None:
            return True
        return self.value <= self.floor if self.better == "low" else self.value >= self.floor


def print_rows(name: str, rows: Iterable[Row]) -> bool:
    """Print the rows as they come and return whether every floor held."""
    print(f"\n{name}\n{'':2}{'measured':<58}{'value':>12}{'floor':>10}{'aim':>10}  unit")
    held = True
    for row in rows:
        floor = "" if row.floor is None else f"{row.floor:g}"
        aim = "" if row.aim is None else f"{row.aim:g}"
        mark = "" if row.holds else "  BELOW THE FLOOR"
        print(f"  {row.what:<58}{row.value:>12.4g}{floor:>10}{aim:>10}  {row.unit}{mark}", flush=True)
        held &= row.holds
    return held
