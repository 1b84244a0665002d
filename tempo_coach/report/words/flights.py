"""Flights and boomerangs of a take in words and as plain values, and as the one thing to work on."""

from __future__ import annotations

import math
from collections import Counter
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import join_words, say_number, several
from tempo_coach.report.words.places import say_cycle
from tempo_coach.score.measures.intervals import interval_of_mean
from tempo_coach.score.trace.boomerang import has_boomerangs, judge_boomerangs
from tempo_coach.score.trace.throws import HEARD, judge_throws

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.trace.boomerang import Boomerang, Pull
    from tempo_coach.score.trace.throws import Throw
    from tempo_coach.times import Floats

#: Flights of one kind from which on something is said of all of them: as many as an interval asks for.
ENOUGH_FLIGHTS = 5
#: Share of the flights or pulls that are wrong, from which on that is the thing to work on.
MANY_WRONG = 0.25

#: So many flights that were wrong, and how.
LENGTHS = {"long": "{number} too long", "short": "{number} too short"}
TOO = {"long": "too long", "short": "too short"}
#: What a pull was, and what a coach says to it.
PULLS: dict[Pull, tuple[str, str]] = {
    "in time": ("the pull came while the stick was on the floor", ""),
    "too early": ("the pull came before the stick was down", "wait for the floor, then pull"),
    "too late": ("the stick came down late and so did the pull", "let go on the count, and lower"),
    "too long on the floor": ("the stick lay too long", "pull while it still slides"),
    "not seen": ("the floor or the pull was not observed", ""),
}
#: The same of several boomerangs.
PULL_ADVICE: dict[Pull, str] = {
    "too early": "In {times} of {number} boomerangs the pull came before the stick was down ({numbers}): wait for the "
    "floor, then pull.",
    "too late": "In {times} of {number} boomerangs the stick came down late and so did the pull ({numbers}): let go on "
    "the count, and lower.",
    "too long on the floor": "In {times} of {number} boomerangs the stick lay too long ({numbers}): pull while it "
    "still slides.",
}


class MeanError(NamedTuple):
    """Mean error of the flights of one kind, seconds; ``sure`` where it is significant and audible."""

    mean: float
    low: float
    high: float
    sure: bool

    @property
    def numbers(self) -> str:
        """The mean in ms, with its interval."""
        low, high = sorted((abs(self.low), abs(self.high)))
        return tr(
            "{mean:.0f} ms, between {low:.0f} and {high:.0f}",
            mean=1000 * abs(self.mean),
            low=1000 * low,
            high=1000 * high,
        )


def tell_throws(card: Scorecard) -> str:
    """Return what the flights of a take have in common, or that they differ; empty where they are as asked.

    Says whether the release or the height is at fault: a flight that is short because it was let go late needs another
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
    """Return the mean error of the flights of one kind in seconds, and its sentence."""
    release = np.array([throw.release for throw in throws])
    catch = np.array([throw.catch for throw in throws])
    seconds = throws[0].asked * card.value("period_mean_ms") / 1000 / card.plan.cycle_counts
    heard = max(card.plan.allowance, HEARD) * seconds
    flight, released, caught = (_take_mean(values, heard) for values in (catch - release, release, catch))
    number = several(len(throws), "flight")
    if len(card.plan.hands) > 1:
        number = f"{tr(throws[0].hand)}, {number}"
    counts = tr(
        "{mean:.2f} counts instead of {asked:g}", mean=np.mean([throw.done for throw in throws]), asked=throws[0].asked
    )
    if flight.sure:
        if released.sure and released.mean * flight.mean < 0 and abs(released.mean) > abs(caught.mean):
            said = tr(
                "You let go too early ({numbers}; {number}), and the flight is too long: let go on the count."
                if released.mean < 0
                else "You let go too late ({numbers}; {number}), and the flight is too short: let go on the count.",
                numbers=released.numbers,
                number=number,
            )
            return abs(flight.mean), said
        said = tr(
            "The flights are too long ({counts}: {numbers}; {number}): throw lower."
            if flight.mean > 0
            else "The flights are too short ({counts}: {numbers}; {number}): throw higher.",
            counts=counts,
            numbers=flight.numbers,
            number=number,
        )
        return abs(flight.mean), said
    if released.sure:
        said = tr(
            "You let go too early ({numbers}; {number}); the flight itself has its counts: let go on the count, and "
            "the catch comes with it."
            if released.mean < 0
            else "You let go too late ({numbers}; {number}); the flight itself has its counts: let go on the count, "
            "and the catch comes with it.",
            numbers=released.numbers,
            number=number,
        )
        return abs(released.mean), said
    wrong = Counter(throw.length for throw in throws if throw.length != "in time")
    if sum(wrong.values()) < max(MANY_WRONG * len(throws), 2):
        return 0.0, ""
    spread = float((catch - release).std(ddof=1))
    each = join_words(
        (tr(LENGTHS[length], number=wrong[length]) for length in ("long", "short") if wrong[length]),
        "{first} and {second}",
    )
    said = tr(
        "Of {number}: {each} (they differ by {spread:.0f} ms): throw to the same height each time.",
        number=number,
        each=each,
        spread=1000 * spread,
    )
    return spread, said


def _take_mean(values: Floats, heard: float) -> MeanError:
    low, high = interval_of_mean(values)
    mean = float(values.mean())
    return MeanError(mean, low, high, sure=abs(mean) > heard and not low <= 0 <= high)


def _see_boomerangs(card: Scorecard) -> list[Boomerang]:
    if not has_boomerangs(card.plan):
        return []
    return [each for each in judge_boomerangs(card.plan, card.asynchrony) if each.pull != "not seen"]


def _tell_pulls(wrong: Sequence[Boomerang], number: int) -> str:
    """Return the most frequent fault of the pulls, with its numbers."""
    ((pull, times),) = Counter(each.pull for each in wrong).most_common(1)
    alike = [each for each in wrong if each.pull == pull]
    lie = sum(each.lie for each in alike) / times
    numbers = (
        tr("{lie:.1f} counts after the floor", lie=abs(lie))
        if lie > 0
        else tr("{lie:.1f} counts before the floor", lie=abs(lie))
    )
    if pull == "too late":
        numbers = tr("the pull {number:.1f} counts behind its own", number=sum(each.off for each in alike) / times)
    said = tr(PULL_ADVICE[pull], times=times, number=number, numbers=numbers)
    more = len(wrong) - times
    return f"{said} {tr('In {number} more something else was wrong with it.', number=more)}" if more else said


_TOLD_MS = 10
"""Less than this is said to be on the count: nobody hears it (a displaced event from 6 ms at the fastest, Friberg &
Sundberg 1995, abstract)."""


def format_take_flights(card: Scorecard, boomerangs: Sequence[Boomerang], throws: Sequence[Throw]) -> list[str]:
    """Return what was wrong with the boomerangs and the throws of a take, a text of each that its drill has."""
    where = partial(say_cycle, card)
    told = [format_boomerangs(boomerangs, say_where=where)] if boomerangs else []
    return [*told, format_throws(throws, say_where=where)] if throws else told


def take_flights_to_dict(
    card: Scorecard, boomerangs: Sequence[Boomerang], throws: Sequence[Throw]
) -> dict[str, object]:
    """Return the boomerangs and the throws of a take as plain values; what its drill has not is left out."""
    values: dict[str, object] = {}
    if boomerangs:
        values["boomerangs"] = boomerangs_to_list(boomerangs, placed=card.placed)
    if throws:
        values["throws"] = throws_to_list(throws, placed=card.placed)
    return values


def format_throws(throws: Sequence[Throw], *, say_where: Callable[[int], str] = say_number) -> str:
    """Return how many flights were in time, and what was wrong with each of the others.

    Parameters
    ----------
    say_where : callable
        Says where the cycle of a number lies.

    Examples
    --------
    >>> from tempo_coach.score.trace.throws import Throw
    >>> short = Throw(1, "right", 3.0, 2.6, 0.08, -0.12, "short")
    >>> print(format_throws([Throw(0, "right", 3.0, 3.0, 0.0, 0.0, "in time"), short]))
    1 of 2 flights were in time.
      cycle 2, right: 2.60 counts instead of 3, too short: let go 80 ms late, caught 120 ms early
    """
    good = sum(throw.length == "in time" for throw in throws)
    lines = [tr("{good} of {number} flights were in time.", good=good, number=len(throws))]
    wrong = [throw for throw in throws if throw.length != "in time"]
    lines += [
        f"  {tr('{name}: {said}', name=f'{say_where(throw.cycle)}, {tr(throw.hand)}', said=say_throw(throw))}"
        for throw in wrong
    ]
    return "\n".join(lines)


def say_throw(throw: Throw) -> str:
    """Return the outcome of a flight."""
    if throw.length == "not seen":
        missing = [late is throw.release for late in (throw.release, throw.catch) if math.isnan(late)]
        if len(missing) > 1:
            return tr("neither the release nor the catch was observed")
        return tr("the release was not observed") if missing[0] else tr("the catch was not observed")
    ends = tr("let go {late}, caught {late_2}", late=_say_late(throw.release), late_2=_say_late(throw.catch))
    if throw.length == "in time":
        return tr("in time: {ends}", ends=ends)
    return tr(
        "{done:.2f} counts instead of {asked:g}, {length}: {ends}",
        done=throw.done,
        asked=throw.asked,
        length=tr(TOO[throw.length]),
        ends=ends,
    )


def throws_to_list(throws: Sequence[Throw], *, placed: bool = True) -> list[dict[str, object]]:
    """Return flights as plain values in counts and ms; None for what was not seen, or an unknown cycle."""
    return [
        {
            "cycle": throw.cycle if placed else None,
            "hand": throw.hand,
            "asked_counts": throw.asked,
            "counts": _plain(throw.done),
            "release_ms": _plain(1000 * throw.release),
            "catch_ms": _plain(1000 * throw.catch),
            "length": throw.length,
            "words": say_throw(throw),
        }
        for throw in throws
    ]


def _say_late(seconds: float) -> str:
    late = 1000 * seconds
    if abs(late) < _TOLD_MS:
        return tr("on the count")
    return tr("{late:.0f} ms late", late=abs(late)) if late > 0 else tr("{late:.0f} ms early", late=abs(late))


def _plain(number: float) -> float | None:
    return None if math.isnan(number) else round(number, 4)


def format_boomerangs(judged: Sequence[Boomerang], *, say_where: Callable[[int], str] = say_number) -> str:
    """Return how many pulls came in time, and what a coach says to each of the others.

    Parameters
    ----------
    say_where : callable
        Says where the cycle of a number lies.

    Examples
    --------
    >>> from tempo_coach.score.trace.boomerang import Boomerang, Pull
    >>> print(format_boomerangs([Boomerang(0, "in time", 0.5, 0.0), Boomerang(1, "too early", -0.2, -0.7)]))
    The pull came while the stick was on the floor in 1 of 2.
      cycle 2: the pull came before the stick was down: wait for the floor, then pull (0.2 counts before the floor)
    """
    good = sum(each.pull == "in time" for each in judged)
    lines = [tr("The pull came while the stick was on the floor in {good} of {number}.", good=good, number=len(judged))]
    lines += [
        f"  {tr('{name}: {said}', name=say_where(each.cycle), said=_say_pull_and_lie(each))}"
        for each in judged
        if each.pull != "in time"
    ]
    return "\n".join(lines)


def boomerangs_to_list(judged: Sequence[Boomerang], *, placed: bool = True) -> list[dict[str, object]]:
    """Return boomerangs as plain values in counts; None for what was not seen, or an unknown cycle."""
    return [
        {
            "cycle": each.cycle if placed else None,
            "pull": each.pull,
            "lie_counts": _plain(each.lie),
            "off_counts": _plain(each.off),
            "words": say_pull(each),
        }
        for each in judged
    ]


def say_pull(boomerang: Boomerang) -> str:
    """Return the outcome of a boomerang's pull, and what a coach says about it."""
    what, advice = map(tr, PULLS[boomerang.pull])
    return tr("{name}: {said}", name=what, said=advice) if advice else what


def _say_pull_and_lie(boomerang: Boomerang) -> str:
    said, lie = say_pull(boomerang), boomerang.lie
    if math.isnan(lie):
        return said
    return tr(
        "{said} ({lie:.1f} counts after the floor)" if lie > 0 else "{said} ({lie:.1f} counts before the floor)",
        said=said,
        lie=abs(lie),
    )
