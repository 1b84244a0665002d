"""Timeline of a take: frames played against our own clock, and gaps in the sound; pure, fed by the audio process's log.

The master clock is the count of frames. A **stretch** is a run of blocks without a gap: within it one robust
line over 10 s turns a ``perf_counter`` stamp into a frame. A gap begins a new stretch; what lies between two
stretches has no place on the take clock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.take.clock import ClockLine, fit_clock, fit_offset

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Seconds of records that a line is fitted over: long enough to average their scatter (about 0.1 ms), short
#: enough to follow a device whose clock wanders with its temperature.
WINDOW = 10.0
#: Seconds of new records after which the newest line is fitted again.
REFIT_EVERY = 0.2
#: Seconds after the start or after a gap in which a server may still settle: left out of the fit when it is
#: over.
SETTLING = 0.5
#: A block that is heard this much later or earlier than the line says, as the median of ``SHIFT_BLOCKS``
#: blocks in a row, means that something was lost or repeated, also where the driver does not say so. The
#: second is in robust SDs.
SHIFT_LEAST = 0.001
SHIFT_SDS = 6.0
SHIFT_BLOCKS = 8
#: With less than this many seconds of records only the offset is fitted.
SPAN_FOR_RATE = 2.0
#: Two readings of a device's clock that disagree by more than this say that somebody set the clock.
CLOCK_SET = 0.005
#: A device that says a block is heard this far from when it was asked for does not tell the time that we
#: think.
PLAUSIBLE = 3.0


@dataclass(frozen=True)
class Gap:
    """Sound that was lost, or a stretch in which the clocks cannot be told.

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


@dataclass
class _Stretch:
    """Blocks in a row, and the lines through them."""

    nominal_hz: float
    starts: list[float] = field(default_factory=list)
    heard: list[float] = field(default_factory=list)
    lines: dict[int, ClockLine] = field(default_factory=dict)
    newest: tuple[float, ClockLine] | None = None
    closed_at: float = math.inf
    end_frame: float = 0.0

    def columns(self) -> tuple[Floats, Floats]:
        """Return heard times and frames, without the settling time once it is over."""
        heard, starts = np.array(self.heard), np.array(self.starts)
        settled = heard >= heard[0] + SETTLING
        return (heard[settled], starts[settled]) if settled.sum() >= SHIFT_BLOCKS else (heard, starts)

    def line(self, stamp: float) -> ClockLine:
        """Return the line for a stamp: over the last 10 s, or over the 10 s about an older stamp."""
        last = self.heard[-1]
        if stamp + WINDOW / 2 < last:
            key = math.floor(stamp)
            if key not in self.lines:
                self.lines[key] = self._fit(key + 0.5 - WINDOW / 2, key + 0.5 + WINDOW / 2)
            return self.lines[key]
        if self.newest is None or not last - REFIT_EVERY < self.newest[0] <= last:
            self.newest = (last, self._fit(last - WINDOW, last))
        return self.newest[1]

    def _fit(self, start: float, end: float) -> ClockLine:
        heard, frames = self.columns()
        inside = (heard >= start) & (heard <= end)
        if inside.sum() < SHIFT_BLOCKS:
            inside[:] = True
        heard, frames = heard[inside], frames[inside]
        if heard[-1] - heard[0] < SPAN_FOR_RATE:
            return fit_offset(heard, frames, rate=self.nominal_hz)
        return fit_clock(heard, frames)


class Timeline:
    """The map from frames to times at which they are heard.

    Parameters
    ----------
    rate_hz : int
        Nominal frames a second; take time is frames divided by it.
    """

    def __init__(self, rate_hz: int) -> None:
        self.rate_hz = rate_hz
        self.gaps: list[Gap] = []
        self._stretches: list[_Stretch] = []
        self._shifted: list[tuple[float, float]] = []

    def add(self, frame: float, frames: int, heard: float, now: float, *, underrun: bool = False) -> None:
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
        """
        if not self._stretches or self._stretches[-1].closed_at < math.inf:
            self._begin(frame, frames, heard)
            return
        stretch = self._stretches[-1]
        settled = stretch.heard[-1] - stretch.heard[0] > SETTLING + SHIFT_BLOCKS * frames / self.rate_hz
        line = stretch.line(math.inf)
        expected = line.to_first(frame)
        # A block that is asked for after it should have been heard was not there to be heard.
        late = settled and expected <= now
        if underrun or late:
            self._break(frame, frames, heard, expected)
            return
        if settled and abs(heard - expected) > max(SHIFT_LEAST, SHIFT_SDS * line.residual_sd / self.rate_hz):
            self._shifted.append((frame, heard))
            if len(self._shifted) >= SHIFT_BLOCKS:
                shifted = self._shifted
                first_frame, first_heard = shifted[0]
                self._break(first_frame, frames, first_heard, line.to_first(first_frame))
                for later, later_heard in shifted[1:]:
                    self._stretches[-1].starts.append(later)
                    self._stretches[-1].heard.append(later_heard)
            return
        self._shifted.clear()
        stretch.starts.append(frame)
        stretch.heard.append(heard)
        stretch.end_frame = frame + frames

    def _begin(self, frame: float, frames: int, heard: float) -> None:
        stretch = _Stretch(float(self.rate_hz))
        stretch.starts.append(frame)
        stretch.heard.append(heard)
        stretch.end_frame = frame + frames
        self._stretches.append(stretch)
        self._shifted.clear()

    def _break(self, frame: float, frames: int, heard: float, expected: float) -> None:
        self._stretches[-1].closed_at = expected
        self._begin(frame, frames, heard)
        # The loss may have been heard a block earlier than the driver noticed it.
        start = (frame - frames) / self.rate_hz
        self.gaps.append(Gap(start, frame / self.rate_hz + SETTLING, max(heard - expected, 0.0)))

    def close(self, stamp: float) -> float:
        """Say that nothing was heard after a stamp, and return the take time of it.

        Returns
        -------
        float
            NaN where nothing has been heard at all.
        """
        if not self._stretches:
            return math.nan
        stretch = self._stretches[-1]
        frame = min(stretch.line(stamp).to_second(stamp), stretch.end_frame)
        stretch.closed_at = min(stretch.closed_at, stamp)
        return frame / self.rate_hz

    def take_time(self, stamp: float) -> float:
        """Return the take time that was heard at a ``perf_counter`` stamp.

        Returns
        -------
        float
            Seconds; negative before the first sample. NaN where no sound was running: before anything was
            played, within a gap, after the sound went away.
        """
        for stretch in reversed(self._stretches):
            if stamp >= stretch.heard[0] or stretch is self._stretches[0]:
                if stamp > stretch.closed_at:
                    return math.nan
                return stretch.line(stamp).to_second(stamp) / self.rate_hz
        return math.nan

    def measurable(self, time: float) -> bool:
        """Whether an onset at this take time can be scored: it is a number and lies in no gap."""
        return math.isfinite(time) and not any(gap.start <= time < gap.end for gap in self.gaps)

    @property
    def scatter(self) -> float:
        """Robust SD of the device's times about the newest line, in seconds; NaN with too few blocks."""
        if not self._stretches:
            return math.nan
        return self._stretches[-1].line(math.inf).residual_sd / self.rate_hz


class DeviceClock:
    """Device times put on ``perf_counter`` by the readings of both that the audio process takes each second.

    A device's clock may count from anywhere, may be the wall clock (which somebody can set), or may say 0
    always.
    """

    def __init__(self) -> None:
        self._readings: list[tuple[float, float]] = []
        self._line: ClockLine | None = None
        self._last = -math.inf

    def add(self, middle: float, device: float) -> None:
        """Take in one reading: ``perf_counter`` and the device's time at the same instant."""
        if not device:
            return
        if self._line is not None and abs(self._line.to_second(device) - middle) > CLOCK_SET:
            self._readings.clear()
        self._readings.append((middle, device))
        self._readings = [pair for pair in self._readings if pair[0] > middle - WINDOW]
        middles, devices = zip(*self._readings, strict=True)
        if middles[-1] - middles[0] < SPAN_FOR_RATE:
            self._line = fit_offset(devices[-1:], middles[-1:], rate=1.0)
        else:
            self._line = fit_clock(devices, middles)

    def heard(self, device: float, now: float, latency: float) -> float:
        """Return when a block is heard, on ``perf_counter``.

        Parameters
        ----------
        device : float
            What the device says; 0 where it says nothing.
        now : float
            ``perf_counter`` when the block was asked for: with the latency, the only way on a device that
            says nothing, and scattered by about a millisecond.
        latency : float
            Seconds from asking to hearing, as the device says.
        """
        stands_still = device <= self._last
        self._last = device
        if self._line is not None and device and not stands_still:
            heard = self._line.to_second(device)
            if abs(heard - now) < PLAUSIBLE:
                return heard
        return now + latency
