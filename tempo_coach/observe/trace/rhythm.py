"""The period of a movement: a global estimate, and its course along the trace.

No zero crossings are used. A movement repeats in all its columns at once, so the period is the lag of the maximum of
the vector autocorrelation, which tells a cycle from its half better than one column does.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.cycle_choice import choose_cycle, choose_near
from tempo_coach.observe.trace.filters import accumulate_energy, correlate
from tempo_coach.observe.trace.period_candidates import Candidate, PeriodAnalysis, find_candidates
from tempo_coach.times import Floats, Ints, ascending, column

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Resampled

#: Least readings a cycle: a circle needs its third harmonic, and twice that by the sampling theorem.
READINGS_A_CYCLE = 6.0

#: Similarity by which a lag must exceed its half and third, in the local path.
HALF_MARGIN = 0.06

#: Least similarity at the best lag of readings that repeat. White noise of 10 cycles stays under 0.35.
LEAST_SIMILARITY = 0.4

# A known period may be off by 30 %.
_ABOUT = 0.7, 1.3
_SHORTEST, _LONGEST = 0.12, 12.0
_STATES_AN_OCTAVE = 32
#: Readings of all windows that are looked at together, which bounds the memory.
_AT_ONCE = 200_000
#: Penalty of a change of tempo by an octave, in similarity of one window.
_JUMP_COST = 1.0
#: Penalty of a local period an octave off the global one, in similarity of one window.
_FAR_COST = 0.15


#: Derivatives from a quantity to an acceleration.
ORDER = {"position": 2, "rotation": 1, "acceleration": 0, "other": 1}


@dataclass(frozen=True, eq=False)
class Rhythm:
    """The period of a trace and its course.

    Parameters
    ----------
    period : float
        Global period in seconds.
    confidence : float
        0 to 1: from the similarity of the cycles, less where half or twice the period fits nearly as well.
    alternatives : tuple of float
        Other periods that fit nearly as well, in seconds.
    time : array_like, shape (w,)
        Centres of the windows.
    local : array_like, shape (w,)
        Local period in seconds.
    candidates : tuple of Candidate
        Period candidates, the shortest first.
    inner : float
        Period of the carried circles in seconds; 0 where there are none.
    """

    period: float
    confidence: float
    alternatives: tuple[float, ...]
    time: Floats
    local: Floats
    candidates: tuple[Candidate, ...] = ()
    inner: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "time", ascending(self.time, name="time"))
        object.__setattr__(self, "local", column(self.local, name="local"))


def refuse_slow(circles: Floats, step: float) -> None:
    """Refuse circles that are undersampled.

    Parameters
    ----------
    circles : numpy.ndarray, shape (n,)
        Seconds.
    step : float
        Seconds from a reading to the next.

    Raises
    ------
    CoachError
        If the median circle has fewer than :data:`READINGS_A_CYCLE` readings: it may be an alias of a faster one.
    """
    reference = float(np.median(np.diff(circles))) if circles.size > 1 else np.inf
    if reference < READINGS_A_CYCLE * step:
        raise CoachError(
            "rhythm.too_slow_for",
            rate_hz=1 / step,
            circle_s=reference,
            readings=READINGS_A_CYCLE,
            shortest_s=READINGS_A_CYCLE * step,
        )


def find_rhythm(
    resampled: Resampled, *, period: float | None = None, order: int = 0, circles: int | None = None
) -> Rhythm:
    """Find the period of the readings, and how it changes along the trace.

    The cycle is chosen among period candidates (:mod:`tempo_coach.observe.trace.period_candidates`). The local period
    is then a Viterbi path through windows of five periods, so that a tempo that doubles in the middle is tracked.

    Parameters
    ----------
    resampled : Resampled
    period : float or None
        Known period in seconds: only lags within 30 % of it are searched.
    order : int
        Derivatives from the readings to an acceleration: 2 of positions, 1 of turning rates.
    circles : int or None
        Circles a cycle where a pattern says so: it decides between candidates.

    Raises
    ------
    CoachError
        If the readings come too slowly for any circle, or do not repeat.
    """
    n = len(resampled.values)
    shortest = max(_SHORTEST, READINGS_A_CYCLE * resampled.step)
    longest = min(_LONGEST, 0.6 * n * resampled.step)
    if shortest >= longest:
        raise CoachError(
            "rhythm.too_few_readings",
            rate_hz=1 / resampled.step,
            duration_s=n * resampled.step,
            readings=READINGS_A_CYCLE,
        )
    if period is not None:
        nearest, furthest = shortest / _ABOUT[1], longest / _ABOUT[0]
        if not nearest < period < furthest:
            raise CoachError(
                "rhythm.period", period_s=period, least_s=nearest, most_s=furthest, duration_s=n * resampled.step
            )
        shortest, longest = max(shortest, _ABOUT[0] * period), min(longest, _ABOUT[1] * period)
    analysis = PeriodAnalysis(resampled, order)
    candidates = find_candidates(analysis, shortest, longest)
    if period is None:
        choice = choose_cycle(candidates, analysis.duration, circles=circles, is_position=order == ORDER["position"])
    else:
        choice = choose_near(candidates, analysis.duration, LEAST_SIMILARITY)
    if choice is None:
        best = max((candidate.similarity for candidate in candidates), default=0.0)
        raise CoachError("rhythm.none", similarity=best)
    found = choice.candidate.period
    is_carrier = choice.inner is not choice.candidate
    signal = analysis.weighted(found, 0 if is_carrier else order)
    time, local = _follow(signal, found / analysis.step, READINGS_A_CYCLE * resampled.step / analysis.step)
    return Rhythm(
        found,
        choice.confidence,
        choice.others,
        np.interp(time, np.arange(analysis.time.size), analysis.time),
        local * analysis.step,
        tuple(candidates),
        choice.inner.period if is_carrier else 0.0,
    )


def _follow(signal: Floats, lag: float, shortest: float) -> tuple[Floats, Floats]:
    """Return window centres and the local lag in samples: the Viterbi path through all windows."""
    n = len(signal)
    width = min(n, round(5 * lag))
    starts = np.arange(0, n - width + 1, max(1, round(lag / 2)))
    low, high = max(shortest, 0.42 * lag), min(2.3 * lag, 0.6 * width)
    if starts.size < 2 or high <= low:
        return np.array([0.0, n - 1.0]), np.array([lag, lag])
    states = low * 2 ** np.arange(0, np.log2(high / low), 1 / _STATES_AN_OCTAVE)
    at_once = max(1, _AT_ONCE // width)
    gain = np.concatenate(
        [_gain(signal, starts[k : k + at_once], width, states, shortest) for k in range(0, starts.size, at_once)]
    )
    octaves = np.log2(states)
    gain = gain - _FAR_COST * np.abs(octaves - np.log2(lag))
    cost = _JUMP_COST * np.abs(octaves[:, None] - octaves[None, :])
    total, back = gain[0], np.zeros(gain.shape, dtype=np.int64)
    for row in range(1, len(gain)):
        ways = total[:, None] - cost
        back[row] = ways.argmax(axis=0)
        total = ways.max(axis=0) + gain[row]
    path = np.empty(len(gain), dtype=np.int64)
    path[-1] = total.argmax()
    for row in range(len(gain) - 1, 0, -1):
        path[row - 1] = back[row, path[row]]
    return np.asarray(starts + (width - 1) / 2), np.asarray(states[path], dtype=np.float64)


def _gain(signal: Floats, starts: Ints, width: int, states: Floats, shortest: float) -> Floats:
    """Return the similarity of each window at each local period, reduced where a half or third of it fits as well."""
    windows = signal[starts[:, None] + np.arange(width)]
    lags = min(int(states[-1]) + 2, width - 1)
    energy = accumulate_energy(windows)
    lag = np.arange(lags + 1)
    both = energy[:, width - lag] + energy[:, [width]] - energy[:, lag]
    like = 2 * correlate(windows, windows, lags) / np.maximum(both, 1e-300)
    out = _between(like, states)
    for part in (2, 3):
        shorter = np.where(states / part >= shortest, _between(like, states / part), -1.0)
        out = out - 0.5 * np.clip((shorter - out + HALF_MARGIN) / HALF_MARGIN, 0, 1)
    loud = np.sqrt(energy[:, [width]] / width / max(float((signal**2).sum(axis=1).mean()), 1e-300))
    return np.asarray(out * np.clip(loud / 0.3, 0, 1))


def _between(rows: Floats, at: Floats) -> Floats:
    """Interpolate every row at the same fractional indices."""
    first = np.clip(at.astype(int), 0, rows.shape[1] - 2)
    part = np.clip(at - first, 0, 1)
    return np.asarray(rows[:, first] * (1 - part) + rows[:, first + 1] * part)
