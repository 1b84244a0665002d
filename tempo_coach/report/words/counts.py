"""Corrections of counts in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
    to = say_hundredths(correction.to) if correction.to is not None else "the end"
    match correction.do:
        case "level":
            return f"counted at about {correction.tempo_bpm:.0f} from {at} to {to}"
        case "one":
            return f"this is one, at {at}"
        case "first":
            return f"first movement at {at}"
        case "length":
            return f"{correction.counts} counts in the eight at {at}"
        case "move":
            return f"count moved from {at} to {to}"
        case "add":
            return f"count added at {at}"
        case "drop":
            return f"count dropped at {at}"
        case "tapped":
            return f"tapped anew from {at} to {say_hundredths(correction.times[-1])}"
        case "pause":
            return f"pause from {at} to {to}"
        case "through":
            return f"{correction.counts} counts through the silence at {at}"
        case "cut":
            return f"cut at {at}"
