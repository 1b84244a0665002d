"""Reasons in words: one entry for each code of :class:`tempo_coach.reasons.Why`, and the only place for them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.languages import tr, tr_n
from tempo_coach.reasons import Why
from tempo_coach.report.words.amounts import join_words, say_clock, several
from tempo_coach.report.words.counts import say_correction
from tempo_coach.report.words.cut import say_joint, say_length
from tempo_coach.report.words.errors import hint_of, message_of, say_error, say_fact
from tempo_coach.report.words.errors.forms import first_names, join_names
from tempo_coach.report.words.live import why_unwritten
from tempo_coach.report.words.observers import say_observer

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.music.counts.corrections import Correction
    from tempo_coach.pattern.routine.rules import Rule
    from tempo_coach.reasons import Note, Reason

_PLACES = {
    "first": "the first movement",
    "last": "the last movement",
    "drill": "{}",
    "moment": "the {}",
    "steps": "the dance steps",
    "remark": "the remark",
}
_QUANTITIES = {"position": "position", "acceleration": "acceleration", "rotation": "turning rate"}
_PLURAL = {
    "position": "positions",
    "acceleration": "accelerations",
    "rotation": "turning rates",
    "other": "readings",
}


_LEVELS = {
    2.0: "twice the tempo fits as well (--tempo {tempo_bpm}): which do you count? Space: as it is, D: twice; d takes "
    "it",
    0.5: "half the tempo fits as well (--tempo {tempo_bpm}): which do you count? Space: as it is, H: half; h takes it",
    1.5: "one and a half times the tempo fits as well (--tempo {tempo_bpm})",
    2 / 3: "two thirds of the tempo fit as well (--tempo {tempo_bpm})",
}
#: Keys of the screen of the counts that answer a doubt.
_ANSWERS = {
    Why.PAUSE: "silent; s: counts through it",
    Why.WAITS: "p: a pause",
    Why.SLOWS: "s lays them, slowing",
    Why.SPLICE: "c: a new count 1",
    Why.BEAT_MISSING: "a adds one",
    Why.BEAT_TOO_MANY: "x drops one",
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


def _column_is(name: str, quantity: str, axis: str, point: str, unit: str) -> str:
    if quantity == "other":
        return tr("{name}: {said}", name=name, said=tr("not used unless named"))
    what = f"{tr(_QUANTITIES[quantity])} {axis}".rstrip()
    what = tr("{what} of {point}", what=what, point=tr(point)) if point else what
    return tr("{name}: {what} in {unit}" if unit else "{name}: {what}, unit not told", name=name, what=what, unit=unit)


def _what_changed(correction: Correction | None) -> str:
    return tr("what was laid") if correction is None else say_correction(correction)


def _picture_rate(rate_hz: float) -> str:
    # what happens between two pictures (a contact, the letting go) is known to half a step either way: the SD is that
    # of a uniform spread; a marker that is seen sharply is timed between pictures
    step = 1000 / rate_hz
    return tr(
        "{rate_hz:.0f} pictures a second: one every {step:.0f} ms. A circle's low point is worked out between "
        "them; a sudden event (contact, release) seen in the picture alone is off by up to {step_2:.0f} ms (SD "
        "{step_3:.0f} ms)",
        rate_hz=rate_hz,
        step=step,
        step_2=step / 2,
        step_3=step / math.sqrt(12),
    )


def _left_out(member: str, error: CoachError) -> str:
    place, hint = (f"{error.where}: " if error.where else ""), hint_of(error)
    return (
        tr(
            "{member} is left out: {place}{message_of}; {hint}",
            member=member,
            place=place,
            message_of=message_of(error),
            hint=hint,
        )
        if hint
        else tr("{member} is left out: {place}{message_of}", member=member, place=place, message_of=message_of(error))
    )


def _double_onsets(member: str, number: int) -> str:
    return tr(
        "{member}: {onsets} at the instant of another one, counted once", member=member, onsets=several(number, "onset")
    )


def _ambiguous_fit(away: float, confidence: float) -> str:
    return tr(
        "the trace was put on the plan where it fits best, and it fits nearly as well {away:.2f} s later (confidence "
        "{confidence:.2f}); a clap that both saw decides: --clap ON_TRACE ON_TAKE"
        if away > 0
        else "the trace was put on the plan where it fits best, and it fits nearly as well {away:.2f} s earlier "
        "(confidence {confidence:.2f}); a clap that both saw decides: --clap ON_TRACE ON_TAKE",
        away=abs(away),
        confidence=confidence,
    )


#: What is said of each code: a form that the arguments are put into, or a function of them. No full stop.
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
    Why.NO_STEADY_LAG: "the two keep no lag, it lies anywhere in the circle (Rayleigh's test: p = {:.2f} of {})",
    Why.TURNING_RATE: "a turning rate shows how far each has turned and not where in the circle it is; accelerations "
    "would",
    Why.CONE: "a wrist's turning rate on its cone shows no place of the circle that two sensors share",
    Why.OTHER_PLACE: "the two sensors do not show the same place of a circle",
    Why.OTHER_AXES: "the two sensors do not have the same axes",
    Why.TILTED: "the two sensors sit differently: their main axes are {:.0f}° apart",
    # two sensors that were meant to sit alike showed a false lag of 2 % of a cycle; seen in recordings of limbs
    Why.SEAT_SHIFTS: "how each sensor sits shifts this lag, by about 7° (2 % of a cycle) even where both sit alike, by "
    "half a cycle where one is upside down: hold it against another take with the sensors left on, not against 0",
    Why.NO_FLIGHTS: "flights: {}",
    Why.NO_CYCLES: "cycles: {}",
    Why.NO_SECOND: "a second mover: {}",
    Why.UNEVEN_CYCLE: "cycle {} of {} ({}, {:.2f} to {:.2f} s)",
    Why.UNSEEN_MOMENTS: "the {} of {} shows in no trace",
    Why.NO_COMMON_ZERO: "a turning rate does not show where in its circle {} is beside the first",
    Why.NO_ZERO: "the sensor of {} does not show where in her circle she is: how even she was is known, how early or "
    "late all of it was is not",
    Why.OTHER_STEPS: "the circles of {} come every {:.2f} s and the plan asks for one every {:.2f} s: is it the plan "
    "of this take?",
    Why.NOT_FOLLOWED: "nothing in the trace follows {}",
    Why.SECTION_UNSEEN: lambda title, error: tr(
        "{title}: nothing could be followed there ({message})", title=title, message=message_of(error)
    ),
    Why.AMBIGUOUS_FIT: _ambiguous_fit,
    Why.FEW_CARRYING: "only {:.1f} carrying cycles were seen, and three are needed",
    Why.ONE_SPEED: "both turn at nearly one speed",
    Why.SMALL_IN_RESIDUAL: "the small circle ({:.3g}) hardly stands out of the rest ({:.3g})",
    Why.BACKWARDS: "a phase would run backwards",
    Why.EVEN_READINGS: "time: {:g} readings a second, as given",
    Why.TIME_COUNTED: "time: {}, counted at {:g} a second",
    Why.TIME_OF_CLOCK: "time: {}, times of the clock",
    Why.TIME_IN_UNIT: "time: {} in {}",
    Why.TIME_SINCE_1970: "time: {} in {} since 1970",
    Why.CLOCK_SET: "the clock was set after reading {}, from {:.10g} to {:.10g} s: this is taken for {:g} s in which "
    "nothing was read",
    Why.CLOCK_SET_MORE: "and {} times more",
    Why.CLOCK_KEPT: "times are as the clock had them in readings {} to {}",
    Why.TIMES_FROM_FIRST: "times are counted from the first reading",
    Why.ROWS_SORTED: "{} rows were out of order and were sorted by time",
    Why.ROWS_REPEATED: "{} rows repeated the stamp of the row before and were left out",
    Why.EVEN_STEPS: lambda share, step: tr(
        "stamps repeat and jump ({share:.0f} % repeat): readings were put on even steps of {step:.4g} ms between them",
        share=100 * share,
        step=1000 * step,
    ),
    Why.FILE_NAME_SAYS: lambda quantity: tr(
        "the file's name says that its columns are {quantity}", quantity=tr(_PLURAL[quantity])
    ),
    Why.HOLD_GRAVITY: lambda columns: tr(
        "{join_names} hold gravity: they are accelerations", join_names=join_names(columns)
    ),
    Why.GRAVITY_AGAINST_OPTION: lambda columns, unit: tr(
        "{join_names}: by gravity they are in {unit}, and read as --unit says",
        join_names=join_names(columns),
        unit=unit,
    ),
    Why.GRAVITY_AGAINST_HEADER: lambda columns, unit: tr(
        "{join_names}: by gravity they are in {unit}, and read so, whatever is written",
        join_names=join_names(columns),
        unit=unit,
    ),
    Why.AS_ANSWERED: "read as was answered for tables with this header: {}={}",
    Why.COLUMN_IS: _column_is,
    Why.COLUMNS_CONSTANT: lambda columns: tr(
        "left out, because they never change: {first_names}", first_names=first_names(columns)
    ),
    Why.COLUMNS_TWICE: lambda columns: tr(
        "left out, because they hold what the column of that name holds: {first_names}",
        first_names=first_names(columns),
    ),
    Why.LONG_TABLE: lambda labels, columns: tr(
        "rows are of {first_names} (column {names})",
        first_names=first_names(labels, most=6),
        names=join_words(columns, "{first} and {second}"),
    ),
    Why.TABLE_SORTED: "{}: the rows were not in order of time and have been put in order",
    Why.LINE_LEFT_OUT: "{}: line {} cannot be read and was left out",
    Why.LAST_LINE_CUT: "{}: the last line was cut off and was left out",
    Why.SLOW_MOTION: "the film says that it was taken at {:.0f} frames a second and is shown {:.3g} times slower; its "
    "times are put back to life (--slowed 1 if that is wrong)",
    Why.HDR: "the film is HDR: its colours were brought near to ordinary ones; where a marker is not found by its "
    "colour's name, show a pixel of it (--at)",
    Why.OBLONG_PIXELS: "the pixels are not square ({}): distances across and upwards differ by that much",
    Why.PICTURE_RATE: _picture_rate,
    Why.ROLLING_SHUTTER: "a phone reads a picture from top to bottom in about 10 to 30 ms: what is lower in the "
    "picture is seen up to that much later, every cycle alike",
    Why.CAMERA_MOVED: lambda far: (
        tr("the camera moved (up to {far:.0f} px); its motion was found from the background and taken out", far=far)
        if far >= 1
        else tr("the camera moved (by less than a pixel); its motion was found from the background and taken out")
    ),
    Why.CAMERA_UNKNOWN: "too little stands still in the picture to tell whether the camera moved: it is taken as still",
    Why.CAMERA_UNKNOWN_UNMARKED: "too little stands still in the picture to tell whether the camera moved: it is "
    "taken as still, and as a single uneven cycle may be its own, none "
    "is told; put the phone on something, or show more of the hall",
    Why.NO_MARKER: "no marker was followed, but what repeats in the picture: its periods can be used and how they "
    "change; the circle that is drawn is a dial of the cycle and no place",
    Why.OTHER_COLOURS: lambda colours: tr(
        "also coloured and moving: {names} (--marker NAME=COLOUR follows it)", names=", ".join(colours)
    ),
    Why.MARKER_STILL: lambda marker, stretches: tr(
        "{marker} lies still from {names} while another of its colour moves: a gap, as it may be something else of "
        "that colour",
        marker=marker,
        names=join_words(
            (tr("{start:.1f} to {end:.1f} s", start=start, end=end) for start, end in stretches),
            "{first} and {second}",
        ),
    ),
    Why.MARKER_GUESSED: lambda marker, times: tr(
        "{marker} was lost together with another of its colour; that it is the same again from {names} s on is a guess",
        marker=marker,
        names=", ".join(f"{time:.2f}" for time in times),
    ),
    Why.FILM_CUT_SHORT: "{}: the film is cut short: it announces {:.1f} s, {:.1f} s could be read",
    Why.PICTURES_WITHOUT_TIME: "{}: {} pictures had no time of their own and were left out",
    Why.FILM_TWO_PLACES: "{}: the film fits another place of the music nearly as well; look at the times",
    Why.PHONE_DELAY: lambda ms, error, phone: (
        (
            tr(
                "the picture of this film comes {ms:.0f} ms behind its sound (give or take {error:.0f} ms, by "
                "contacts seen and heard, {phone}): taken out of the times",
                ms=abs(ms),
                error=error,
                phone=phone,
            )
            if phone
            else tr(
                "the picture of this film comes {ms:.0f} ms behind its sound (give or take {error:.0f} ms, by "
                "contacts seen and heard): taken out of the times",
                ms=abs(ms),
                error=error,
            )
        )
        if ms > 0
        else (
            tr(
                "the picture of this film comes {ms:.0f} ms before its sound (give or take {error:.0f} ms, by "
                "contacts seen and heard, {phone}): taken out of the times",
                ms=abs(ms),
                error=error,
                phone=phone,
            )
            if phone
            else tr(
                "the picture of this film comes {ms:.0f} ms before its sound (give or take {error:.0f} ms, by "
                "contacts seen and heard): taken out of the times",
                ms=abs(ms),
                error=error,
            )
        )
    ),
    Why.FILM_DELAYS: "the sound reaches the phone 3 ms later for each metre, and phones set sound and picture apart by "
    "up to some tens of ms: how early or late all of it was is less sure than how even it was (film --clap-seen "
    "measures it)",
    Why.WHOLE_CYCLES: "without a marker whole cycles are seen: of each only its first moment is scored",
    Why.HANDS_GUESSED: lambda markers, hands: tr(
        "the film does not say which hand is which, and {names} is a guess: --marker HAND=COLOUR says it",
        names=join_words(
            (
                tr("{marker} for {hand}", marker=tr(marker), hand=tr(hand))
                for marker, hand in zip(markers, hands, strict=False)
            ),
            "{first} and {second}",
        ),
    ),
    Why.HIDDEN_MOMENTS: "{} of {} moments were hidden or not filmed: not scored",
    Why.NOT_RECORDED: "{} of {} moments were not recorded: not scored",
    Why.BOTH_HANDS: "{} sounds answer a moment of two hands at once: which hand was early cannot be heard there",
    Why.HEARD_BY: lambda kind, onset, delay_ms, spread_ms: (
        tr(
            "heard by {kind}: each is placed at the rise of its vowel, which is found {delay_ms:.1f} ms late on "
            "the average (taken out) with a spread of {spread_ms:.1f} ms",
            kind=say_observer(kind),
            delay_ms=delay_ms,
            spread_ms=spread_ms,
        )
        if onset == "vowel"
        else tr(
            "heard by {kind}: each is placed at its first rise, which is found {delay_ms:.1f} ms late on the "
            "average (taken out) with a spread of {spread_ms:.1f} ms",
            kind=say_observer(kind),
            delay_ms=delay_ms,
            spread_ms=spread_ms,
        )
    ),
    # constant in every recording, so it moves the bias and not the spread: 343 m/s at 20 °C
    Why.SOUND_DELAYS: "sound takes 3 ms for each metre from the loudspeaker to her and from her to the microphone: how "
    "early or late all of it was is less sure than how even it was",
    Why.SOUND_CUT_SHORT: lambda file, announced, read: (
        tr("{file}: the sound is damaged or cut short: {read:.1f} s could be read", file=file, read=read)
        if announced is None
        else tr(
            "{file}: the sound is damaged or cut short: it announces {announced:.1f} s and {read:.1f} s could be read",
            file=file,
            announced=announced,
            read=read,
        )
    ),
    Why.MP3_CUT_SHORT: "{}: the mp3 is cut short: its header says {:.1f} s, {:.1f} s could be read",
    Why.MEMBER_LEFT_OUT: _left_out,
    Why.MARKS_APART: "where in her cycle a gymnast is marked may differ from another's by {:.0f} ms, every cycle "
    "alike: nobody is called early or late within that; how it changes is surer",
    Why.MARKS_ON_NO_COUNT: "a film without markers shows when cycles come, not which part of them belongs on the count",
    Why.CYCLES_AS_COUNTS: "each cycle ({:.2f} s) is called a count, and eight of them an eight",
    Why.OF_ROUTINE: lambda path, reason: tr("{name}: {said}", name=path, said=say_reason(reason)),
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
    Why.MORE_NOTES: lambda note, more: tr(
        "{message_of} (and {more} more)",
        message_of=message_of(note) if isinstance(note, CoachError) else say_reason(note),
        more=more,
    ),
    Why.NOTHING_TO_TAKE_BACK: "there is nothing to take back",
    Why.NOTHING_TO_DO_AGAIN: "there is nothing to do again",
    Why.TAKEN_BACK: lambda correction: tr("taken back: {what_changed}", what_changed=_what_changed(correction)),
    Why.DONE_AGAIN: lambda correction: tr("done again: {what_changed}", what_changed=_what_changed(correction)),
    Why.SAVED_IN: "saved in {}",
    Why.NO_DOUBT: "there is no doubtful place",
    Why.DOUBT: lambda reason, end, left: (
        tr(
            "{reason}. {places} left; y: it is right",
            reason="; ".join(filter(None, (say_reason(reason), tr(_ANSWERS.get(reason.code, ""))))),
            places=several(left, "place"),
        )
        if end is None
        else tr(
            "{reason}, up to {clock}: tap along there. {places} left; y: it is right",
            reason=say_reason(reason),
            clock=say_clock(end),
            places=several(left, "place"),
        )
    ),
    Why.CALLED_RIGHT: lambda left: tr("it is right; {left} left to look at", left=left or tr("none")),
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
    Why.NO_TAKE: "no take tells it",
    Why.FEW_DAYS: "it takes {} days with a take; days so far: {}",
    Why.NO_NIGHTS: "no two days have a take",
    Why.FEW_TAKES: "it takes {} takes at {} tempi, there are {} at {}",
    Why.SLOWEST_TOO_FAST: "less than {:.0f}, the slowest that was tried",
    Why.FASTEST_STEADY: "more than {:.0f}, the fastest that was tried",
    Why.EITHER_WAY: "as her takes go, it may end either way",
}


def say_reason(reason: Reason | None) -> str:
    """Return a reason without a full stop; empty where there is none.

    Examples
    --------
    >>> from tempo_coach.reasons import Reason
    >>> say_reason(Reason(Why.FEW_PERIODS, (5, 3))), say_reason(None)
    ('needs 5 periods, there are 3', '')
    """
    if reason is None:
        return ""
    words = WORDS[reason.code]
    if not isinstance(words, str):
        return words(*reason.args)
    return tr(words, *map(say_fact, reason.args))


def say_reasons(reasons: Mapping[str, Reason]) -> dict[str, str]:
    """Return several reasons in words, by what each is about."""
    return {about: say_reason(reason) for about, reason in reasons.items()}


def say_note(note: Note) -> str:
    """Return a note while work goes on, with a full stop unless it is a question; in lower case.

    Examples
    --------
    >>> from tempo_coach.reasons import Reason
    >>> say_note(Reason(Why.HIDDEN_MOMENTS, (2, 40)))
    '2 of 40 moments were hidden or not filmed: not scored.'
    >>> say_note(Reason(Why.OTHER_STEPS, ("left", 0.8, 1.6)))[-13:]
    'of this take?'
    """
    if isinstance(note, CoachError):
        return say_error(note)
    said = say_reason(note)
    return said if said.endswith("?") else f"{said}."


def say_news(note: Note | None) -> str:
    """Return a result as a whole sentence; empty without one.

    Examples
    --------
    >>> from tempo_coach.reasons import Reason
    >>> say_news(Reason(Why.NO_STRETCH)), say_news(None)
    ('No stretch is marked.', '')
    """
    if note is None:
        return ""
    words = say_note(note)
    # the name of a file is as it is
    return words if isinstance(note, CoachError) and note.where else words[:1].upper() + words[1:]
