"""Counts as a coach says them: ``3``, ``3&``, ``3e``, ``3a``, ``1+2/3``."""

from __future__ import annotations

import re

_SAID = re.compile(
    r"""\s*(?P<whole>\d+(?:\.\d+)?)
        (?:(?P<part>[&ea])|\s*\+\s*(?P<over>\d+)\s*/\s*(?P<under>[1-9]\d*))?\s*$""",
    re.VERBOSE,
)
_PARTS = {"e": 0.25, "&": 0.5, "a": 0.75}
_NAMES = {0.25: "e", 0.5: "&", 0.75: "a"}


def read_count(said: str | float) -> float:
    """Return the position, from 0, of a count as it is said, from 1.

    Parameters
    ----------
    said : str or float
        ``"3"`` or ``3`` is the third count; ``"3e"``, ``"3&"`` and ``"3a"`` lie a quarter, a half and three quarters
        of a count behind it, ``"1+2/3"`` two thirds behind the first.

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
    if isinstance(said, bool) or not isinstance(said, (str, int, float)):
        raise ValueError(f"expected a count such as 3, 3& or 1+2/3, got {said!r}")
    found = _SAID.match(str(said))
    if not found:
        raise ValueError(f"expected a count such as 3, 3& or 1+2/3, got {said!r}")
    position = float(found["whole"]) - 1
    if found["part"]:
        position += _PARTS[found["part"]]
    if found["over"]:
        position += int(found["over"]) / int(found["under"])
    if position < 0:
        raise ValueError(f"expected a count of 1 or later, got {said!r}")
    return position


def say_count(position: float) -> str:
    """Return a position from 0 as it is said, from 1; the inverse of :func:`read_count`.

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
