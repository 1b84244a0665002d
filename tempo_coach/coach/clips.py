"""Clip of one cycle of a film beside the median one: which cycle, and its counts and cues."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.coach.practising.practice import free_name
from tempo_coach.errors import CoachError
from tempo_coach.observe.film.shown_cycles import choose_cycles
from tempo_coach.report.pages.clip import SLOWER, Beat, write_clip
from tempo_coach.resources import written_whole

__all__ = ["SLOWER", "clip_take", "write_cycle_clip"]

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tempo_coach.coach.practising.practice import FinishedTake
    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.plan.plan import Plan


def write_cycle_clip(
    path: Path,
    filmed: FilmTrace,
    *,
    plan: Plan | None = None,
    on_take: Trace | None = None,
    number: int | None = None,
    slower: float = SLOWER,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write a cycle of a film beside her median one in slow motion; given a plan, with counts and cues.

    Parameters
    ----------
    path : Path
        An mp4 file, which is replaced.
    filmed : FilmTrace
    plan, on_take : Plan and Trace, or None
        What was asked, and the film's trace on the take clock.
    number : int or None
        Which cycle, from 1: of the plan where there is one, else as ``trace`` numbers them. None for the one that
        broke, or else the one furthest off.
    slower : float
        Times slower than life.
    progress : callable or None

    Raises
    ------
    CoachError
        ``clip.no_cycle`` if there is none of that number; as :func:`choose_cycles` and :func:`write_clip`.
    """
    beats: list[Beat] = []
    begins = None
    if plan is not None and on_take is not None:
        if number is not None:
            begins = _begin_of(number, plan, on_take, filmed)
        beats = _beats(plan, on_take, filmed)
    cycles = choose_cycles(filmed, number=None if begins is not None else number, begins=begins)
    write_clip(path, filmed, cycles, beats=beats, slower=slower, progress=progress)


def clip_take(done: FinishedTake, *, progress: Callable[[float], None] | None = None) -> Path:
    """Write the clip of the cycle that a filmed take's card names first, beside the take, and return its file.

    Raises
    ------
    CoachError
        ``clip.no_film`` if the take was not read from a film, or was not written; as :func:`write_cycle_clip`, and if
        the file cannot be written.
    """
    if done.film is None or done.path is None:
        raise CoachError("clip.no_film")
    told = next((found.cycle for found in done.card.told if found.cycle is not None), None)
    path = free_name(done.path, "clip", ending=".mp4")
    with written_whole(path, what="film") as temporary:
        number = None if told is None else told + 1
        plan = done.take.plan
        write_cycle_clip(temporary, done.film, plan=plan, on_take=done.on_take, number=number, progress=progress)
    return path


def _begin_of(number: int, plan: Plan, on_take: Trace, filmed: FilmTrace) -> float:
    """Return the second of the film at which a cycle of the plan begins."""
    mine = np.flatnonzero(plan.moments.cycle == number - 1)
    if not mine.size:
        last = int(plan.moments.cycle.max()) + 1
        raise CoachError("clip.no_cycle", where="--cycle", found=number, first=1, last=last)
    return float(np.interp(plan.moments.time[mine[0]], on_take.time, filmed.trace.time))


def _beats(plan: Plan, on_take: Trace, filmed: FilmTrace) -> list[Beat]:
    """Return counts and cues in order, in seconds of the film."""
    moments, onto = plan.moments, filmed.trace.time
    cues = np.interp(moments.time[moments.cue], on_take.time, onto)
    opening, closing = (float(count) for count in plan.counts_at(moments.time[[0, -1]]))
    whole = np.arange(np.floor(opening), np.ceil(closing) + 1)
    counts = np.interp(np.interp(whole, plan.knot_counts, plan.knot_times), on_take.time, onto)
    beats = [Beat(time, "", cue=True) for time in cues.tolist()]
    beats += [
        Beat(time, f"{plan.place(count).count:.0f}", cue=False)
        for count, time in zip(whole.tolist(), counts.tolist(), strict=True)
    ]
    return sorted(beats)
