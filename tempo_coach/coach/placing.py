"""Observations beside a take, placed on its clock: traces, films and recordings of sound."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypedDict

from tempo_coach.coach.planning import cue_sound
from tempo_coach.errors import CoachError
from tempo_coach.observe.observers import DEFAULT_SOUND
from tempo_coach.observe.take.take_file import read_take_file
from tempo_coach.observe.trace.header import is_trace
from tempo_coach.reasons import Reason, Why
from tempo_coach.share_done import part_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.film.marker_trace import MarkerSpec
    from tempo_coach.observe.film.motion import Region
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.observe.sound.alignment import Alignment
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn
    from tempo_coach.score.scorecard import TakeSizes
    from tempo_coach.share_done import Progress
    from tempo_coach.times import Floats


__all__ = [
    "Bodies",
    "Placed",
    "align_film",
    "is_trace",
    "place_film",
    "place_marks",
    "place_onsets",
    "place_sound",
    "place_trace",
    "read_film",
    "read_stretch",
    "read_take_file",
]


class Bodies(TypedDict):
    """The columns of a trace to follow, as in :func:`tempo_coach.observe.trace.trace_take.follow`."""

    point: str | None
    columns: Sequence[str]
    against: Sequence[str]


class Placed(NamedTuple):
    """A take from a trace: whether its place on the take clock is known, or the confidence of a fit (None: no fit).

    ``mark_sd`` is the SD in seconds of what was seen without a marker, infinite where it could be anything; None with
    one.
    ``loudness`` is how loud each onset was in a recorder that others are near; None elsewhere.
    ``film`` is what was followed in a film, and ``on_take`` its trace on the take clock.
    """

    take: Take
    absolute: bool
    confidence: float | None
    sizes: TakeSizes | None = None
    mark_sd: float | None = None
    loudness: Floats | None = None
    film: FilmTrace | None = None
    on_take: Trace | None = None


def place_trace(
    trace: Trace,
    plan: Plan,
    *,
    point: str | None = None,
    columns: Sequence[str] = (),
    against: Sequence[str] = (),
    period: float | None = None,
    clap: tuple[float, float] | None = None,
    started: float | None = None,
    warn: Warn | None = None,
) -> Placed:
    """Align a trace with a plan: its circles, or its flights where a hand throws and catches.

    Parameters
    ----------
    point, columns, against, period
        As in :func:`tempo_coach.observe.trace.trace_take.follow`.
    clap, started
        Alignment with the take clock, as in :func:`tempo_coach.observe.trace.trace_take.place`. Without them the best
        fit is taken, and the overall bias cannot be told.
    warn : callable or None
        Told what the trace does not show, and a place that is not sure.

    Raises
    ------
    CoachError
        If nothing in the trace answers the plan, or the period is none that it can show.
    """
    from tempo_coach.observe.trace.trace_take import follow, place, to_take
    from tempo_coach.score.trace.take_sizes import find_take_sizes

    if plan.sections:
        bodies: Bodies = {"point": point, "columns": columns, "against": against}
        return _place_run_through(trace, plan, bodies, clap=clap, started=started, warn=warn)
    followed = follow(trace, plan, point=point, columns=columns, against=against, period=period)
    placing = place(followed, trace, clap=clap, started=started)
    fitted = clap is None and started is None
    if warn:
        for reason in (*followed.left_out, placing.doubt):
            if reason:
                warn(reason)
    absolute = not fitted and followed.absolute
    sizes = find_take_sizes(followed, offset=placing.offset)
    return Placed(to_take(followed, placing), absolute, placing.confidence if fitted else None, sizes)


def _place_run_through(
    trace: Trace,
    plan: Plan,
    bodies: Bodies,
    *,
    clap: tuple[float, float] | None,
    started: float | None,
    warn: Warn | None,
) -> Placed:
    """Align a trace with a run-through by its clock; sections are too short to be fitted."""
    from tempo_coach.observe.trace.section_traces import follow_sections
    from tempo_coach.observe.trace.trace_take import place_by_event, place_by_stamp

    if clap is not None:
        placing = place_by_event(*clap)
    elif started is not None:
        placing = place_by_stamp(trace, started)
    else:
        raise CoachError("trace.run_through_unplaced", where=plan.drill)
    found = follow_sections(trace, plan, placing.offset, **bodies)
    if warn:
        for reason in found.left_out:
            warn(reason)
    return Placed(found.take, found.absolute, None)


def align_film(
    film: Film,
    plan: Plan,
    *,
    clap: tuple[float, float] | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Alignment:
    """Align a film with a plan by the music and cues in its sound, or by a clap.

    Parameters
    ----------
    film : Film
        As :func:`tempo_coach.observe.film.frames.look_at_film` gives it.
    clap : (on film, on take) or None
        Seconds at which both clocks saw one event; None takes the sound.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If the music is gone, or not surely found in the film's sound.
    """
    from tempo_coach.observe.film import film_take

    if clap is not None:
        return film_take.align_by_clap(film, clap)
    return film_take.align_film(film, cue_sound(plan, warn=warn), warn=warn, progress=progress)


def place_film(
    filmed: FilmTrace, plan: Plan, alignment: Alignment, *, period: float | None = None, warn: Warn | None = None
) -> Placed:
    """Align the trace of a film with a plan.

    Parameters
    ----------
    filmed : FilmTrace
        As :func:`tempo_coach.observe.film.marker_trace.follow_film` gives it.
    alignment : Alignment
        Of :func:`align_film`.
    period : float or None
        Of the whole cycle, where it is known.
    warn : callable or None

    Raises
    ------
    CoachError
        If the film shows nothing of the take, or nothing in it answers the plan.
    """
    from tempo_coach.coach.phone_delays import place_picture
    from tempo_coach.observe.film.film_take import around_take, begin_cycles, onto_take, to_film_take

    alignment, delays = place_picture(alignment, filmed.film)
    line = alignment.line
    if filmed.timing_sd:
        asked = len(plan.moments)
        plan = begin_cycles(plan)
        if warn and len(plan.moments) < asked:
            warn(Reason(Why.WHOLE_CYCLES))
    on_take = onto_take(filmed, line)
    trace = around_take(on_take, plan, where=filmed.film.path)
    second = (filmed.names[1],) if len(filmed.names) > 1 else ()
    if warn and second and not all(name in plan.hands for name in filmed.names):
        warn(Reason(Why.HANDS_GUESSED, (tuple(filmed.names), tuple(plan.hands))))
    placed = place_trace(trace, plan, point=filmed.names[0], against=second, period=period, clap=(0.0, 0.0), warn=warn)
    take, hidden = to_film_take(placed.take, filmed, line)
    if warn:
        if hidden:
            warn(Reason(Why.HIDDEN_MOMENTS, (hidden, len(placed.take.plan.moments))))
        warn(delays)
    mark_sd = max(filmed.timing_sd.values(), default=None)
    return placed._replace(take=take, mark_sd=mark_sd, film=filmed, on_take=on_take)


def read_film(
    path: str | Path,
    plan: Plan,
    *,
    wanted: Sequence[MarkerSpec] = (),
    parts: Sequence[Region] = (),
    clap: tuple[float, float] | None = None,
    without: Sequence[tuple[float, float]] = (),
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Placed:
    """Follow a film and align the result with a plan: everything between a film and its scorecard.

    Parameters
    ----------
    wanted : sequence of MarkerSpec
        The markers; none follows what is coloured and moves.
    parts : sequence of Region
        Where something moves that has no marker; it is followed instead of markers.
    clap : (on film, on take) or None
        Seconds at which both clocks saw one event; None finds the music in the film's sound.
    without : sequence of (start, end)
        Stretches of the film to be left out.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        As :func:`align_film`, :func:`tempo_coach.observe.film.marker_trace.follow_film`,
        :func:`tempo_coach.observe.film.motion.follow_motion` and :func:`place_film`.
    """
    from tempo_coach.coach.filming import follow_film, look_at_film

    film = look_at_film(path)
    alignment = align_film(film, plan, clap=clap, warn=warn, progress=part_of(progress, 0.0, 0.2))
    filmed = follow_film(
        film, wanted=wanted, parts=parts, without=without, warn=warn, progress=part_of(progress, 0.2, 1.0)
    )
    return place_film(filmed, plan, alignment, warn=warn)


def place_onsets(path: str | Path, plan: Plan, *, warn: Warn | None = None) -> Placed:
    """Return the take of a table of onsets, which are on the take clock already.

    Raises
    ------
    CoachError
        If it cannot be read.
    """
    from tempo_coach.observe.take.onsets import Take, read_onsets

    return Placed(Take(plan, read_onsets(path, hands=plan.hands, warn=warn)), True, None)


def place_marks(
    path: str | Path,
    plan: Plan,
    *,
    film: Film | None = None,
    clap: tuple[float, float] | None = None,
    rate_hz: float | None = None,
    slowed: float | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Placed:
    """Return the take of marks made by hand in a film.

    Parameters
    ----------
    path : path
        The table of the marks.
    plan : Plan
    film : Film or None
        In whose sound the music is found, unless there is a clap.
    clap : (on film, on take) or None
        Seconds at which both clocks saw one event.
    rate_hz : float or None
        Pictures a second by which frames were counted; by default the film's.
    slowed : float or None
        How many times slower than life the film is, where it is not given.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If the marks cannot be read, or neither film nor clap puts them on the take clock.
    """
    from tempo_coach.observe.film.marks import marks_to_take, read_marks
    from tempo_coach.observe.take.clock import ClockLine

    marks = read_marks(path, hands=plan.hands, rate_hz=rate_hz, film=film)
    if film is not None:
        line = align_film(film, plan, clap=clap, warn=warn, progress=progress).line
        slow, rate = film.slowed, film.rate_hz
    elif clap is not None:
        line = ClockLine(clap[0], clap[1], 1.0, float("nan"), 1)
        slow, rate = slowed or 1.0, rate_hz or 0.0
    else:
        raise CoachError("score.marks_unplaced", where="--marks")
    return Placed(marks_to_take(marks, plan, line, slowed=slow, rate_hz=rate * slow if rate else None), True, None)


def place_sound(
    path: str | Path,
    plan: Plan,
    *,
    kind: ObservedBy = DEFAULT_SOUND,
    film: Film | None = None,
    hands: Sequence[str] = (),
    quiet: tuple[float, float] | None = None,
    sample: tuple[float, float] | None = None,
    clap: tuple[float, float] | None = None,
    nearest: bool = False,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Placed:
    """Align the onsets of a recording with a plan: contacts, claps, a foot, or a voice.

    Parameters
    ----------
    path : str or Path
        A sound file, or the film.
    film : Film or None
        Where the sound of a film's window is wanted.
    hands : sequence of str
        Those whose doing can be heard; by default all of the plan.
    quiet, sample : (start, end) or None
        Stretches of the recording before the music, in seconds of it, that the threshold is learned from: nothing
        done, and the sound a few times. By default the recording itself has to say.
    clap : (on recording, on take) or None
        Seconds at which both clocks saw one event; None takes the music in the sound.
    nearest : bool
        Whether others do the same a few metres away: her own is the loudest.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If it cannot be read, what was played is not found in it, or nothing of that kind is heard.
    """
    from tempo_coach.errors import CoachError
    from tempo_coach.music.files.sound_file import read_sound
    from tempo_coach.observe.film.frames import read_film_sound
    from tempo_coach.observe.sound.kinds import make_detector
    from tempo_coach.observe.sound.sound_take import Recording, align_recording, calibrate_from, hear_take

    if (quiet is None) != (sample is None):
        raise CoachError("sample.one_alone", where="--quiet, --sample")
    if film is None:
        recording = Recording(read_sound(path, warn=warn), 0.0, str(path))
    elif film.slowed != 1:
        raise CoachError("film.sound_slowed", where=film.path)
    else:
        recording = Recording(*read_film_sound(film, warn=warn), film.path)
    detector = make_detector(kind, nearest=nearest)
    if quiet is not None and sample is not None:
        detector = calibrate_from(recording, detector, quiet, sample)
    played = cue_sound(plan, warn=warn)
    line = align_recording(recording, played, clap=clap, progress=progress)
    heard = hear_take(recording, plan, detector, line, played=played, hands=hands, warn=warn)
    return Placed(heard.take, True, None, loudness=heard.loudness)


def read_stretch(text: str, *, where: str) -> tuple[float, float]:
    """Return the beginning and end of a stretch in seconds.

    Parameters
    ----------
    text : str
        Two numbers with a hyphen between them.
    where : str
        What asked for it, for the error.

    Raises
    ------
    CoachError
        If it is none, begins before 0 or ends before it begins.

    Examples
    --------
    >>> read_stretch("12.0-13.5", where="--without")
    (12.0, 13.5)
    """
    start, _, end = text.partition("-")
    try:
        found = float(start), float(end)
    except ValueError:
        found = (1.0, 0.0)
    if not 0 <= found[0] < found[1]:
        raise CoachError("stretch.unreadable", where=where, text=text)
    return found
