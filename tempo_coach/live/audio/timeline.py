"""Timeline of a take: frames against our clock, and gaps in the sound; pure, from the audio process's log.

The master clock is the count of frames. A **stretch** is a run of blocks without a gap: within it one robust line over
10 s turns a ``perf_counter`` stamp into a frame. A gap begins a new stretch; what lies between two stretches has no
place on the take clock.

Two witnesses tell how far the sound is. **Requests**: a block is asked for as soon as there is room for it, or later
on a busy machine, never earlier, so that the earliest request of every half second lies on the line to a tenth of a
millisecond at any load. They do not tell how long a block then waits, a constant of the device: its **output
latency**. **Statements**: the times at which the device says that blocks are heard. They include the latency, but some
sound servers extrapolate them from rare readings, and on a busy machine they are off by a tenth of a second for many
seconds. So the line's course is that of the requests, and the latency is the mode of what the statements make of it.
Where requests scatter more than statements do, as under a driver that polls, statements are the line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.live.audio.gapless import BIN, REFIT_EVERY, SETTLING, Block, Stretch

if TYPE_CHECKING:
    from collections.abc import Iterable

    from tempo_coach.observe.take.clock import ClockLine
    from tempo_coach.times import Floats

#: Seconds by which a loss may have been heard before the last block that came in time; blocks may be short.
EARLIER = 0.025
#: Seconds by which a block may be asked for after it should have been heard and not be lost for that: what the server
#: had already is not known to a millisecond, and a step tells of a loss.
JUST_IN_TIME = 0.004
#: Statements within this many seconds of their mode agree with it; a latency is known where that share of the bins
#: does, of at least so many.
AGREEING, AGREEING_SHARE, AGREEING_BINS = 0.002, 0.5, 4


@dataclass(frozen=True)
class Gap:
    """A stretch in which sound was lost, or the relation of the clocks is unknown.

    Attributes
    ----------
    start, end : float
        Take time in seconds, ``[start, end)``: an onset within is not measurable.
    silence : float
        How long nothing was heard, in seconds, as far as the clocks tell; NaN while it is not known.
    """

    start: float
    end: float
    silence: float


@dataclass(frozen=True)
class OutputLatency:
    """Seconds from the request of a block to the end of its being heard.

    Attributes
    ----------
    seconds : float
        NaN where nothing has been played.
    share : float
        Of the statements, those that agree with it: 1 on an idle machine.
    n : int
        Half seconds of statements.
    """

    seconds: float = math.nan
    share: float = 0.0
    n: int = 0

    @property
    def known(self) -> bool:
        """Whether the device's statements are consistent."""
        return self.share >= AGREEING_SHARE and self.n >= AGREEING_BINS

    @property
    def contradicted(self) -> bool:
        """Whether there are enough statements and they are inconsistent."""
        return self.share < AGREEING_SHARE and self.n >= AGREEING_BINS


class Timeline:
    """The map from frames to the times at which they are heard.

    Parameters
    ----------
    rate_hz : int
        Nominal frames a second; take time is frames divided by it.
    latency : OutputLatency
        As it was found earlier on the same device; it holds until the statements of this take agree on their own.
    """

    def __init__(self, rate_hz: int, latency: OutputLatency = OutputLatency()) -> None:
        self.rate_hz = rate_hz
        self.gaps: list[Gap] = []
        self._earlier = latency
        self._stretches: list[Stretch] = []
        self._openings = 0
        self._longest = 0.0
        self._found: tuple[float, int, OutputLatency] | None = None

    def add(
        self, frame: float, frames: int, heard: float, now: float, *, underrun: bool = False, kept: float = math.inf
    ) -> None:
        """Take in one block.

        Parameters
        ----------
        frame : float
            Number of its first frame on the take clock.
        frames : int
            How many frames it has.
        heard : float
            When its first frame is heard, as the device says, put on ``perf_counter``.
        now : float
            ``perf_counter`` when the block was asked for.
        underrun : bool
            Whether the driver said that sound was lost before it.
        kept : float
            Seconds of sound that the device keeps ready, as it says: who asks for nothing for longer has run out of it.
        """
        block = Block(frame, frames, heard, now)
        if not self._stretches or self._stretches[-1].closed_at < math.inf:
            self._openings += 1
            self._longest = 0.0
            self._begin([block])
            return
        stretch = self._stretches[-1]
        lost = underrun and not self._filling(stretch, now)
        if lost or now > self._latest(stretch, block, kept):
            self._look_for_step(stretch, at_end=True)  # of what was lost shortly before, no more will be known
            # what is late by the line before that may be in time by the one after it
            stretch = self._stretches[-1]
            lost = lost or now > self._latest(stretch, block, kept)
        if lost:
            line, shift = self._line(stretch, math.inf)
            self._break(frame - frames, frame, [block], max(heard - line.to_first(frame) - shift, 0.0))
        elif stretch.add(block, nearly_late=self._is_nearly_late(stretch, block, kept)):
            self._longest = max(self._longest, stretch.latencies[-1])
            self._look_for_step(stretch)

    def _begin(self, blocks: Iterable[Block]) -> None:
        first, *rest = blocks
        stretch = Stretch(first, self.rate_hz, self._openings)
        for block in (first, *rest):
            stretch.add(block)
        self._stretches.append(stretch)

    def _filling(self, stretch: Stretch, now: float) -> bool:
        """Return whether a device just opened still lacks its first half second, which is silence."""
        first = stretch is self._stretches[0] or stretch.opening != self._stretches[-2].opening
        return first and now < stretch.began + SETTLING

    def _latest(self, stretch: Stretch, block: Block, kept: float) -> float:
        """Return the latest time for the request of a block, given when it should be heard."""
        if self._filling(stretch, block.now):
            return math.inf
        latency = self.output_latency
        if stretch.last_now - stretch.began < SETTLING + BIN * (1 if latency.known else 2):
            longest = kept + block.frames / self.rate_hz
            return stretch.last_now + (max(longest, latency.seconds + JUST_IN_TIME) if latency.known else longest)
        line, heard = stretch.line(math.inf)
        # Where the device contradicts itself, no statement has it wait for longer.
        longest = latency.seconds if latency.known else max(self._longest, latency.seconds)
        return line.to_first(block.frame) + (0.0 if heard else longest) + JUST_IN_TIME

    def _is_nearly_late(self, stretch: Stretch, block: Block, kept: float) -> bool:
        """Return whether a block was asked for when less than another one of what is kept ready was left."""
        if self._filling(stretch, block.now) or not math.isfinite(kept):
            return False
        line, heard = stretch.line(math.inf)
        late = block.now - line.to_first(block.end)
        return not heard and late > max(kept - block.frames / self.rate_hz, kept / 2)

    def _look_for_step(self, stretch: Stretch, *, at_end: bool = False) -> None:
        found = stretch.step(at_end=at_end)
        if found is not None:
            last, first, step = found
            blocks = list(stretch.tail)
            self._break(blocks[last].frame, blocks[first].frame, blocks[first:], max(step, 0.0))

    def _break(self, start: float, end: float, blocks: list[Block], silence: float) -> None:
        before, first = self._stretches[-1], blocks[0]
        before.closed_frame = end
        gap = Gap(start / self.rate_hz - EARLIER, end / self.rate_hz + SETTLING, silence)
        if self.gaps and before is not self._stretches[0] and before.began > first.now - SETTLING:
            last = self.gaps.pop()  # one loss, of which a late request told first and the driver then
            gap = Gap(min(last.start, gap.start), gap.end, last.silence + silence)
        self._begin(blocks)
        self.gaps.append(gap)

    @property
    def output_latency(self) -> OutputLatency:
        """Latency of the open device, or of the last one."""
        if not self._stretches:
            return self._earlier
        newest = self._stretches[-1]
        stood = (newest.last_now, len(self._stretches))
        if self._found is None or self._found[1] != stood[1] or stood[0] - self._found[0] >= REFIT_EVERY:
            same = [stretch.latencies for stretch in self._stretches if stretch.opening == newest.opening]
            self._found = (*stood, _mode(np.concatenate(same)))
        found = self._found[2]
        return self._earlier if self._earlier.known and not found.known else found

    def _line(self, stretch: Stretch, stamp: float) -> tuple[ClockLine, float]:
        """Return the line at a stamp, and the seconds by which its frames are heard later."""
        line, heard = stretch.line(stamp)
        return line, 0.0 if heard else self.output_latency.seconds

    def leave_out(self, frame: float) -> None:
        """Leave out whatever was played from a frame on: what was heard of it is in no relation to the take."""
        while len(self._stretches) > 1 and self._stretches[-1].first_frame >= frame:
            self._stretches.pop()
        self._stretches[-1].end_at(frame)
        self.gaps = [gap for gap in self.gaps if gap.start * self.rate_hz < frame]
        self._found = None

    def close(self, stamp: float) -> float:
        """End at a stamp, after which nothing was heard, and return its take time.

        Returns
        -------
        float
            NaN where nothing has been heard at all.
        """
        if not self._stretches:
            return math.nan
        self._look_for_step(self._stretches[-1], at_end=True)
        stretch = self._stretches[-1]
        line, shift = self._line(stretch, stamp)
        frame = min(line.to_second(stamp - shift), stretch.end_frame)
        stretch.closed_at = min(stretch.closed_at, stamp)
        return frame / self.rate_hz

    def take_time(self, stamp: float) -> float:
        """Return the take time heard at a ``perf_counter`` stamp.

        Returns
        -------
        float
            Seconds; negative before the first sample. NaN where no sound was running: before anything was
            played, within a gap, after the sound went away.
        """
        for stretch in reversed(self._stretches):
            line, shift = self._line(stretch, stamp)
            frame = line.to_second(stamp - shift)
            if frame >= stretch.first_frame or stretch is self._stretches[0]:
                return math.nan if stamp > stretch.closed_at or frame > stretch.closed_frame else frame / self.rate_hz
        return math.nan

    def measurable(self, time: float) -> bool:
        """Return whether an onset at this take time can be scored: it is a number and in no gap."""
        return math.isfinite(time) and not any(gap.start <= time < gap.end for gap in self.gaps)


def _mode(latencies: Floats) -> OutputLatency:
    """Return the mode of the latencies (half-sample mode, Bickel & Frühwirth 2006), and how many lie there."""
    least = np.sort(latencies)
    while least.size > 2:
        half = (least.size + 1) // 2
        width = least[half - 1 :] - least[: least.size - half + 1]
        start = int(np.argmin(width))
        least = least[start : start + half]
    agreeing = np.abs(latencies - least.mean()) <= AGREEING
    seconds = float(np.median(latencies[agreeing])) if agreeing.any() else float(least.mean())
    return OutputLatency(seconds, float(agreeing.mean()), latencies.size)
