"""Circles of an accelerometer on what turns: their low points, whichever way the sensor sits.

On a club that turns upright at the rate w, an accelerometer at the distance r feels a steady pull towards the hand,
r w², and gravity, which goes round once a circle in the sensor's own axes. The steady part says which way is outwards,
the turning part how far outwards is from downwards: together the club's own angle, and so its low points. No knowledge
of how the sensor was taped on is needed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.circles import Circles
from tempo_coach.observe.cycles import Cycles, time_cycles
from tempo_coach.observe.even_steps import to_grid
from tempo_coach.observe.freefall import GRAVITY
from tempo_coach.observe.rhythm import ORDER, find_rhythm
from tempo_coach.observe.warp import band, low, unroll

if TYPE_CHECKING:
    from tempo_coach.observe.trace import Trace

#: The turning part is gravity if it has this part of g; less turns about an upright axis, more is something else.
_GRAVITY = (0.4, 1.6)
#: The turning part is a circle if its second direction has this part of the first one's power.
_ROUND = 0.25
#: The steady pull must reach this part of g, or it does not say which way is outwards.
_PULL = 0.5


def find_low_points(trace: Trace, *, period: float | None = None, circles: int | None = None) -> Circles:
    """Find the circles of an accelerometer, or its cycles alone where gravity does not go round in it.

    Parameters
    ----------
    trace : Trace
        Accelerations of one mover in m/s², or in units that are not known.
    period : float or None
        Of a circle, where it is known.

    Returns
    -------
    Circles
        At their low points, with ``sense`` 0, which an accelerometer does not show. Without a circle in it where the
        movement is no turning upright; its cycles are then counted from where the sensor's reading crosses its middle.

    Raises
    ------
    CoachError
        If too little is read, or nothing repeats.
    ValueError
        If the trace holds no accelerations.
    """
    if trace.quantity != "acceleration":
        raise ValueError(f"find_low_points: expected accelerations, got {trace.quantity}")
    grid = to_grid(trace)
    rhythm = find_rhythm(grid, period=period, order=ORDER[trace.quantity], circles=circles)
    unrolled = unroll(grid, rhythm)
    cycles = time_cycles(unrolled, rhythm, trace)
    nothing = np.empty(0, dtype=np.int64)
    none = Circles(np.empty(0), nothing, np.empty(0), nothing, cycles, zero="mount")
    if trace.values.shape[1] < 2:
        return none
    inside = np.zeros(unrolled.time.size, dtype=bool)
    for start, end in cycles.span:
        inside |= (unrolled.time >= start) & (unrolled.time <= end)
    turning = band(unrolled.values, unrolled.per_cycle, 0.5, 1.5)[inside]
    power, axes = np.linalg.eigh(turning.T @ turning / max(len(turning), 1))
    plane = axes[:, -1] + 1j * axes[:, -2]
    steady = complex(unrolled.values[inside].mean(axis=0) @ plane)
    size = float(np.sqrt(power[-1] + power[-2]))
    known = trace.unit == "m/s²"
    if power[-2] < _ROUND * power[-1] or abs(steady) < _PULL * (GRAVITY if known else size):
        return none
    if known and not _GRAVITY[0] * GRAVITY < size < _GRAVITY[1] * GRAVITY:
        return none
    # seen from the hand outwards, what is left of the pull is gravity: it points outwards at the low point
    felt = unrolled.values @ plane * np.conj(-steady / abs(steady))
    round_ = low(felt - low(felt, unrolled.per_cycle, 0.4), unrolled.per_cycle, 2.5)
    turn = np.unwrap(np.angle(-round_)) / (2 * np.pi)
    sense = 1 if turn[-1] > turn[0] else -1
    if not 0.5 < abs(turn[-1] - turn[0]) / cycles.time.size < 1.5:
        return none
    rising = np.maximum.accumulate(sense * turn) + 1e-12 * np.arange(turn.size)
    numbers = np.arange(np.ceil(rising[0]), np.floor(rising[-1]) + 1)
    at = np.interp(numbers, rising, unrolled.time)
    at = at[np.interp(at, unrolled.time, inside.astype(float)) > 0.5]
    if at.size < 2:
        return none
    bout = np.clip(np.searchsorted(cycles.span[:, 0], at, side="right") - 1, 0, None)
    reach = np.interp(at, cycles.time, cycles.reach)
    found = Cycles(at, bout.astype(np.int64), rhythm, cycles.timed_by, cycles.direction, reach, cycles.span)
    return Circles(at, np.zeros(at.size, dtype=np.int64), np.zeros(at.size), np.arange(at.size), found)
