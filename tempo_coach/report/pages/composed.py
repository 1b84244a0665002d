"""Everything that a trace showed as one picture: unrolled, where the circles fall, the path, and the phase of two."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.report.drawings.svg import BLUE, INK, PALE, Drawing, drawing, path, tag
from tempo_coach.report.drawings.unroll import path_svg, periods_svg, places_svg, unrolled_svg
from tempo_coach.report.words.amounts import say_decimal
from tempo_coach.score.trace.body_lag import follow_phase

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.score.trace.study import Study
    from tempo_coach.times import Floats

_GAP, _WIDE, _DIAL = 16, 720, 340
#: Points of a line that a screen can show apart.
_POINTS = 1200


def study_svg(found: Study, *, taught: Sequence[float] = (), asked: float | None = None) -> Drawing:
    """Return the pictures of a study, stacked, as SVG.

    Parameters
    ----------
    taught : sequence of float
        Places of the circles that are taught, 0 to 1 from the cycle's low point.
    asked : float or None
        Period that was asked for, s.

    Returns
    -------
    str
        The main body unrolled; beside one another the places of its circles round the cycle (where something carries
        them) and its path (where positions are known); the period of each cycle; and the course of the second body's
        phase, where there is one whose lag can be told.
    """
    body = found.main
    mine = [flag for name, flag in found.uneven if name == body.name]
    rows = [[unrolled_svg(body, mine, width=_WIDE)]]
    dials = []
    if found.places:
        dials.append(places_svg(found.places, taught=taught, size=_DIAL))
    if body.trace.quantity == "position" and body.trace.values.shape[1] > 1:
        dials.append(path_svg(body, size=_DIAL))
    rows += [dials] if dials else []
    rows.append([periods_svg(body, mine, asked=asked, width=_WIDE)])
    if len(found.bodies) > 1 and not found.lags[0].reason:
        lag = found.lags[0]
        time, degrees = follow_phase(found.bodies[1], body)
        if time.size:
            name = tr("{of} behind {to}", of=tr(lag.of), to=tr(lag.to))
            rows.append([phase_svg(time, degrees, title=name, asked=lag.asked_deg, mean=lag.lag.degrees, width=_WIDE)])
    top, parts = 0.0, []
    for row in rows:
        left = 0.0
        for picture in row:
            parts.append(picture.at(left, top))
            left += picture.width + _GAP
        top += max(picture.height for picture in row) + _GAP
    return drawing(tr("{name}: what the trace shows", name=tr(body.name)), _WIDE, top, parts)


def phase_svg(
    time: Floats,
    degrees: Floats,
    *,
    title: str,
    asked: float = math.nan,
    mean: float = math.nan,
    width: int = _WIDE,
    height: int = 180,
) -> Drawing:
    """Return the phase between two bodies over time as SVG, a whole turn from bottom to top.

    Parameters
    ----------
    time, degrees : numpy.ndarray, shape (n,)
        As :func:`tempo_coach.score.trace.body_lag.follow_phase` gives them.
    asked, mean : float
        Degrees that were asked, drawn as a dashed line, and the mean of the discrete lags; NaN for none.
    """
    middle = next((value for value in (asked, mean) if math.isfinite(value)), 0.0)
    near = middle + 180 - np.mod(180 - (degrees - middle), 360)
    half_range = max(45.0, float(np.abs(near - middle).max()) * 1.1)
    left, top, low = 70, 24, height - 24

    def seat(at: float, value: float) -> tuple[float, float]:
        along = (at - time[0]) / max(float(time[-1] - time[0]), 1e-9)
        return left + along * (width - left - 20), (top + low) / 2 - (value - middle) / half_range * (low - top) / 2

    head = tr("{title}: degrees over seconds, a cycle cut off at each end", title=title)
    parts = [tag("text", head, x=4, y=14, font_size=11, fill=INK)]
    told = -math.inf
    for value, dashes in ((asked, "6 4"), (mean, "")):
        if math.isfinite(value):
            shown = middle + 180 - (180 - (value - middle)) % 360
            y = seat(float(time[0]), shown)[1]
            parts.append(tag("line", x1=left, x2=width - 20, y1=y, y2=y, stroke=PALE, stroke_dasharray=dashes))
            if abs(y - told) > 11:
                parts.append(tag("text", f"{value:.0f}°", x=4, y=y + 4, font_size=11, fill=INK))
                told = y
    step = max(1, time.size // _POINTS)
    pause = 3 * step * float(np.median(np.diff(time))) if time.size > 1 else math.inf
    thin_time, thin = time[::step], near[::step]
    cuts = np.flatnonzero((np.diff(thin_time) > pause) | (np.abs(np.diff(thin)) > 180)) + 1
    for piece in np.split(np.arange(thin_time.size), cuts):
        points = path(seat(float(thin_time[k]), float(thin[k])) for k in piece)
        parts.append(tag("polyline", points=points, fill="none", stroke=BLUE, stroke_width=1.5))
    for at in (float(time[0]), float(time[-1])):
        x = seat(at, middle)[0]
        parts.append(
            tag("text", f"{say_decimal(at, '.1f')} s", x=x, y=height - 6, font_size=11, text_anchor="middle", fill=INK)
        )
    return drawing(tr("{title}: phase over time", title=title), width, height, parts)
