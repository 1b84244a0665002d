"""Corrections of counts as values: stored, undone, and replayed on counts that were found again."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from tempo_coach.errors import CoachError
from tempo_coach.music.counts import edit_place, edit_stretch

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.music.counts.count_map import CountMap

Do = Literal["level", "one", "first", "length", "move", "add", "drop", "tapped", "pause", "through", "slowing", "cut"]
CORRECTION_KINDS: tuple[str, ...] = get_args(Do)

#: Fields that a kind requires besides its time.
NEEDS: dict[str, tuple[str, ...]] = {
    "level": ("tempo_bpm",),
    "length": ("counts",),
    "move": ("to",),
    "tapped": ("times",),
    "pause": ("to",),
    "through": ("counts",),
    "slowing": ("times",),
}


@dataclass(frozen=True)
class Correction:
    """One edit of the counts.

    Parameters
    ----------
    do : str
        ``level``: half, double or three times as fast; ``one``: this is a count 1; ``first``: the first movement;
        ``length``: an eight of another length; ``move``, ``add``, ``drop`` a count; ``tapped``: a stretch anew;
        ``pause``; ``through``: even counts through a gap; ``slowing``: slower ones; ``cut``: two
        pieces are joined here.
    at : float
        Seconds of the music.
    to : float or None
        Where a count goes, or where a pause or a level ends.
    counts : int or None
        Length of an eight, or how many counts there are in a gap.
    tempo_bpm : float or None
        Of a level.
    times : tuple of float
        The beats of a stretch tapped anew, or those of a slowing between two that are there.

    Raises
    ------
    ValueError
        If something is missing that it needs, or no number.

    Examples
    --------
    >>> Correction("move", 12.0, to=12.1).to
    12.1
    """

    do: Do
    at: float
    to: float | None = None
    counts: int | None = None
    tempo_bpm: float | None = None
    times: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.do not in CORRECTION_KINDS:
            raise ValueError(f"correction: expected one of {', '.join(CORRECTION_KINDS)}, got {self.do!r}")
        missing = [name for name in NEEDS.get(self.do, ()) if getattr(self, name) in (None, ())]
        if missing:
            raise ValueError(f"correction {self.do}: expected {missing[0]}")
        numbers = [self.at, self.to or 0.0, self.tempo_bpm or 1.0, *self.times]
        if not all(math.isfinite(number) for number in numbers) or (self.tempo_bpm or 1.0) <= 0:
            raise ValueError(f"correction {self.do}: expected finite numbers")


class Replayed(NamedTuple):
    """Counts after all corrections, and the corrections that no longer apply, each with the reason."""

    counts: CountMap
    lost: tuple[tuple[Correction, CoachError], ...]


def correct(counts: CountMap, correction: Correction) -> CountMap:
    """Return the counts after one correction.

    Parameters
    ----------
    counts : CountMap
    correction : Correction

    Raises
    ------
    CoachError
        If it cannot be done there.
    """
    return _APPLY[correction.do](counts, correction)


def corrections_of_beats(
    times: Sequence[float], pauses: Sequence[tuple[float, float]] = (), *, whole: float | None = None
) -> tuple[Correction, ...]:
    """Return known beats as corrections: a re-tapping of their range, and the pauses in it.

    Parameters
    ----------
    times : sequence of float
        Seconds; two or more.
    pauses : sequence of (start, end)
        The last beat before each and the first one after it.
    whole : float or None
        Length of the music in seconds, where these are all of its beats.
    """
    beats = tuple(round(float(time), 6) for time in times)
    at, to = (beats[0], None) if whole is None else (0.0, whole)
    waits = tuple(Correction("pause", float(start), to=float(end)) for start, end in pauses)
    return (Correction("tapped", at, to=to, times=beats), *waits)


def replay(counts: CountMap, corrections: Sequence[Correction]) -> Replayed:
    """Apply corrections one after the other.

    Parameters
    ----------
    counts : CountMap
        As found, perhaps by a better finder than the one that was corrected.
    corrections : sequence of Correction
        In the order in which they were made.
    """
    lost: list[tuple[Correction, CoachError]] = []
    for correction in corrections:
        try:
            counts = correct(counts, correction)
        except CoachError as error:
            lost.append((correction, error))
    return Replayed(counts, tuple(lost))


def _move(counts: CountMap, each: Correction) -> CountMap:
    """Move a count; where one has since been found at its new place, snap that one to it exactly."""
    to = float(each.to or 0.0)
    try:
        beat = edit_place.find_beat(counts, each.at)
        return edit_place.move_beat(counts, float(counts.beats[beat]), to)
    except CoachError:
        beat = edit_place.find_beat(counts, to)
        return edit_place.move_beat(counts, float(counts.beats[beat]), to)


_APPLY: dict[str, Callable[[CountMap, Correction], CountMap]] = {
    "level": lambda counts, each: edit_stretch.set_level(counts, each.tempo_bpm or 0.0, start=each.at, end=each.to),
    "one": lambda counts, each: edit_place.begin_eight(counts, each.at),
    "first": lambda counts, each: edit_place.begin_movement(counts, each.at),
    "length": lambda counts, each: edit_place.set_length(counts, each.at, each.counts or 0),
    "move": _move,
    "add": lambda counts, each: edit_place.add_beat(counts, each.at),
    "drop": lambda counts, each: edit_place.drop_beat(counts, each.at),
    "tapped": lambda counts, each: edit_stretch.tap_anew(counts, each.times, start=each.at, end=each.to),
    "pause": lambda counts, each: edit_stretch.pause(counts, each.at, each.to or 0.0),
    "through": lambda counts, each: edit_stretch.count_through(counts, each.at, each.counts),
    "slowing": lambda counts, each: edit_stretch.count_slowing(counts, each.at, each.times),
    "cut": lambda counts, each: edit_place.cut(counts, each.at),
}
