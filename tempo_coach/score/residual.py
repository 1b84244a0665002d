"""How far a period is from what the other periods of the take would have it, in SDs of theirs.

Whoever is late has the next period short by a share of it, if she corrects. So each period is predicted from how far
its first anchor is off, by a line through the *other* periods of her hand; and what is left is held against what they
leave: one long cycle hides neither itself nor the correction behind it. These are externally studentised residuals
(D. A. Belsley, E. Kuh & R. E. Welsch, *Regression Diagnostics*, 1980, formulas from memory). A short take cannot tell
its scatter nor its correction by itself: what is usual counts as a few cycles more.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.times import Floats

#: Usual scatter of a period, a share of it, and the cycles that it counts for. A weak belief: with it 20 % more are
#: found at 8 cycles and none at 24.
USUAL_SCATTER, SCATTER_COUNTS = 0.03, 3.0
#: Usual correction of an asynchrony by the next cycle, and the cycles (of usual scatter) that it counts for.
USUAL_CORRECTION, CORRECTION_COUNTS = 0.4, 15.0
#: Share of the values, the smaller ones, that tell the scatter: what stands out must not hide itself.
KEPT = 0.75
#: SD of a normal distribution over the root mean square of that share of it, the smaller values.
KEPT_TO_SD = 1.6483
#: Robust SDs beyond which a period takes no part in predicting others.
LEFT_OUT = 3.5
#: Values that a line of which half is believed beforehand uses up.
LINE_USES = 1.5
#: Smallest share of itself that a period leaves when it pulls the line towards itself.
LEAST_LEFT = 1e-3


def robust_sd(values: Floats) -> float:
    """Return the SD as the smaller part of the deviations from the median tells it.

    The root mean square of the ``KEPT`` smaller deviations, scaled to a normal distribution; NaN is left out, and comes
    back where nothing is left. As robust as is needed here, it scatters less than the median absolute deviation.
    """
    known = values[~np.isnan(values)]
    if not known.size:
        return math.nan
    squares = np.sort((known - np.median(known)) ** 2)
    return float(KEPT_TO_SD * np.sqrt(squares[: max(math.ceil(KEPT * known.size), 1)].mean()))


def studentise_periods(ratios: Sequence[Floats], levels: Sequence[Floats]) -> list[Floats]:
    """Return how far each period is out, in SDs of what the others leave.

    Parameters
    ----------
    ratios : sequence of arrays, shape (c,) each
        For each hand its periods over what was asked; NaN where one is not known.
    levels : sequence of arrays, shape (c,) each
        How far the anchor at the begin of each period is off, over the period asked.

    Returns
    -------
    list of arrays, shape (c,) each
        Positive is long; 0 where the period is not known. Two hands of one person share a scatter; of the other hand,
        the periods that overlap are left out as well.
    """
    length = max(map(len, ratios), default=0)
    periods, begins = _stack(ratios, length), _stack(levels, length)
    known = ~np.isnan(periods) & ~np.isnan(begins)
    if not known.any():
        return [np.zeros(len(row)) for row in ratios]
    off = np.array([_centre(row) for row in np.where(known, periods, np.nan)])
    begin = np.array([_centre(row) for row in np.where(known, begins, np.nan)])
    limit = LEFT_OUT * robust_sd(np.where(known, off, np.nan))
    used = (known & (np.abs(off) <= max(limit, np.finfo(float).eps))).astype(np.float64)

    belief = CORRECTION_COUNTS * USUAL_SCATTER**2
    ones, first, second = used.sum(axis=1), (used * begin).sum(axis=1), (used * begin**2).sum(axis=1) + belief
    sums, products = (used * off).sum(axis=1), (used * begin * off).sum(axis=1) - belief * USUAL_CORRECTION
    determinant = np.where(ones > 0, ones * second - first**2, 1.0)
    level = (second * sums - first * products) / determinant
    slope = np.where(ones > 0, (ones * products - first * sums) / determinant, -USUAL_CORRECTION)
    rest = off - level[:, None] - slope[:, None] * begin
    pull = (second[:, None] - 2 * first[:, None] * begin + ones[:, None] * begin**2) / determinant[:, None]
    left = np.maximum(1 - pull, LEAST_LEFT)
    out = np.where(used > 0, rest / left, rest)
    widened = np.where(used > 0, 1 / left, 1 + pull)

    squares = used * rest**2
    all_squares = squares.sum(axis=1)
    freedom = np.maximum(ones - LINE_USES, 0.0)
    others = all_squares[:, None] - _with_neighbours(squares)
    others_freedom = np.maximum(freedom[:, None] - _with_neighbours(used), 0.0)
    total = np.maximum(all_squares[:, None] - used * rest**2 / left, 0.0) + others.sum(axis=0) - others
    number = np.maximum(freedom[:, None] - used, 0.0) + others_freedom.sum(axis=0) - others_freedom
    scatter = np.sqrt((total + SCATTER_COUNTS * USUAL_SCATTER**2) / (number + SCATTER_COUNTS))
    studentised = np.where(known, out / (scatter * np.sqrt(widened)), 0.0)
    return [row[: len(own)] for row, own in zip(studentised, ratios, strict=True)]


def _stack(rows: Sequence[Floats], length: int) -> Floats:
    table = np.full((len(rows), length), np.nan)
    for line, row in zip(table, rows, strict=True):
        line[: len(row)] = row
    return table


def _centre(row: Floats) -> Floats:
    """The row less its median; 0 where nothing is known."""
    known = ~np.isnan(row)
    middle = np.median(row[known]) if known.any() else 0.0
    return np.where(known, row - middle, 0.0)


def _with_neighbours(table: Floats) -> Floats:
    """Sum of each value and the ones on both sides of it."""
    padded = np.pad(table, ((0, 0), (1, 1)))
    return padded[:, :-2] + padded[:, 1:-1] + padded[:, 2:]
