"""Who follows whom: whether one member's next correction takes over a share of another's lead.

Asynchronies are those to the plan. Both hear the same beat, which alone makes their asynchronies go together; so a
correlation says little about following, and the gain is told with one's own correction taken out.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.group_card import Pair

if TYPE_CHECKING:
    from tempo_coach.times import Floats, Ints

#: Cycles from which on it can be told who follows whom.
LEAST_CYCLES = 20


def average_cycles(asynchronies: Floats, cycles: Ints) -> Floats:
    """Return the mean asynchrony of each member in each cycle.

    Parameters
    ----------
    asynchronies : array, shape (m, n)
        Seconds for each member and moment; NaN where missed.
    cycles : array of int, shape (n,)
        The cycle that each moment belongs to.

    Returns
    -------
    numpy.ndarray, shape (m, c)
        In order of the cycles' numbers; NaN where a member missed all of a cycle.
    """
    numbers, row = np.unique(cycles, return_inverse=True)
    total, known = np.zeros((len(numbers), len(asynchronies))), np.zeros((len(numbers), len(asynchronies)))
    np.add.at(total, row, np.nan_to_num(asynchronies).T)
    np.add.at(known, row, ~np.isnan(asynchronies).T)
    return np.divide(total, known, out=np.full_like(total, np.nan), where=known > 0).T


def cross_correlation(one: Floats, other: Floats, lag: int) -> float:
    """Return the correlation of one series with the other ``lag`` places later, each about its own mean, with 1/N.

    Pairs with a gap, written NaN, are left out. NaN where nothing varies.

    Raises
    ------
    ValueError
        If the series differ in length, or the lag is not below it.
    """
    n = len(one)
    if len(other) != n or abs(lag) >= n:
        raise ValueError("expected two series of one length, and a lag below it")
    known = ~(np.isnan(one) | np.isnan(other))
    if not known.any():
        return math.nan
    x, y = (np.where(known, series - series[known].mean(), 0.0) for series in (one, other))
    shifted = (x[: n - lag] * y[lag:]).sum() if lag >= 0 else (x[-lag:] * y[:lag]).sum()
    both = math.sqrt(float((x**2).sum() * (y**2).sum()))
    return float(shifted) / both if both else math.nan


def measure_following(a: str, b: str, leads: Floats, answers: Floats) -> Pair:
    """Return whether b's next change follows a's present lead.

    Parameters
    ----------
    a, b : str
    leads, answers : array, shape (c,)
        Asynchronies to the plan of both, cycle by cycle, in seconds; NaN where missed.

    Notes
    -----
    Least squares of b's next change on a's asynchrony minus b's, with b's own asynchrony as second variable: someone
    who corrects herself against the music alone would otherwise seem to follow everybody.
    """
    from scipy.special import stdtrit

    change = np.diff(answers)
    lead, own = (leads - answers)[:-1], answers[:-1]
    known = ~(np.isnan(change) | np.isnan(lead))
    n = int(known.sum())
    nothing = Pair(a, b, math.nan, n, math.nan, math.nan, {})
    if n + 1 < LEAST_CYCLES:
        return nothing
    design = np.column_stack([lead[known], own[known], np.ones(n)])
    inverse = np.linalg.pinv(design.T @ design)
    if np.linalg.matrix_rank(design) < 3:
        return nothing
    weights = inverse @ design.T @ change[known]
    rest = change[known] - design @ weights
    error = math.sqrt(float(rest @ rest) / (n - 3) * float(inverse[0, 0]))
    half = float(stdtrit(n - 3, 0.975)) * error
    gain = float(weights[0])
    correlation = {lag: cross_correlation(leads, answers, lag) for lag in (-1, 0, 1)}
    return Pair(a, b, gain, n, gain - half, gain + half, correlation)
