"""Spots of neighbouring pictures joined to runs, while there is no doubt which is which.

Where two markers meet, both runs end: which is which afterwards is not for a single picture to say.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.spots import Spots
    from tempo_coach.times import Floats

#: How far a spot may lie from where its run would go: in markers' radii, and in shares of the last step.
_GATE_RADII = 2.2
_GATE_STEPS = 0.45
#: Pictures that a run may miss.
_MISSES = 1
#: Spots of a run from which its next place is worked out.
_MEMORY = 5
#: Shortest run that is kept, in spots.
SHORTEST = 3
#: A spot this many times larger than its run's is two markers, or a marker and something else.
_MERGED = 1.55


@dataclass(eq=False)
class Run:
    """Spots of neighbouring pictures that are surely one thing: columns of equal length, which grow with each spot.

    Parameters
    ----------
    frames : list of int
        Numbers of the pictures.
    times : list of float
        Seconds on the film's clock.
    x, y : list of float
        Pixels, y downwards.
    mass, peak : list of float
        As in :class:`tempo_coach.observe.spots.Spots`.
    """

    frames: list[int] = field(default_factory=list)
    times: list[float] = field(default_factory=list)
    x: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    mass: list[float] = field(default_factory=list)
    peak: list[float] = field(default_factory=list)

    def add(self, frame: int, time: float, spots: Spots, k: int) -> None:
        """Take up the spot ``k`` of a picture."""
        self.frames.append(frame)
        self.times.append(time)
        self.x.append(float(spots.x[k]))
        self.y.append(float(spots.y[k]))
        self.mass.append(float(spots.mass[k]))
        self.peak.append(float(spots.peak[k]))

    def usual_mass(self) -> float:
        """Median size of the last spots, in square pixels of full colour."""
        return float(np.median(self.mass[-15:]))

    def at(self, time: float, *, backwards: bool = False) -> tuple[float, float]:
        """Where the run would be at a time behind its end, or before its begin."""
        part = np.s_[:_MEMORY] if backwards else np.s_[-_MEMORY:]
        t = np.array(self.times[part])
        near = t[0] if backwards else t[-1]
        ahead = abs(time - near)
        span = float(np.ptp(t))
        # A bend is only carried on as far as it was seen.
        degree = 2 if t.size >= 4 and ahead <= 1.5 * span else min(1, t.size - 1)
        return _carry(t - near, np.array(self.x[part]), degree, time - near), _carry(
            t - near, np.array(self.y[part]), degree, time - near
        )

    def speed(self, *, backwards: bool = False) -> float:
        """Pixels a second at its end or begin."""
        if len(self.times) < 2:
            return 0.0
        a, b = (0, 1) if backwards else (-2, -1)
        step = self.times[b] - self.times[a]
        return float(np.hypot(self.x[b] - self.x[a], self.y[b] - self.y[a]) / step)


def _carry(t: Floats, values: Floats, degree: int, to: float) -> float:
    if degree == 0:
        return float(values[-1])
    return float(np.polynomial.polynomial.polyval(to, np.polynomial.polynomial.polyfit(t, values, degree)))


def join_spots(times: Floats, spots: Sequence[Spots], markers: int) -> list[Run]:
    """Return the runs that the spots of one colour make, in the order in which they end; also those under ``SHORTEST``.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Of the pictures.
    spots : sequence of Spots, length n
    markers : int
        How many markers have the colour: one alone meets nobody.
    """
    from scipy.optimize import linear_sum_assignment

    done: list[Run] = []
    active: list[Run] = []
    for frame, time in enumerate(times):
        here = spots[frame]
        places = np.column_stack([here.x, here.y])
        said = np.array([run.at(float(time)) for run in active]).reshape(-1, 2)
        gates = np.array([_gate(run, float(time)) for run in active])
        apart = np.hypot(*(said[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
        possible = apart <= gates[:, None] if active else np.zeros((0, len(places)), bool)
        closing = _meeting(active, here, possible) if markers > 1 else set()
        cost = np.where(possible, apart + 20 * _odd(active, here), 1e6)
        taken: set[int] = set()
        for r, k in zip(*linear_sum_assignment(cost), strict=True):
            if cost[r, k] < 1e6 and int(r) not in closing:
                active[r].add(frame, float(time), here, int(k))
                taken.add(int(k))
        going: list[Run] = []
        for r, run in enumerate(active):
            (done if r in closing or frame - run.frames[-1] > _MISSES else going).append(run)
        for k in range(len(places)):
            met = any(possible[r, k] for r in closing)
            if k not in taken and not met:
                run = Run()
                run.add(frame, float(time), here, k)
                going.append(run)
        active = going
    return done + active


def _gate(run: Run, time: float) -> float:
    radius = max(2.0, float(np.sqrt(run.usual_mass() / np.pi)))
    step = run.speed() * (time - run.times[-1])
    # The first steps of a run are blind: anything within a large step may be it.
    return _GATE_RADII * radius + _GATE_STEPS * step + (4.0 * radius if len(run.frames) < 3 else 0.0)


def _odd(active: Sequence[Run], here: Spots) -> Floats:
    """How much the size of each spot differs from that of each run, as a logarithm."""
    if not active or not here.mass.size:
        return np.zeros((len(active), here.mass.size))
    usual = np.array([run.usual_mass() for run in active])
    return np.asarray(np.abs(np.log(np.maximum(here.mass[None, :], 1) / np.maximum(usual[:, None], 1))))


def _meeting(active: Sequence[Run], here: Spots, possible: np.ndarray[tuple[int, int], np.dtype[np.bool_]]) -> set[int]:
    """The runs that share one spot with another run now."""
    closing: set[int] = set()
    grown = [run for run in range(len(active)) if len(active[run].frames) >= SHORTEST]
    for k in range(here.x.size):
        rivals = [r for r in grown if possible[r, k]]
        if len(rivals) < 2:
            continue
        mine = max(active[r].usual_mass() for r in rivals)
        alone = sum(int(possible[rivals[0], other]) for other in range(here.x.size)) < 2
        if here.mass[k] > _MERGED * mine or (alone and here.x.size < len(rivals)):
            closing.update(rivals)
    return closing
