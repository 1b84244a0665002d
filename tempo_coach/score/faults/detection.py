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

#: Log of the odds from which on a fault is a candidate; how sure it is comes after (``broken``). Chosen on 5,200 tuning
#: takes of all drills so low that what is sure enough to be told hardly changes: of 1,000 good cycles at a spread of
#: 3 % 1.4 are told then where scatter is normal, and 13 where it has heavy tails (before 1.1 and 18, of 23,000).
TOLD_FROM = {RAMP: 4.0, STEP: 4.5, MOMENT: 4.0}
#: What a moment has to gain more for each factor of e by which it is less off than is plainly seen; and for each by
#: which a cycle has more moments than this, because one of many lies far out more often. Chosen on the same takes.
SMALL_DEARER, MANY_DEARER, MANY = 1.6, 2.0, 4.0
#: Another kind of fault in the same cycle, or the next to it, explains nearly as much if it gains so much less at most.
NEARLY = 1.5
#: A fault that gains less than this is not looked for further.
SEARCHED_FROM = 2.0
#: What a fault has to gain more for each unit of excess kurtosis of the moments that are left, which lies in these
#: limits; and for each nat by which innovations with heavy tails explain the rest better, so many at most; and the most
#: that both may come to: in few moments they are hardly known, and how sure a fault is comes after.
KURTOSIS_DEARER, KURTOSIS = 4.0, (-0.5, 4.0)
TAILS_DEARER, TAILS = 0.25, 10.0
MOST_FOR_TAILS = 3.0
#: Fewer moments than this show nothing.
LEAST_MOMENTS = 4
#: Moments in a stretch that is searched at once, its least length in cycles, and the overlap of stretches.
STRETCH_MOMENTS, STRETCH_CYCLES, OVERLAP = 144, 12, 4


class Fault(NamedTuple):
    """One fault.

    Parameters
    ----------
    kind : int
        RAMP, STEP or MOMENT.
    cycle, moment, hand : int
        Moment and hand are -1 for none, and for all.
    by : float
        Cycles.
    odds, gain : float
        Log of the odds for it, and by how much they are beyond those from which on it is a candidate.
    kurtosis, heaviness : float
        Of what is left where all that broke is taken out: its excess kurtosis, and the log of how much likelier it is
        with heavy tails than with normal ones.
    share : float
        Of a moment: its size over that of one that is plainly seen; NaN of others.
    rivals : tuple of (int, Estimate)
        Kind and cycles of what would explain nearly as much there and is of another kind.
    order : int
        How many were found before it: what is plainest is found first.
    by_sd : float
        Standard error of ``by``, cycles.
    """

    kind: int
    cycle: int
    moment: int
    hand: int
    by: float
    odds: float
    gain: float = 0.0
    kurtosis: float = 0.0
    heaviness: float = 0.0
    share: float = np.nan
    rivals: tuple[tuple[int, Estimate], ...] = ()
    order: int = 0
    by_sd: float = 0.0


@dataclass(frozen=True, eq=False)
class Explained:
    """The lateness of a take, and the part of it that faults account for.

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
    """Find the faults of a take.

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
    """Forward selection: the best fault is taken out and the search repeated as long as it pays."""
    search = Likelihood(layout, hand, late)
    shapes = search.shapes
    first_cycle = int(np.floor(layout.position[0] + 1e-9))
    most = 1 + (int(layout.position[-1]) - first_cycle + 1) // 4
    taken: list[int] = []
    steps: list[Fault] = []
    beyond: list[list[float]] = [[]]
    left = [(0.0, 0.0)]
    fit = search.fit(taken)
    while len(taken) < most:
        posterior = search.gains(fit) + shapes.log_prior
        best = int(np.argmax(posterior))
        mine = np.logaddexp.reduce(posterior[_alike(shapes, best)])
        if mine < SEARCHED_FROM:
            break
        rivals = _rivals(search, taken, posterior, best, float(mine))
        taken.append(best)
        fit = search.fit(taken)
        steps.append(
            Fault(
                int(shapes.kind[best]),
                first_cycle + int(shapes.cycle[best]),
                int(shapes.moment[best]),
                int(shapes.hand[best]),
                0.0,
                float(mine),
                rivals=rivals,
                order=len(steps),
            )
        )
        left.append((search.excess_kurtosis(fit), search.heaviness(taken, fit)))
        tails = dearer_for_tails(*left[-1])
        sizes = np.abs(search.sizes(taken)[0]).tolist()
        beyond.append(
            [
                step.odds - tails - _told_from(shapes, which, size)
                for step, which, size in zip(steps, taken, sizes, strict=True)
            ]
        )
    kept = int(np.argmax([sum(each) for each in beyond]))
    sizes, doubts = search.sizes(taken[:kept])
    rest = np.where(search.known, late - sizes @ shapes.shape[taken[:kept]], np.nan)
    # of what pays together each has to pay by itself: a small fault beside a large one is none
    kurtosis, heaviness = left[kept]
    plain = shapes.plain[taken[:kept]]
    shares = np.divide(np.abs(sizes), plain, out=np.full(kept, np.nan), where=plain > 0).tolist()
    faults = [
        step._replace(by=float(by), by_sd=float(sd), gain=gain, kurtosis=kurtosis, heaviness=heaviness, share=share)
        for step, by, sd, gain, share in zip(steps, sizes, doubts, beyond[kept], shares, strict=False)
        if gain >= 0
    ]
    faults.sort(key=lambda fault: (fault.cycle, fault.moment))
    return Explained(tuple(faults), rest, *search.lines(taken[:kept], layout))


def _rivals(
    search: Likelihood, taken: list[int], posterior: Floats, best: int, mine: float
) -> tuple[tuple[int, Estimate], ...]:
    """Return kind and size of faults of another kind that would explain nearly as much."""
    shapes = search.shapes
    found: list[tuple[int, Estimate]] = []
    near = np.abs(shapes.cycle - shapes.cycle[best]) <= 1
    for kind in sorted({RAMP, STEP, MOMENT} - {int(shapes.kind[best])}):
        others = np.flatnonzero(near & (shapes.kind == kind))
        if not len(others):
            continue
        other = int(others[np.argmax(posterior[others])])
        if np.logaddexp.reduce(posterior[_alike(shapes, other)]) >= mine - NEARLY:
            size, sd = search.sizes([*taken, other])
            found.append((kind, Estimate(float(size[-1]), float(sd[-1]))))
    return tuple(found)


def _told_from(shapes: Shapes, which: int, size: float) -> float:
    """Return the log odds above which a fault of a given size is a candidate."""
    told_from = TOLD_FROM[int(shapes.kind[which])]
    if shapes.kind[which] != MOMENT:
        return told_from
    per_cycle = shapes.shape.shape[1] / (shapes.cycle.max() + 1)
    small = max(float(np.log(shapes.plain[which] / max(size, 1e-9))), 0.0)
    return told_from + SMALL_DEARER * small + MANY_DEARER * max(float(np.log(per_cycle / MANY)), 0.0)


def dearer_for_tails(kurtosis: float, heaviness: float) -> float:
    """Return the additional gain that a fault needs for heavy tails of the residuals; negative for light ones."""
    by_kurtosis = KURTOSIS_DEARER * float(np.clip(kurtosis, *KURTOSIS))
    by_heaviness = TAILS_DEARER * float(np.clip(heaviness, -TAILS, TAILS))
    return min(by_kurtosis + by_heaviness, MOST_FOR_TAILS)


def _alike(shapes: Shapes, best: int) -> NDArray[np.bool_]:
    """Return the shapes that are told as the same fault: one kind at one place, whatever of it persists."""
    same = (shapes.kind == shapes.kind[best]) & (shapes.cycle == shapes.cycle[best])
    if shapes.kind[best] != RAMP:
        same &= shapes.moment == shapes.moment[best]
    alike: NDArray[np.bool_] = same
    return alike
