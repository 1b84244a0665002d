"""Release errors: their effect on the catch, and how large they may be.

The arm swings through the release: at a late release the hand is further round its arc, so that position *and*
direction change, by the angular velocity of the arm. Flights are computed from the changed release, without air, not
linearised: an error of 11 degrees has not eleven times the effect of one degree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError
from tempo_coach.pattern.toss.relations import GRAVITY

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.pattern.toss.toss import Toss

ARM_M = 0.7
"""Shoulder to hand, for an arm's turning speed where none is given; estimated."""

REACH_M = 0.7
"""Reach of a catch without a step: an arm's length, estimated."""

STEPS: tuple[tuple[str, float], ...] = (("angle_deg", 1.0), ("speed_mps", 0.1), ("release_s", 0.02))
"""Step sizes of the sensitivity: a degree, 0.1 m/s, 20 ms."""

_FURTHEST = {"angle_deg": 60.0, "speed_mps": 10.0, "release_s": 0.3}  # limits of the search for a tolerance


@dataclass(frozen=True)
class Miss:
    """The effect of a release error at the height of the catch, in distance and time.

    Parameters
    ----------
    place_m : float
        Further than planned, m; negative is nearer.
    late : float
        Later than planned on the clock of the music, s; negative is earlier.
    """

    place_m: float
    late: float


def turn_of_arm(toss: Toss) -> float:
    """Return the angular velocity of a straight arm in degrees a second: release speed over :data:`ARM_M`."""
    return math.degrees(toss.speed_mps / ARM_M)


def miss_catch(
    toss: Toss,
    *,
    angle_deg: float = 0.0,
    speed_mps: float = 0.0,
    release_s: float = 0.0,
    turning_dps: float | None = None,
) -> Miss:
    """Return the error at the catch for a release error.

    Parameters
    ----------
    toss : Toss
        The plan.
    angle_deg, speed_mps : float
        Error of angle and speed; positive is too steep and too fast.
    release_s : float
        Error of the instant of release, s; positive is late.
    turning_dps : float or None
        Angular velocity of the arm at the release, degrees a second: positive where late means steeper (from below, in
        front of the body), negative where late means flatter (from behind over the head). :func:`turn_of_arm`
        where None.

    Raises
    ------
    CoachError
        If it then never comes up to the height of the catch.

    Notes
    -----
    The hand moves at the release speed v round an arc of radius v/w, w being its angular velocity: t too late it is
    ``v/w (sin(a + w t) - sin a)`` further along, ``v/w (cos a - cos(a + w t))`` higher, and releases at ``a + w t``.

    Examples
    --------
    >>> from tempo_coach.pattern.toss.toss import Toss
    >>> toss = Toss(flight=2.0, release_m=1.8, catch_m=1.2, distance_m=3.0)
    >>> round(miss_catch(toss, angle_deg=-1).place_m, 2)
    0.32
    """
    miss = _miss(toss, math.radians(angle_deg), speed_mps, release_s, _turning(toss, turning_dps))
    if miss is None:
        raise CoachError("toss.never_at_catch", where="catch", catch_m=toss.catch_m)
    return miss


def _turning(toss: Toss, turning_dps: float | None) -> float:
    """Return the angular velocity of the arm in radians a second, by default that of a straight arm."""
    return math.radians(turn_of_arm(toss) if turning_dps is None else turning_dps)


def _miss(toss: Toss, steeper: float, faster: float, late: float, turning: float) -> Miss | None:
    """Return the effect of a release that is steeper (rad), faster (m/s) and later (s); None if too low."""
    angle, speed = math.radians(toss.angle_deg), toss.speed_mps
    if abs(turning) < 1e-9:
        along, up = speed * math.cos(angle) * late, speed * math.sin(angle) * late
    else:
        radius, turned = speed / turning, angle + turning * late
        along, up = radius * (math.sin(turned) - math.sin(angle)), radius * (math.cos(angle) - math.cos(turned))
    angle += turning * late + steeper
    speed += faster
    rising = speed * math.sin(angle)
    square = rising**2 - 2 * GRAVITY * (toss.catch_m - toss.release_m - up)
    if square < 0 or speed <= 0:
        return None
    flight = (rising + math.sqrt(square)) / GRAVITY
    if flight <= 0:
        return None
    place = along + speed * math.cos(angle) * flight
    return Miss(place_m=place - toss.distance_m, late=late + flight - toss.flight)


def show_sensitivity(toss: Toss, *, turning_dps: float | None = None) -> list[dict[str, Any]]:
    """Return the sensitivity of the catch to :data:`STEPS`, in both directions, as in ``toss --json``.

    Parameters
    ----------
    toss : Toss
    turning_dps : float or None
        As in :func:`miss_catch`.

    Returns
    -------
    list of dict
        ``{error, by, place_m, late_s}``; the two results are None where it does not come up to the catch.
    """
    turning = _turning(toss, turning_dps)
    rows: list[dict[str, Any]] = []
    for error, step in STEPS:
        for by in (-step, step):
            miss = _miss_by(toss, error, turning)(by)
            rows.append(
                {
                    "error": error,
                    "by": by,
                    "place_m": None if miss is None else miss.place_m,
                    "late_s": None if miss is None else miss.late,
                }
            )
    return rows


def find_windows(
    toss: Toss, *, reach_m: float = REACH_M, turning_dps: float | None = None
) -> dict[str, tuple[float, float]]:
    """Return the tolerance of each component of the release for a catch within reach.

    Parameters
    ----------
    toss : Toss
    reach_m : float
        Largest distance from the planned catch, along the floor.
    turning_dps : float or None
        As in :func:`miss_catch`.

    Returns
    -------
    dict
        For ``angle_deg``, ``speed_mps`` and ``release_s`` the most negative and the most positive error, each with the
        others right.

    Raises
    ------
    CoachError
        If the reach is not above 0.
    """
    _check_reach(reach_m)
    turning = _turning(toss, turning_dps)

    def edge(error: str, sign: int) -> float:
        miss = _miss_by(toss, error, turning)

        def within(size: float) -> bool:
            found = miss(sign * size)
            return found is not None and abs(found.place_m) <= reach_m

        return sign * _find_edge(within, _FURTHEST[error], steps=240)

    return {error: (edge(error, -1), edge(error, 1)) for error, _ in STEPS}


def _check_reach(reach_m: float) -> None:
    if not 0 < reach_m < math.inf:
        raise CoachError("toss.reach", where="reach", reach_m=reach_m)


def _miss_by(toss: Toss, error: str, turning: float) -> Callable[[float], Miss | None]:
    if error == "angle_deg":
        return lambda by: _miss(toss, math.radians(by), 0.0, 0.0, turning)
    if error == "speed_mps":
        return lambda by: _miss(toss, 0.0, by, 0.0, turning)
    return lambda by: _miss(toss, 0.0, 0.0, by, turning)


def _find_edge(within: Callable[[float], bool], furthest: float, *, steps: int) -> float:
    """Return the largest size up to which a condition holds from 0 on: scan, then bisect."""
    inner, step = 0.0, furthest / steps
    while inner < furthest and within(inner + step):
        inner += step
    inner, outer = min(inner, furthest), min(inner + step, furthest)
    for _ in range(40):
        middle = (inner + outer) / 2
        inner, outer = (middle, outer) if within(middle) else (inner, middle)
    return inner


def find_passing(toss: Toss, *, reach_m: float = REACH_M) -> tuple[float, float]:
    """Return for how long before and after the catch it is within reach of the hand, s (both positive).

    After the catch it falls on, to the floor at most.

    Parameters
    ----------
    toss : Toss
    reach_m : float
        Largest distance from the planned catch, in any direction.

    Raises
    ------
    CoachError
        If the reach is none.
    """
    _check_reach(reach_m)
    floor = (toss.up_mps + math.sqrt(toss.up_mps**2 + 2 * GRAVITY * toss.release_m)) / GRAVITY

    def near(seconds: float) -> bool:
        along, height = toss.place_at(seconds)
        return math.hypot(float(along) - toss.distance_m, float(height) - toss.catch_m) <= reach_m

    return (
        _find_edge(lambda early: near(toss.flight - early), toss.flight, steps=400),
        _find_edge(lambda late: near(toss.flight + late), floor - toss.flight, steps=400),
    )
