"""A drill out of a good take, and a take set beside a drill.

The carrying cycle's low point is the middle of the phase "low" (a quarter of the cycle), so that a circle at the floor
falls in the middle of that phase. Where nothing carries the circles, a circle is the cycle and begins it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.table_text import find_hand
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.trace.study import CirclePhase

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.drill.pattern import Hand, Pattern
    from tempo_coach.score.trace.body_lag import BodyLag
    from tempo_coach.score.trace.study import Study

#: Where the low point lies in a learned cycle: in the middle of its first quarter.
LOW_POINT = 0.125
#: A tempo that most music for routines is near; it decides how many counts a cycle has where nobody says.
_LIKELY_BPM = 100.0
_LEAST_CYCLES = 3
#: Part of a cycle by which a hand may lead; one that leads by more is said to trail.
LEADS = 0.25


class LearnedHand(NamedTuple):
    """A hand of a learned drill, and its lag in counts behind the first one; NaN for the first, or unknown."""

    name: str
    lag: float


@dataclass(frozen=True)
class Learned:
    """The content of a learned drill; :func:`tempo_coach.report.words.learned.write_drill` writes its file.

    Parameters
    ----------
    title, apparatus : str
    tempo_bpm, counts : float
        Counts of the cycle, and the tempo at which the take did it.
    period : float
        Seconds a cycle, the median of the take.
    cycles : int
    allowance_pct : float
        Twice the spread of the places, of the distance between neighbouring ones.
    places : tuple of float
        Where the circles fall in the cycle, 0 to 1 from its start, ascending.
    carried : bool
        Whether something carries the circles, so that the cycle has phases.
    hands : tuple of LearnedHand
    left_out : tuple of Reason
    """

    title: str
    apparatus: str
    tempo_bpm: float
    counts: float
    period: float
    cycles: int
    allowance_pct: float
    places: tuple[float, ...]
    carried: bool
    hands: tuple[LearnedHand, ...]
    left_out: tuple[Reason, ...]


@dataclass(frozen=True)
class CirclePair:
    """One moment as taught and as done.

    Parameters
    ----------
    hand, label : str
        The label is empty for a circle that nobody asked for.
    taught : float or None
        Place in the cycle, 0 to 1 from its low point (or its first circle); None for a circle that nobody asked for.
    done : CirclePhase or None
        None for a moment that was not done.
    off : float
        Done less taught, in parts of the cycle, within half a cycle; NaN where one is None.
    """

    hand: str
    label: str
    taught: float | None
    done: CirclePhase | None
    off: float


def learn_drill(
    found: Study,
    *,
    title: str,
    apparatus: str = "none",
    counts: float | None = None,
    tempo_bpm: float | None = None,
    hand: str | None = "right",
) -> Learned:
    """Make a drill of a good take.

    Parameters
    ----------
    found : Study
    title, apparatus : str
    counts, tempo_bpm : float or None
        Length of the cycle and tempo; either gives the other. Without both the cycle gets the whole number of counts
        that comes nearest to 100 beats a minute.
    hand : str or None
        Name of a single body; None where its own name says which hand it is. Two bodies are the left and the
        right hand where their names say so, and keep these names else.

    Returns
    -------
    Learned

    Raises
    ------
    CoachError
        If fewer than three whole cycles were seen, nothing in them can become a moment, or nobody says whose they are.
    """
    main = found.main
    periods = main.cycles.periods
    if periods.size < _LEAST_CYCLES:
        raise CoachError("learn.few_cycles", least=_LEAST_CYCLES, found=periods.size)
    period = float(np.median(periods))
    counts, tempo = _length(period, counts, tempo_bpm)
    places = found.places or (CirclePhase(0.0, _spread(periods), int(periods.size)),)
    carried = bool(found.places)
    hands = _name_hands([main.name, *(lag.of for lag in found.lags)] if len(found.bodies) > 1 else [main.name], hand)
    left_out = [
        Reason(Why.UNEVEN_CYCLE, (flag.first + 1, name, flag.kind, flag.start, flag.end)) for name, flag in found.uneven
    ]
    starts = tuple(sorted((place.at + LOW_POINT) % 1.0 for place in places)) if carried else (0.0,)
    lags = [math.nan, *(_place_lag(lag, len(starts), starts[0]) * counts for lag in found.lags)]
    return Learned(
        title=title,
        apparatus=apparatus,
        tempo_bpm=tempo,
        counts=counts,
        period=period,
        cycles=int(periods.size),
        allowance_pct=float(np.clip(200 * max(place.sd for place in places) / (1.0 / len(places)), 2.5, 50)),
        places=starts,
        carried=carried,
        hands=tuple(LearnedHand(name, lag) for name, lag in zip(hands, lags, strict=False)),
        left_out=(*left_out, *found.left_out),
    )


def _place_lag(found: BodyLag, circles: int, first: float) -> float:
    """Return a lag in cycles; negative where that hand leads by less than a quarter of a cycle.

    Parameters
    ----------
    found : BodyLag
        Of the whole cycle, or of one of its circles.
    circles : int
        Of the cycle.
    first : float
        Place of the first of them, 0 to 1.
    """
    part = found.lag.degrees / 360 % 1.0
    lag = (part - 1.0 if part > 1.0 - LEADS else part) / (circles if found.level == "circle" else 1)
    return lag + 1.0 if first + lag < 0 else lag


def _name_hands(names: Sequence[str], asked: str | None) -> list[str]:
    """Return the hands of bodies, from their names, as given, or by their own names where there are two."""
    told = [find_hand(name) for name in names]
    if len(names) > 1:
        left_and_right = [hand for hand in told if hand is not None]
        return left_and_right if len(set(left_and_right)) == len(names) else list(names)
    hand = asked or told[0]
    if hand is None:
        raise CoachError("learn.no_hand", where="--hand")
    return [hand]


def set_beside(pattern: Pattern, found: Study) -> list[CirclePair]:
    """Compare the circles of a take with the moments of a pattern, in the order of the cycle.

    Moments and circles are paired so that the sum of what they are off is least, in their order round the cycle.

    Parameters
    ----------
    pattern : Pattern
    found : Study
        The first body is compared with the pattern's first hand.
    """
    hand = pattern.hands[0]
    taught = [(at, moment.label) for at, moment in zip(place_taught(pattern), hand.moments, strict=True)]
    done = list(found.places) or [
        CirclePhase(0.0, _spread(found.main.cycles.periods), int(found.main.cycles.periods.size))
    ]
    if not found.places:
        # Nothing carries the circles, so only their distance can be compared: both begin at their first.
        first = taught[0][0]
        taught = [((at - first) % 1.0, label) for at, label in taught]
    return _pair(hand, taught, done)


def place_taught(pattern: Pattern) -> list[float]:
    """Return the phases of a pattern's first hand, 0 to 1 from the cycle's low point."""
    low = _low_point(pattern)
    return [(moment.at - low) / pattern.cycle_counts % 1.0 for moment in pattern.hands[0].moments]


def _pair(hand: Hand, taught: list[tuple[float, str]], done: list[CirclePhase]) -> list[CirclePair]:
    from scipy.optimize import linear_sum_assignment

    cost = np.array([[abs(_wrapped(place.at - at)) for place in done] for at, _ in taught])
    rows, columns = linear_sum_assignment(cost)
    pairs = dict(zip(rows.tolist(), columns.tolist(), strict=True))
    out = []
    for k, (at, label) in enumerate(taught):
        place = done[pairs[k]] if k in pairs else None
        off = _wrapped(place.at - at) if place is not None else math.nan
        out.append(CirclePair(hand.name, label, at, place, off))
    extra = [place for j, place in enumerate(done) if j not in pairs.values()]
    return out + [CirclePair(hand.name, "", None, place, math.nan) for place in extra]


def _low_point(pattern: Pattern) -> float:
    for phase in pattern.phases:
        if phase.name == "low":
            return (phase.start + phase.end) / 2
    return 0.0


def _length(period: float, counts: float | None, tempo_bpm: float | None) -> tuple[float, float]:
    if counts is not None and tempo_bpm is not None:
        raise CoachError("learn.counts_and_tempo", where="--counts")
    if counts is None:
        wanted = period * (tempo_bpm or _LIKELY_BPM) / 60
        counts = max(1.0, float(round(wanted))) if wanted >= 0.75 else 0.5
    tempo = 60 * counts / period
    if not 20 <= tempo <= 400:
        raise CoachError("learn.tempo", where="--counts", period_s=period, counts=counts, tempo_bpm=tempo)
    return counts, tempo


def _spread(periods: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    return float(np.std(periods, ddof=1) / np.median(periods)) if periods.size > 1 else 0.0


def _wrapped(part: float) -> float:
    return (part + 0.5) % 1.0 - 0.5
