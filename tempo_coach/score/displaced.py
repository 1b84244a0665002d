"""Which moments come early or late against the moments on both sides of them, and by how much they usually do.

A single late circle differs from what lies before and from what lies behind it; after a long cycle everything is
later, and no moment is to blame. How far out is out is told by the other moments, as they would be if the one that is
asked about had been missed (externally studentised, as the periods in :mod:`tempo_coach.score.residual`).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.score.residual import LEFT_OUT, robust_sd

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats, Ints

#: Moments on either side that a moment is compared with.
NEIGHBOURS = 2
#: Moments that the scatter of all labels counts for beside the scatter of one of them.
SHARED = 24.0
#: Usual scatter of a moment against its neighbours, a share of the mean step between moments and at most a share of
#: the cycle, and the moments that it counts for. A weak belief, as in a short take little else is known.
USUAL_OF_STEP, USUAL_OF_CYCLE, USUAL_COUNTS = 0.06, 0.02, 3.0
#: Hands whose moments come closer together than this share of the mean step are looked at one by one: what both do
#: at once would otherwise be each other's neighbour.
CLOSE = 0.4
#: Share of what a moment is out that it has to be out on either side: less is a step, after which all is later.
EITHER_SIDE = 0.5


def find_displacements(
    observed: Sequence[Floats], asked: Sequence[Floats], *, beyond: float = math.inf, least: float = 0.0
) -> list[tuple[Floats, Floats]]:
    """Return by how much each moment is displaced, and the scatter that it is to be held against.

    Parameters
    ----------
    observed, asked : sequence of arrays, shape (c, k) each
        Seconds for each hand; NaN where nothing was observed or asked.
    beyond, least : float
        What is out by more scatters than that, and by more seconds, is nothing that its neighbours are compared with:
        one late circle does not make those beside it early.

    Returns
    -------
    list of (out, scatter)
        Seconds, shape (c, k) each.
    """
    late = [done - wanted for done, wanted in zip(observed, asked, strict=True)]
    usual = [table - offset for table, offset in zip(late, usual_offsets(late), strict=True)]
    widths = np.cumsum([0, *(table.shape[1] for table in usual)])
    labels = [
        np.broadcast_to(np.arange(table.shape[1]) + begin, table.shape).ravel()
        for table, begin in zip(usual, widths, strict=False)
    ]
    times = np.concatenate([table.ravel() for table in asked])
    steps = np.diff(np.sort(times[~np.isnan(times)]))
    step = float(steps[steps > 0].mean()) if (steps > 0).any() else 0.0
    if not (steps > 0).any() or steps.min() < CLOSE * step:
        groups = np.split(np.arange(len(times)), np.cumsum([table.size for table in usual])[:-1])
    else:
        groups = [np.argsort(times, kind="stable")]
    values, label = np.concatenate([table.ravel() for table in usual]), np.concatenate(labels)
    out, rest = _standing_out(values, groups)
    cycles = np.concatenate([np.diff(table[:, 0]) for table in asked])
    cycle = float(np.nanmedian(cycles)) if (~np.isnan(cycles)).any() else step
    believed = min(USUAL_OF_STEP * step, USUAL_OF_CYCLE * cycle)
    scatter = scatter_of_others(values, rest, label, groups, usual=believed)
    alone = np.zeros(len(values), dtype=np.bool_)
    while (worst := _worst_of_neighbours(np.where(alone, 0.0, np.abs(out)), beyond * scatter, least, groups)).any():
        alone |= worst
        others, _ = _standing_out(np.where(alone, np.nan, values), groups)
        out[~alone] = others[~alone]
    ends = np.cumsum([table.size for table in usual])[:-1]
    return [
        (mine.reshape(table.shape), own.reshape(table.shape))
        for mine, own, table in zip(np.split(out, ends), np.split(scatter, ends), usual, strict=True)
    ]


def standing_out(asynchronies: Floats) -> tuple[Floats, Floats]:
    """Return by how much each moment differs from both sides.

    Parameters
    ----------
    asynchronies : numpy.ndarray, shape (n,)
        In order of time, what is usual for each label taken out; NaN where a moment is missed.

    Returns
    -------
    out : numpy.ndarray, shape (n,)
        The difference to the mean of the two before and of the two behind, where it is out on both sides in the same
        way; else 0, as where a moment is missed. At either end of a take only one side is there, and what cannot be
        told from a change of pace is not held against it.
    rest : numpy.ndarray, shape (n,)
        The same without that condition, whose scatter tells how far out is out; NaN where one side is missing.
    """
    left, right = _side_means(asynchronies), _side_means(asynchronies[::-1])[::-1]
    to_left, to_right = asynchronies - left, asynchronies - right
    rest = (to_left + to_right) / 2
    same = (to_left * to_right > 0) & (np.minimum(np.abs(to_left), np.abs(to_right)) >= EITHER_SIDE * np.abs(rest))
    return np.where(same, rest, 0.0), rest


def scatter_of_others(values: Floats, rest: Floats, label: Ints, groups: Sequence[Ints], *, usual: float) -> Floats:
    """Return for each value the SD of what the others are out, had it been missed.

    Some moments scatter more than others (a fast low circle, a slow high one), and each is to be held against its own:
    the SD of its label, drawn towards that of all of them and to the usual one.

    Parameters
    ----------
    values, rest : array, shape (n,)
        Asynchronies, and what :func:`standing_out` leaves of them; NaN where there is none.
    label : array of int, shape (n,)
        From 0.
    groups : sequence of arrays of int
        Positions in order of time; a value's neighbours are those beside it in its group.
    usual : float
        What is believed beforehand.
    """
    spread = robust_sd(rest)
    limit = LEFT_OUT * (0.0 if math.isnan(spread) else spread)
    squares, counts = _squares(rest, limit)
    own, own_count = np.bincount(label, weights=squares)[label], np.bincount(label, weights=counts)[label]
    every, every_count = np.full(len(rest), squares.sum()), np.full(len(rest), counts.sum())
    for group in groups:
        known = group[~np.isnan(values[group])]
        for apart in range(-NEIGHBOURS, NEIGHBOURS + 1):
            here = known[max(-apart, 0) : len(known) - max(apart, 0)]
            there = known[max(apart, 0) : len(known) - max(-apart, 0)]
            # what it is out without this one, in the place of what it is out
            without = _rest_without(values[known], apart) if apart else np.full(len(known), np.nan)
            replaced, number = _squares(without, limit)
            more, more_count = replaced - squares[there], number - counts[there]
            every[here] += more
            every_count[here] += more_count
            alike = label[here] == label[there]
            own[here] += np.where(alike, more, 0.0)
            own_count[here] += np.where(alike, more_count, 0.0)
    everybody = np.divide(every, every_count, out=np.full(len(rest), usual**2), where=every_count > 0)
    total = np.maximum(own, 0.0) + SHARED * np.maximum(everybody, 0.0) + USUAL_COUNTS * usual**2
    sd: Floats = np.sqrt(total / (own_count + SHARED + USUAL_COUNTS))
    return sd


def usual_offsets(late: Sequence[Floats]) -> list[Floats]:
    """Return by how much each moment of the cycle is usually later than the cycle as a whole.

    It is told within the cycles, each against the middle of its own moments: after a long cycle everything is later,
    and which moments that befell more often must not seem to be their habit.

    Parameters
    ----------
    late : sequence of arrays, shape (c, k) each
        Asynchronies in seconds for each hand, the cycles side by side; NaN where a moment is missed.

    Returns
    -------
    list of arrays, shape (k,) each
    """
    cycles = max((len(table) for table in late), default=0)
    beside = [np.pad(table, ((0, cycles - len(table)), (0, 0)), constant_values=np.nan) for table in late]
    levels = middle_of(np.concatenate(beside, axis=1).T) if beside else np.zeros(0)
    return [middle_of(table - levels[: len(table), None]) for table in late]


def middle_of(table: Floats) -> Floats:
    """Median of each column without its NaN; 0 for a column that has nothing else."""
    if table.size and not np.isnan(table).any():
        whole: Floats = np.median(table, axis=0)
        return whole
    return np.array([np.median(column[~np.isnan(column)]) if (~np.isnan(column)).any() else 0.0 for column in table.T])


def _side_means(values: Floats) -> Floats:
    """Mean of the last ``NEIGHBOURS`` known values before each one; NaN where there is none."""
    known = ~np.isnan(values)
    number = np.concatenate([[0], np.cumsum(known)])
    total = np.concatenate([[0.0], np.cumsum(values[known])])
    behind = number[:-1]
    begin = np.maximum(behind - NEIGHBOURS, 0)
    taken = behind - begin
    means: Floats = np.divide(total[behind] - total[begin], taken, out=np.full(len(values), np.nan), where=taken > 0)
    return means


def _standing_out(values: Floats, groups: Sequence[Ints]) -> tuple[Floats, Floats]:
    out, rest = np.zeros(len(values)), np.full(len(values), np.nan)
    for group in groups:
        out[group], rest[group] = standing_out(values[group])
    return out, rest


def _worst_of_neighbours(out: Floats, limit: Floats, least: float, groups: Sequence[Ints]) -> NDArray[np.bool_]:
    """Which values are beyond the limit, further than every neighbour that is so too."""
    by = np.where(out > np.maximum(limit, least), out / limit, 0.0)
    worst = by > 0
    if worst.any():
        for group in groups:
            padded = np.pad(by[group], NEIGHBOURS)
            beside = np.lib.stride_tricks.sliding_window_view(padded, 2 * NEIGHBOURS + 1)
            worst[group] &= by[group] >= beside.max(axis=1)
    return worst


def _rest_without(values: Floats, apart: int) -> Floats:
    """What each value that has another so many places before or behind it leaves that other, were it missed itself."""
    n = len(values)
    padded = np.pad(values, 2 * NEIGHBOURS + 1, constant_values=np.nan)
    here = np.arange(max(-apart, 0), n - max(apart, 0)) + 2 * NEIGHBOURS + 1
    sides = []
    for way in (-1, 1):
        places = [apart + way * step for step in range(1, NEIGHBOURS + 2) if apart + way * step != 0][:NEIGHBOURS]
        beside = np.array([padded[here + place] for place in places])
        number = (~np.isnan(beside)).sum(axis=0)
        sides.append(np.divide(np.nansum(beside, axis=0), number, out=np.full(len(here), np.nan), where=number > 0))
    rest: Floats = padded[here + apart] - (sides[0] + sides[1]) / 2
    return rest


def _squares(rest: Floats, limit: float) -> tuple[Floats, Floats]:
    """Squares of what is not beyond the limit, 0 for the others, and how many each counts for."""
    used = ~np.isnan(rest) & (np.abs(rest) <= limit)
    return np.where(used, rest**2, 0.0), used.astype(np.float64)
