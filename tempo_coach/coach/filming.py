"""Films as both front ends use them: looked at, followed, and put on another clock.

::

    film = look_at_film("mills.mp4")
    filmed = follow_film(film, wanted=read_wanted(["left=red"], []))
    trace = place_by_clap(filmed, (3.2, 0.0))
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.film_take import members_to_csv
from tempo_coach.observe.film.film_trace import FilmTrace, trace_to_csv
from tempo_coach.observe.film.frames import Film, look_at_film
from tempo_coach.observe.film.marker_trace import MarkerSpec
from tempo_coach.observe.film.motion import Region
from tempo_coach.observe.trace.trace import Trace

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from tempo_coach.coach.phone_delays import PhoneDelay
    from tempo_coach.observe.sound.alignment import Alignment
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Reason, Warn
    from tempo_coach.share_done import Progress


__all__ = [
    "Film",
    "FilmTrace",
    "MarkerSpec",
    "Region",
    "Trace",
    "find_music",
    "follow_film",
    "look_at_film",
    "members_to_csv",
    "place_by_clap",
    "place_by_music",
    "read_part",
    "read_wanted",
    "trace_to_csv",
]
#: Names of markers that are pointed at and not named.
_POINTED_AT = ("first", "second", "third", "fourth", "fifth", "sixth")


def follow_film(
    film: Film,
    *,
    wanted: Sequence[MarkerSpec] = (),
    parts: Sequence[Region] = (),
    without: Sequence[tuple[float, float]] = (),
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> FilmTrace:
    """Follow the markers of a film, or what moves in parts of its picture.

    Parameters
    ----------
    wanted : sequence of MarkerSpec
        None follows what is coloured and moves.
    parts : sequence of Region
        Followed instead of markers where there is one.
    without : sequence of (start, end)
        Stretches to be left out, s of the film.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If nothing can be followed.
    """
    from tempo_coach.observe.film.marker_trace import follow_film
    from tempo_coach.observe.film.motion import follow_motion

    if parts:
        return follow_motion(film, parts, without=without, progress=progress, warn=warn)
    return follow_film(film, wanted, without=without, progress=progress, warn=warn)


def find_music(
    film: Film,
    *,
    plan: Plan | None = None,
    music: str | Path | None = None,
    speed: float | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Alignment:
    """Find the music of a plan, or of a file, in a film's sound.

    Parameters
    ----------
    film : Film
    plan : Plan or None
        Its music and cues; or
    music : path or None
        this file, played at ``speed`` times its own speed (1 by default).
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If neither is given, it is gone, or it is not surely found.
    """
    from tempo_coach.coach.placing import align_film
    from tempo_coach.music.files.sound_file import read_sound
    from tempo_coach.observe.film.film_take import align_to_music

    if plan is not None:
        return align_film(film, plan, warn=warn, progress=progress)
    if music is None:
        raise ValueError("either a plan or a file of music is looked for")
    speed = 1.0 if speed is None else speed
    return align_to_music(film, read_sound(music), speed=speed, warn=warn, progress=progress)


def place_by_clap(filmed: FilmTrace, clap: tuple[float, float]) -> Trace:
    """Return what was followed on another clock, by the seconds at which film and clock have one clap."""
    from tempo_coach.observe.film.film_take import align_by_clap, onto_take

    return onto_take(filmed, align_by_clap(filmed.film, clap).line)


def place_by_music(filmed: FilmTrace, found: Alignment, *, measured: PhoneDelay | None = None) -> tuple[Trace, Reason]:
    """Return what was followed on the clock of the music found, and a note on the delay of the film's picture.

    Parameters
    ----------
    filmed : FilmTrace
    found : Alignment
        Of the film's sound.
    measured : PhoneDelay or None
        As in :func:`tempo_coach.coach.phone_delays.place_picture`.
    """
    from tempo_coach.coach.phone_delays import place_picture
    from tempo_coach.observe.film.film_take import onto_take

    placed, delays = place_picture(found, filmed.film, measured=measured)
    return onto_take(filmed, placed.line), delays


def read_wanted(markers: Sequence[str], at: Sequence[Sequence[float]]) -> list[MarkerSpec]:
    """Return the named markers; each one without a colour takes the next pixel.

    Raises
    ------
    CoachError
        If a marker is not written as one, or has neither colour nor pixel.
    """
    from tempo_coach.observe.film.colours import named_colour

    pixels = [(time, x, y) for time, x, y in at]
    out = []
    for text in markers:
        name, mark, colour = (part.strip() for part in text.partition("="))
        if mark:
            out.append(MarkerSpec(name, named_colour(colour).name))
        elif pixels:
            out.append(MarkerSpec(name, None, pixels.pop(0)))
        else:
            out.append(MarkerSpec(name, named_colour(name).name))
    for number, pixel in enumerate(pixels):
        if number >= len(_POINTED_AT):
            raise CoachError("film.too_many_markers", where="--at", most=len(_POINTED_AT), found=len(out) + len(pixels))
        out.append(MarkerSpec(_POINTED_AT[number], None, pixel))
    return out


def read_part(text: str) -> Region:
    """Return a part of the picture, such as ``left=0,0,640,720``; a name alone is the whole picture.

    Raises
    ------
    CoachError
        If it is not written as one.
    """
    name, mark, box = (word.strip() for word in text.partition("="))
    if not mark:
        return Region(name)
    try:
        left, top, width, height = (float(number) for number in box.split(","))
    except ValueError:
        raise CoachError("film.part_unreadable", where="--part", text=text) from None
    return Region(name, left, top, (width, height))
