"""Beats in and out of files: text that music informatics reads, and Standard MIDI Files.

Beat text has one line a beat: seconds, a tab, and the position in the bar from 1. A file that only lists times, one a
line, is read as well.
"""

from __future__ import annotations

import math
import re
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError, CoachErrors
from tempo_coach.music.beats.doubts import find_doubts
from tempo_coach.music.beats.finder import Beats, Doubt, Rest
from tempo_coach.music.beats.midi import is_midi, read_midi
from tempo_coach.music.beats.tapped import PAUSE_FROM, median_intervals
from tempo_coach.resources import MOST_MIB, read_bytes
from tempo_coach.times import ascending, whole

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.times import Floats, Ints

#: So many problems of one file are listed; more would scroll the first ones away.
MOST_PROBLEMS = 12
#: Beats of one file: more are no music's, but that of a program that ran on.
MOST_BEATS = 100_000
#: Seconds between two beats that nobody can count apart.
_CLOSEST = 0.05
#: A beat this much after the end of the music (s) is rounding, not a mistake.
END_SLACK = 0.05
_SEPARATORS = re.compile(r"[\t ;]+|,(?=\s)")
_MINUTES = re.compile(r"(\d{1,6}):([0-5]?\d(?:\.\d+)?)$")


class BeatList(NamedTuple):
    """Beats read from a file: ``times`` (n,) s, ascending; ``bar`` (n,) positions from 1, or None without any."""

    times: Floats
    bar: Ints | None


def beats_to_text(times: Floats, bar: Ints) -> str:
    """Return one line a beat: seconds with microseconds, a tab, and the position in the bar from 1.

    Parameters
    ----------
    times : array, shape (n,)
        Seconds.
    bar : array of int, shape (n,)
    """
    return "".join(f"{time:.6f}\t{place}\n" for time, place in zip(times, bar, strict=True))


def read_beats(path: str | Path, *, duration: float | None = None) -> BeatList:
    """Read beats from beat text, a list of times, or a Standard MIDI File.

    Parameters
    ----------
    path : str or Path
    duration : float or None
        Length of the music in seconds, where it is known: beats after it are a mistake.

    Returns
    -------
    BeatList

    Raises
    ------
    CoachError
        If there is no such file, or it is of another kind.
    CoachErrors
        With every line that is wrong: no number, negative, not later than the line before, past the end of the music.
    """
    where = str(path)
    content = read_bytes(path, what="beats", most_mib=MOST_MIB["beats"])
    if is_midi(content):
        times, bar = read_midi(content, where=where)
        if len(times) > MOST_BEATS:
            raise CoachError("beats.too_many", where=where, most=MOST_BEATS, found=len(times))
        problems = _check_order([(f"{where}: beat {k + 1}", float(time)) for k, time in enumerate(times)], duration)
        _raise_if_any(problems, where)
        return BeatList(ascending(times, name="beats", strict=True), whole(bar, name="bar"))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CoachError("beats.unknown_kind", where=where) from error
    return _read_text(text, where=where, duration=duration)


def _read_text(text: str, *, where: str, duration: float | None) -> BeatList:
    problems: list[CoachError] = []
    placed: list[tuple[str, float]] = []
    bars: list[int] = []
    for number, line in enumerate(text.splitlines(), start=1):
        words = [word for word in _SEPARATORS.split(line.split("#")[0].strip()) if word]
        if not words:
            continue
        here = f"{where}:{number}"
        time = _read_time(words[0])
        if time is None:
            problems.append(CoachError("beats.no_time", where=here, found=words[0][:40]))
            continue
        if time < 0:
            problems.append(CoachError("beats.negative_time", where=here, time_s=time))
            continue
        placed.append((here, time))
        if len(placed) > MOST_BEATS:
            raise CoachError("beats.too_many_lines", where=here, most=MOST_BEATS)
        if len(words) > 1:
            if re.fullmatch(r"[1-9]\d{0,2}", words[1]):
                bars.append(int(words[1]))
            else:
                problems.append(CoachError("beats.no_place", where=here, found=words[1][:40]))
    problems += _check_order(placed, duration)
    if not placed and not problems:
        problems.append(CoachError("beats.none", where=where))
    if bars and len(bars) != len(placed) and not problems:
        problems.append(
            CoachError("beats.some_places", where=where),
        )
    _raise_if_any(problems, where)
    bar = whole(bars, name="bar") if bars else None
    return BeatList(ascending([time for _, time in placed], name="beats", strict=True), bar)


def _read_time(word: str) -> float | None:
    """Return the seconds written as ``83.2`` or ``1:23.2``, or None."""
    minutes = _MINUTES.match(word)
    if minutes:
        return 60 * int(minutes[1]) + float(minutes[2])
    try:
        time = float(word)
    except ValueError:
        return None
    return time if math.isfinite(time) else None


def _check_order(placed: list[tuple[str, float]], duration: float | None) -> list[CoachError]:
    """Return each problem with the order or the range of the times, and where it is."""
    problems = [
        CoachError("beats.out_of_order", where=here, before_s=before, time_s=time)
        for (_, before), (here, time) in pairwise(placed)
        if time <= before
    ]
    if duration is not None:
        problems += [
            CoachError("beats.outside", where=here, duration_s=duration, time_s=time)
            for here, time in placed
            if time > duration + END_SLACK
        ]
    return problems


def _raise_if_any(problems: list[CoachError], where: str) -> None:
    if not problems:
        return
    more = len(problems) - MOST_PROBLEMS
    if more > 0:
        problems = [*problems[:MOST_PROBLEMS], CoachError("beats.more_problems", where=where, more=more)]
    raise CoachErrors(problems)


def as_heard(beats: BeatList, *, duration: float, meter: int | None = None, one_at: float | None = None) -> Beats:
    """Return the beats of a file in the form of found beats: certain, with the gaps between them as rests.

    Parameters
    ----------
    beats : BeatList
    duration : float
        Length of the music in seconds.
    meter : int or None
        Beats a bar; by default as the file says, or four.
    one_at : float or None
        Seconds at which a bar is known to begin; the nearest beat is taken.

    Raises
    ------
    CoachError
        If there are fewer than two, or two of them are nearer than anybody counts.
    """
    times = beats.times
    if times.size < 2:
        raise CoachError("beats.few", found=times.size)
    close = np.flatnonzero(np.diff(times) < _CLOSEST)
    if close.size:
        raise CoachError(
            "beats.too_close",
            beat=close[0] + 1,
            next_beat=close[0] + 2,
            apart_ms=1000 * (times[close[0] + 1] - times[close[0]]),
            at_s=times[close[0]],
        )
    bar = beats.bar
    if bar is None or meter is not None or one_at is not None:
        length = meter or (int(bar.max()) if bar is not None else 4)
        one = 0 if one_at is None else int(np.abs(times - one_at).argmin())
        bar = whole((np.arange(times.size) - one) % length + 1, name="bar")
    long = np.flatnonzero(np.diff(times) >= PAUSE_FROM * median_intervals(times))
    rests = tuple(Rest(times[k], times[k + 1]) for k in long)
    sure = np.ones(times.size)
    doubtful = tuple(Doubt(*each) for each in find_doubts(times, sure, rests))
    return Beats(times, bar, sure, rests, doubtful, max(duration, float(times[-1])))
