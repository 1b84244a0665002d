"""Stretch of a take's sound without a gap: lines from our clock to its frames, and steps in them; pure."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import deque
from operator import attrgetter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.observe.take.clock import (
    EARLY,
    MAD_TO_SD,
    ClockLine,
    NominalRate,
    fit_earliest,
    fit_straight,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.times import Floats

#: Seconds of records that a line is fitted over: long enough to average their scatter (about 0.1 ms), short
#: enough to follow a device whose clock wanders with its temperature.
WINDOW = 10.0
#: Seconds of new records after which the newest line is fitted again.
REFIT_EVERY = 0.2
#: Seconds after the start or after a gap in which a server may still settle: left out of the fit when it is
#: over.
SETTLING = 0.5
#: Seconds of blocks that are summed up by their earliest request and their median statement.
BIN = 0.5
#: Bins after a step, so many that even a starved process asked in time once; at most so many before it; and at least
#: so many for a step ahead, which late requests before it would look like.
BINS_AFTER, BINS_BEFORE, BINS_AHEAD = 6, 12, 4
#: Least step of the line in seconds that means that something was lost or repeated, also where the driver does not say
#: so; in robust SDs of the requests; and with fewer than ``BINS_AFTER`` bins after it, at the end of a take.
STEP_LEAST, STEP_SDS, STEP_LEAST_AT_END = 0.001, 6.0, 0.01
#: The same where a request came so late that little of what was kept ready was left: of what is then lost the server
#: fills in nearly all.
STEP_LEAST_NEAR_LATE = 0.0003
#: With less than this many seconds of records only the offset is fitted.
SPAN_FOR_RATE = 4.0
#: Largest deviation of a device's rate from its nominal one: beyond it a fit has been misled.
RATE_OFF = 500e-6
#: Robust SD of requests in seconds beyond which statements are the line, where they scatter less.
REQUESTS_SCATTER = 0.001


class Block(NamedTuple):
    """Block of samples as the device asked for it.

    Parameters
    ----------
    frame : float
        Number of its first frame on the take clock.
    frames : int
    heard, now : float
        When its first frame is heard, as the device says, and when it was asked for: ``perf_counter``.
    """

    frame: float
    frames: int
    heard: float
    now: float

    @property
    def end(self) -> float:
        """The frame after its last one."""
        return self.frame + self.frames


class Bin(NamedTuple):
    """Half a second of blocks: its earliest request, and the median statement."""

    asked: float
    end: float
    heard: float
    frame: float

    def latency(self, rate_hz: int) -> float:
        """Return the seconds from the request to the end of its being heard."""
        return (self.heard - self.frame / rate_hz) - (self.asked - self.end / rate_hz)


def _summed_up(blocks: list[Block], rate_hz: int) -> Bin:
    earliest = min(blocks, key=lambda block: block.now - block.end / rate_hz)
    middle = sorted(blocks, key=lambda block: block.heard - block.frame / rate_hz)[len(blocks) // 2]
    return Bin(earliest.now, earliest.end, middle.heard, middle.frame)


class Stretch:
    """Successive blocks, and the lines through them."""

    def __init__(self, first: Block, rate_hz: int, opening: int) -> None:
        self.rate_hz = rate_hz
        self._nominal = NominalRate(float(rate_hz), RATE_OFF, SPAN_FOR_RATE)
        self.opening = opening
        self.first_frame = first.frame
        self.began = first.now
        self.end_frame = first.frame
        self.last_now = first.now
        self.closed_frame = math.inf
        self.closed_at = math.inf
        #: The newest blocks, in which a step is found, and those of them that came nearly too late.
        self.tail: deque[Block] = deque()
        self._nearly_late: deque[Block] = deque()
        self._bins: list[Bin] = []
        self._latencies: list[float] = []
        self._open: list[Block] = []
        self._lines: dict[int, tuple[ClockLine, bool]] = {}
        self._newest: tuple[float, tuple[ClockLine, bool]] | None = None

    def add(self, block: Block, *, nearly_late: bool = False) -> bool:
        """Take in a block, that may have come nearly too late; return whether a bin is over."""
        if nearly_late:
            self._nearly_late.append(block)
        over = bool(self._open) and block.now >= self._open[0].now + BIN
        if over:
            self._close_bin()
        self._open.append(block)
        self.tail.append(block)
        while self.tail[0].now < block.now - (BINS_AFTER + 2) * BIN:
            self.tail.popleft()
        while self._nearly_late and self._nearly_late[0].now < self.tail[0].now:
            self._nearly_late.popleft()
        self.end_frame, self.last_now = block.end, block.now
        return over

    def _close_bin(self) -> None:
        newest = _summed_up(self._open, self.rate_hz)
        self._open = []
        settling = len(self._bins) == 1 and self._bins[0].asked < self.began + SETTLING
        if settling and not self._nearly_late:  # else it is all that tells what was before a loss
            self._bins.clear()
            self._latencies.clear()
        self._bins.append(newest)
        self._latencies.append(newest.latency(self.rate_hz))

    def _columns(self, start: float = -math.inf, end: float = math.inf) -> tuple[Floats, Floats, Floats, Floats]:
        """Return the columns of the bins within a range, the open one included, or of the nearest two."""
        first = bisect_left(self._bins, start, key=attrgetter("asked"))
        last = bisect_right(self._bins, end, lo=first, key=attrgetter("asked"))
        bins = self._bins[max(0, min(first, len(self._bins) - 2)) : max(last, 2)]
        if self._open and (last == len(self._bins)):
            bins = [*bins, _summed_up(self._open, self.rate_hz)]
        asked, ends, heard, frames = np.array(bins).T
        return asked, ends, heard, frames

    def end_at(self, frame: float) -> None:
        """Leave out all that came after a frame, one bin at least."""
        kept = [each for each in self._bins if each.end <= frame]
        if not self._bins:
            kept = [_summed_up([block for block in self._open if block.end <= frame] or self._open[:1], self.rate_hz)]
        self._bins = kept or self._bins[:1]
        self._latencies = [each.latency(self.rate_hz) for each in self._bins]
        self._open = []
        self._lines, self._newest = {}, None
        self.tail = deque(block for block in self.tail if block.end <= frame)
        self._nearly_late.clear()
        self.end_frame = self.closed_frame = min(frame, self.end_frame, self.closed_frame)

    @property
    def latencies(self) -> list[float]:
        """Output latencies by bins, as the statements imply them."""
        return self._latencies or [_summed_up(self._open, self.rate_hz).latency(self.rate_hz)]

    def line(self, stamp: float) -> tuple[ClockLine, bool]:
        """Return the line at a stamp, and whether its first clock is the time of hearing rather than of the request."""
        if stamp + WINDOW / 2 < self.last_now:
            key = math.floor(stamp)
            if key not in self._lines:
                self._lines[key] = self._fit(key + 0.5 - WINDOW / 2, key + 0.5 + WINDOW / 2)
            return self._lines[key]
        if self._newest is None or not self.last_now - REFIT_EVERY < self._newest[0] <= self.last_now:
            self._newest = (self.last_now, self._fit(self.last_now - WINDOW, self.last_now))
        return self._newest[1]

    def _fit(self, start: float, end: float) -> tuple[ClockLine, bool]:
        asked, ends, heard, frames = self._columns(start, end)
        requests = fit_earliest(asked, ends, self._nominal)
        if requests.residual_sd > REQUESTS_SCATTER * self.rate_hz:
            statements = fit_straight(heard, frames, self._nominal)
            if statements.residual_sd < requests.residual_sd:
                return statements, True
        return requests, False

    def step(self, *, at_end: bool = False) -> tuple[int, int, float] | None:
        """Return a loss of sound in the tail: last block before, first after it, and its seconds."""
        asked, ends, _, _ = self._columns(self.last_now - (BINS_BEFORE + BINS_AFTER + 1) * BIN)
        for after in range(BINS_AFTER, 0, -1) if at_end else [BINS_AFTER]:
            before = slice(max(0, asked.size - after - BINS_BEFORE), max(0, asked.size - after))
            if not asked[before].size:
                continue
            baseline = self._baseline(asked[before], ends[before])
            off = baseline.lateness(asked, ends)
            near_late = any(asked[-after] - 2 * BIN < late.now < asked[-after] + BIN for late in self._nearly_late)
            levels = (STEP_LEAST_NEAR_LATE, STEP_LEAST) if near_late else (STEP_LEAST, STEP_LEAST_AT_END)
            least = baseline.least(levels[after < BINS_AFTER], asked[-1])
            step = float(off[-after:].min())
            ahead = step < -2 * least and asked[before].size >= BINS_AHEAD and float(np.ptp(off[-after:])) < least
            if step > least or ahead:
                off_by_block = baseline.lateness([each.now for each in self.tail], [each.end for each in self.tail])
                old = [k for k, each in enumerate(off_by_block) if abs(each) < abs(step) / 2]
                last = old[-1] if old else 0
                new = [k for k in range(last + 1, len(off_by_block)) if abs(off_by_block[k] - step) < abs(step) / 2]
                return (last, new[0], step) if new else None
        return self._step_at_late() if at_end else None

    def _step_at_late(self) -> tuple[int, int, float] | None:
        """Return a loss at a request that came nearly too late, though one bin holds what was on both sides."""
        asked, ends, _, _ = self._columns(self.last_now - (BINS_BEFORE + BINS_AFTER + 1) * BIN)
        blocks = list(self.tail)
        for late in self._nearly_late:
            early, first = asked < late.now, blocks.index(late)
            if not first or not early.any() or self.last_now < late.now + BIN / 4:
                continue
            baseline = self._baseline(asked[early][-BINS_BEFORE:], ends[early][-BINS_BEFORE:])
            after = blocks[first:]
            step = float(baseline.lateness([each.now for each in after], [each.end for each in after]).min())
            if step > baseline.least(STEP_LEAST_AT_END, self.last_now):
                return first - 1, first, step
        return None

    def _baseline(self, asked: Floats, ends: Floats) -> _Baseline:
        line = fit_straight(asked, ends, self._nominal)
        late = asked - line.to_first(ends)
        scatter = MAD_TO_SD * float(np.median(np.abs(late - np.median(late))))
        since = float(asked[0]) if np.ptp(asked) < SPAN_FOR_RATE else math.inf
        return _Baseline(line, float(np.quantile(late, EARLY)), scatter, since)


class _Baseline(NamedTuple):
    """Requests before a step, which those after it are held against.

    Parameters
    ----------
    line : ClockLine
    level, scatter : float
        How late the earliest ones are by it, and their robust SD, in seconds.
    since : float
        When they began where they are too few for a rate, else infinite.
    """

    line: ClockLine
    level: float
    scatter: float
    since: float

    def lateness(self, asked: ArrayLike, ends: ArrayLike) -> Floats:
        """Return how much later than the earliest of these requests came, in seconds, by the last frames asked for."""
        return np.asarray(asked) - self.line.to_first(np.asarray(ends, dtype=np.float64)) - self.level

    def least(self, level: float, until: float) -> float:
        """Return the least step that stands out of these, where a level is the least of all."""
        unsure = RATE_OFF * (until - self.since) if math.isfinite(self.since) else 0.0
        return max(level, STEP_SDS * self.scatter) + unsure
