"""Values of a practice before it starts and after each take, and a take observed in another way once it is over."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from tempo_coach.live.practice.session import Way
from tempo_coach.live.setup.calibration import Setup
from tempo_coach.observe.take.take_file import ENDING, read_take_file
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Mapping
    from contextlib import AbstractContextManager
    from pathlib import Path

    from tempo_coach.coach.notices import News
    from tempo_coach.coach.routine_course import RoutineCourse
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.live.inputs.clap_listener import ClapListener
    from tempo_coach.live.inputs.source import LiveSource
    from tempo_coach.live.notices import Notice
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.observe.trace.trace import Trace
    from tempo_coach.pattern.drill.drill import TempoSteps
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.score.card import Scorecard


@dataclass(frozen=True, eq=False)
class PracticeContext:
    """Everything that a practice needs from outside.

    Parameters
    ----------
    plan : Plan
        Of the first take.
    sound_of : callable
        Returns plan and samples of a take at a tempo in beats a minute.
    tempo_bpm : float
        Of the first take, as it is heard.
    make_player : callable
        Opens the sound.
    make_silent : callable
        Returns a player without sound, given the reason.
    take_path : callable or None
        Returns the file of a take, given its number; None keeps takes in memory.
    begun : callable
        Returns date and time, ISO 8601.
    walk_in : callable or None
        Returns the sound of a walk-in of that many seconds.
    verdict : callable or None
        Returns what is said of a take, given the card, the one before and whether another take follows.
    steady : callable
        Returns a context in which a take runs: whatever makes the interpreter keep time.
    keep : callable or None
        Puts a take into the history, given how it ended; returns why it could not.
    before : callable or None
        Returns what the history has of her takes like one, given that take.
    record : callable or None
        Writes what the microphone took beside a take's file, given what was played, how, and the take; returns the
        take as it was heard, or as it was with what the person has to know.
    setup_of : callable
        Returns what a take through a device has to take into account, given the device's name.
    source : LiveSource or None
        What observes while she moves, where it is neither a key nor the microphone.
    wait_for_clap : callable or None
        Opens a microphone that is listened to for a clap, with which the practice begins as with Enter.
    caution : str
        What she has to mind before she starts.
    worn_at : tuple of str or None
        Where a phone that is worn feels the cycles; None where nothing is said of it.
    athlete : str
        In whose name takes are kept; empty for nobody's.
    course : RoutineCourse or None
        What the routine has, where one is run through.
    tempi : TempoSteps or None
        Between which tempi, and in which steps, she may go slower or faster from take to take.
    loops : bool
        Whether the passage begins again at its end until Enter.
    way, observed_by, keys, at_once
        As in :func:`tempo_coach.live.practice.course.begin`.
    """

    plan: Plan
    sound_of: Callable[[float], tuple[Plan, Sound]]
    make_player: Callable[[], Player]
    make_silent: Callable[[Notice | None], Player]
    tempo_bpm: float
    take_path: Callable[[int], Path] | None = None
    begun: Callable[[], str] = lambda: ""
    way: Way = field(default_factory=Way)
    walk_in: Callable[[float], Sound] | None = None
    verdict: Callable[[Scorecard, Scorecard | None, bool], Sound | None] | None = None
    steady: Callable[[], AbstractContextManager[object]] = nullcontext
    keep: Keep | None = None
    before: Callable[[Take], EarlierTakes] | None = None
    record: Callable[[Sound, Player, FinishedTake], FinishedTake] | None = None
    setup_of: Callable[[str], Setup] = lambda _: Setup()
    source: LiveSource | None = None
    wait_for_clap: Callable[[], ClapListener] | None = None
    caution: str = ""
    worn_at: tuple[str, ...] | None = None
    observed_by: ObservedBy = "tap"
    keys: str = ""
    at_once: bool = False
    athlete: str = ""
    course: RoutineCourse | None = None
    tempi: TempoSteps | None = None
    loops: bool = False


@dataclass(frozen=True, eq=False)
class EarlierTakes:
    """An athlete's earlier takes of one drill in the history.

    Parameters
    ----------
    kept : int
        How many takes there are.
    card : Scorecard or None
        Of the newest of them that can be compared; None where there is none.
    day : str
        On which that was.
    """

    kept: int = 0
    card: Scorecard | None = None
    day: str = ""


@dataclass(frozen=True, eq=False)
class FinishedTake:
    """A take that is over, judged.

    Parameters
    ----------
    path : Path or None
        Where it lies; None where it is in memory alone.
    told : tuple of News
        What the person has to know: that its file did not take it, what was seen of it and what was not.
    unkept : News or None
        Why it is not in the history.
    homeless : TakeWriter or None
        What writes it to another place, where its own did not take it.
    device : str
        What it was played through.
    setup : Setup
        What was taken out of its onsets for the setup's sake.
    before : EarlierTakes
        What the history had before the first take of a practice.
    placed : bool
        Whether its place on the take clock is known.
    film, on_take : FilmTrace and Trace, or None
        What was followed in its film, and that on the take clock.
    archived : (int, str) or None
        Its number in the history and whose take it is, where it was read from there.
    """

    take: Take
    card: Scorecard
    path: Path | None
    told: tuple[News, ...] = ()
    unkept: News | None = None
    homeless: TakeWriter | None = None
    device: str = ""
    setup: Setup = field(default_factory=Setup)
    before: EarlierTakes = field(default_factory=EarlierTakes)
    placed: bool = True
    film: FilmTrace | None = None
    on_take: Trace | None = None
    archived: tuple[int, str] | None = None


#: Puts a take into the history, given how it was observed or ended, and returns why it could not.
Keep = Callable[[FinishedTake, str], "News | None"]


def write_beside(
    done: FinishedTake, *, how: str, extra: Mapping[str, object] | None = None, keep: Keep | None = None
) -> FinishedTake:
    """Write a take that was observed anew to a file of its own, and return it with that file.

    Parameters
    ----------
    done : FinishedTake
        The take as observed anew, with the file of the one that was practised.
    how : str
        How it was observed, as the file's name and its end have it.
    extra : mapping or None
        What else its head says.
    keep : callable or None
        Puts it into the history, as in :class:`PracticeContext`.
    """
    written = _write_beside(done, how=how, extra=extra or {})
    return written if keep is None else replace(written, unkept=keep(written, how))


def _write_beside(done: FinishedTake, *, how: str, extra: Mapping[str, object]) -> FinishedTake:
    practised = done.homeless.path if done.homeless is not None else done.path
    if practised is None:
        return done
    take = done.take
    writer = TakeWriter(
        free_name(practised, how),
        take.plan,
        observed_by=take.observed_by,
        begun=done.homeless.begun if done.homeless is not None else read_take_file(practised).begun,
        extra=dict(extra),
    )
    rows = list(zip(take.onsets.time.tolist(), take.onsets.hand, strict=True))
    writer.finish(
        rows,
        how=how,
        noise_floor_ms=take.noise_floor_ms,
        unmeasurable=take.unmeasurable,
        calibrated=take.calibrated,
    )
    return after_writing(done, writer)


def after_writing(done: FinishedTake, writer: TakeWriter) -> FinishedTake:
    """Return a take with the path of its file, or with a function that writes it elsewhere."""
    told = tuple(each for each in done.told if not is_unwritten(each))
    failed = why_unwritten(writer)
    if failed is None:
        return replace(done, path=writer.path, told=told, homeless=None)
    return replace(done, path=None, told=(failed, *told), homeless=writer)


def why_unwritten(writer: TakeWriter) -> Reason | None:
    """Return why a take's file cannot be written; None where it can."""
    return None if writer.failure is None else Reason(Why.UNWRITTEN, (writer.path, writer.failure))


def is_unwritten(news: News) -> bool:
    """Return whether news say that a take's file cannot be written."""
    return isinstance(news, Reason) and news.code is Why.UNWRITTEN


def free_name(path: Path, how: str, *, ending: str = ENDING) -> Path:
    """Return an unused name beside a take's file: the take's own, then how it was observed or shown."""
    stem = path.name.removesuffix(ENDING)
    numbers = (f"{stem}_{how}{'' if k == 1 else f'_{k}'}{ending}" for k in range(1, 1000))
    return next((path.with_name(name) for name in numbers if not path.with_name(name).exists()), path)
