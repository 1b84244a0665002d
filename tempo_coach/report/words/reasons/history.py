"""Reasons about finished takes, their files, and takes over days, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.reasons import Why
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.live import why_unwritten

if TYPE_CHECKING:
    from collections.abc import Callable


#: The words of each code. See :data:`tempo_coach.report.words.reasons.WORDS`.
WORDS: dict[Why, str | Callable[..., str]] = {
    Why.UNWRITTEN: lambda path, failure: tr(
        "the take cannot be written to {path}: {why_unwritten}. It goes on in memory",
        path=path,
        why_unwritten=why_unwritten(failure),
    ),
    Why.UNKEPT: lambda error, path: (
        tr(
            "not in the history: {error} The take is kept in {path}",
            error=say_error(error),
            path=path or tr("memory alone"),
        )
        if isinstance(error, CoachError)
        else tr("not in the history: {error}. The take is kept in {path}", error=error, path=path or tr("memory alone"))
    ),
    Why.CLIP_DRAWN: "the clip is being drawn",
    Why.CLIP_WRITTEN: "that cycle beside the median one, slowed, lies in {}",
    Why.NO_CLIP: lambda error: tr("there is no clip: {error}", error=say_error(error).rstrip(".")),
    Why.NOTHING_RECORDED: "nothing was recorded",
    Why.RECORDING_UNWRITTEN: "the recording is not kept: {}",
    Why.PLAYED_NOT_HEARD: lambda name: tr(
        "in {name} nothing that was played can be heard: it may lie off by some hundredths",
        name=name or "the recording",
    ),
    Why.LOOP_CHANGED: (
        "the delay from loudspeaker to microphone changed by {:+.0f} ms between {:.0f} and {:.0f} s of the take, as "
        "wireless ones do: what is heard is put right on both sides, taps are not"
    ),
    Why.OTHER_RATE_HEARD: (
        "between {:.0f} and {:.0f} s of the take the loudspeaker played {} samples a second for {}: nothing of it is "
        "judged"
    ),
    Why.NO_TAKE: "no take tells it",
    Why.FEW_DAYS: "it takes {} days with a take; days so far: {}",
    Why.NO_NIGHTS: "no two days have a take",
    Why.FEW_TAKES: "it takes {} takes at {} tempi, there are {} at {}",
    Why.SLOWEST_TOO_FAST: "less than {:.0f}, the slowest that was tried",
    Why.FASTEST_STEADY: "more than {:.0f}, the fastest that was tried",
    Why.EITHER_WAY: "as her takes go, it may end either way",
}
