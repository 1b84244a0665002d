"""A toss without air: four parameters of its flight, and the quantities that follow from them.

The parameters are flight time, height of release, height of catch, and distance. Speed, angle and apex follow from the
ballistic parabola; :mod:`tempo_coach.pattern.toss.solver` solves for the parameters from any known quantities. Drag is
in :mod:`tempo_coach.pattern.toss.drag`, errors of the release in :mod:`tempo_coach.pattern.toss.release`.

Heights are in metres above the floor, distances in metres along it, times in seconds from the release.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.pattern.toss.relations import GRAVITY, HIGHEST_APEX_M

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.pattern.toss.drag import DragToss
    from tempo_coach.times import Floats


@dataclass(frozen=True)
class Toss:
    """One flight from a release to a catch, without air.

    Parameters
    ----------
    flight : float
        Time in the air, s, above 0.
    release_m, catch_m : float
        Heights above the floor, m.
    distance_m : float
        From the release to the catch along the floor, m, 0 or more.
    counts : float or None
        Length of the flight in counts, where a tempo is known.
    assumed : tuple of str
        Which of ``release``, ``catch``, ``distance`` nobody gave.

    Notes
    -----
    Up: ``z(t) = release + u t - g t²/2`` with ``u = (catch - release)/T + g T/2``; along: ``x(t) = distance t/T``.

    Examples
    --------
    >>> toss = Toss(flight=2.0, release_m=1.8, catch_m=1.2, distance_m=3.0, counts=4)
    >>> round(toss.speed_mps, 6), round(toss.angle_deg, 6), round(toss.apex_m, 6)
    (9.624261, 81.033548, 6.407914)
    """

    flight: float
    release_m: float
    catch_m: float
    distance_m: float
    counts: float | None = None
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        numbers = (self.flight, self.release_m, self.catch_m, self.distance_m, self.counts or 1.0)
        if not all(math.isfinite(number) for number in numbers):
            raise ValueError(f"a toss needs finite numbers, got {numbers}")
        if self.flight <= 0 or self.distance_m < 0:
            raise ValueError("a toss needs a flight above 0 s and a distance of 0 m or more")

    @property
    def tempo_bpm(self) -> float | None:
        """Beats a minute at which the flight lasts its counts."""
        return None if self.counts is None else 60.0 * self.counts / self.flight

    @property
    def up_mps(self) -> float:
        """Vertical release speed, m/s."""
        return (self.catch_m - self.release_m) / self.flight + GRAVITY * self.flight / 2

    @property
    def along_mps(self) -> float:
        """Horizontal speed, constant during the flight, m/s."""
        return self.distance_m / self.flight

    @property
    def speed_mps(self) -> float:
        """Release speed, m/s."""
        return math.hypot(self.along_mps, self.up_mps)

    @property
    def angle_deg(self) -> float:
        """Release angle above the horizontal, degrees; 90 is straight up."""
        return math.degrees(math.atan2(self.up_mps, self.along_mps))

    @property
    def rise_m(self) -> float:
        """Height of the toss above its release, m: u²/2g."""
        return self.up_mps**2 / (2 * GRAVITY)

    @property
    def apex_m(self) -> float:
        """Highest point above the floor, m."""
        return self.release_m + self.rise_m

    @property
    def apex_time(self) -> float:
        """Seconds from the release to the highest point: u/g."""
        return self.up_mps / GRAVITY

    @property
    def catch_vertical_mps(self) -> float:
        """Vertical speed at the catch, m/s; negative, since it is falling."""
        return self.up_mps - GRAVITY * self.flight

    def place_at(self, times: ArrayLike) -> tuple[Floats, Floats]:
        """Return distance and height at times (s from the release), in m.

        Parameters
        ----------
        times : array_like, shape (n,)

        Returns
        -------
        along_m, up_m : numpy.ndarray, shape (n,)
        """
        seconds = np.asarray(times, dtype=np.float64)
        height = self.release_m + self.up_mps * seconds - GRAVITY * seconds**2 / 2
        return self.along_mps * seconds, height

    def to_dict(self, with_drag: DragToss | None = None) -> dict[str, Any]:
        """Return the values under the names of ``toss --json``."""
        return {
            "counts": self.counts,
            "tempo_bpm": self.tempo_bpm,
            "release_m": self.release_m,
            "catch_m": self.catch_m,
            "distance_m": self.distance_m,
            "assumed": list(self.assumed),
            "flight_s": self.flight,
            "speed_mps": self.speed_mps,
            "angle_deg": self.angle_deg,
            "apex_m": self.apex_m,
            "rise_m": self.rise_m,
            "apex_s": self.apex_time,
            "catch_vertical_mps": self.catch_vertical_mps,
            "with_drag": None if with_drag is None else with_drag.to_dict(),
        }


def shortest_flight(*, release_m: float, catch_m: float) -> float:
    """Return the shortest time of flight that still goes up and comes down, s.

    Shorter than ``sqrt(2 |catch - release|/g)`` it is thrown downwards, or caught while it still rises.

    Parameters
    ----------
    release_m, catch_m : float
        Heights above the floor, m.
    """
    return math.sqrt(2 * abs(catch_m - release_m) / GRAVITY)


def longest_flight(*, release_m: float, catch_m: float) -> float:
    """Return the time of flight of a toss as high as :data:`HIGHEST_APEX_M`, s.

    Parameters
    ----------
    release_m, catch_m : float
        Heights above the floor, m.
    """
    up, down = HIGHEST_APEX_M - release_m, HIGHEST_APEX_M - catch_m
    return math.sqrt(2 * up / GRAVITY) + math.sqrt(2 * down / GRAVITY)
