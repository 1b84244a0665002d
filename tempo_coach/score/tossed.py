"""Flights of a trace set beside the toss that was asked for.

What was asked fixes some of a toss, mostly its time in the air; what it leaves open (the heights of the hands, the
distance) is taken as it was done, so that speed and angle are held against a toss that she could have made there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.thrown import find_thrown
from tempo_coach.pattern.toss_rules import HIGHEST_HAND_M
from tempo_coach.pattern.toss_solver import CATCH_M, RELEASE_M, solve_toss

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.observe.flights import Flight
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.pattern.toss import Toss


@dataclass(frozen=True)
class Tossed:
    """One flight in metres, beside what was asked.

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
    """Set flights beside a toss that was asked for.

    Parameters
    ----------
    flights : sequence of Flight
    asked : mapping or None
        Arguments of :func:`tempo_coach.pattern.toss_solver.solve_toss`; None or an empty one where nothing was asked.

    Raises
    ------
    CoachError
        If what was asked cannot be thrown.
    """
    return [_set_beside(flight, asked or {}) for flight in flights]


def asked_flight(plan: Plan) -> dict[str, float]:
    """Return counts and seconds of the flights that a plan asks for; empty where nothing is thrown and caught.

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
