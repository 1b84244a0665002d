"""A toss in words: height, speed, release errors, moves under it; and flights of a trace beside it."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.flights import GRAVITY
from tempo_coach.pattern.toss.release import miss_catch

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from tempo_coach.observe.trace.flights import Flight
    from tempo_coach.pattern.toss.drag import DragToss
    from tempo_coach.pattern.toss.moves import MoveFit
    from tempo_coach.pattern.toss.toss import Toss
    from tempo_coach.score.trace.throws import Tossed

CAUTION = "Before it is tossed at speed: clear space, a look at the height of the hall, and a coach."

_WORDS = {
    "angle_deg": ("degree flatter", "degree steeper", "°"),
    "speed_mps": ("0.1 m/s slower", "0.1 m/s faster", " m/s"),
    "release_s": ("20 ms early", "20 ms late", " ms"),
}


def format_toss(toss: Toss, with_drag: DragToss | None, *, width: int = 78) -> str:
    """Return what a toss asks for, in sentences; in air where a body is given, with the range of the speed."""
    lasting = f"{toss.flight:.2f} s in the air"
    if toss.counts is not None:
        lasting = f"{toss.counts:.3g} counts at {toss.tempo_bpm:.0f} beats a minute: {lasting}"
    lines = [f"{lasting}."]
    lines.append(
        f"It rises {toss.rise_m:.1f} m above the release, to {toss.apex_m:.1f} m above the floor, at the top after "
        f"{toss.apex_time:.2f} s; at the catch it falls with {-toss.catch_vertical_mps:.1f} m/s."
    )
    if with_drag is None:
        lines.append(f"Let go with {toss.speed_mps:.1f} m/s at {toss.angle_deg:.0f}° (without air).")
    else:
        fastest = with_drag.speed_high_mps
        upper = f"{fastest:.1f}" if math.isfinite(fastest) else "more than anybody throws"
        lines.append(
            f"A {with_drag.body.name} in air: let go with {with_drag.speed_low_mps:.1f} to {upper} m/s at about "
            f"{with_drag.angle_deg:.0f}°; without air it would be {toss.speed_mps:.1f} m/s. Teach the height, not the "
            "speed."
        )
    if toss.assumed:
        given = {"release": toss.release_m, "catch": toss.catch_m, "distance": toss.distance_m}
        told = ", ".join(f"{name} {given[name]:g} m" for name in toss.assumed)
        lines.append(f"Assumed: {told}.")
    return "\n".join(part for line in lines for part in textwrap.wrap(line, width, subsequent_indent="  "))


def say_release(toss: Toss, *, angle_deg: float, speed_mps: float) -> str:
    """Return what a coach says to a release that was measured, against the one that was planned.

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
        wrong.append(f"{abs(steeper):.0f}° too {'steep' if steeper > 0 else 'flat'}")
    if abs(faster) >= 0.05:
        wrong.append(f"{abs(faster):.1f} m/s too {'fast' if faster > 0 else 'slow'}")
    if not wrong:
        return "let go as planned"
    try:
        miss = miss_catch(toss, angle_deg=steeper, speed_mps=faster)
    except CoachError:
        return f"let go {' and '.join(wrong)}: it does not come up to the catch"
    place = f"{abs(miss.place_m):.1f} m {'further' if miss.place_m > 0 else 'nearer'}"
    if abs(miss.place_m) < 0.05:
        place = "in its place"
    late = f"{abs(miss.late) * 1000:.0f} ms {'later' if miss.late > 0 else 'earlier'}"
    return f"let go {' and '.join(wrong)}: it lands {place} and {late}"


def format_release(
    rows: Sequence[dict[str, Any]],
    windows: dict[str, tuple[float, float]],
    passing: tuple[float, float],
    *,
    reach_m: float,
    turning_dps: float,
    estimated: bool,
) -> str:
    """Return what errors of the release do to the catch, as rows, and how large they may be."""
    told = ", estimated from the speed and the arm's length" if estimated else ""
    lines = [f"If the release is off (the arm turning {turning_dps:.0f}° a second{told}):"]
    for row in rows:
        words = _WORDS[row["error"]][row["by"] > 0]
        if row["place_m"] is None:
            lines.append(f"  {words:<16} it does not come up to the catch")
            continue
        place = f"{abs(row['place_m']):.2f} m {'further' if row['place_m'] > 0 else 'nearer'}"
        late = f"{abs(row['late_s']) * 1000:.0f} ms {'later' if row['late_s'] > 0 else 'earlier'}"
        lines.append(f"  {words:<16} {place:<16} {late}")
    edges = []
    for error, (low, high) in windows.items():
        unit = _WORDS[error][2]
        scale, digits = (1000, 0) if error == "release_s" else (1, 1)
        edges.append(f"{low * scale:.{digits}f} to +{high * scale:.{digits}f}{unit}")
    lines.append(f"Within a reach of {reach_m:g} m: {edges[0]}, {edges[1]}, {edges[2]}, each alone.")
    before, after = passing
    lines.append(
        f"It passes the hand's place in {(before + after) * 1000:.0f} ms: {before * 1000:.0f} before the catch, "
        f"{after * 1000:.0f} after."
    )
    return "\n".join(lines)


def format_fits(fits: Sequence[MoveFit]) -> str:
    """Return which moves fit under the flight, with the counts to spare or missing."""
    lines = ["Under it (lengths are common practice, and yours to edit):"]
    for fit in fits:
        if abs(fit.spare) < 1e-9:
            told = "just fits"
        elif fit.fits:
            told = f"fits, {_say_counts(fit.spare)} to spare"
        else:
            told = f"{_say_counts(-fit.spare)} too long"
        lines.append(f"  {fit.move.name:<18} {_say_counts(fit.move.counts)}: {told}")
    return "\n".join(lines)


def _say_counts(counts: float) -> str:
    return f"{counts:.2g} count{'' if counts == 1 else 's'}"


def format_table(
    tosses: Sequence[Toss], beyond: Sequence[tuple[float, CoachError]], drags: Sequence[DragToss | None] | None
) -> str:
    """Return a table of tosses by counts; in air where ``drags`` are given, one for each toss."""
    lines = ["counts   in the air    rise   above the floor   release"]
    for number, toss in enumerate(tosses):
        drag = None if drags is None else drags[number]
        if drags is None:
            release = f"{toss.speed_mps:.1f} m/s at {toss.angle_deg:.0f}°"
        elif drag is None:
            release = "faster than anybody throws"
        else:
            upper = f"{drag.speed_high_mps:.1f}" if math.isfinite(drag.speed_high_mps) else "…"
            release = f"{drag.speed_low_mps:.1f} to {upper} m/s at {drag.angle_deg:.0f}°"
        lines.append(
            f"{toss.counts:>6g} {toss.flight:>10.2f} s {toss.rise_m:>6.1f} m {toss.apex_m:>13.1f} m   {release}"
        )
    lines.extend(f"{counts:>6g}   higher than any hall" for counts, _ in beyond)
    return "\n".join(lines)


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
    >>> from tempo_coach.observe.trace.flights import Flight
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
