"""The rate at which a device really plays, by its requests: some change it under a stream that is open."""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

import numpy as np

from tempo_coach.observe.take.clock import fit_clock

#: Rates of sound devices in Hz (common practice).
RATES_HZ = (8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
#: A device plays at one of these rates where its requests do within this share: all others are 8 % and more away.
ALIKE = 0.005
#: Share by which requests have to be off for a look at them.
NEARLY = 0.03
#: Seconds of requests that tell a rate, and of which the earliest one counts: the others came late on a busy machine.
WINDOW, BIN = 2.0, 0.1
#: Largest distance in seconds from their line for this share of them: sound that is lost again and again is late in
#: steps.
STRAIGHT, MOST = 0.005, 0.8
#: Seconds of requests that are kept, in which the beginning of another rate is searched.
KEPT = 30.0


class RateChange(NamedTuple):
    """A device that plays at another rate than it was asked for.

    Parameters
    ----------
    rate_hz : int
    frame : float
        The frame of the take from which on it does.
    """

    rate_hz: int
    frame: float


class _Request(NamedTuple):
    now: float
    end: float
    late: float


class RateWatch:
    """A look at the requests of one opening of a device.

    Parameters
    ----------
    rate_hz : int
        Frames a second that were asked for.
    """

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._earliest: deque[_Request] = deque()
        self._bin = -1
        self._looked_at = -1

    def add(self, end: float, now: float) -> None:
        """Take in a block: the frame after its last one, and when it was asked for."""
        request = _Request(now, end, now - end / self._rate_hz)
        if int(now / BIN) != self._bin:
            self._bin = int(now / BIN)
            self._earliest.append(request)
        elif request.late < self._earliest[-1].late:
            self._earliest[-1] = request
        while self._earliest[0].now < now - KEPT:
            self._earliest.popleft()

    def find(self) -> RateChange | None:
        """Return the other rate, and since when, or None while the device keeps the one that was asked for."""
        if self._bin == self._looked_at:
            return None
        self._looked_at = self._bin
        oldest, youngest = self._earliest[max(-1 - round(WINDOW / BIN), -len(self._earliest))], self._earliest[-1]
        frames, seconds = youngest.end - oldest.end, youngest.now - oldest.now
        if abs(frames - self._rate_hz * seconds) <= NEARLY * frames:
            return None
        # the newest bin is not over
        now, end, late = np.array(self._earliest).T[:, :-1]
        newest = now > now[-1] - WINDOW if now.size else np.zeros(0, bool)
        if newest.sum() < WINDOW / BIN / 2 or np.ptp(now[newest]) < WINDOW - 2 * BIN:
            return None
        line = fit_clock(now[newest], end[newest])
        rate_hz = min(RATES_HZ, key=lambda each: abs(line.rate / each - 1))
        off = np.abs(end - line.to_second(now)) / line.rate
        if (
            rate_hz == self._rate_hz
            or abs(line.rate / rate_hz - 1) > ALIKE
            or np.quantile(off[newest], MOST) > STRAIGHT
        ):
            return None
        first = int(np.argmax(off <= STRAIGHT))
        before = late[now < now[first] - WINDOW / 2]
        while first and not (before.size and abs(late[first - 1] - np.median(before)) <= STRAIGHT):
            first -= 1
        return RateChange(rate_hz, float(end[max(first - 1, 0)]))
