"""``Routine``: a piece of music, its counts as corrected, and what is laid on them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import accumulate
from typing import TYPE_CHECKING, Literal

import numpy as np

from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.music.counts.corrections import Correction
    from tempo_coach.music.cutting.cut_list import CutList

ExerciseKind = Literal["alone", "group"]
KINDS: tuple[str, ...] = ("alone", "group")
#: What a moment of a routine is called, and whatever else a coach writes.
MOMENTS = ("toss", "catch", "exchange", "unison", "canon", "mirrored", "other")
#: What a place that a routine names is for.
PlaceKind = Literal["first", "last", "drill", "moment", "steps", "remark"]
#: Music that ends this long (s) before the end of the last count is not too short: the last note is often cut off.
END_SLACK = 0.25


@dataclass(frozen=True)
class MusicFile:
    """The music of a routine, and the hints with which its counts were found.

    Parameters
    ----------
    path : str
        As written in the file: relative to it.
    content_hash : str
        SHA-256 of the file, by which a changed one is noticed; empty where it is not known yet.
    tempo_bpm, meter, one_at
        As in :func:`tempo_coach.music.beats.finder.find_beats`.
    """

    path: str
    content_hash: str = ""
    tempo_bpm: float | None = None
    meter: int | None = None
    one_at: float | None = None


@dataclass(frozen=True)
class CutFrom:
    """The origin of cut music: enough to make the cut again, sample for sample.

    Parameters
    ----------
    path : str
        The whole music, relative to the routine's file.
    content_hash : str
        SHA-256 of that file.
    cut : CutList
    beats : tuple of float
        Seconds of every count of what was cut.
    eights : tuple of int
        How many counts each eight has; the first begins with the first count.
    pauses : tuple of (start, end)
        Seconds without counts.
    counts_of : str
        The routine that has the whole music's counts as corrected; empty where they are as found.
    loudness_lufs : float or None
        What it was brought to, as far as its peaks allowed; None where it was left as it was.
    """

    path: str
    content_hash: str
    cut: CutList
    beats: tuple[float, ...]
    eights: tuple[int, ...]
    pauses: tuple[tuple[float, float], ...] = ()
    counts_of: str = ""
    loudness_lufs: float | None = None

    def counts(self) -> CountMap:
        """Return the counts of the cut.

        Raises
        ------
        ValueError
            If they are none that can be.
        """
        starts = accumulate(self.eights, initial=0)
        return CountMap(np.array(self.beats), tuple(zip(starts, self.eights, strict=False)), self.pauses)


@dataclass(frozen=True)
class Laid:
    """A drill laid on eights.

    Parameters
    ----------
    drill : str
        Name or path.
    at : Position
        Where its first cycle begins.
    eights : int
        For how many eights it goes on.
    hand : str
        The one hand that does it; empty for all of its hands.
    mirrored : bool
        Whether left and right change places.
    """

    drill: str
    at: Position
    eights: int = 1
    hand: str = ""
    mirrored: bool = False

    def __post_init__(self) -> None:
        _check_place(self.at)
        if self.eights < 1 or not self.drill:
            raise ValueError(f"laid: expected a drill and one eight or more, got {self}")


@dataclass(frozen=True)
class RoutineMoment:
    """A single event at a place: a toss, a catch, an exchange in a group.

    Parameters
    ----------
    what : str
        ``toss``, ``catch``, ``exchange``, from here on ``unison``, ``canon`` or ``mirrored``, or ``other``.
    at : Position
    hand : str
        Which hand, or in a group who.
    text : str
        In the coach's words.
    """

    what: str
    at: Position
    hand: str = ""
    text: str = ""

    def __post_init__(self) -> None:
        _check_place(self.at)


@dataclass(frozen=True)
class Steps:
    """A combination of dance steps, from a place up to the one at which it ends."""

    start: Position
    end: Position

    def __post_init__(self) -> None:
        _check_place(self.start)
        _check_place(self.end)
        if (self.end.eight, self.end.count) <= (self.start.eight, self.start.count):
            raise ValueError("steps: expected them to end after they start")


@dataclass(frozen=True)
class Remark:
    """A remark at one eight."""

    eight: int
    text: str


@dataclass(frozen=True)
class Routine:
    """A routine.

    Parameters
    ----------
    title : str
    music : MusicFile
    apparatus : str
        ``rope``, ``hoop``, ``ball``, ``clubs``, ``ribbon`` or ``none``.
    kind : {"alone", "group"}
    notes : str
    corrections : tuple of Correction
        In the order in which they were made, on the counts as found.
    first, last : Position or None
        First and last movement; by default the first count 1 and the last count of the music.
    laid, moments, steps, remarks : tuple
        In order of place.
    cut : CutFrom or None
        Where the music was cut from a longer piece.
    """

    title: str
    music: MusicFile
    apparatus: str = "none"
    kind: ExerciseKind = "alone"
    notes: str = ""
    corrections: tuple[Correction, ...] = ()
    first: Position | None = None
    last: Position | None = None
    laid: tuple[Laid, ...] = ()
    moments: tuple[RoutineMoment, ...] = ()
    steps: tuple[Steps, ...] = ()
    remarks: tuple[Remark, ...] = ()
    cut: CutFrom | None = None

    def with_laid(self, laid: Laid) -> Routine:
        """Return the routine with a drill laid on eights, replacing one that begins there with the same hands."""
        others = (each for each in self.laid if each.at != laid.at or (laid.hand and each.hand != laid.hand))
        ordered = sorted((*others, laid), key=lambda each: (each.at.eight, each.at.count))
        return replace(self, laid=tuple(ordered))

    def first_movement(self, counts: CountMap) -> float:
        """Return the second of the music at which she starts to move."""
        position = 0.0 if self.first is None else position_of(counts, self.first)
        return float(counts.seconds_at(position, after=True))

    def last_movement(self, counts: CountMap) -> float:
        """Return the second of the music at which she stops moving."""
        position = counts.last_count if self.last is None else position_of(counts, self.last)
        return float(counts.seconds_at(position))

    def places(self) -> Iterator[tuple[PlaceKind, str, Position]]:
        """Yield every place in the routine with its use, and the name of a drill or moment."""
        if self.first is not None:
            yield "first", "", self.first
        if self.last is not None:
            yield "last", "", self.last
        for laid in self.laid:
            yield "drill", laid.drill, Position(laid.at.eight + laid.eights - 1, laid.at.count)
        for moment in self.moments:
            yield "moment", moment.what, moment.at
        for steps in self.steps:
            yield "steps", "", steps.end
        for note in self.remarks:
            yield "remark", "", Position(note.eight, 1.0)


def position_of(counts: CountMap, place: Position) -> float:
    """Return the position in counts of a place as a coach names it.

    Parameters
    ----------
    counts : CountMap
    place : Position

    Examples
    --------
    >>> from tempo_coach.music.counts.count_map import CountMap
    >>> position_of(CountMap.steady(120), Position(2, 3.5))
    10.5
    """
    return float(counts.start_of_eight(place.eight) + place.count - 1)


def span_of(counts: CountMap, laid: Laid) -> tuple[float, float]:
    """Return the positions in counts at which a laid drill begins and ends.

    Parameters
    ----------
    counts : CountMap
    laid : Laid
    """
    over = Position(laid.at.eight + laid.eights, laid.at.count)
    return position_of(counts, laid.at), position_of(counts, over)


def check_fit(routine: Routine, counts: CountMap, duration: float) -> list[Reason]:
    """Return what does not fit: places after the end of the music, counts that an eight does not have.

    Parameters
    ----------
    routine : Routine
    counts : CountMap
        Of its music, corrected.
    duration : float
        Length of the music in seconds.

    Returns
    -------
    list of Reason
        Empty where all is well.
    """
    said: list[Reason] = []
    for kind, name, place in routine.places():
        start = counts.start_of_eight(place.eight)
        length = counts.start_of_eight(place.eight + 1) - start
        if place.count >= length + 1:
            said.append(Reason(Why.BEYOND_EIGHT, (kind, name, place.count, place.eight, length)))
        time = float(counts.seconds_at(start + place.count - 1))
        if time > duration + END_SLACK:
            said.append(Reason(Why.BEYOND_MUSIC, (kind, name, place.eight, time, duration)))
    said += [
        Reason(Why.CORRECTION_BEYOND_MUSIC, (each.at,))
        for each in routine.corrections
        if each.at > duration + END_SLACK
    ]
    return said


def eights_of(counts: CountMap, duration: float) -> list[tuple[int, float, int]]:
    """Return number, first position and length of every eight that begins inside the music.

    Beats that lead up to the first count 1 are no eight.

    Parameters
    ----------
    counts : CountMap
    duration : float
        Length of the music in seconds.
    """
    found: list[tuple[int, float, int]] = []
    number = 1
    while True:
        start = counts.start_of_eight(number)
        if start > counts.last_count or float(counts.seconds_at(start)) > duration:
            return found
        found.append((number, float(start), counts.start_of_eight(number + 1) - start))
        number += 1


def _check_place(place: Position) -> None:
    if place.eight < 1 or not np.isfinite(place.count) or place.count < 1:
        raise ValueError(f"expected eights and counts from 1, got {place}")


#: Places are kept to this part of a count: a coach says "and", seldom anything finer.
FINEST = 0.25


def carry_places(routine: Routine, old: CountMap, new: CountMap) -> Routine:
    """Return a routine whose places name the same music in new counts as they did in the old ones.

    Parameters
    ----------
    routine : Routine
    old, new : CountMap
        Of the same music.

    Returns
    -------
    Routine
        A place that would come before the first count 1 keeps its number.

    Examples
    --------
    >>> from tempo_coach.music.counts.count_map import CountMap
    >>> from tempo_coach.pattern.routine.routine import MusicFile
    >>> routine = Routine("x", MusicFile("x.wav"), remarks=(Remark(3, "higher"),))
    >>> carry_places(routine, CountMap.steady(120), CountMap.steady(120, start=4.0)).remarks[0].eight
    2
    """

    def place(each: Position) -> Position:
        return _carry(each, old, new)

    laid = tuple(_carry_laid(each, old, new) for each in routine.laid)
    moments = tuple(replace(each, at=place(each.at)) for each in routine.moments)
    remarks = tuple(Remark(place(Position(each.eight, 1.0)).eight, each.text) for each in routine.remarks)
    return replace(
        routine,
        first=routine.first and place(routine.first),
        last=routine.last and place(routine.last),
        laid=tuple(sorted(laid, key=_where)),
        moments=tuple(sorted(moments, key=_where)),
        steps=tuple(_carry_steps(each, old, new) for each in routine.steps),
        remarks=tuple(sorted(remarks, key=lambda each: each.eight)),
    )


def _where(each: Laid | RoutineMoment) -> tuple[int, float]:
    return each.at.eight, each.at.count


def _carry(place: Position, old: CountMap, new: CountMap) -> Position:
    position = position_of(old, place)
    time = old.seconds_at(position, after=True)
    there = round(float(new.counts_at(time)) / FINEST) * FINEST
    return new.place(there) if there >= 0 else place


def _carry_laid(laid: Laid, old: CountMap, new: CountMap) -> Laid:
    start = _carry(laid.at, old, new)
    # on which eight its end lies says how many there are now
    end = _carry(Position(laid.at.eight + laid.eights, laid.at.count), old, new)
    return replace(laid, at=start, eights=max(1, end.eight - start.eight))


def _carry_steps(steps: Steps, old: CountMap, new: CountMap) -> Steps:
    start, end = _carry(steps.start, old, new), _carry(steps.end, old, new)
    return Steps(start, end) if (end.eight, end.count) > (start.eight, start.count) else steps
