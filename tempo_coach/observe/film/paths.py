"""Multi-object tracking of markers: spots joined to tracklets where that is unambiguous, tracklets to paths."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.film.spots import Spots
    from tempo_coach.times import Floats

#: Gate around the predicted position: in marker radii, and relative to the last step.
_GATE_RADII = 2.2
_GATE_STEPS = 0.45
#: Pictures that a tracklet may miss.
_MISSES = 1
#: Spots from which the next position is extrapolated.
_MEMORY = 5
#: Shortest tracklet that is kept, in spots.
SHORTEST = 3
#: Ratio of the size of a spot to its tracklet's from which it is two markers merged.
_MERGED = 1.55


@dataclass(eq=False)
class Tracklet:
    """Spots of successive pictures that belong to one marker without doubt: columns that grow by a row a spot.

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
        """Append the spot ``k`` of a picture."""
        self.frames.append(frame)
        self.times.append(time)
        self.x.append(float(spots.x[k]))
        self.y.append(float(spots.y[k]))
        self.mass.append(float(spots.mass[k]))
        self.peak.append(float(spots.peak[k]))

    def median_mass(self) -> float:
        """Median size of the last spots, in square pixels of full colour."""
        return float(np.median(self.mass[-15:]))

    def predict(self, time: float, *, backwards: bool = False) -> tuple[float, float]:
        """Return the position extrapolated to a time after its end, or before its start."""
        part = np.s_[:_MEMORY] if backwards else np.s_[-_MEMORY:]
        t = np.array(self.times[part])
        near = t[0] if backwards else t[-1]
        ahead = abs(time - near)
        span = float(np.ptp(t))
        # A parabola is only extrapolated as far as it was observed.
        degree = 2 if t.size >= 4 and ahead <= 1.5 * span else min(1, t.size - 1)
        return _extrapolate(t - near, np.array(self.x[part]), degree, time - near), _extrapolate(
            t - near, np.array(self.y[part]), degree, time - near
        )

    def speed(self, *, backwards: bool = False) -> float:
        """Return the speed at its end or start, in pixels a second."""
        if len(self.times) < 2:
            return 0.0
        a, b = (0, 1) if backwards else (-2, -1)
        step = self.times[b] - self.times[a]
        return float(np.hypot(self.x[b] - self.x[a], self.y[b] - self.y[a]) / step)


def _extrapolate(t: Floats, values: Floats, degree: int, to: float) -> float:
    if degree == 0:
        return float(values[-1])
    return float(np.polynomial.polynomial.polyval(to, np.polynomial.polynomial.polyfit(t, values, degree)))


def make_tracklets(times: Floats, spots: Sequence[Spots], markers: int) -> list[Tracklet]:
    """Join spots of one colour to tracklets, in the order in which they end, those below ``SHORTEST`` included.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Of the pictures.
    spots : sequence of Spots, length n
    markers : int
        Number of markers of the colour; a single one cannot merge with another.
    """
    from scipy.optimize import linear_sum_assignment

    done: list[Tracklet] = []
    active: list[Tracklet] = []
    for frame, time in enumerate(times):
        here = spots[frame]
        places = np.column_stack([here.x, here.y])
        predicted = np.array([tracklet.predict(float(time)) for tracklet in active]).reshape(-1, 2)
        gates = np.array([_gate(tracklet, float(time)) for tracklet in active])
        apart = np.hypot(*(predicted[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
        possible = apart <= gates[:, None] if active else np.zeros((0, len(places)), bool)
        closing = _merging(active, here, possible) if markers > 1 else set()
        cost = np.where(possible, apart + 20 * _size_mismatch(active, here), 1e6)
        taken: set[int] = set()
        for r, k in zip(*linear_sum_assignment(cost), strict=True):
            if cost[r, k] < 1e6 and int(r) not in closing:
                active[r].add(frame, float(time), here, int(k))
                taken.add(int(k))
        going: list[Tracklet] = []
        for r, tracklet in enumerate(active):
            (done if r in closing or frame - tracklet.frames[-1] > _MISSES else going).append(tracklet)
        for k in range(len(places)):
            met = any(possible[r, k] for r in closing)
            if k not in taken and not met:
                tracklet = Tracklet()
                tracklet.add(frame, float(time), here, k)
                going.append(tracklet)
        active = going
    return done + active


def _gate(tracklet: Tracklet, time: float) -> float:
    radius = max(2.0, float(np.sqrt(tracklet.median_mass() / np.pi)))
    step = tracklet.speed() * (time - tracklet.times[-1])
    # A new tracklet has no velocity yet: a wide gate.
    return _GATE_RADII * radius + _GATE_STEPS * step + (4.0 * radius if len(tracklet.frames) < 3 else 0.0)


def _size_mismatch(active: Sequence[Tracklet], here: Spots) -> Floats:
    """Return the absolute log ratio of each spot's size to each tracklet's, shape (tracklets, spots)."""
    if not active or not here.mass.size:
        return np.zeros((len(active), here.mass.size))
    typical_mass = np.array([tracklet.median_mass() for tracklet in active])
    return np.asarray(np.abs(np.log(np.maximum(here.mass[None, :], 1) / np.maximum(typical_mass[:, None], 1))))


def _merging(
    active: Sequence[Tracklet], here: Spots, possible: np.ndarray[tuple[int, int], np.dtype[np.bool_]]
) -> set[int]:
    """Return the indices of tracklets that share their current spot with another."""
    closing: set[int] = set()
    grown = [tracklet for tracklet in range(len(active)) if len(active[tracklet].frames) >= SHORTEST]
    for k in range(here.x.size):
        rivals = [r for r in grown if possible[r, k]]
        if len(rivals) < 2:
            continue
        mine = max(active[r].median_mass() for r in rivals)
        alone = sum(int(possible[rivals[0], other]) for other in range(here.x.size)) < 2
        if here.mass[k] > _MERGED * mine or (alone and here.x.size < len(rivals)):
            closing.update(rivals)
    return closing


#: Longest gap in seconds across which motion identifies a marker.
_BRIDGE = 0.35
#: Weight of the distances at the ends of a gap, beside that in its middle.
_ENDS = 0.25
#: Seconds for which a marker lies still, and extents in radii: below the first it only trembles, above the second it
#: moves.
_STILL, _TREMBLES, _MOVES = 1.0, 0.35, 3.0
#: Share of the colour from which a spot surely has it.
_SURE = 0.7
#: Penalty of a jump, in pictures explained: per picture width and 1 / seconds of gap.
_JUMP = 12.0


class MarkerPath(NamedTuple):
    """The path of one marker: columns of equal length, one row a picture; NaN where it was not seen.

    ``confidence`` is 0 to 1: the visible size relative to the median. ``guessed`` lists seconds at which the path is
    resumed after a gap in which another of its colour was lost too, so that its identity is a guess. ``still`` lists
    stretches, in seconds, in which it lies still while another of its colour moves.
    """

    x: Floats
    y: Floats
    confidence: Floats
    guessed: tuple[float, ...]
    still: tuple[tuple[float, float], ...] = ()


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
    tracklets = make_tracklets(times, spots, markers)
    tracklets = [tracklet for tracklet in tracklets if len(tracklet.frames) >= SHORTEST]
    if not tracklets:
        return []
    typical_mass = _typical_mass(tracklets)
    chains = _link_tracklets(tracklets)
    paths = []
    for _ in range(markers):
        chosen = _best_chain(chains, typical_mass, width)
        if not chosen:
            break
        paths.append(chosen)
        chains = [chain for chain in chains if all(chain is not one for one in chosen)]
    followed = [_fill(path, times, typical_mass) for path in paths]
    if len(followed) > 1:
        followed = [path._replace(guessed=_doubts(times, path, followed)) for path in followed]
        followed = _doubt_still(times, followed, max(2.0, float(np.sqrt(typical_mass / np.pi))))
    return _left_to_right(followed)


def _typical_mass(tracklets: Sequence[Tracklet]) -> float:
    """Return the marker's size: the median over all spots, weighted by extent of motion and by colour."""
    mass = np.concatenate([tracklet.mass for tracklet in tracklets])
    weight = np.concatenate([_extent(tracklet) * _colour_confidence(tracklet) for tracklet in tracklets]) + 1e-9
    order = np.argsort(mass)
    return float(mass[order][np.searchsorted(np.cumsum(weight[order]), weight.sum() / 2)])


def _extent(tracklet: Tracklet) -> float:
    """Return the extent of a tracklet in radii; what merely trembles is no marker."""
    radius = max(2.0, float(np.sqrt(np.median(tracklet.mass) / np.pi)))
    return float(min(10.0, np.hypot(np.ptp(tracklet.x), np.ptp(tracklet.y)) / radius))


def _link_tracklets(tracklets: list[Tracklet]) -> list[Tracklet]:
    """Link tracklets across short gaps by optimal assignment of extrapolated positions."""
    from scipy.optimize import linear_sum_assignment

    tracklets = sorted(tracklets, key=lambda tracklet: tracklet.times[0])
    none = 1e3
    cost = np.full((len(tracklets), len(tracklets)), 10 * none)
    for i, one in enumerate(tracklets):
        for j, other in enumerate(tracklets):
            gap = other.times[0] - one.times[-1]
            if not 0 < gap <= _BRIDGE:
                continue
            cost_of_link = _link_cost(one, other, gap)
            if cost_of_link < 1:
                cost[i, j] = cost_of_link + 0.2 * gap
    links = {
        int(i): int(j) for i, j in zip(*linear_sum_assignment(np.minimum(cost, none)), strict=True) if cost[i, j] < none
    }
    first = set(range(len(tracklets))) - set(links.values())
    return [_chain(tracklets, links, i) for i in sorted(first)]


def _chain(tracklets: Sequence[Tracklet], links: dict[int, int], at: int) -> Tracklet:
    chain = Tracklet()
    going: int | None = at
    while going is not None:
        for name in ("frames", "times", "x", "y", "mass", "peak"):
            getattr(chain, name).extend(getattr(tracklets[going], name))
        going = links.get(going)
    return chain


def _link_cost(one: Tracklet, other: Tracklet, gap: float) -> float:
    """Return the mid-gap distance of two extrapolations over its tolerance; below 1 they may be linked."""
    middle = one.times[-1] + gap / 2
    ahead, behind = one.predict(middle), other.predict(middle, backwards=True)
    radius = max(2.0, float(np.sqrt(min(one.median_mass(), other.median_mass()) / np.pi)))
    speed = max(one.speed(), other.speed(backwards=True))
    room = 3 * radius + 0.6 * speed * gap
    # two that cross are at one place in the middle: which is which shows in where each would be at the gap's end
    on, back = one.predict(other.times[0]), other.predict(one.times[-1], backwards=True)
    missed = np.hypot(on[0] - other.x[0], on[1] - other.y[0]), np.hypot(back[0] - one.x[-1], back[1] - one.y[-1])
    middle_missed = np.hypot(ahead[0] - behind[0], ahead[1] - behind[1])
    return float(middle_missed + _ENDS * sum(missed)) / room


def _best_chain(chains: Sequence[Tracklet], typical_mass: float, width: float) -> list[Tracklet]:
    """Return the successive chains of the highest total score, less penalties for jumps (dynamic programming)."""
    chains = sorted(chains, key=lambda chain: chain.times[0])
    total = np.full(len(chains), -np.inf)
    before = np.full(len(chains), -1)
    for j, chain in enumerate(chains):
        score = _score(chain, typical_mass)
        total[j] = score
        for i in range(j):
            gap = chain.times[0] - chains[i].times[-1]
            if gap <= 0:
                continue
            jump = np.hypot(chain.x[0] - chains[i].x[-1], chain.y[0] - chains[i].y[-1]) / width
            value = total[i] + score - _JUMP * jump / (gap + 0.1)
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


def _score(chain: Tracklet, typical_mass: float) -> float:
    """Return the number of pictures that a chain explains, weighted by size, colour and motion."""
    mass = np.array(chain.mass)
    fit = np.exp(-0.5 * (np.log(np.maximum(mass, 1) / typical_mass) / 0.6) ** 2)
    moving = 0.1 + 0.9 * min(1.0, _extent(chain) / 3)
    return float((fit * _colour_confidence(chain)).sum() * moving) - 1.0


def _colour_confidence(tracklet: Tracklet) -> Floats:
    """Return the confidence that each spot has the marker's colour: clothes have a quarter of it, a face half."""
    return np.minimum(1.0, np.array(tracklet.peak) / _SURE) ** 4


def _fill(path: Sequence[Tracklet], times: Floats, typical_mass: float) -> MarkerPath:
    x, y, confidence = (np.full(times.size, np.nan) for _ in range(3))
    for tracklet in path:
        at = np.array(tracklet.frames)
        mass = np.array(tracklet.mass)
        x[at], y[at] = tracklet.x, tracklet.y
        # Half of a marker, or twice one, has its centre elsewhere; a blurred one has all its mass.
        near = np.median(mass) if len(mass) > 10 else typical_mass
        confidence[at] = np.clip(np.minimum(mass / near, near / mass), 0, 1) * np.minimum(
            1, np.array(tracklet.peak) / 0.4
        )
    return MarkerPath(x, y, np.nan_to_num(confidence), ())


def _doubts(times: Floats, mine: MarkerPath, everyone: Sequence[MarkerPath]) -> tuple[float, ...]:
    """Return the times at which a path resumes after a gap too long to extrapolate, others being lost too."""
    seen = np.flatnonzero(~np.isnan(mine.x))
    out = []
    for a, b in pairwise(seen):
        if times[b] - times[a] <= _BRIDGE:
            continue
        others = [other for other in everyone if other is not mine]
        if any(np.isnan(other.x[a + 1 : b]).all() for other in others):
            out.append(float(times[b]))
    return tuple(out)


def _doubt_still(times: Floats, followed: Sequence[MarkerPath], radius: float) -> list[MarkerPath]:
    """Lower the confidence of a path where it rests for a second or more while another one moves.

    A thing of the marker's colour on a table, or a marker that was put down, is in every picture and of one size: what
    it lacks is movement.
    """
    extents = [_extent_around(times, path) for path in followed]
    out = []
    for k, path in enumerate(followed):
        others = np.max([extent for i, extent in enumerate(extents) if i != k], axis=0)
        still = (extents[k] < _TREMBLES * radius) & (others > _MOVES * radius)
        runs = np.flatnonzero(np.diff(np.concatenate([[0], still.astype(int), [0]]))).reshape(-1, 2)
        stretches = []
        confidence = path.confidence.copy()
        for first, end in runs:
            # the windows of its rows reach half a second to both sides
            inside = (times >= times[first] - _STILL / 2) & (times <= times[end - 1] + _STILL / 2)
            confidence[inside] = 0.0
            stretches.append((float(times[inside][0]), float(times[inside][-1])))
        out.append(path._replace(confidence=confidence, still=tuple(stretches)))
    return out


def _extent_around(times: Floats, path: MarkerPath) -> Floats:
    """Return how far a path extends in the second around each picture, in pixels; NaN where it is not seen.

    Of the middle four fifths: what passes in front of it draws a spot aside for a moment.
    """
    first = np.searchsorted(times, times - _STILL / 2, side="left")
    end = np.searchsorted(times, times + _STILL / 2, side="right")
    out = np.full(times.size, np.nan)
    # at the ends of the film a window is cut, and says nothing
    whole = np.flatnonzero((times - times[0] >= _STILL / 2) & (times[-1] - times >= _STILL / 2))
    for k in whole:
        here = np.s_[first[k] : end[k]]
        x, y = (np.sort(values[here][~np.isnan(values[here])]) for values in (path.x, path.y))
        if x.size:
            left = x.size // 10
            out[k] = np.hypot(x[-1 - left] - x[left], y[-1 - left] - y[left])
    return out


def _left_to_right(followed: list[MarkerPath]) -> list[MarkerPath]:
    if len(followed) < 2:
        return followed
    both = np.flatnonzero(np.all([~np.isnan(path.x) for path in followed], axis=0))
    at = both[0] if both.size else 0
    return sorted(followed, key=lambda path: float(np.nan_to_num(path.x[at], nan=np.inf)))
