"""Which cycle broke, and how: faults of known shape, each held against everything that a good take may do.

A *fault* is a shape of lateness: a cycle that is too long (everything after it is later, until it is corrected), a step
that is too long, one moment that comes late. Each is asked how much better the take is explained with it than without
(a Bayes factor over the models of :mod:`tempo_coach.score.timing`, its size free), the best is taken out, and the rest
is asked again. Moments that are missed are unknowns of the fit, so that nothing has to be filled in.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from tempo_coach.score.timing import (
    CONSTANT_SD,
    LABEL_SD,
    TEMPO_SD,
    USUAL_FREEDOM,
    USUAL_SD,
    Layout,
    Timing,
    model_timing,
    whiten,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats, Ints

#: Shares of the lateness of a long cycle that are kept from each cycle to the next.
KEPT = (1.0, 0.75, 0.5, 0.25, 0.0)
#: Prior SD of the size of a fault, shares of the cycle: a cycle's length, and a single moment.
LONG_SD, MOMENT_SD = 0.15, 0.10
RAMP, STEP, MOMENT = 0, 1, 2
#: The same of a step that is too long, the shares of it that are kept, and how usual it is beside the other two.
STEP_SD, STEP_KEPT, STEP_PRIOR = 0.4, (1.0, 0.5), 0.2
#: Log of the odds from which on a fault is told: simulated, so that at most 3 of 1,000 good cycles are.
TOLD_FROM = 3.0
#: A fault that gains less than this is not looked for further.
SEARCHED_FROM = 1.0
#: How usual scatter with heavy tails (Student's t with 3 degrees of freedom) is beforehand.
HEAVY_TAILS = 0.3
#: By how much a moment has to gain more where what is left has heavy tails.
HEAVY_DEARER = 3.5
#: Most of what a long cycle or step gains that heavy tails may account for: beyond it no scatter is that wide.
MOST_BY_TAILS = 6.0
#: Rounds in which the scale of heavy tails settles.
ROUNDS = 8
#: Share of what a shape would tell by itself, under which faults taken or moments missed leave nothing of it.
UNKNOWN = 1e-6
#: Fewer moments than this show nothing.
LEAST_MOMENTS = 4
#: Moments in a stretch that is searched at once, its least length in cycles, and the overlap of stretches.
STRETCH_MOMENTS, STRETCH_CYCLES, OVERLAP = 144, 12, 4


@dataclass(frozen=True, eq=False)
class Shapes:
    """Shapes of lateness that faults have in one layout: columns of equal length s.

    Parameters
    ----------
    shape : array, shape (s, n)
        Lateness of each moment for a fault of 1.
    kind : array of int, shape (s,)
        RAMP (a cycle), STEP (the step that ends at a moment) or MOMENT.
    cycle, moment : array of int, shape (s,)
        Number of the cycle from the first of the layout; position of the moment, or -1.
    hand : array of int, shape (s,)
        The hand that does it, or -1 for all.
    kept : array, shape (s,)
    log_prior : array, shape (s,)
        Of the faults of one cycle, together 1; of each kind the same share.
    size_sd : array, shape (s,)
    """

    shape: Floats
    kind: Ints
    cycle: Ints
    moment: Ints
    hand: Ints
    kept: Floats
    log_prior: Floats
    size_sd: Floats


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
    """

    kind: int
    cycle: int
    moment: int
    hand: int
    by: float
    gain: float
    share: float


def lay_shapes(layout: Layout, hand: Ints) -> Shapes:
    """Return the shapes of the faults of a layout; remembered."""
    position = np.round(layout.position - np.floor(layout.position[0] + 1e-9), 6)
    return _shapes(position.tobytes(), np.asarray(hand, dtype=np.int64).tobytes())


@lru_cache(maxsize=8)
def _shapes(position_bytes: bytes, hand_bytes: bytes) -> Shapes:
    position, hand = np.frombuffer(position_bytes), np.frombuffer(hand_bytes, dtype=np.int64)
    n, hands = len(position), np.unique(hand)
    cycle = np.floor(position + 1e-9).astype(np.int64)
    whose = [-1, *hands.tolist()] if len(hands) > 1 else [-1]
    rows: list[tuple[Floats, int, int, int, int, float, float, float]] = []
    for number in range(cycle.max() + 1):
        here = np.flatnonzero(cycle == number)
        for who in whose:
            mine = np.ones(n) if who < 0 else (hand == who).astype(float)
            share = (1.0 if who < 0 else 0.5) / (1 if who < 0 else len(hands))
            for kept in KEPT:
                after = np.maximum(position - number - 1, 0.0)
                decay = kept**after if kept else (after <= 0).astype(float)
                ramp = np.clip(position - number, 0, 1) * decay * mine
                if number < cycle.max():
                    rows.append((ramp, RAMP, number, -1, who, kept, share / len(KEPT), LONG_SD))
        for i in here.tolist():
            for who in whose:
                if (i == 0 or (who >= 0 and hand[i] != who)) or position[i] < 0.2:
                    continue
                share = (1.0 if who < 0 else 0.5) / (1 if who < 0 else len(hands))
                mine = np.ones(n) if who < 0 else (hand == who).astype(float)
                for kept in STEP_KEPT:
                    decay = kept ** np.maximum(position - position[i], 0.0)
                    after = (position >= position[i] - 1e-9) * decay * mine
                    rows.append(
                        (after, STEP, number, i, who, kept, STEP_PRIOR * share / len(here) / len(STEP_KEPT), STEP_SD)
                    )
            single = np.zeros(n)
            single[i] = 1.0
            rows.append((single, MOMENT, number, i, int(hand[i]), 0.0, 1.0 / len(here), MOMENT_SD))
    columns = [np.array(each) for each in zip(*rows, strict=True)]
    prior = columns[6].astype(float)
    shape, kind, number_of, moment, whose_it_is, kept_of = columns[:6]
    return Shapes(
        shape,
        kind,
        number_of,
        moment,
        whose_it_is,
        kept_of,
        np.log(prior / prior.sum() * (cycle.max() + 1)),
        columns[7],
    )


class Fit(NamedTuple):
    """A take held against every model with some faults taken out, shape (g, ...) each."""

    square: Floats  # of what is left
    numerator: Floats  # (g, s)
    denominator: Floats  # (g, s)
    log_likelihood: Floats
    freedom: float


class _Sizes(NamedTuple):
    """Sizes of some columns (g, f) in each model, its scale and weight, and the last column's unit variance (g,)."""

    sizes: NDArray[np.floating[Any]]
    scale: NDArray[np.floating[Any]]
    weight: NDArray[np.floating[Any]]
    variance: NDArray[np.floating[Any]]


class Search:
    """A take's lateness held against the models and shapes of its layout.

    Parameters
    ----------
    layout : Layout
    hand : array of int, shape (n,)
    late : array, shape (n,)
        Lateness in cycles; NaN where missed.
    """

    def __init__(self, layout: Layout, hand: Ints, late: Floats) -> None:
        self.timing: Timing = model_timing(layout)
        self.shapes = lay_shapes(layout, hand)
        self.known = ~np.isnan(late)
        y = np.where(self.known, late, 0.0)
        self.late = y
        precision = self.timing.precision
        self._u = precision @ y
        self._square = self._u @ y
        self._numerator = self._u @ self.shapes.shape.T
        self._denominator = _denominators(layout, hand)
        missed = np.eye(len(y))[~self.known]
        self._fixed = missed

    def fit(self, taken: list[int]) -> Fit:
        """Return what is left when missed moments and the shapes taken are fitted."""
        out = np.concatenate([self._fixed, self.shapes.shape[taken]]) if taken else self._fixed
        square, numerator, denominator = self._square, self._numerator, self._denominator
        extra = 0.0
        if len(out):
            weighted = out @ self.timing.precision  # (g, f, n)
            inner = weighted @ out.T
            toward = np.einsum("gfn,n->gf", weighted, self.late)
            across = weighted @ self.shapes.shape.T  # (g, f, s)
            solved = np.linalg.solve(inner, across)
            numerator = numerator - np.einsum("gf,gfs->gs", toward, solved)
            denominator = denominator - (across * solved).sum(axis=1)
            square = square - np.einsum("gf,gf->g", toward, np.linalg.solve(inner, toward[:, :, None])[:, :, 0])
            extra = np.linalg.slogdet(inner)[1]
        freedom = float(self.known.sum()) - len(taken) - 1 + USUAL_FREEDOM
        square = np.maximum(square, 0.0) + USUAL_FREEDOM * USUAL_SD**2
        likelihood = -0.5 * (self.timing.log_determinant + extra) - freedom / 2 * np.log(square)
        return Fit(square, numerator, np.maximum(denominator, 0.0), likelihood, freedom)

    def heaviness(self, taken: list[int], fit: Fit) -> float:
        """Return the log of how much likelier what is left is with heavy tails than with normal ones."""
        out = np.concatenate([self._fixed, self.shapes.shape[taken]])
        model = int(np.argmax(fit.log_likelihood))
        whitener = whiten(self.timing.precision[model])
        y, columns = whitener @ self.late, whitener @ out.T
        weight = np.ones(len(y))
        n = len(y) - len(self._fixed)
        rest, scale = y, 1.0
        for turn in range(ROUNDS):
            if len(out):
                weighted = columns * weight[:, None]
                size = np.linalg.lstsq(weighted.T @ columns, weighted.T @ y, rcond=None)[0]
                rest = y - columns @ size
            if not turn:
                square = max(float((rest**2).sum()) / n, 1e-12)
                normal = -n / 2 * (np.log(2 * np.pi * square) + 1)
                scale = square**0.5 / 1.5
            weight = 4 / (3 + (rest / scale) ** 2)
            scale = max(float((weight * rest**2).sum()) / n, 1e-12) ** 0.5
        heavy = n * (np.log(2 / (np.pi * 3**0.5)) - np.log(scale)) - 2 * np.log1p((rest / scale) ** 2 / 3).sum()
        return float(heavy - normal)

    def gains(self, fit: Fit) -> Floats:
        """Return for each shape the log Bayes factor with it against without."""
        weight = fit.log_likelihood - np.logaddexp.reduce(fit.log_likelihood)
        variance = (fit.square / fit.freedom)[:, None]
        size_variance = self.shapes.size_sd[None, :] ** 2
        shrunk = fit.numerator**2 / (fit.denominator + variance / size_variance)
        left = np.maximum(1 - shrunk / fit.square[:, None], 1e-12)
        gain = -fit.freedom / 2 * np.log(left) - 0.5 * np.log1p(fit.denominator * size_variance / variance)
        gain = np.where(fit.denominator > UNKNOWN * self._denominator, gain, -np.inf)
        best: Floats = np.logaddexp.reduce(weight[:, None] + gain, axis=0)
        return best

    def sizes(self, taken: list[int]) -> Floats:
        """Return the size of each shape taken, in cycles: generalised least squares, mean over the models."""
        if not taken:
            return np.zeros(0)
        solved = self._solve(np.concatenate([self._fixed, self.shapes.shape[taken]]), taken)
        return (solved.weight @ solved.sizes)[-len(taken) :]

    def lines(self, taken: list[int], layout: Layout) -> tuple[Estimate, Estimate, Estimate]:
        """Return the lateness in the middle, the tempo and the drift, with these shapes taken out."""
        centred = layout.position - layout.position.mean()
        ones = np.ones_like(centred)
        square = centred**2 / 2
        square = square - square.mean()
        # the models have a free constant, offsets and a tempo already: their prior is no doubt about the value
        labels = LABEL_SD**2 / len(np.unique(layout.label))
        level = self._estimate([*taken], [ones], CONSTANT_SD**2 + labels)
        tempo = self._estimate([*taken], [centred], TEMPO_SD**2)
        drift = self._estimate([*taken], [centred, square], 0.0)
        return level, tempo, drift

    def _estimate(self, taken: list[int], lines: list[Floats], prior: float) -> Estimate:
        """The last of some lines, fitted with shapes and the other lines."""
        solved = self._solve(np.concatenate([self._fixed, self.shapes.shape[taken], np.array(lines)]), taken)
        values = solved.sizes[:, -1]
        mean = float(solved.weight @ values)
        within = solved.weight @ (solved.scale * np.maximum(solved.variance - prior, 1e-9))
        return Estimate(mean, float(np.sqrt(within + solved.weight @ (values - mean) ** 2)))

    def _solve(self, out: Floats, taken: list[int]) -> _Sizes:
        """Fit some columns in each model."""
        fit = self.fit(taken)
        weight = np.exp(fit.log_likelihood - np.logaddexp.reduce(fit.log_likelihood))
        weighted = out @ self.timing.precision
        inner = weighted @ out.T
        toward = weighted @ self.late
        sizes = np.linalg.solve(inner, toward[:, :, None])[:, :, 0]
        last = np.linalg.inv(inner)[:, -1, -1]
        square = np.maximum(self._square - (toward * sizes).sum(axis=1), 0.0) + USUAL_FREEDOM * USUAL_SD**2
        return _Sizes(sizes, square / fit.freedom, weight, last)


class Estimate(NamedTuple):
    """A value and its SD, by generalised least squares over all models."""

    value: float
    sd: float

    def is_beyond(self, sds: float) -> bool:
        """Whether it is off 0 by more than so many SDs."""
        return abs(self.value) > sds * self.sd


UNKNOWN_ESTIMATE = Estimate(0.0, np.inf)


def _pool(estimates: Sequence[Estimate]) -> Estimate:
    """Mean of estimates, each as heavy as it is sure."""
    weight = np.array([1 / each.sd**2 for each in estimates])
    if not weight.sum() > 0:
        return UNKNOWN_ESTIMATE
    return Estimate(float(np.average([each.value for each in estimates], weights=weight)), float(weight.sum() ** -0.5))


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
    level, tempo, drift = map(_pool, zip(*lines, strict=True))
    return Explained(tuple(found), rest, level, tempo, drift)


def _search_stretch(layout: Layout, hand: Ints, late: Floats) -> Explained:
    """Forward search: the best fault is taken out and the rest asked again, as long as it pays."""
    search = Search(layout, hand, late)
    shapes = search.shapes
    first_cycle = int(np.floor(layout.position[0] + 1e-9))
    most = 1 + (int(layout.position[-1]) - first_cycle + 1) // 4
    taken: list[int] = []
    steps: list[Fault] = []
    totals, explained = [0.0], 0.0
    fit = search.fit(taken)
    before = search.heaviness(taken, fit)
    while len(taken) < most:
        posterior = search.gains(fit) + shapes.log_prior
        best = int(np.argmax(posterior))
        mine, every = np.logaddexp.reduce(posterior[_alike(shapes, best)]), np.logaddexp.reduce(posterior)
        if mine < SEARCHED_FROM:
            break
        taken.append(best)
        fit = search.fit(taken)
        after = search.heaviness(taken, fit)
        worth = float(mine) + _tails(after) - _tails(before)
        if shapes.kind[best] != MOMENT:
            worth = max(worth, float(mine) - MOST_BY_TAILS)
        before = after
        steps.append(
            Fault(
                int(shapes.kind[best]),
                first_cycle + int(shapes.cycle[best]),
                int(shapes.moment[best]),
                int(shapes.hand[best]),
                0.0,
                worth,
                float(np.exp(mine - every)),
            )
        )
        explained += worth
        heavy = np.exp(np.log(HEAVY_TAILS) + after - _tails(after))
        moments = sum(step.kind == MOMENT for step in steps)
        totals.append(explained - len(taken) * TOLD_FROM - moments * HEAVY_DEARER * heavy)
    kept = int(np.argmax(totals))
    sizes = search.sizes(taken[:kept])
    rest = np.where(search.known, late - sizes @ shapes.shape[taken[:kept]], np.nan)
    faults = [step._replace(by=float(by)) for step, by in zip(steps, sizes, strict=False)]
    faults.sort(key=lambda fault: (fault.cycle, fault.moment))
    return Explained(tuple(faults), rest, *search.lines(taken[:kept], layout))


def _tails(heaviness: float) -> float:
    return float(np.logaddexp(np.log(1 - HEAVY_TAILS), np.log(HEAVY_TAILS) + heaviness))


def _alike(shapes: Shapes, best: int) -> NDArray[np.bool_]:
    """The shapes that are told as the same fault: the same kind at the same place, whatever is kept of it."""
    same = (shapes.kind == shapes.kind[best]) & (shapes.cycle == shapes.cycle[best])
    if shapes.kind[best] != RAMP:
        same &= shapes.moment == shapes.moment[best]
    alike: NDArray[np.bool_] = same
    return alike


def _denominators(layout: Layout, hand: Ints) -> Floats:
    position = np.round(layout.position - layout.position[0], 6)
    return _cached_denominators(
        position.tobytes(),
        np.asarray(layout.label, dtype=np.int64).tobytes(),
        np.round(layout.position - np.floor(layout.position[0] + 1e-9), 6).tobytes(),
        np.asarray(hand, dtype=np.int64).tobytes(),
    )


@lru_cache(maxsize=8)
def _cached_denominators(position: bytes, label: bytes, absolute: bytes, hand: bytes) -> Floats:
    timing, shapes = _model_of(position, label), _shapes(absolute, hand)
    return np.array([((shapes.shape @ precision) * shapes.shape).sum(axis=1) for precision in timing.precision])


def _model_of(position: bytes, label: bytes) -> Timing:
    from tempo_coach.score.timing import _model

    return _model(position, label)
