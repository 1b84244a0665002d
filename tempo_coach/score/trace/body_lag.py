"""Lag between two tracked bodies: event by event over the local period, and as a continuous phase difference."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from tempo_coach.observe.trace.filters import find_analytic, low_pass
from tempo_coach.observe.trace.resampling import resample
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.measures.circular import check_uniform, mean_direction
from tempo_coach.score.measures.phase import Lag, summarise_lag

if TYPE_CHECKING:
    from tempo_coach.observe.trace.tracked_body import TrackedBody
    from tempo_coach.times import Floats

#: Ratio of a step to the median from which it has no local period: a pause, or a circle left out.
_PAUSE = 1.5
#: The same from which a step, where such are rarer than the second value, is a turn or a stop: it and its neighbours
#: have no lag.
_STOPPED, _RARE = 1.3, 0.1
#: Least lags for Rayleigh's test, and its significance level.
_LEAST_LAGS, _CHANCE = 5, 0.05
#: Main axes further apart than this belong to sensors that sit differently.
_APART_DEG = 20.0


@dataclass(frozen=True)
class BodyLag:
    """The lag of ``of`` behind ``to``; positive when it comes later.

    Parameters
    ----------
    of, to : str
    asked_deg : float
        NaN where nothing was asked.
    lag : Lag
        With degrees and seconds NaN where there are none or the sensors cannot show them; the spread is right all the
        same.
    reason : Reason or None
        Why they are NaN.
    caution : Reason or None
        Caveat on a known lag.
    level : {"cycle", "circle"}
        What its degrees are of: the whole cycle, or the small circles that a cycle carries, where both have them.
    """

    of: str
    to: str
    asked_deg: float
    lag: Lag
    reason: Reason | None = None
    caution: Reason | None = None
    level: Literal["cycle", "circle"] = "cycle"


def measure_lag(of: TrackedBody, to: TrackedBody, *, asked_deg: float = math.nan) -> BodyLag:
    """Measure the lag of one body behind another.

    Each event of the reference is set against the first event of the other that follows within its local period. Where
    one alone carries small circles, as the end of a rope does and the wrist does not, the whole cycles are compared,
    by their continuous phase.

    Parameters
    ----------
    of, to : TrackedBody
        The one that trails, and the reference.
    asked_deg : float
        What was asked; NaN where nothing was.

    Returns
    -------
    BodyLag
        With degrees near 0 to 360 wrapped into (-180, 180] unless another turn is asked for.
    """
    is_mixed = of.circles.carried != to.circles.carried
    lags, periods = _cycle_lags(of, to) if is_mixed else event_lags(to.events, of.events)
    period = float(np.median(periods)) if periods.size else math.nan
    lag = summarise_lag(lags, period=period, asked=asked_deg)
    reason = _why_not(of, to) or (_why_tilted(of, to) if is_mixed else None) or _why_none(lags)
    if reason:
        lag = replace(lag, degrees=math.nan, error=math.nan, seconds=math.nan, half_interval=math.nan)
    caution = None if reason or of.circles.zero == to.circles.zero == "low" else Reason(Why.SEAT_SHIFTS)
    level: Literal["cycle", "circle"] = "circle" if to.circles.carried and not is_mixed else "cycle"
    return BodyLag(of.name, to.name, asked_deg, lag, reason, caution, level)


def _cycle_lags(of: TrackedBody, to: TrackedBody) -> tuple[Floats, Floats]:
    """Return the mean lag in degrees, 0 to 360, in each whole cycle of the reference, and the cycle's period."""
    time, degrees = follow_phase(of, to)
    starts, ends = to.cycles.starts, to.cycles.ends
    edges = np.searchsorted(time, [starts, ends]).T
    inside = [(k, slice(first, last)) for k, (first, last) in enumerate(edges.tolist()) if last > first]
    lags = [mean_direction(degrees[part]) % 360.0 for _, part in inside]
    return np.array(lags), np.array([ends[k] - starts[k] for k, _ in inside])


def event_lags(reference: Floats, target: Floats) -> tuple[Floats, Floats]:
    """Return the lag in degrees, 0 to 360, of the target in each step of the reference that has one, and the step.

    Parameters
    ----------
    reference, target : numpy.ndarray, shape (n,) and (m,)
        Seconds, ascending.

    Examples
    --------
    >>> lags, _ = event_lags(np.array([0.0, 0.6, 1.2]), np.array([0.15, 0.9]))
    >>> lags.round(6).tolist()
    [90.0, 180.0]
    """
    if reference.size < 2 or not target.size:
        return np.empty(0), np.empty(0)
    steps = np.diff(reference)
    at = np.searchsorted(reference, target, side="right") - 1
    inside = (at >= 0) & (at < steps.size)
    at, target = at[inside], target[inside]
    median = np.median(steps)
    whole = steps < _PAUSE * median
    stopped = steps > _STOPPED * median
    if stopped.mean() < _RARE:
        whole &= np.convolve(stopped, [1, 1, 1])[1:-1] == 0
    whole = whole[at]
    at, target = at[whole], target[whole]
    return np.asarray((target - reference[at]) / steps[at] * 360.0), np.asarray(steps[at])


def _why_none(lags: Floats) -> Reason | None:
    """Return a lag without a value, for lags that are dispersed over the circle."""
    if lags.size < _LEAST_LAGS:
        return None
    _, chance = check_uniform(lags)
    return None if chance <= _CHANCE else Reason(Why.NO_STEADY_LAG, (chance, int(lags.size)))


def _why_not(of: TrackedBody, to: TrackedBody) -> Reason | None:
    """Return the reason why the lag of two bodies is unknown; None where it is known."""
    zeros = {of.circles.zero, to.circles.zero}
    if "start" in zeros:
        return Reason(Why.TURNING_RATE)
    if zeros == {"low"}:
        return None
    if of.circles.time.size or to.circles.time.size:
        return Reason(Why.CONE)
    if len(zeros) > 1 or of.trace.quantity != to.trace.quantity:
        return Reason(Why.OTHER_PLACE)
    return _why_tilted(of, to)


def _why_tilted(of: TrackedBody, to: TrackedBody) -> Reason | None:
    """Return the reason why the phases along two axes cannot be compared; None where they can."""
    one, other = of.cycles.direction, to.cycles.direction
    if one.size != other.size:
        return Reason(Why.OTHER_AXES)
    apart = math.degrees(math.acos(min(1.0, abs(float(one @ other)))))
    return Reason(Why.TILTED, (apart,)) if apart > _APART_DEG else None


#: Fewer whole cycles than this have no course: one is cut off at each end.
LEAST_CYCLES = 4
#: Harmonics that are kept: the analytic phase of a movement with more than one loop a cycle would run back and forth.
_CORNER = 1.6


def analytic_phase(signal: Floats) -> Floats:
    """Return the phase of the analytic signal in degrees, unwrapped; 0 at a maximum.

    Parameters
    ----------
    signal : numpy.ndarray, shape (n,)
        At even steps, centred. What is not centred is bent: see :func:`centre_cycles`.

    Examples
    --------
    >>> turn = np.arange(400) / 100
    >>> analytic_phase(np.cos(2 * np.pi * turn))[[25, 125]].round(6).tolist()
    [90.0, 450.0]
    """
    return np.asarray(np.degrees(np.unwrap(np.angle(find_analytic(signal)))))


def centre_cycles(time: Floats, signal: Floats, starts: Floats) -> Floats:
    """Subtract the midrange of each cycle, interpolated between cycles.

    Parameters
    ----------
    time, signal : numpy.ndarray, shape (n,)
    starts : numpy.ndarray, shape (k,)
        Seconds at which cycles start, ascending; the last one ends the last cycle.
    """
    edges = np.searchsorted(time, starts)
    whole = [(a, b) for a, b in pairwise(edges.tolist()) if b - a > 1]
    if not whole:
        return np.asarray(signal - (signal.min() + signal.max()) / 2)
    middles = [(signal[a:b].min() + signal[a:b].max()) / 2 for a, b in whole]
    return np.asarray(signal - np.interp(time, [(time[a] + time[b - 1]) / 2 for a, b in whole], middles))


def follow_phase(of: TrackedBody, to: TrackedBody) -> tuple[Floats, Floats]:
    """Return the phase lag of one body behind another in degrees, at every reading that both share.

    Parameters
    ----------
    of, to : TrackedBody
        The one that trails, and the reference; of one trace, so that they share its clock.

    Returns
    -------
    time, degrees : numpy.ndarray, shape (k,)
        Seconds, and degrees in (-180, 180]; empty where they have fewer than four cycles in common. Bouts follow one
        another, each without its first and its last cycle.
    """
    times, degrees = [], []
    for start, end in _common(of, to):
        time = np.arange(start, end, 1 / to.trace.rate_hz)
        phases = [_phase(body, time) for body in (to, of)]
        period = float(np.median(to.cycles.periods))
        inside = (time >= start + period) & (time <= end - period)
        if end - start < LEAST_CYCLES * period or not inside.any():
            continue
        times.append(time[inside])
        degrees.append(180 - np.mod(180 - (phases[0] - phases[1])[inside], 360))
    if not times:
        return np.empty(0), np.empty(0)
    return np.concatenate(times), np.concatenate(degrees)


def _phase(body: TrackedBody, time: Floats) -> Floats:
    resampled = resample(body.trace)
    direction = body.cycles.direction
    along = resampled.values @ direction if direction.size == resampled.values.shape[1] else resampled.values[:, 0]
    signal = np.interp(time, resampled.time, along)
    centred = centre_cycles(time, signal, body.cycles.time)
    step = float(time[1] - time[0])
    per_cycle = max(1, round(float(np.median(body.cycles.periods)) / step))
    return analytic_phase(low_pass(centred, per_cycle, _CORNER, order=4))


def _common(of: TrackedBody, to: TrackedBody) -> list[tuple[float, float]]:
    """Return the stretches in which both move."""
    found = []
    for start, end in to.cycles.span:
        for other_start, other_end in of.cycles.span:
            first, last = max(start, other_start), min(end, other_end)
            if last > first and of.cycles.periods.size and to.cycles.periods.size:
                found.append((float(first), float(last)))
    return found
