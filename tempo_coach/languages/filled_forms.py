"""Forms filled with numbers and dates as a language writes them."""

from __future__ import annotations

from datetime import date
from string import Formatter
from typing import TYPE_CHECKING

from tempo_coach.languages import MONTHS, NUMBER, PERCENT, SHORT_MONTHS, WEEKDAYS

if TYPE_CHECKING:
    from collections.abc import Callable


class FormsWithNumbers(Formatter):
    """Fills forms; numbers and dates that are given a format get the signs and names that the catalogue has.

    Parameters
    ----------
    look_up : callable
        Returns the translation of a key.
    """

    def __init__(self, look_up: Callable[[str], str]) -> None:
        number = look_up(NUMBER)
        self._signs = {",": number[1:-5], ".": number[-2]}
        self._percent = look_up(PERCENT).removeprefix("50")
        self._look_up = look_up

    def format_field(self, value: object, format_spec: str) -> str:
        """Return a value in its format."""
        if isinstance(value, date):
            for sign, names in (("%B", MONTHS), ("%b", SHORT_MONTHS)):
                format_spec = format_spec.replace(sign, self._look_up(names[value.month - 1]))
            format_spec = format_spec.replace("%A", self._look_up(WEEKDAYS[value.weekday()]))
        shown: str = format(value, format_spec)
        if not format_spec or isinstance(value, (str, date)) or not hasattr(value, "__round__"):
            return shown
        percent = self._percent if shown.endswith("%") else ""
        return "".join(self._signs.get(sign, sign) for sign in shown.removesuffix("%")) + percent
