"""Reasons about beats, counts, routines and cuts, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.reasons import Why
from tempo_coach.report.words.amounts import say_clock, several
from tempo_coach.report.words.counts import say_correction
from tempo_coach.report.words.cut import say_joint, say_length
from tempo_coach.report.words.errors import message_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.music.counts.corrections import Correction
    from tempo_coach.pattern.routine.rules import Rule

_PLACES = {
    "first": "the first movement",
    "last": "the last movement",
    "drill": "{}",
    "moment": "the {}",
    "steps": "the dance steps",
    "remark": "the remark",
}
_LEVELS = {
    2.0: "twice the tempo fits as well (--tempo {tempo_bpm}): which do you count? Space: as it is, D: twice; d takes "
    "it",
    0.5: "half the tempo fits as well (--tempo {tempo_bpm}): which do you count? Space: as it is, H: half; h takes it",
    1.5: "one and a half times the tempo fits as well (--tempo {tempo_bpm})",
    2 / 3: "two thirds of the tempo fit as well (--tempo {tempo_bpm})",
}


def _cut_to(seconds: float, rules: Sequence[Rule], kind: str, joints: int) -> str:
    return tr(
        "cut to {length}; {joints}: j hears it, W writes it"
        if joints == 1
        else "cut to {length}; {joints}: j hears each, W writes it"
        if joints
        else "cut to {length}; W writes it",
        length=say_length(seconds, rules, kind),
        joints=several(joints, "joint"),
    )


def _what_changed(correction: Correction | None) -> str:
    return tr("what was laid") if correction is None else say_correction(correction)


#: The words of each code. See :data:`tempo_coach.report.words.reasons.WORDS`.
WORDS: dict[Why, str | Callable[..., str]] = {
    Why.BEYOND_EIGHT: lambda kind, name, count, eight, length: tr(
        "{format} is set on count {count:g} of eight {eight}, which has {length} counts",
        format=tr(_PLACES[kind], name),
        count=count,
        eight=eight,
        length=length,
    ),
    Why.BEYOND_MUSIC: lambda kind, name, eight, second, ends: tr(
        "{format} is set on eight {eight}, {clock} into the music, which ends at {clock_2}",
        format=tr(_PLACES[kind], name),
        eight=eight,
        clock=say_clock(second),
        clock_2=say_clock(ends),
    ),
    Why.CORRECTION_BEYOND_MUSIC: "the correction at {:.2f} s lies behind the end of the music",
    Why.CORRECTION_LOST: lambda correction, error: tr(
        "a correction found no place any more ({correction}): {message_of}",
        correction=say_correction(correction),
        message_of=message_of(error),
    ),
    Why.MUSIC_CHANGED: "{}: the music has changed since its counts were set; look through the doubtful places",
    Why.MUSIC_MOVED: "the music has moved from {} to {}; saving notes that",
    Why.CUT_OUT: lambda kind, name, eight: tr(
        "{format} on eight {eight} lay in music that is cut out, wholly or in part, and is gone",
        format=tr(_PLACES[kind], name),
        eight=eight,
    ),
    Why.NO_LAST_ACCENT: "the music ends on no accent of its own: it fades out over the last {:.1f} s",
    Why.PEAKS_FIRST: "its peaks allow no more: it stays {0:.1f} LU below the {1:g} LUFS that were wished",
    Why.REMARKS_UNSAID: lambda remarks: tr(
        "not recorded, and so shown and not said: {remarks}; a folder of recordings of your own may have a file of "
        "that name",
        remarks=", ".join(remarks),
    ),
    Why.RESCUED: "{} holds what was not saved when the program was ended: open that one, or delete it",
    Why.BEAT_MISSING: "a beat may be missing",
    Why.BEAT_TOO_MANY: "a beat may be too many",
    Why.PAUSE: "a pause of {:.1f} s",
    Why.WAITS: "the music waits {:.1f} s, and sounds on",
    Why.SLOWS: "the music slows down: {} counts",
    Why.SPLICE: "two pieces may be joined here",
    Why.TWO_LEVELS: lambda level, tempo_bpm: tr(_LEVELS[level], tempo_bpm=tempo_bpm),
    Why.HARD_TO_HEAR: "the beat is hard to hear",
    Why.TEMPO_JUMPS: "the tempo jumps",
    Why.SO_ALREADY: "it is so already",
    Why.CORRECTED: say_correction,
    Why.NO_PLACE: lambda correction, more, error: (
        tr(
            "found no place any more: {correction} and {more} more ({message_of})",
            correction=say_correction(correction),
            more=more,
            message_of=message_of(error),
        )
        if more
        else tr(
            "found no place any more: {correction} ({message_of})",
            correction=say_correction(correction),
            message_of=message_of(error),
        )
    ),
    Why.NOTHING_TO_TAKE_BACK: "there is nothing to take back",
    Why.NOTHING_TO_DO_AGAIN: "there is nothing to do again",
    Why.TAKEN_BACK: lambda correction: tr("taken back: {what_changed}", what_changed=_what_changed(correction)),
    Why.DONE_AGAIN: lambda correction: tr("done again: {what_changed}", what_changed=_what_changed(correction)),
    Why.SAVED_IN: "saved in {}",
    Why.NO_DOUBT: "there is no doubtful place",
    Why.CALLED_RIGHT: lambda left: (
        tr("it is right; {left} left to look at", left=left) if left else tr("it is right; none left to look at")
    ),
    Why.NOTHING_DOUBTED: "nothing is doubtful in this eight",
    Why.NO_STRETCH: "no stretch is marked",
    Why.OTHER_END: "go to the other end of the stretch",
    Why.NOTHING_LAID: "nothing is laid on this eight",
    Why.TAKEN_OFF: "taken off eight {}",
    Why.LAID_ON: "{} laid on eight {}",
    Why.MOMENT_SET: "{} set on count {:g}",
    Why.REMARK_SET: "remark set",
    Why.NO_REMARK: "no remark",
    Why.RENAMED: "renamed",
    Why.KIND_SET: lambda kind: tr("alone") if kind == "alone" else tr("in a group"),
    Why.LAST_MOVEMENT: "last movement on eight {} count {:g}",
    Why.STEPS_MARKED: "dance steps marked",
    Why.NOTHING_TAPPED: "nothing was tapped",
    Why.CUT_TO: _cut_to,
    Why.JOINT_HEARD: lambda number, of, joint, at, counts, step: tr(
        "joint {number} of {of}; {names}",
        number=number,
        of=of,
        names="; ".join(line.strip() for line in say_joint(joint, at, counts, step)),
    ),
    Why.CUT_WRITTEN: "written: {} and the routine {}",
    Why.TAPPED_ANEW: "{} counts tapped anew. Space: listen, u: take back",
}
