"""Sizes of circles in words: which one was bigger or smaller than its neighbours, and one hand's against another's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.moments import say_label
from tempo_coach.report.words.places import say_second

if TYPE_CHECKING:
    from tempo_coach.observe.trace.sizes import SizeRatio
    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.scorecard import OddSize


def tell_sizes(card: Scorecard) -> list[str]:
    """Return what is to be said of sizes, a sentence each."""
    return [
        *(_tell_odd(card, size) for size in card.sizes.odd),
        *(tell_ratio(ratio) for ratio in card.sizes.ratios if ratio.differs),
    ]


def sizes_to_dict(card: Scorecard) -> dict[str, object]:
    """Return the sizes of a take as plain values."""
    return {
        "odd": [
            {
                "cycle": size.cycle if card.placed else None,
                "hand": size.hand,
                "moment": size.label or None,
                "ratio": round(size.ratio, 4),
                "time": round(size.time, 4),
                "words": _tell_odd(card, size),
            }
            for size in card.sizes.odd
        ],
        "ratios": [ratio_to_dict(ratio) for ratio in card.sizes.ratios],
    }


def ratio_to_dict(ratio: SizeRatio) -> dict[str, object]:
    """Return one hand's size against another's as plain values."""
    return {
        "of": ratio.of,
        "to": ratio.to,
        "ratio": round(ratio.ratio, 4),
        "ci95": [round(ratio.low, 4), round(ratio.high, 4)],
        "differs": bool(ratio.differs),
    }


def tell_ratio(ratio: SizeRatio) -> str:
    """Return one hand's size against another's as a sentence."""
    of, to, change = tr(ratio.of), tr(ratio.to), say_change(ratio.ratio)
    return tr("the circles of {of} are {change} than of {to}", of=of, change=change, to=to)


def say_change(ratio: float) -> str:
    """Return a ratio of sizes in words.

    Examples
    --------
    >>> say_change(1.24), say_change(0.8)
    ('24 % bigger', '20 % smaller')
    """
    return tr("{share:.0f} % bigger" if ratio > 1 else "{share:.0f} % smaller", share=100 * abs(ratio - 1))


def _tell_odd(card: Scorecard, size: OddSize) -> str:
    where = (
        tr("cycle {cycle}", cycle=size.cycle + 1)
        if card.placed
        else tr("the cycle {second}", second=say_second(card, size.time))
    )
    hands = f", {tr(size.hand)}" if len(card.plan.hands) > 1 else ""
    return tr(
        "{where}: {label} is {change} than its neighbours" if size.label else "{where} is {change} than its neighbours",
        where=f"{where}{hands}",
        label=say_label(size.label),
        change=say_change(size.ratio),
    )
