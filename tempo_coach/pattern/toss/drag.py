"""A toss in air: flight under quadratic drag, ``a = -g - k |v| v``, and the release that it takes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from tempo_coach.pattern.toss.relations import GRAVITY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from tempo_coach.pattern.toss.bodies import Body
    from tempo_coach.pattern.toss.toss import Toss
    from tempo_coach.times import Floats

FASTEST_MPS = 40.0
"""Faster than any arm throws; common practice. What the air asks more for is said to be out of reach."""

_STEPS = 80  # Runge-Kutta steps from the release to the top, and again to the catch: good to the seventh decimal
_ROUNDS = 30  # of Newton's method; five or six are typical
_CLOSE = 1e-10  # m or s


class Aimed(NamedTuple):
    """The release for a given flight, and the flight that follows from it; arrays of one shape."""

    along_mps: Floats
    up_mps: Floats
    apex_time: Floats
    rise_m: Floats
    catch_vertical_mps: Floats


def aim(flight: ArrayLike, distance_m: ArrayLike, higher_m: ArrayLike, drag_per_m: ArrayLike) -> Aimed:
    """Return the release for a distance, height and time of flight; NaN where nobody can throw that fast.

    The flight is reckoned from its top, back to the release and on to the catch: the two unknowns are the time to the
    top and the horizontal speed there. Newton's method begins at the vertical flight, which is known exactly; the
    slopes come from neighbouring flights in the same integration.

    Parameters
    ----------
    flight : array_like
        Seconds in the air, above 0.
    distance_m, higher_m : array_like
        How far away, and how much above the release, it is caught; m.
    drag_per_m : array_like
        k of the formula above, per m, above 0.

    Returns
    -------
    Aimed
        Of the shape that the four broadcast to.
    """
    time, far, higher, drag = _broadcast(flight, distance_m, higher_m, drag_per_m)
    top, speed = _top_of_vertical(time, higher, drag), far / time
    nudge = 1e-5
    close = np.zeros(time.shape, dtype=bool)
    for _ in range(_ROUNDS):
        tops, speeds = np.stack([top, top + nudge, top]), np.stack([speed, speed, speed + nudge])
        with np.errstate(over="ignore", invalid="ignore"):  # a flight too long has no release: it runs off to infinity
            x, z, vx, vz = fly(speeds, 0.0, np.stack([-tops, time - tops]), drag)
            far_off, high_off = x[1] - x[0] - far, z[1] - z[0] - higher
            close = np.hypot(far_off[0], high_off[0]) < _CLOSE
            far_by_top, far_by_speed = (far_off[1:] - far_off[0]) / nudge
            high_by_top, high_by_speed = (high_off[1:] - high_off[0]) / nudge
            area = far_by_top * high_by_speed - far_by_speed * high_by_top
            later = (high_by_speed * far_off[0] - far_by_speed * high_off[0]) / area
            faster = (far_by_top * high_off[0] - high_by_top * far_off[0]) / area
        moving = ~close & (np.hypot(vx[0, 0], vz[0, 0]) < 2 * FASTEST_MPS)
        if not moving.any():
            break
        top, speed = np.where(moving, top - later, top), np.where(moving, speed - faster, speed)
    found = (vx[0, 0], vz[0, 0], top, -z[0, 0], vz[1, 0])
    return Aimed(*(np.where(close, values, np.nan) for values in found))


def _top_of_vertical(time: Floats, higher: Floats, drag: Floats) -> Floats:
    """Return the time to the apex of a vertical toss of a given duration, by bisection.

    With ``w = sqrt(g k)`` it rises ``-log(cos(w up))/k`` in the time up and falls ``log(cosh(w down))/k`` in the time
    down (the two closed solutions of quadratic drag).
    """
    pace = np.sqrt(GRAVITY * drag)
    least, most = np.zeros_like(time), np.minimum(time, math.pi / 2 / pace)
    for _ in range(40):
        up = (least + most) / 2
        higher_than_asked = -np.log(np.cos(pace * up)) - np.log(np.cosh(pace * (time - up))) > drag * higher
        least, most = np.where(higher_than_asked, least, up), np.where(higher_than_asked, up, most)
    return (least + most) / 2


class Apex(NamedTuple):
    """The apex of flights; arrays of one shape.

    ``time`` s from the release; ``along_m`` and ``rise_m`` m from it; ``along_mps`` the horizontal speed there.
    """

    time: Floats
    along_m: Floats
    rise_m: Floats
    along_mps: Floats


def find_apex(along_mps: ArrayLike, up_mps: ArrayLike, drag_per_m: ArrayLike) -> Apex:
    """Return the place and time of the apex (Newton's method on the upward speed).

    Parameters
    ----------
    along_mps, up_mps : array_like
        Speeds at the release, m/s; upward is positive.
    drag_per_m : array_like
        k of the formula above, per m, above 0.

    Returns
    -------
    Top
        Of the shape that the three broadcast to.
    """
    drag = np.asarray(drag_per_m, dtype=np.float64)
    time = np.asarray(up_mps, dtype=np.float64) / GRAVITY
    for _ in range(_ROUNDS):
        x, z, vx, vz = fly(along_mps, up_mps, time, drag)
        change = vz / (-drag * np.hypot(vx, vz) * vz - GRAVITY)
        time = time - change
        if np.abs(change).max() < _CLOSE:
            break
    return Apex(time, x, z, vx)


def land(along_mps: ArrayLike, up_mps: ArrayLike, higher_m: ArrayLike, drag_per_m: ArrayLike) -> tuple[Floats, Floats]:
    """Return the time and distance of the descent through ``higher_m`` above the release; NaN where never so high.

    Without air it would fall faster, so that Newton's method on the height, which curves downward all the way, comes
    in from one side.

    Parameters
    ----------
    along_mps, up_mps : array_like
        Speeds at the release, m/s; upward is positive.
    higher_m : array_like
    drag_per_m : array_like
        k of the formula above, per m, above 0.

    Returns
    -------
    time, distance_m : numpy.ndarray
        Seconds from the release, and m; of the shape that the four broadcast to.
    """
    top = find_apex(along_mps, up_mps, drag_per_m)
    drop = top.rise_m - np.asarray(higher_m, dtype=np.float64)
    never = drop < 0
    fall = np.sqrt(2 * np.where(never, 0.0, drop) / GRAVITY) + 1e-6
    for _ in range(_ROUNDS):
        x, z, _, vz = fly(top.along_mps, 0.0, fall, drag_per_m)
        change = np.where(never, 0.0, (z + drop) / vz)
        fall = fall - change
        if np.abs(change).max() < _CLOSE:
            break
    return np.where(never, np.nan, top.time + fall), np.where(never, np.nan, top.along_m + x)


def fly(
    along_mps: ArrayLike, up_mps: ArrayLike, time: ArrayLike, drag_per_m: ArrayLike
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return distance, height and both speeds at a time from the release (s, negative: before it).

    Arrays broadcast. Classical fourth-order Runge-Kutta with a fixed number of steps. The drag has a kink where the
    speed passes through 0, at the top of a vertical toss: so flights are put together from a part on either side.

    Parameters
    ----------
    along_mps, up_mps : array_like
        Speeds at the release, m/s; upward is positive.
    time : array_like
    drag_per_m : array_like
        k of the formula above, per m, above 0.

    Returns
    -------
    along_m, up_m, along_mps, up_mps : numpy.ndarray
        Of the shape that the four broadcast to.
    """
    vx, vz, time, drag = _broadcast(along_mps, up_mps, time, drag_per_m)
    state = np.stack([np.zeros_like(vx), np.zeros_like(vz), vx, vz])
    step = time / _STEPS
    half, sixth = step / 2, step / 6
    for _ in range(_STEPS):
        first = _change(state, drag)
        second = _change(state + half * first, drag)
        third = _change(state + half * second, drag)
        fourth = _change(state + step * third, drag)
        state = state + sixth * (first + 2 * (second + third) + fourth)
    return state[0], state[1], state[2], state[3]


def _broadcast(*values: ArrayLike) -> tuple[Floats, ...]:
    return np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in values))


def _change(state: Floats, drag: Floats) -> Floats:
    """Return the time derivatives of distance, height and both speeds."""
    speed = state[2:]
    change = np.empty_like(state)
    change[:2] = speed
    change[2:] = -drag * np.hypot(speed[0], speed[1]) * speed
    change[3] -= GRAVITY
    return change


@dataclass(frozen=True)
class DragToss:
    """A toss as it has to be thrown in air for the planned time and distance.

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
        """Return the values under the names of ``toss --json`` in ``with_drag``."""
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
    """Return each toss as it has to be thrown in air, with time and place of the catch unchanged.

    Parameters
    ----------
    tosses : sequence of Toss
        All are reckoned in one go.
    body : Body

    Returns
    -------
    list
        None where that would have to be faster than :data:`tempo_coach.pattern.toss.drag.FASTEST_MPS`.
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
