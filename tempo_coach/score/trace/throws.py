"""Flights against the plan: release to catch in counts, and a trace's flights beside the toss that was asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from tempo_coach.pattern.toss.flight_moments import find_thrown
from tempo_coach.pattern.toss.relations import HIGHEST_HAND_M
from tempo_coach.pattern.toss.solver import CATCH_M, RELEASE_M, solve_toss

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.trace.flights import Flight
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.pattern.toss.toss import Toss
    from tempo_coach.times import Floats

#: A flight that is off by less than this part of itself is in time: less cannot be heard (Friberg & Sundberg 1995,
#: abstract: 2.5 % of an interval).
HEARD = 0.025


class Throw(NamedTuple):
    """One flight.

    Parameters
    ----------
    cycle : int
    hand : str
    asked : float
        Its length in counts.
    done : float
        Counts from release to catch as observed; NaN where one of them was not.
    release, catch : float
        Seconds late, negative early; NaN where not observed.
    length : {"in time", "long", "short", "not seen"}
    """

    cycle: int
    hand: str
    asked: float
    done: float
    release: float
    catch: float
    length: Literal["in time", "long", "short", "not seen"]


def judge_throws(plan: Plan, asynchrony: Floats) -> tuple[Throw, ...]:
    """Return each flight of a take, in order of time.

    Parameters
    ----------
    plan : Plan
    asynchrony : array, shape (n,)
        Observed minus asked for each moment of the plan, s; NaN where missed. The scorecard has it.

    Returns
    -------
    tuple of Throw
        Empty where the plan throws nothing.

    Raises
    ------
    ValueError
        If the number of asynchronies is not that of the moments.
    """
    moments = plan.moments
    if len(asynchrony) != len(moments):
        raise ValueError(f"expected {len(moments)} asynchronies, got {len(asynchrony)}")
    heard = max(plan.allowance, HEARD)
    throws = []
    pairs = [(pair, hand) for hand in plan.hands for pair in find_thrown(plan, hand)]
    for (released, caught), hand in sorted(pairs, key=lambda each: each[0]):
        ends = [float(moments.time[k] + asynchrony[k]) for k in (released, caught)]
        asked = float(moments.count[caught] - moments.count[released])
        seconds = float(moments.time[caught] - moments.time[released])
        off = ends[1] - ends[0] - seconds
        seen = math.isfinite(off)
        done = float(plan.counts_at(ends[1]) - plan.counts_at(ends[0])) if seen else math.nan
        length: Literal["in time", "long", "short", "not seen"] = "in time" if seen else "not seen"
        if seen and abs(off) > heard * seconds:
            length = "long" if off > 0 else "short"
        late = (float(asynchrony[released]), float(asynchrony[caught]))
        throws.append(Throw(int(moments.cycle[released]), hand, asked, done, *late, length))
    return tuple(throws)


@dataclass(frozen=True)
class Tossed:
    """One flight in metres, beside the asked toss.

    Parameters
    ----------
    flight : Flight
    speed_mps : float
        Release speed in m/s, whatever the trace's unit.
    distance_m : float
    rise_m : float
        Height of the top above the release.
    asked : Toss or None
        None where nothing was asked, or the release was not seen.
    """

    flight: Flight
    speed_mps: float
    distance_m: float
    rise_m: float
    asked: Toss | None = None

    @property
    def angle_off(self) -> float:
        """Degrees too steep, negative too flat; NaN where nothing was asked."""
        return math.nan if self.asked is None else self.flight.angle_deg - self.asked.angle_deg

    @property
    def speed_off(self) -> float:
        """Metres a second too fast; NaN where nothing was asked."""
        return math.nan if self.asked is None else self.speed_mps - self.asked.speed_mps

    @property
    def seconds_off(self) -> float:
        """Seconds too long in the air; NaN where nothing was asked, or the end was not seen."""
        seen = self.asked is not None and self.flight.ends != "edge"
        return self.flight.seconds - self.asked.flight if seen and self.asked is not None else math.nan


def set_tosses_beside(flights: Sequence[Flight], asked: Mapping[str, float] | None = None) -> list[Tossed]:
    """Compare flights with an asked toss.

    Parameters
    ----------
    flights : sequence of Flight
    asked : mapping or None
        Arguments of :func:`tempo_coach.pattern.toss.solver.solve_toss`; None or an empty one where nothing was asked.

    Raises
    ------
    CoachError
        If what was asked cannot be thrown.
    """
    return [_set_beside(flight, asked or {}) for flight in flights]


def asked_flight(plan: Plan) -> dict[str, float]:
    """Return counts and seconds of the flights in a plan; empty where nothing is thrown and caught.

    Examples
    --------
    >>> from tempo_coach.coach import Request, lay
    >>> asked_flight(lay(Request("ball_toss_turn", tempo_bpm=120, cycles=2)))
    {'counts': 3.0, 'flight': 1.5}
    """
    moments = plan.moments
    ends = [pair for hand in plan.hands for pair in find_thrown(plan, hand)]
    if not ends:
        return {}
    counts = [float(moments.count[caught] - moments.count[released]) for released, caught in ends]
    seconds = [float(moments.time[caught] - moments.time[released]) for released, caught in ends]
    return {"counts": float(np.median(counts)), "flight": round(float(np.median(seconds)), 9)}


def _set_beside(flight: Flight, asked: Mapping[str, float]) -> Tossed:
    scale = flight.metres_a_unit
    speed, distance = flight.speed * scale, flight.distance * scale
    rise = (flight.apex - flight.release_height) * scale
    if not asked or flight.begins == "edge":
        return Tossed(flight, speed, distance, rise)
    release, catch = flight.release_height * scale, flight.catch_height * scale
    came_down = flight.ends == "catch"
    if not 0 < release <= HIGHEST_HAND_M:
        # the trace's zero is not the floor
        release, catch = RELEASE_M, catch - release + RELEASE_M
    if not came_down or not 0 < catch <= HIGHEST_HAND_M:
        catch = CATCH_M
    done = {"release": release, "catch": catch}
    if came_down:
        done["distance"] = distance
    return Tossed(flight, speed, distance, rise, solve_toss(**asked, otherwise=done))
