"""Group requests: whose takes, which plan, how files are read; and their judging."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tempo_coach.coach.filmed_groups import judge_filmed, read_one_film
from tempo_coach.coach.judging import judge_members
from tempo_coach.coach.planning import lay, lay_every_count
from tempo_coach.coach.recording_members import RecordingOptions
from tempo_coach.errors import WrongUsage

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from tempo_coach.coach.filmed_groups import Shown
    from tempo_coach.coach.judging import JudgedGroup
    from tempo_coach.coach.planning import Request
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn
    from tempo_coach.share_done import Progress


#: Share of the progress that hearing the music is: some seconds, as each recording takes some.
MUSIC_SHARE = 0.2


@dataclass(frozen=True)
class GroupRequest:
    """A request to judge a group.

    Parameters
    ----------
    sources : tuple of str
        As in :func:`tempo_coach.coach.judging.judge_members`; or ``NAME=FILM@X,Y`` of each member, all in one film.
    plan : str or None
        File of the plan. Without it there is a moment on every count of the music or the tempo, or the drill; without
        any of these the takes bring their plan.
    drill : Request or None
        What was to be done, with its music and tempo.
    music : str or None
        A sound file or a routine.
    tempo_bpm : float or None
        Of the music about, or without any.
    routine : str or None
        What its marks say is judged; its music is taken where nothing else says it.
    later, metres, shifts, partners : mapping by member
        As in :func:`tempo_coach.coach.judging.judge_members`.
    hall : float or None
    listening : RecordingOptions
    units : mapping of quantity to unit or None
    answers, shown
        As in :func:`tempo_coach.coach.filmed_groups.judge_filmed`.
    """

    sources: tuple[str, ...]
    plan: str | None = None
    drill: Request | None = None
    music: str | None = None
    tempo_bpm: float | None = None
    routine: str | None = None
    later: Mapping[str, float] = field(default_factory=dict)
    metres: Mapping[str, float] = field(default_factory=dict)
    shifts: Mapping[str, float] = field(default_factory=dict)
    partners: Mapping[str, str] = field(default_factory=dict)
    hall: float | None = None
    listening: RecordingOptions = field(default_factory=RecordingOptions)
    units: Mapping[str, str] | None = None
    answers: tuple[Mapping[str, int], ...] = ()
    shown: Shown | None = None


def judge_group(
    asked: GroupRequest, *, history: Path | None = None, warn: Warn | None = None, progress: Progress | None = None
) -> JudgedGroup:
    """Judge a group as requested.

    Parameters
    ----------
    asked : GroupRequest
    history : Path or None
        The file of the history; without it numbers of it name nothing.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If there are a plan and a drill, one clap is to set the clocks though there is music, or as
        :func:`tempo_coach.coach.judging.judge_members`.
    """
    if asked.plan and asked.drill:
        raise WrongUsage("group.plan_and_drill", where="--plan")
    plain = not (asked.plan or asked.music or asked.drill or asked.tempo_bpm is not None)
    music = asked.routine if plain else asked.music
    on_music = bool(asked.plan or music or (asked.drill and asked.drill.music))
    if on_music and asked.listening.first_clap:
        raise WrongUsage("group.clap_and_music", where="--first-clap")
    lay_plan = None if plain and music is None else _lay_plan(asked, music, warn=warn, progress=progress)
    share = MUSIC_SHARE if on_music else 0.0
    further = None if progress is None else lambda done: progress(share + (1 - share) * done)
    places = read_one_film(asked.sources)
    if places:
        plan = lay_plan(0.0) if lay_plan is not None and (on_music or asked.drill) else None
        tempo = asked.tempo_bpm
        return judge_filmed(
            places,
            plan=plan,
            tempo_bpm=tempo,
            shifts=asked.shifts,
            answers=asked.answers,
            shown=asked.shown,
            warn=warn,
            progress=further,
        )
    sound = music is not None and not music.lower().endswith(".toml")  # a routine has its counts put right
    return judge_members(
        asked.sources,
        lay_plan=lay_plan,
        lay_at_tempo=(
            (lambda tempo_bpm: lay_every_count(0.0, music=music, tempo_bpm=tempo_bpm))
            if sound and not asked.plan and asked.drill is None and asked.tempo_bpm is None
            else None
        ),
        own_clock=asked.listening.first_clap or (lay_plan is not None and not (on_music or asked.drill)),
        later=asked.later,
        metres=asked.metres,
        shifts=asked.shifts,
        partners=asked.partners,
        routine=asked.routine,
        hall=asked.hall,
        listening=asked.listening,
        history=history,
        units=asked.units,
        warn=warn,
        progress=further,
    )


def _lay_plan(
    asked: GroupRequest, music: str | None, *, warn: Warn | None, progress: Progress | None
) -> Callable[[float], Plan]:
    """Return a function that lays the plan once the last onset is known."""
    from tempo_coach.pattern.plan.plan_file import read_plan

    part = None if progress is None else lambda done: progress(MUSIC_SHARE * done)
    if asked.plan:
        plan = read_plan(asked.plan)
        return lambda _: plan
    drill = asked.drill
    if drill is not None:
        return lambda _: lay(drill, warn=warn, progress=part)
    return lambda end: lay_every_count(end, music=music, tempo_bpm=asked.tempo_bpm, warn=warn, progress=part)
