"""From what a person asked for to a practice on the screen: plans, samples, players and files brought together.

The screen needs descriptor 2 for itself: C libraries write their complaints to it, and Textual draws there. While the
screens are up, Textual draws on a copy of it, and whatever else is written to it goes to a log.
"""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from dataclasses import replace
from datetime import datetime
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.history.place import data_folder
from tempo_coach.history.records import SOMEBODY
from tempo_coach.observe.takefile import ENDING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.coach import Heard, OpenRoutine, Request
    from tempo_coach.live.playing import Player
    from tempo_coach.live.session import Way
    from tempo_coach.music.sound import Sound
    from tempo_coach.observe.contact import Kind
    from tempo_coach.observe.onsets import ObservedBy
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.score.card import Scorecard
    from tempo_coach.ui.form import Form
    from tempo_coach.ui.go import Done, Go

#: What a device is called where there is to be no sound at all.
NO_SOUND = "none"
#: Two tempi closer than this are one.
SAME_TEMPO_BPM = 0.01


def takes_folder() -> Path:
    """Return the folder in which takes are kept unless another file is named."""
    return data_folder() / "takes"


def make_go(
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
    kind: Kind | None = None,
    on_clap: bool = False,
    make_player: Callable[[], Player] | None = None,
) -> Go:
    """Return everything that a practice of a request needs.

    Parameters
    ----------
    request : Request
    heard : Heard or None
        The request's music where it has been heard already.
    way, observed_by, keys, at_once
        As in :class:`tempo_coach.ui.go.Go`.
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
    kind : {"contact", "clap", "foot", "voice"} or None
        What the microphone listens for, where nobody taps.
    on_clap : bool
        Whether a clap begins as Enter does.
    make_player : callable or None
        Opens the sound in another way; for tests.

    Raises
    ------
    CoachError
        If the drill cannot be read or does not fit, or the take's file exists.
    ValueError
        If the keys are not different ones, or too many.
    """
    from tempo_coach import coach
    from tempo_coach.live.calibration import setup_of
    from tempo_coach.live.keys import steady_interpreter
    from tempo_coach.live.listener import ClapListener
    from tempo_coach.live.session import Way
    from tempo_coach.live.silent import SilentClock
    from tempo_coach.pattern.layout import SPEED_RANGE
    from tempo_coach.ui.go import Go
    from tempo_coach.ui.overheard import keep_recording

    plan = coach.lay(request, heard=heard)
    walk_in, verdict = _make_voice(voice)
    if take_file is not None and take_file.exists():
        raise CoachError("the file exists and is not overwritten", where=str(take_file), hint="name another one")
    name = f"{datetime.now():%Y-%m-%d_%H%M%S}_{os.getpid()}_{plan.drill}"

    own_bpm = heard.counts.tempo_bpm if heard and plan.music else 0.0
    tempo_bpm = own_bpm * plan.speed if plan.music else plan.tempo_bpm or 0.0
    way = way or Way()
    if plan.music and way.steps is not None:
        slowest, fastest = (share * own_bpm for share in SPEED_RANGE)
        way = replace(way, steps=replace(way.steps, lowest=slowest, highest=fastest))

    def sound_of(wanted_bpm: float) -> tuple[Plan, Sound]:
        laid = plan
        if abs(wanted_bpm - tempo_bpm) > SAME_TEMPO_BPM:
            changed = {"speed": wanted_bpm / own_bpm} if plan.music else {"tempo_bpm": wanted_bpm}
            laid = coach.lay(replace(request, **changed), heard=heard)  # type: ignore[arg-type]  # both are numbers
        return laid, coach.cue_sound(laid, music=heard.sound if heard else None, voice=voice)

    def take_path(number: int) -> Path:
        if take_file is None:
            return takes_folder() / f"{name}_{number}{ENDING}"
        return take_file if number == 1 else take_file.with_name(f"{take_file.stem}_{number}{take_file.suffix}")

    started = ""

    def begun() -> str:
        nonlocal started
        started = datetime.now().astimezone().isoformat(timespec="seconds")
        return started

    def open_sound() -> Player:
        if device == NO_SOUND:
            return SilentClock("No sound was asked for.")
        from tempo_coach.live.engine import Engine

        return Engine(device=device, microphone=microphone)

    return Go(
        plan=plan,
        sound_of=sound_of,
        make_player=make_player or open_sound,
        make_silent=SilentClock,
        tempo_bpm=tempo_bpm,
        walk_in=walk_in,
        verdict=verdict,
        take_path=take_path,
        begun=begun,
        way=way,
        steady=steady_interpreter,
        setup_of=lambda name: setup_of(name, observed_by),
        record=None if microphone is None else partial(keep_recording, kind=kind),
        wait_for_clap=partial(ClapListener, microphone or "") if on_clap else None,
        keep=None if athlete is None else _make_keep(athlete, lambda: started),
        caution=coach.load_drill(request.drill).caution,
        observed_by=observed_by,
        keys=keys,
        at_once=at_once,
    )


def make_go_of(form: Form, heard: Heard | None = None, *, request: Request | None = None) -> Go:
    """Return everything that a practice of a set-up needs.

    Parameters
    ----------
    form : Form
    heard : Heard or None
        The music of the set-up, heard.
    request : Request or None
        What is to be practised, where a routine says it and not the set-up.

    Raises
    ------
    CoachError
        As :func:`make_go`, or if a line of the set-up cannot be.
    """
    from tempo_coach import coach
    from tempo_coach.ui.form import LISTENED_FOR, OBSERVERS

    observer = form.value("observer")
    request = request or form.request()
    return make_go(
        request,
        heard=heard if request.music else None,
        way=form.way(coach.load_drill(request.drill)),
        observed_by=OBSERVERS[observer],
        microphone="" if observer in LISTENED_FOR else None,
        kind=LISTENED_FOR.get(observer),
        device=form.value("device") or None,
        athlete=form.athlete,
    )


def _make_keep(athlete: str, begun: Callable[[], str]) -> Callable[[Done, str], str]:
    """What puts a take into the history, in a thread of its own; what goes wrong is said, and the take goes on."""
    from tempo_coach import keep

    def put(done: Done, how: str) -> str:
        setup: dict[str, object] = {"file": str(done.path.resolve())} if done.path else {}
        setup["device"] = done.device
        if done.setup.found_by:
            setup |= {"delay_ms": round(1000 * done.setup.delay, 3), "delay_by": done.setup.found_by}
        try:
            keep.keep_take(done.take, athlete=athlete, begun=begun(), card=done.card, ended=how, setup=setup)
        except CoachError as error:
            return f"Not in the history: {error}"
        return ""

    return put


def _make_voice(
    voice: str | Path | None,
) -> tuple[Callable[[float], Sound], Callable[[Scorecard, Scorecard | None, bool], Sound | None]]:
    """What is heard while she walks in, and what is said of a take: her own recordings before the program's."""
    from tempo_coach.live.mix import RATE_HZ, load_cue_sounds
    from tempo_coach.live.spoken import Word, choose_words, find_voice, join_words, load_words, mix_walk_in

    folders = find_voice(voice)

    @cache
    def words() -> dict[str, Word]:
        return load_words(folders, RATE_HZ)

    def walk_in(seconds: float) -> Sound:
        return mix_walk_in(seconds, words(), load_cue_sounds(RATE_HZ)["count"])

    def verdict(card: Scorecard, previous: Scorecard | None, again: bool) -> Sound | None:
        return join_words(choose_words(card, previous, again=again), words(), rate_hz=RATE_HZ)

    return walk_in, verdict


def run_screens(
    go: Go | None = None, *, request: Request | None = None, device: str | None = None, athlete: str = SOMEBODY
) -> tuple[Path | None, ...]:
    """Open the screens and return where the takes of the first practice lie: None is in memory alone.

    Parameters
    ----------
    go : Go or None
        What to practise at once; without it the set-up comes first.
    request, device, athlete
        What the set-up shows.

    Raises
    ------
    CoachError
        If there is no terminal to draw on.
    """
    check_terminal()
    from tempo_coach.pattern.files import list_drills
    from tempo_coach.ui.app import CoachApp
    from tempo_coach.ui.form import make_form

    form = make_form([path.stem for path in list_drills()], request, device=device, athlete=athlete)
    with screen_to_itself() as log:
        app = CoachApp(form, go)
        app.run(mouse=True)
    if app.trouble is not None:
        raise app.trouble
    if app.return_code:
        raise CoachError("the screens ended on their own", hint=f"what went wrong stands in {log}")
    return app.paths


def run_counts(opened: OpenRoutine, *, is_new: bool, device: str | None = None) -> None:
    """Open the screen for setting counts.

    Parameters
    ----------
    opened : OpenRoutine
    is_new : bool
        Whether the routine has no file yet.
    device : str or None
        As in :func:`make_go`.

    Raises
    ------
    CoachError
        If there is no terminal to draw on, or the screen ended on its own.
    """
    check_terminal()
    from tempo_coach.live.silent import SilentClock
    from tempo_coach.music.loudness import find_levels
    from tempo_coach.ui.counts import CountsApp, CountsScreen

    def make_player() -> Player:
        if device == NO_SOUND:
            return SilentClock("No sound was asked for.")
        from tempo_coach.live.engine import Engine

        return Engine(device=device)

    levels = find_levels(opened.heard.sound)
    with screen_to_itself() as log:
        app = CountsApp(CountsScreen(opened, levels, saved=not is_new, make_player=make_player))
        app.run(mouse=True)
    if app.return_code:
        raise CoachError("the screen ended on its own", hint=f"what went wrong stands in {log}")


def check_terminal() -> None:
    """Refuse where the screens would have nowhere to go.

    Raises
    ------
    CoachError
        If input or output is no terminal.
    """
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise CoachError(
            "the screens need a terminal",
            hint="without one, write the cues to a file: tempo-coach cue DRILL --out FILE",
        )


@contextlib.contextmanager
def screen_to_itself(log: Path | None = None) -> Iterator[Path]:
    """Send what is written to descriptor 2 to a log, and let Textual draw on a copy of it.

    Yields
    ------
    Path
        The log.
    """
    path = log or Path(tempfile.gettempdir()) / f"tempo_coach_{os.getpid()}.log"
    real = sys.__stderr__
    if real is None:
        yield path
        return
    real.flush()
    copy = os.dup(2)
    quiet = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    screen = os.fdopen(copy, "w", encoding="utf-8", errors="replace", closefd=False)
    os.dup2(quiet, 2)
    os.close(quiet)
    sys.__stderr__ = screen  # type: ignore[misc]  # where Textual draws
    try:
        yield path
    finally:
        screen.flush()
        sys.__stderr__ = real  # type: ignore[misc]  # as it was
        os.dup2(copy, 2)
        os.close(copy)
        if path.exists() and not path.stat().st_size:
            path.unlink()
