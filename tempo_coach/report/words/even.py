"""A take in which nothing broke in a coach's words: how even it is, and whether it is in time."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import tr, tr_n
from tempo_coach.observe.observers import OBSERVERS
from tempo_coach.report.words.amounts import join_words
from tempo_coach.report.words.broken import (
    asked_period,
    tell_cycle,
)
from tempo_coach.score.faults.verdict import EARLY_FROM, LATE_FROM
from tempo_coach.score.measures.steadiness import is_steady
from tempo_coach.score.scorecard import Flag, is_flagged

if TYPE_CHECKING:
    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.faults.findings import Finding


#: A difference below this share of the interval cannot be heard (Friberg & Sundberg 1995, abstract).
HEARD = 0.025


#: Confidence from which on the likeliest of what is doubtful is said at all, where nothing else broke.
SAID_FROM = 0.2


#: What explains a take nearly as well where something broke.
NEARLY = {
    "long": "the whole cycle was longer",
    "short": "the whole cycle was shorter",
    "late": "one moment alone was late",
    "early": "one moment alone was early",
    "hesitated": "you hesitated for just so long",
    "slipped": "you slipped by part of the cycle",
}


def _step(card: Scorecard) -> float:
    """Return the median asked seconds from a moment of a hand to its next one."""
    moments = card.plan.moments
    steps = [np.diff(moments.time[moments.of_hand(hand)]) for hand in card.plan.hands]
    return float(np.median(np.concatenate(steps))) if any(map(len, steps)) else asked_period(card)


def tell_even(card: Scorecard) -> str:
    """Return that nothing broke, how certain the place in the music is, and what comes next."""
    said = f"{_say_even(card)} {tr('Fewer cues next.') if is_steady(card) else tr('Again, with the cues as they are.')}"
    doubtful = [found for found in card.findings if found.is_doubtful and found.confidence >= SAID_FROM]
    likeliest = max(doubtful, key=lambda found: found.confidence, default=None)
    return f"{said} {_say_doubtful(card, likeliest)}".rstrip() if likeliest else said


def _say_doubtful(card: Scorecard, found: Finding) -> str:
    """Return what may have happened in a cycle but is too uncertain to call it broken; else empty."""
    rows = [cycle for cycle in card.cycles if cycle.cycle == found.cycle and found.hand in ("", cycle.hand)]
    if not is_flagged(found.kind) or not rows:
        return ""
    row = next((cycle for cycle in rows if found.moment in cycle.labels), rows[0])
    flag = Flag(found.kind, found.moment, found.by_ms / 1000, bool(found.hand) and len(card.plan.hands) > 1)
    doubtful = tell_cycle(card, replace(row, flags=(flag,)))
    nearly = [tr(NEARLY[kind]) for kind in found.same_as if kind in NEARLY]
    return tr(
        "Perhaps, but chance does as much: {cycle}.", cycle=join_words([doubtful, *nearly], "{first}, or {second}")
    )


def _say_even(card: Scorecard) -> str:
    cv, spread = card.value("period_cv_pct"), card.value("spread_ms")
    if "cycles" in card.notes:
        return tr(
            "Whether a single cycle broke cannot be told from this film; as it was seen, cycles differ by {cv:.1f} "
            "%, moments by {spread:.0f} ms. Put the phone on something, or show more of the hall.",
            cv=cv,
            spread=spread,
        )
    even = (
        tr("moments by {spread:.0f} ms", spread=spread)
        if math.isnan(cv)
        else tr("cycles differ by {cv:.1f} %, moments by {spread:.0f} ms", cv=cv, spread=spread)
    )
    bias = card.measures["bias_ms"]
    if math.isnan(bias.value):
        return tr("Even: {even}. How early or late all of it was cannot be told here.", even=even)
    if lacks_setup(card):
        return tr("Even: {even}. How far from the music depends on keyboard and loudspeaker too.", even=even)
    if math.isnan(bias.low):
        return tr("Even: {even}. Whether early or late cannot be told from so little.", even=even)
    within = max(card.plan.allowance, HEARD) * _step(card)
    if -max(within, EARLY_FROM) <= bias.low / 1000 and bias.high / 1000 <= max(within, LATE_FROM):
        return tr("Even and in time: {even}.", even=even)
    between = tr("between {low} and {high}", low=say_ms(bias.low), high=say_ms(bias.high))
    if bias.low > 0 or bias.high < 0:
        return tr(
            "Even: {even}; a little late ({ms:.0f} ms, {between})."
            if bias.value > 0
            else "Even: {even}; a little early ({ms:.0f} ms, {between}).",
            even=even,
            ms=abs(bias.value),
            between=between,
        )
    return tr_n(
        "Even: {even}. Whether early or late cannot be told from {number} cycle ({between}).",
        "Even: {even}. Whether early or late cannot be told from {number} cycles ({between}).",
        len({cycle.cycle for cycle in card.cycles}),
        even=even,
        between=between,
    )


def lacks_setup(card: Scorecard) -> bool:
    """Return whether every onset includes an unknown delay of keyboard and loudspeaker."""
    return OBSERVERS[card.observed_by].is_pressed and not card.calibrated


def say_ms(ms: float) -> str:
    """Return a signed number of ms as late or early."""
    return tr("{ms:.0f} ms late", ms=abs(ms)) if ms > 0 else tr("{ms:.0f} ms early", ms=abs(ms))
