"""A movement unrolled: one row a cycle, its circles marked, the uneven ones set apart. In text and as SVG."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.observe.trace.sizes import measure_cycles
from tempo_coach.report.drawings.svg import BLUE, INK, ORANGE, PALE, Drawing, drawing, path, tag
from tempo_coach.report.words.amounts import say_decimal
from tempo_coach.report.words.trace import say_uneven

if TYPE_CHECKING:
    from collections.abc import Sequence

    from markupsafe import Markup

    from tempo_coach.observe.trace.filters import Complexes
    from tempo_coach.observe.trace.tracked_body import TrackedBody
    from tempo_coach.observe.trace.uneven import Uneven
    from tempo_coach.score.trace.study import CirclePhase
    from tempo_coach.times import Floats

DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))  # braille patterns: four rows of two dots (Unicode)
_LEAD = 14
_CIRCLE, _LATE = "●", "◆"


def draw_unrolled(body: TrackedBody, uneven: Sequence[Uneven] = (), *, width: int = 78, rows: int = 40) -> str:
    """Return the movement as text: for each cycle a row of its reading in dots, and a row of marks for its circles.

    Parameters
    ----------
    uneven : sequence of Uneven
        Those of this body; their rows carry ◆ instead of ● and end in words.
    width, rows : int
        Columns to fill, and cycles to show at most.

    Returns
    -------
    str
        Every row is as long as the longest cycle shown: a long cycle sticks out at the right. Where sizes show, the
        radius of each cycle stands before it, and all rows have one height.
    """
    starts, ends = body.cycles.starts[:rows], body.cycles.ends[:rows]
    if not starts.size:
        return tr("{name}: no whole cycle to draw", name=tr(body.name))
    longest, reading = float((ends - starts).max()), _along(body)
    radii = _say_radii(body, starts.size)
    lead = _LEAD + max(map(len, radii), default=0)
    columns = max(10, width - lead)
    lines = [
        (
            tr(
                "{name}: one row a cycle, the longest {longest:.3f} s, and its radius",
                name=tr(body.name),
                longest=longest,
            )
            if radii
            else tr("{name}: one row a cycle, the longest {longest:.3f} s", name=tr(body.name), longest=longest)
        )
    ]
    highest = _highest(body, starts, ends, reading)
    for number, (start, end, broken) in enumerate(zip(starts, ends, _broken(starts, ends, uneven), strict=True)):
        length = max(2, round(columns * (end - start) / longest))
        values = np.interp(np.linspace(start, end, 2 * length), *reading)
        radius = radii[number] if radii else ""
        lines.append(f"{number + 1:4d} {say_decimal(end - start, '6.3f')} s {radius}{_braille(values, highest)}")
        marks = [" "] * columns
        circles = slice(*np.searchsorted(body.circles.time, [start - 1e-9, end - 1e-9]))
        for time in body.circles.time[circles]:
            marks[min(columns - 1, int((time - start) / longest * columns))] = _LATE if broken else _CIRCLE
        row = "".join(marks).rstrip()
        if row or broken:
            lines.append(f"{'':{lead}}{row}")
        lines += [
            f"{'':{lead}}{_LATE} {say_uneven(flag)}" for flag in broken if start <= flag.start + 1e-9 or number == 0
        ]
    hidden = body.cycles.starts.size - starts.size
    return "\n".join([*lines, tr("{hidden} more cycles are not shown", hidden=hidden)] if hidden else lines)


def draw_periods(body: TrackedBody, *, asked: float | None = None, width: int = 78) -> str:
    """Return the period of each cycle as text: a mark on a line from the shortest to the longest.

    Parameters
    ----------
    asked : float or None
        The period that was asked for, drawn as an upright line; by default the median.
    """
    periods = body.cycles.periods
    if not periods.size:
        return tr("{name}: no whole cycle to draw", name=tr(body.name))
    middle = float(np.median(periods)) if asked is None else asked
    half_range = max(float(np.abs(periods - middle).max()), 0.025 * middle) * 1.05
    columns = max(11, (width - _LEAD) | 1)
    lines = [
        (
            tr(
                "{name}: median {middle:.3f} s in the middle, ± {half_range:.3f} s",
                name=tr(body.name),
                middle=middle,
                half_range=half_range,
            )
            if asked is None
            else tr(
                "{name}: asked {middle:.3f} s in the middle, ± {half_range:.3f} s",
                name=tr(body.name),
                middle=middle,
                half_range=half_range,
            )
        )
    ]
    for number, period in enumerate(periods):
        row = [" "] * columns
        row[columns // 2] = "│"
        row[round((period - middle + half_range) / (2 * half_range) * (columns - 1))] = _CIRCLE
        lines.append(f"{number + 1:4d} {say_decimal(period, '6.3f')} s {''.join(row).rstrip()}")
    return "\n".join(lines)


def unrolled_svg(body: TrackedBody, uneven: Sequence[Uneven] = (), *, width: int = 720) -> Drawing:
    """Return the movement unrolled as SVG, one row a cycle; an uneven row is orange and labelled.

    Where sizes show, all rows have one height, so that a bigger cycle is drawn bigger.
    """
    starts, ends = body.cycles.starts, body.cycles.ends
    row, left = 34, 70
    height = 40 + row * max(starts.size, 1)
    parts = []
    longest = float((ends - starts).max()) if starts.size else 1.0
    scale, reading = (width - left - 20) / longest, _along(body)
    highest = _highest(body, starts, ends, reading)
    for number, (start, end, broken) in enumerate(zip(starts, ends, _broken(starts, ends, uneven), strict=True)):
        top = 30 + number * row
        colour = ORANGE if broken else BLUE
        values = np.interp(np.linspace(start, end, 80), *reading)
        steps = np.linspace(0, (end - start) * scale, values.size)
        points = path((left + x, top + row - 8 - 22 * y) for x, y in zip(steps, _unit(values, highest), strict=True))
        label = f"{number + 1}: {say_decimal(end - start, '.3f')} s"
        parts.append(tag("text", label, x=4, y=top + 20, font_size=11, fill=INK))
        parts.append(tag("polyline", points=points, fill="none", stroke=PALE, stroke_width=1.5))
        circles = slice(*np.searchsorted(body.circles.time, [start - 1e-9, end - 1e-9]))
        places = left + (body.circles.time[circles] - start) * scale
        parts += [_mark(x, top + row - 6, colour, square=bool(broken)) for x in places]
        if broken:
            words = "; ".join(say_uneven(flag) for flag in broken)
            parts.append(tag("text", words, x=left, y=top + 6, font_size=10, fill=ORANGE))
    return drawing(tr("{name}: one row a cycle", name=tr(body.name)), width, height, parts)


def periods_svg(
    body: TrackedBody,
    uneven: Sequence[Uneven] = (),
    *,
    asked: float | None = None,
    width: int = 720,
    height: int = 180,
) -> Drawing:
    """Return the period of each cycle as SVG: marks, and a line at the asked period, or else at their median.

    Parameters
    ----------
    uneven : sequence of Uneven
        Those of this body; their cycles are orange squares.
    asked : float or None
        s.
    """
    periods, starts = body.cycles.periods, body.cycles.starts
    title = tr("{name}: period of each cycle", name=tr(body.name))
    if not periods.size:
        return drawing(title, width, height, [])
    middle = float(np.median(periods)) if asked is None else asked
    half_range = max(float(np.abs(periods - middle).max()), 0.025 * middle) * 1.15
    left, top, low = 70, 24, height - 24
    parts = [
        tag(
            "text",
            tr(
                "period of each cycle, median {middle:.3f} s"
                if asked is None
                else "period of each cycle, asked {middle:.3f} s",
                middle=middle,
            ),
            x=4,
            y=14,
            font_size=11,
            fill=INK,
        ),
        tag("line", x1=left, x2=width - 20, y1=(top + low) / 2, y2=(top + low) / 2, stroke=PALE),
    ]
    for at, word in ((top, f"+{say_decimal(half_range, '.3f')} s"), (low, f"−{say_decimal(half_range, '.3f')} s")):
        parts.append(tag("text", word, x=4, y=at + 4, font_size=11, fill=INK))
    span = max(float(starts[-1] - starts[0]), 1e-9)
    of_cycles = _broken(starts, body.cycles.ends, uneven)
    for start, period, broken in zip(starts, periods, of_cycles, strict=True):
        x = left + 8 + (start - starts[0]) / span * (width - left - 36)
        y = (top + low) / 2 - (period - middle) / half_range * (low - top) / 2
        parts.append(_mark(float(x), float(y), ORANGE if broken else BLUE, square=bool(broken)))
    return drawing(title, width, height, parts)


def places_svg(places: Sequence[CirclePhase], *, taught: Sequence[float] = (), size: int = 320) -> Drawing:
    """Return the phases of the circles as SVG: low point at the bottom, spread as arcs.

    Parameters
    ----------
    taught : sequence of float
        Places that are taught, 0 to 1, drawn as hollow squares.
    """
    middle, radius = size / 2, 0.36 * size
    parts = [
        tag("circle", cx=middle, cy=middle, r=radius, fill="none", stroke=PALE),
    ]
    for name, part in (("low", 0.0), ("rise", 0.25), ("high", 0.5), ("fall", 0.75)):
        x, y = _round(part, middle, 1.22 * radius)
        parts.append(tag("text", tr(name), x=x, y=y, font_size=12, text_anchor="middle", fill=INK))
    for at in taught:
        x, y = _round(at, middle, radius)
        parts.append(tag("rect", x=x - 6, y=y - 6, width=12, height=12, fill="none", stroke=INK))
    for place in places:
        arc = [_round(place.at + place.sd * part, middle, 0.92 * radius) for part in np.linspace(-1, 1, 15)]
        parts.append(tag("polyline", points=path(arc), fill="none", stroke=BLUE, stroke_width=3))
        parts.append(_mark(*_round(place.at, middle, radius), BLUE, square=False))
    return drawing(tr("places of the circles in the cycle"), size, size, parts)


def path_svg(body: TrackedBody, *, size: int = 320) -> Drawing:
    """Return the point's path in its plane as SVG, with the low points of its circles: small ones on the big one.

    Raises
    ------
    ValueError
        If the body has fewer than two columns of positions.
    """
    way, lows = plane_path(body)
    span = max(float(np.ptp(way.real)), float(np.ptp(way.imag)), 1e-9)
    centre = (way.real.min() + way.real.max()) / 2 + 1j * ((way.imag.min() + way.imag.max()) / 2)

    def seat(z: complex) -> tuple[float, float]:
        there = (z - centre) / span * 0.88 * size
        return size / 2 + there.real, size / 2 - there.imag

    step = max(1, way.size // 1500)
    parts = [tag("polyline", points=path(map(seat, way[::step])), fill="none", stroke=PALE, stroke_width=1)]
    parts += [_mark(*seat(z), BLUE, square=False) for z in lows]
    return drawing(tr("{name}: path with the low points of its circles", name=tr(body.name)), size, size, parts)


def plane_path(body: TrackedBody) -> tuple[Complexes, Complexes]:
    """Return a body's path in its plane while it moves, and the low points of its circles.

    Raises
    ------
    ValueError
        If the body has fewer than two columns of positions.
    """
    from tempo_coach.observe.trace.circles import to_plane

    trace = body.trace
    if trace.quantity != "position" or trace.values.shape[1] < 2:
        raise ValueError("expected positions in a plane")
    known = ~np.isnan(trace.values).any(axis=1)
    time, path = trace.time[known], to_plane(trace.values[known], trace.axes)
    lows = np.interp(body.circles.time, time, path.real) + 1j * np.interp(body.circles.time, time, path.imag)
    return path[(time >= body.cycles.time[0]) & (time <= body.cycles.time[-1])], lows


def _broken(starts: Floats, ends: Floats, uneven: Sequence[Uneven]) -> list[list[Uneven]]:
    """Return the faults of each cycle."""
    found: list[list[Uneven]] = [[] for _ in starts]
    for flag in uneven:
        first = int(np.searchsorted(ends, flag.start + 1e-9, side="right"))
        for cycle in range(first, int(np.searchsorted(starts, flag.end - 1e-9))):
            found[cycle].append(flag)
    return found


def _along(body: TrackedBody) -> tuple[Floats, Floats]:
    """Return times and readings along the body's own direction, gaps left out."""
    values = body.trace.values
    along = values @ body.cycles.direction if body.cycles.direction.size == values.shape[1] else values[:, 0]
    known = ~np.isnan(along)
    return body.trace.time[known], along[known]


def _highest(body: TrackedBody, starts: Floats, ends: Floats, reading: tuple[Floats, Floats]) -> float:
    """Return the span of readings that fills a row: that of the biggest cycle if sizes show, else 0 (each its own)."""
    if measure_cycles(body) is None:
        return 0.0
    spans = [np.ptp(np.interp(np.linspace(a, b, 80), *reading)) for a, b in zip(starts, ends, strict=True)]
    return float(max(spans, default=0.0))


def _say_radii(body: TrackedBody, many: int) -> list[str]:
    """Return the label of each cycle's radius; empty where sizes do not show."""
    sizes = measure_cycles(body)
    if sizes is None:
        return []
    said = [
        "?" if math.isnan(radius) else f"{say_decimal(radius, '.3g')} {body.trace.unit}"
        for radius in sizes.radius[:many]
    ]
    return [f"{each:>{max(map(len, said))}} " for each in said]


def _unit(values: Floats, highest: float = 0.0) -> Floats:
    """Return values as fractions of a row's height, about its middle."""
    span = max(float(np.ptp(values)), highest)
    middle = (values.max() + values.min()) / 2
    return np.asarray((values - middle) / span + 0.5 if span > 0 else np.full(values.size, 0.5))


def _braille(values: Floats, highest: float = 0.0) -> str:
    """Return values as one row of text: two a character, four heights."""
    heights = np.rint((1 - _unit(values, highest)) * 3).astype(int)
    cells = [
        chr(0x2800 + DOTS[left][0] + DOTS[right][1]) for left, right in zip(heights[::2], heights[1::2], strict=False)
    ]
    return "".join(cells)


def _round(part: float, middle: float, radius: float) -> tuple[float, float]:
    """A place of the cycle on the dial: low at the bottom, going up on the right."""
    angle = 2 * math.pi * part
    return middle + radius * math.sin(angle), middle + radius * math.cos(angle)


def _mark(x: float, y: float, colour: str, *, square: bool) -> Markup:
    if square:
        return tag("rect", x=x - 4, y=y - 4, width=8, height=8, fill=colour)
    return tag("circle", cx=x, cy=y, r=4, fill=colour)
