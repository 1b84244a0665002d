"""Who left the group, and where: a member whose distance from the others, or whose scatter, stands out in a stretch.

Each member is held against the median of the others at each moment and against her own usual place there, so that
another one who is steadily late makes nobody stand out. How far it takes to stand out is what her own kind of timing
gives by chance: lateness lasts from one moment to the next by as much as she does not correct, and scatter may have
heavy tails; both are taken from the group itself, with what stands out taken out.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.score.measures.period import KEPT as KEPT_SHARE
from tempo_coach.score.measures.period import KEPT_TO_SD

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats

#: Members from which on it can be told who of them left; of two, who left whom is not to be told.
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
#: The same for scatter, and the moments that it takes to show.
LEAST_SPREAD, LEAST_UNEVEN = 0.06, 6
#: Missed moments in a row at which a member is not there.
GONE = 4
#: By how much the more where what is new lies further out than normal noise does: its 98th percentile over that of
#: normal noise, from the excess that normal noise has by chance.
UNSURE_TAILS, NORMAL_98, LONG_TAILS = 0.5, 2.326, 1.12
#: Stretches that are taken out of what is usual at most: more of them are what is usual here.
MOST_QUIET = 2
#: Most stretches that are told of one group.
MOST = 12
#: Shares of a lateness that are kept to the next moment, and moving averages, that are tried for all members together.
KEPT, MOVING = (0.0, 0.25, 0.5, 0.65, 0.75, 0.85, 0.93, 1.0), (0.0, 0.2, 0.4, 0.6)
#: Standardised squares beyond this count no more in a scatter: one onset alone makes no stretch uneven.
CLIPPED = 9.0
#: Moments that the mean of all members counts for in the scatter of each.
ALIKE = 20
#: Moments between two stretches of one member that make one of them.
BESIDE = 3
#: SDs from which on a stretch is no part of what is usual, by distance and by scatter, and the least at which one is
#: told.
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


def find_left(asynchronies: Floats, hands: Sequence[str]) -> tuple[Stood, ...]:
    """Return who left the group, in order of place.

    Parameters
    ----------
    asynchronies : array, shape (m, n)
        Seconds to the plan for each member and moment; NaN where missed.
    hands : sequence of str, length n
        Which hand each moment is of: each has a usual place of its own.
    """
    here = ~np.isnan(asynchronies)
    rows = np.flatnonzero(here.sum(axis=1) >= max(LEAST_MOMENTS, LEAST_SHARE * asynchronies.shape[1]))
    if len(rows) < LEAST_MEMBERS:
        return ()
    told = [*_find_gone(here, rows)]
    told += _find_out(asynchronies, rows, np.unique(np.asarray(hands), return_inverse=True)[1])
    return tuple(sorted(told, key=lambda one: (one.first, one.member)))[:MOST]


def _find_gone(here: NDArray[np.bool_], rows: NDArray[np.intp]) -> Iterator[Stood]:
    """Runs of missed moments at which most of the others were there, between moments that she did."""
    for b in rows.tolist():
        others = here[[j for j in rows.tolist() if j != b]].mean(axis=0) > 0.5
        own = np.flatnonzero(here[b])
        inside = np.arange(own[0], own[-1] + 1)
        for missed, run in groupby(inside.tolist(), key=lambda k: bool(others[k] and not here[b, k])):
            at = list(run)
            if missed and len(at) >= GONE:
                yield Stood(b, at[0], at[-1], math.nan, math.nan, False)


def _find_out(asynchronies: Floats, rows: NDArray[np.intp], hand: NDArray[np.intp]) -> list[Stood]:
    values = asynchronies[rows].copy()
    away = np.zeros(values.shape, dtype=np.bool_)  # who is known to have left at which moments
    moved = np.zeros(values.shape)
    found: list[Stood] = []
    for _ in range(MOST):
        apart = _from_others(values, away)
        usual = _from_usual(values - _share(values, apart) * (values - apart) - moved, hand, away)
        model = _model(usual)
        tried = _quieten(usual, model)
        scale = _scale(_white(tried, model))
        best = _scan(usual, model, scale)
        if max(best.distance, best.scatter) <= LEAST_OUT:
            break
        quiet = _standardise(tried, model, scale)
        if best.scatter > FAR_UNEVEN:
            quiet[best.uneven_member, best.uneven_start : best.uneven_end + 1] = np.nan
        distance, scatter = _by_chance(model, values.shape[1], len(rows), quiet)
        member, start, end = _widen(_standardise(usual, model, scale), best, model)
        # a step has two edges and no scatter between them; what scatters without it is uneven
        calm = usual.copy()
        calm[member, start:end] -= _step(usual[member], start, end, model)
        without = _scan(calm, model, scale)
        uneven = without.scatter > scatter
        if uneven:
            member, start, end = without.uneven_member, without.uneven_start, without.uneven_end
        elif best.distance <= distance:
            break
        stretch = apart[member, start:end]
        there = stretch[~np.isnan(stretch)]
        jump = 0.0 if uneven else _step(usual[member], start, end, model)
        if len(there) > 1:
            one = Stood(int(rows[member]), start, end - 1, float(there.mean()), float(there.std(ddof=1)), uneven)
            small = one.spread < LEAST_SPREAD if uneven else min(abs(jump), abs(one.offset)) < LEAST_OFFSET
            if not small and not any(_echoes(one, other) for other in found):
                found.append(one)
        moved[member, start:end] += jump
        if uneven:
            values[member, start:end] = np.nan
        away[member, start:end] = True
    return found


def _echoes(one: Stood, other: Stood) -> bool:
    """Whether a stretch is what a clearer one leaves: its rest beside it, or the others' mirror image."""
    if one.member == other.member:
        return one.first <= other.last + BESIDE and other.first <= one.last + BESIDE
    common = min(one.last, other.last) - max(one.first, other.first) + 1
    return 2 * common > one.last - one.first + 1 and (one.offset > 0) != (other.offset > 0)


def _from_others(values: Floats, away: NDArray[np.bool_]) -> Floats:
    """Each member's distance from the median of the others who are with the group; NaN where nobody is."""
    seen = np.where(away, np.nan, values)
    out = np.full(values.shape, np.nan)
    for b in range(len(values)):
        others = np.delete(seen, b, axis=0)
        some = ~np.isnan(others).all(axis=0)
        out[b, some] = values[b, some] - np.nanmedian(others[:, some], axis=0)
    return out


def _share(values: Floats, apart: Floats) -> float:
    """How much of what the others do together each member does too, 0 to 1: nothing, where they only hear one music.

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


def _from_usual(apart: Floats, hand: NDArray[np.intp], away: NDArray[np.bool_]) -> Floats:
    """The distances less each member's usual one by hand, with gaps bridged by straight lines."""
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


class _Model(NamedTuple):
    """How the lateness of all members goes on: what is kept to the next moment, and a moving average."""

    kept: float
    moving: float


def _white(rows: Floats, model: _Model) -> Floats:
    """What is new at each moment; 0 at the first."""
    out = np.zeros(rows.shape)
    out[..., 1:] = rows[..., 1:] - model.kept * rows[..., :-1]
    if model.moving:
        for k in range(2, rows.shape[-1]):
            out[..., k] += model.moving * out[..., k - 1]
    return out


def _scale(white: Floats) -> Floats:
    """SD of each row (the last axis), members (the one before) taken as much alike, and of what is far out only a part.

    Squares count up to ``CLIPPED`` robust ones of their own row; the rows' mean counts as much as ``ALIKE`` moments.
    """
    squares = white[..., 1:] ** 2
    size = squares.shape[-1]
    kept = max(math.ceil(KEPT_SHARE * size), 1)
    robust = KEPT_TO_SD**2 * np.partition(squares, kept - 1, axis=-1)[..., :kept].mean(axis=-1, keepdims=True)
    own = np.minimum(squares, CLIPPED * robust).mean(axis=-1)
    shared = own.mean(axis=-1, keepdims=True)
    scale: Floats = np.maximum(np.sqrt((size * own + ALIKE * shared) / (size + ALIKE)), 1e-6)
    return scale


def _robust(values: Floats) -> float:
    """SD of a normal distribution whose three quarters nearest 0 are these."""
    squares = np.sort(values**2)[: max(math.ceil(KEPT_SHARE * values.size), 1)]
    return KEPT_TO_SD * math.sqrt(float(squares.mean()))


def _standardise(rows: Floats, model: _Model, scale: Floats | None = None) -> Floats:
    white = _white(rows, model)
    new: Floats = white / (_scale(white) if scale is None else scale)[..., None]
    return new


def _model(rows: Floats) -> _Model:
    """The model at which all that is new is least, members weighed by their own scatter."""
    return min(
        (_Model(kept, moving) for kept in KEPT for moving in MOVING if moving < max(kept, 0.01)),
        key=lambda one: float(np.log(_scale(_white(rows, one))).sum()),
    )


class _Best(NamedTuple):
    """What stands out most: by distance, and by scatter."""

    distance: float
    member: int
    start: int
    end: int
    scatter: float
    uneven_member: int
    uneven_start: int
    uneven_end: int


class _Stretches:
    """How far stretches stand out in what is new, in SDs; the last axis is that of the moments.

    A step up by one at a stretch's begin and down behind its end is, with what is kept taken out, 1 there, ``1 -
    kept`` inside and ``-kept`` behind; its product with what is new, over its own length, is the likelihood ratio. The
    moving average is put on what is new, once, instead of on every step.
    """

    def __init__(self, new: Floats, model: _Model) -> None:
        self._model, self._n = model, new.shape[-1]
        back = np.ascontiguousarray(np.moveaxis(new, -1, 0))
        if model.moving:
            back = back.copy()
            for k in range(self._n - 2, -1, -1):
                back[k] += model.moving * back[k + 1]
        back[0] = 0.0
        self._back = np.append(back, np.zeros((1, *back.shape[1:])), axis=0)
        self._total = np.append(np.zeros((1, *back.shape[1:])), np.cumsum(back, axis=0), axis=0)

    def of_length(self, length: int) -> Floats:
        """Return those of one length by where they begin, along the first axis."""
        kept, last = self._model.kept, self._n - length + 1
        inside = self._total[length:] - self._total[:last]
        edges = self._back[:last] - self._back[length : length + last]
        norms = _norms(self._model, length, self._n).reshape(-1, *[1] * (inside.ndim - 1))
        out: Floats = (kept * edges + (1 - kept) * inside) / norms
        return out


@cache
def _norms(model: _Model, length: int, n: int) -> Floats:
    """Length of the whitened step of a stretch, by where it begins: at either end of the take it has one edge."""
    step = np.pad(np.ones(length), 40)
    inside, at_first, at_last = step[30:], step[40:], step[30:-40]
    norms = [math.sqrt(float((_white(one, model) ** 2).sum())) for one in (inside, at_first, at_last)]
    out = np.full(n - length + 1, norms[0])
    out[0], out[-1] = norms[1], norms[2]
    longest: Floats = np.maximum(out, 1e-9)
    return longest


def _lengths(n: int) -> list[int]:
    return [length for length in LENGTHS if length <= max(n // 2, LENGTHS[0])]


def _scan(rows: Floats, model: _Model, scale: Floats | None = None) -> _Best:
    new = _standardise(rows, model, scale)
    distance, at = -1.0, (0, 0, 0)
    scatter, uneven = -math.inf, (0, 0, 0)
    squares = np.cumsum(np.pad(np.minimum(new**2, CLIPPED), ((0, 0), (1, 0))), axis=-1)
    n = new.shape[1]
    stretches = _Stretches(new, model)
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


def _quieten(rows: Floats, model: _Model) -> Floats:
    """The rows without the stretch that stands out most, and without others that are far out."""
    out = rows.copy()
    for k in range(MOST_QUIET):
        new = _standardise(out, model)
        best = _scan(out, model)
        if k and best.distance < FAR_OUT:
            break
        member, start, end = _widen(new, best, model)
        out[member, start:end] -= _step(out[member], start, end, model)
    return out


def _by_chance(model: _Model, n: int, members: int, new: Floats) -> tuple[float, float]:
    """What distance and scatter are beyond chance in a group of that timing and with those residuals."""
    generator = np.random.default_rng(SEED)
    pool = new[:, 1:][~np.isnan(new[:, 1:])]
    groups = min(SIMULATED, max(LEAST_SIMULATED, SIMULATED_ONSETS // (members * n)))
    noise = generator.choice(pool, (groups, members, n + 1))
    noise = noise[..., 1:] - pool.mean()
    noise[..., 0] = 0.0
    scaled = noise / _scale(noise)[..., None]
    distance, scatter = np.zeros((groups, members)), np.full(groups, -np.inf)
    squares = np.cumsum(np.pad(np.minimum(scaled**2, CLIPPED), ((0, 0), (0, 0), (1, 0))), axis=-1)
    stretches = _Stretches(scaled, model)
    for length in _lengths(n):
        np.maximum(distance, np.abs(stretches.of_length(length)).max(axis=0), out=distance)
        if length < LEAST_UNEVEN:
            continue
        wide = squares[..., length:] - squares[..., : n - length + 1]
        np.maximum(scatter, (wide.max(axis=(1, 2)) - length) / math.sqrt(2 * length), out=scatter)
    # her scatter is told without the stretch, which makes whatever stands out most stand out more
    distance /= np.sqrt(np.maximum(1 - distance**2 / (n - 1 + ALIKE), 0.05))
    # what stands out most was taken out of the pool, which hides how far out it goes where single onsets lie far out
    tails = float(np.quantile(np.abs(pool), 0.98)) / (NORMAL_98 * max(_robust(pool), 1e-9))
    unsure = (1 + UNSURE_DISTANCE / n) * (1 + UNSURE_TAILS * max(tails - LONG_TAILS, 0.0))
    return (
        max(float(np.quantile(distance.max(axis=1), 1 - LEVEL)) * unsure, LEAST_OUT),
        max(float(np.quantile(scatter, 1 - LEVEL)) * (1 + UNSURE_SCATTER / n), LEAST_OUT),
    )


def _step(row: Floats, start: int, end: int, model: _Model) -> float:
    """By how much a stretch lies beside what is around it, by generalised least squares."""
    shape = np.zeros(row.shape)
    shape[start:end] = 1.0
    step, new = _white(shape, model), _white(row, model)
    return float(step @ new) / max(float(step @ step), 1e-12)


def _widen(new: Floats, best: _Best, model: _Model) -> tuple[int, int, int]:
    """Member, begin and end of the stretch at the ends at which it stands out most, tried around those given."""
    start, end, n = best.start, best.end, new.shape[1]
    reach = max(3, (end - start) // 2)
    firsts = np.arange(max(start - reach, 0), min(start + reach, end - 2) + 1)
    tried, stretches = [], _Stretches(new[best.member], model)
    for length in range(2, min(end - start + 2 * reach, n - 1) + 1):
        out = np.abs(stretches.of_length(length))
        at = firsts[(firsts + length <= min(end + reach, n)) & (firsts + length >= max(end - reach, 0))]
        if at.size:
            k = int(at[out[at].argmax()])
            tried.append((float(out[k]), k, k + length))
    _, first, last = max(tried)
    return best.member, first, last
