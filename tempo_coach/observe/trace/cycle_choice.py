"""The choice of the cycle among the period candidates: the shortest at which everything repeats, with a confidence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.observe.trace.period_candidates import Candidate

#: Least relative similarity, energy share and similarity of a cycle, the strictest first. Tuned on two generators;
#: relative similarities from 0.85 to 0.94 and shares from 0.72 to 0.84 choose alike.
_STRICT = ((0.88, 0.76, 0.38), (0.88, 0.5, 0.38), (0.7, 0.5, 0.5))
_LEAST_LESS, _LEAST_PLAIN = 0.15, 0.004
#: ... and least similarity relative to the best of all candidates.
_OF_BEST = 0.7
#: A candidate with less than this unweighted share is carried by a longer one that has at least the second share.
_CARRIED, _CARRIES = 0.9, 0.85
#: The first limit for a ratio below the second: an alternating movement is carried only if most energy is the double's.
_CARRIED_BY_TWO, _SIDES = 0.55, 2.4
#: ... and the double is at most so much less alike: who sways once in two turns, and slips, sways less evenly.
_LESS_ALIKE = 0.05
#: Distance of that share from its limit at which nothing is doubtful about who carries whom.
_CARRIED_SURELY = 0.05
#: Least unweighted relative similarity of a carrier.
_WHOLE = 0.95
#: Candidates nearer than this (log ratio) stand for one; the best of them is taken.
_NEIGHBOUR = 0.16
#: Energy share that repeats at the double period only: from which the double is considered, from which it is chosen,
#: and the distance from there to full confidence.
_SIDED = (0.01, 0.052, 0.03)
#: Tolerance of the ratio of cycle to circle (log ratio).
_NEAR_CIRCLES = 0.12
#: Least energy share of such circles, so that no overtone is taken for them; and the fit, relative to the best, from
#: which a cycle is preferred to its multiples.
_OWN_CIRCLES, _NEARLY = 0.1, 0.9
#: Least energy share of the whole cycle alone; with less, nothing shows where one begins.
_SHOWN = 0.004


@dataclass(frozen=True)
class CycleChoice:
    """The chosen cycle.

    Parameters
    ----------
    candidate : Candidate
    inner : Candidate
        The candidate that it carries; itself where it carries none.
    confidence : float
        0 to 1: the probability that a person would count these cycles.
    others : tuple of float
        Other plausible periods in seconds, ascending.
    """

    candidate: Candidate
    inner: Candidate
    confidence: float
    others: tuple[float, ...]


def choose_cycle(
    candidates: Sequence[Candidate], duration: float, *, circles: int | None = None, is_position: bool = False
) -> CycleChoice | None:
    """Choose the shortest period at which everything repeats; None where nothing does.

    Candidates are tested with the strictest limits first; periods seen less than three times come last.

    Parameters
    ----------
    candidates : sequence of Candidate
        The shortest first.
    duration : float
        Seconds of the record.
    circles : int or None
        Circles a cycle, where a pattern says so: a cycle must have a candidate at this fraction.
    is_position : bool
        True for positions, in which a circle that carries small ones is seen as it is; turning rates and accelerations
        hide it, and their slow part is mostly the tilt of the sensor.
    """
    if circles is not None and circles > 1:
        known = _with_circles(candidates, duration, circles)
        if known is not None:
            return _weigh(known[0], known[1], candidates, duration, known=True)
    best = max((candidate.similarity for candidate in candidates if candidate.period < duration / 3), default=0.0)
    for longest in (duration / 3, duration / 2):
        for strict in _STRICT:
            for candidate in candidates:
                if candidate.period <= longest and _margin(candidate, strict, best, duration) >= 1:
                    inner = _nearby(candidate, candidates)
                    carrier, surely = _find_carrier(inner, candidates, longest) if is_position else (None, 1.0)
                    if carrier is not None:
                        return _weigh(carrier, inner, candidates, duration, surely=surely)
                    both = _find_both(inner, candidates, longest)
                    return _weigh(both, both, candidates, duration, halves=inner, surely=surely)
    return None


def choose_near(candidates: Sequence[Candidate], duration: float, least: float) -> CycleChoice | None:
    """Choose the best candidate near a known period; None where no similarity reaches ``least``."""
    fair = [candidate for candidate in candidates if candidate.similarity >= least]
    if not fair:
        return None
    candidate = max(fair, key=_fit)
    return _weigh(candidate, candidate, candidates, duration, known=True)


def _margin(candidate: Candidate, strict: tuple[float, float, float], best: float, duration: float) -> float:
    """Return the smallest ratio of a candidate's evidence to its limits; 1 is just sufficient."""
    relative, share, least = strict
    return min(
        candidate.relative / relative,
        candidate.share / share,
        candidate.share_less / _LEAST_LESS,
        candidate.share_plain / _LEAST_PLAIN,
        candidate.similarity / max(least, _OF_BEST * best, _chance(duration / candidate.period)),
    )


def _chance(cycles: float) -> float:
    """Return the similarity that band-passed noise of that many cycles may reach at its best lag."""
    return float(min(0.75, 1.7 / np.sqrt(cycles)))


def _fit(candidate: Candidate) -> float:
    return candidate.similarity * candidate.relative


def _nearby(candidate: Candidate, candidates: Sequence[Candidate]) -> Candidate:
    """Return the best of the candidates of nearly that length."""
    return max((each for each in candidates if abs(np.log(each.period / candidate.period)) < _NEIGHBOUR), key=_fit)


def _find_carrier(
    candidate: Candidate, candidates: Sequence[Candidate], longest: float
) -> tuple[Candidate | None, float]:
    """Return the longer candidate that carries this one: it has most of the energy, and repeats as well.

    With the confidence of that decision, 0.3 to 1, whether one carries it or none does.
    """
    for other in candidates:
        ratio = other.period / candidate.period
        if (
            ratio > 1.5
            and other.period <= longest
            and other.share_plain >= _CARRIES
            and other.relative_plain >= _WHOLE
            and other.plain >= max(0.5, 0.9 * candidate.similarity)
        ):
            margin = ((_CARRIED if ratio > _SIDES else _CARRIED_BY_TWO) - candidate.share_plain) / _CARRIED_SURELY
            if ratio <= _SIDES:
                margin = min(margin, (other.plain - candidate.similarity) / _LESS_ALIKE + 1)
            return (_nearby(other, candidates) if margin > 0 else None), float(np.clip(abs(margin), 0.3, 1))
    return None, 1.0


def _find_both(candidate: Candidate, candidates: Sequence[Candidate], longest: float) -> Candidate:
    """Return the candidate of twice the period where every second cycle surely differs, else this one."""
    for other in candidates:
        if other.period <= longest and _alternates(candidate, other) and other.share - candidate.share > _SIDED[1]:
            return other
    return candidate


def _with_circles(candidates: Sequence[Candidate], duration: float, circles: int) -> tuple[Candidate, Candidate] | None:
    """Return the shortest of the best fitting cycles with that many circles, and the candidate of its circles."""
    pairs = [
        (candidate, small)
        for candidate in candidates
        if candidate.period <= duration / 2 and candidate.similarity >= _STRICT[0][2]
        for small in candidates
        if abs(np.log(candidate.period / small.period / circles)) < _NEAR_CIRCLES
        and small.share >= _OWN_CIRCLES
        and candidate.share - small.share >= _SHOWN
    ]
    if not pairs:
        return None
    least = _NEARLY * max(_fit(candidate) for candidate, _ in pairs)
    fair = [pair for pair in pairs if _fit(pair[0]) >= least]
    cycle = min((candidate for candidate, _ in fair), key=lambda candidate: candidate.period)
    return cycle, max((small for candidate, small in fair if candidate is cycle), key=lambda small: small.similarity)


def _weigh(
    candidate: Candidate,
    inner: Candidate,
    candidates: Sequence[Candidate],
    duration: float,
    *,
    known: bool = False,
    halves: Candidate | None = None,
    surely: float = 1.0,
) -> CycleChoice:
    """Return the choice with its confidence, from its margin over the limits and the margins of shorter candidates."""
    best = max((each.similarity for each in candidates if each.period < duration / 3), default=candidate.similarity)
    mine = _margin(candidate, _STRICT[0], best, duration)
    small = inner if halves is None else halves
    shorter = [each for each in candidates if each.period < small.period * np.exp(-_NEIGHBOUR)]
    near = [(_margin(each, _STRICT[1], best, duration), each.period) for each in shorter]
    against = max((margin for margin, _ in near), default=0.0)
    enough = float(np.clip(0.5 + (mine - 1) / 0.2, 0, 1))
    alone = 1.0 if known else float(np.clip((1 - against) / 0.12, 0.2, 1))
    seen = float(np.clip((duration / candidate.period - 1.5) / 3.0, 0, 1))
    sides = [] if halves is None else [each for each in candidates if _alternates(halves, each)]
    sidedness = min((_sidedness(small, each) for each in sides), default=1.0)
    sides = [*sides, *([] if halves is None else [halves])]
    alike = float(np.clip(candidate.similarity / 0.7, 0, 1))
    others = [period for margin, period in near if margin > 0.8]
    if inner is not candidate:
        others.append(inner.period)
    others += [each.period for each in sides if each is not candidate]
    others += [
        each.period
        for each in candidates
        if 1.5 * candidate.period < each.period < 4.5 * candidate.period
        and each.similarity > candidate.similarity + 0.1
        and each not in sides
    ]
    return CycleChoice(
        candidate,
        inner,
        enough * alone * seen * alike * min(sidedness, surely),
        tuple(sorted(float(other) for other in others)),
    )


def _alternates(candidate: Candidate, other: Candidate) -> bool:
    """Return True where the double period repeats as well, since every second cycle differs."""
    return (
        abs(np.log(other.period / candidate.period / 2)) < _NEAR_CIRCLES
        and other.relative >= 0.95
        and other.similarity >= max(0.9, candidate.similarity - _LESS_ALIKE)
        and other.share - candidate.share > _SIDED[0]
    )


def _sidedness(candidate: Candidate, other: Candidate) -> float:
    """Return the confidence of the choice between a cycle and its double, 0.3 to 1."""
    return float(np.clip(abs(other.share - candidate.share - _SIDED[1]) / _SIDED[2], 0.3, 1))
