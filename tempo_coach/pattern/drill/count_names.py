"""Counts as a coach says them: ``3``, ``3&``, ``3e``, ``3a``, ``1+2/3``."""

from __future__ import annotations

import re

_SAID = re.compile(
    r"""\s*(?P<whole>\d{1,6}(?:\.\d{1,12})?)
        (?:(?P<part>[&ea])|\s*\+\s*(?P<over>\d{1,6})\s*/\s*(?P<under>[1-9]\d{0,5}))?\s*$""",
    re.VERBOSE,
)
_PARTS = {"e": 0.25, "&": 0.5, "a": 0.75}
#: Counts of music that goes on for weeks.
_MOST = 1e6
_NAMES = {0.25: "e", 0.5: "&", 0.75: "a"}


def read_count(said: str | float) -> float:
    """Return the position, from 0, of a count as a coach says it, from 1.

    Parameters
    ----------
    said : str or float
        ``"3"`` or ``3`` is the third count; ``"3e"``, ``"3&"`` and ``"3a"`` lie a quarter, a half and three quarters
        of a count after it, ``"1+2/3"`` two thirds after the first.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        If it is no count, or lies before the first one.

    Examples
    --------
    >>> read_count("3&"), read_count(1), read_count("1+1/2")
    (2.5, 0.0, 0.5)
    """
    known = isinstance(said, (str, int, float)) and not isinstance(said, bool)
    if not known or (not isinstance(said, str) and not abs(said) <= _MOST):
        raise ValueError(f"expected a count such as 3, 3& or 1+2/3, got {_told(said)}")
    found = _SAID.match(str(said))
    if not found:
        raise ValueError(f"expected a count such as 3, 3& or 1+2/3, got {_told(said)}")
    position = float(found["whole"]) - 1
    if found["part"]:
        position += _PARTS[found["part"]]
    if found["over"]:
        position += int(found["over"]) / int(found["under"])
    if position < 0:
        raise ValueError(f"expected a count of 1 or later, got {_told(said)}")
    return position


def say_count(position: float) -> str:
    """Return a position, from 0, as a coach says it, from 1; the inverse of :func:`read_count`.

    Examples
    --------
    >>> say_count(2.5), say_count(0), say_count(0.3)
    ('3&', '1', '1.3')
    """
    whole = int(position // 1)
    part = round(position - whole, 6)
    if part == 1.0:
        whole, part = whole + 1, 0.0
    if part == 0.0:
        return str(whole + 1)
    if part in _NAMES:
        return f"{whole + 1}{_NAMES[part]}"
    for under in (3, 6, 8, 12, 16):
        over = round(part * under)
        if abs(over / under - part) < 1e-5:
            return f"{whole + 1}+{over}/{under}"
    return f"{whole + 1 + part:.6g}"


def _told(said: object) -> str:
    """Return what was written, shortened for an error message."""
    try:
        return f"{said!r:.60}"
    except ValueError:  # a whole number of thousands of digits, which Python writes to another base alone
        return f"{hex(said):.60}" if isinstance(said, int) else type(said).__name__
