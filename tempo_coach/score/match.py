"""Pair expected moments with observed onsets: one to one, in order, with the least total error."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.times import ascending, whole

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.times import Ints

#: A pair exactly at the reach must not be lost to the rounding of decimal seconds.
ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class Pairs:
    """Which onset belongs to which moment.

    Parameters
    ----------
    expected, observed : array of int, shape (n,)
        Positions in the two lists, pair by pair, both strictly ascending.
    missed : array of int
        Positions of the moments without an onset.
    extra : array of int
        Positions of the onsets without a moment.
    """

    expected: Ints
    observed: Ints
    missed: Ints
    extra: Ints

    def __post_init__(self) -> None:
        for name in ("expected", "observed", "missed", "extra"):
            object.__setattr__(self, name, whole(getattr(self, name), name=name))
        if len(self.expected) != len(self.observed):
            raise ValueError("pairs: expected as many moments as onsets")

    def __len__(self) -> int:
        return len(self.expected)

    @property
    def f_measure(self) -> float:
        """Harmonic mean of the parts of moments and of onsets that are paired, 0 to 1; NaN where there are none.

        C. J. van Rijsbergen, *Information Retrieval* (1979); for beats as in Davies, Degara & Plumbley (2009).
        """
        both = 2 * len(self) + len(self.missed) + len(self.extra)
        return 2 * len(self) / both if both else float("nan")


def match(expected: ArrayLike, observed: ArrayLike, *, reach: float) -> Pairs:
    """Pair moments and onsets so that the sum of errors is as small as it can be.

    A pair costs its absolute asynchrony and may not exceed the reach; a moment or an onset that stays alone costs the
    reach. Pairs keep the order of time.

    Parameters
    ----------
    expected, observed : array_like, shape (n,), (m,)
        Seconds, ascending.
    reach : float
        Seconds, above 0.

    Returns
    -------
    Pairs

    Notes
    -----
    Dynamic programming over what pairing gains against leaving both alone (two reaches less the error). A moment's row
    is only as wide as the onsets within its reach, so time grows with the number of possible pairs and not with the
    product of the lengths. Since both lists are sorted, keeping the order costs nothing: the best assignment without
    that rule is no cheaper.

    Examples
    --------
    >>> match([0, 0.5, 1.0], [-0.01, 0.49, 0.53, 1.005], reach=0.125).observed
    array([0, 1, 3])
    """
    moments = ascending(expected, name="expected")
    onsets = ascending(observed, name="observed")
    if not reach > 0:
        raise ValueError(f"reach: expected more than 0 s, got {reach}")
    first = np.searchsorted(onsets, moments - (reach + ROUNDING), side="left").tolist()
    last = np.searchsorted(onsets, moments + (reach + ROUNDING), side="right").tolist()
    pairs = _best_pairs(moments.tolist(), onsets.tolist(), first, last, reach)
    of_moment = np.array([i for i, _ in pairs], dtype=np.int64)
    of_onset = np.array([j for _, j in pairs], dtype=np.int64)
    return Pairs(
        expected=of_moment,
        observed=of_onset,
        missed=np.setdiff1d(np.arange(len(moments)), of_moment, assume_unique=True),
        extra=np.setdiff1d(np.arange(len(onsets)), of_onset, assume_unique=True),
    )


def _best_pairs(
    moments: list[float], onsets: list[float], first: list[int], last: list[int], reach: float
) -> list[tuple[int, int]]:
    """Return the pairs of greatest total gain; moment i may take onsets ``first[i]`` up to ``last[i]``, exclusive."""
    rows: list[list[float]] = []
    before = [0.0]
    start_before = 0
    for i, moment in enumerate(moments):
        # row[k] is the greatest gain of the moments up to i with the first (start + k) onsets.
        start = first[i]
        end_before = start_before + len(before) - 1
        row = [before[min(start, end_before) - start_before]]
        for j in range(start, last[i]):
            skip = before[min(j + 1, end_before) - start_before]
            pair = before[min(j, end_before) - start_before] + 2 * reach - abs(onsets[j] - moment)
            row.append(max(skip, pair, row[-1]))
        rows.append(row)
        before, start_before = row, start
    pairs: list[tuple[int, int]] = []
    used = len(onsets)
    for i in range(len(moments) - 1, -1, -1):
        row, start = rows[i], first[i]
        above, start_above = (rows[i - 1], first[i - 1]) if i else ([0.0], 0)
        used = min(used, start + len(row) - 1)
        while used > start and row[used - start] == row[used - start - 1]:
            used -= 1
        if used > start and row[used - start] > above[min(used, start_above + len(above) - 1) - start_above]:
            pairs.append((i, used - 1))
            used -= 1
    return pairs[::-1]
