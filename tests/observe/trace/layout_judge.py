"""One table of readings, and whether the reader gives what it holds.

The readings are those of one invented movement, so that factors, signs and axes can be judged by their values.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.tables import read_trace
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.reasons import say_reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from tempo_coach.times import Floats

G = 9.80665
DEGREE = np.pi / 180
TIME = np.arange(200) / 50
_ANGLE = 2 * np.pi * TIME / 0.8
#: What the movement is, in m, m/s² (with gravity) and rad/s.
MOVED: dict[str, Floats] = {
    "position": np.column_stack([0.4 * np.cos(_ANGLE), 0.1 * np.sin(_ANGLE + 1), 1.3 + 0.4 * np.sin(_ANGLE)]),
    "acceleration": np.column_stack([2 * np.sin(_ANGLE), 0.7 * np.cos(_ANGLE), G + 1.5 * np.cos(_ANGLE + 0.4)]),
    "rotation": np.column_stack([7.5 + np.sin(_ANGLE), 0.8 * np.cos(_ANGLE), 0.5 * np.sin(_ANGLE + 0.7)]),
}
POSITION, ACCELERATION, ROTATION = MOVED["position"], MOVED["acceleration"], MOVED["rotation"]
LENGTH = np.linalg.norm(ACCELERATION, axis=1)
UNITS = {"position": "m", "acceleration": "m/s²", "rotation": "rad/s"}
#: A second point does the same, larger, so that the two cannot be taken for one another.
SECOND = 1.25

#: Quantity, point, axes, and how much larger than the movement it is.
Told = tuple[str, str, str, float]


@dataclass(frozen=True, eq=False)
class Layout:
    """One table, and what it must give.

    Parameters
    ----------
    name : str
    content : bytes
    gives : sequence of Told
        What can be used of it, in any order; no other column may be taken for something that moves.
    refused : str
        A word that the refusal has, where the table alone does not tell.
    file : str
        Its name.
    units, rate_hz, time_column
        Options that answer.
    time : numpy.ndarray
        Its times in seconds, from the first.
    said : str
        A word that one of the notes has.
    """

    name: str
    content: bytes
    gives: Sequence[Told] = ()
    refused: str = ""
    file: str = "recording.csv"
    units: Mapping[str, str] = field(default_factory=dict)
    rate_hz: float | None = None
    time: Floats = field(default_factory=lambda: TIME)
    said: str = ""


def write(
    header: str, *columns: Floats | Sequence[str], mark: str = ",", comma: bool = False, encoding: str = "utf-8"
) -> bytes:
    """Return a table: lines of header, and columns of numbers or words under it."""
    cells: list[list[str]] = []
    for column in columns:
        table = np.asarray(column)
        if table.dtype.kind in "US":
            cells.append([str(cell) for cell in table])
            continue
        for numbers in np.atleast_2d(table.T):
            written = [f"{value:.6f}" if abs(value) < 1e7 else f"{value:.0f}" for value in numbers]
            cells.append([cell.replace(".", ",") for cell in written] if comma else written)
    lines = [mark.join(row) for row in zip(*cells, strict=True)]
    return ("\n".join([header, *lines]) + "\n").encode(encoding)


def judge(layout: Layout, folder: Path) -> str:
    """Return what is wrong with what a table gives; empty where nothing is."""
    path = folder / layout.file
    path.write_bytes(layout.content)
    try:
        trace = read_trace(path, units=layout.units, rate_hz=layout.rate_hz)
    except CoachError as error:
        return "" if layout.refused and layout.refused in say_error(error) else f"refused: {say_error(error)}"
    if layout.refused:
        return f"not refused, but read as {[(c.quantity, c.axis, c.point) for c in trace.channels]}"
    if trace.time.size != layout.time.size or not np.allclose(
        trace.time - trace.time[0], layout.time - layout.time[0], atol=2e-4
    ):
        return f"times {trace.time[:3]} to {trace.time[-1]}, {trace.time.size} of them"
    wanted = {
        (quantity, axis, point): size * (MOVED[quantity][:, "xyz".index(axis)] if axis else LENGTH)
        for quantity, point, axes, size in layout.gives
        for axis in (axes or ("",))
    }
    got = {
        (c.quantity, c.axis, c.point): (c.unit, trace.values[:, k])
        for k, c in enumerate(trace.channels)
        if c.quantity != "other"
    }
    if set(got) != set(wanted):
        return f"expected {sorted(wanted)}, got {sorted(got)}"
    for key, numbers in wanted.items():
        unit, values = got[key]
        if unit != UNITS[key[0]]:
            return f"{key} is in {unit!r}"
        known = ~np.isnan(values)
        # between two stamps of another sensor a reading is drawn as a line, which the ends of the table do not have
        if known.mean() < 0.98 or np.abs(values - numbers)[known].max() > 0.04 * np.ptp(numbers) + 1e-4:
            return f"{key} runs from {values[known].min():.4g} to {values[known].max():.4g}"
    if layout.said and not any(layout.said in note for note in map(say_reason, trace.notes)):
        return f"nothing says {layout.said}"
    return ""
