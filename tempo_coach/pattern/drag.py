"""A toss as it must be thrown in air.

The air takes 5 to 25 % off the time that a release speed gives, yet hardly changes the time for a given height. So a
toss is taught by its height; the speed that this asks for is shown with a range, because the drag of a club or a
hoop is an estimate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.pattern.ballistics import FASTEST_MPS, aim, land

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.bodies import Body
    from tempo_coach.pattern.toss import Toss


@dataclass(frozen=True)
class DragToss:
    """A toss as it must be thrown in air, to fly as long and as far as planned.

    ``low`` and ``high`` belong to the least and the most drag within the body's spread (NaN where the most lets nobody
    throw it); more drag wants more speed and a flatter angle. ``uncorrected`` is where and when
    the release reckoned without air would come down to the catch.
    """

    body: Body
    flight: float
    speed_mps: float
    speed_low_mps: float
    speed_high_mps: float
    angle_deg: float
    angle_low_deg: float
    angle_high_deg: float
    apex_m: float
    rise_m: float
    apex_time: float
    catch_vertical_mps: float
    uncorrected_flight: float
    uncorrected_distance_m: float

    def to_dict(self) -> dict[str, Any]:
        """Return the values under the names that ``toss --json`` prints in ``with_drag``."""
        return {
            "apparatus": self.body.name,
            "drag_per_m": self.body.drag_per_m,
            "drag_spread": self.body.spread,
            "drag_source": self.body.source,
            "flight_s": self.flight,
            "speed_mps": self.speed_mps,
            "speed_range_mps": [self.speed_low_mps, _or_none(self.speed_high_mps)],
            "angle_deg": self.angle_deg,
            "angle_range_deg": [_or_none(self.angle_high_deg), self.angle_low_deg],
            "apex_m": self.apex_m,
            "rise_m": self.rise_m,
            "apex_s": self.apex_time,
            "catch_vertical_mps": self.catch_vertical_mps,
            "uncorrected": {"flight_s": self.uncorrected_flight, "distance_m": self.uncorrected_distance_m},
        }


def _or_none(number: float) -> float | None:
    return number if math.isfinite(number) else None


def add_drag(tosses: Sequence[Toss], body: Body) -> list[DragToss | None]:
    """Return each toss as the air asks it to be thrown: the same time and place of the catch.

    Parameters
    ----------
    tosses : sequence of Toss
        All are reckoned in one go.
    body : Body

    Returns
    -------
    list
        None where that would have to be faster than :data:`tempo_coach.pattern.ballistics.FASTEST_MPS`.
    """
    if not tosses:
        return []
    flight = np.array([toss.flight for toss in tosses])
    far = np.array([toss.distance_m for toss in tosses])
    higher = np.array([toss.catch_m - toss.release_m for toss in tosses])
    drag = body.drag_per_m * np.array([[1.0], [1 - body.spread], [1 + body.spread]])
    aimed = aim(flight, far, higher, drag)
    speed, angle = np.hypot(aimed.along_mps, aimed.up_mps), np.degrees(np.arctan2(aimed.up_mps, aimed.along_mps))
    throwable = speed[0] <= FASTEST_MPS
    lands, place = land(
        np.array([toss.along_mps for toss in tosses]),
        np.array([toss.up_mps for toss in tosses]),
        higher,
        body.drag_per_m,
    )
    return [
        DragToss(
            body=body,
            flight=toss.flight,
            speed_mps=float(speed[0, i]),
            speed_low_mps=float(speed[1, i]),
            speed_high_mps=float(speed[2, i]),
            angle_deg=float(angle[0, i]),
            angle_low_deg=float(angle[1, i]),
            angle_high_deg=float(angle[2, i]),
            apex_m=float(toss.release_m + aimed.rise_m[0, i]),
            rise_m=float(aimed.rise_m[0, i]),
            apex_time=float(aimed.apex_time[0, i]),
            catch_vertical_mps=float(aimed.catch_vertical_mps[0, i]),
            uncorrected_flight=float(lands[i]),
            uncorrected_distance_m=float(place[i]),
        )
        if throwable[i]
        else None
        for i, toss in enumerate(tosses)
    ]
