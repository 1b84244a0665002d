"""``Scorecard``: all measures of a take, each with its number, its interval, or the reason why there is none.

Sign: observed minus asked, everywhere; early is negative. Seconds inside, ms and degrees in :meth:`Scorecard.to_dict`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeGuard, get_args

from tempo_coach.reasons import Reason, Why
from tempo_coach.score.plain_values import scorecard_to_dict

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tempo_coach.observe.trace.sizes import SizeRatio
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.faults.findings import Finding
    from tempo_coach.score.measures.parts import Part
    from tempo_coach.score.measures.phase import Lag
    from tempo_coach.score.measures.timekeeping import Measure
    from tempo_coach.score.section_cards import SectionCard
    from tempo_coach.times import Floats, Ints

Kind = Literal["long", "short", "early", "late", "missed", "extra", "hesitated", "slipped"]
#: Kinds of findings that flag a cycle.
FLAGGED: frozenset[str] = frozenset(get_args(Kind))


def is_flagged(kind: str) -> TypeGuard[Kind]:
    """Return whether findings of a kind flag a cycle."""
    return kind in FLAGGED


class Flag(NamedTuple):
    """One thing wrong with a cycle.

    Parameters
    ----------
    kind : {"long", "short", "early", "late", "missed", "extra", "hesitated", "slipped"}
    label : str
        The moment; empty for the cycle as a whole.
    by : float
        Deviation from what is typical of this take, in seconds; NaN for missed and extra.
    of_one_hand : bool
        Whether one of several hands did it alone.
    """

    kind: Kind
    label: str = ""
    by: float = math.nan
    of_one_hand: bool = False

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
    time : float
        Seconds on the take clock at which its first moment was asked.
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
    time: float = math.nan


class LagChances(NamedTuple):
    """P-values of lags like these, 0 to 1; NaN with too few.

    Parameters
    ----------
    none : float
        If they lay anywhere in the circle (Rayleigh's test).
    asked : float
        If they lay anywhere, against gathering at what was asked (V test); NaN where nothing was.
    same : float
        If the lag without a cue were the one with it (Watson and Williams's test).
    """

    none: float = math.nan
    asked: float = math.nan
    same: float = math.nan


@dataclass(frozen=True)
class LagCard:
    """The lag of one moment.

    Parameters
    ----------
    of, to : str
        The hand that trails, and the one it is measured from (the plan's first).
    label : str
    asked : float
        Degrees; NaN where nothing is asked.
    lag : Lag
    chances : LagChances
    """

    of: str
    to: str
    label: str
    asked: float
    lag: Lag
    chances: LagChances


class OddSize(NamedTuple):
    """A circle, or a cycle, that differs in size from its neighbours.

    Parameters
    ----------
    cycle : int
        Of the plan, from 0.
    hand : str
    label : str
        The moment whose circle it is; empty where it is the whole cycle.
    ratio : float
        Its radius over that of its neighbours.
    time : float
        Seconds on the take clock at which that moment, or the first one of the cycle, was asked.
    """

    cycle: int
    hand: str
    label: str
    ratio: float
    time: float


class TakeSizes(NamedTuple):
    """Sizes of a take that was observed as positions.

    Parameters
    ----------
    odd : tuple of OddSize
        Those that stand out by more than is seen and by more than her own scatter, in order of time.
    ratios : tuple of SizeRatio
        Of one hand's circles to those of the first.
    """

    odd: tuple[OddSize, ...] = ()
    ratios: tuple[SizeRatio, ...] = ()


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
        One for each of :data:`tempo_coach.score.measures.timekeeping.MEASURES`.
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
    findings : tuple of Finding
        What happened, the first thing first; what is doubtful last.
    placed : bool
        Whether it is known where in the music the take lies; without, no cycle's number, eight or count is.
    missing_known : bool
        Whether it is known which moments were missed and which onsets are too many: not where the place is doubtful.
    calibrated : bool
        Whether the delays of keyboard and loudspeaker were measured and taken out.
    notes : mapping of str to Reason
        What had to be done to match at all, and what was left out.
    sizes : TakeSizes
        Of the circles, where positions were seen.
    sections : tuple of SectionCard
        Of a run-through, in the order of the routine.
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
    findings: tuple[Finding, ...] = ()
    placed: bool = True
    missing_known: bool = True
    calibrated: bool = False
    notes: Mapping[str, Reason] = field(default_factory=dict)
    sizes: TakeSizes = field(default_factory=TakeSizes)
    sections: tuple[SectionCard, ...] = ()

    def value(self, name: str) -> float:
        """Return one measure's value; NaN where the data cannot support it."""
        return self.measures[name].value

    @property
    def told(self) -> tuple[Finding, ...]:
        """The findings that are sure enough to be told as facts."""
        return tuple(found for found in self.findings if not found.is_doubtful)

    @property
    def flagged(self) -> tuple[CycleCard, ...]:
        """The cycles with flags."""
        return tuple(cycle for cycle in self.cycles if cycle.flags)

    @property
    def reasons(self) -> dict[str, Reason]:
        """Why something is null or was treated in a special way."""
        found = {name: measure.reason for name, measure in self.measures.items() if measure.reason}
        if math.isnan(self.noise_floor_ms):
            found["noise_floor_ms"] = Reason(Why.FLOOR_NOT_MEASURED, (self.observed_by,))
        if not self.lags:
            found["lags"] = Reason(Why.NO_LAGS)
        return {**found, **self.notes}

    def to_dict(self) -> dict[str, object]:
        """Return the scorecard as plain values; words are added by :mod:`tempo_coach.report.words.card`."""
        return scorecard_to_dict(self)
