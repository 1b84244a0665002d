"""A dial: the places of circles in the cycle, and the small circle on the big one, in text."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.report.drawings.unroll import DOTS, plane_path
from tempo_coach.signs import cut, pad

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.tracked_body import TrackedBody
    from tempo_coach.score.trace.study import CirclePhase

_PHASES = ("low", "rise", "high", "fall")
_LEAD = 8


def draw_places(places: Sequence[CirclePhase], *, taught: Sequence[float] = (), width: int = 78) -> str:
    """Return the cycle as a line from low point to low point, with its circles and their spread.

    Parameters
    ----------
    taught : sequence of float
        Places that are taught, 0 to 1, on a row of their own.

    Examples
    --------
    >>> from tempo_coach.score.trace.study import CirclePhase
    >>> print(draw_places([CirclePhase(0.41, 0.01, 12), CirclePhase(0.62, 0.05, 12)], width=40))
            low     rise    high    fall
    done                ╶●    ╶●──
    """
    columns = max(12, width - _LEAD)

    def column(at: float) -> int:
        return min(columns - 1, int(at % 1 * columns))

    names = "".join(pad(cut(tr(name), columns // 4 - 1), columns // 4) for name in _PHASES).rstrip()
    lines = [f"{'':{_LEAD}}{names}"]
    if taught:
        row = [" "] * columns
        for at in taught:
            row[column(at)] = "□"
        lines.append(f"{tr('taught'):{_LEAD}}{''.join(row).rstrip()}")
    row = [" "] * columns
    for place in places:
        first, last = column(place.at - place.sd), column(place.at + place.sd)
        spread = range(first, last + 1) if first <= last else [*range(first, columns), *range(last + 1)]
        for k in spread:
            row[k] = "─" if row[k] == " " else row[k]
        if len(spread) > 1 and row[first] == "─":
            row[first] = "╶"
    for place in places:
        row[column(place.at)] = "●"
    lines.append(f"{tr('done'):{_LEAD}}{''.join(row).rstrip()}")
    return "\n".join(lines)


def draw_path(body: TrackedBody, *, width: int = 40, height: int = 16) -> str:
    """Return the point's path in its plane as dots, to scale, with ● at the low point of each circle.

    Parameters
    ----------
    body : TrackedBody
        Of positions with two columns or three.
    width, height : int
        Columns and rows at most.

    Raises
    ------
    ValueError
        If the body has fewer than two columns of positions.
    """
    path, lows = plane_path(body)
    # a character is about twice as high as it is wide, and has two by four dots
    unit = max(float(np.ptp(path.real)) / (2 * width - 1), float(np.ptp(path.imag)) / (4 * height - 1), 1e-12)
    left, top = float(path.real.min()), float(path.imag.max())
    cells = np.zeros((height, width), dtype=np.int64)
    for x, y in zip(((path.real - left) / unit).astype(int), ((top - path.imag) / unit).astype(int), strict=True):
        cells[min(y // 4, height - 1), min(x // 2, width - 1)] |= DOTS[y % 4][x % 2]
    lines = [[chr(0x2800 + cell) if cell else " " for cell in row] for row in cells]
    for low in lows:
        row, column = int((top - low.imag) / unit) // 4, int((low.real - left) / unit) // 2
        lines[min(max(row, 0), height - 1)][min(max(column, 0), width - 1)] = "●"
    drawn = ["".join(line).rstrip() for line in lines]
    while drawn and not drawn[-1]:
        drawn.pop()
    return "\n".join([tr("{name}: its path, ● at the low point of each circle", name=body.name), *drawn])
