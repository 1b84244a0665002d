"""The state of setting counts: pure values, step by step, and the rows of the sheet."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.counts.corrections import Correction, correct, replay
from tempo_coach.music.counts.count_map import EIGHT
from tempo_coach.pattern.routine.routine import carry_places
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.coach.notices import News
    from tempo_coach.music.beats.finder import Doubt
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.routine.routine import Routine


class EightRow(NamedTuple):
    """One row: the number of its eight (0 before the first one), its first beat, and how many counts it has.

    ``here`` of the ``length`` counts are beats of the music; the last eight may be cut off by its end.
    """

    number: int
    beat: int
    length: int
    here: int


def rows_of(counts: CountMap) -> list[EightRow]:
    """Return the rows of a sheet.

    Examples
    --------
    >>> from tempo_coach.music.counts.count_map import CountMap
    >>> rows_of(CountMap([0, 1, 2, 3, 4], ((2, 8),)))
    [EightRow(number=0, beat=0, length=2, here=2), EightRow(number=1, beat=2, length=8, here=3)]
    """
    first, last = counts.eights[0][0], counts.beats.size
    edges = sorted({0, *range(first, 0, -EIGHT)}) if first else []
    rows = [EightRow(0, a, b - a, b - a) for a, b in pairwise(edges)]
    number, beat = 1, first
    while beat < last:
        length = counts.start_of_eight(number + 1) - counts.start_of_eight(number)
        rows.append(EightRow(number, beat, length, min(length, last - beat)))
        number, beat = number + 1, beat + length
    return rows


def row_with(rows: Sequence[EightRow], beat: int) -> int:
    """Return the row of a beat."""
    return max(0, bisect_right([row.beat for row in rows], beat) - 1)


def row_bounds(counts: CountMap, row: EightRow) -> tuple[float, float]:
    """Return the seconds at which a row and the next one begin."""
    begin = float(counts.beats[row.beat])
    behind = row.beat + row.here
    if behind < counts.beats.size:
        return begin, float(counts.beats[behind])
    position = counts.last_count + 1
    return begin, float(counts.seconds_at(position))


def beat_near(counts: CountMap, seconds: float) -> int:
    """Return the beat nearest to a time."""
    return int(np.abs(counts.beats - seconds).argmin())


#: Two times closer than this (s) are one.
SAME_TIME = 1e-6
#: A correction this near (s) to a doubtful place settles it: an eight at a quick tempo.
SETTLES = 2.0


@dataclass(frozen=True, eq=False)
class Setting:
    """The counts as they are now, with the history of steps.

    Parameters
    ----------
    found : CountMap
        As the music was heard.
    duration : float
        Length of the music in seconds.
    doubts : tuple of Doubt
        Places to look at.
    routine : Routine
        With all corrections so far.
    counts : CountMap
        ``found`` with these corrections.
    lost : tuple of (Correction, CoachError)
        Those that found no place any more, and why.
    beat : int
        The count that is looked at.
    mark : float or None
        Seconds of the other end of a stretch, where one is marked.
    past, future : tuple of Routine
        What taking back and doing again lead to; the nearest one last.
    saved : Routine or None
        As it stands in its file.
    seen : frozenset of float
        Times of the doubtful places that were put right, or said to be right.
    news : News or None
        What came of the last step.
    failed : bool
        Whether that is why it could not be done.
    """

    found: CountMap
    duration: float
    doubts: tuple[Doubt, ...]
    routine: Routine
    counts: CountMap
    lost: tuple[tuple[Correction, CoachError], ...] = ()
    beat: int = 0
    mark: float | None = None
    past: tuple[Routine, ...] = ()
    future: tuple[Routine, ...] = ()
    saved: Routine | None = None
    seen: frozenset[float] = frozenset()
    news: News | None = None
    failed: bool = False

    @property
    def time(self) -> float:
        """Second of the current count."""
        return float(self.counts.beats[self.beat])

    @property
    def unsaved(self) -> bool:
        """Whether there are unsaved changes."""
        return self.routine != self.saved

    @property
    def stretch(self) -> tuple[float, float] | None:
        """Seconds of the first and last count of the marked stretch."""
        if self.mark is None:
            return None
        other = float(self.counts.beats[beat_near(self.counts, self.mark)])
        return min(other, self.time), max(other, self.time)

    @property
    def open_doubts(self) -> tuple[Doubt, ...]:
        """Doubts neither corrected nor confirmed."""
        return tuple(doubt for doubt in self.doubts if doubt.time not in self.seen)

    @property
    def doubt_here(self) -> Doubt | None:
        """Doubt at the current count."""
        return next((doubt for doubt in self.open_doubts if beat_near(self.counts, doubt.time) == self.beat), None)


def begin(
    found: CountMap,
    routine: Routine,
    *,
    duration: float,
    doubts: Sequence[Doubt] = (),
    saved: bool = False,
) -> Setting:
    """Return an initial setting, at the first count 1.

    Parameters
    ----------
    routine : Routine
        Its corrections are made at once.
    saved : bool
        Whether the routine stands in a file just so.
    """
    done = replay(found, routine.corrections)
    news = None
    if done.lost:
        lost, error = done.lost[0]
        news = Reason(Why.NO_PLACE, (lost, len(done.lost) - 1, error))
    return Setting(
        found=found,
        duration=duration,
        doubts=tuple(doubts),
        routine=routine,
        counts=done.counts,
        lost=done.lost,
        beat=done.counts.eights[0][0],
        saved=routine if saved else None,
        news=news,
        failed=bool(done.lost),
    )


def do(setting: Setting, correction: Correction, *, look_at: float | None = None) -> Setting:
    """Return the setting after a correction; an impossible one is reported and changes nothing.

    Parameters
    ----------
    look_at : float or None
        Seconds of the count to look at afterwards; by default the one that is looked at now.
    """
    try:
        counts = correct(setting.counts, correction)
    except CoachError as error:
        return refuse(setting, error)
    if _same(counts, setting.counts):
        return note(setting, Reason(Why.SO_ALREADY))
    corrections = _join(setting.routine.corrections, correction)
    if len(corrections) <= len(setting.routine.corrections):
        counts = replay(setting.found, corrections).counts
    routine = replace(carry_places(setting.routine, setting.counts, counts), corrections=corrections)
    settled = _settled(setting, [correction])
    return replace(
        turn_to(setting, routine, counts, look_at),
        mark=None,
        seen=setting.seen | settled,
        news=Reason(Why.CORRECTED, (correction,)),
    )


def turn_to(setting: Setting, routine: Routine, counts: CountMap, look_at: float | None = None) -> Setting:
    """Return the setting with another routine in hand; this can be undone."""
    time = setting.time if look_at is None else look_at
    return replace(
        setting,
        routine=routine,
        counts=counts,
        beat=beat_near(counts, time),
        past=(*setting.past, setting.routine),
        future=(),
        failed=False,
    )


def _join(corrections: tuple[Correction, ...], new: Correction) -> tuple[Correction, ...]:
    """Add a correction; successive moves of one count are a single move."""
    last = corrections[-1] if corrections else None
    if last is None or not new.do == last.do == "move" or new.to is None or last.to is None:
        return (*corrections, new)
    if abs(last.to - new.at) > SAME_TIME:
        return (*corrections, new)
    back = abs(last.at - new.to) < SAME_TIME
    return corrections[:-1] if back else (*corrections[:-1], replace(last, to=new.to))


def _settles(correction: Correction, doubt: Doubt) -> bool:
    """Return whether a correction answers a doubt: by its place, or by the level of a stretch."""
    time = doubt.time
    if correction.do == "level":
        end = math.inf if correction.to is None else correction.to
        return doubt.reason.code is Why.TWO_LEVELS and correction.at - SETTLES <= time <= end
    ends = [correction.at, *correction.times]
    if correction.to is not None:
        ends.append(correction.to)
    return min(ends) - SETTLES <= time <= max(ends) + SETTLES


def _same(a: CountMap, b: CountMap) -> bool:
    return (a.eights, a.pauses) == (b.eights, b.pauses) and bool(np.array_equal(a.beats, b.beats))


def take_back(setting: Setting) -> Setting:
    """Return the setting with the last step undone."""
    if not setting.past:
        return note(setting, Reason(Why.NOTHING_TO_TAKE_BACK))
    before = _put_back(setting, setting.past[-1])
    news = Reason(Why.TAKEN_BACK, (_changed(setting, before),))
    return replace(before, past=setting.past[:-1], future=(*setting.future, setting.routine), news=news)


def do_again(setting: Setting) -> Setting:
    """Return the setting with the last undone step redone."""
    if not setting.future:
        return note(setting, Reason(Why.NOTHING_TO_DO_AGAIN))
    after = _put_back(setting, setting.future[-1])
    news = Reason(Why.DONE_AGAIN, (_changed(setting, after),))
    return replace(after, past=(*setting.past, setting.routine), future=setting.future[:-1], news=news)


def _put_back(setting: Setting, routine: Routine) -> Setting:
    done = replay(setting.found, routine.corrections)
    beat = beat_near(done.counts, setting.time)
    gone = [each for each in setting.routine.corrections if each not in routine.corrections]
    again = [each for each in routine.corrections if each not in setting.routine.corrections]
    seen = setting.seen - _settled(setting, gone) | _settled(setting, again)
    return replace(
        setting,
        routine=routine,
        counts=done.counts,
        lost=done.lost,
        beat=beat,
        mark=None,
        seen=seen,
        failed=False,
    )


def _settled(setting: Setting, corrections: Sequence[Correction]) -> frozenset[float]:
    """Return the times of the doubts that corrections answer."""
    return frozenset(doubt.time for doubt in setting.doubts if any(_settles(each, doubt) for each in corrections))


def _changed(a: Setting, b: Setting) -> Correction | None:
    """Return the last correction in which two settings differ."""
    more, fewer = sorted((b.routine.corrections, a.routine.corrections), key=len, reverse=True)
    return next((each for each in reversed(more) if each not in fewer), None)


def note_saved(setting: Setting, routine: Routine, where: str) -> Setting:
    """Return the setting marked as saved."""
    return replace(setting, routine=routine, saved=routine, news=Reason(Why.SAVED_IN, (where,)), failed=False)


def note(setting: Setting, news: News | None) -> Setting:
    """Return the setting with another message."""
    return replace(setting, news=news, failed=False)


def refuse(setting: Setting, error: CoachError) -> Setting:
    """Return the setting with the reason why something is impossible."""
    return replace(setting, news=error, failed=True)
