"""The level that is the cycle, the shortest at which everything repeats; how sure that is, and what it could be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.levels import Level

#: What a level must have to be the cycle, strictly first: its own likeness, its share, and its likeness. Found on two
#: generators; own shares from .85 to .94 and energies from .72 to .84 choose alike.
_STRICT = ((0.88, 0.76, 0.38), (0.88, 0.5, 0.38), (0.7, 0.5, 0.5))
_LEAST_LESS, _LEAST_PLAIN = 0.15, 0.004
#: ... and of the best likeness of all.
_OF_BEST = 0.65
#: A level with less of the way than this is carried by a bigger one, which has at least so much of it.
_CARRIED, _CARRIES = 0.9, 0.85
#: One that goes now to this side and now to that is not carried unless most of the way is of the double.
_CARRIED_BY_TWO, _SIDES = 0.55, 2.4
#: What carries comes again as a whole: no longer time may be better than this.
_WHOLE = 0.95
#: Levels nearer than this, as a logarithm, stand for one; the likest is meant.
_NEIGHBOUR = 0.16
#: The part of the movement that comes again at the double only: from which it is thought of, from which it is chosen,
#: and how far from there it is sure.
_SIDED = (0.01, 0.052, 0.03)
#: How far from an even part of the cycle the small circles may lie, as a logarithm.
_NEAR_CIRCLES = 0.12
#: Share of the movement that such circles have, so that no overtone of a circle stands for them; and the part of the
#: best fit from which a cycle fits as well as one of its multiples, which always has as many cycles as it has circles.
_OWN_CIRCLES, _NEARLY = 0.1, 0.9
#: Share of the movement that only the whole cycle has; with less, nothing shows where one begins.
_SHOWN = 0.004


@dataclass(frozen=True)
class Decision:
    """The cycle that was chosen.

    Parameters
    ----------
    level : Level
    inner : Level
        What it carries; itself where it carries nothing.
    confidence : float
        0 to 1, how likely it is that a person would count these cycles.
    others : tuple of float
        What else the period could be, in seconds, ascending.
    """

    level: Level
    inner: Level
    confidence: float
    others: tuple[float, ...]


def decide(
    levels: Sequence[Level], duration: float, *, circles: int | None = None, way: bool = False
) -> Decision | None:
    """Return the shortest period at which everything repeats, or None where nothing does.

    Levels are asked strictly first and then less so; long periods, seen less than three times, last.

    Parameters
    ----------
    levels : sequence of Level
        The shortest first.
    duration : float
        Seconds of the record.
    circles : int or None
        Circles a cycle, where a pattern says so: the level that comes again and has another one at this part decides.
    way : bool
        Whether the readings are a way, in which a bigger circle that carries small ones shows as it is; turning rates
        and accelerations hide it, and what is slow in them is mostly how the sensor leans.
    """
    if circles is not None and circles > 1:
        told = _with_circles(levels, duration, circles)
        if told is not None:
            return _weigh(told[0], told[1], levels, duration, told=True)
    best = max((level.likeness for level in levels if level.period < duration / 3), default=0.0)
    for longest in (duration / 3, duration / 2):
        for strict in _STRICT:
            for level in levels:
                if level.period <= longest and _margin(level, strict, best, duration) >= 1:
                    inner = _nearby(level, levels)
                    carrier = _find_carrier(inner, levels, longest) if way else None
                    if carrier is not None:
                        return _weigh(carrier, inner, levels, duration)
                    both = _find_both(inner, levels, longest)
                    return _weigh(both, both, levels, duration, halves=inner)
    return None


def decide_near(levels: Sequence[Level], duration: float, least: float) -> Decision | None:
    """Return the level that fits best where the period is told, or None where none reaches the likeness ``least``."""
    fair = [level for level in levels if level.likeness >= least]
    if not fair:
        return None
    level = max(fair, key=_fit)
    return _weigh(level, level, levels, duration, told=True)


def _margin(level: Level, strict: tuple[float, float, float], best: float, duration: float) -> float:
    """By how much a level has what a cycle needs: 1 is just enough."""
    own, share, least = strict
    return min(
        level.own / own,
        level.share / share,
        level.share_less / _LEAST_LESS,
        level.share_plain / _LEAST_PLAIN,
        level.likeness / max(least, _OF_BEST * best, _chance(duration / level.period)),
    )


def _chance(cycles: float) -> float:
    """What likeness so many cycles of noise in this band may reach at the best of lags."""
    return float(min(0.75, 1.7 / np.sqrt(cycles)))


def _fit(level: Level) -> float:
    return level.likeness * level.own


def _nearby(level: Level, levels: Sequence[Level]) -> Level:
    """Return the likest of the levels that are nearly as long: where a lag fits less well, the next one is meant."""
    return max((each for each in levels if abs(np.log(each.period / level.period)) < _NEIGHBOUR), key=_fit)


def _find_carrier(level: Level, levels: Sequence[Level], longest: float) -> Level | None:
    """Return the bigger movement that carries a level, where most of the way is its own and comes again too."""
    for other in levels:
        ratio = other.period / level.period
        if (
            ratio > 1.5
            and other.period <= longest
            and other.share_plain >= _CARRIES
            and other.own_plain >= _WHOLE
            and other.plain >= max(0.5, 0.9 * level.likeness)
        ):
            carries = level.share_plain < (_CARRIED if ratio > _SIDES else _CARRIED_BY_TWO)
            return _nearby(other, levels) if carries else None
    return None


def _find_both(level: Level, levels: Sequence[Level], longest: float) -> Level:
    """Return the double of a level where every second cycle surely differs, else the level."""
    for other in levels:
        if other.period <= longest and _goes_to_sides(level, other) and other.share - level.share > _SIDED[1]:
            return other
    return level


def _with_circles(levels: Sequence[Level], duration: float, circles: int) -> tuple[Level, Level] | None:
    """Return the cycle that has so many circles, the shortest that fits nearly best, and the level of its circles."""
    pairs = [
        (level, small)
        for level in levels
        if level.period <= duration / 2 and level.likeness >= _STRICT[0][2]
        for small in levels
        if abs(np.log(level.period / small.period / circles)) < _NEAR_CIRCLES
        and small.share >= _OWN_CIRCLES
        and level.share - small.share >= _SHOWN
    ]
    if not pairs:
        return None
    least = _NEARLY * max(_fit(level) for level, _ in pairs)
    fair = [pair for pair in pairs if _fit(pair[0]) >= least]
    cycle = min((level for level, _ in fair), key=lambda level: level.period)
    return cycle, max((small for level, small in fair if level is cycle), key=lambda small: small.likeness)


def _weigh(
    level: Level,
    inner: Level,
    levels: Sequence[Level],
    duration: float,
    *,
    told: bool = False,
    halves: Level | None = None,
) -> Decision:
    """Set a level against the others: it is sure where it has much of what is needed and no shorter one nearly has."""
    best = max((each.likeness for each in levels if each.period < duration / 3), default=level.likeness)
    mine = _margin(level, _STRICT[0], best, duration)
    small = inner if halves is None else halves
    shorter = [each for each in levels if each.period < small.period * np.exp(-_NEIGHBOUR)]
    near = [(_margin(each, _STRICT[1], best, duration), each.period) for each in shorter]
    against = max((margin for margin, _ in near), default=0.0)
    enough = float(np.clip(0.5 + (mine - 1) / 0.2, 0, 1))
    alone = 1.0 if told else float(np.clip((1 - against) / 0.12, 0.2, 1))
    seen = float(np.clip((duration / level.period - 1.5) / 3.0, 0, 1))
    sides = [] if halves is None else [each for each in levels if _goes_to_sides(halves, each)]
    one_sided = min((_one_sided(small, each) for each in sides), default=1.0)
    sides = [*sides, *([] if halves is None else [halves])]
    alike = float(np.clip(level.likeness / 0.7, 0, 1))
    others = [period for margin, period in near if margin > 0.8]
    if inner is not level:
        others.append(inner.period)
    others += [each.period for each in sides if each is not level]
    others += [
        each.period
        for each in levels
        if 1.5 * level.period < each.period < 4.5 * level.period
        and each.likeness > level.likeness + 0.1
        and each not in sides
    ]
    return Decision(
        level, inner, enough * alone * seen * alike * one_sided, tuple(sorted(float(other) for other in others))
    )


def _goes_to_sides(level: Level, other: Level) -> bool:
    """Tell whether a level is the double of another and comes again as surely, so that every second cycle differs."""
    return (
        abs(np.log(other.period / level.period / 2)) < _NEAR_CIRCLES
        and other.own >= 0.95
        and other.likeness >= max(0.9, level.likeness - 0.05)
        and other.share - level.share > _SIDED[0]
    )


def _one_sided(level: Level, other: Level) -> float:
    """How sure it is whether a cycle or its double is meant."""
    return float(np.clip(abs(other.share - level.share - _SIDED[1]) / _SIDED[2], 0.3, 1))
