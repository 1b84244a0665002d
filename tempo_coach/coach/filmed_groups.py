"""A group in one film: each gymnast's movement followed from a place on her, all of them judged on one clock."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.coach.film_choices import keep_film, recall_film
from tempo_coach.errors import CoachError
from tempo_coach.observe.members import FILMS
from tempo_coach.pattern.plan.every_count import EVERY_COUNT
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.coach.judging import JudgedGroup
    from tempo_coach.observe.film.camera import CameraMotion
    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.film.gymnasts import Crossing, FilmStretch, FollowedGroup
    from tempo_coach.observe.take.clock import ClockLine
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn
    from tempo_coach.share_done import Progress
    from tempo_coach.times import Floats, Ints

    Answer = Mapping[str, int]
    Shown = Callable[[Film, Sequence[Crossing]], None]

#: Seconds by which the mark of one gymnast's cycle may lie off that of another's who does the same, every cycle alike:
#: how she is built moves it. The largest of the films of ``tests/benchmarks/bench_team.py`` is 20 ms.
MARKS_APART = 0.02
#: Likeness of one's mean cycle to that of all below which she does something else, and their marks may lie anywhere.
ALIKE = 0.6
#: Part of a cycle after the first picture of a movement and before its last one within which no mark is believed.
EDGE = 0.5
#: Phases around a mark over which it is averaged.
_AROUND = (np.arange(20) + 0.5) / 20 - 0.5
#: Least number of marks that can show that every second one is late.
LEAST_SWAY = 8
#: Seconds beside a film that nobody saw: more than any music lasts.
FAR = 1e4
#: Under which answers are kept among the choices for a film.
_KEPT = "after crossing"


class FilmPlace(NamedTuple):
    """A point on a gymnast in the first picture of a film, in pixels."""

    member: str
    film: str
    at: tuple[float, float]


def read_film_place(source: str) -> FilmPlace | None:
    """Return the film and point in ``NAME=FILM@X,Y``; None for any other source.

    Raises
    ------
    CoachError
        If it names a film and no place in it, or nobody.

    Examples
    --------
    >>> read_film_place("Ada=five.mp4@320,180").at
    (320.0, 180.0)
    >>> read_film_place("Ada=ada.mp4") is None
    True
    """
    name, mark, rest = source.partition("=")
    film, at, place = (rest if mark else source).rpartition("@")
    if not at or Path(source).exists() or Path(film).suffix.lower() not in FILMS:
        return None
    try:
        x, y = (float(number) for number in place.split(","))
    except ValueError:
        raise CoachError("group.no_place", where=source, found=place[:40]) from None
    if not mark or not name:
        raise CoachError("group.place_of_whom", where=source, source=source)
    return FilmPlace(name, film, (x, y))


def read_one_film(sources: Sequence[str]) -> tuple[FilmPlace, ...]:
    """Return the points of all members in their one film; nothing where they have files of their own.

    Raises
    ------
    CoachError
        If some are in it and others not, in another one, or one is named twice.
    """
    found = [read_film_place(source) for source in sources]
    places = tuple(place for place in found if place is not None)
    if not places:
        return ()
    for source, place in zip(sources, found, strict=True):
        if place is None or place.film != places[0].film:
            raise CoachError("group.not_in_film", where=source, film=places[0].film)
    names = [place.member for place in places]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise CoachError("member.twice", where="group", member=twice)
    return places


def in_one_film(sources: Sequence[str]) -> bool:
    """Return whether members are shown in a film of all."""
    return bool(read_one_film(sources))


def read_answer(text: str) -> dict[str, int]:
    """Return the numbers of members in ``Ada=2,Bea=1``.

    Raises
    ------
    CoachError
        If it is not written so.

    Examples
    --------
    >>> read_answer("Ada=2, Bea=1")
    {'Ada': 2, 'Bea': 1}
    """
    found = {}
    for each in text.split(","):
        name, mark, number = (part.strip() for part in each.rpartition("="))
        if not (name and mark and number.isdecimal()) or name in found or len(number) > 3:
            raise CoachError("group.no_answer", where="--after-crossing", found=text[:80])
        found[name] = int(number)
    return found


def _recall(film: str, members: Sequence[str]) -> tuple[Answer, ...]:
    """Return the answers that were kept for a film, where they are about these members."""
    try:
        kept = tuple(read_answer(each) for each in recall_film(film).get(_KEPT, "").split(";") if each)
    except CoachError:
        return ()
    return kept if all(set(each) <= set(members) for each in kept) else ()


def _write_answers(answers: Sequence[Answer]) -> str:
    return ";".join(",".join(f"{name}={number}" for name, number in each.items()) for each in answers)


def judge_filmed(
    places: Sequence[FilmPlace],
    *,
    plan: Plan | None,
    tempo_bpm: float | None,
    shifts: Mapping[str, float] | None = None,
    answers: Sequence[Answer] = (),
    shown: Shown | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> JudgedGroup:
    """Judge the gymnasts of one film against each other.

    Parameters
    ----------
    places : sequence of FilmPlace
        All in one film.
    plan : Plan or None
        Its music is found in the film's sound. None: cycles are counted at the group's own tempo.
    tempo_bpm : float or None
        Without a plan: counts a minute; of None each cycle is a count.
    shifts : mapping of member to float, optional
        By how many counts a member's part comes later on purpose.
    answers : sequence of mappings of member to int
        Who is who after each crossing, by the numbers in its picture; they are kept for the film, and without any what
        was kept is taken.
    shown : callable or None
        Told the film and its crossings, the last of which may not have been answered.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If the film cannot be read, nothing repeats where somebody is shown, or the music is not in its sound.
    """
    from tempo_coach.coach.judging import JudgedGroup
    from tempo_coach.score.group.group import MEMBERS, judge_group

    low, high = MEMBERS
    if not low <= len(places) <= high:
        raise CoachError("group.size", where="group", low=low, high=high, found=len(places))
    unknown = sorted(set(shifts or {}) - {place.member for place in places})
    if unknown:
        raise CoachError("group.member", where="--canon", members=[place.member for place in places], found=unknown[0])
    takes, apart = see_group(
        places, plan=plan, tempo_bpm=tempo_bpm, answers=answers, shown=shown, warn=warn, progress=progress
    )
    own_clock = plan is None
    card = judge_group(takes, shifts=shifts, own_clock=own_clock, unsure=apart)
    if plan is not None and plan.drill == EVERY_COUNT:
        # which part of a cycle is seen says nothing of its place on the count
        members = tuple(member._replace(bias=math.nan) for member in card.members)
        card = replace(card, members=members, reasons={**card.reasons, "bias_ms": Reason(Why.MARKS_ON_NO_COUNT)})
    return JudgedGroup(card, takes, frozenset(), own_clock)


def see_group(
    places: Sequence[FilmPlace],
    *,
    plan: Plan | None,
    tempo_bpm: float | None,
    answers: Sequence[Answer] = (),
    shown: Shown | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> tuple[dict[str, Take], float]:
    """Return the take of each gymnast in a film, and the uncertainty between their marks in seconds.

    Parameters
    ----------
    places, plan, tempo_bpm, answers, shown, warn, progress
        As in :func:`judge_filmed`.
    """
    from tempo_coach.coach.phone_delays import place_picture
    from tempo_coach.coach.placing import align_film
    from tempo_coach.coach.planning import lay_every_count
    from tempo_coach.observe.film.frames import look_at_film
    from tempo_coach.observe.film.gymnasts import Gymnast, follow_gymnasts
    from tempo_coach.observe.take.clock import ClockLine

    film = look_at_film(places[0].film)
    line = ClockLine(0.0, 0.0, 1 / film.slowed, math.nan, 1)
    if plan is not None:
        alignment, delays = place_picture(align_film(film, plan, warn=warn), film)
        line = alignment.line
        if warn:
            warn(delays)
    members = [one.member for one in places]
    recalled = () if answers else _recall(film.path, members)
    followed = follow_gymnasts(
        film,
        [Gymnast(one.member, one.at) for one in places],
        answers=answers or recalled,
        warn=warn,
        progress=progress,
    )
    if answers:
        keep_film(film.path, recall_film(film.path) | {_KEPT: _write_answers(answers)})
    if warn:
        for note in [*followed.notes, *_tell_crossings(followed, recalled, film)]:
            warn(note)
    if shown and followed.crossings:
        shown(film, followed.crossings)
    seen = {name: _onto(one, line) for name, one in _see(followed, members).items()}
    curves = [curve for stretch in followed.stretches for curve in stretch.curves.values()]
    period = line.rate * float(np.median([curve.period for curve in curves]))
    if plan is None:
        times = np.concatenate([one.time for one in seen.values()])
        length = float(np.ptp(times)) if times.size else 0.0
        plan = lay_every_count(length, tempo_bpm=60 / period if tempo_bpm is None else tempo_bpm)
        if warn and tempo_bpm is None:
            warn(Reason(Why.CYCLES_AS_COUNTS, (period,)))
    alike = min(like for stretch in followed.stretches for like in stretch.alike.values())
    apart = MARKS_APART if alike >= ALIKE else period / 2
    return _to_takes(seen, one_a_cycle(plan, period)), apart


class _Seen(NamedTuple):
    """Observations of one gymnast: marks by number of the cycle, gaps, SD of a mark."""

    number: Ints
    time: Floats
    hidden: tuple[tuple[float, float], ...]
    sd: float


def _tell_crossings(followed: FollowedGroup, recalled: Sequence[Answer], film: Film) -> list[Reason]:
    """Return what is said of crossings: the answers of last time, and what is still to be answered."""
    out = [Reason(Why.CROSSING_RECALLED, (_write_answers(recalled),))] if recalled else []
    if len(followed.crossings) == len(followed.stretches):
        asked = followed.crossings[-1]
        number = len(followed.crossings)
        out.append(Reason(Why.NUMBERED_AFTER_CROSSING, (asked.since / film.slowed, number, asked.unknown)))
    return out


def _see(followed: FollowedGroup, members: Sequence[str]) -> dict[str, _Seen]:
    """Return the marks of each gymnast on the film's clock, of all stretches in which it is known who she is."""
    stretches = []
    for stretch in followed.stretches:
        here = {name: _see_stretch(stretch, name, followed.camera) for name in stretch.curves}
        stretches.append((stretch, _without_sway(here, stretch) if here else {}))
    return {name: _join(stretches, name) for name in members}


def _join(stretches: Sequence[tuple[FilmStretch, Mapping[str, _Seen]]], name: str) -> _Seen:
    """Return the marks of one gymnast in all stretches; one in which it is not known who she is, is a gap."""
    parts, hidden = [], []
    for stretch, seen in stretches:
        start, end = max(stretch.start, -FAR), min(stretch.end, FAR)
        if name not in seen:
            hidden.append((start, end))
            continue
        own = seen[name]
        parts.append(own)
        hidden += [(max(a, start), min(b, end)) for a, b in own.hidden if a < end and b > start]
    return _Seen(
        np.concatenate([one.number for one in parts]),
        np.concatenate([one.time for one in parts]),
        _united(hidden),
        max(one.sd for one in parts),
    )


def _see_stretch(stretch: FilmStretch, name: str, camera: CameraMotion) -> _Seen:
    """Return the marks of one gymnast in a stretch whose half cycles before and after were seen.

    A mark's time is the mean of those of all phases of the cycle around it.
    """
    curve, seen = stretch.curves[name], stretch.seen(name)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], seen, [False]]).astype(int)))
    inside = np.flatnonzero(seen)
    first, last = (float(curve.time[k]) for k in inside[[0, -1]])
    number = np.arange(np.ceil(curve.phase[inside[0]]), np.floor(curve.phase[inside[-1]]) + 1)
    marks = np.interp(number[:, None] + _AROUND, curve.phase, curve.time).mean(axis=1)
    at = np.clip(np.searchsorted(curve.time, marks), 0, len(seen) - 1)
    kept = seen[at] & (marks > first + EDGE * curve.period) & (marks < last - EDGE * curve.period)
    starts = [first + EDGE * curve.period, *(float(curve.time[k]) for k in edges[2::2])]
    ends = [*(float(curve.time[k - 1]) for k in edges[1:-1:2]), last - EDGE * curve.period]
    hidden = _united([*zip([-FAR, *ends], [*starts, FAR], strict=True), *stretch.covered[name]])
    for start, end in stretch.covered[name]:
        kept &= (marks < start) | (marks > end)
    sd = curve.timing_sd if camera.state != "unknown" else math.inf
    return _Seen(number[kept].astype(np.int64), marks[kept], hidden, sd)


def _united(stretches: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Return stretches in order, those that overlap as one."""
    out: list[tuple[float, float]] = []
    for start, end in sorted(stretches):
        if out and start <= out[-1][1]:
            out[-1] = (out[-1][0], max(end, out[-1][1]))
        else:
            out.append((start, end))
    return tuple(out)


def _without_sway(seen: Mapping[str, _Seen], stretch: FilmStretch) -> dict[str, _Seen]:
    """Return the marks without a member's alternation of odd and even cycles against the group.

    A body that sways from side to side once in two cycles moves in the picture as its timing would.
    """
    first = next(iter(stretch.curves.values()))
    numbers = [
        one.number + round(float(np.median(np.interp(one.time, first.time, first.phase) - one.number)))
        for one in seen.values()
    ]
    common = np.array(sorted(set.intersection(*(set(each.tolist()) for each in numbers))), dtype=np.int64)
    if common.size < LEAST_SWAY:
        return dict(seen)
    marks = np.array(
        [one.time[np.searchsorted(each, common)] for one, each in zip(seen.values(), numbers, strict=True)]
    )
    apart = marks - marks.mean(axis=0)
    odd = 1.0 - 2.0 * (common % 2)
    out = {}
    for (name, one), each, row in zip(seen.items(), numbers, apart, strict=True):
        swing = (row[1:-1] - (row[:-2] + row[2:]) / 2) * odd[1:-1] / 2
        sway = float(np.median(swing))
        error = 1.2533 * 1.4826 * float(np.median(np.abs(swing - sway))) / math.sqrt(swing.size)
        time = one.time - sway * (1.0 - 2.0 * (each % 2)) if abs(sway) > 2 * error else one.time
        out[name] = one._replace(time=time)
    return out


def _onto(seen: _Seen, line: ClockLine) -> _Seen:
    hidden = tuple((line.to_second(start), line.to_second(end)) for start, end in seen.hidden)
    return _Seen(seen.number, line.to_second(seen.time), hidden, line.rate * seen.sd)


def one_a_cycle(plan: Plan, period: float) -> Plan:
    """Return a plan with the moments that one mark a cycle may answer: each count as often as there are cycles."""
    from tempo_coach.observe.film.film_take import begin_cycles
    from tempo_coach.observe.trace.trace_take import keep_moments

    own = begin_cycles(plan)
    mine = own.moments.of_hand(plan.hands[0])
    asked = float(np.median(np.diff(own.moments.time[mine]))) if mine.size > 1 else period
    return replace(own, moments=keep_moments(own.moments, mine[:: max(1, round(period / asked))]))


def _to_takes(seen: Mapping[str, _Seen], plan: Plan) -> dict[str, Take]:
    """Return the observations as takes; with moments on every count, on the counts that the cycles lie on."""
    from tempo_coach.observe.take.onsets import Onsets, Take

    moved = 0.0
    asked = plan.moments.time
    if plan.drill == EVERY_COUNT and plan.music is not None and asked.size > 1:
        step = float(np.median(np.diff(asked)))
        times = np.concatenate([one.time for one in seen.values()])
        behind = np.clip(np.searchsorted(asked, times), 1, asked.size - 1)
        off = times - asked[behind - 1]
        moved = -step * float(np.angle(np.exp(2j * np.pi * off / step).mean())) / (2 * np.pi)
    return {
        name: Take(
            plan,
            Onsets(one.time + moved, (plan.hands[0],) * len(one.time)),
            observed_by="film",
            noise_floor_ms=1000 * one.sd if math.isfinite(one.sd) else None,
            unmeasurable=tuple((start + moved, end + moved) for start, end in one.hidden),
        )
        for name, one in seen.items()
    }
