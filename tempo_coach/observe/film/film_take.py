"""The take of a film: its trace aligned with the take clock, by the music in its sound or by a clap."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.files.stretch import stretch
from tempo_coach.observe.film.frames import read_film_sound
from tempo_coach.observe.sound.alignment import Alignment, align
from tempo_coach.observe.take.clock import ClockLine
from tempo_coach.observe.take.onsets import Onsets
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import cut, shift
from tempo_coach.observe.trace.trace_take import keep_moments
from tempo_coach.observe.trace.tracked_body import observe, observe_low
from tempo_coach.reasons import Reason, Why
from tempo_coach.signs import cells

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from tempo_coach.music.files.sound import Sound
    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn
    from tempo_coach.times import Floats

#: Longest gap that is interpolated (s); a longer one may hide a circle, and nothing in it is scored.
BRIDGED = 0.1
#: Margin of the film around the moments of a take (s).
AROUND = 1.0
#: Confidence below which an alignment is reported as doubtful.
DOUBTFUL = 0.5
#: Constant delays, which add to the bias and not to the spread. Sound: 343 m/s at 20 °C. Phones: broadcast
#: asks for picture and sound within 45 to 125 ms of each other (ITU-R BT.1359, from memory), phones keep some tens.
DELAYS = Reason(Why.FILM_DELAYS)


def align_film(
    film: Film,
    played: Sound,
    *,
    warn: Warn | None = None,
    progress: Callable[[float], None] | None = None,
) -> Alignment:
    """Align the clock of a film with that of the played sound.

    Parameters
    ----------
    film : Film
    played : Sound
        What was played while it was filmed: the music at its speed, with its cues.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If the film has no sound, shows slow motion, or what was played is not surely found in it.
    """
    if film.slowed != 1:
        raise CoachError("film.slowed_unaligned", where=film.path)
    if not film.has_sound:
        raise CoachError("film.silent_unaligned", where=film.path)
    sound, begin = read_film_sound(film, warn=warn)
    found = align(sound, played, begin=begin, where=film.path, progress=progress)
    if warn and found.confidence < DOUBTFUL:
        warn(Reason(Why.FILM_TWO_PLACES, (film.path,)))
    return found


def align_to_music(
    film: Film,
    music: Sound,
    *,
    speed: float = 1.0,
    warn: Warn | None = None,
    progress: Callable[[float], None] | None = None,
) -> Alignment:
    """Align the clock of a film with that of a recording that was played at a speed with its pitch kept.

    Parameters
    ----------
    film : Film
    music : Sound
        The recording itself.
    speed : float
        0.8 where it was played at 80 %.
    warn, progress : callable or None

    Returns
    -------
    Alignment
        Its line maps to seconds of the recording: at 80 % each real second is 0.8 of them.

    Raises
    ------
    CoachError
        As :func:`align_film`, and if the speed is not 0.3 to 3.
    """
    if not 0.3 <= speed <= 3:
        raise CoachError("film.music_speed", where="--speed", speed=speed)
    found = align_film(film, stretch(music, speed), warn=warn, progress=progress)
    line = found.line
    ours = ClockLine(line.origin, line.offset * speed, line.rate * speed, line.residual_sd * speed, line.n)
    return replace(found, line=ours, speed=speed)


def align_by_clap(film: Film, clap: tuple[float, float]) -> Alignment:
    """Return the alignment of film and take from one event that both clocks saw, at given times on each."""
    return Alignment(
        ClockLine(*clap, 1.0, float("nan"), 1), 1.0, film.start, min(film.end, film.duration), float("nan")
    )


def without_delay(alignment: Alignment, delay: float) -> Alignment:
    """Return the alignment of a film's picture, given that of its sound and the delay between them."""
    line = alignment.line
    moved = ClockLine(line.origin + delay, line.offset, line.rate, line.residual_sd, line.n)
    return replace(alignment, line=moved)


def onto_take(filmed: FilmTrace, line: ClockLine) -> Trace:
    """Return a film's trace on the take clock.

    Parameters
    ----------
    filmed : FilmTrace
    line : ClockLine
        From the film's clock to the take clock; of slow motion it was given by hand, and life runs at the film's
        speed from there on.
    """
    if filmed.film.slowed == 1:
        return shift(filmed.trace, offset=line.to_second(0.0), rate=line.rate)
    return shift(filmed.trace, offset=line.offset - line.origin / filmed.film.slowed)


def around_take(trace: Trace, plan: Plan, *, where: str) -> Trace:
    """Return the part of a trace, on the take clock, around the moments of a plan.

    Raises
    ------
    CoachError
        If the film shows nothing of the take.
    """
    first, last = float(plan.moments.time[0]), float(plan.moments.time[-1])
    if trace.time[-1] < first or trace.time[0] > last:
        raise CoachError(
            "film.beside_take",
            where=where,
            start_s=float(trace.time[0]),
            end_s=float(trace.time[-1]),
            take_start_s=first,
            take_end_s=last,
        )
    return cut(trace, first - AROUND, last + AROUND)


def begin_cycles(plan: Plan) -> Plan:
    """Return a plan with the first moment of each cycle and hand, all that a film without markers shows."""
    moments = plan.moments
    begun = {
        (hand, int(cycle)): k
        for k, (hand, cycle) in reversed(list(enumerate(zip(moments.hand, moments.cycle, strict=True))))
    }
    return replace(plan, moments=keep_moments(moments, np.array(sorted(begun.values()), dtype=np.int64)))


def to_film_take(take: Take, filmed: FilmTrace, line: ClockLine) -> tuple[Take, int]:
    """Return the take of a film's trace without moments that fell into gaps, and the number of these.

    Interpolation across a gap is no observation: moments that would have been answered there are left out of the plan,
    hand by hand, and so are onsets that were interpolated there.

    Parameters
    ----------
    take : Take
        As :func:`tempo_coach.observe.trace.trace_take.to_take` gives it.
    filmed : FilmTrace
    line : ClockLine
        From the film's clock to the take clock.
    """
    trace = onto_take(filmed, line)
    moments, onsets = take.plan.moments, take.onsets
    names = filmed.names
    hands = names if all(name in take.plan.hands for name in names) else take.plan.hands[: len(names)]
    seen = np.ones(len(moments), dtype=np.bool_)
    kept = np.ones(len(onsets), dtype=np.bool_)
    for hand, name in zip(hands, names, strict=False):
        hidden = _hidden(filmed, name, trace)
        hidden += [(-np.inf, float(trace.time[0])), (float(trace.time[-1]), np.inf)]
        mine, answers = moments.of_hand(hand), np.array([each == hand for each in onsets.hand], dtype=np.bool_)
        late = _median_lateness(moments.time[mine], onsets.time[answers])
        seen[mine] = ~_inside(moments.time[mine] + late, hidden)
        kept[answers] = ~_inside(onsets.time[answers], hidden)
    plan = replace(take.plan, moments=keep_moments(moments, np.flatnonzero(seen)))
    left = Onsets(onsets.time[kept], tuple(hand for hand, keep in zip(onsets.hand, kept, strict=True) if keep))
    floor = take.noise_floor_ms
    if filmed.timing_sd:
        known = [sd for sd in filmed.timing_sd.values() if math.isfinite(sd)]
        floor = 1000 * max(known) if len(known) == len(filmed.timing_sd) else None
    return replace(take, plan=plan, onsets=left, observed_by="film", noise_floor_ms=floor), int((~seen).sum())


def members_to_csv(filmed: FilmTrace, trace: Trace, *, hands: Sequence[str] = ()) -> str:
    """Return the circles of each marker as a table for a group: time, member, and hand where one is named.

    Parameters
    ----------
    filmed : FilmTrace
        A marker's name is its member's, or ``MEMBER/HAND``.
    trace : Trace
        The film's, on the clock that is wanted. What lies in a gap of a marker is left out.
    hands : sequence of str
        Those of the plan, where it is known: of several each marker has to name its own.

    Raises
    ------
    CoachError
        If a marker does nothing that repeats, or names no hand of the plan.
    """
    rows: list[tuple[float, str, str]] = []
    named = any("/" in name for name in filmed.names)
    for name in filmed.names:
        member, _, hand = name.partition("/")
        if (len(hands) > 1 or hand) and hands and hand not in hands:
            raise CoachError(
                "film.marker_is_no_hand", where="--marker", name=name, hands=hands, member=member, hand=hands[0]
            )
        try:
            events = observe_low(trace, observe(pick(trace, point=name))).events
        except CoachError as error:
            raise error.at(f"{filmed.film.path}: {name}") from error
        rows += [(time, member, hand) for time in events[~_inside(events, _hidden(filmed, name, trace))].tolist()]
    lines = [cells([f"{time:.6f}", member, *([hand] if named else [])]) for time, member, hand in sorted(rows)]
    return "".join(["time,member,hand\n" if named else "time,member\n", *lines])


def _hidden(filmed: FilmTrace, name: str, trace: Trace) -> list[tuple[float, float]]:
    """Return the gaps of a marker that are too long to be interpolated, on the trace's clock."""
    gaps = [tuple(np.interp(gap, filmed.trace.time, trace.time).tolist()) for gap in filmed.gaps(name)]
    return [(start, end) for start, end in gaps if end - start > BRIDGED]


def _median_lateness(moments: Floats, onsets: Floats) -> float:
    """Return the median lateness of onsets against their nearest moments."""
    if not moments.size or not onsets.size:
        return 0.0
    off = onsets[:, None] - moments
    return float(np.median(off[np.arange(len(onsets)), np.argmin(np.abs(off), axis=1)]))


def _inside(times: Floats, stretches: Sequence[tuple[float, float]]) -> NDArray[np.bool_]:
    inside = np.zeros(times.size, dtype=np.bool_)
    for start, end in stretches:
        inside |= (times > start) & (times < end)
    return inside
