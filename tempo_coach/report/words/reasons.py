"""Reasons in words: one entry for each code of :class:`tempo_coach.reasons.Why`, and the only place for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.reasons import Why
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.errors import message_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from tempo_coach.reasons import Reason

_NOT_TOLD = "so how early or late all of it was cannot be told"


def _double_onsets(member: str, number: int) -> str:
    return f"{member}: {several(number, 'onset')} at the instant of another one, counted once"


def _ambiguous_fit(away: float, confidence: float) -> str:
    return (
        f"the trace was put on the plan where it fits best, and it fits nearly as well {abs(away):.2f} s "
        f"{'later' if away > 0 else 'earlier'} (confidence {confidence:.2f}); a clap that both saw decides: "
        "--clap ON_TRACE ON_TAKE"
    )


#: What is said of each code: a form that the arguments are put into, or a function of them. No full stop.
WORDS: dict[Why, str | Callable[..., str]] = {
    Why.NO_PAIR: "no onset answers a moment",
    Why.ONE_PAIR: "one asynchrony alone has no spread",
    Why.NOTHING_TO_PAIR: "there is neither a moment nor an onset",
    Why.NO_PERIOD: "no two neighbouring cycles have their first moment",
    Why.ONE_PERIOD: "one period alone has no spread",
    Why.NO_NEIGHBOURS: "no three neighbouring cycles have their first moment",
    Why.FEW_ASYNCHRONIES: "needs {} asynchronies, there are {}",
    Why.FEW_PERIODS: "needs {} periods, there are {}",
    Why.FEW_FREE_PERIODS: "needs {} periods without a cue, there are {}",
    Why.NOT_TAPPED: "only taps can be split into clock and movement, and this take was observed by {}",
    Why.CONSTANT_ASYNCHRONIES: "the asynchronies do not vary about their line",
    Why.CONSTANT_PERIODS: "the periods do not vary about their line",
    Why.SCATTERED_PERIODS: "too few periods stand beside each other",
    Why.FLOOR_NOT_MEASURED: "nobody has measured what observing by {} adds",
    Why.NO_LAGS: "nothing trails anything here: one hand with one moment a cycle",
    Why.NO_MOMENTS: "the plan has no moment",
    Why.NOT_MEASURABLE: "{} of {} moments lie where sound or clock failed; not scored",
    Why.ANY_CIRCLE: f"the sensor shows the same place of every circle and not which one it is, {_NOT_TOLD}",
    Why.FITTED: f"the trace was put where it fits the plan best (confidence {{:.2f}}), {_NOT_TOLD}",
    Why.MISSED_NOT_KNOWN: "which moments are missing is not known as long as the place is not",
    Why.NO_MUSIC: "there is no music to be early or late against: the members are held against each other alone, and "
    "eights are numbered from their own first beat",
    Why.DOUBLE_ONSETS: _double_onsets,
    Why.NEVER_THERE: "{} has no onset at all; the others are judged",
    Why.ELSEWHERE: "none of the {1} onsets of {0} lies at a moment of the plan (they go from {2:.1f} to {3:.1f} s): "
    "check her clock; the others are judged",
    Why.ONE_RECORDING: "one recording of several people: who was who cannot be told, so nobody is early or late",
    Why.NUMBER_NOT_KNOWN: "nobody knows how many they were",
    Why.FEW_CYCLES: "who follows whom among {} needs {} cycles, there are {}",
    Why.IN_TURN: "they do it in turn ({}), so each is judged at her own place in every round of {} moments",
    Why.NO_FOLLOWING: "who follows whom cannot be told of members who were hardly there or do not vary",
    Why.NO_RELEASE: "the plan has no release, so nothing is thrown in it",
    Why.TWO_MEMBERS: "of two it cannot be told which one leaves the other",
    Why.NO_STEADY_LAG: "the two keep no lag, it lies anywhere in the circle (Rayleigh's test: p = {:.2f} of {})",
    Why.TURNING_RATE: "a turning rate shows how far each has turned and not where in the circle it is; accelerations "
    "would",
    Why.CONE: "a wrist's turning rate on its cone shows no place of the circle that two sensors share",
    Why.OTHER_PLACE: "the two sensors do not show the same place of a circle",
    Why.OTHER_AXES: "the two sensors do not have the same axes",
    Why.TILTED: "the two sensors sit differently: their main axes are {:.0f}° apart",
    # two sensors that were meant to sit alike showed a false lag of 2 % of a cycle; seen in recordings of limbs
    Why.SEAT_SHIFTS: "how each sensor sits shifts this lag, by about 7° (2 % of a cycle) even where both sit alike, by "
    "half a cycle where one is upside down: hold it against another take with the sensors left on, not against 0",
    Why.NO_FLIGHTS: "flights: {}",
    Why.NO_CYCLES: "cycles: {}",
    Why.NO_SECOND: "a second mover: {}",
    Why.UNEVEN_CYCLE: "cycle {} of {} ({}, {:.2f} to {:.2f} s)",
    Why.UNSEEN_MOMENTS: "the {} of {} shows in no trace",
    Why.NO_COMMON_ZERO: "a turning rate does not show where in its circle {} is beside the first",
    Why.OTHER_STEPS: "the circles of {} come every {:.2f} s and the plan asks for one every {:.2f} s: is it the plan "
    "of this take?",
    Why.NOT_FOLLOWED: "nothing in the trace follows {}",
    Why.AMBIGUOUS_FIT: _ambiguous_fit,
    Why.FEW_CARRYING: "only {:.1f} carrying cycles were seen, and three are needed",
    Why.ONE_SPEED: "both turn at nearly one speed",
    Why.SMALL_IN_RESIDUAL: "the small circle ({:.3g}) hardly stands out of the rest ({:.3g})",
    Why.BACKWARDS: "a phase would run backwards",
    Why.NO_TAKE: "no take tells it",
    Why.FEW_DAYS: "it takes {} days with a take; days so far: {}",
    Why.NO_NIGHTS: "no two days have a take",
    Why.FEW_TAKES: "it takes {} takes at {} tempi, there are {} at {}",
    Why.SLOWEST_TOO_FAST: "less than {:.0f}, the slowest that was tried",
    Why.FASTEST_STEADY: "more than {:.0f}, the fastest that was tried",
    Why.EITHER_WAY: "as her takes go, it may end either way",
}


def say_reason(reason: Reason | None) -> str:
    """Return a reason without a full stop; empty where there is none.

    Examples
    --------
    >>> from tempo_coach.reasons import Reason
    >>> say_reason(Reason(Why.FEW_PERIODS, (5, 3))), say_reason(None)
    ('needs 5 periods, there are 3', '')
    """
    if reason is None:
        return ""
    words = WORDS[reason.code]
    args = [message_of(each) if isinstance(each, CoachError) else each for each in reason.args]
    return words.format(*args) if isinstance(words, str) else words(*args)


def say_reasons(reasons: Mapping[str, Reason]) -> dict[str, str]:
    """Return the words of several reasons, each under the name of what it is about."""
    return {about: say_reason(reason) for about, reason in reasons.items()}
