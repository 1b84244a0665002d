"""A trace put on the take clock, so that its circles become onsets and are scored like taps.

Three ways: a clap or contact that both saw (its time on either clock), a stamped start, or the best fit of the circles
to the plan's moments. The fit alone cannot tell a start that is a whole cycle late, nor how early or late all of it
was; how sure it is, is told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace import Trace
    from tempo_coach.times import Floats

#: A moment and a circle this part of the usual step apart count as half together.
_TOGETHER = 0.15
#: A fit less sure than this is told to be in doubt.
SURE = 0.5
#: Trials in a usual step, and how many of the likeliest are looked at closely.
_TRIALS, _LIKELY = 40, 60


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

    @property
    def doubt(self) -> str:
        """What is not sure about it, in a sentence; empty where nothing is."""
        if self.confidence >= SURE or self.next_best is None:
            return ""
        away = self.next_best - self.offset
        return (
            f"the trace was put on the plan where it fits best, and it fits nearly as well {abs(away):.2f} s "
            f"{'later' if away > 0 else 'earlier'} (confidence {self.confidence:.2f}); a clap that both saw decides: "
            "--clap ON_TRACE ON_TAKE"
        )


def place_by_event(on_trace: float, on_take: float) -> Placing:
    """Place a trace by one event that both clocks saw: a clap, a contact, a stamped start."""
    return Placing(on_take - on_trace)


def place_by_stamp(trace: Trace, started: float) -> Placing:
    """Place a trace by its own stamps of the clock.

    Parameters
    ----------
    trace : Trace
    started : float
        The instant at which the take clock was 0, as seconds since 1970 (UTC).

    Raises
    ------
    CoachError
        If the table's stamps do not tell the date and time.
    """
    if trace.clock_start is None:
        raise CoachError(
            "the stamps of the trace tell no date and time",
            where="--started",
            hint="give a clap that both saw instead: --clap ON_TRACE ON_TAKE",
        )
    return Placing(trace.clock_start - started)


def place_by_fit(hands: Sequence[tuple[Floats, Floats]]) -> Placing:
    """Place a trace where the events of every hand and that hand's moments fit best together.

    Parameters
    ----------
    hands : sequence of (moments, events)
        Moments in seconds on the take clock, shape (m,), and events in seconds on the trace's clock, shape (k,).
        Hands are kept apart: two clubs half a circle apart would otherwise fit as well with each in the place of the
        other.

    Raises
    ------
    CoachError
        If there are fewer than three moments, or three events, of any hand.
    """
    for moments, events in hands:
        if moments.size < 3 or events.size < 3:
            raise CoachError(
                f"expected three moments and three circles to fit, got {moments.size} and {events.size}",
                hint="give a clap that both saw instead",
            )
    pairs = [(np.unique(moments), np.unique(events)) for moments, events in hands]
    step = min(float(np.median(np.diff(moments))) for moments, _ in pairs)
    first = min(moments[0] for moments, _ in pairs) - max(events[-1] for _, events in pairs)
    last = max(moments[-1] for moments, _ in pairs) - min(events[0] for _, events in pairs)
    trials = _find_likely(pairs, first, last + step, step)

    def fit(trial: float) -> float:
        worth = [_fit(moments, events + trial, step) for moments, events in pairs]
        return float(np.average(worth, weights=[moments.size + events.size for moments, events in pairs]))

    fits = np.array([fit(trial) for trial in trials])
    best = int(np.argmax(fits))
    fine = trials[best] + np.linspace(-1, 1, 81) * step / _TRIALS
    offset = float(fine[np.argmax([fit(trial) for trial in fine])])
    offset += _rest([(moments, events + offset) for moments, events in pairs], step)
    far = np.abs(trials - offset) > step / 2
    if not far.any():
        return Placing(offset)
    second = int(np.argmax(np.where(far, fits, -1)))
    confidence = float(np.clip(4 * (fits[best] - fits[second]) / max(fits[best], 1e-9), 0, 1))
    return Placing(offset, confidence, float(trials[second]))


def _find_likely(pairs: Sequence[tuple[Floats, Floats]], first: float, last: float, step: float) -> Floats:
    """Return the likeliest offsets: where most moments and events lie together, by one convolution for all trials."""
    from scipy.signal import fftconvolve

    bin_ = step / _TRIALS
    size = math.ceil((last - first) / bin_) + 1
    together = np.zeros(size)
    around = np.arange(-math.ceil(3 * _TOGETHER * _TRIALS), math.ceil(3 * _TOGETHER * _TRIALS) + 1)
    near = np.exp(-((around / (_TOGETHER * _TRIALS)) ** 2))
    for moments, events in pairs:
        start, end = float(moments[0]), float(events[-1])
        one = np.bincount(np.rint((moments - start) / bin_).astype(int)).astype(float)
        other = np.bincount(np.rint((end - events) / bin_).astype(int)).astype(float)
        # a moment at m and an event at e meet at the offset m - e, which is start - end and their two places
        met = fftconvolve(fftconvolve(one, other), near, mode="same")
        at = round((start - end - first) / bin_) + np.arange(met.size)
        inside = (at >= 0) & (at < size)
        together[at[inside]] += met[inside]
    inner = together[1:-1]
    peaks = 1 + np.flatnonzero((inner >= together[:-2]) & (inner > together[2:]))
    if not peaks.size:
        peaks = np.array([int(np.argmax(together))])
    best = peaks[np.argsort(together[peaks])[::-1][:_LIKELY]]
    return np.asarray(first + bin_ * np.sort(best))


def _fit(moments: Floats, events: Floats, step: float) -> float:
    """Share of moments and events that have one of the others near them, 0 to 1."""
    one = np.exp(-((_nearest(moments, events) / (_TOGETHER * step)) ** 2)).sum()
    other = np.exp(-((_nearest(events, moments) / (_TOGETHER * step)) ** 2)).sum()
    return float((one + other) / (moments.size + events.size))


def _rest(hands: Sequence[tuple[Floats, Floats]], step: float) -> float:
    """Median distance that is left between pairs that lie together."""
    left = []
    for moments, events in hands:
        at = np.clip(np.searchsorted(moments, events), 1, moments.size - 1)
        before, behind = moments[at - 1] - events, moments[at] - events
        off = np.where(np.abs(before) < np.abs(behind), before, behind)
        left.append(off[np.abs(off) < step / 2])
    near = np.concatenate(left)
    return float(np.median(near)) if near.size else 0.0


def _nearest(times: Floats, others: Floats) -> Floats:
    at = np.clip(np.searchsorted(others, times), 1, others.size - 1)
    return np.asarray(np.minimum(np.abs(times - others[at - 1]), np.abs(times - others[at])))
