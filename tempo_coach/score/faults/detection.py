"""Detection of faults: faults of known shape, each held against everything that a good take may do.

A *fault* is a shape of lateness: a cycle that is too long (everything after it is later, until it is corrected), a step
that is too long, one moment that comes late. Each is asked how much better the take is explained with it than without
(a Bayes factor over the models of :mod:`tempo_coach.score.faults.models`, its size free), the best is taken out, and
the rest is asked again. Moments that are missed are unknowns of the fit, so that nothing has to be filled in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.faults.likelihood import UNKNOWN_ESTIMATE, Estimate, Likelihood, pool
from tempo_coach.score.faults.models import MOMENT, RAMP, STEP, Layout, Shapes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats, Ints

#: Log of the odds from which on a fault is told. Simulated: of 1,000 good cycles 1 is told where scatter is normal, and
#: 12 to 30 where it has heavy tails, whose single far-out moments cannot be told from faults in a short take.
TOLD_FROM = {RAMP: 4.5, STEP: 3.0, MOMENT: 3.0}
#: What a moment has to gain more for each factor of e by which it is less off than is plainly seen; and for each by
#: which a cycle has more moments than this, because one of many lies far out more often.
SMALL_DEARER, MANY_DEARER, MANY = 5.0, 2.5, 6.0
#: Another kind of fault in the same cycle, or the next to it, explains nearly as much if it gains so much less at most.
NEARLY = 1.5
#: A fault that gains less than this is not looked for further.
SEARCHED_FROM = 2.0
#: Prior probability of heavy tails (Student's t with 3 degrees of freedom).
HEAVY_TAILS = 0.3
#: By how much a moment has to gain more where what is left has heavy tails.
HEAVY_DEARER = 3.5
#: Most of what a long cycle, a step or a moment gains that heavy tails may account for: beyond, no scatter is as wide.
MOST_BY_TAILS = {RAMP: 6.0, STEP: 6.0, MOMENT: 9.0}
#: Fewer moments than this show nothing.
LEAST_MOMENTS = 4
#: Moments in a stretch that is searched at once, its least length in cycles, and the overlap of stretches.
STRETCH_MOMENTS, STRETCH_CYCLES, OVERLAP = 144, 12, 4


class Fault(NamedTuple):
    """One thing that broke.

    Parameters
    ----------
    kind : int
        RAMP, STEP or MOMENT.
    cycle, moment, hand : int
        Moment and hand are -1 for none, and for all.
    by : float
        Cycles.
    gain : float
        Log of the odds for it.
    share : float
        Of all faults that would explain as much, 0 to 1.
    rivals : tuple of (int, float)
        Kind and cycles of what would explain nearly as much there and is of another kind.
    """

    kind: int
    cycle: int
    moment: int
    hand: int
    by: float
    gain: float
    share: float
    rivals: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, eq=False)
class Explained:
    """A take's lateness, and what of it faults account for.

    Parameters
    ----------
    faults : tuple of Fault
        In order of cycle.
    rest : array, shape (n,)
        Lateness in cycles less what the faults did; NaN where missed.
    level, tempo, drift : Estimate
        Lateness in the middle of the take, in cycles; by how much her cycles are longer than asked all through, and by
        how much each is longer than the one before, as shares of the cycle.
    """

    faults: tuple[Fault, ...]
    rest: Floats
    level: Estimate
    tempo: Estimate
    drift: Estimate


def find_faults(layout: Layout, hand: Ints, late: Floats) -> Explained:
    """Find what broke in a take.

    Parameters
    ----------
    layout : Layout
        Of all hands together.
    hand : array of int, shape (n,)
    late : array, shape (n,)
        Lateness in cycles; NaN where missed.

    Notes
    -----
    A long take is searched in overlapping stretches, each by itself, so that time grows with its length.
    """
    if (~np.isnan(late)).sum() < LEAST_MOMENTS:
        return Explained((), late, UNKNOWN_ESTIMATE, UNKNOWN_ESTIMATE, UNKNOWN_ESTIMATE)
    cycle = np.floor(layout.position + 1e-9).astype(np.int64)
    first, number = int(cycle[0]), int(cycle[-1] - cycle[0]) + 1
    most = max(int(STRETCH_MOMENTS * number / len(cycle)), STRETCH_CYCLES)
    if number <= 1.5 * most:
        return _search_stretch(layout, hand, late)
    begins = [*range(0, number - most, most - OVERLAP), number - most]
    borders = [-1, *(begin + OVERLAP // 2 for begin in begins[1:]), number]
    found: list[Fault] = []
    rest, lines = late.copy(), []
    for k, begin in enumerate(begins):
        here = slice(*np.searchsorted(cycle, [first + begin, first + begin + most]))
        if (~np.isnan(late[here])).sum() < LEAST_MOMENTS:
            continue
        part = Layout(layout.position[here] - first - begin, layout.label[here])
        explained = _search_stretch(part, hand[here], late[here])
        lines.append((explained.level, explained.tempo, explained.drift))
        mine = (cycle[here] - first >= borders[k]) & (cycle[here] - first < borders[k + 1])
        rest[here][mine] = explained.rest[mine]
        for fault in explained.faults:
            at = fault.cycle + begin
            if borders[k] <= at < borders[k + 1]:
                moment = fault.moment + here.start if fault.moment >= 0 else -1
                found.append(fault._replace(cycle=at + first, moment=moment))
    level, tempo, drift = map(pool, zip(*lines, strict=True))
    return Explained(tuple(found), rest, level, tempo, drift)


def _search_stretch(layout: Layout, hand: Ints, late: Floats) -> Explained:
    """Forward search: the best fault is taken out and the rest asked again, as long as it pays."""
    search = Likelihood(layout, hand, late)
    shapes = search.shapes
    first_cycle = int(np.floor(layout.position[0] + 1e-9))
    most = 1 + (int(layout.position[-1]) - first_cycle + 1) // 4
    taken: list[int] = []
    steps: list[Fault] = []
    totals, explained, asked = [0.0], 0.0, 0.0
    fit = search.fit(taken)
    before = search.heaviness(taken, fit)
    while len(taken) < most:
        posterior = search.gains(fit) + shapes.log_prior
        best = int(np.argmax(posterior))
        mine, every = np.logaddexp.reduce(posterior[_alike(shapes, best)]), np.logaddexp.reduce(posterior)
        if mine < SEARCHED_FROM:
            break
        rivals = _rivals(search, taken, posterior, best, float(mine))
        taken.append(best)
        fit = search.fit(taken)
        after = search.heaviness(taken, fit)
        evidence = float(mine) + _tails(after) - _tails(before)
        evidence = max(evidence, float(mine) - MOST_BY_TAILS[int(shapes.kind[best])])
        before = after
        steps.append(
            Fault(
                int(shapes.kind[best]),
                first_cycle + int(shapes.cycle[best]),
                int(shapes.moment[best]),
                int(shapes.hand[best]),
                0.0,
                evidence,
                float(np.exp(mine - every)),
                rivals,
            )
        )
        explained += evidence
        asked += _told_from(shapes, best, abs(float(search.sizes(taken)[-1])))
        heavy = np.exp(np.log(HEAVY_TAILS) + after - _tails(after))
        moments = sum(step.kind == MOMENT for step in steps)
        totals.append(explained - asked - moments * HEAVY_DEARER * heavy)
    kept = int(np.argmax(totals))
    sizes = search.sizes(taken[:kept])
    rest = np.where(search.known, late - sizes @ shapes.shape[taken[:kept]], np.nan)
    faults = [step._replace(by=float(by)) for step, by in zip(steps, sizes, strict=False)]
    faults.sort(key=lambda fault: (fault.cycle, fault.moment))
    return Explained(tuple(faults), rest, *search.lines(taken[:kept], layout))


def _rivals(
    search: Likelihood, taken: list[int], posterior: Floats, best: int, mine: float
) -> tuple[tuple[int, float], ...]:
    """Kind and size of what is of another kind and would explain nearly as much."""
    shapes = search.shapes
    found: list[tuple[int, float]] = []
    near = np.abs(shapes.cycle - shapes.cycle[best]) <= 1
    for kind in sorted({RAMP, STEP, MOMENT} - {int(shapes.kind[best])}):
        others = np.flatnonzero(near & (shapes.kind == kind))
        if not len(others):
            continue
        other = int(others[np.argmax(posterior[others])])
        if np.logaddexp.reduce(posterior[_alike(shapes, other)]) >= mine - NEARLY:
            found.append((kind, float(search.sizes([*taken, other])[-1])))
    return tuple(found)


def _told_from(shapes: Shapes, which: int, size: float) -> float:
    """Log of the odds from which on a fault of a size is told."""
    told_from = TOLD_FROM[int(shapes.kind[which])]
    if shapes.kind[which] != MOMENT:
        return told_from
    per_cycle = shapes.shape.shape[1] / (shapes.cycle.max() + 1)
    small = max(float(np.log(shapes.plain[which] / max(size, 1e-9))), 0.0)
    return told_from + SMALL_DEARER * small + MANY_DEARER * max(float(np.log(per_cycle / MANY)), 0.0)


def _tails(heaviness: float) -> float:
    return float(np.logaddexp(np.log(1 - HEAVY_TAILS), np.log(HEAVY_TAILS) + heaviness))


def _alike(shapes: Shapes, best: int) -> NDArray[np.bool_]:
    """The shapes that are told as the same fault: the same kind at the same place, whatever is kept of it."""
    same = (shapes.kind == shapes.kind[best]) & (shapes.cycle == shapes.cycle[best])
    if shapes.kind[best] != RAMP:
        same &= shapes.moment == shapes.moment[best]
    alike: NDArray[np.bool_] = same
    return alike
