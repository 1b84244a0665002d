"""A trace put on the take clock, so that its circles become onsets and are scored like taps.

Three ways: a clap or contact that both saw (its time on either clock), a stamped start, or the best fit of the circles
to the plan's moments. The fit alone cannot tell a start that is a whole cycle late; how sure it is, is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.onsets import Onsets

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.mover import Mover
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.times import Floats

#: A moment and a circle this part of the usual step apart count as half together.
_TOGETHER = 0.15
#: Trials in a usual step.
_TRIALS = 40


@dataclass(frozen=True)
class Placing:
    """Where a trace lies on the take clock.

    Parameters
    ----------
    offset : float
        Seconds to add to the trace's clock.
    confidence : float
        0 to 1; 1 where it was not fitted but told. For a fit: how much worse the next best place is.
    next_best : float or None
        The offset that fits nearly as well.
    """

    offset: float
    confidence: float = 1.0
    next_best: float | None = None


def place_by_event(on_trace: float, on_take: float) -> Placing:
    """Place a trace by one event that both clocks saw: a clap, a contact, a stamped start."""
    return Placing(on_take - on_trace)


def place_by_fit(moments: Floats, events: Floats) -> Placing:
    """Place a trace where its events and the moments fit best.

    Parameters
    ----------
    moments : numpy.ndarray, shape (m,)
        Seconds on the take clock.
    events : numpy.ndarray, shape (k,)
        Seconds on the trace's clock.

    Raises
    ------
    CoachError
        If there are fewer than three of either.
    """
    if moments.size < 3 or events.size < 3:
        raise CoachError(
            f"expected three moments and three circles to fit, got {moments.size} and {events.size}",
            hint="give a clap that both saw instead",
        )
    moments, events = np.unique(moments), np.unique(events)
    step = float(np.median(np.diff(moments)))
    trials = np.arange(moments[0] - events[-1], moments[-1] - events[0] + step, step / _TRIALS)
    fits = np.array([_fit(moments, events + trial, step) for trial in trials])
    best = int(np.argmax(fits))
    fine = trials[best] + np.linspace(-1, 1, 81) * step / _TRIALS
    offset = float(fine[np.argmax([_fit(moments, events + trial, step) for trial in fine])])
    offset += _rest(moments, events + offset, step)
    far = np.abs(trials - offset) > step / 2
    if not far.any():
        return Placing(offset)
    second = int(np.argmax(np.where(far, fits, -1)))
    confidence = float(np.clip(4 * (fits[best] - fits[second]) / max(fits[best], 1e-9), 0, 1))
    return Placing(offset, confidence, float(trials[second]))


def to_onsets(movers: Sequence[Mover], plan: Plan, placing: Placing) -> Onsets:
    """Return the movers' events on the take clock as onsets of the plan's hands.

    Parameters
    ----------
    movers : sequence of Mover
        Matched to the plan's hands by name where names agree, else in order.
    plan : Plan
    placing : Placing

    Raises
    ------
    CoachError
        If there are more movers than hands.
    """
    if len(movers) > len(plan.hands):
        raise CoachError(
            f"the trace has {len(movers)} movers and the plan {len(plan.hands)} hands",
            hint="choose one with --point or --columns",
        )
    named = all(mover.name in plan.hands for mover in movers)
    hands = [mover.name for mover in movers] if named else list(plan.hands)[: len(movers)]
    times = np.concatenate([mover.events + placing.offset for mover in movers]) if movers else np.empty(0)
    owners = [hand for hand, mover in zip(hands, movers, strict=True) for _ in range(mover.events.size)]
    return Onsets.unsorted(times.tolist(), owners)


def _fit(moments: Floats, events: Floats, step: float) -> float:
    """Share of moments and events that have one of the others near them, 0 to 1."""
    one = np.exp(-((_nearest(moments, events) / (_TOGETHER * step)) ** 2)).sum()
    other = np.exp(-((_nearest(events, moments) / (_TOGETHER * step)) ** 2)).sum()
    return float((one + other) / (moments.size + events.size))


def _rest(moments: Floats, events: Floats, step: float) -> float:
    """Median distance that is left between pairs that lie together."""
    at = np.clip(np.searchsorted(moments, events), 1, moments.size - 1)
    left, right = moments[at - 1] - events, moments[at] - events
    off = np.where(np.abs(left) < np.abs(right), left, right)
    near = np.abs(off) < step / 2
    return float(np.median(off[near])) if near.any() else 0.0


def _nearest(times: Floats, others: Floats) -> Floats:
    at = np.clip(np.searchsorted(others, times), 1, others.size - 1)
    return np.asarray(np.minimum(np.abs(times - others[at - 1]), np.abs(times - others[at])))
