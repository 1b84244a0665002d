"""Whether one anchor came early or late, or the whole cycle beside it was long or short.

Both make a period stand out. Either shape is laid through the moments round about, of all hands, and the one that
explains more of them is to blame: a displaced anchor leaves what follows where it was; after a long cycle everything is
later, and is made good little by little, nobody knows beforehand how fast. An additive against an innovational outlier
of a series (A. J. Fox, *Journal of the Royal Statistical Society* B 34 (1972) 350-363; C. Chen & L.-M. Liu, *Journal of
the American Statistical Association* 88 (1993) 284-297; both from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats

#: Cycles on either side of the middle of the one in question that are looked at.
REACH = 3.0
#: Share of a lateness that is left a cycle later: nothing is made good, or less and less is left.
KEPT = (1.0, 0.7, 0.5, 0.25)
#: Usual covariance of asynchronies: how much of it is the single movement, and what is left of the rest after a cycle.
MOVEMENT, LEFT = 0.4, 0.5
#: Variance of the level, which is not known: much more than the scatter.
LEVEL = 1e4
#: By how much more, in squares of cycles, a long cycle has to explain: it may be made good in several ways, one of
#: which fits better by chance. With it 98 instead of 96 of 100 late anchors are told as such. Measured: the benchmarks.
MORE = 0.002


class Culprit(NamedTuple):
    """What made a period stand out: an anchor, or None for the cycle, of whose lateness a share is kept by the next."""

    anchor: int | None
    by: float
    kept: float


def find_culprit(times: Floats, late: Floats, ends: Sequence[NDArray[np.bool_]]) -> Culprit:
    """Return which anchor of a period that stands out is to blame, or None where the cycle is, and by how much.

    Parameters
    ----------
    times : array, shape (n,)
        When the moments were asked, in cycles: the one in question begins at -1 and ends at 0. What is further than
        ``REACH`` from its middle is not looked at.
    late : array, shape (n,)
        Their asynchronies in cycles, what is usual for each taken out; NaN where one is missed.
    ends : sequence of bool arrays, shape (n,) each
        Which of the moments is the anchor at the begin, and at the end.

    Returns
    -------
    Culprit
        Its anchor is a position in ``ends``, by in cycles, late is positive; kept is NaN for an anchor.

    Examples
    --------
    >>> times = np.arange(-3.0, 3.0)
    >>> ends = [times == -1, times == 0]
    >>> find_culprit(times, 0.2 * (times == 0), ends).anchor
    1
    >>> find_culprit(times, 0.2 * (times >= 0), ends).anchor is None
    True
    """
    near = (np.abs(times + 0.5) <= REACH) & ~np.isnan(late)
    # what all hands do at that instant is as good an explanation as what one does
    together = [times == times[end.argmax()] for end in ends]
    longer = [lateness_of_longer(times, kept) for kept in KEPT]
    shapes = np.array([*longer, *(end.astype(np.float64) for end in (*ends, *together))])
    apart = np.abs(np.subtract.outer(times[near], times[near]))
    covariance = MOVEMENT * np.eye(len(apart)) + (1 - MOVEMENT) * LEFT**apart + LEVEL
    weighed = np.linalg.solve(covariance, shapes[:, near].T)
    # generalised least squares: by how much each shape is there, and the squares that it takes out
    size = np.einsum("si,is->s", shapes[:, near], weighed)
    amount = np.divide(late[near] @ weighed, size, out=np.zeros(len(shapes)), where=size > 0)
    explained = amount**2 * size
    explained[len(KEPT) :] += MORE
    best = int(explained.argmax())
    by = float(amount[best])
    if best < len(KEPT):
        return Culprit(None, by, KEPT[best])
    return Culprit((best - len(KEPT)) % len(ends), by, np.nan)


def lateness_of_longer(times: Floats, kept: float) -> Floats:
    """Return how late each moment is for a cycle from -1 to 0 that is longer by 1, the next keeping a share of that.

    Parameters
    ----------
    times : array, shape (n,)
        When the moments were asked, in cycles.
    kept : float
        Share of a lateness that is left a cycle later, 0 to 1.

    Examples
    --------
    >>> lateness_of_longer(np.array([-1.0, -0.5, 0.0, 1.0, 2.0]), 0.5).tolist()
    [0.0, 0.5, 1.0, 0.5, 0.25]
    """
    behind = np.maximum(times, 0.0)
    whole = np.floor(behind)
    left = kept**whole * (1 - (behind - whole) * (1 - kept))
    late: Floats = np.where(times < 0, np.clip(times + 1, 0.0, 1.0), left)
    return late
