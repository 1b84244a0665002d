"""Flights of a trace in words and as plain values, beside the toss that was asked."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.observe.trace.flights import GRAVITY
from tempo_coach.pattern.toss.release import miss_catch
from tempo_coach.report.words.amounts import join_words
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.report.words.toss import say_caution, say_late

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.flights import Flight
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.toss.toss import Toss
    from tempo_coach.score.trace.throws import Tossed

#: From this part on gravity tells against the scale; a fit in 5 mm of noise is within 0.3 %.
_OFF_SCALE = 0.03
#: Least error in seconds at which a flight is called long or short: 2.5 % of a second; less cannot be heard in music.
_LONG = 0.025


def format_flights(tossed: Sequence[Tossed]) -> str:
    """Return the flights of a trace as numbered lines, and a caution."""
    return "\n".join([*(f"{number}. {say_flight(each)}" for number, each in enumerate(tossed, 1)), say_caution()])


def flights_to_dict(tossed: Sequence[Tossed], trace: Trace) -> dict[str, object]:
    """Return the flights of a trace as plain values, with what was understood of its table."""
    understood = [say_reason(note) for note in trace.notes]
    return {"understood": understood, "flights": [flight_to_dict(each) for each in tossed]}


def flight_to_dict(tossed: Tossed) -> dict[str, object]:
    """Return a flight as plain values: on the trace's axes and clock, and in metres beside the asked one."""
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
    """Return the properties of a flight, and a coach's remark where one was asked for."""
    flight = tossed.flight
    what = tr(
        "in the air from {release:.3f} to {catch:.3f} s ({seconds:.3f} s)",
        release=flight.release,
        catch=flight.catch,
        seconds=flight.seconds,
    )
    if flight.begins == "edge":
        return tr(
            "{what}, but the release was not seen; {end}; {scale}",
            what=what,
            end=_say_end(flight),
            scale=say_scale(flight),
        )
    thrown = tr(
        "let go with {speed_mps:.2f} m/s at {angle_deg:.0f}°, rises {rise_m:.2f} m",
        speed_mps=tossed.speed_mps,
        angle_deg=flight.angle_deg,
        rise_m=tossed.rise_m,
    )
    sentence = tr(
        "{what}: {thrown}, {end} {distance_m:.2f} m away; {scale}",
        what=what,
        thrown=thrown,
        end=_say_end(flight),
        distance_m=tossed.distance_m,
        scale=say_scale(flight),
    )
    if tossed.asked is None:
        return sentence
    release = say_release(tossed.asked, angle_deg=flight.angle_deg, speed_mps=tossed.speed_mps)
    return "; ".join(filter(None, (sentence, release, _say_long(tossed))))


def say_release(toss: Toss, *, angle_deg: float, speed_mps: float) -> str:
    """Return a coach's remark on a measured release beside the planned one.

    Parameters
    ----------
    toss : Toss
        The plan.
    angle_deg, speed_mps : float
        Of the release that was done.

    Examples
    --------
    >>> from tempo_coach.pattern.toss.toss import Toss
    >>> say_release(Toss(2.0, 1.8, 1.2, 3.0), angle_deg=78, speed_mps=9.6)
    'let go 3° too flat: it lands 0.9 m further and 23 ms earlier'
    """
    steeper, faster = angle_deg - toss.angle_deg, speed_mps - toss.speed_mps
    wrong = []
    if abs(steeper) >= 0.5:
        wrong.append(
            tr("{steeper:.0f}° too steep", steeper=abs(steeper))
            if steeper > 0
            else tr("{steeper:.0f}° too flat", steeper=abs(steeper))
        )
    if abs(faster) >= 0.05:
        wrong.append(
            tr("{faster:.1f} m/s too fast", faster=abs(faster))
            if faster > 0
            else tr("{faster:.1f} m/s too slow", faster=abs(faster))
        )
    if not wrong:
        return tr("let go as planned")
    both = join_words(wrong, "{first} and {second}")
    try:
        miss = miss_catch(toss, angle_deg=steeper, speed_mps=faster)
    except CoachError:
        return tr("let go {names}: it does not come up to the catch", names=both)
    place = tr("{metres:.1f} m further" if miss.place_m > 0 else "{metres:.1f} m nearer", metres=abs(miss.place_m))
    if abs(miss.place_m) < 0.05:
        place = tr("in its place")
    return tr("let go {names}: it lands {place} and {late}", names=both, place=place, late=say_late(miss.late))


def say_scale(flight: Flight) -> str:
    """Return what the fitted gravity implies about the scale of the positions.

    Examples
    --------
    >>> from tempo_coach.observe.trace.flights import Flight
    >>> flight = Flight(1.0, 2.2, 6.6, 78.0, 3.5, 0.6, 9.79, 0.0, 1.0, 1.5, 1.5, 1.6)
    >>> say_scale(flight)
    'g comes out as 9.79 m/s², so the scale is right'
    """
    if flight.metres_a_unit != 1.0:
        return tr(
            "g makes a unit {metres_a_unit:.3g} mm, if the film runs at its true speed",
            metres_a_unit=1000 * flight.metres_a_unit,
        )
    off = flight.gravity / GRAVITY - 1
    if abs(off) < _OFF_SCALE:
        return tr("g comes out as {gravity:.2f} m/s², so the scale is right", gravity=flight.gravity)
    return (
        tr(
            "g comes out as {gravity:.2f} instead of {gravity_2:.2f} m/s²: lengths are {off:.0%} too large, or the "
            "point is not the apparatus' middle",
            gravity=flight.gravity,
            gravity_2=GRAVITY,
            off=abs(off),
        )
        if off > 0
        else tr(
            "g comes out as {gravity:.2f} instead of {gravity_2:.2f} m/s²: lengths are {off:.0%} too small, or the "
            "point is not the apparatus' middle",
            gravity=flight.gravity,
            gravity_2=GRAVITY,
            off=abs(off),
        )
    )


def _say_end(flight: Flight) -> str:
    if flight.ends == "bounce":
        return tr("not caught, on the floor")
    return tr("lost from sight") if flight.ends == "edge" else tr("caught")


def _say_long(tossed: Tossed) -> str:
    off, asked = tossed.seconds_off, tossed.asked
    if asked is None or math.isnan(off) or abs(off) < _LONG:
        return ""
    if asked.counts is None:
        return tr(
            "the flight is {off:.0f} ms too long" if off > 0 else "the flight is {off:.0f} ms too short",
            off=1000 * abs(off),
        )
    return tr(
        "the flight is {off:.2f} counts too long ({off_2:.0f} ms)"
        if off > 0
        else "the flight is {off:.2f} counts too short ({off_2:.0f} ms)",
        off=abs(off) / asked.flight * asked.counts,
        off_2=1000 * abs(off),
    )


def _plain(number: float, digits: int) -> float | None:
    return round(number, digits) if math.isfinite(number) else None
