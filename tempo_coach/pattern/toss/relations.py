"""Relations between the quantities of a toss: small rules, applied until nothing new follows.

Each rule has the names that it needs, the name that it gives and a function; a rule that cannot tell (a vertical
toss and its distance, say) gives None. The names are those that :func:`tempo_coach.pattern.toss.solver.solve_toss`
takes, without their units, with ``up`` and ``along`` for the two parts of the release speed. Every formula is the
parabola's:
``catch = release + up T - g T²/2``, ``distance = along T``, ``rise = up²/2g``.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.drill import TEMPO_RANGE_BPM

if TYPE_CHECKING:
    from collections.abc import Callable

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s² (3rd CGPM, 1901)."""

HIGHEST_HAND_M = 3.5
"""No hand reaches higher, on a partner's shoulders or in a leap; common practice."""

LONGEST_DISTANCE_M = 18.4
"""Diagonal of the 13 m by 13 m floor."""

HIGHEST_APEX_M = 20.0
"""Higher than the halls of the sport; common practice."""

_G = GRAVITY

#: What each value may be: lowest, highest, whether the lowest is one of them.
_RANGES: dict[str, tuple[float, float, bool]] = {
    "counts": (0.0, 64.0, False),
    "tempo": (*TEMPO_RANGE_BPM, True),
    "flight": (0.0, 60.0, False),
    "release": (0.0, HIGHEST_HAND_M, False),
    "catch": (0.0, HIGHEST_HAND_M, False),
    "distance": (0.0, LONGEST_DISTANCE_M, True),
    "rise": (0.0, HIGHEST_APEX_M, False),
    "apex": (0.0, HIGHEST_APEX_M, False),
    "speed": (0.0, 40.0, False),
    "angle": (0.0, 90.0, False),
}


def check_values(values: dict[str, float], *, found: bool = False) -> None:
    """Raise a CoachError for the first value out of range; ``found`` says that it was computed, not given.

    Parameters
    ----------
    values : dict
        By the names of :func:`complete`.
    found : bool
        Whether they were reckoned, not given.

    Raises
    ------
    CoachError
        As said.
    """
    for name, value in values.items():
        low, high, closed = _RANGES[name]
        inside = math.isfinite(value) and value <= high and (value >= low if closed else value > low)
        if inside:
            continue
        nearest = high if value > high else low
        raise CoachError(
            "toss.out_of_range" if closed else "toss.out_of_open_range",
            where=name,
            quantity=name,
            low=low,
            high=high,
            value=value,
            found=found,
            nearest=nearest if (closed or nearest == high) and math.isfinite(value) else None,
        )


def complete(stated: dict[str, float], fallback: dict[str, float]) -> tuple[dict[str, float], tuple[str, ...]]:
    """Return everything that follows from the given quantities, and the fallbacks that were needed.

    Parameters
    ----------
    stated : dict
        What is known.
    fallback : dict
        Values to assume, one after another in this order, where nothing determines them.

    Raises
    ------
    CoachError
        If the flight is still not known at the end, or a rule finds that nobody can throw that.
    """
    known = dict(stated)
    assumed: list[str] = []
    _apply_rules(known)
    for name, value in fallback.items():
        if name not in known:
            known[name] = value
            assumed.append(name)
            _apply_rules(known)
    if "flight" not in known:
        raise CoachError("toss.too_little", given=list(stated))
    return known, tuple(assumed)


def _apply_rules(known: dict[str, float]) -> None:
    news = True
    while news:
        news = False
        for gives, needs, rule in _RULES:
            if gives in known or any(name not in known for name in needs):
                continue
            value = rule(*(known[name] for name in needs))
            if value is not None:
                known[gives] = value
                news = True


def _fall_from_release(up: float, release: float, catch: float) -> float:
    """Return the time of the descent to the height of the catch: the later root."""
    square = up**2 - 2 * _G * (catch - release)
    if square < -1e-9:
        apex = release + up**2 / (2 * _G)
        raise CoachError(
            "toss.catch_above_apex",
            where="catch",
            apex_m=apex,
            catch_m=catch,
            rise_m=catch - release,
            up_mps=math.sqrt(2 * _G * (catch - release)),
        )
    return (up + math.sqrt(max(square, 0.0))) / _G


def _up_from_apex(flight: float, apex: float, catch: float) -> float:
    """Return the upward speed at the release: g times the flight less the fall from the apex."""
    if apex < catch:
        raise CoachError("toss.catch_above_given_apex", where="catch", apex_m=apex, catch_m=catch)
    fall = math.sqrt(2 * (apex - catch) / _G)
    if flight <= fall:
        raise CoachError(
            "toss.falls_too_long",
            where="apex",
            apex_m=apex,
            catch_m=catch,
            fall_s=fall,
            flight_s=flight,
            highest_m=catch + _G * flight**2 / 2,
        )
    return _G * (flight - fall)


def _flight_from_angle(angle: float, distance: float, release: float, catch: float) -> float | None:
    """Return the time of flight from an angle: distance tan(angle) = catch - release + g T²/2."""
    if distance <= 0 or angle >= 90:
        return None
    higher = catch - release
    drop = distance * math.tan(math.radians(angle)) - higher
    if drop < max(higher, 0.0):
        flattest = math.degrees(math.atan2(2 * higher, distance))
        raise CoachError(
            "toss.too_flat", where="angle", angle_deg=angle, catch_m=catch, distance_m=distance, flattest_deg=flattest
        )
    return math.sqrt(2 * drop / _G)


def _flight_from_speed(speed: float, distance: float, release: float, catch: float) -> float:
    """Return the time of the higher of two flights: (speed T)² = distance² + (catch - release + g T²/2)²."""
    higher = catch - release
    middle = speed**2 - _G * higher
    square = middle**2 - _G**2 * (distance**2 + higher**2)
    slowest = math.sqrt(_G * (higher + math.hypot(higher, distance)))
    if middle <= 0 or square < -1e-9 * middle**2:
        raise CoachError(
            "toss.too_slow",
            where="speed",
            speed_mps=speed,
            release_m=release,
            catch_m=catch,
            distance_m=distance,
            slowest_mps=slowest,
        )
    return math.sqrt(2 * (middle + math.sqrt(max(square, 0.0)))) / _G


def _other_part(speed: float, part: float) -> float:
    if part > speed * (1 + 1e-12):
        raise CoachError("toss.part_too_fast", where="speed", part_mps=part, speed_mps=speed)
    return math.sqrt(max(speed**2 - part**2, 0.0))


def _sine(angle: float) -> float:
    return math.sin(math.radians(angle))


def _cosine(angle: float) -> float:
    return 0.0 if angle == 90 else math.cos(math.radians(angle))


def _up_by_angle(along: float, angle: float) -> float | None:
    return along * math.tan(math.radians(angle)) if along > 0 and angle < 90 else None


def _along_by_angle(up: float, angle: float) -> float | None:
    return up * _cosine(angle) / _sine(angle) if up > 0 else None


def _rise(apex: float, release: float) -> float:
    if apex <= release:
        raise CoachError("toss.apex_below_release", where="apex", apex_m=apex, release_m=release)
    return apex - release


_RULES: tuple[tuple[str, tuple[str, ...], Callable[..., float | None]], ...] = (
    ("flight", ("counts", "tempo"), lambda counts, tempo: 60 * counts / tempo),
    ("counts", ("flight", "tempo"), lambda flight, tempo: flight * tempo / 60),
    ("rise", ("apex", "release"), _rise),
    ("release", ("apex", "rise"), lambda apex, rise: apex - rise),
    ("up", ("rise",), lambda rise: math.sqrt(2 * _G * rise)),
    ("up", ("speed", "angle"), lambda speed, angle: speed * _sine(angle)),
    ("along", ("speed", "angle"), lambda speed, angle: speed * _cosine(angle)),
    ("along", ("distance", "flight"), lambda distance, flight: distance / flight),
    ("up", ("along", "angle"), _up_by_angle),
    ("up", ("speed", "along"), _other_part),
    ("up", ("flight", "release", "catch"), lambda t, low, high: (high - low) / t + _G * t / 2),
    ("up", ("flight", "apex", "catch"), _up_from_apex),
    ("along", ("speed", "up"), _other_part),
    ("along", ("up", "angle"), _along_by_angle),
    ("release", ("flight", "up", "catch"), lambda t, up, catch: catch - up * t + _G * t**2 / 2),
    ("catch", ("flight", "up", "release"), lambda t, up, release: release + up * t - _G * t**2 / 2),
    (
        "flight",
        ("along", "distance"),
        lambda along, distance: distance / along if along > 0 < distance else None,
    ),
    ("flight", ("up", "release", "catch"), _fall_from_release),
    ("distance", ("along", "flight"), lambda along, flight: along * flight),
    ("flight", ("angle", "distance", "release", "catch"), _flight_from_angle),
    ("flight", ("speed", "distance", "release", "catch"), _flight_from_speed),
)
