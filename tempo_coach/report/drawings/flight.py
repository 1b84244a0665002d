"""The picture of a toss, with the counts along it: in text by braille dots, and as SVG. Pure values in, text out.

Both pictures are drawn to scale unless a toss is so steep that its path would be a single column.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.report.drawings.svg import BLUE, INK, ORANGE, drawing, tag
from tempo_coach.report.words.amounts import say_decimal
from tempo_coach.signs import wrap

if TYPE_CHECKING:
    from tempo_coach.pattern.toss.toss import Toss

_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))  # braille patterns: four rows of two dots (Unicode)
_AXIS = 6  # columns for the metres at the left


def mark_counts(toss: Toss, *, from_count: int = 1) -> list[tuple[float, str]]:
    """Return the instants of the whole counts of a flight, s from the release, and their names.

    Parameters
    ----------
    toss : Toss
        Without counts its half seconds are marked.
    from_count : int
        The count on which it is let go; after 8 comes 1.

    Raises
    ------
    ValueError
        If there is no such count.

    Examples
    --------
    >>> from tempo_coach.pattern.toss.solver import solve_toss
    >>> mark_counts(solve_toss(counts=3, tempo_bpm=120), from_count=7)
    [(0.0, '7'), (0.5, '8'), (1.0, '1'), (1.5, '2')]
    """
    if not 1 <= from_count <= 8:
        raise ValueError(f"a count is 1 to 8, got {from_count}")
    if toss.counts is None:
        return [(k / 2, f"{k / 2:g} s") for k in range(math.floor(toss.flight * 2 + 1e-9) + 1)]
    beat = toss.flight / toss.counts
    return [(k * beat, str((from_count - 1 + k) % 8 + 1)) for k in range(math.floor(toss.counts + 1e-9) + 1)]


def draw_flight(toss: Toss, *, width: int = 60, height: int = 18, from_count: int = 1) -> str:
    """Return the flight as text: metres on the left, the path in dots with its counts, the floor below.

    Parameters
    ----------
    width, height : int
        Columns and rows, at least 30 and 8.
    from_count : int
        The count on which it is let go.

    Returns
    -------
    str
        Lines no longer than ``width``; without colour.

    Raises
    ------
    ValueError
        If there is no room for it.
    """
    if width < 30 or height < 8:
        raise ValueError(f"a flight needs 30 columns and 8 rows, got {width} and {height}")
    columns, rows = width - _AXIS - 8, height - 3
    top = toss.apex_m * 1.05
    per_row = top / rows
    # a character is about twice as high as it is wide: a column is half as many metres as a row, if that fits
    per_column = max(per_row / 2, toss.distance_m / (columns - 4))
    left = (columns - toss.distance_m / per_column) / 2
    cells = np.zeros((rows, columns), dtype=np.int64)
    along, up = toss.place_at(np.linspace(0, toss.flight, 40 * rows))
    for x, z in zip(along, up, strict=True):
        column, row = _cell(x / per_column + left, z / per_row, columns, rows)
        fine_column, fine_row = int((x / per_column + left) * 2) % 2, int((rows - z / per_row) * 4) % 4
        cells[row, column] |= _DOTS[fine_row][fine_column]
    lines = [[chr(0x2800 + cell) if cell else " " for cell in row] + [" "] * 8 for row in cells]
    for seconds, name in mark_counts(toss, from_count=from_count):
        x, z = (float(value) for value in toss.place_at(seconds))
        column, row = _cell(x / per_column + left, z / per_row, columns, rows)
        rising = seconds <= toss.apex_time
        start = max(column - len(name) - 1, 0) if rising else column + 2
        lines[row][start : start + len(name)] = name
    scale = _metre_marks(top, rows)
    drawn = [f"{scale.get(row, ''):>{_AXIS - 1}}│{''.join(line)}".rstrip() for row, line in enumerate(lines)]
    floor = f"{'0 m':>{_AXIS - 1}}└{'─' * columns}"
    told = tr(
        "let go at {release_m:.1f} m, {speed_mps:.1f} m/s, {angle_deg:.0f}°; top {apex_m:.1f} m; caught at "
        "{catch_m:.1f} m, {distance_m:.1f} m away",
        release_m=toss.release_m,
        speed_mps=toss.speed_mps,
        angle_deg=toss.angle_deg,
        apex_m=toss.apex_m,
        catch_m=toss.catch_m,
        distance_m=toss.distance_m,
    )
    if per_column > per_row * 0.75:
        told = f"{told} ({tr('drawn narrower than it is')})"
    return "\n".join([*drawn, floor, *wrap(told, width)])


def _cell(column: float, row_from_floor: float, columns: int, rows: int) -> tuple[int, int]:
    return min(max(int(column), 0), columns - 1), min(max(int(rows - row_from_floor), 0), rows - 1)


def _metre_marks(top: float, rows: int) -> dict[int, str]:
    """Return the labels on the left by row: whole metres, at least two rows apart."""
    step = next(step for step in (1, 2, 5, 10) if step * rows / top >= 2)
    marks = {}
    for metres in range(step, int(top) + 1, step):
        marks[min(max(int(rows - metres / top * rows), 0), rows - 1)] = f"{metres} m"
    return marks


def draw_flight_svg(toss: Toss, *, width: int = 480, height: int = 480, from_count: int = 1) -> str:
    """Return the flight as one SVG element, to scale, with a title and a description for screen readers.

    Parameters
    ----------
    width, height : int
        In px, at least 160 each.
    from_count : int
        The count on which it is let go.

    Raises
    ------
    ValueError
        If there is no room for it.
    """
    if width < 160 or height < 160:
        raise ValueError(f"a flight needs 160 px each way, got {width} and {height}")
    margin, top = 48.0, toss.apex_m * 1.08
    px = min((height - 2 * margin) / top, (width - 2 * margin) / max(toss.distance_m, 0.1))
    left = margin + ((width - 2 * margin) - px * toss.distance_m) / 2
    floor = height - margin

    def at(seconds: float) -> tuple[float, float]:
        along, up = toss.place_at(seconds)
        return left + px * float(along), floor - px * float(up)

    # a parabola is one quadratic curve: its control point is where the tangents at both ends meet, at half the flight
    (x0, y0), (x1, y1) = at(0.0), at(toss.flight)
    control = floor - px * (toss.release_m + toss.up_mps * toss.flight / 2)
    lasting = tr(
        "{flight:.2f} s" if toss.counts is None else "{counts:g} counts, {flight:.2f} s",
        counts=toss.counts,
        flight=toss.flight,
    )
    told = tr(
        "In the air {lasting}; let go at {release_m:.2f} m with {speed_mps:.1f} m/s at "
        "{angle_deg:.0f} degrees, top {apex_m:.2f} m above the floor, caught at {catch_m:.2f} m, {distance_m:.2f} "
        "m away.",
        lasting=lasting,
        release_m=toss.release_m,
        speed_mps=toss.speed_mps,
        angle_deg=toss.angle_deg,
        apex_m=toss.apex_m,
        catch_m=toss.catch_m,
        distance_m=toss.distance_m,
    )
    parts = [tag("desc", told), tag("line", x1=margin, y1=floor, x2=width - margin, y2=floor, stroke=INK)]
    step = next(step for step in (1, 2, 5, 10) if step * px >= 24 or step == 10)
    for metres in range(0, int(top) + 1, step):
        y = floor - px * metres
        parts.append(tag("text", f"{metres} m", x=margin - 6, y=y + 5, text_anchor="end", fill=INK))
        parts.append(tag("line", x1=margin - 4, y1=y, x2=margin, y2=y, stroke=INK))
    curve = f"M {x0:.2f} {y0:.2f} Q {(x0 + x1) / 2:.2f} {control:.2f} {x1:.2f} {y1:.2f}"
    parts.append(tag("path", d=curve, fill="none", stroke=BLUE, stroke_width=3))
    for seconds, name in mark_counts(toss, from_count=from_count):
        x, y = at(seconds)
        side, anchor = (-10, "end") if seconds <= toss.apex_time else (10, "start")
        bold = {"text_anchor": anchor, "fill": INK, "font_weight": "bold"}
        parts.append(tag("circle", digits=2, cx=x, cy=y, r=5, fill=ORANGE))
        parts.append(tag("text", name, digits=2, x=x + side, y=y + 5, **bold))
    x, y = at(toss.apex_time)
    highest = f"{say_decimal(toss.apex_m, '.1f')} m"
    parts.append(tag("text", highest, digits=2, x=x, y=y - 12, text_anchor="middle", fill=INK))
    return str(drawing(tr("The flight, with its counts"), width, height, parts, font_size=14)) + "\n"
