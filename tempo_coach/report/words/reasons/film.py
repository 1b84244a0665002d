"""Reasons about films and recordings, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.reasons import Why
from tempo_coach.report.words.amounts import join_words, say_decimal
from tempo_coach.report.words.errors import hint_of, message_of
from tempo_coach.report.words.observers import say_observer

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.errors import CoachError


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


#: The words of each code. See :data:`tempo_coach.report.words.reasons.WORDS`.
WORDS: dict[Why, str | Callable[..., str]] = {
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
        names=", ".join(say_decimal(time, ".2f") for time in times),
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
    Why.CANON_OR_CLOCK: "if {0} began with the others, her table has another clock: --clock {0}={1:.2f} puts it right",
    Why.OTHER_LEVEL: "the music was heard at {:.0f} beats a minute, and most of the group moved at {:.0f}: these are "
    "taken for the counts; --tempo says otherwise",
    Why.MEMBER_LEFT_OUT: _left_out,
    Why.MARKS_APART: "where in her cycle a gymnast is marked may differ from another's by {:.0f} ms, every cycle "
    "alike: nobody is called early or late within that; how it changes is surer",
    Why.MARKS_ON_NO_COUNT: "a film without markers shows when cycles come, not which part of them belongs on the count",
    Why.NOT_KNOWN_WHO: "from {:.1f} s of the film on it is not known who stands in the place of {}, as gymnasts left "
    "their places or were hidden: of her only what came before is judged",
    Why.NUMBERED_AFTER_CROSSING: lambda seconds, number, names: tr(
        "at {seconds:.1f} s of the film all stand again (crossing {number}): --crossing-page PAGE.html shows them "
        "numbered, and --after-crossing says who is who, such as {example}; then what comes after is judged too",
        seconds=seconds,
        number=number,
        example=",".join(f"{name}={k}" for k, name in enumerate(names, 1)),
    ),
    Why.NOTHING_AFTER_CROSSING: "from {:.1f} s of the film on nothing that repeats was seen where {} stands: of her "
    "only what came before is judged",
    Why.CROSSING_RECALLED: "who is who after a crossing is taken from last time: --after-crossing {}",
    Why.CYCLES_AS_COUNTS: "each cycle ({:.2f} s) is called a count, and eight of them an eight",
}
