"""Forms filled with numbers as a language writes them."""

from string import Formatter


class FormsWithNumbers(Formatter):
    """Fills forms; numbers that are given a format get the signs that samples show.

    Parameters
    ----------
    number, percent : str
        1234.5 and 50 % as they are written.
    """

    def __init__(self, number: str, percent: str) -> None:
        self._signs = {",": number[1:-5], ".": number[-2]}
        self._percent = percent.removeprefix("50")

    def format_field(self, value: object, format_spec: str) -> str:
        """Return a value in its format."""
        shown: str = format(value, format_spec)
        if not format_spec or isinstance(value, str) or not hasattr(value, "__round__"):
            return shown
        percent = self._percent if shown.endswith("%") else ""
        return "".join(self._signs.get(sign, sign) for sign in shown.removesuffix("%")) + percent
