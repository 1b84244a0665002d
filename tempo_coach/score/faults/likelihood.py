"""Likelihood of a take's lateness under every model of timing, with any shapes of faults taken out."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from tempo_coach.score.faults.models import (
    CONSTANT_SD,
    LABEL_SD,
    MOMENT,
    PRIOR_FREEDOM,
    PRIOR_SD,
    TEMPO_SD,
    Layout,
    lay_shapes,
    model_timing,
    since_first_cycle,
    whiten,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.times import Floats, Ints

#: Rounds in which the scale of heavy tails settles.
ROUNDS = 8
#: Share of what a shape would tell by itself, under which faults taken or moments missed leave nothing of it.
UNKNOWN = 1e-6
#: Logarithm of what is nothing at all beside anything else, and of what is nothing beside all models together: a model
#: of less is left out.
LEAST_LOG, NEGLIGIBLE = -1e6, -20.0
#: Under this a denominator is 0.
LEAST_DENOMINATOR = 1e-300
#: Share of what a moment would tell by itself, under which its own place is not seen any more; and moments from which
#: on there is a kurtosis.
LEAST_SHOWN, LEAST_APART = 0.05, 4


class Estimate(NamedTuple):
    """A value and its SD, by generalised least squares over all models."""

    value: float
    sd: float

    def is_beyond(self, sds: float) -> bool:
        """Whether it is off 0 by more than a number of SDs."""
        return abs(self.value) > sds * self.sd


UNKNOWN_ESTIMATE = Estimate(0.0, np.inf)


def pool(estimates: Sequence[Estimate]) -> Estimate:
    """Return the mean of estimates, weighted by precision."""
    weight = np.array([1 / each.sd**2 for each in estimates])
    if not weight.sum() > 0:
        return UNKNOWN_ESTIMATE
    return Estimate(float(np.average([each.value for each in estimates], weights=weight)), float(weight.sum() ** -0.5))


class Fit(NamedTuple):
    """Fit of every model to a take with some faults taken out, shape (g, ...) each."""

    square: Floats  # of what is left
    numerator: Floats  # (g, s)
    denominator: Floats  # (g, s)
    log_likelihood: Floats
    freedom: float


class _Projected(NamedTuple):
    """Some models, their weights and freedom; Gram matrix (g, f, f) of columns, and products with a take (g, f)."""

    models: Ints
    weight: Floats
    freedom: float
    inner: Floats
    toward: Floats


class _Sizes(NamedTuple):
    """Sizes of some columns (g, f) in each model, its scale and weight (g,), and the columns' unit variances (g, f)."""

    sizes: NDArray[np.floating[Any]]
    scale: NDArray[np.floating[Any]]
    weight: NDArray[np.floating[Any]]
    variance: NDArray[np.floating[Any]]


class Likelihood:
    """Likelihood of a take's lateness under the models and shapes of its layout.

    Parameters
    ----------
    layout : Layout
    hand : array of int, shape (n,)
    late : array, shape (n,)
        Lateness in cycles; NaN where missed.
    """

    def __init__(self, layout: Layout, hand: Ints, late: Floats) -> None:
        self.timing = model_timing(layout)
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
        self._fits: dict[tuple[int, ...], Fit] = {}

    def fit(self, taken: list[int]) -> Fit:
        """Return the residuals after fitting missed moments and the shapes taken; cached."""
        if tuple(taken) not in self._fits:
            self._fits[tuple(taken)] = self._fit(taken)
        return self._fits[tuple(taken)]

    def _fit(self, taken: list[int]) -> Fit:
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
        freedom = float(self.known.sum()) - len(taken) - 1 + PRIOR_FREEDOM
        square = np.maximum(square, 0.0) + PRIOR_FREEDOM * PRIOR_SD**2
        likelihood = -0.5 * (self.timing.log_determinant + extra) - freedom / 2 * np.log(square)
        return Fit(square, numerator, np.maximum(denominator, 0.0), likelihood, freedom)

    def heaviness(self, taken: list[int], fit: Fit) -> float:
        """Return the log likelihood ratio of heavy against normal tails of the residuals."""
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

    def excess_kurtosis(self, fit: Fit) -> float:
        """Return the excess kurtosis of the deletion residuals; 0 for few.

        Smoothed residuals show outliers that innovations smear over several moments (Harvey & Koopman, 1992, *Journal
        of Business and Economic Statistics* 10, from memory).
        """
        model = int(np.argmax(fit.log_likelihood))
        moments = self.shapes.kind == MOMENT
        numerator, denominator = fit.numerator[model, moments], fit.denominator[model, moments]
        shown = denominator > LEAST_SHOWN * self._denominator[model, moments]
        apart = numerator[shown] / np.sqrt(denominator[shown])
        if len(apart) < LEAST_APART:
            return 0.0
        return float(np.mean(apart**4) / max(np.mean(apart**2), 1e-300) ** 2) - 3.0

    def gains(self, fit: Fit) -> Floats:
        """Return for each shape the log Bayes factor of including it."""
        weight = fit.log_likelihood - np.logaddexp.reduce(fit.log_likelihood)
        # her scatter is what is left without the fault: a large one would hide behind itself
        known = fit.denominator > UNKNOWN * self._denominator
        full = np.where(known, fit.numerator**2 / np.maximum(fit.denominator, LEAST_DENOMINATOR), 0.0)
        most = np.minimum(full.max(axis=1, initial=0.0) / fit.square, 1 - 1e-12)
        likely = np.flatnonzero(weight - fit.freedom / 2 * np.log1p(-most) > NEGLIGIBLE)
        full, known, square = full[likely], known[likely], fit.square[likely, None]
        numerator, denominator = fit.numerator[likely], fit.denominator[likely]
        variance = np.maximum(square - full, 1e-12) / fit.freedom
        size_variance = self.shapes.size_sd[None, :] ** 2
        shrunk = numerator**2 / (denominator + variance / size_variance)
        left = np.maximum(1 - shrunk / square, 1e-12)
        gain = -fit.freedom / 2 * np.log(left) - 0.5 * np.log1p(denominator * size_variance / variance)
        gain = np.where(known, gain, -np.inf) + weight[likely, None]
        top = np.maximum(gain.max(axis=0), LEAST_LOG)
        with np.errstate(divide="ignore"):
            best: Floats = top + np.log(np.exp(gain - top).sum(axis=0))
        return best

    def sizes(self, taken: list[int]) -> tuple[Floats, Floats]:
        """Return the size of each shape taken, in cycles, and its SD: generalised least squares over the models."""
        if not taken:
            return np.zeros(0), np.zeros(0)
        solved = self._solve(self._project(np.concatenate([self._fixed, self.shapes.shape[taken]]), taken))
        mean, sd = _over_models(solved, solved.variance)
        return mean[-len(taken) :], sd[-len(taken) :]

    def lines(self, taken: list[int], layout: Layout) -> tuple[Estimate, Estimate, Estimate]:
        """Return the lateness at the middle, the tempo and the drift, with these shapes taken out."""
        centred = layout.position - layout.position.mean()
        ones = np.ones_like(centred)
        square = centred**2 / 2
        square = square - square.mean()
        # the models have a free constant, offsets and a tempo already: their prior is no doubt about the value
        labels = LABEL_SD**2 / len(np.unique(layout.label))
        out = np.concatenate([self._fixed, self.shapes.shape[taken], [ones, centred, square]])
        projected, line = self._project(out, taken), len(out) - 3
        columns = list(range(line))
        level = self._estimate(projected, [*columns, line], CONSTANT_SD**2 + labels)
        tempo = self._estimate(projected, [*columns, line + 1], TEMPO_SD**2)
        drift = self._estimate(projected, [*columns, line + 1, line + 2], 0.0)
        return level, tempo, drift

    def _estimate(self, out: _Projected, columns: list[int], prior: float) -> Estimate:
        """Estimate the last of some columns, fitted jointly with the others."""
        solved = self._solve(out._replace(inner=out.inner[:, columns][:, :, columns], toward=out.toward[:, columns]))
        mean, sd = _over_models(solved, np.maximum(solved.variance - prior, 1e-9))
        return Estimate(float(mean[-1]), float(sd[-1]))

    def _project(self, out: Floats, taken: list[int]) -> _Projected:
        """Return the quantities for fitting some columns, in the models likely with the shapes taken."""
        fit = self.fit(taken)
        weight = fit.log_likelihood - np.logaddexp.reduce(fit.log_likelihood)
        likely = np.flatnonzero(weight > NEGLIGIBLE)
        weighted = out @ self.timing.precision[likely]
        return _Projected(likely, np.exp(weight[likely]), fit.freedom, weighted @ out.T, weighted @ self.late)

    def _solve(self, out: _Projected) -> _Sizes:
        """Fit some columns in each of their models."""
        sizes = np.linalg.solve(out.inner, out.toward[:, :, None])[:, :, 0]
        variance = np.linalg.inv(out.inner).diagonal(axis1=1, axis2=2)
        square = np.maximum(self._square[out.models] - (out.toward * sizes).sum(axis=1), 0.0)
        scale = (square + PRIOR_FREEDOM * PRIOR_SD**2) / out.freedom
        return _Sizes(sizes, scale, out.weight, variance)


def _over_models(solved: _Sizes, variance: NDArray[np.floating[Any]]) -> tuple[Floats, Floats]:
    """Return means and SDs of sizes over the models, given the unit variances (g, f) in each."""
    mean = solved.weight @ solved.sizes
    within = solved.weight @ (solved.scale[:, None] * variance)
    return mean, np.sqrt(within + solved.weight @ (solved.sizes - mean) ** 2)


def _denominators(layout: Layout, hand: Ints) -> Floats:
    """Return the information on each shape by itself in each model, (g, s); cached."""
    columns = since_first_cycle(layout), np.asarray(layout.label, dtype=np.int64), np.asarray(hand, dtype=np.int64)
    return _remembered_denominators(*(column.tobytes() for column in columns))


@lru_cache(maxsize=8)
def _remembered_denominators(position: bytes, label: bytes, hand: bytes) -> Floats:
    layout = Layout(np.frombuffer(position), np.frombuffer(label, dtype=np.int64))
    shape = lay_shapes(layout, np.frombuffer(hand, dtype=np.int64)).shape
    return np.array([((shape @ precision) * shape).sum(axis=1) for precision in model_timing(layout).precision])
