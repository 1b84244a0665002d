"""Leaving the group: a member whose distance from the others, or whose scatter, stands out in a stretch.

Each member is compared with the median of the others at each moment, less her own median distance, so that another one
who is constantly late is no outlier. The threshold is that of chance under an autoregressive model with heavy tails:
both the autocorrelation and the tails are estimated from the group itself, without its outliers.
"""

from __future__ import annotations

import math
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.observe.trace.filters import find_runs
from tempo_coach.score.group.timing import (
    ALIKE,
    CLIPPED,
    Model,
    Stretches,
    find_model,
    find_scale,
    find_step,
    standardise,
    whiten,
)
from tempo_coach.score.measures.period import robust_sd_about_zero

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats

#: Least members for telling which of them is late or uneven; of two it may be either. Who is not there is plain.
LEAST_MEMBERS = 3
#: Moments that a member has to have done, and the share of all.
LEAST_MOMENTS, LEAST_SHARE = 12, 0.5
#: Moments of a stretch that are tried; a longer one is found by its longest part and then widened to its ends.
LENGTHS = (*range(3, 17), 18, 20, 22, 24, 28, 32)
#: Chance that in a group that keeps together anybody is said to have left it, for distance and scatter each.
LEVEL = 0.015
#: Simulated groups that say what chance gives, the least number of them and the onsets that they may have together in a
#: long take, and their seed: the same card each time.
SIMULATED, LEAST_SIMULATED, SIMULATED_ONSETS, SEED = 300, 100, 300_000, 21
#: Seconds to which nobody has left anybody, however steady they are (a fifth of a quick count: common practice).
LEAST_OFFSET = 0.03
#: Share of the moments in which who is away for all the rest is with the others, at least: else it is her habit.
TOGETHER = 0.25
#: The same for scatter, and the moments that it takes to show.
LEAST_SPREAD, LEAST_UNEVEN = 0.06, 6
#: Missed moments in a row at which a member is not there.
GONE = 4
#: By how much the more where what is new lies further out than normal noise does: its 98th percentile over that of
#: normal noise, from the excess that normal noise has by chance.
UNSURE_TAILS, NORMAL_98, LONG_TAILS = 0.5, 2.326, 1.12
#: Most stretches left out of the estimate of the model: more of them belong to it.
MOST_QUIET = 2
#: Most stretches that are told of one group.
MOST = 12
#: Moments between two stretches of one member that make one of them.
BESIDE = 3
#: SDs from which a stretch is left out of the model, by distance and by scatter, and the least at which one is told.
FAR_OUT, FAR_UNEVEN, LEAST_OUT = 5.0, 10.0, 3.5
#: By how much more than simulated groups of n moments show it has to stand out, over n, by distance and by scatter:
#: what is kept and how far everybody scatters are estimates. Tuned on people of normal noise, judged on others.
UNSURE_DISTANCE, UNSURE_SCATTER = 8.0, 12.0


class Stood(NamedTuple):
    """A stretch in which a member stood out.

    Parameters
    ----------
    member : int
    first, last : int
        Moments of the plan, the last one included.
    offset : float
        Seconds from the median of the others, late positive; NaN where she was not there.
    spread : float
        SD of that in the stretch; NaN under two moments.
    uneven : bool
        Whether it is her scatter that stands out and not her distance.
    """

    member: int
    first: int
    last: int
    offset: float
    spread: float
    uneven: bool


def find_left(
    asynchronies: Floats, hands: Sequence[str], *, seen: NDArray[np.bool_] | None = None
) -> tuple[Stood, ...]:
    """Return who left the group, in order of place.

    Parameters
    ----------
    asynchronies : array, shape (m, n)
        Seconds to the plan for each member and moment; NaN where missed.
    hands : sequence of str, length n
        Index of each moment's hand: each has its own median.
    seen : array of bool, shape (m, n), optional
        Whether it could be observed: who was not recorded has not left. By default everything.
    """
    here = ~np.isnan(asynchronies)
    rows = np.flatnonzero(here.sum(axis=1) >= max(LEAST_MOMENTS, LEAST_SHARE * asynchronies.shape[1]))
    told = [*_find_gone(here, np.ones_like(here) if seen is None else seen, rows)]
    if len(rows) >= LEAST_MEMBERS:
        told += _find_out(asynchronies, rows, np.unique(np.asarray(hands), return_inverse=True)[1])
    return tuple(sorted(told, key=lambda one: (one.first, one.member)))[:MOST]


def _find_gone(here: NDArray[np.bool_], seen: NDArray[np.bool_], rows: NDArray[np.intp]) -> Iterator[Stood]:
    """Return runs of moments that she missed and most others did, at the ends too: who came late, or stopped."""
    for b in np.flatnonzero(here.any(axis=1)).tolist():
        those = [j for j in rows.tolist() if j != b]
        if not those:
            continue
        others = here[those].mean(axis=0) > 0.5
        missed = others & seen[b] & ~here[b]
        for gone, run in groupby(range(here.shape[1]), key=missed.__getitem__):
            at = list(run)
            if gone and len(at) >= GONE:
                yield Stood(b, at[0], at[-1], math.nan, math.nan, False)


def _find_out(asynchronies: Floats, rows: NDArray[np.intp], hand: NDArray[np.intp]) -> list[Stood]:
    values = asynchronies[rows].copy()
    away = np.zeros(values.shape, dtype=np.bool_)  # who is known to have left at which moments
    moved = np.zeros(values.shape)
    found: list[Stood] = []
    for _ in range(MOST):
        apart = _from_others(values, away)
        centred = _centre(values - _share(values, apart) * (values - apart) - moved, hand, away)
        model = find_model(centred)
        tried = _quieten(centred, model)
        scale = find_scale(whiten(tried, model))
        best = _scan(centred, model, scale)
        if max(best.distance, best.scatter) <= LEAST_OUT:
            break
        quiet = standardise(tried, model, scale)
        if best.scatter > FAR_UNEVEN:
            quiet[best.uneven_member, best.uneven_start : best.uneven_end + 1] = np.nan
        distance, scatter = _by_chance(model, values.shape[1], len(rows), quiet)
        member, start, end = _widen(standardise(centred, model, scale), best, model)
        without = _scan(_without_steps(centred, (member, start, end), distance, model, scale), model, scale)
        uneven = without.scatter > scatter
        if uneven:
            member, start, end = without.uneven_member, without.uneven_start, without.uneven_end
        elif best.distance <= distance:
            break
        jump = 0.0 if uneven else find_step(centred[member], start, end, model)
        inside = np.zeros(values.shape[1], dtype=np.bool_)
        inside[start:end] = True
        if not uneven and _is_with_others(apart[member], inside):
            inside, jump = ~inside, -jump
        for first, last in find_runs(inside).tolist():
            stretch = apart[member, first:last]
            there = stretch[~np.isnan(stretch)]
            if len(there) > 1:
                one = Stood(int(rows[member]), first, last - 1, float(there.mean()), float(there.std(ddof=1)), uneven)
                small = one.spread < LEAST_SPREAD if uneven else min(abs(jump), abs(one.offset)) < LEAST_OFFSET
                if not small and not any(_echoes(one, other) for other in found):
                    found.append(one)
        moved[member, inside] += jump
        if uneven:
            values[member, inside] = np.nan
        away[member, inside] = True
    return found


def _is_with_others(apart: Floats, inside: NDArray[np.bool_]) -> bool:
    """Return whether the stretch that stands out is really the one in which she was with the others.

    Whoever left for more than half of it has her own middle there.
    """
    here = ~np.isnan(apart)
    if inside.sum() < TOGETHER * len(apart) or not (here & ~inside).any():
        return False
    off, rest = (abs(float(np.median(apart[here & part]))) for part in (inside, ~inside))
    return off < LEAST_OFFSET <= rest


def _without_steps(rows: Floats, first: tuple[int, int, int], distance: float, model: Model, scale: Floats) -> Floats:
    """Return the rows with her step, and the significant ones of other members, taken out.

    A step has two edges and no scatter between them; what scatters without it is uneven.
    """
    calm = rows.copy()
    member, start, end = first
    done: set[int] = set()
    while member not in done:
        done.add(member)
        calm[member, start:end] -= find_step(calm[member], start, end, model)
        best = _scan(calm, model, scale)
        if best.distance <= distance:
            break
        member, start, end = _widen(standardise(calm, model, scale), best, model)
    return calm


def _echoes(one: Stood, other: Stood) -> bool:
    """Return whether a stretch merely mirrors a clearer one: her remainder beside it, or the others' opposite."""
    if one.member == other.member:
        return one.first <= other.last + BESIDE and other.first <= one.last + BESIDE
    common = min(one.last, other.last) - max(one.first, other.first) + 1
    return 2 * common > one.last - one.first + 1 and (one.offset > 0) != (other.offset > 0)


def _from_others(values: Floats, away: NDArray[np.bool_]) -> Floats:
    """Return each member's distance from the median of those who are with the group; NaN where nobody is."""
    seen = np.where(away, np.nan, values)
    out = np.full(values.shape, np.nan)
    for b in range(len(values)):
        others = np.delete(seen, b, axis=0)
        some = ~np.isnan(others).all(axis=0)
        out[b, some] = values[b, some] - np.nanmedian(others[:, some], axis=0)
    return out


def _share(values: Floats, apart: Floats) -> float:
    """Return the pooled regression of members on the others' median, 0 to 1; 0 if only the music is common.

    To hold her against the others' median costs its own scatter, and is worth it as far as they go together.
    """
    products = squares = 0.0
    for own, others in zip(values, values - apart, strict=True):
        there = ~np.isnan(own) & ~np.isnan(others)
        if there.sum() > 2:
            x, y = (row[there] - np.median(row[there]) for row in (others, own))
            far = 3 * np.median(np.abs(y)) * 1.4826
            y = np.clip(y, -far, far)
            products += float(x @ y)
            squares += float(x @ x)
    return min(max(products / squares, 0.0), 1.0) if squares else 1.0


def _centre(apart: Floats, hand: NDArray[np.intp], away: NDArray[np.bool_]) -> Floats:
    """Return the distances less each member's median by hand, with gaps interpolated linearly."""
    out = apart.copy()
    place = np.arange(apart.shape[1])
    for row, gone in zip(out, away, strict=True):
        for number in range(hand.max(initial=0) + 1):
            mine = (hand == number) & ~np.isnan(row)
            quiet = mine & ~gone if (mine & ~gone).any() else mine
            if quiet.any():
                row[mine] -= np.median(row[quiet])
        there = ~np.isnan(row)
        row[:] = np.interp(place, place[there], row[there]) if there.any() else 0.0
    return out


class _Best(NamedTuple):
    """The most prominent stretch, by distance and by scatter."""

    distance: float
    member: int
    start: int
    end: int
    scatter: float
    uneven_member: int
    uneven_start: int
    uneven_end: int


def _lengths(n: int) -> list[int]:
    return [length for length in LENGTHS if length <= max(n // 2, LENGTHS[0])]


def _scan(rows: Floats, model: Model, scale: Floats | None = None) -> _Best:
    new = standardise(rows, model, scale)
    distance, at = -1.0, (0, 0, 0)
    scatter, uneven = -math.inf, (0, 0, 0)
    squares = np.cumsum(np.pad(np.minimum(new**2, CLIPPED), ((0, 0), (1, 0))), axis=-1)
    n = new.shape[1]
    stretches = Stretches(new, model)
    for length in _lengths(n):
        out = np.abs(stretches.of_length(length))
        start, member = np.unravel_index(int(out.argmax()), out.shape)
        if out[start, member] > distance:
            distance, at = float(out[start, member]), (int(member), int(start), int(start) + length)
        if length < LEAST_UNEVEN:
            continue
        wide = (squares[:, length:] - squares[:, : n - length + 1] - length) / math.sqrt(2 * length)
        member, start = np.unravel_index(int(wide.argmax()), wide.shape)
        if wide[member, start] > scatter:
            scatter, uneven = float(wide[member, start]), (int(member), int(start), int(start) + length)
    return _Best(distance, *at, scatter, *uneven)


def _quieten(rows: Floats, model: Model) -> Floats:
    """Return the rows without the most prominent stretch, and without other outliers."""
    out = rows.copy()
    for k in range(MOST_QUIET):
        new = standardise(out, model)
        best = _scan(out, model)
        if k and best.distance < FAR_OUT:
            break
        member, start, end = _widen(new, best, model)
        out[member, start:end] -= find_step(out[member], start, end, model)
    return out


def _by_chance(model: Model, n: int, members: int, new: Floats) -> tuple[float, float]:
    """Return the critical values of distance and scatter for a group of that timing and those residuals."""
    generator = np.random.default_rng(SEED)
    pool = new[:, 1:][~np.isnan(new[:, 1:])]
    groups = min(SIMULATED, max(LEAST_SIMULATED, SIMULATED_ONSETS // (members * n)))
    noise = generator.choice(pool, (groups, members, n + 1))
    noise = noise[..., 1:] - pool.mean()
    noise[..., 0] = 0.0
    scaled = noise / find_scale(noise)[..., None]
    distance, scatter = np.zeros((groups, members)), np.full(groups, -np.inf)
    squares = np.cumsum(np.pad(np.minimum(scaled**2, CLIPPED), ((0, 0), (0, 0), (1, 0))), axis=-1)
    stretches = Stretches(scaled, model)
    for length in _lengths(n):
        np.maximum(distance, np.abs(stretches.of_length(length)).max(axis=0), out=distance)
        if length < LEAST_UNEVEN:
            continue
        wide = squares[..., length:] - squares[..., : n - length + 1]
        np.maximum(scatter, (wide.max(axis=(1, 2)) - length) / math.sqrt(2 * length), out=scatter)
    # her scatter is told without the stretch, which makes whatever stands out most stand out more
    distance /= np.sqrt(np.maximum(1 - distance**2 / (n - 1 + ALIKE), 0.05))
    # what stands out most was taken out of the pool, which hides how far out it goes where single onsets lie far out
    tails = float(np.quantile(np.abs(pool), 0.98)) / (NORMAL_98 * max(robust_sd_about_zero(pool), 1e-9))
    unsure = (1 + UNSURE_DISTANCE / n) * (1 + UNSURE_TAILS * max(tails - LONG_TAILS, 0.0))
    return (
        max(float(np.quantile(distance.max(axis=1), 1 - LEVEL)) * unsure, LEAST_OUT),
        max(float(np.quantile(scatter, 1 - LEVEL)) * (1 + UNSURE_SCATTER / n), LEAST_OUT),
    )


def _widen(new: Floats, best: _Best, model: Model) -> tuple[int, int, int]:
    """Return member, beginning and end of the stretch, its ends optimised around those given."""
    start, end, n = best.start, best.end, new.shape[1]
    margin = max(3, (end - start) // 2)
    firsts = np.arange(max(start - margin, 0), min(start + margin, end - 2) + 1)
    tried, stretches = [], Stretches(new[best.member], model)
    for length in range(2, min(end - start + 2 * margin, n - 1) + 1):
        out = np.abs(stretches.of_length(length))
        at = firsts[(firsts + length <= min(end + margin, n)) & (firsts + length >= max(end - margin, 0))]
        if at.size:
            k = int(at[out[at].argmax()])
            tried.append((float(out[k]), k, k + length))
    _, first, last = max(tried)
    return best.member, first, last
