"""``Scorecard``: all measures of a take, each with its number, its interval, or the reason why there is none.

Sign: observed minus asked, everywhere; early is negative. Seconds inside, ms and degrees in :meth:`Scorecard.to_dict`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tempo_coach.pattern.plan import Plan
    from tempo_coach.score.phase import Lag
    from tempo_coach.times import Floats, Ints

Kind = Literal["long", "short", "early", "late", "missed", "extra"]

#: The measures that stand as single numbers in the scorecard, in this order.
MEASURES = (
    "bias_ms",
    "spread_ms",
    "period_ratio_mean",
    "period_cv_pct",
    "period_rmssd_pct",
    "period_mean_ms",
    "period_sd_ms",
    "drift_pct_per_cycle",
    "lag1_asynchrony",
    "clock_sd_ms",
    "motor_sd_ms",
    "f_measure",
)


class Measure(NamedTuple):
    """One number of the scorecard.

    Parameters
    ----------
    value : float
        NaN where the data cannot support it.
    n : int
        How many values it rests on.
    low, high : float
        Its 95 % interval; NaN where there is none.
    reason : str
        Why ``value`` is NaN; empty where it is not.
    """

    value: float
    n: int
    low: float = math.nan
    high: float = math.nan
    reason: str = ""


class Flag(NamedTuple):
    """What is wrong with a cycle.

    Parameters
    ----------
    kind : {"long", "short", "early", "late", "missed", "extra"}
    label : str
        The moment; empty for the cycle as a whole.
    by : float
        Seconds off what is usual in this take; NaN for missed and extra.
    """

    kind: Kind
    label: str = ""
    by: float = math.nan

    def __str__(self) -> str:
        return f"{self.kind}: {self.label}" if self.label else self.kind


@dataclass(frozen=True)
class CycleCard:
    """One cycle of one hand.

    Parameters
    ----------
    cycle : int
        Its number in the plan, from 0.
    eight : int
        The eight in which it begins, as said.
    count : float
        The count on which its first moment lies, from 1.
    hand : str
    period, ratio : float
        Seconds to the next anchor, and that over what was asked; NaN where an anchor is missed or none follows.
    labels, kinds : tuple of str
    positions : tuple of float
        In counts of the plan, moment by moment.
    asynchronies : tuple of float
        Seconds, moment by moment; NaN where missed.
    flags : tuple of Flag
    """

    cycle: int
    eight: int
    count: float
    hand: str
    period: float
    ratio: float
    labels: tuple[str, ...]
    kinds: tuple[str, ...]
    positions: tuple[float, ...]
    asynchronies: tuple[float, ...]
    flags: tuple[Flag, ...] = ()


@dataclass(frozen=True)
class LagCard:
    """How far one moment trails another.

    Parameters
    ----------
    of, to : str
        The hand that trails, and the one it is measured from (the plan's first).
    label : str
    asked : float
        Degrees; NaN where nothing is asked.
    lag : Lag
    """

    of: str
    to: str
    label: str
    asked: float
    lag: Lag


class Part(NamedTuple):
    """Bias and spread of a part of the take: a circle, a hand, a count, an eight, a block of cues."""

    name: str
    bias: float
    spread: float
    n: int
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Scorecard:
    """All measures of a take.

    Parameters
    ----------
    plan : Plan
    observed_by : str
    noise_floor_ms : float
        SD that the way of observing adds; NaN where nobody measured it.
    measures : mapping of str to Measure
        One for each of ``MEASURES``.
    cycles : tuple of CycleCard
        In order of cycle, then of hand.
    lags : tuple of LagCard
    parts : mapping of str to tuple of Part
        By circle, hand, count, eight and cues.
    asynchrony : array, shape (n,)
        Seconds for each moment of the plan; NaN where missed or not measurable.
    missed : array of int
        Positions of missed moments in the plan.
    extra_time, extra_hand : array of float, tuple of str
        Onsets that answer nothing.
    notes : mapping of str to str
        What had to be done to match at all, and what was left out: half a cycle off, slipped, unmeasurable.
    """

    plan: Plan
    observed_by: str
    noise_floor_ms: float
    measures: Mapping[str, Measure]
    cycles: tuple[CycleCard, ...]
    lags: tuple[LagCard, ...]
    parts: Mapping[str, tuple[Part, ...]]
    asynchrony: Floats
    missed: Ints
    extra_time: Floats
    extra_hand: tuple[str, ...]
    notes: Mapping[str, str] = field(default_factory=dict)

    def value(self, name: str) -> float:
        """Return one measure's value; NaN where the data cannot support it."""
        return self.measures[name].value

    @property
    def flagged(self) -> tuple[CycleCard, ...]:
        """The cycles that broke."""
        return tuple(cycle for cycle in self.cycles if cycle.flags)

    @property
    def reasons(self) -> dict[str, str]:
        """Why something is null or was treated in a special way."""
        found = {name: measure.reason for name, measure in self.measures.items() if measure.reason}
        if math.isnan(self.noise_floor_ms):
            found["noise_floor_ms"] = f"nobody has measured what observing by {self.observed_by} adds"
        if not self.lags:
            found["lags"] = "nothing trails anything here: one hand with one moment a cycle"
        return {**found, **self.notes}

    def to_dict(self) -> dict[str, object]:
        """Return the scorecard as plain values; words are added by :mod:`tempo_coach.report.words`."""
        single = {name: _plain(self.value(name)) for name in MEASURES}
        return {
            **{name: single[name] for name in MEASURES[:2]},
            "n": self.measures["bias_ms"].n,
            **{name: single[name] for name in MEASURES[2:8]},
            "cycles": [_cycle_to_dict(cycle) for cycle in self.cycles],
            "lags": [_lag_to_dict(lag) for lag in self.lags],
            **{name: single[name] for name in MEASURES[8:11]},
            "missed": len(self.missed),
            "extra": len(self.extra_time),
            "missed_moments": [self._moment_to_dict(int(k)) for k in self.missed],
            "extra_onsets": [self._onset_to_dict(k) for k in range(len(self.extra_time))],
            "f_measure": single["f_measure"],
            "observed_by": self.observed_by,
            "noise_floor_ms": _plain(self.noise_floor_ms),
            "reasons": self.reasons,
            "detail": {
                "n": {name: measure.n for name, measure in self.measures.items()},
                "ci95": {
                    name: None if math.isnan(measure.low) else [measure.low, measure.high]
                    for name, measure in self.measures.items()
                },
                "by": {by: [_part_to_dict(part) for part in parts] for by, parts in self.parts.items()},
            },
        }

    def _moment_to_dict(self, k: int) -> dict[str, object]:
        moments = self.plan.moments
        place = self.plan.place(float(moments.count[k]))
        return {
            "time": float(moments.time[k]),
            "cycle": int(moments.cycle[k]),
            "hand": moments.hand[k],
            "label": moments.label[k],
            "eight": place.eight,
            "count": place.count,
        }

    def _onset_to_dict(self, k: int) -> dict[str, object]:
        time = float(self.extra_time[k])
        place = self.plan.place(float(self.plan.counts_at(time)))
        return {"time": time, "hand": self.extra_hand[k], "eight": place.eight, "count": place.count}


def _plain(number: float) -> float | None:
    return None if math.isnan(number) or math.isinf(number) else float(number)


def _ms(seconds: float) -> float | None:
    return _plain(seconds * 1000)


def _cycle_to_dict(cycle: CycleCard) -> dict[str, object]:
    return {
        "cycle": cycle.cycle,
        "eight": cycle.eight,
        "count": cycle.count,
        "hand": cycle.hand,
        "period_ms": _ms(cycle.period),
        "period_ratio": _plain(cycle.ratio),
        "moments": [
            {"label": label, "async_ms": _ms(time)}
            for label, time in zip(cycle.labels, cycle.asynchronies, strict=True)
        ],
        "flags": [str(flag) for flag in cycle.flags],
    }


def _lag_to_dict(card: LagCard) -> dict[str, object]:
    lag = card.lag
    interval = (
        None if math.isnan(lag.half_interval) else [lag.degrees - lag.half_interval, lag.degrees + lag.half_interval]
    )
    return {
        "of": card.of,
        "to": card.to,
        "label": card.label,
        "asked_deg": _plain(card.asked),
        "deg": _plain(lag.degrees),
        "error_deg": _plain(lag.error),
        "ms": _ms(lag.seconds),
        "sd_deg": _plain(lag.sd) if lag.n > 1 else None,
        "R": _plain(lag.resultant) if lag.n > 1 else None,
        "n": lag.n,
        "ci95_deg": interval,
    }


def _part_to_dict(part: Part) -> dict[str, object]:
    interval = None if math.isnan(part.low) else [part.low * 1000, part.high * 1000]
    return {
        "name": part.name,
        "bias_ms": _ms(part.bias),
        "spread_ms": _ms(part.spread),
        "n": part.n,
        "ci95_ms": interval,
    }
