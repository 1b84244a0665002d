"""Readings resampled to even steps, for filters and spectra, from uneven stamps and across gaps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.filters import interpolate
from tempo_coach.observe.trace.trace import GAP_STEPS

if TYPE_CHECKING:
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.times import Floats


#: Longest trace in seconds: half a training. A longer one is rather a forgotten sensor.
LONGEST = 3600.0
#: Most steps: an hour at 1000 readings a second.
_MOST_STEPS = 3_600_000


@dataclass(frozen=True, eq=False)
class Resampled:
    """Readings at even steps, interpolated across gaps.

    Parameters
    ----------
    start, step : float
        Seconds of the first reading and between two.
    values : numpy.ndarray, shape (n, d)
    known : numpy.ndarray of bool, shape (n,)
        False inside a gap.
    """

    start: float
    step: float
    values: Floats
    known: np.ndarray[tuple[int], np.dtype[np.bool_]]

    @property
    def time(self) -> Floats:
        """Seconds of every reading."""
        return np.asarray(self.start + self.step * np.arange(len(self.values)))


def resample(trace: Trace) -> Resampled:
    """Resample to even steps of the median step.

    Readings are interpolated by cubic splines; those closer than a fifth of a step are averaged first, because a spline
    would overshoot between them. Gaps are interpolated by a shape-preserving cubic (PCHIP).

    Parameters
    ----------
    trace : Trace
        A reading with NaN in any column is left out.

    Raises
    ------
    CoachError
        If fewer than four readings are complete, or they go on for too long.
    """
    keep = ~np.isnan(trace.values).any(axis=1)
    if keep.sum() < 4:
        raise CoachError("trace.few_readings", found=keep.sum())
    time, values = trace.time[keep], trace.values[keep]
    step = float(np.median(np.diff(trace.time)))
    time, values = _merge(time, values, step / 5)
    if trace.duration > LONGEST or trace.duration > _MOST_STEPS * step:
        raise CoachError(
            "trace.too_long",
            minutes=trace.duration / 60,
            rate_hz=1 / step,
            most_minutes=min(LONGEST, _MOST_STEPS * step) / 60,
        )
    stamps = np.arange(time[0], time[-1] + step / 2, step)
    even = np.diff(time)
    if np.ptp(even) < 1e-6 * step:
        return Resampled(
            float(time[0]), step, values[: stamps.size], np.ones(min(stamps.size, len(values)), dtype=bool)
        )
    filled = interpolate(time, values, stamps)
    after = np.clip(np.searchsorted(time, stamps, side="right"), 1, time.size - 1)
    known = even[after - 1] <= GAP_STEPS * step
    if not known.all():
        from scipy.interpolate import PchipInterpolator

        filled[~known] = PchipInterpolator(time, values)(stamps[~known])
    return Resampled(float(time[0]), step, filled, known)


def _merge(time: Floats, values: Floats, least: float) -> tuple[Floats, Floats]:
    close = np.diff(time) < least
    if not close.any():
        return time, values
    group = np.concatenate([[0], np.cumsum(~close)])
    size = np.bincount(group).astype(float)
    merged = [np.bincount(group, weights=values[:, i]) / size for i in range(values.shape[1])]
    return np.bincount(group, weights=time) / size, np.column_stack(merged)
