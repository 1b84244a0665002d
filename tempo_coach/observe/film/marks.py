"""Instants marked in a film by hand, as frame numbers or times, on the film's clock."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError, nearest
from tempo_coach.music.files.container import open_container
from tempo_coach.observe.film.frames import picture_stream
from tempo_coach.observe.table_text import (
    HAND_WORDS,
    find_column,
    find_time,
    load_text,
    match_hand,
    plain,
    read_number,
    read_rows,
)
from tempo_coach.observe.take.onsets import MOST_ROWS, Onsets, Take
from tempo_coach.resources import MOST_MIB

if TYPE_CHECKING:
    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.take.clock import ClockLine
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Number of a picture, or second of a film, that no film has.
_MOST = 1e8

_FRAMES = ("frame", "picture")


def frame_times(film: Film) -> Floats:
    """Return the time of every picture of a film, from its start, without decoding any.

    Raises
    ------
    CoachError
        If the film cannot be read.
    """
    with open_container(Path(film.path)) as container:
        stream = picture_stream(container, film.path)
        stamps = [
            float(packet.pts * packet.time_base)
            for packet in container.demux(stream)
            if packet.pts is not None and not packet.is_discard
        ]
    if len(stamps) < 2:
        raise CoachError("film.few_pictures", where=film.path)
    return np.sort(np.array(stamps, dtype=np.float64))


def read_marks(
    path: str | Path, *, hands: tuple[str, ...], rate_hz: float | None = None, film: Film | None = None
) -> Onsets:
    """Return the marked instants in seconds on the film's clock.

    Parameters
    ----------
    path : str or Path
        A CSV file with a column ``frame`` or ``time``, and a column ``hand`` where there is more than one.
    hands : tuple of str
    rate_hz : float or None
        Pictures a second, where pictures are numbered by a program that counts even steps.
    film : Film or None
        Gives each numbered picture its true time where no rate is given.

    Raises
    ------
    CoachError
        If the table cannot be read, a row makes no sense, or nothing says what a picture's time is.
    """
    where = str(path)
    if rate_hz is not None and not 1 <= rate_hz <= 2000:
        raise CoachError("marks.rate", where="--fps", rate_hz=rate_hz)
    text = load_text(path, what="marks", most_mib=MOST_MIB["onsets"])
    header, first, rows = read_rows(text, where=where, what="marks", most=MOST_ROWS)
    frame_at, time, hand_at = find_column(header, _FRAMES), find_time(header), find_column(header, HAND_WORDS)
    if (frame_at is None and time is None) or (len(hands) > 1 and hand_at is None):
        raise CoachError("marks.columns", where=f"{where}:{first}", columns=", ".join(header).lower()[:80])
    column = "time" if frame_at is None else plain(header[frame_at])
    at, seconds = (frame_at, 1.0) if frame_at is not None else time or (0, 1.0)
    numbers, names = [], []
    for line, row in rows:
        numbers.append(seconds * _number(row, at, column, f"{where}:{line}"))
        names.append(hands[0] if hand_at is None else _hand(row, hand_at, hands, f"{where}:{line}"))
    if not numbers:
        raise CoachError("marks.none", where=where)
    times = numbers if column == "time" else _times_of(numbers, rate_hz, film, where)
    return Onsets.unsorted(times, names)


def _number(row: list[str], at: int, column: str, where: str) -> float:
    cell = "".join(row[at : at + 1])
    value = read_number(cell)
    if not 0 <= value <= _MOST:
        raise CoachError("marks.no_number", where=where, column=column, found=cell[:40])
    return value


def _hand(row: list[str], at: int, hands: tuple[str, ...], where: str) -> str:
    hand = match_hand("".join(row[at : at + 1]), hands)
    if hand not in hands:
        guess = nearest(hand, list(hands))
        raise CoachError("marks.hand", where=where, hands=hands, found=hand[:40], nearest=guess)
    return hand


def _times_of(numbers: list[float], rate_hz: float | None, film: Film | None, where: str) -> list[float]:
    """Return the seconds of numbered pictures, interpolating fractions."""
    if rate_hz is not None:
        return [number / rate_hz for number in numbers]
    if film is None:
        raise CoachError("marks.no_rate", where=where)
    times = frame_times(film)
    if max(numbers) > len(times) - 1:
        raise CoachError("marks.beyond_film", where=where, pictures=len(times), marked=max(numbers))
    return np.interp(numbers, np.arange(len(times)), times).tolist()


def marks_to_take(marks: Onsets, plan: Plan, line: ClockLine, *, slowed: float, rate_hz: float | None) -> Take:
    """Return marks as a take on a plan's clock.

    Parameters
    ----------
    marks : Onsets
        On the film's clock.
    plan : Plan
    line : ClockLine
        From the film's clock to the take clock.
    slowed : float
        Seconds of film a second of life.
    rate_hz : float or None
        Pictures a second of life: what lies between two of them is known to the SD of a uniform step.
    """
    lived = line.offset + line.rate * (marks.time - line.origin) / slowed
    floor = None if not rate_hz else 1000 / rate_hz / math.sqrt(12)
    return Take(plan, Onsets(lived, marks.hand), observed_by="film", noise_floor_ms=floor)
