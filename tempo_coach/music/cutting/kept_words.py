"""Stretches of music that are to be kept, as they are typed: ``3-10``, ``3:5-10:4``, ``17-end``, ``12.5s-60s``."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.cutting.joints import KeptSpan

if TYPE_CHECKING:
    from tempo_coach.music.counts.count_map import CountMap

_PLACE = (
    r"(?:(?P<{0}_eight>\d{{1,4}})(?::(?P<{0}_count>\d{{1,2}}))?"
    r"|(?P<{0}_s>\d{{1,5}}(?:\.\d{{1,6}})?)s|(?P<{0}_word>{1}))"
)
_SAID = re.compile(rf"\s*{_PLACE.format('from', 'start')}\s*-\s*{_PLACE.format('to', 'end')}\s*$")


def read_kept(text: str, counts: CountMap, duration: float) -> KeptSpan:
    """Return the first and last position in counts of a stretch that is written as text.

    Parameters
    ----------
    text : str
        Two places with ``-`` between, both of them kept: eights (``3-10``), counts in them (``3:5-10:4``), seconds of
        the music at the nearest count (``12.5s-60s``), or its ends (``start``, ``end``).
    counts : CountMap
        Of the music, corrected.
    duration : float
        Its length in seconds.

    Raises
    ------
    CoachError
        If it is none of these, ends before it starts, lies inside a pause or outside the music.

    Examples
    --------
    >>> from tempo_coach.music.counts.count_map import CountMap
    >>> read_kept("2-3:4", CountMap(range(32), ((0, 8), (8, 8), (16, 8), (24, 8))), 32.0)
    KeptSpan(start=8.0, end=20.0)
    """
    where = f"--keep {text}"
    found = _SAID.match(text)
    if found is None:
        raise CoachError("cut.no_places", where=where)
    start = _position(found, "from", counts, where)
    last = _position(found, "to", counts, where)
    end = counts.last_count + 1 if found["to_word"] else last if found["to_s"] else last + 1
    if found["to_eight"] and not found["to_count"]:
        end = float(counts.start_of_eight(int(found["to_eight"]) + 1))
    if found["from_word"]:
        start = counts.first_count
    most = counts.last_count + 1
    last_eight = counts.place(counts.last_count).eight
    # an eight that the music's end cuts off is kept as far as it goes
    if found["to_eight"] and not found["to_count"] and int(found["to_eight"]) == last_eight:
        end = min(end, most)
    if start >= end:
        raise CoachError("cut.backwards", where=where)
    if end > most or start < counts.first_count:
        raise CoachError("cut.beyond_music", where=where, eights=last_eight, duration_s=duration)
    return KeptSpan(float(start), float(end))


def _position(found: re.Match[str], name: str, counts: CountMap, where: str) -> float:
    """Return the position in counts of one of its two places."""
    if found[f"{name}_word"]:
        return 0.0
    if found[f"{name}_s"]:
        return _count_near(float(found[f"{name}_s"]), counts, where)
    eight, count = int(found[f"{name}_eight"]), int(found[f"{name}_count"] or 1)
    length = counts.start_of_eight(eight + 1) - counts.start_of_eight(eight)
    if eight < 1 or not 1 <= count <= length:
        raise CoachError("cut.no_such_count", where=where, eight=eight, count=count, length=length)
    return float(counts.start_of_eight(eight) + count - 1)


def _count_near(seconds: float, counts: CountMap, where: str) -> float:
    for start, end in counts.pauses:
        if start < seconds < end:
            raise CoachError("cut.in_pause", where=where, start_s=start, end_s=end)
    near = int(np.abs(counts.beats - seconds).argmin())
    return float(near - counts.eights[0][0])
