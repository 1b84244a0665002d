"""A scorecard in words: as plain values with its sentences, and as a page of text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.report.sentence import tell, tell_cycle
from tempo_coach.report.text import format_card

if TYPE_CHECKING:
    from tempo_coach.score.card import Scorecard

__all__ = ["card_to_dict", "format_card", "tell", "tell_cycle"]


def card_to_dict(card: Scorecard, previous: Scorecard | None = None) -> dict[str, object]:
    """Return the complete scorecard as plain values: the measures, the words of each cycle, and the sentence.

    Parameters
    ----------
    card : Scorecard
    previous : Scorecard or None
        An earlier take of the same drill, for praise where it got better.

    Raises
    ------
    TypeError
        If the scorecard's own values are no scorecard's.
    """
    plain = card.to_dict()
    reasons = plain.pop("reasons")
    detail = plain.pop("detail")
    cycles = plain["cycles"]
    if not isinstance(cycles, list):
        raise TypeError("a scorecard's cycles are a list")
    for row, cycle in zip(cycles, card.cycles, strict=True):
        row["words"] = tell_cycle(card, cycle)
    return {**plain, "sentence": tell(card, previous), "reasons": reasons, "detail": detail}
