"""The period of a movement: one figure for a trace, and how it changes along it.

Nothing here looks at crossings. A movement repeats after a period in all its columns at once, so the period is the
lag at which the readings as a vector resemble themselves; that tells a cycle from its half better than one column.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.deciding import decide, decide_near
from tempo_coach.observe.trace.levels import Level, Movement, find_levels
from tempo_coach.times import Floats, ascending, column

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Grid

#: Fewer readings a cycle than this cannot carry a circle: its shape needs the third harmonic, and twice that.
READINGS_A_CYCLE = 6.0

#: A lag must beat its half by this much likeness to be followed there.
HALF_MARGIN = 0.06

#: Below this likeness at the best lag the readings do not repeat. White noise of 10 cycles stays under 0.35.
LEAST_LIKENESS = 0.4

# A period that is told may be out by 30 %.
_ABOUT = 0.7, 1.3
_SHORTEST, _LONGEST = 0.12, 12.0
_STATES_AN_OCTAVE = 32
#: What a change of tempo by an octave costs, in likeness of one window.
_JUMP_COST = 1.0
#: What it costs to be an octave off the period of the whole, in likeness of one window.
_FAR_COST = 0.15


#: How often a quantity has to be derived to be an acceleration.
ORDER = {"position": 2, "rotation": 1, "acceleration": 0, "other": 1}


@dataclass(frozen=True, eq=False)
class Rhythm:
    """The period of a trace and its course.

    Parameters
    ----------
    period : float
        Seconds, the one that fits the whole best.
    confidence : float
        0 to 1: how alike the cycles are, less where half or twice the period fits nearly as well.
    alternatives : tuple of float
        Other periods that fit nearly as well, in seconds.
    time : array_like, shape (w,)
        Centres of the windows.
    local : array_like, shape (w,)
        The period there in seconds.
    levels : tuple of Level
        Every period at which something repeats, the shortest first, with its evidence.
    inner : float
        The period of what the cycle carries; 0 where it carries nothing that repeats by itself.
    """

    period: float
    confidence: float
    alternatives: tuple[float, ...]
    time: Floats
    local: Floats
    levels: tuple[Level, ...] = ()
    inner: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "time", ascending(self.time, name="time"))
        object.__setattr__(self, "local", column(self.local, name="local"))


def refuse_slow(circles: Floats, step: float) -> None:
    """Refuse circles that follow one another in fewer readings than show a circle.

    Parameters
    ----------
    circles : numpy.ndarray, shape (n,)
        Seconds.
    step : float
        Seconds from a reading to the next.

    Raises
    ------
    CoachError
        If the usual circle has fewer than :data:`READINGS_A_CYCLE` readings: what was found may be an echo of a faster
        one.
    """
    usual = float(np.median(np.diff(circles))) if circles.size > 1 else np.inf
    if usual < READINGS_A_CYCLE * step:
        raise CoachError(
            f"{1 / step:.3g} readings a second are too few for circles of {usual:.3g} s",
            hint=f"a circle needs {READINGS_A_CYCLE:.0f} readings: these show circles of "
            f"{READINGS_A_CYCLE * step:.3g} s or longer; 50 Hz is good",
        )


def find_rhythm(grid: Grid, *, period: float | None = None, order: int = 0, circles: int | None = None) -> Rhythm:
    """Find the period of the readings, and how it changes along the trace.

    Every level at which something repeats is found with its evidence (:mod:`tempo_coach.observe.trace.levels`); the
    cycle is the shortest at which everything does. Then windows of five periods are looked at, and one path of least
    cost is laid through them, so that a tempo that doubles in the middle is followed.

    Parameters
    ----------
    grid : Grid
    period : float or None
        A period in seconds known beforehand: only lags within 30 % of it are looked at.
    order : int
        How often the readings have to be derived to be an acceleration: 2 of positions, 1 of turning rates.
    circles : int or None
        Circles a cycle where a pattern says so: of several levels it decides.

    Raises
    ------
    CoachError
        If the readings come too slowly for any circle, or do not repeat.
    """
    n = len(grid.values)
    shortest = max(_SHORTEST, READINGS_A_CYCLE * grid.step)
    longest = min(_LONGEST, 0.6 * n * grid.step)
    if shortest >= longest:
        raise CoachError(
            f"{1 / grid.step:.3g} readings a second for {n * grid.step:.3g} s are too few for circles",
            hint=f"a circle needs {READINGS_A_CYCLE:.0f} readings, and a cycle has to be seen twice; 50 Hz is good",
        )
    if period is not None:
        nearest, furthest = shortest / _ABOUT[1], longest / _ABOUT[0]
        if not nearest < period < furthest:
            raise CoachError(
                f"a cycle of {period:g} s: expected {nearest:.2g} to {furthest:.3g} s in {n * grid.step:.3g} s "
                "of readings",
                hint="give about how many seconds one cycle takes, or leave it to be found",
            )
        shortest, longest = max(shortest, _ABOUT[0] * period), min(longest, _ABOUT[1] * period)
    movement = Movement(grid, order)
    levels = find_levels(movement, shortest, longest)
    if period is None:
        decision = decide(levels, movement.duration, circles=circles, way=order == ORDER["position"])
    else:
        decision = decide_near(levels, movement.duration, LEAST_LIKENESS)
    if decision is None:
        best = max((level.likeness for level in levels), default=0.0)
        raise CoachError(
            f"found nothing that repeats: the best likeness of a cycle to the next is {best:.2f} of 1",
            hint="choose the columns that show the movement, or a stretch in which it goes on",
        )
    found = decision.level.period
    carries = decision.inner is not decision.level
    signal = movement.weighted(found, 0 if carries else order)
    time, local = _follow(signal, found / movement.step, READINGS_A_CYCLE * grid.step / movement.step)
    return Rhythm(
        found,
        decision.confidence,
        decision.others,
        np.interp(time, np.arange(movement.time.size), movement.time),
        local * movement.step,
        tuple(levels),
        decision.inner.period if carries else 0.0,
    )


def _likeness(signal: Floats, lags: int) -> Floats:
    from scipy.fft import irfft, next_fast_len, rfft

    n = len(signal)
    lags = min(lags, n - 1)
    size = next_fast_len(n + lags + 1, real=True)
    spectrum = rfft(signal, size, axis=0)
    products = irfft((np.abs(spectrum) ** 2).sum(axis=1), size)[: lags + 1]
    energy = np.concatenate([[0.0], np.cumsum((signal**2).sum(axis=1))])
    lag = np.arange(lags + 1)
    total = energy[n - lag] + energy[n] - energy[lag]
    return np.asarray(2 * products / np.maximum(total, 1e-300))


def _follow(signal: Floats, lag: float, shortest: float) -> tuple[Floats, Floats]:
    """Return window centres and the local lag in samples, by one cheapest path through all windows."""
    n = len(signal)
    width = min(n, round(5 * lag))
    starts = np.arange(0, n - width + 1, max(1, round(lag / 2)))
    low, high = max(shortest, 0.42 * lag), min(2.3 * lag, 0.6 * width)
    if starts.size < 2 or high <= low:
        return np.array([0.0, n - 1.0]), np.array([lag, lag])
    states = low * 2 ** np.arange(0, np.log2(high / low), 1 / _STATES_AN_OCTAVE)
    usual = np.sqrt((signal**2).sum(axis=1).mean())
    gain = np.empty((starts.size, states.size))
    for row, start in enumerate(starts):
        window = signal[start : start + width]
        like = _likeness(window, int(high) + 2)
        at = np.arange(like.size)
        here = np.interp(states, at, like)
        for part in (2, 3):
            shorter = np.where(states / part >= shortest, np.interp(states / part, at, like), -1.0)
            here = here - 0.5 * np.clip((shorter - here + HALF_MARGIN) / HALF_MARGIN, 0, 1)
        loud = np.sqrt((window**2).sum(axis=1).mean()) / max(usual, 1e-300)
        gain[row] = here * np.clip(loud / 0.3, 0, 1)
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
