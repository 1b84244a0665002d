"""A planned toss in words: height, speed, release errors, moves under it; and a table of tosses by counts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr, tr_as
from tempo_coach.report.words.amounts import say_decimal
from tempo_coach.signs import columns, cut, pad, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.toss.drag import DragToss
    from tempo_coach.pattern.toss.moves import MoveFit
    from tempo_coach.pattern.toss.planned import PlannedToss, TossTable
    from tempo_coach.pattern.toss.toss import Toss

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
        lines.append(f"  {words} {pad(place, 18)} {say_late(row['late_s'])}")
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


def say_late(late: float) -> str:
    """Return how much later or earlier something lands.

    Parameters
    ----------
    late : float
        Seconds; negative is early.
    """
    return tr("{late:.0f} ms later" if late > 0 else "{late:.0f} ms earlier", late=1000 * abs(late))


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
