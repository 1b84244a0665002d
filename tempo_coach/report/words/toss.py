"""A toss in words: height, speed, release errors, moves under it; and flights of a trace beside it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.languages import tr, tr_as
from tempo_coach.observe.trace.flights import GRAVITY
from tempo_coach.pattern.toss.release import miss_catch
from tempo_coach.report.words.amounts import join_words, say_decimal
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.signs import columns, cut, pad, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.flights import Flight
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.toss.drag import DragToss
    from tempo_coach.pattern.toss.moves import MoveFit
    from tempo_coach.pattern.toss.planned import PlannedToss, TossTable
    from tempo_coach.pattern.toss.toss import Toss
    from tempo_coach.score.trace.throws import Tossed

CAUTION = "Before it is tossed at speed: clear space, a look at the height of the hall, and a coach."

BODIES = {"ball": "ball", "club": "club", "hoop on edge": "hoop on edge", "hoop face on": "hoop face on"}
ASSUMED = {
    "release": "release {metres:g} m",
    "catch": "catch {metres:g} m",
    "distance": "distance {metres:g} m",
}
_WORDS = {
    "angle_deg": ("degree flatter", "degree steeper", "{low:.1f} to {high:+.1f}°"),
    "speed_mps": ("0.1 m/s slower", "0.1 m/s faster", "{low:.1f} to {high:+.1f} m/s"),
    "release_s": ("20 ms early", "20 ms late", "{low:.0f} to {high:+.0f} ms"),
}


def format_toss(toss: Toss, with_drag: DragToss | None, *, width: int = 78) -> str:
    """Return the demands of a toss in sentences; in air where a body is given, with the range of the speed."""
    lasting = tr("{flight:.2f} s in the air", flight=toss.flight)
    if toss.counts is not None:
        lasting = tr(
            "{counts:.3g} counts at {tempo_bpm:.0f} beats a minute: {lasting}",
            counts=toss.counts,
            tempo_bpm=toss.tempo_bpm,
            lasting=lasting,
        )
    lines = [f"{lasting}."]
    lines.append(
        tr(
            "It rises {rise_m:.1f} m above the release, to {apex_m:.1f} m above the floor, at the top after "
            "{apex_time:.2f} s; at the catch it falls with {catch_vertical_mps:.1f} m/s.",
            rise_m=toss.rise_m,
            apex_m=toss.apex_m,
            apex_time=toss.apex_time,
            catch_vertical_mps=-toss.catch_vertical_mps,
        )
    )
    if with_drag is None:
        lines.append(
            tr(
                "Let go with {speed_mps:.1f} m/s at {angle_deg:.0f}° (without air).",
                speed_mps=toss.speed_mps,
                angle_deg=toss.angle_deg,
            )
        )
    else:
        fastest = with_drag.speed_high_mps
        upper = say_decimal(fastest, ".1f") if math.isfinite(fastest) else tr("more than anybody throws")
        lines.append(
            tr(
                "A {name} in air: let go with {speed_low_mps:.1f} to {upper} m/s at about {angle_deg:.0f}°; "
                "without air it would be {speed_mps:.1f} m/s. Teach the height, not the speed.",
                name=tr(BODIES[with_drag.body.name]),
                speed_low_mps=with_drag.speed_low_mps,
                upper=upper,
                angle_deg=with_drag.angle_deg,
                speed_mps=toss.speed_mps,
            )
        )
    if toss.assumed:
        given = {"release": toss.release_m, "catch": toss.catch_m, "distance": toss.distance_m}
        told = ", ".join(tr(ASSUMED[name], metres=given[name]) for name in toss.assumed)
        lines.append(tr("Assumed: {told}.", told=told))
    return _fold(lines, width)


def format_planned(planned: PlannedToss, *, from_count: int = 1, width: int = 78) -> str:
    """Return a planned toss: its demands, the picture of its flight, its release, moves under it, and a caution.

    Parameters
    ----------
    planned : PlannedToss
    from_count : int
        Count of the release, 1 to 8.
    width : int
    """
    from tempo_coach.report.drawings.flight import draw_flight

    parts = [
        format_toss(planned.toss, planned.drag, width=width),
        draw_flight(planned.toss, width=width, height=18, from_count=from_count),
        format_release(planned, width=width),
    ]
    if planned.fits:
        parts.append(format_fits(planned.fits, width=width))
    return "\n\n".join([*parts, say_caution(width=width)])


def say_caution(*, width: int = 78) -> str:
    """Return what is said before every toss at speed."""
    return _fold([tr(CAUTION)], width)


def _fold(sentences: Sequence[str], width: int) -> str:
    return "\n".join(part for each in sentences for part in wrap(each, width, subsequent_indent="  "))


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
    late = (
        tr("{late:.0f} ms later", late=abs(miss.late) * 1000)
        if miss.late > 0
        else tr("{late:.0f} ms earlier", late=abs(miss.late) * 1000)
    )
    return tr("let go {names}: it lands {place} and {late}", names=both, place=place, late=late)


def format_release(planned: PlannedToss, *, width: int = 78) -> str:
    """Return the effect of release errors on the catch, as rows, and how large they may be."""
    head = [
        tr(
            "If the release is off (the arm turning {turning_dps:.0f}° a second, estimated from the speed and the "
            "arm's length):"
            if planned.turning_estimated
            else "If the release is off (the arm turning {turning_dps:.0f}° a second):",
            turning_dps=planned.turning_dps,
        )
    ]
    lines: list[str] = []
    wide = max(16, *(columns(tr(word)) for *both, _ in _WORDS.values() for word in both))
    for row in planned.sensitivity:
        words = pad(tr(_WORDS[row["error"]][row["by"] > 0]), wide)
        if row["place_m"] is None:
            lines.append(f"  {words} {tr('it does not come up to the catch')}")
            continue
        place = tr(
            "{metres:.2f} m further" if row["place_m"] > 0 else "{metres:.2f} m nearer", metres=abs(row["place_m"])
        )
        late = (
            tr("{late_s:.0f} ms later", late_s=abs(row["late_s"]) * 1000)
            if row["late_s"] > 0
            else tr("{late_s:.0f} ms earlier", late_s=abs(row["late_s"]) * 1000)
        )
        lines.append(f"  {words} {pad(place, 18)} {late}")
    edges = []
    for error, (low, high) in planned.windows.items():
        scale = 1000 if error == "release_s" else 1
        edges.append(tr(_WORDS[error][2], low=low * scale, high=high * scale))
    limits = [
        tr(
            "Within a reach of {reach_m:g} m: {edge}, {edge_2}, {edge_3}, each alone.",
            reach_m=planned.reach_m,
            edge=edges[0],
            edge_2=edges[1],
            edge_3=edges[2],
        )
    ]
    before, after = planned.passing
    limits.append(
        tr(
            "It passes the hand's place in {before:.0f} ms: {before_2:.0f} before the catch, {after:.0f} after.",
            before=(before + after) * 1000,
            before_2=before * 1000,
            after=after * 1000,
        )
    )
    return "\n".join([_fold(head, width), *lines, _fold(limits, width)])


def format_fits(fits: Sequence[MoveFit], *, width: int = 78) -> str:
    """Return which moves fit into the flight, with the counts to spare or missing."""
    lines = [_fold([tr("Under it (lengths are common practice, and yours to edit):")], width)]
    names = [cut(tr(fit.move.name), width // 2) for fit in fits]
    wide = max(18, *map(columns, names))
    for name, fit in zip(names, fits, strict=True):
        if abs(fit.spare) < 1e-9:
            told = tr("just fits")
        elif fit.fits:
            told = tr("fits, {counts} to spare", counts=_say_counts(fit.spare))
        else:
            told = tr("{counts} too long", counts=_say_counts(-fit.spare))
        said = tr("{name}: {said}", name=_say_counts(fit.move.counts), said=told)
        lines.append(f"  {pad(name, wide)} {said}")
    return "\n".join(lines)


def _say_counts(counts: float) -> str:
    return tr("{counts:.2g} count", counts=counts) if counts == 1 else tr("{counts:.2g} counts", counts=counts)


def format_table(table: TossTable) -> str:
    """Return a table of tosses by counts, and a caution."""
    drags = table.drags
    heads = (tr("counts"), tr("in the air"), tr_as("column", "rise"), tr("above the floor"))
    rows: list[tuple[str, ...]] = []
    for number, toss in enumerate(table.tosses):
        drag = None if drags is None else drags[number]
        if drags is None:
            release = tr("{speed_mps:.1f} m/s at {angle_deg:.0f}°", speed_mps=toss.speed_mps, angle_deg=toss.angle_deg)
        elif drag is None:
            release = tr("faster than anybody throws")
        else:
            upper = say_decimal(drag.speed_high_mps, ".1f") if math.isfinite(drag.speed_high_mps) else "…"
            release = tr(
                "{speed_low_mps:.1f} to {upper} m/s at {angle_deg:.0f}°",
                speed_low_mps=drag.speed_low_mps,
                upper=upper,
                angle_deg=drag.angle_deg,
            )
        numbers = (
            f"{say_decimal(toss.flight, '.2f')} s",
            *(f"{say_decimal(m, '.1f')} m" for m in (toss.rise_m, toss.apex_m)),
        )
        rows.append((f"{toss.counts:g}", *numbers, release))
    wide = [max(columns(row[k]) for row in (heads, *rows)) for k in range(len(heads))]
    lines = [
        "   ".join([*(" " * (w - columns(told)) + told for told, w in zip(row, wide, strict=False)), row[-1]])
        for row in ((*heads, tr("release")), *rows)
    ]
    lines += [f"{counts:>{wide[0]}g}   {tr('higher than any hall')}" for counts, _ in table.beyond]
    return "\n".join([*lines, "", say_caution()])


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
