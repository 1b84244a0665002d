"""What is let go and comes back, as the one thing to work on: flights, and the ribbon's boomerangs.

Rules as those of :mod:`tempo_coach.report.sentence`, for drills that throw something.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.report.amounts import several
from tempo_coach.score.boomerang import has_boomerangs, judge_boomerangs
from tempo_coach.score.interval import interval_of_mean
from tempo_coach.score.throws import HEARD, judge_throws

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.score.boomerang import Boomerang
    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.throws import Throw
    from tempo_coach.times import Floats

#: Flights of one kind from which on something is said of all of them: as many as an interval asks for.
ENOUGH_FLIGHTS = 5
#: Share of the flights or pulls that are wrong, from which on that is the thing to work on.
MANY_WRONG = 0.25


class Usual(NamedTuple):
    """What the flights of one kind do on average, seconds; ``sure`` where it is more than chance and can be heard."""

    mean: float
    low: float
    high: float
    sure: bool

    @property
    def numbers(self) -> str:
        """The mean in ms and between what it lies."""
        low, high = sorted((abs(self.low), abs(self.high)))
        return f"{1000 * abs(self.mean):.0f} ms, between {1000 * low:.0f} and {1000 * high:.0f}"


def tell_throws(card: Scorecard) -> str:
    """Return what the flights of a take have in common, or that they differ; empty where they are as asked.

    Says whether the release or the height is to blame: a flight that is short because it was let go late needs another
    release, one that was let go on the count another height.
    """
    kinds: dict[tuple[str, float], list[Throw]] = {}
    for throw in judge_throws(card.plan, card.asynchrony):
        if throw.length != "not seen":
            kinds.setdefault((throw.hand, round(throw.asked, 6)), []).append(throw)
    told: list[tuple[float, str]] = [
        _tell_flights(card, throws) for throws in kinds.values() if len(throws) >= ENOUGH_FLIGHTS
    ]
    size, said = max(told, key=lambda each: each[0], default=(0.0, ""))
    return said if size > 0 else ""


def tell_boomerangs(card: Scorecard) -> str:
    """Return what is wrong with the pulls of a take; empty where it is fewer than ``MANY_WRONG`` of them."""
    seen = _see_boomerangs(card)
    wrong = [each for each in seen if each.pull != "in time"]
    return _tell_pulls(wrong, len(seen)) if len(wrong) > 1 and len(wrong) >= MANY_WRONG * len(seen) else ""


def tell_single_boomerangs(card: Scorecard) -> str:
    """Return what is wrong with single pulls."""
    seen = _see_boomerangs(card)
    wrong = [each for each in seen if each.pull != "in time"]
    return _tell_pulls(wrong, len(seen)) if wrong else ""


def _tell_flights(card: Scorecard, throws: Sequence[Throw]) -> tuple[float, str]:
    """How much the flights of one kind are off, in seconds, and what is said of it."""
    release = np.array([throw.release for throw in throws])
    catch = np.array([throw.catch for throw in throws])
    seconds = throws[0].asked * card.value("period_mean_ms") / 1000 / card.plan.cycle_counts
    heard = max(card.plan.allowance, HEARD) * seconds
    flight, let_go, caught = (_take_mean(values, heard) for values in (catch - release, release, catch))
    whose = f" from the {throws[0].hand} hand" if len(card.plan.hands) > 1 else ""
    number = several(len(throws), "flight")
    counts = f"{np.mean([throw.done for throw in throws]):.2f} counts instead of {throws[0].asked:g}"
    if flight.sure:
        length, more = ("long", "lower") if flight.mean > 0 else ("short", "higher")
        if let_go.sure and let_go.mean * flight.mean < 0 and abs(let_go.mean) > abs(caught.mean):
            way = "early" if let_go.mean < 0 else "late"
            said = f"You let go{whose} too {way} ({let_go.numbers}; {number}), and the flight is too {length}: "
            return abs(flight.mean), said + "let go on the count."
        said = f"The flights{whose} are too {length} ({counts}: {flight.numbers}; {number}): throw {more}."
        return abs(flight.mean), said
    if let_go.sure:
        way = "early" if let_go.mean < 0 else "late"
        said = f"You let go{whose} too {way} ({let_go.numbers}; {number}); the flight itself has its counts: "
        return abs(let_go.mean), said + "let go on the count, and the catch comes with it."
    wrong = Counter(throw.length for throw in throws if throw.length != "in time")
    if sum(wrong.values()) < max(MANY_WRONG * len(throws), 2):
        return 0.0, ""
    spread = float((catch - release).std(ddof=1))
    each = " and ".join(f"{wrong[length]} too {length}" for length in ("long", "short") if wrong[length])
    said = f"Of {number}{whose} {each} (they differ by {1000 * spread:.0f} ms): throw to the same height each time."
    return spread, said


def _take_mean(values: Floats, heard: float) -> Usual:
    low, high = interval_of_mean(values)
    mean = float(values.mean())
    return Usual(mean, low, high, sure=abs(mean) > heard and not low <= 0 <= high)


def _see_boomerangs(card: Scorecard) -> list[Boomerang]:
    if not has_boomerangs(card.plan):
        return []
    return [each for each in judge_boomerangs(card.plan, card.asynchrony) if each.pull != "not seen"]


def _tell_pulls(wrong: Sequence[Boomerang], number: int) -> str:
    """The most frequent fault of the pulls, with its numbers."""
    ((pull, times),) = Counter(each.pull for each in wrong).most_common(1)
    alike = [each for each in wrong if each.pull == pull]
    what, advice = alike[0].sentence.split(": ")
    lie = sum(each.lie for each in alike) / times
    numbers = f"{abs(lie):.1f} counts {'after' if lie > 0 else 'before'} the floor"
    if pull == "too late":
        numbers = f"the pull {sum(each.off for each in alike) / times:.1f} counts behind its own"
    also = f" In {len(wrong) - times} more something else was wrong with it." if len(wrong) > times else ""
    return f"In {times} of {number} boomerangs {what} ({numbers}): {advice}.{also}"
