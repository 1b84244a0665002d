"""Flights of a trace in words and as values: what was thrown, whether the scale is right, what was asked."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.observe.flights import GRAVITY
from tempo_coach.report.tossing import say_release

if TYPE_CHECKING:
    from tempo_coach.observe.flights import Flight
    from tempo_coach.score.tossed import Tossed

#: From this part on gravity tells against the scale; a fit in 5 mm of noise is within 0.3 %.
_OFF_SCALE = 0.03
#: Seconds from which on a flight is told to be long or short: 2.5 % of a second, less cannot be heard in the music.
_LONG = 0.025


def flight_to_dict(tossed: Tossed) -> dict[str, object]:
    """Return a flight as plain values: on the trace's own axes and clock, and in metres beside what was asked."""
    flight, asked = tossed.flight, tossed.asked
    return {
        "release": round(flight.release, 4),
        "catch": round(flight.catch, 4),
        "flight_s": round(flight.seconds, 4),
        "begins": flight.begins,
        "ends": flight.ends,
        "speed": round(flight.speed, 4),
        "angle_deg": round(flight.angle_deg, 3),
        "apex": round(flight.apex, 4),
        "apex_time": round(flight.apex_time, 4),
        "gravity": round(flight.gravity, 4),
        "sideways_sd": round(flight.drift_sd, 6),
        "metres_a_unit": round(flight.metres_a_unit, 8),
        "speed_mps": round(tossed.speed_mps, 4),
        "distance_m": round(tossed.distance_m, 4),
        "rise_m": round(tossed.rise_m, 4),
        "asked": None if asked is None else asked.to_dict(),
        "off": None
        if asked is None
        else {
            "angle_deg": _plain(tossed.angle_off, 3),
            "speed_mps": _plain(tossed.speed_off, 4),
            "flight_s": _plain(tossed.seconds_off, 4),
        },
        "words": say_flight(tossed),
    }


def say_flight(tossed: Tossed) -> str:
    """Return what a flight was, and what a coach says to it where something was asked."""
    flight = tossed.flight
    what = f"in the air from {flight.release:.3f} to {flight.catch:.3f} s ({flight.seconds:.3f} s)"
    if flight.begins == "edge":
        return f"{what}, but the release was not seen; {_say_end(flight)}; {say_scale(flight)}"
    thrown = f"let go with {tossed.speed_mps:.2f} m/s at {flight.angle_deg:.0f}°, rises {tossed.rise_m:.2f} m"
    sentence = f"{what}: {thrown}, {_say_end(flight)} {tossed.distance_m:.2f} m away; {say_scale(flight)}"
    if tossed.asked is None:
        return sentence
    return (
        f"{sentence}; {say_release(tossed.asked, angle_deg=flight.angle_deg, speed_mps=tossed.speed_mps)}"
        + _say_long(tossed)
    )


def say_scale(flight: Flight) -> str:
    """Return what the fitted gravity says about the scale of the positions.

    Examples
    --------
    >>> from tempo_coach.observe.flights import Flight
    >>> flight = Flight(1.0, 2.2, 6.6, 78.0, 3.5, 0.6, 9.79, 0.0, 1.0, 1.5, 1.5, 1.6)
    >>> say_scale(flight)
    'g comes out as 9.79 m/s², so the scale is right'
    """
    if flight.metres_a_unit != 1.0:
        return f"g makes a unit {1000 * flight.metres_a_unit:.3g} mm, if the film runs at its true speed"
    off = flight.gravity / GRAVITY - 1
    if abs(off) < _OFF_SCALE:
        return f"g comes out as {flight.gravity:.2f} m/s², so the scale is right"
    return (
        f"g comes out as {flight.gravity:.2f} instead of {GRAVITY:.2f} m/s²: lengths are {abs(off):.0%} too "
        f"{'large' if off > 0 else 'small'}, or the point is not the apparatus' middle"
    )


def _say_end(flight: Flight) -> str:
    if flight.ends == "bounce":
        return "not caught, on the floor"
    return "lost from sight" if flight.ends == "edge" else "caught"


def _say_long(tossed: Tossed) -> str:
    off, asked = tossed.seconds_off, tossed.asked
    if asked is None or math.isnan(off) or abs(off) < _LONG:
        return ""
    way = "long" if off > 0 else "short"
    if asked.counts is None:
        return f"; the flight is {1000 * abs(off):.0f} ms too {way}"
    return f"; the flight is {abs(off) / asked.flight * asked.counts:.2f} counts too {way} ({1000 * abs(off):.0f} ms)"


def _plain(number: float, digits: int) -> float | None:
    return round(number, digits) if math.isfinite(number) else None
