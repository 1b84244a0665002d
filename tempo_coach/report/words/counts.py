"""Corrections of counts in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import say_hundredths

if TYPE_CHECKING:
    from tempo_coach.music.counts.corrections import Correction


#: What was done, by its name.
_DONE = {
    "level": "counted at about {tempo_bpm:.0f} from {at} to {to}",
    "one": "this is one, at {at}",
    "first": "first movement at {at}",
    "length": "{counts} counts in the eight at {at}",
    "move": "count moved from {at} to {to}",
    "add": "count added at {at}",
    "drop": "count dropped at {at}",
    "tapped": "tapped anew from {at} to {to}",
    "pause": "pause from {at} to {to}",
    "through": "{counts} counts through the gap at {at}",
    "slowing": "{counts} counts laid slowing from {at} on",
    "cut": "cut at {at}",
}


def say_correction(correction: Correction) -> str:
    """Return a correction in a few words.

    Examples
    --------
    >>> from tempo_coach.music.counts.corrections import Correction
    >>> say_correction(Correction("move", 12.0, to=12.1))
    'count moved from 0:12.00 to 0:12.10'
    """
    end = correction.times[-1] if correction.do == "tapped" else correction.to
    return tr(
        _DONE[correction.do],
        at=say_hundredths(correction.at),
        to=say_hundredths(end) if end is not None else tr("the end"),
        counts=correction.counts or len(correction.times) + 1,
        tempo_bpm=correction.tempo_bpm or 0.0,
    )
