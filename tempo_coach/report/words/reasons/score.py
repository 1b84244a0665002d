"""Reasons about takes and groups, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr, tr_n
from tempo_coach.reasons import Why
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.errors.forms import join_names
from tempo_coach.report.words.observers import say_observer

if TYPE_CHECKING:
    from collections.abc import Callable


def _double_onsets(member: str, number: int) -> str:
    return tr(
        "{member}: {onsets} at the instant of another one, counted once", member=member, onsets=several(number, "onset")
    )


#: The words of each code. See :data:`tempo_coach.report.words.reasons.WORDS`.
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
    Why.NOT_TAPPED: lambda observer: tr(
        "only taps can be split into clock and movement, and this take was observed by {observer}",
        observer=say_observer(observer),
    ),
    Why.CONSTANT_ASYNCHRONIES: "the asynchronies do not vary about their line",
    Why.CONSTANT_PERIODS: "the periods do not vary about their line",
    Why.SCATTERED_PERIODS: "too few periods stand beside each other",
    Why.FLOOR_NOT_MEASURED: lambda observer: tr(
        "nobody has measured what observing by {observer} adds", observer=say_observer(observer)
    ),
    Why.NO_LAGS: "nothing trails anything here: one hand with one moment a cycle",
    Why.NO_MOMENTS: "the plan has no moment",
    Why.NOT_MEASURABLE: "{} of {} moments lie where sound or clock failed; not scored",
    Why.ANY_CIRCLE: "the sensor shows the same place of every circle and not which one it is, so how early or late "
    "all of it was cannot be told",
    Why.FITTED: "the trace was put where it fits the plan best (confidence {:.2f}), so how early or late all of it "
    "was cannot be told",
    Why.MISSED_NOT_KNOWN: "which moments are missing is not known as long as the place is not",
    Why.CLOCKS_BOUND: "the clocks of the phones are known to ±{:.0f} ms: nobody is called early or late within that",
    Why.CLOCKS_WIDE: "the clocks of the phones are not known well enough to call anybody early or late",
    Why.NO_MUSIC: "there is no music to be early or late against: the members are held against each other alone, and "
    "eights are numbered from their own first beat",
    Why.DOUBLE_ONSETS: _double_onsets,
    Why.NEVER_THERE: "{} has no onset at all; the others are judged",
    Why.ELSEWHERE: "none of the {1} onsets of {0} lies at a moment of the plan (they go from {2:.1f} to {3:.1f} s): "
    "check her clock; the others are judged",
    Why.ONE_RECORDING: "one recording of several people: who was who cannot be told, so nobody is early or late",
    Why.NUMBER_NOT_KNOWN: "nobody knows how many they were",
    Why.FEW_CYCLES: "who follows whom among {} needs {} cycles, there are {}",
    Why.MIRRORED: lambda members: tr_n(
        "{names} does with one hand what the others do with the other: she is judged by her own hands",
        "{names} do with one hand what the others do with the other: they are judged by their own hands",
        len(members),
        names=join_names(members),
    ),
    Why.IN_TURN: lambda order, moments: tr(
        "they do it in turn ({names}), so each is judged at her own place in every round of {moments} moments",
        names=", ".join(order),
        moments=moments,
    ),
    Why.NO_FOLLOWING: "who follows whom cannot be told of members who were hardly there or do not vary",
    Why.NO_RELEASE: "the plan has no release, so nothing is thrown in it",
    Why.TWO_MEMBERS: "of two it cannot be told which one leaves the other",
}
