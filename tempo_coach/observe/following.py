"""A trace followed through a plan: which of its instants answer which hand, and a take made of them.

Circles (or cycles, where nothing circles) answer a hand's moments. Of a hand that throws and catches, the flights'
releases and catches do; what lies between them, a turn or a roll of the body, shows in no trace of the apparatus and is
left out of the plan, as is a hand that nothing followed: what cannot be seen is not missed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.flights import find_flights
from tempo_coach.observe.mover import Mover, name_mover, observe, observe_low
from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.observe.picking import pick, pick_second
from tempo_coach.observe.placing import place_by_event, place_by_fit, place_by_stamp
from tempo_coach.pattern.plan import Moments, Plan
from tempo_coach.pattern.thrown import find_thrown

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.placing import Placing
    from tempo_coach.observe.trace import Trace
    from tempo_coach.times import Floats, Ints

_TOSSED = ("release", "catch")
#: Circles that come so many times as often as the moments, or as rarely, are another movement or another tempo.
_ALIKE = 1.4
#: Of a step between moments: what lies further outside the plan was done before or after the go.
_AROUND = 0.5


@dataclass(frozen=True, eq=False)
class Followed:
    """What a trace shows of a plan.

    Parameters
    ----------
    plan : Plan
        With those moments alone that the trace can show.
    events : dict of str to numpy.ndarray
        For each hand that was followed, the instants that answer its moments: seconds on the trace's clock.
    absolute : bool
        Whether the events are the moments themselves, low points or releases, and not the same place of every circle.
    noise_floor : float
        Seconds (SD) that reading the trace adds to each event; NaN where it cannot be told.
    left_out : tuple of str
        What the trace cannot show, in sentences.
    """

    plan: Plan
    events: dict[str, Floats]
    absolute: bool
    noise_floor: float
    left_out: tuple[str, ...]


def follow(
    trace: Trace,
    plan: Plan,
    *,
    point: str | None = None,
    columns: Sequence[str] = (),
    against: Sequence[str] = (),
    period: float | None = None,
) -> Followed:
    """Find what answers the moments of a plan.

    Parameters
    ----------
    trace : Trace
    plan : Plan
    point, columns, against
        The mover, and the second one, as in :func:`tempo_coach.observe.picking.pick` and ``pick_second``. They are the
        plan's hands of the same names, else its hands in order.
    period : float or None
        Of the whole cycle, where it is known.

    Raises
    ------
    CoachError
        If a mover cannot be read, nothing in it repeats or flies, or there are more movers than hands.
    """
    first = pick(trace, point=point, columns=columns)
    second = pick_second(trace, first, against) if against or len(plan.hands) > 1 else None
    movers = [first] if second is None else [first, second]
    if len(movers) > len(plan.hands):
        raise CoachError(f"two movers are named and the plan has {len(plan.hands)} hand", hint="leave --against out")
    names = [name_mover(each) for each in movers]
    hands = names if all(name in plan.hands for name in names) else list(plan.hands)[: len(movers)]
    events: dict[str, Floats] = {}
    kept = np.zeros(len(plan.moments), dtype=np.bool_)
    floors, left_out, absolute = [], [], True
    for hand, mine in zip(hands, movers, strict=True):
        at = plan.moments.of_hand(hand)
        kinds = np.array([plan.moments.kind[k] for k in at])
        if find_thrown(plan, hand):
            events[hand] = _ends_of_flights(mine)
            seen = np.isin(kinds, _TOSSED)
            left_out += [f"the {kind} of {hand} shows in no trace" for kind in dict.fromkeys(kinds[~seen].tolist())]
            kept[at[seen]] = True
            floors.append(math.nan)
        else:
            mover = observe_low(trace, observe(mine, period=period))
            if events and mover.circles.zero == "start":
                left_out.append(f"a turning rate does not show where in its circle {hand} is beside the first")
                continue
            events[hand] = mover.events
            kept[at] = True
            left_out += _compare_steps(hand, plan.moments.time[at], mover.events)
            floors.append(find_noise_floor(mover))
            absolute = absolute and mover.circles.zero == "low"
    left_out += [f"nothing in the trace follows {hand}" for hand in plan.hands if hand not in hands]
    asked = replace(plan, moments=keep_moments(plan.moments, np.flatnonzero(kept)))
    return Followed(asked, events, absolute, max(floors), tuple(left_out))


def place(
    followed: Followed, trace: Trace, *, clap: tuple[float, float] | None = None, started: float | None = None
) -> Placing:
    """Place what was followed on the take clock.

    Parameters
    ----------
    followed : Followed
    trace : Trace
    clap : (on trace, on take) or None
        Seconds at which both clocks saw the same event.
    started : float or None
        Seconds since 1970 (UTC) at which the take clock was 0.

    Raises
    ------
    CoachError
        As the ways of :mod:`tempo_coach.observe.placing`; without ``clap`` and ``started`` the best fit is taken.
    """
    if clap is not None:
        return place_by_event(*clap)
    if started is not None:
        return place_by_stamp(trace, started)
    moments = followed.plan.moments
    return place_by_fit([(moments.time[moments.of_hand(hand)], at) for hand, at in followed.events.items()])


def to_take(followed: Followed, placing: Placing) -> Take:
    """Return the take that was followed, on the take clock; what was done before and after the go is left out."""
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


def find_noise_floor(mover: Mover) -> float:
    """Return what the noise of positions adds to the time of a circle, as an SD in seconds; NaN where untold.

    An interpolated crossing of a sine of amplitude A and angular frequency w in white noise s is off by
    ``s / (A w) sqrt(2/3)`` (SD, the mean over where it falls between two readings; follows from the interpolation). The
    noise shows in the readings' third differences, in which a movement that many readings describe leaves nothing.
    """
    circles = mover.circles
    if mover.trace.quantity != "position" or circles.time.size < 3 or not circles.radius > 0:
        return math.nan
    values = mover.trace.values[~np.isnan(mover.trace.values).any(axis=1)]
    if len(values) < 8:
        return math.nan
    noise = float(np.median(np.abs(np.diff(values, 3, axis=0))) / 0.6745 / math.sqrt(20))
    turn = 2 * math.pi / float(np.median(np.diff(circles.time)))
    return noise / (circles.radius * turn) * math.sqrt(2 / 3)


def _ends_of_flights(trace: Trace) -> Floats:
    flights = find_flights(trace) if trace.quantity == "position" else []
    if not flights:
        raise CoachError(
            "found no flight in it, and the drill asks for a release and a catch",
            hint="follow the apparatus itself, and name its height with --columns",
        )
    released = [flight.release for flight in flights if flight.begins == "release"]
    caught = [flight.catch for flight in flights if flight.ends == "catch"]
    return np.sort(np.array(released + caught))


def _compare_steps(hand: str, moments: Floats, events: Floats) -> list[str]:
    if moments.size < 3 or events.size < 3:
        return []
    asked, done = (float(np.ptp(times)) / (times.size - 1) for times in (moments, events))
    if 1 / _ALIKE < done / asked < _ALIKE:
        return []
    said = f"the circles of {hand} come every {done:.2f} s and the plan asks for one every {asked:.2f} s"
    return [f"{said}: is it the plan of this take?"]


def keep_moments(moments: Moments, at: Ints) -> Moments:
    """Return the moments at those places."""
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
