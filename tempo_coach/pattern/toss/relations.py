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

#: What each value may be, as lowest (excluded where 0 makes no sense), highest, unit.
_RANGES: dict[str, tuple[float, float, bool, str]] = {
    "counts": (0.0, 64.0, False, "counts"),
    "tempo": (*TEMPO_RANGE_BPM, True, "beats a minute"),
    "flight": (0.0, 60.0, False, "s"),
    "release": (0.0, HIGHEST_HAND_M, False, "m above the floor"),
    "catch": (0.0, HIGHEST_HAND_M, False, "m above the floor"),
    "distance": (0.0, LONGEST_DISTANCE_M, True, "m, the floor's diagonal"),
    "rise": (0.0, HIGHEST_APEX_M, False, "m"),
    "apex": (0.0, HIGHEST_APEX_M, False, "m above the floor"),
    "speed": (0.0, 40.0, False, "m/s"),
    "angle": (0.0, 90.0, False, "degrees above the horizontal"),
}


def check_values(values: dict[str, float], *, found: bool = False) -> None:
    """Raise a CoachError for the first value out of its range; ``found`` says that it was reckoned, not given.

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
        low, high, closed, unit = _RANGES[name]
        inside = math.isfinite(value) and value <= high and (value >= low if closed else value > low)
        if inside:
            continue
        nearest = high if value > high else low
        expected = f"{low:g} to {high:g}" if closed else f"more than {low:g} and up to {high:g}"
        got = f"it would have to be {value:.2f}" if found else f"got {value:g}"
        reachable = closed or nearest == high
        what = "" if name == unit else f"{'an' if name[0] in 'aeiou' else 'a'} {name} of "
        raise CoachError(
            f"expected {what}{expected} {unit}, {got}",
            where=name,
            hint=f"the nearest is {nearest:g}" if reachable and math.isfinite(value) else None,
        )


def complete(stated: dict[str, float], fallback: dict[str, float]) -> tuple[dict[str, float], tuple[str, ...]]:
    """Return everything that follows, and which fallbacks were needed for it.

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
        have = ", ".join(stated) or "nothing"
        raise CoachError(
            f"expected enough to tell how long the toss flies, got {have}",
            hint="give counts and tempo, or a flight in seconds, a height, a speed, or an angle and a distance",
        )
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
    """Time until it comes down to the catch: the later root."""
    square = up**2 - 2 * _G * (catch - release)
    if square < -1e-9:
        apex = release + up**2 / (2 * _G)
        raise CoachError(
            f"the toss tops out at {apex:.2f} m above the floor and cannot be caught at {catch:.2f} m",
            where="catch",
            hint=f"catch at {apex:.2f} m or lower, or let it rise {catch - release:.2f} m above the release "
            f"({math.sqrt(2 * _G * (catch - release)):.2f} m/s upward) or more",
        )
    return (up + math.sqrt(max(square, 0.0))) / _G


def _up_from_apex(flight: float, apex: float, catch: float) -> float:
    """Upward speed at the release: the time that is left when the fall is taken off the flight, times g."""
    if apex < catch:
        raise CoachError(
            f"the toss tops out at {apex:.2f} m above the floor and cannot be caught at {catch:.2f} m",
            where="catch",
            hint=f"catch at {apex:.2f} m or lower",
        )
    fall = math.sqrt(2 * (apex - catch) / _G)
    if flight <= fall:
        raise CoachError(
            f"falling from {apex:.2f} m to {catch:.2f} m alone takes {fall:.2f} s, longer than the flight of "
            f"{flight:.2f} s",
            where="apex",
            hint=f"the highest is {catch + _G * flight**2 / 2:.2f} m above the floor",
        )
    return _G * (flight - fall)


def _flight_from_angle(angle: float, distance: float, release: float, catch: float) -> float | None:
    """Time at which a line of that slope has fallen to the catch: distance tan(angle) = catch - release + g T²/2."""
    if distance <= 0 or angle >= 90:
        return None
    higher = catch - release
    drop = distance * math.tan(math.radians(angle)) - higher
    if drop < max(higher, 0.0):
        flattest = math.degrees(math.atan2(2 * higher, distance))
        raise CoachError(
            f"at {angle:g} degrees it does not come down to {catch:.2f} m at a distance of {distance:g} m",
            where="angle",
            hint=f"the flattest is {flattest:.1f} degrees",
        )
    return math.sqrt(2 * drop / _G)


def _flight_from_speed(speed: float, distance: float, release: float, catch: float) -> float:
    """Time of the high one of two ways: (speed T)² = distance² + (catch - release + g T²/2)², larger root in T²."""
    higher = catch - release
    middle = speed**2 - _G * higher
    square = middle**2 - _G**2 * (distance**2 + higher**2)
    slowest = math.sqrt(_G * (higher + math.hypot(higher, distance)))
    if middle <= 0 or square < -1e-9 * middle**2:
        raise CoachError(
            f"at {speed:g} m/s it does not get from {release:.2f} m to {catch:.2f} m at a distance of {distance:g} m",
            where="speed",
            hint=f"the slowest is {slowest:.2f} m/s",
        )
    return math.sqrt(2 * (middle + math.sqrt(max(square, 0.0)))) / _G


def _other_part(speed: float, part: float) -> float:
    if part > speed * (1 + 1e-12):
        raise CoachError(
            f"the flight asks for {part:.2f} m/s in one direction alone, more than the speed of {speed:g} m/s",
            where="speed",
            hint=f"the slowest is {part:.2f} m/s",
        )
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
        raise CoachError(
            f"the toss would top out at {apex:.2f} m above the floor, not above its release at {release:.2f} m",
            where="apex",
            hint=f"the nearest is just above {release:.2f} m",
        )
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
