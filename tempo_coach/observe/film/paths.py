"""Paths of markers through the frames: spots joined to runs while there is no doubt, runs to one path a marker."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.film.spots import Spots
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
        As in :class:`tempo_coach.observe.film.spots.Spots`.
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


#: Longest gap over which motion says which is which.
_BRIDGE = 0.35
#: Share of the colour from which a spot is surely of it.
_SURE = 0.7
#: What a picture's worth of a run is lost by a jump of one picture's width in no time, over a second of gap.
_JUMP = 12.0


class MarkerPath(NamedTuple):
    """The path of one marker: columns of equal length, a row a picture; NaN where it was not seen.

    ``confidence`` is 0 to 1: how much of the marker showed, against its usual size. ``guessed`` lists seconds at which
    it was taken up again after a gap in which another of its colour was lost too, so that which is which is a guess.
    """

    x: Floats
    y: Floats
    confidence: Floats
    guessed: tuple[float, ...]


def join_paths(times: Floats, spots: Sequence[Spots], *, markers: int = 1, width: float) -> list[MarkerPath]:
    """Return the paths of the markers of one colour.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Of the pictures.
    spots : sequence of Spots, length n
        Of the colour, camera motion taken out.
    markers : int
        How many markers have the colour.
    width : float
        Of the picture, in pixels.

    Returns
    -------
    list of MarkerPath
        In the order of their places from left to right where all are first seen together; fewer than ``markers`` where
        fewer were seen.
    """
    runs = join_spots(times, spots, markers)
    runs = [run for run in runs if len(run.frames) >= SHORTEST]
    if not runs:
        return []
    usual = _usual_mass(runs)
    chains = _join_runs(runs)
    paths = []
    for _ in range(markers):
        chosen = _best(chains, usual, width)
        if not chosen:
            break
        paths.append(chosen)
        chains = [chain for chain in chains if all(chain is not one for one in chosen)]
    followed = [_fill(path, times, usual) for path in paths]
    if len(followed) > 1:
        followed = [path._replace(guessed=_doubts(times, path, followed)) for path in followed]
    return _left_to_right(followed)


def _usual_mass(runs: Sequence[Run]) -> float:
    """The marker's size: the median over the spots of all runs, those that get about and are clear counting more."""
    mass = np.concatenate([run.mass for run in runs])
    weight = np.concatenate([_travel(run) * _clear(run) for run in runs]) + 1e-9
    order = np.argsort(mass)
    return float(mass[order][np.searchsorted(np.cumsum(weight[order]), weight.sum() / 2)])


def _travel(run: Run) -> float:
    """How far a run gets, in radii: what only trembles is no marker."""
    radius = max(2.0, float(np.sqrt(np.median(run.mass) / np.pi)))
    return float(min(10.0, np.hypot(np.ptp(run.x), np.ptp(run.y)) / radius))


def _join_runs(runs: list[Run]) -> list[Run]:
    """Join runs over short gaps, where one goes on to where another comes from."""
    from scipy.optimize import linear_sum_assignment

    runs = sorted(runs, key=lambda run: run.times[0])
    none = 1e3
    cost = np.full((len(runs), len(runs)), 10 * none)
    for i, one in enumerate(runs):
        for j, other in enumerate(runs):
            gap = other.times[0] - one.times[-1]
            if not 0 < gap <= _BRIDGE:
                continue
            miss = _miss(one, other, gap)
            if miss < 1:
                cost[i, j] = miss + 0.2 * gap
    links = {
        int(i): int(j) for i, j in zip(*linear_sum_assignment(np.minimum(cost, none)), strict=True) if cost[i, j] < none
    }
    first = set(range(len(runs))) - set(links.values())
    return [_chain(runs, links, i) for i in sorted(first)]


def _chain(runs: Sequence[Run], links: dict[int, int], at: int) -> Run:
    chain = Run()
    going: int | None = at
    while going is not None:
        for name in ("frames", "times", "x", "y", "mass", "peak"):
            getattr(chain, name).extend(getattr(runs[going], name))
        going = links.get(going)
    return chain


def _miss(one: Run, other: Run, gap: float) -> float:
    """How badly two runs meet in the middle of a gap, against what such a gap allows: below 1 they may be one."""
    middle = one.times[-1] + gap / 2
    ahead, behind = one.at(middle), other.at(middle, backwards=True)
    radius = max(2.0, float(np.sqrt(min(one.usual_mass(), other.usual_mass()) / np.pi)))
    speed = max(one.speed(), other.speed(backwards=True))
    room = 3 * radius + 0.6 * speed * gap
    return float(np.hypot(ahead[0] - behind[0], ahead[1] - behind[1])) / room


def _best(chains: Sequence[Run], usual: float, width: float) -> list[Run]:
    """The chains, one after the other, that together explain most: of the marker's size, moving, without far jumps."""
    chains = sorted(chains, key=lambda chain: chain.times[0])
    total = np.full(len(chains), -np.inf)
    before = np.full(len(chains), -1)
    for j, chain in enumerate(chains):
        worth = _worth(chain, usual)
        total[j] = worth
        for i in range(j):
            gap = chain.times[0] - chains[i].times[-1]
            if gap <= 0:
                continue
            jump = np.hypot(chain.x[0] - chains[i].x[-1], chain.y[0] - chains[i].y[-1]) / width
            value = total[i] + worth - _JUMP * jump / (gap + 0.1)
            if value > total[j]:
                total[j], before[j] = value, i
    if not chains or total.max() <= 0:
        return []
    at = int(np.argmax(total))
    chosen = []
    while at >= 0:
        chosen.append(chains[at])
        at = int(before[at])
    return chosen[::-1]


def _worth(chain: Run, usual: float) -> float:
    """Pictures that a chain explains, less where its size is not the marker's or it stands still."""
    mass = np.array(chain.mass)
    fit = np.exp(-0.5 * (np.log(np.maximum(mass, 1) / usual) / 0.6) ** 2)
    moving = 0.1 + 0.9 * min(1.0, _travel(chain) / 3)
    return float((fit * _clear(chain)).sum() * moving) - 1.0


def _clear(run: Run) -> Floats:
    """How surely each spot has the marker's colour: like clothes reach a quarter of it, a face half, markers all."""
    return np.minimum(1.0, np.array(run.peak) / _SURE) ** 4


def _fill(path: Sequence[Run], times: Floats, usual: float) -> MarkerPath:
    x, y, confidence = (np.full(times.size, np.nan) for _ in range(3))
    for run in path:
        at = np.array(run.frames)
        mass = np.array(run.mass)
        x[at], y[at] = run.x, run.y
        # Half of a marker, or twice one, has its centre elsewhere; a blurred one has all its mass.
        near = np.median(mass) if len(mass) > 10 else usual
        confidence[at] = np.clip(np.minimum(mass / near, near / mass), 0, 1) * np.minimum(1, np.array(run.peak) / 0.4)
    return MarkerPath(x, y, np.nan_to_num(confidence), ())


def _doubts(times: Floats, mine: MarkerPath, everyone: Sequence[MarkerPath]) -> tuple[float, ...]:
    """Instants at which a path was taken up again after a gap too long for motion to tell, others being lost too."""
    seen = np.flatnonzero(~np.isnan(mine.x))
    out = []
    for a, b in pairwise(seen):
        if times[b] - times[a] <= _BRIDGE:
            continue
        others = [other for other in everyone if other is not mine]
        if any(np.isnan(other.x[a + 1 : b]).all() for other in others):
            out.append(float(times[b]))
    return tuple(out)


def _left_to_right(followed: list[MarkerPath]) -> list[MarkerPath]:
    if len(followed) < 2:
        return followed
    both = np.flatnonzero(np.all([~np.isnan(path.x) for path in followed], axis=0))
    at = both[0] if both.size else 0
    return sorted(followed, key=lambda path: float(np.nan_to_num(path.x[at], nan=np.inf)))
