"""Preparation of a practice: plan, samples, player and files, from what a person asked for."""

from __future__ import annotations

import os
import traceback
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from functools import cache, partial
from typing import TYPE_CHECKING

from tempo_coach.coach.looking_back import now
from tempo_coach.errors import CoachError
from tempo_coach.history.data_folder import data_folder
from tempo_coach.live.practice.session import Way
from tempo_coach.observe.observers import NOBODY, OBSERVERS, SOUNDS
from tempo_coach.observe.take.take_file import ENDING
from tempo_coach.observe.take.unfinished import find_unfinished
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from tempo_coach.coach import Heard, OpenRoutine, Request
    from tempo_coach.coach.notices import News
    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import EarlierTakes, FinishedTake, Keep, PracticeContext
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.inputs.source import LiveSource
    from tempo_coach.live.setup.calibration import Setup
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.card import Scorecard

__all__ = [
    "NO_SOUND",
    "SAME_TEMPO_BPM",
    "SPEED_STEP",
    "Way",
    "drills_of",
    "find_unfinished",
    "list_names",
    "open_player",
    "prepare_from_form",
    "prepare_practice",
    "takes_folder",
    "worn_at",
]
#: What a device is called where there is to be no sound at all.
NO_SOUND = "none"
#: Share of the music's own speed by which a key makes it slower or faster.
SPEED_STEP = 0.05
#: Where a delay comes from that nobody measured.
HER_FILE = "her file"
#: Two tempi closer than this are one.
SAME_TEMPO_BPM = 0.01


def takes_folder() -> Path:
    """Return the folder in which takes are kept unless another file is named."""
    return data_folder() / "takes"


def open_player(device: str | None, *, microphone: str | None = None) -> Player:
    """Return the player for a device.

    Parameters
    ----------
    device : str or None
        Part of its name; ``NO_SOUND`` for a clock that plays nothing; None for the system's own choice.
    microphone : str or None
        Part of the name of one that records meanwhile, ``""`` for the system's own choice; None for none.
    """
    from tempo_coach.live.audio.engine import Engine
    from tempo_coach.live.audio.silent import SilentClock
    from tempo_coach.live.notices import Code, Notice

    if device == NO_SOUND:
        return SilentClock(Notice(Code.SILENT))
    return Engine(device=device, microphone=microphone)


def prepare_practice(
    request: Request,
    *,
    heard: Heard | None = None,
    way: Way | None = None,
    observed_by: ObservedBy = "tap",
    keys: str = "",
    at_once: bool = False,
    take_file: Path | None = None,
    device: str | None = None,
    voice: str | Path | None = None,
    athlete: str | None = None,
    microphone: str | None = None,
    kind: ObservedBy | None = None,
    on_clap: bool = False,
    source: LiveSource | None = None,
    make_player: Callable[[], Player] | None = None,
    opened: OpenRoutine | None = None,
    loops: bool = False,
) -> PracticeContext:
    """Return everything needed to practise a request.

    Parameters
    ----------
    heard : Heard or None
        The request's music where it has been heard already.
    way, observed_by, keys, at_once
        As in :class:`tempo_coach.coach.practising.practice.PracticeContext`.
    take_file : Path or None
        Where the first take goes; further ones get a number. By default a new file in :func:`takes_folder`.
    device : str or None
        Part of the name of the sound device; ``"none"`` for no sound; None for the system's own choice.
    voice : str, Path or None
        Who says counts and words: a language that came with the program, or a folder of her own recordings.
    athlete : str or None
        In whose name takes are put into the history; None for nobody's.
    microphone : str or None
        Part of the name of a microphone whose recording is written beside each take, ``""`` for the system's own
        choice; None for none.
    kind : str or None
        What the microphone listens for, where nobody taps.
    on_clap : bool
        Whether a clap begins as Enter does.
    source : LiveSource or None
        What observes beside keys and microphone, opened already; the practice closes it.
    make_player : callable or None
        Opens the sound in another way; for tests.
    opened : OpenRoutine or None
        The routine that is run through: the request's eights of it.
    loops : bool
        Whether the passage begins again at its end until Enter; nobody observes then.

    Raises
    ------
    CoachError
        If the drill cannot be read or does not fit, or the take's file exists.
    ValueError
        If the keys are not different ones, or too many.
    """
    from tempo_coach import coach
    from tempo_coach.coach.practising.overheard import keep_recording
    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.coach.routine_course import course_of
    from tempo_coach.live.audio.silent import SilentClock
    from tempo_coach.live.inputs.clap_listener import ClapListener
    from tempo_coach.live.inputs.key_stamps import steady_interpreter
    from tempo_coach.live.practice.session import Way
    from tempo_coach.pattern.drill.drill import TEMPO_RANGE_BPM, TEMPO_STEP_BPM, TempoSteps
    from tempo_coach.pattern.plan.layout import SPEED_RANGE

    if loops and observed_by != NOBODY:
        raise ValueError("a passage that begins again and again is observed by nobody")
    lay = partial(coach.lay, heard=heard) if opened is None else partial(coach.lay_routine, opened)
    plan = lay(request)
    walk_in, verdict = _make_voice(voice)
    own_bpm = heard.counts.tempo_bpm if heard and plan.music else 0.0
    tempo_bpm = own_bpm * plan.speed if plan.music else plan.tempo_bpm or 0.0
    way = way or Way()
    slowest, fastest = (share * own_bpm for share in SPEED_RANGE) if plan.music else TEMPO_RANGE_BPM
    if plan.music and way.steps is not None:
        way = replace(way, steps=replace(way.steps, lowest=slowest, highest=fastest))
    tempi = TempoSteps(slowest, fastest, SPEED_STEP * own_bpm if plan.music else TEMPO_STEP_BPM)

    def sound_of(wanted_bpm: float) -> tuple[Plan, Sound]:
        laid = plan
        if abs(wanted_bpm - tempo_bpm) > SAME_TEMPO_BPM:
            changed = {"speed": wanted_bpm / own_bpm} if plan.music else {"tempo_bpm": wanted_bpm}
            laid = lay(replace(request, **changed))  # type: ignore[arg-type]  # both are numbers
        return laid, coach.cue_sound(laid, music=heard.sound if heard else None, voice=voice)

    observed = OBSERVERS[observed_by].is_there
    started = ""

    def begun() -> str:
        nonlocal started
        started = now()
        return started

    drills = [coach.load_drill(request.drill)] if opened is None else drills_of(opened, plan)
    return PracticeContext(
        plan=plan,
        sound_of=sound_of,
        make_player=make_player or partial(open_player, device, microphone=microphone),
        make_silent=SilentClock,
        tempo_bpm=tempo_bpm,
        walk_in=walk_in,
        verdict=verdict,
        take_path=_name_takes(take_file, plan.drill) if observed else None,
        begun=begun,
        way=way,
        steady=steady_interpreter,
        setup_of=lambda name: _setup_of(name, observed_by, athlete),
        record=None if microphone is None else partial(keep_recording, kind=kind),
        wait_for_clap=partial(ClapListener, microphone or "") if on_clap else None,
        keep=None if athlete is None or not observed else _make_keep(athlete, lambda: started),
        before=None if athlete is None or not observed else partial(_look_back, athlete),
        caution="; ".join(dict.fromkeys(drill.caution for drill in drills if drill.caution)),
        worn_at=worn_at(drills),
        course=None if opened is None else course_of(opened.routine, opened.counts, opened.path),
        tempi=tempi,
        loops=loops,
        observed_by=observed_by,
        source=source,
        keys=keys[: len(plan.hands)],
        at_once=at_once,
        athlete=athlete or "",
    )


def _setup_of(device: str, observed_by: ObservedBy, athlete: str | None) -> Setup:
    """Return the delays of a set-up as they were measured, or as her file has them."""
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.roster import find_person, people_folder
    from tempo_coach.live.setup.calibration import setup_of

    measured = setup_of(device, observed_by)
    said = None
    with suppress(CoachError):  # a file that cannot be read is told where it is looked at
        said = find_person(people_folder(history_file()), athlete).delay_ms if athlete else None
    if said is None or not OBSERVERS[observed_by].is_pressed:
        return measured
    return replace(measured, delay=said / 1000, found_by=HER_FILE)


def drills_of(opened: OpenRoutine, plan: Plan) -> list[Drill]:
    """Return the drills of a run-through."""
    from tempo_coach import coach
    from tempo_coach.coach.drills import drill_beside

    named = {each.drill for each in plan.sections}
    drills = [coach.load_drill(drill_beside(opened.path, laid.drill)) for laid in opened.routine.laid]
    return [drill for drill in drills if drill.name in named]


def worn_at(drills: Sequence[Drill]) -> tuple[str, ...] | None:
    """Return where a worn phone can feel the cycles of all of them; None where one does not say."""
    places = [drill.worn_at for drill in drills]
    if not places or any(each is None for each in places):
        return None
    first, *others = (each or () for each in places)
    return tuple(place for place in first if all(place in each for each in others))


def prepare_from_form(
    form: Form, heard: Heard | None = None, *, request: Request | None = None, opened: OpenRoutine | None = None
) -> PracticeContext:
    """Return everything needed to practise a set-up.

    Parameters
    ----------
    heard : Heard or None
        The music of the set-up, heard.
    request : Request or None
        What is to be practised, where a routine says it and not the set-up.
    opened : OpenRoutine or None
        That routine.

    Raises
    ------
    CoachError
        As :func:`prepare_practice`, or if a line of the set-up cannot be.
    """
    from tempo_coach import coach
    from tempo_coach.coach.practising.sources import open_phones
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.roster import find_person, people_folder

    kind = form.observed_by if form.observed_by in SOUNDS else None
    request = request or form.request()
    person = find_person(people_folder(history_file()), form.athlete)
    return prepare_practice(
        request,
        heard=heard if request.music else None,
        way=form.way(coach.load_drill(request.drill) if opened is None else None),
        observed_by=form.observed_by,
        microphone=None if kind is None else "",
        kind=kind,
        keys=person.keys if form.observed_by in ("tap", "coach's tap") else "",
        device=form.value("device") or None,
        voice=person.voice or None,
        athlete=form.athlete,
        source=open_phones(None) if form.observed_by == "phone" else None,
        opened=opened,
    )


def list_names(first: str) -> list[str]:
    """Return whose phone one may be: the given name, then all others in the history, as far as it can be read."""
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.records import SOMEBODY
    from tempo_coach.history.takes import History

    names = [first or SOMEBODY]
    if history_file().exists():
        with suppress(CoachError), History(history_file(), read_only=True) as history:
            names += [each.name for each in history.athletes()]
    return list(dict.fromkeys(names))


def _name_takes(take_file: Path | None, drill: str) -> Callable[[int], Path]:
    """Return a function that names the file of each take: a new one in the folder of takes, or after a given one."""
    if take_file is None:
        name = f"{datetime.now():%Y-%m-%d_%H%M%S}_{os.getpid()}_{drill}"
        return lambda number: takes_folder() / f"{name}_{number}{ENDING}"
    if take_file.exists():
        raise CoachError("take.name_taken", where=str(take_file))
    return lambda number: (
        take_file if number == 1 else take_file.with_name(f"{take_file.stem}_{number}{take_file.suffix}")
    )


def _make_keep(athlete: str, begun: Callable[[], str]) -> Keep:
    """Return a function that stores a take in a thread of its own and reports failures without stopping."""
    from tempo_coach.coach import archiving

    def put(done: FinishedTake, how: str) -> News | None:
        setup: dict[str, object] = {"file": str(done.path.resolve())} if done.path else {}
        setup["device"] = done.device
        if not done.placed:
            setup |= {"fitted": True, "confidence": None}
        if done.setup.found_by:
            setup |= {"delay_ms": round(1000 * done.setup.delay, 3), "delay_by": done.setup.found_by}
        try:
            archiving.keep_take(done.take, athlete=athlete, begun=begun(), card=done.card, ended=how, setup=setup)
        except Exception as error:  # noqa: BLE001  the take is over: nothing here may take its card away
            if not isinstance(error, CoachError):
                traceback.print_exception(error)  # into the log, while a screen is up
            return Reason(Why.UNKEPT, (error if isinstance(error, CoachError) else str(error), done.path))
        return None

    return put


def _look_back(athlete: str, take: Take) -> EarlierTakes:
    """Return an athlete's similar takes in the history; nothing where it cannot be read."""
    from tempo_coach.coach import archiving
    from tempo_coach.coach.practising.practice import EarlierTakes

    try:
        alike = archiving.find_alike(take, athlete=athlete)
        newest = alike.newest
        return (
            EarlierTakes(alike.kept)
            if newest is None
            else EarlierTakes(alike.kept, archiving.judge_kept(newest), newest.row.day)
        )
    except Exception as error:  # noqa: BLE001  the take is over: nothing here may take its card away
        if not isinstance(error, CoachError):
            traceback.print_exception(error)  # into the log, while a screen is up
        return EarlierTakes()


def _make_voice(
    voice: str | Path | None,
) -> tuple[Callable[[float], Sound], Callable[[Scorecard, Scorecard | None, bool], Sound | None]]:
    """Return the sounds of the walk-in and after a take: her own recordings before the program's."""
    from tempo_coach.live.mixing.mix import RATE_HZ, load_cue_sounds
    from tempo_coach.live.mixing.spoken import Word, choose_words, find_voice, join_words, load_words, mix_walk_in

    folders = find_voice(voice)

    @cache
    def words() -> dict[str, Word]:
        return load_words(folders, RATE_HZ)

    def walk_in(seconds: float) -> Sound:
        return mix_walk_in(seconds, words(), load_cue_sounds(RATE_HZ)["count"])

    def verdict(card: Scorecard, previous: Scorecard | None, again: bool) -> Sound | None:
        return join_words(choose_words(card, previous, again=again), words(), rate_hz=RATE_HZ)

    return walk_in, verdict
