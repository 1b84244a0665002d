"""A device's clock converted to ours, by readings of both."""

from __future__ import annotations

import math

from tempo_coach.observe.take.clock import ClockLine, fit_clock, fit_offset

#: Seconds of readings that a line is fitted over, and least span of them in seconds for a rate.
WINDOW, SPAN_FOR_RATE = 10.0, 2.0
#: Two readings of a device's clock that disagree by more than this say that somebody set the clock.
CLOCK_SET = 0.005
#: A device that says a block is heard this far from when it was asked for does not tell the time that we
#: think.
PLAUSIBLE = 3.0


class DeviceClock:
    """Converts device times to ``perf_counter`` by readings of both that the audio process takes each second.

    A device's clock may count from anywhere, may be the wall clock (which somebody can set), or may say 0
    always.
    """

    def __init__(self) -> None:
        self._readings: list[tuple[float, float]] = []
        self._line: ClockLine | None = None
        self._last = -math.inf

    def add(self, middle: float, device: float) -> None:
        """Add one reading: ``perf_counter`` and the device's time at the same instant."""
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
