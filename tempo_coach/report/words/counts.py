"""Corrections of counts in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import say_hundredths

if TYPE_CHECKING:
    from tempo_coach.music.counts.corrections import Correction


def say_correction(correction: Correction) -> str:
    """Return a correction in a few words.

    Examples
    --------
    >>> from tempo_coach.music.counts.corrections import Correction
    >>> say_correction(Correction("move", 12.0, to=12.1))
    'count moved from 0:12.00 to 0:12.10'
    """
    at = say_hundredths(correction.at)
    to = say_hundredths(correction.to) if correction.to is not None else tr("the end")
    match correction.do:
        case "level":
            return tr(
                "counted at about {tempo_bpm:.0f} from {at} to {to}", tempo_bpm=correction.tempo_bpm, at=at, to=to
            )
        case "one":
            return tr("this is one, at {at}", at=at)
        case "first":
            return tr("first movement at {at}", at=at)
        case "length":
            return tr("{counts} counts in the eight at {at}", counts=correction.counts, at=at)
        case "move":
            return tr("count moved from {at} to {to}", at=at, to=to)
        case "add":
            return tr("count added at {at}", at=at)
        case "drop":
            return tr("count dropped at {at}", at=at)
        case "tapped":
            return tr("tapped anew from {at} to {hundredths}", at=at, hundredths=say_hundredths(correction.times[-1]))
        case "pause":
            return tr("pause from {at} to {to}", at=at, to=to)
        case "through":
            return tr("{counts} counts through the silence at {at}", counts=correction.counts, at=at)
        case "cut":
            return tr("cut at {at}", at=at)
