"""The take of a trace: the trace aligned with the plan, its events as onsets on the take clock."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.observe.trace.flights import find_flights
from tempo_coach.observe.trace.selection import pick, pick_second
from tempo_coach.observe.trace.tracked_body import TrackedBody, name_body, observe, observe_low
from tempo_coach.pattern.plan.plan import Moments, Plan
from tempo_coach.pattern.toss.flight_moments import find_thrown
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.times import Floats, Ints

#: Width of the kernel that matches a moment and a circle, relative to the median step.
_TOGETHER = 0.15
#: Confidence below which a fit is reported as doubtful.
SURE = 0.5
#: Trial offsets a median step, and how many of the likeliest are refined.
_TRIALS, _LIKELY = 40, 60


@dataclass(frozen=True)
class Placing:
    """The offset of a trace on the take clock.

    Parameters
    ----------
    offset : float
        Seconds to add to the trace's clock.
    confidence : float
        0 to 1; 1 where the offset was given. For a fit: from the margin over the next best offset.
    next_best : float or None
        The offset that fits nearly as well.
    """

    offset: float
    confidence: float = 1.0
    next_best: float | None = None

    @property
    def doubt(self) -> Reason | None:
        """Return the reason why a fit is ambiguous; None where it is not."""
        if self.confidence >= SURE or self.next_best is None:
            return None
        return Reason(Why.AMBIGUOUS_FIT, (self.next_best - self.offset, self.confidence))


def place_by_event(on_trace: float, on_take: float) -> Placing:
    """Place a trace by one event on both clocks: a clap, a contact, a stamped start."""
    return Placing(on_take - on_trace)


def place_by_stamp(trace: Trace, started: float) -> Placing:
    """Place a trace by its own wall-clock stamps.

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
        raise CoachError("trace.no_dates", where="--started")
    return Placing(trace.clock_start - started)


def place_by_fit(hands: Sequence[tuple[Floats, Floats]]) -> Placing:
    """Place a trace where the events of every hand fit that hand's moments best jointly.

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
            raise CoachError("trace.few_to_fit", moments=moments.size, circles=events.size)
    pairs = [(np.unique(moments), np.unique(events)) for moments, events in hands]
    step = min(float(np.median(np.diff(moments))) for moments, _ in pairs)
    first = min(moments[0] for moments, _ in pairs) - max(events[-1] for _, events in pairs)
    last = max(moments[-1] for moments, _ in pairs) - min(events[0] for _, events in pairs)
    trials = _find_likely(pairs, first, last + step, step)

    def fit(trial: float) -> float:
        fits_of_hands = [_fit(moments, events + trial, step) for moments, events in pairs]
        return float(np.average(fits_of_hands, weights=[moments.size + events.size for moments, events in pairs]))

    fits = np.array([fit(trial) for trial in trials])
    best = int(np.argmax(fits))
    fine = trials[best] + np.linspace(-1, 1, 81) * step / _TRIALS
    offset = float(fine[np.argmax([fit(trial) for trial in fine])])
    offset += _median_residual([(moments, events + offset) for moments, events in pairs], step)
    far = np.abs(trials - offset) > step / 2
    if not far.any():
        return Placing(offset)
    second = int(np.argmax(np.where(far, fits, -1)))
    confidence = float(np.clip(4 * (fits[best] - fits[second]) / max(fits[best], 1e-9), 0, 1))
    return Placing(offset, confidence, float(trials[second]))


def _find_likely(pairs: Sequence[tuple[Floats, Floats]], first: float, last: float, step: float) -> Floats:
    """Return the likeliest offsets: maxima of the smoothed cross-correlation of moments and events."""
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
    """Return the share of moments and events with a match, 0 to 1."""
    one = np.exp(-((_nearest(moments, events) / (_TOGETHER * step)) ** 2)).sum()
    other = np.exp(-((_nearest(events, moments) / (_TOGETHER * step)) ** 2)).sum()
    return float((one + other) / (moments.size + events.size))


def _median_residual(hands: Sequence[tuple[Floats, Floats]], step: float) -> float:
    """Return the median residual of the matched pairs."""
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


_TOSSED = ("release", "catch")
#: Ratio of the steps of circles and moments from which they are another movement or another tempo.
_ALIKE = 1.4
#: Margin around the plan in median steps: events further outside are before or after the take.
_AROUND = 0.5


@dataclass(frozen=True, eq=False)
class FollowedTrace:
    """The events of a trace for the moments of a plan.

    Parameters
    ----------
    plan : Plan
        With the moments that the trace can show.
    events : dict of str to numpy.ndarray
        Seconds on the trace's clock, by hand.
    absolute : bool
        True where the events are the moments themselves, low points or releases; False where they are at a constant
        but unknown phase.
    noise_floor : float
        SD that the measurement adds to each event, in seconds; NaN where unknown.
    left_out : tuple of Reason
        Why there are moments that the trace cannot show.
    bodies : dict of str to TrackedBody
        Whose cycles were followed, by hand; none of a hand that throws.
    """

    plan: Plan
    events: dict[str, Floats]
    absolute: bool
    noise_floor: float
    left_out: tuple[Reason, ...]
    bodies: dict[str, TrackedBody] = field(default_factory=dict)


def follow(
    trace: Trace,
    plan: Plan,
    *,
    point: str | None = None,
    columns: Sequence[str] = (),
    against: Sequence[str] = (),
    period: float | None = None,
) -> FollowedTrace:
    """Find the events of a trace for the moments of a plan.

    Parameters
    ----------
    trace : Trace
    plan : Plan
    point, columns, against
        The body, and the second one, as in :func:`tempo_coach.observe.trace.selection.pick` and ``pick_second``. They
        are the plan's hands of the same names, else its hands in order.
    period : float or None
        Of the whole cycle, where it is known.

    Raises
    ------
    CoachError
        If a body cannot be read, nothing in it repeats or flies, or there are more bodies than hands.
    """
    first = pick(trace, point=point, columns=columns)
    second = pick_second(trace, first, against) if against or len(plan.hands) > 1 else None
    bodies = [first] if second is None else [first, second]
    if len(bodies) > len(plan.hands):
        raise CoachError("trace.more_bodies_than_hands", hands=len(plan.hands))
    names = [name_body(each) for each in bodies]
    hands = names if all(name in plan.hands for name in names) else list(plan.hands)[: len(bodies)]
    events: dict[str, Floats] = {}
    seen_bodies: dict[str, TrackedBody] = {}
    kept = np.zeros(len(plan.moments), dtype=np.bool_)
    floors: list[float] = []
    left_out: list[Reason] = []
    absolute = True
    for hand, mine in zip(hands, bodies, strict=True):
        at = plan.moments.of_hand(hand)
        kinds = np.array([plan.moments.kind[k] for k in at])
        if find_thrown(plan, hand):
            events[hand] = _ends_of_flights(mine)
            seen = np.isin(kinds, _TOSSED)
            left_out += [Reason(Why.UNSEEN_MOMENTS, (kind, hand)) for kind in dict.fromkeys(kinds[~seen].tolist())]
            kept[at[seen]] = True
            floors.append(math.nan)
        else:
            circles = int(np.bincount(plan.moments.cycle[at]).max()) if len(at) else None
            body = observe_low(trace, observe(mine, period=period, circles=circles))
            if events and body.circles.zero == "start":
                left_out.append(Reason(Why.NO_COMMON_ZERO, (hand,)))
                continue
            events[hand], seen_bodies[hand] = body.events, body
            kept[at] = True
            left_out += _compare_steps(hand, plan.moments.time[at], body.events)
            floors.append(find_noise_floor(body))
            absolute = absolute and body.circles.zero == "low"
    left_out += [Reason(Why.NOT_FOLLOWED, (hand,)) for hand in plan.hands if hand not in hands]
    asked = replace(plan, moments=keep_moments(plan.moments, np.flatnonzero(kept)))
    return FollowedTrace(asked, events, absolute, max(floors), tuple(left_out), seen_bodies)


def place(
    followed: FollowedTrace, trace: Trace, *, clap: tuple[float, float] | None = None, started: float | None = None
) -> Placing:
    """Align the events with the take clock.

    Parameters
    ----------
    followed : FollowedTrace
    trace : Trace
    clap : (on trace, on take) or None
        Seconds at which both clocks saw the same event.
    started : float or None
        Seconds since 1970 (UTC) at which the take clock was 0.

    Raises
    ------
    CoachError
        As :func:`place_by_event`, :func:`place_by_stamp` and, without ``clap`` and ``started``, :func:`place_by_fit`.
    """
    if clap is not None:
        return place_by_event(*clap)
    if started is not None:
        return place_by_stamp(trace, started)
    moments = followed.plan.moments
    return place_by_fit([(moments.time[moments.of_hand(hand)], at) for hand, at in followed.events.items()])


def to_take(followed: FollowedTrace, placing: Placing) -> Take:
    """Return the take on the take clock, without events before and after the plan."""
    times: list[float] = []
    hands: list[str] = []
    moments = followed.plan.moments
    for hand, events in followed.events.items():
        asked = moments.time[moments.of_hand(hand)]
        margin = _AROUND * float(np.median(np.diff(asked))) if asked.size > 1 else math.inf
        onsets = events + placing.offset
        mine = onsets[(onsets > asked[0] - margin) & (onsets < asked[-1] + margin)] if asked.size else onsets[:0]
        times += mine.tolist()
        hands += [hand] * mine.size
    floor = None if math.isnan(followed.noise_floor) else 1000 * followed.noise_floor
    return Take(followed.plan, Onsets.unsorted(times, hands), observed_by="sensor", noise_floor_ms=floor)


def find_noise_floor(body: TrackedBody) -> float:
    """Return the SD that the noise of positions adds to the time of a circle, in seconds; NaN where unknown.

    An interpolated crossing of a sine of amplitude A and angular frequency w in white noise of SD s has an SD of
    ``s / (A w) sqrt(2/3)`` (mean over its phase between two readings; follows from the interpolation). The noise is
    estimated from third differences, in which an oversampled movement vanishes.
    """
    circles = body.circles
    if body.trace.quantity != "position" or circles.time.size < 3 or not circles.radius > 0:
        return math.nan
    values = body.trace.values[~np.isnan(body.trace.values).any(axis=1)]
    if len(values) < 8:
        return math.nan
    noise = float(np.median(np.abs(np.diff(values, 3, axis=0))) / 0.6745 / math.sqrt(20))
    turn = 2 * math.pi / float(np.median(np.diff(circles.time)))
    return noise / (circles.radius * turn) * math.sqrt(2 / 3)


def _ends_of_flights(trace: Trace) -> Floats:
    flights = find_flights(trace) if trace.quantity == "position" else []
    if not flights:
        raise CoachError("trace.no_flight")
    released = [flight.release for flight in flights if flight.begins == "release"]
    caught = [flight.catch for flight in flights if flight.ends == "catch"]
    return np.sort(np.array(released + caught))


def _compare_steps(hand: str, moments: Floats, events: Floats) -> list[Reason]:
    if moments.size < 3 or events.size < 3:
        return []
    asked, done = (float(np.ptp(times)) / (times.size - 1) for times in (moments, events))
    if 1 / _ALIKE < done / asked < _ALIKE:
        return []
    return [Reason(Why.OTHER_STEPS, (hand, done, asked))]


def keep_moments(moments: Moments, at: Ints) -> Moments:
    """Return the moments at given indices.

    Parameters
    ----------
    moments : Moments
    at : numpy.ndarray, shape (n,)
        Indices.
    """
    return Moments(
        time=moments.time[at],
        cycle=moments.cycle[at],
        hand=tuple(moments.hand[k] for k in at),
        label=tuple(moments.label[k] for k in at),
        count=moments.count[at],
        asked_lag_deg=moments.asked_lag_deg[at],
        cue=moments.cue[at],
        kind=tuple(moments.kind[k] for k in at),
    )
