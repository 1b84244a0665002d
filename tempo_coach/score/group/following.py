"""Following in a group: whether one member's next change takes over a share of another's lead.

Each member's next change is explained by all others' leads and her own lateness at once, so that of two who both follow
a third neither seems to follow the other. Asynchronies are those to the plan. What a movement adds to one onset is gone
at the next: it makes changes go to and fro (a moving average), and left out of the account it would make a leader of
whoever shares a leader. Whoever corrects little drifts, and two who drift seem to follow each other; so chance is what
somebody with her own correction, who follows nobody, would get beside the same others.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.group.card import Pair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats, Ints

#: Least cycles for telling who follows whom.
LEAST_CYCLES = 20
#: Changes beyond the unknowns of the regression (a constant, her own lateness, each other's lead) that it needs.
LEAST_FREEDOM = 8
#: Chance that in a group of people who follow nobody anybody is said to follow, over all its pairs (S. Holm 1979):
#: under the 6 % that are promised, because each one's correction is an estimate.
LEVEL = 0.04
#: Simulated series of each member that say what chance gives, and the seed of their noise: the same card each time.
SIMULATED, SEED = 500, 20
#: Cycles of burn-in before a simulated series begins.
WARMED = 40
#: An estimate of what is kept is low by ``(1 + 3 kept) / n`` (M. G. Kendall 1954), of one who drifts (kept 1) by
#: 5.3 / n (as D. A. Dickey & W. A. Fuller 1979 have its distribution, from memory): this has both ends nearly right.
DRIFTS = 4.3
#: Moving averages that are tried beside none (no scatter of movements): 0.6 is 1.9 times that of the clock.
MOVING = (0.15, 0.3, 0.45, 0.6)


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
    """Return the cross-correlation of two series at a lag, each about its own mean, with 1/N.

    Pairs with a gap, written NaN, are left out. NaN where nothing varies.

    Parameters
    ----------
    one, other : numpy.ndarray, shape (n,)
        Two series in any unit.
    lag : int
        Steps by which the second one comes later.

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


def least_cycles(members: int) -> int:
    """Return how many cycles are needed to tell who follows whom among that many members."""
    return max(LEAST_CYCLES, members + 2 + LEAST_FREEDOM + 1)


def measure_following(members: Sequence[str], by_cycle: Floats) -> tuple[Pair, ...]:
    """Return for every ordered pair whether the second member follows the first.

    Parameters
    ----------
    members : sequence of str, length m
    by_cycle : array, shape (m, c)
        Asynchronies to the plan, cycle by cycle, in seconds; NaN where missed.

    Returns
    -------
    tuple of Pair
        Without a gain for whoever was there in too few cycles, or has no scatter, and where too few cycles are left.

    Notes
    -----
    The change of member b is ``c + own x_b + sum over j of gain_bj (x_j - x_b) + e' - moving e``, e being white and e'
    that of the next cycle: the linear correction of phase between players (A. M. Wing, S. Endo, A. Bradbury & D.
    Vorberg 2014, formula from memory) in its invertible form. With ``moving`` given, all columns filtered by
    ``1 / (1 - moving L)`` leave least squares with white residuals; it is the one of ``MOVING`` at which the residuals
    of all members are smallest, and the unknown first e is one column more. A pair has to be beyond chance with it
    and without it. Student's t of a gain is held against those
    of ``SIMULATED`` series with b's own correction alone (the bias of its estimate taken out) beside the others as
    they they were: their mean and SD place and scale a t distribution, one side of which is the chance of the pair.
    """
    series, known = _fill(by_cycle)
    changes = known[:, 1:] & known[:, :-1]
    n = np.array([[int((changes[b] & known[a, :-1]).sum()) for b in range(len(members))] for a in range(len(members))])
    enough = (changes.sum(axis=1) + 1 >= LEAST_CYCLES) & (np.ptp(series, axis=1) > 1e-9)
    rows = np.flatnonzero(enough)
    found: dict[tuple[int, int], _Gain] = {}
    if len(rows) > 1 and by_cycle.shape[1] >= least_cycles(len(rows)):
        found = {(int(rows[a]), int(rows[b])): gain for (a, b), gain in _regress(series[rows], changes[rows]).items()}
    follows = _reject([gain.chance for gain in found.values()])
    told = dict(zip(found, follows, strict=True))
    nothing = _Gain(math.nan, math.nan, math.nan, math.nan)
    return tuple(
        Pair(
            members[a],
            members[b],
            found.get((a, b), nothing).gain,
            int(n[a, b]),
            found.get((a, b), nothing).low,
            found.get((a, b), nothing).high,
            {lag: cross_correlation(by_cycle[a], by_cycle[b], lag) for lag in (-1, 0, 1)} if (a, b) in found else {},
            told.get((a, b)),
        )
        for a in range(len(members))
        for b in range(len(members))
        if a != b
    )


class _Gain(NamedTuple):
    """A gain with its 95 % interval and its p-value."""

    gain: float
    low: float
    high: float
    chance: float


class _Fit(NamedTuple):
    """One joint regression of all members: columns, weights and residuals."""

    moving: float
    design: Floats
    changed: Floats
    own_columns: int


def _fill(by_cycle: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the centred series with gaps bridged linearly, and where they are observed."""
    known = ~np.isnan(by_cycle)
    place = np.arange(by_cycle.shape[1])
    series = np.zeros(by_cycle.shape)
    for line, row, there in zip(series, by_cycle, known, strict=True):
        if there.any():
            line[:] = np.interp(place, place[there], row[there]) - row[there].mean()
    return series, known


def _regress(series: Floats, changes: NDArray[np.bool_]) -> dict[tuple[int, int], _Gain]:
    """Return every gain; its p-value is the larger one with and without the fitted moving average.

    Few cycles do not show how large the moving average is, and one too large makes followers of those who drift.
    """
    plain = _filter(series, 0.0)
    fit = min((plain, *(_filter(series, moving) for moving in MOVING)), key=lambda one: _misfit(one, changes))
    found = _measure(fit, series, changes)
    if fit is plain:
        return found
    without = _measure(plain, series, changes)
    return {
        pair: gain._replace(chance=max(gain.chance, without[pair].chance))
        for pair, gain in found.items()
        if pair in without
    }


def _measure(fit: _Fit, series: Floats, changes: NDArray[np.bool_]) -> dict[tuple[int, int], _Gain]:
    from scipy.special import stdtr, stdtrit

    m = len(series)
    ready, kept = [], []
    for b in range(m):
        rows, others = changes[b], [j for j in range(m) if j != b]
        columns, own = fit.design[rows][:, : fit.own_columns], fit.design[rows, fit.own_columns + b]
        beside = np.column_stack([columns, fit.design[rows][:, [fit.own_columns + j for j in others]]])
        if np.linalg.matrix_rank(np.column_stack([beside, own])) > beside.shape[1]:
            ready.append((b, others, beside, own, fit.changed[rows, b]))
            kept.append(_own_correction(columns, own, fit.changed[rows, b]))
    found = {}
    for (b, others, beside, own, changed), simulated in zip(
        ready, _simulate(np.array(kept), series.shape[1]), strict=True
    ):
        freedom = len(changed) - beside.shape[1] - 1
        if freedom < LEAST_FREEDOM:
            continue
        (gains,), (errors,) = _gains(beside, own[:, None], changed[:, None], m - 1)
        rows = slice(None) if changes[b].all() else changes[b]
        by_chance, their_errors = _gains(beside, simulated[:-1][rows], simulated[1:][rows], m - 1)
        by_chance = by_chance / their_errors
        centre, scale = by_chance.mean(axis=0), by_chance.std(axis=0) / math.sqrt(freedom / (freedom - 2))
        half = float(stdtrit(freedom, 0.975)) * scale * errors
        middle = gains - centre * errors
        chances = stdtr(freedom, -(gains / errors - centre) / scale)
        for j, gain, mid, wide, chance in zip(others, gains, middle, half, chances, strict=True):
            found[j, b] = _Gain(float(gain), float(mid - wide), float(mid + wide), float(chance))
    return found


def _filter(series: Floats, moving: float) -> _Fit:
    """Return the regressors with the moving average taken out: constant and start, then each member."""
    n = series.shape[1] - 1
    start = moving ** np.arange(n, dtype=np.float64)
    columns = [_unmix(np.ones(n), moving), *([start] if moving else [])]
    before, after = _unmix(series[:, :-1], moving), _unmix(series[:, 1:], moving)
    return _Fit(moving, np.column_stack([*columns, *before]), after.T, len(columns))


def _unmix(rows: Floats, moving: float) -> Floats:
    """``y[k] = x[k] + moving y[k - 1]`` along the last axis."""
    out = np.array(rows, dtype=np.float64)
    if moving:
        for k in range(1, out.shape[-1]):
            out[..., k] += moving * out[..., k - 1]
    return out


def _misfit(fit: _Fit, changes: NDArray[np.bool_]) -> float:
    """Return twice the negative log likelihood of all members together, less a constant."""
    total = 0.0
    for b, rows in enumerate(changes):
        design, changed = fit.design[rows], fit.changed[rows, b]
        weights, *_ = np.linalg.lstsq(design, changed, rcond=None)
        rest = changed - design @ weights
        total += len(changed) * math.log(max(float(rest @ rest), 1e-300))
    return total


def _gains(beside: Floats, own: Floats, changed: Floats, others: int) -> tuple[Floats, Floats]:
    """Return weights of the last ``others`` columns and their standard errors: (s, others) for s series."""
    inverse = np.linalg.pinv(beside.T @ beside)
    own_beside, changed_beside = beside.T @ own, beside.T @ changed
    own_on, changed_on = inverse @ own_beside, inverse @ changed_beside
    own_squares = np.einsum("ij,ij->j", own, own) - np.einsum("ij,ij->j", own_on, own_beside)
    both = np.einsum("ij,ij->j", own, changed) - np.einsum("ij,ij->j", own_on, changed_beside)
    squares = np.einsum("ij,ij->j", changed, changed) - np.einsum("ij,ij->j", changed_on, changed_beside)
    share = both / own_squares
    variance = np.maximum(squares - share * both, 0.0) / (len(own) - beside.shape[1] - 1)
    weights = changed_on - share * own_on
    errors = np.sqrt(variance * (np.diag(inverse)[:, None] + own_on**2 / own_squares))
    return weights[-others:].T, np.maximum(errors[-others:].T, 1e-15)


def _own_correction(columns: Floats, own: Floats, changed: Floats) -> float:
    """Return the share of her lateness that she keeps until the next cycle if she follows nobody; at most 1."""
    free = own - columns @ np.linalg.lstsq(columns, own, rcond=None)[0]
    kept = float(free @ changed) / max(float(free @ own), 1e-300)
    return min(max(kept + (1 + DRIFTS * max(kept, 0.0)) / len(own), -1.0), 1.0)


@cache
def _noise(n: int) -> Floats:
    return np.random.default_rng(SEED).standard_normal((n + WARMED, SIMULATED))


def _simulate(kept: Floats, n: int) -> Floats:
    """Simulate people who keep those shares of their lateness and follow nobody: shape (k, n, ``SIMULATED``)."""
    out = np.empty((n, len(kept), SIMULATED))
    now, share = np.zeros((len(kept), SIMULATED)), kept[:, None]
    for k, step in enumerate(_noise(n), start=-WARMED):
        now = share * now + step
        if k >= 0:
            out[k] = now
    return np.ascontiguousarray(out.swapaxes(0, 1))


def _reject(chances: Sequence[float]) -> list[bool]:
    """Return which tests are significant at ``LEVEL`` over all of them.

    S. Holm, "A simple sequentially rejective multiple test procedure", *Scandinavian Journal of Statistics* 6 (1979).
    """
    order = sorted(range(len(chances)), key=chances.__getitem__)
    beyond = [False] * len(chances)
    for place, k in enumerate(order):
        if chances[k] * (len(chances) - place) > LEVEL:
            break
        beyond[k] = True
    return beyond
