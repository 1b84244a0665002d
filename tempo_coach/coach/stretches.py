"""Stretches of seconds as people write them, such as 12.0-13.5."""

from __future__ import annotations

from tempo_coach.errors import CoachError


def read_stretch(text: str, *, where: str) -> tuple[float, float]:
    """Return where a stretch begins and ends, in seconds.

    Parameters
    ----------
    text : str
        Two numbers with a hyphen between them.
    where : str
        What asked for it, for the error.

    Raises
    ------
    CoachError
        If it is none, begins before 0 or ends before it begins.

    Examples
    --------
    >>> read_stretch("12.0-13.5", where="--without")
    (12.0, 13.5)
    """
    start, _, end = text.partition("-")
    try:
        found = float(start), float(end)
    except ValueError:
        found = (1.0, 0.0)
    if not 0 <= found[0] < found[1]:
        raise CoachError(f"expected a stretch such as 12.0-13.5, got {text}", where=where)
    return found
