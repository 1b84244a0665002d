"""Hands, moments of the cycle and their names in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import is_known, tr, tr_as

if TYPE_CHECKING:
    from tempo_coach.score.scorecard import Flag, Scorecard

#: Hands and what else moves, with their article.
HANDS = {"left": "the left hand", "right": "the right hand"}
#: Kinds of moments, with their article: of the one thing that moves, and of the left and the right hand.
MOMENTS = {
    "moment": ("the moment", "the left moment", "the right moment"),
    "circle": ("the circle", "the left circle", "the right circle"),
    "release": ("the release", "the left release", "the right release"),
    "catch": ("the catch", "the left catch", "the right catch"),
    "contact": ("the contact", "the left contact", "the right contact"),
    "wave": ("the wave", "the left wave", "the right wave"),
    "turn": ("the turn", "the left turn", "the right turn"),
    "roll": ("the roll", "the left roll", "the right roll"),
    "pull": ("the pull", "the left pull", "the right pull"),
}
#: What can be wrong with a cycle, in a word.
FLAG_WORDS = {
    "long": "long",
    "short": "short",
    "early": "early",
    "late": "late",
    "missed": "missed",
    "extra": "extra",
    "hesitated": "hesitated",
    "slipped": "slipped",
}


def say_label(label: str) -> str:
    """Return the name of a moment: the drill's own, or that of its phase with a number.

    Examples
    --------
    >>> say_label("high 2"), say_label("almost up")
    ('high 2', 'almost up')
    """
    phase, _, number = label.rpartition(" ")
    if phase and number.isdigit() and not is_known(label):
        return tr("{phase} {number}", phase=tr_as("phase", phase), number=number)
    return tr(label)


def say_hand(hand: str) -> str:
    """Return a hand, or whatever else moves, with its article."""
    return tr(HANDS[hand]) if hand in HANDS else tr("the {hand}", hand=tr(hand))


def say_moment(card: Scorecard, hand: str, label: str, kind: str) -> str:
    """Return the name of a moment of a cycle, with its hand where there are two."""
    whose = hand if len(card.plan.hands) > 1 else ""
    kind_or_moment = kind or "moment"
    if kind_or_moment in MOMENTS and whose in ("", "left", "right"):
        said = tr(MOMENTS[kind_or_moment][("", "left", "right").index(whose)])
    elif whose:
        said = tr("the {hand} {kind}", hand=tr(whose), kind=tr(kind_or_moment))
    else:
        said = tr("the {kind}", kind=tr(kind_or_moment))
    return said if label in ("", kind) else tr("{moment} “{label}”", moment=said, label=say_label(label))


def say_flag(flag: Flag) -> str:
    """Return what is wrong with a cycle, and with which moment of it.

    Examples
    --------
    >>> from tempo_coach.score.scorecard import Flag
    >>> say_flag(Flag("late", "high 2")), say_flag(Flag("long"))
    ('late: high 2', 'long')
    """
    said = tr(FLAG_WORDS[flag.kind])
    return tr("{name}: {said}", name=said, said=say_label(flag.label)) if flag.label else said
