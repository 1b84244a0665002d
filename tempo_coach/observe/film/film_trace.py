"""The trace of a film: positions and confidence of its markers, their gaps, and the trace as the text of a table."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.trace import TIMING_SD
from tempo_coach.signs import cells

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from tempo_coach.observe.film.colours import Colour
    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.reasons import Reason
    from tempo_coach.times import Bools, Floats


@dataclass(frozen=True, eq=False)
class FilmTrace:
    """A film and the trace of its markers.

    Parameters
    ----------
    film : Film
    trace : Trace
        Positions in pixels, y upwards, in seconds of real time on the film's clock; NaN in gaps. Each marker has two
        columns and, after them, its confidence (a column without a quantity).
    colours : tuple of Colour
        One a marker.
    moves : ndarray, shape (n, 2, 3)
        Affine transforms from the trace to each picture: the camera's motion, to draw a path over it.
    notes : tuple of Reason
        Sentences for the user.
    """

    film: Film
    trace: Trace
    colours: tuple[Colour, ...]
    moves: NDArray[np.float64]
    notes: tuple[Reason, ...]

    @property
    def timing_sd(self) -> Mapping[str, float]:
        """SD in seconds of the time of a cycle's mark, for each region followed without a marker."""
        return self.trace.timing_sd

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the markers."""
        return tuple(channel.point for channel in self.trace.channels if channel.axis == "x")

    def share_seen(self, name: str) -> float:
        """Share of the pictures in which a marker was seen."""
        return float(np.mean(self._seen(name)))

    def confidence(self, name: str) -> Floats:
        """Confidence of each row of a marker, 0 to 1."""
        return self.trace.values[:, self._at(name) + 2]

    def in_picture(self, name: str) -> Floats:
        """Positions of a marker in each picture, shape (n, 2): pixels from the upper left corner, y down."""
        level = self.trace.values[:, self._at(name) : self._at(name) + 2] * (1, -1)
        return np.asarray(np.einsum("nij,nj->ni", self.moves[:, :, :2], level) + self.moves[:, :, 2])

    def gaps(self, name: str) -> list[tuple[float, float]]:
        """Stretches in which a marker was not seen, in seconds of the trace: last seen, next seen."""
        time, seen = self.trace.time, self._seen(name)
        edges = np.flatnonzero(np.diff(np.concatenate([[True], seen, [True]]).astype(int)))
        return [
            (float(time[max(a - 1, 0)]), float(time[min(b, time.size - 1)]))
            for a, b in zip(edges[::2], edges[1::2], strict=True)
        ]

    def _seen(self, name: str) -> Bools:
        return np.asarray(~np.isnan(self.trace.values[:, self._at(name)]) & (self.confidence(name) > 0))

    def _at(self, name: str) -> int:
        return next(i for i, channel in enumerate(self.trace.channels) if channel.point == name)


def trace_to_csv(trace: Trace) -> str:
    """Return a film's trace as the text of a table: time in s, positions in pixels with y pointing down.

    :func:`tempo_coach.observe.trace.tables.read_trace` reads it back, y turned upwards again.
    """
    signs = [-1.0 if channel.axis == "y" else 1.0 for channel in trace.channels]
    dials = [f"{name}{TIMING_SD}" for name in trace.timing_sd]
    further = [f"{sd:.6f}" if math.isfinite(sd) else "" for sd in trace.timing_sd.values()]
    lines = [cells(["time (s)", *(channel.name for channel in trace.channels), *dials])]
    for time, row in zip(trace.time, trace.values, strict=True):
        read = ["" if math.isnan(value) else f"{value * sign:.3f}" for value, sign in zip(row, signs, strict=True)]
        lines.append(",".join([f"{time:.6f}", *read, *further]) + "\n")
    return "".join(lines)
