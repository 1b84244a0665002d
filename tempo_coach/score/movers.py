"""How far one mover of a trace trails another: discrete lags over the local period."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.phase import Lag, summarise_lag

if TYPE_CHECKING:
    from tempo_coach.observe.mover import Mover
    from tempo_coach.times import Floats

#: A step beyond this many usual ones has no local period: a pause, or a circle left out.
_PAUSE = 1.5


@dataclass(frozen=True)
class MoverLag:
    """By how much ``of`` trails ``to``; positive when it comes later."""

    of: str
    to: str
    asked_deg: float
    lag: Lag


def measure_lag(of: Mover, to: Mover, *, asked_deg: float = math.nan) -> MoverLag:
    """Measure by how much one mover trails another.

    Each event of the reference is set against the first event of the other that follows within its local period.

    Parameters
    ----------
    of, to : Mover
        The one that trails, and the reference.
    asked_deg : float
        What was asked; NaN where nothing was.

    Returns
    -------
    MoverLag
        With degrees near 0 to 360 wrapped into (-180, 180] unless another turn is asked for.
    """
    lags, periods = event_lags(to.events, of.events)
    period = float(np.median(periods)) if periods.size else math.nan
    return MoverLag(of.name, to.name, asked_deg, summarise_lag(lags, period=period, asked=asked_deg))


def event_lags(reference: Floats, target: Floats) -> tuple[Floats, Floats]:
    """Return the lag in degrees, 0 to 360, of the target in each step of the reference that has one, and the step.

    Parameters
    ----------
    reference, target : numpy.ndarray
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
    whole = steps[at] < _PAUSE * np.median(steps)
    at, target = at[whole], target[whole]
    return np.asarray((target - reference[at]) / steps[at] * 360.0), np.asarray(steps[at])
