"""A drill out of a good take, and a take set beside a drill.

The carrying cycle's low point is the middle of the phase "low" (a quarter of the cycle), so that a circle at the floor
falls in the middle of that phase. Where nothing carries the circles, a circle is the cycle and begins it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.score.trace.study import Place

if TYPE_CHECKING:
    from tempo_coach.pattern.drill.pattern import Hand, Pattern
    from tempo_coach.score.trace.study import Study

#: Where the low point lies in a learned cycle: in the middle of its first quarter.
LOW_POINT = 0.125
#: A tempo that most music for routines is near; it decides how many counts a cycle has where nobody says.
_LIKELY_BPM = 100.0
_PHASES = ("low", "rise", "high", "fall")
_LEAST_CYCLES = 3


@dataclass(frozen=True)
class Learned:
    """A drill made of a take.

    Parameters
    ----------
    text : str
        The drill's file.
    tempo_bpm, counts : float
        Counts of the cycle, and the tempo at which the take did it.
    left_out : tuple of str
        What was left out, and why.
    """

    text: str
    tempo_bpm: float
    counts: float
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class Beside:
    """One moment as it is taught and as it was done.

    Parameters
    ----------
    hand, label : str
    taught : float or None
        Place in the cycle, 0 to 1 from its low point (or its first circle); None for a circle that nobody asked for.
    done : Place or None
        None for a moment that was not done.
    off : float
        Done less taught, in parts of the cycle, within half a cycle; NaN where one is None.
    """

    hand: str
    label: str
    taught: float | None
    done: Place | None
    off: float


def learn_drill(
    found: Study,
    *,
    title: str,
    apparatus: str = "none",
    counts: float | None = None,
    tempo_bpm: float | None = None,
    hand: str = "right",
) -> Learned:
    """Make a drill of what a take did.

    Parameters
    ----------
    found : Study
    title, apparatus : str
    counts, tempo_bpm : float or None
        Length of the cycle and tempo; either gives the other. Without both the cycle gets the whole number of counts
        that comes nearest to 100 beats a minute.
    hand : str
        What a single mover is called; two movers keep their own names.

    Returns
    -------
    Learned

    Raises
    ------
    CoachError
        If fewer than three whole cycles were seen, or nothing in them can become a moment.
    """
    main = found.main
    periods = main.cycles.periods
    if periods.size < _LEAST_CYCLES:
        raise CoachError(
            f"expected at least {_LEAST_CYCLES} whole cycles to learn from, found {periods.size}",
            hint="record a longer take",
        )
    period = float(np.median(periods))
    counts, tempo = _length(period, counts, tempo_bpm)
    places = found.places or (Place(0.0, _spread(periods), int(periods.size)),)
    carried = bool(found.places)
    hands = [main.name, *(lag.of for lag in found.lags)] if len(found.movers) > 1 else [hand]
    left_out = [
        f"cycle {flag.first + 1} of {name} ({flag.kind}, {flag.start:.2f} to {flag.end:.2f} s)"
        for name, flag in found.uneven
    ]
    left_out += list(found.left_out)
    closest = 1.0 / len(places)
    allowance = float(np.clip(200 * max(place.sd for place in places) / closest, 2.5, 50))
    lines = [
        "# Made of a take: the places are means over its cycles, the allowance is twice their spread.",
        *(f"# left out: {reason}" for reason in left_out),
        f"title = {_quote(title)}",
        f"apparatus = {_quote(apparatus)}",
        'trains = "the places at which the circles of this take fell"',
        f"notes = {_quote(f'{periods.size} cycles of {period:.3f} s')}",
        "",
        "[practice]",
        f"tempo = {round(tempo, 1):g}",
        f"slowest = {max(20, round(0.6 * tempo)):g}",
        f"fastest = {min(400, round(1.3 * tempo)):g}",
        f"allowance_pct = {allowance:.1f}",
        "",
        "[cycle]",
        f"counts = {counts:g}",
        "",
    ]
    lines += _write_phases(counts) if carried else []
    for number, name in enumerate(hands):
        lag = found.lags[number - 1].lag.degrees % 360 / 360 * counts if number else 0.0
        lines += ["[[hand]]", f"name = {_quote(name)}"]
        lines += [f"lag = {lag:.4g}"] if number and math.isfinite(lag) else []
        lines.append("")
        for at, label in _moments(places, counts, carried=carried):
            lines += ["[[hand.moment]]", f"at = {_quote(at)}", f"label = {_quote(label)}", ""]
    return Learned("\n".join(lines), tempo, counts, tuple(left_out))


def set_beside(pattern: Pattern, found: Study) -> list[Beside]:
    """Set the circles of a take beside a pattern's moments, in the order of the cycle.

    Moments and circles are paired so that the sum of what they are off is least, in their order round the cycle.

    Parameters
    ----------
    pattern : Pattern
    found : Study
        The first mover is set beside the pattern's first hand.
    """
    hand = pattern.hands[0]
    taught = [(at, moment.label) for at, moment in zip(place_taught(pattern), hand.moments, strict=True)]
    done = list(found.places) or [Place(0.0, _spread(found.main.cycles.periods), int(found.main.cycles.periods.size))]
    if not found.places:
        # Nothing carries the circles, so only their distance can be compared: both begin at their first.
        first = taught[0][0]
        taught = [((at - first) % 1.0, label) for at, label in taught]
    return _pair(hand, taught, done)


def place_taught(pattern: Pattern) -> list[float]:
    """Return where the moments of a pattern's first hand lie, 0 to 1 from the cycle's low point."""
    low = _low_point(pattern)
    return [(moment.at - low) / pattern.cycle_counts % 1.0 for moment in pattern.hands[0].moments]


def _pair(hand: Hand, taught: list[tuple[float, str]], done: list[Place]) -> list[Beside]:
    from scipy.optimize import linear_sum_assignment

    cost = np.array([[abs(_wrapped(place.at - at)) for place in done] for at, _ in taught])
    rows, columns = linear_sum_assignment(cost)
    pairs = dict(zip(rows.tolist(), columns.tolist(), strict=True))
    out = []
    for k, (at, label) in enumerate(taught):
        place = done[pairs[k]] if k in pairs else None
        off = _wrapped(place.at - at) if place is not None else math.nan
        out.append(Beside(hand.name, label, at, place, off))
    extra = [place for j, place in enumerate(done) if j not in pairs.values()]
    return out + [Beside(hand.name, "not asked for", None, place, math.nan) for place in extra]


def _low_point(pattern: Pattern) -> float:
    for phase in pattern.phases:
        if phase.name == "low":
            return (phase.start + phase.end) / 2
    return 0.0


def _length(period: float, counts: float | None, tempo_bpm: float | None) -> tuple[float, float]:
    if counts is not None and tempo_bpm is not None:
        raise CoachError(
            "expected counts or a tempo, got both",
            where="--counts",
            hint="the take's own period gives one from the other",
        )
    if counts is None:
        wanted = period * (tempo_bpm or _LIKELY_BPM) / 60
        counts = max(1.0, float(round(wanted))) if wanted >= 0.75 else 0.5
    tempo = 60 * counts / period
    if not 20 <= tempo <= 400:
        raise CoachError(
            f"a cycle of {period:.3f} s with {counts:g} counts is {tempo:.0f} beats a minute",
            where="--counts",
            hint="choose counts that give 20 to 400",
        )
    return counts, tempo


def _moments(places: tuple[Place, ...], counts: float, *, carried: bool) -> list[tuple[str, str]]:
    if not carried:
        return [("1", "circle")]
    shifted = sorted((place.at + LOW_POINT) % 1.0 for place in places)
    return [
        (say_count(round(at * counts, 3)), f"{_PHASES[min(int(at * 4), 3)]} {number + 1}")
        for number, at in enumerate(shifted)
    ]


def _write_phases(counts: float) -> list[str]:
    lines = []
    for number, name in enumerate(_PHASES):
        start, end = (say_count(round(counts * part / 4, 6)) for part in (number, number + 1))
        lines += ["[[phase]]", f'name = "{name}"', f'start = "{start}"', f'end = "{end}"', ""]
    return lines


def _spread(periods: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    return float(np.std(periods, ddof=1) / np.median(periods)) if periods.size > 1 else 0.0


def _wrapped(part: float) -> float:
    return (part + 0.5) % 1.0 - 0.5


def _quote(text: str) -> str:
    safe = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{safe}"'
