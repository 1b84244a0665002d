"""Alignment of a recording with the music in it: offset and clock rate, with a confidence, refused when unsure.

A film or a phone records the music through a loudspeaker, a hall and a crowd. Both signals are whitened, so that no
loud tone dominates, and short windows of the recording are located in the music by cross-correlation. One window may be
mistaken, as music repeats; several that agree on one line between the clocks are not. Under a crowd all windows are
added up instead (:mod:`tempo_coach.observe.sound.common_line`). Their positions are refined on
that line, and the impulse response, averaged over all windows, separates the direct sound from its echoes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.sound.common_line import find_common_line
from tempo_coach.observe.sound.windows import RATE_HZ, STANDS_OUT, Matches, WindowLocator, whiten
from tempo_coach.observe.take.clock import ClockLine, fit_clock, fit_offset

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from tempo_coach.music.files.sound import Sound
    from tempo_coach.observe.sound.windows import Wave
    from tempo_coach.times import Floats

#: Seconds of one window: two clocks that are 200 ppm apart move by 0.8 ms in it, a third of a wave at 400 Hz.
WINDOW = 4.0
HOP = 2.0
#: Windows located in the whole music; all others only near the line.
SOUGHT = 14
#: Two clocks of phones, players and sound cards differ by less than this: quartz is within 100 ppm (data sheets of
#: consumer crystals: ±20 to ±50 ppm each, common practice), doubled for cheap ones.
RATE_ROOM = 400e-6
#: Rates that are tried where no window stands out: their steps are a step of the offset 20 s from the middle.
_RATES = np.arange(-4, 5) * RATE_ROOM / 4
#: Least windows that agree, and the least ratio of their score to that of the second best line.
AGREE = 3
LEAD = 1.25
#: Tolerance of a window's position about a line (s).
_LOOSE = 0.004
#: Search range around the line, and range in which the direct sound precedes the loudest echo (s).
_NEAR = 0.05
_ECHO = 0.030
#: Least height of the direct sound, relative to the loudest echo, and to what is highest where only the crowd is heard.
_DIRECT, _ABOVE = 0.5, 2.0


@dataclass(frozen=True, eq=False)
class Alignment:
    """The line between the clock of a recording and that of its music.

    Parameters
    ----------
    line : ClockLine
        From the recording's clock to the music's.
    confidence : float
        0 to 1: 1 where the second best place fits less than half as well.
    start, end : float
        Seconds on the film's clock between which the music was heard.
    heard : float
        Share of the windows between them in which it was found.
    speed : float
        Playback speed of the music; the line maps to the music as recorded.
    """

    line: ClockLine
    confidence: float
    start: float
    end: float
    heard: float
    speed: float = 1.0

    @property
    def rate_ppm(self) -> float:
        """Rate of the music's clock against the film's in ppm, the playback speed divided out."""
        return 1e6 * (self.line.rate / self.speed - 1)


def align(
    film: Sound,
    music: Sound,
    *,
    begin: float = 0.0,
    where: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> Alignment:
    """Align the clock of a film's sound with that of the music in it.

    Parameters
    ----------
    film : Sound
        The film's sound: the music through a hall, whole or a part of it.
    music : Sound
        As it was played, at the speed at which it was played.
    begin : float
        The time of the film's first sample on its own clock.
    where : str or None
        The film's name for what is said.
    progress : callable or None
        Told the share that is done, 0 to 1.

    Raises
    ------
    CoachError
        If the music is not found, or found at two places nearly as well.
    """
    if min(film.duration, music.duration) < WINDOW / 2:
        raise CoachError(
            "alignment.too_short", where=where, least_s=WINDOW / 2, sound_s=film.duration, music_s=music.duration
        )
    heard, played = whiten(film), whiten(music)
    length = round(WINDOW * RATE_HZ)
    starts = _starts(len(heard), length)
    chosen = starts[np.unique(np.linspace(0, len(starts) - 1, min(SOUGHT, len(starts))).round().astype(int))]
    locator = WindowLocator(played, length)
    found = []
    for number, start in enumerate(chosen):
        found.append(locator.locate(heard[start : start + length], start / RATE_HZ))
        if progress:
            progress((number + 1) / len(chosen))
    try:
        line, confidence = _agree(found, where)
    except CoachError as error:
        common = find_common_line(heard, locator, starts, rates=_RATES) if error.code == "alignment.not_found" else None
        if common is None:
            raise
        line, confidence = common
    return _refine(heard, locator, starts, line, confidence, begin)


def _starts(n: int, length: int) -> NDArray[np.int64]:
    if n <= length:
        return np.zeros(1, dtype=np.int64)
    return np.arange(0, n - length + 1, round(HOP * RATE_HZ), dtype=np.int64)


def _agree(found: list[Matches], where: str | None) -> tuple[ClockLine, float]:
    """Return the line that most positions agree on, and its confidence from the margin over the next one."""
    times = np.concatenate([np.full(len(each.places), each.time) for each in found])
    offsets = np.concatenate([each.places - each.time for each in found])
    heights = np.concatenate([each.heights for each in found])
    window = np.concatenate([np.full(len(each.places), k) for k, each in enumerate(found)])
    strong = np.flatnonzero(heights >= STANDS_OUT)
    lines = []
    for k in strong:
        near = np.abs(offsets - offsets[k]) <= _LOOSE + RATE_ROOM * np.abs(times - times[k])
        votes = np.zeros(len(found))
        np.maximum.at(votes, window[near], heights[near])
        lines.append((float(votes.sum()), int((votes >= STANDS_OUT).sum()), int(k), near, votes))
    lines.sort(key=lambda each: -each[0])
    needed = min(AGREE, len(found))
    if not lines or lines[0][1] < needed:
        raise CoachError("alignment.not_found", where=where)
    score, _, best, near, votes = lines[0]
    apart = [each for each in lines if abs(offsets[each[2]] - offsets[best]) > _NEAR + RATE_ROOM * np.ptp(times)]
    second = apart[0][0] if apart else 0.0
    if second and not _leads(votes, apart[0][4]):
        raise CoachError("alignment.two_places", where=where, apart_s=abs(offsets[apart[0][2]] - offsets[best]))
    confidence = float(np.clip(score / max(second, 1e-9) - 1, 0, 1))
    t, o = times[near], offsets[near]
    line = _line(t, t + o)
    return line, confidence


def _leads(best: Floats, second: Floats) -> bool:
    """Return True where one line is clearly better: in total, or in windows that the other does not explain.

    Exact repeats give the same height at both places, within noise of SD 1 each.
    """
    more = best - second
    beyond = max(30.0, 6 * np.sqrt(2 * len(best)))
    return bool(best.sum() >= LEAD * second.sum() or (more.sum() >= beyond and (more >= STANDS_OUT).sum() >= 2))


def _line(film: Floats, music: Floats) -> ClockLine:
    """Fit a line to positions; its rate is 1 where they span too little time."""
    if len(np.unique(film)) < 4 or np.ptp(film) < 12:
        return fit_offset(film, music, rate=1.0)
    line = fit_clock(film, music)
    return line if abs(line.rate - 1) <= 1.5 * RATE_ROOM else fit_offset(film, music, rate=1.0)


def _refine(
    heard: Wave, locator: WindowLocator, starts: NDArray[np.int64], line: ClockLine, confidence: float, begin: float
) -> Alignment:
    """Refine the alignment with all windows near the line, onto the direct sound."""
    max_lag = round(_NEAR * RATE_HZ)
    times, lags, responses = [], [], []
    asked = 0
    for start in starts:
        window = heard[start : start + locator.length]
        middle = (start + len(window) / 2) / RATE_HZ
        place = line.to_second(middle) - len(window) / 2 / RATE_HZ
        both = locator.near(window, place, max_lag)
        if both is None:
            continue
        asked += 1
        size = np.abs(both)
        at = int(np.argmax(size))
        if size[at] < 4 * np.sqrt(np.mean(np.delete(size, np.s_[max(0, at - 20) : at + 21]) ** 2)):
            continue
        times.append(middle)
        lags.append(round(place * RATE_HZ) / RATE_HZ - place + (at + _vertex(size, at) - max_lag) / RATE_HZ)
        responses.append((round(place * RATE_HZ) / RATE_HZ - place, both))
    if not times:
        return Alignment(_shifted(line, begin), confidence * 0.5, begin, begin + len(heard) / RATE_HZ, 0.0)
    at_film, off = np.array(times), np.array(lags)
    fine = _line(at_film, np.asarray(line.to_second(at_film)) + off)
    fine = _onto_direct(fine, line, at_film, responses, max_lag)
    half = locator.length / 2 / RATE_HZ
    return Alignment(
        _shifted(fine, begin),
        confidence,
        begin + float(at_film.min()) - half,
        begin + float(at_film.max()) + half,
        len(times) / max(asked, 1),
    )


def _onto_direct(
    fine: ClockLine,
    line: ClockLine,
    times: Floats,
    responses: list[tuple[float, NDArray[np.float64]]],
    max_lag: int,
) -> ClockLine:
    """Move a line from the loudest echo to the direct sound, which is earlier (a later position in the music)."""
    grid = np.arange(-max_lag, max_lag + 1) / RATE_HZ
    total = np.zeros(grid.size)
    for time, (remainder, both) in zip(times, responses, strict=True):
        move = fine.to_second(float(time)) - line.to_second(float(time)) - remainder
        total += np.abs(np.interp(grid + move, grid, both, left=0.0, right=0.0))
    total -= np.median(total)
    echo = np.abs(grid) <= _ECHO
    # nothing is heard before the direct sound but the crowd
    least = max(_DIRECT * float(total[echo].max(initial=0.0)), _ABOVE * float(total[grid > _ECHO].max(initial=0.0)))
    peaks = [
        k
        for k in np.flatnonzero(echo)
        if 0 < k < grid.size - 1 and total[k] >= total[k - 1] and total[k] > total[k + 1] and total[k] >= least
    ]
    if not peaks:
        return fine
    first = int(max(peaks))
    late = (first + _vertex(total, first) - max_lag) / RATE_HZ
    return ClockLine(fine.origin, fine.offset + late, fine.rate, fine.residual_sd, fine.n)


def _vertex(values: NDArray[np.float64], at: int) -> float:
    """Return the subsample offset of a peak by parabolic interpolation, -0.5 to 0.5."""
    if not 0 < at < len(values) - 1:
        return 0.0
    left, middle, right = values[at - 1 : at + 2]
    bend = left - 2 * middle + right
    return float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5)) if bend < 0 else 0.0


def _shifted(line: ClockLine, begin: float) -> ClockLine:
    return ClockLine(line.origin + begin, line.offset, line.rate, line.residual_sd, line.n)
