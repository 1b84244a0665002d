"""Single numbers of the scorecard: their registry (``MEASURES``), and how each is computed where the take can carry it.

A new one is an entry here beside its function, and its words in :mod:`tempo_coach.report.words.measures`: scorecard,
JSON, text, pages and README's table are made of these two.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.measures.intervals import (
    go_together,
    half_interval_of_drift,
    half_interval_of_pace,
    interval_of_correlation,
    interval_of_mean,
    interval_of_root,
)
from tempo_coach.score.measures.levels import split_levels
from tempo_coach.score.measures.parts import WITH_CUES, WITHOUT_CUES
from tempo_coach.score.measures.period import (
    coefficient_of_variation,
    detrend,
    robust_slope,
    spread,
    successive_difference,
)
from tempo_coach.score.measures.steadiness import measure_scatter

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.pairing.hand import Grid, HandTake
    from tempo_coach.times import Floats, Ints

#: Least asynchronies for their correction: with fewer, chance alone is wider than the range.
LEAST_FOR_CORRECTION = 8
#: Periods from which on a slope is one.
LEAST_FOR_DRIFT = 5
#: Intervals that the split into clock and movement asks for.
LEAST_FOR_SPLIT = 30
#: Cycles after the cues have stopped that are kept out of the drift: tapping speeds up right there (Flach 2005,
#: abstract).
AFTER_CUES = 2


class Measure(NamedTuple):
    """One number of the scorecard.

    Parameters
    ----------
    value, low, high : float
        NaN where the data cannot support it; its 95 % interval, NaN where there is none.
    n : int
        How many values it rests on.
    reason : Reason or None
        Why ``value`` is NaN; None where it is not.
    """

    value: float
    n: int
    low: float = math.nan
    high: float = math.nan
    reason: Reason | None = None


class CycleColumns(NamedTuple):
    """One hand by cycle: numbers; periods in s and over those asked; asynchrony of anchors over the period asked."""

    cycles: Ints
    periods: Floats
    ratios: Floats
    levels: Floats


class Levels(NamedTuple):
    """Asynchrony of each cycle's anchors from the first one on, hands averaged; NaN where none is known."""

    first: int
    late: Floats


def measure_asynchrony(asynchrony: Floats, cycles: Ints, grids: Sequence[Grid]) -> dict[str, Measure]:
    """Return bias, spread and correction.

    Parameters
    ----------
    asynchrony : array, shape (n,)
        Seconds for each moment of the plan in order of time; NaN where missed.
    cycles : array of int, shape (n,)
        The cycle of each moment.
    grids : sequence of Grid
        One for each hand.
    """
    known = ~np.isnan(asynchrony)
    values = asynchrony[known] * 1000
    n = len(values)
    if n == 0:
        none = Measure(math.nan, 0, reason=Reason(Why.NO_PAIR))
        return {"bias_ms": none, "spread_ms": none, "lag1_asynchrony": none}
    rest = np.full(len(asynchrony), np.nan)
    for grid in grids:
        rest[grid.in_order] = _without_label_means(grid.fill(asynchrony))[grid.at >= 0]
    alone = Measure(math.nan, n, reason=Reason(Why.ONE_PAIR))
    mean = float(values.mean())
    # Moments of one cycle go together: the intervals look at cycles.
    by_cycle = _mean_by(cycles[known], rest[known] * 1000)
    squares = _mean_by(cycles[known], (values - mean) ** 2)
    together = go_together(by_cycle)
    wide = (
        Measure(spread(values), n, *interval_of_root(squares, value=spread(values), together=together))
        if n > 1
        else alone
    )
    return {
        "bias_ms": Measure(mean, n, *interval_of_mean(by_cycle, centre=mean)),
        "spread_ms": wide,
        "lag1_asynchrony": _measure_correction(rest, grids, together=together),
    }


def measure_periods(rows: Sequence[CycleColumns], blocks: dict[int, str], *, music: bool) -> dict[str, Measure]:
    """Return the measures computed from the periods of all hands.

    Parameters
    ----------
    rows : sequence of CycleColumns
        One for each hand.
    blocks : dict
        Block of cues of each cycle.
    music : bool
        Whether there is music, which leads where no cue does.
    """
    cycles = np.concatenate([row.cycles for row in rows]) if rows else np.array([], dtype=np.int64)
    order = np.argsort(cycles, kind="stable")
    ratios = np.concatenate([row.ratios for row in rows])[order] if rows else np.array([])
    seconds = np.concatenate([row.periods for row in rows])[order] if rows else np.array([])
    known = ~np.isnan(ratios)
    ratios, milliseconds, cycles = ratios[known], seconds[known] * 1000, cycles[order][known]
    names = ("period_ratio_mean", "period_cv_pct", "period_rmssd_pct", "period_mean_ms", "period_sd_ms")
    n = len(ratios)
    if n == 0:
        none = Measure(math.nan, 0, reason=Reason(Why.NO_PERIOD))
        return dict.fromkeys((*names, "drift_pct_per_cycle"), none)
    mean = float(ratios.mean())
    by_cycle = _mean_by(cycles, ratios)
    led = [name != WITHOUT_CUES for name in blocks.values()]
    cued = music or 2 * sum(led) >= len(led)
    levels = _level_by_cycle(rows)
    half = half_interval_of_pace(levels.late, cued=cued) / mean
    alone = Measure(math.nan, n, reason=Reason(Why.ONE_PERIOD))
    measures = {
        "period_ratio_mean": _give_or_take(mean, n, half),
        "period_cv_pct": alone,
        "period_rmssd_pct": _measure_steadiness(rows),
        "period_mean_ms": _give_or_take(float(milliseconds.mean()), n, half),
        "period_sd_ms": alone,
        "drift_pct_per_cycle": _measure_drift(np.unique(cycles), by_cycle, blocks, levels, cued=cued),
    }
    if n > 1:
        for name, values, value in (
            ("period_cv_pct", ratios, coefficient_of_variation(ratios)),
            ("period_sd_ms", milliseconds, spread(milliseconds)),
        ):
            squares = _mean_by(cycles, (values - values.mean()) ** 2)
            measures[name] = Measure(value, n, *interval_of_root(squares, value=value, together=go_together(by_cycle)))
    return measures


def measure_split(rows: Sequence[CycleColumns], blocks: dict[int, str], *, observed_by: str) -> dict[str, Measure]:
    """Return the clock and motor levels of the hand with the most periods: variances, and their roots.

    The model of Wing & Kristofferson is one of tapping without a cue. Periods are taken over what was asked, so that
    music which slows is not taken for a clock that does.

    Returns
    -------
    dict of str to Measure
        Variances are without bias and may be below 0; an SD is then 0. Where the low end of its interval is 0, all that
        is known of it is that it lies below the high one.
    """
    free = [np.isin(row.cycles, [c for c, name in blocks.items() if name == WITHOUT_CUES]) for row in rows]
    longest = max(range(len(rows)), key=lambda k: int((~np.isnan(rows[k].ratios)).sum()), default=None)
    chosen = np.array([])
    if longest is not None and (~np.isnan(rows[longest].ratios)).any():
        row = rows[longest]
        chosen = np.where(free[longest], row.ratios, np.nan) * float(np.nanmean(row.periods / row.ratios)) * 1000
        known = np.flatnonzero(~np.isnan(chosen))
        chosen = chosen[known[0] : known[-1] + 1] if len(known) else np.array([])
    n = int((~np.isnan(chosen)).sum())
    reason: Reason | None = None
    if not OBSERVERS[observed_by].splits:
        reason = Reason(Why.NOT_TAPPED, (observed_by,))
    elif n < LEAST_FOR_SPLIT:
        reason = Reason(Why.FEW_FREE_PERIODS, (LEAST_FOR_SPLIT, n))
    elif float(np.nanvar(detrend(chosen))) <= 1e-24 * float(np.nanmean(chosen)) ** 2:
        reason = Reason(Why.CONSTANT_PERIODS)
    levels = dict(zip(("clock", "motor"), split_levels([] if reason else chosen), strict=True))
    if not reason and math.isnan(levels["clock"].variance):
        reason = Reason(Why.SCATTERED_PERIODS)
    measures = {}
    for name, found in levels.items():
        sd, low, high = (math.sqrt(max(value, 0.0)) for value in found)
        measures[f"{name}_sd_ms"] = Measure(math.nan, n, reason=reason) if reason else Measure(sd, n, low, high)
        measures[f"{name}_variance_ms2"] = Measure(found[0], n, *found[1:], reason=reason)
    return measures


def _give_or_take(value: float, n: int, share: float) -> Measure:
    """Return a duration with its interval, clipped at 0."""
    return Measure(value, n, value * max(1 - share, 0.0), value * (1 + share))


def _level_by_cycle(rows: Sequence[CycleColumns]) -> Levels:
    first, last = min(row.cycles[0] for row in rows), max(row.cycles[-1] for row in rows)
    levels = np.full((len(rows), last - first + 1), np.nan)
    for mine, row in zip(levels, rows, strict=True):
        mine[row.cycles - first] = row.levels
    number = (~np.isnan(levels)).sum(axis=0)
    means: Floats = np.divide(np.nansum(levels, axis=0), number, out=np.full(len(number), np.nan), where=number > 0)
    return Levels(int(first), means)


def _without_label_means(table: Floats) -> Floats:
    """Return each column less its mean; NaN stays."""
    number = (~np.isnan(table)).sum(axis=0)
    means = np.divide(np.nansum(table, axis=0), number, out=np.zeros(table.shape[1]), where=number > 0)
    rest: Floats = table - means
    return rest


def _measure_correction(rest: Floats, grids: Sequence[Grid], *, together: float) -> Measure:
    """Return C(1)/C(0) of each hand's detrended asynchronies, label means removed; hands pooled."""
    cycles = np.unique(np.concatenate([grid.cycles for grid in grids])) if grids else np.array([], dtype=np.int64)
    squares, products, n = np.zeros(len(cycles)), np.zeros(len(cycles)), 0
    for grid in grids:
        series = detrend(rest[grid.in_order])
        known = ~np.isnan(series)
        if known.sum() < 2:
            continue
        series = np.where(known, series - series[known].mean(), 0.0)
        of = np.searchsorted(cycles, np.repeat(grid.cycles, (grid.at >= 0).sum(axis=1)))
        squares += np.bincount(of, weights=series**2, minlength=len(cycles))
        products += np.bincount(of[1:], weights=series[1:] * series[:-1], minlength=len(cycles))
        n += int(known.sum())
    if n < LEAST_FOR_CORRECTION:
        return Measure(math.nan, n, reason=Reason(Why.FEW_ASYNCHRONIES, (LEAST_FOR_CORRECTION, n)))
    if squares.sum() <= 1e-24 * n:
        return Measure(math.nan, n, reason=Reason(Why.CONSTANT_ASYNCHRONIES))
    value = float(products.sum() / squares.sum())
    return Measure(value, n, *interval_of_correlation(products, squares, value=value, together=together))


def _measure_steadiness(rows: Sequence[CycleColumns]) -> Measure:
    # the last ratio of a hand is not known, so that no step leads from one hand to the next
    ratios = 100 * np.concatenate([row.ratios for row in rows])
    steps, cycles = np.diff(ratios), np.concatenate([row.cycles for row in rows])[:-1]
    known = ~np.isnan(steps)
    if not known.any():
        return Measure(math.nan, 0, reason=Reason(Why.NO_NEIGHBOURS))
    squares = _mean_by(cycles[known], steps[known] ** 2)
    together = go_together(_mean_by(cycles[known], steps[known]))
    value = successive_difference(ratios)
    return Measure(value, int(known.sum()), *interval_of_root(squares, value=value, together=together))


def _measure_drift(cycles: Ints, ratios: Floats, blocks: dict[int, str], levels: Levels, *, cued: bool) -> Measure:
    stopped = [c for c in cycles.tolist() if blocks.get(c) == WITHOUT_CUES and blocks.get(c - 1) == WITH_CUES]
    kept = np.array([all(not 0 <= c - stop < AFTER_CUES for stop in stopped) for c in cycles.tolist()], dtype=np.bool_)
    x, y = cycles[kept].astype(np.float64), ratios[kept] * 100
    if len(x) < LEAST_FOR_DRIFT:
        return Measure(math.nan, len(x), reason=Reason(Why.FEW_PERIODS, (LEAST_FOR_DRIFT, len(x))))
    slope, _, _ = robust_slope(x, y)
    used = np.zeros(len(levels.late) - 1, dtype=np.bool_)
    used[cycles[kept] - levels.first] = True
    half = 100 * half_interval_of_drift(levels.late, used, cued=cued)
    return Measure(slope, len(x), slope - half, slope + half)


def _mean_by(cycles: Ints, values: Floats) -> Floats:
    """Return the mean over the hands of each cycle."""
    _, inverse = np.unique(cycles, return_inverse=True)
    means: Floats = np.bincount(inverse, weights=values) / np.bincount(inverse)
    return means


class Material(NamedTuple):
    """Input of the measures.

    Parameters
    ----------
    plan : Plan
    observed_by : str
    asynchrony : array, shape (n,)
        Seconds for each moment of the plan; NaN where missed.
    hands : sequence of HandTake
    blocks : dict
        Block of cues of each cycle.
    missed, extra : int
        Moments without an onset, onsets without a moment.
    """

    plan: Plan
    observed_by: str
    asynchrony: Floats
    hands: Sequence[HandTake]
    blocks: dict[int, str]
    missed: int
    extra: int

    @property
    def rows(self) -> list[CycleColumns]:
        """Each hand by cycle."""
        return [CycleColumns(hand.grid.cycles, hand.periods, hand.ratios, hand.levels) for hand in self.hands]


def _of_asynchrony(of: Material) -> dict[str, Measure]:
    return measure_asynchrony(of.asynchrony, of.plan.moments.cycle, [hand.grid for hand in of.hands])


def _of_periods(of: Material) -> dict[str, Measure]:
    return measure_periods(of.rows, of.blocks, music=of.plan.music is not None)


def _of_steadiness(of: Material) -> dict[str, Measure]:
    known = int((~np.isnan(of.asynchrony)).sum())
    scatter = 100 * measure_scatter(of.plan, of.asynchrony).size
    return {"scatter_pct": Measure(scatter, known, reason=Reason(Why.ONE_PERIOD) if math.isnan(scatter) else None)}


def _of_levels(of: Material) -> dict[str, Measure]:
    return measure_split(of.rows, of.blocks, observed_by=of.observed_by)


def _of_pairs(of: Material) -> dict[str, Measure]:
    paired = int((~np.isnan(of.asynchrony)).sum())
    both = 2 * paired + of.missed + of.extra
    if not both:
        return {"f_measure": Measure(math.nan, 0, reason=Reason(Why.NOTHING_TO_PAIR))}
    return {"f_measure": Measure(2 * paired / both, both - paired)}


class Entry(NamedTuple):
    """Properties of a measure, independent of any take.

    Parameters
    ----------
    key : str
        Its name in JSON.
    unit : str
        As it is written; empty for a ratio.
    digits : int
        Decimals that are told.
    family : callable
        Computes it, with others of its kind.
    good : str
        The value of a perfect take, or ``low`` and ``high`` where less or more of it is better; empty where neither is.
    signed : bool
        Whether its sign says which way.
    interval : bool
        Whether it has one.
    of_place : bool
        Whether it is against the plan's moments, and says nothing where another tempo was kept.
    """

    key: str
    unit: str
    digits: int
    family: Callable[[Material], dict[str, Measure]]
    good: Literal["0", "1", "low", "high", ""] = ""
    signed: bool = False
    interval: bool = True
    of_place: bool = False


#: The measures that stand as single numbers in the scorecard, in this order.
MEASURES = (
    Entry("bias_ms", "ms", 0, _of_asynchrony, "0", signed=True, of_place=True),
    Entry("spread_ms", "ms", 0, _of_asynchrony, "low", of_place=True),
    Entry("period_ratio_mean", "", 3, _of_periods, "1"),
    Entry("period_cv_pct", "%", 1, _of_periods, "low"),
    Entry("scatter_pct", "%", 1, _of_steadiness, "low", interval=False),
    Entry("period_rmssd_pct", "%", 1, _of_periods, "low"),
    Entry("period_mean_ms", "ms", 0, _of_periods),
    Entry("period_sd_ms", "ms", 0, _of_periods, "low"),
    Entry("drift_pct_per_cycle", "%", 2, _of_periods, "0", signed=True),
    Entry("lag1_asynchrony", "", 2, _of_asynchrony, signed=True),
    Entry("clock_sd_ms", "ms", 1, _of_levels, "low"),
    Entry("motor_sd_ms", "ms", 1, _of_levels, "low"),
    Entry("clock_variance_ms2", "ms²", 0, _of_levels, "low"),
    Entry("motor_variance_ms2", "ms²", 0, _of_levels, "low"),
    Entry("f_measure", "", 3, _of_pairs, "high", interval=False),
)


def measure_take(material: Material) -> dict[str, Measure]:
    """Return every measure of a take, in the order in which their families compute them."""
    found: dict[str, Measure] = {}
    for family in dict.fromkeys(entry.family for entry in MEASURES):
        found.update(family(material))
    return found
