"""The whole flow as a handful of verbs: hear, lay, sound, judge. Read this first.

::

    heard = hear("music.wav")  # beats, counts, eights
    plan = lay(Request("rope_figure_eight", music="music.wav", from_eight=3, eights=4))
    sound = cue_sound(plan)  # music and cues, sample for sample
    card = judge_file("onsets.csv", plan)  # what was done against what was asked

Both front ends, the command line and the screens, call these and have no logic of their own. Nothing here opens a
device or a screen; progress and warnings go to the callables that are passed in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.music.beats import Beats
    from tempo_coach.music.countmap import CountMap
    from tempo_coach.music.sound import Sound
    from tempo_coach.observe.film import Film
    from tempo_coach.observe.film_sound import Alignment
    from tempo_coach.observe.film_trace import Filmed
    from tempo_coach.observe.onsets import ObservedBy, Take
    from tempo_coach.observe.trace import Trace
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.pattern.practice import Cues, Drill
    from tempo_coach.pattern.routine import Routine
    from tempo_coach.pattern.rules import Code, Finding
    from tempo_coach.report.sheet import Sheet
    from tempo_coach.score.card import Scorecard
    from tempo_coach.score.group_card import GroupCard

    Progress = Callable[[float], None]
    Warn = Callable[[str], None]

#: Tempo of even counts where music has no beat to find: an unhurried step (common practice).
EVEN_BPM = 100.0
#: Sound shorter than this (s) holds no counts to be set.
MUCH_TOO_SHORT = 2.0


@dataclass(frozen=True, eq=False)
class Heard:
    """A piece of music as it was heard.

    Parameters
    ----------
    path : str
    sound : Sound
    beats : Beats
    counts : CountMap
    """

    path: str
    sound: Sound
    beats: Beats
    counts: CountMap


@dataclass(frozen=True)
class Request:
    """What is to be practised: a drill, on a tempo or on music.

    Parameters
    ----------
    drill : str
        Name or path.
    music : str or None
        Path. Without it the drill is laid on ``tempo_bpm``, or on its own usual tempo.
    tempo_bpm : float or None
        With music: a hint that decides which level is counted.
    from_eight, eights, cycles, speed, lead_in_counts, cues
        As in :func:`tempo_coach.pattern.layout.lay_out`.
    mirrored : bool
        Whether left and right change places.
    hand : str or None
        The only hand that is practised; by default all of them.
    spoken : bool
        Whether counts are spoken instead of clicked.
    """

    drill: str
    music: str | None = None
    tempo_bpm: float | None = None
    from_eight: int = 1
    eights: int | None = None
    cycles: int | None = None
    speed: float = 1.0
    lead_in_counts: int | None = None
    cues: Cues | None = None
    mirrored: bool = False
    hand: str | None = None
    spoken: bool = False


def hear(
    path: str | Path,
    *,
    tempo_bpm: float | None = None,
    meter: int | None = None,
    one_at: float | None = None,
    taps: str | Path | None = None,
    known: str | Path | None = None,
    anyway: bool = False,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Heard:
    """Find beats, counts and eights in a sound file.

    Parameters
    ----------
    path : str or Path
    tempo_bpm, meter, one_at
        Hints, as in :func:`tempo_coach.music.beats.find_beats`.
    taps : str, Path or None
        A file of the times at which a person tapped along once; they steer, the music puts them right.
    known : str, Path or None
        A file of beats that are taken as they stand. Both kinds are read by
        :func:`tempo_coach.music.exchange.read_beats`.
    anyway : bool
        Whether music without a beat gets even counts, to be put right by hand, instead of an error.
    warn : callable or None
        Told, in a sentence, what is odd about the file.
    progress : callable or None
        Told the share that is done, 0 to 1.

    Raises
    ------
    CoachError
        If it is no sound file, or holds no beat.
    """
    import numpy as np

    from tempo_coach.music.beats import find_beats
    from tempo_coach.music.countmap import CountMap
    from tempo_coach.music.exchange import BeatList, as_heard, read_beats
    from tempo_coach.music.sound import read_sound
    from tempo_coach.times import ascending

    sound = read_sound(path, warn=warn)
    file = taps or known
    listed = read_beats(file, duration=sound.duration) if file else None
    try:
        if listed is not None and not taps:
            beats = as_heard(listed, duration=sound.duration, meter=meter, one_at=one_at)
        else:
            tapped = listed.times if listed is not None else None
            beats = find_beats(
                sound,
                tempo_bpm=tempo_bpm,
                meter=meter,
                one_at=one_at,
                taps=tapped,
                progress=progress,
                warn=warn,
            )
    except CoachError as error:
        if not anyway or error.where is not None or sound.duration < MUCH_TOO_SHORT:
            raise CoachError(error.message, where=error.where or str(path), hint=error.hint) from error
        tempo_bpm = tempo_bpm or EVEN_BPM
        if warn is not None:
            warn(f"{path}: {error.message}; counts are laid evenly at {tempo_bpm:g} a minute, to be put right by hand.")
        even = BeatList(ascending(np.arange(0.0, sound.duration, 60 / tempo_bpm), name="beats"), None)
        beats = as_heard(even, duration=sound.duration, meter=meter, one_at=one_at)
    return Heard(str(path), sound, beats, CountMap.from_beats(beats))


def load_drill(name: str, *, mirrored: bool = False, hand: str | None = None) -> Drill:
    """Return the drill of that name or path, mirrored or for one hand where that is asked for.

    Raises
    ------
    CoachError
        If there is none, it cannot be read, or it has no such hand.
    """
    from tempo_coach.pattern.files import find_drill, read_drill

    drill = read_drill(find_drill(name))
    drill = replace(drill, pattern=drill.pattern.mirrored()) if mirrored else drill
    return drill.with_one_hand(hand) if hand else drill


def lay(
    request: Request, *, heard: Heard | None = None, warn: Warn | None = None, progress: Progress | None = None
) -> Plan:
    """Lay a drill on counts: the plan of one go.

    Parameters
    ----------
    request : Request
    heard : Heard or None
        The request's music where it has been heard already.
    warn, progress : callable or None
        As in :func:`hear`.

    Raises
    ------
    CoachError
        If the drill or the music cannot be read, or the passage does not fit.
    """
    from tempo_coach.music.countmap import CountMap
    from tempo_coach.music.sound import content_hash
    from tempo_coach.pattern.counting import speak_counts
    from tempo_coach.pattern.files import find_drill, pattern_data
    from tempo_coach.pattern.layout import check_tempo, lay_out
    from tempo_coach.pattern.plan import Music

    drill = load_drill(request.drill, mirrored=request.mirrored, hand=request.hand)
    tempo_bpm = None if request.tempo_bpm is None else check_tempo(request.tempo_bpm)
    music = None
    if request.music is None:
        tempo_bpm = tempo_bpm or drill.practice.tempo_bpm
        counts = CountMap.steady(tempo_bpm)
    else:
        heard = heard or hear(request.music, tempo_bpm=tempo_bpm, warn=warn, progress=progress)
        counts = heard.counts
        music = Music(str(Path(request.music).resolve()), content_hash(request.music))
    plan = lay_out(
        drill,
        counts,
        music=music,
        tempo_bpm=tempo_bpm,
        from_eight=request.from_eight,
        eights=request.eights,
        cycles=request.cycles,
        speed=request.speed,
        lead_in_counts=request.lead_in_counts,
        cues=request.cues,
        pattern=pattern_data(find_drill(request.drill)),
    )
    return speak_counts(plan) if request.spoken else plan


def cue_sound(
    plan: Plan,
    *,
    music: Sound | None = None,
    rate_hz: int | None = None,
    voice: str | Path | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Sound:
    """Return what a plan sounds like: music and cues, sample 0 being 0 on the take clock.

    Parameters
    ----------
    plan : Plan
    music : Sound or None
        The plan's music where it has been read already.
    rate_hz : int or None
        By default the music's own rate, or 48 kHz.
    voice : str, Path or None
        Who speaks counts that are to be spoken, as in :func:`tempo_coach.live.spoken.find_voice`.
    warn : callable or None
    progress : callable or None
        Told about which share is done, where music has to be slowed.

    Raises
    ------
    CoachError
        If the music is gone or has changed since the plan was laid.
    """
    from tempo_coach.live.mix import RATE_HZ, cut_passage, load_cue_sounds, mix
    from tempo_coach.live.spoken import find_voice, load_words
    from tempo_coach.music.sound import RATES_HZ, resample
    from tempo_coach.music.stretched import stretch_beside
    from tempo_coach.pattern.counting import SAY

    if rate_hz is not None and not RATES_HZ[0] <= rate_hz <= RATES_HZ[1]:
        raise CoachError(f"expected a rate of {RATES_HZ[0]} to {RATES_HZ[1]} Hz, got {rate_hz}", where="--rate")
    if plan.music is not None:
        music = music or read_music(plan, warn=warn)
    rate = rate_hz or (music.rate_hz if plan.music and music else RATE_HZ)
    spoken = any(sound.startswith(SAY) for sound in plan.cues.sound)
    words = load_words(find_voice(voice), rate) if spoken else {}
    passage = None
    if plan.music is not None and music is not None:
        passage = resample(stretch_beside(cut_passage(plan, music), plan.speed, progress=progress), rate)
    return mix(plan, passage, load_cue_sounds(rate), words=words, rate_hz=rate)


def read_music(plan: Plan, *, warn: Warn | None = None) -> Sound:
    """Return the music of a plan, refusing a file that has changed since.

    Raises
    ------
    CoachError
        If it is gone or another one.
    """
    from tempo_coach.music.sound import content_hash, read_sound

    if plan.music is None:
        raise ValueError("the plan has no music")
    sound = read_sound(plan.music.path, warn=warn)
    if content_hash(plan.music.path) != plan.music.content_hash:
        raise CoachError(
            "the music has changed since the plan was made",
            where=plan.music.path,
            hint="make the plan again, or bring the old file back",
        )
    return sound


def judge_file(
    onsets: str | Path, plan: Plan, *, observed_by: ObservedBy = "file", warn: Warn | None = None
) -> Scorecard:
    """Judge a table of onsets against a plan.

    Raises
    ------
    CoachError
        If the table cannot be read.
    """
    from tempo_coach.observe.onsets import Take, read_onsets

    return judge_take(Take(plan, read_onsets(onsets, hands=plan.hands, warn=warn), observed_by=observed_by))


class Placed(NamedTuple):
    """A take seen in a trace: whether its place on the take clock is known, or how sure the fit is (None: no fit)."""

    take: Take
    absolute: bool
    confidence: float | None


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
    """Put a trace beside a plan: its circles, or its flights where a hand throws and catches.

    Parameters
    ----------
    trace : Trace
    plan : Plan
    point, columns, against, period
        As in :func:`tempo_coach.observe.following.follow`.
    clap, started
        What places the trace on the take clock, as in :func:`tempo_coach.observe.following.place`. Without them it is
        placed where it fits best, and how early or late all of it was cannot be told.
    warn : callable or None
        Told, in a sentence, what the trace does not show, and a place that is not sure.

    Raises
    ------
    CoachError
        If nothing in the trace answers the plan.
    """
    from tempo_coach.observe.following import follow, place, to_take

    followed = follow(trace, plan, point=point, columns=columns, against=against, period=period)
    placing = place(followed, trace, clap=clap, started=started)
    fitted = clap is None and started is None
    if warn:
        for sentence in (*followed.left_out, placing.doubt):
            if sentence:
                warn(f"{sentence}.")
    absolute = not fitted and followed.absolute
    return Placed(to_take(followed, placing), absolute, placing.confidence if fitted else None)


def judge_placed(placed: Placed) -> Scorecard:
    """Judge a take that was seen in a trace: one scorecard, without a bias where its place is not known."""
    from tempo_coach.score.fitted import judge_fitted

    if placed.absolute:
        return judge_take(placed.take)
    return judge_fitted(placed.take, confidence=placed.confidence)


def align_film(
    film: Film,
    plan: Plan,
    *,
    clap: tuple[float, float] | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Alignment:
    """Put a film on a plan's clock by the music and cues in its sound, or by a clap.

    Parameters
    ----------
    film : Film
        As :func:`tempo_coach.observe.film.look_at_film` gives it.
    plan : Plan
    clap : (on film, on take) or None
        Seconds at which both clocks saw one event; None takes the sound.
    warn, progress : callable or None

    Raises
    ------
    CoachError
        If the music is gone, or not surely found in the film's sound.
    """
    from tempo_coach.observe import film_take

    if clap is not None:
        return film_take.align_by_clap(film, clap)
    return film_take.align_film(film, cue_sound(plan, warn=warn), warn=warn, progress=progress)


def place_film(
    filmed: Filmed, plan: Plan, alignment: Alignment, *, period: float | None = None, warn: Warn | None = None
) -> Placed:
    """Put what was followed in a film beside a plan.

    Parameters
    ----------
    filmed : Filmed
        As :func:`tempo_coach.observe.film_trace.follow_film` gives it.
    plan : Plan
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
    from tempo_coach.observe.film_take import CONSTANT, around_take, onto_take, to_film_take

    line = alignment.line
    trace = around_take(onto_take(filmed, line), plan, where=filmed.film.path)
    second = (filmed.names[1],) if len(filmed.names) > 1 else ()
    placed = place_trace(trace, plan, point=filmed.names[0], against=second, period=period, clap=(0.0, 0.0), warn=warn)
    take, hidden = to_film_take(placed.take, filmed, line)
    if warn:
        if hidden:
            warn(f"{hidden} of {len(placed.take.plan.moments)} moments were hidden or not filmed: not scored.")
        warn(f"{CONSTANT[0].upper()}{CONSTANT[1:]}.")
    return placed._replace(take=take)


def lay_every_count(
    end: float,
    *,
    music: str | None = None,
    tempo_bpm: float | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Plan:
    """Return a plan without a drill: a moment on every count of a tempo or of a piece of music.

    Parameters
    ----------
    end : float
        Seconds on the take clock that it has to reach, where there is no music.
    music, tempo_bpm
        As in :class:`Request`; one of them has to be there.
    warn, progress : callable or None
        As in :func:`hear`.
    """
    from tempo_coach.music.countmap import CountMap
    from tempo_coach.music.sound import content_hash
    from tempo_coach.pattern import every_count
    from tempo_coach.pattern.layout import check_tempo
    from tempo_coach.pattern.plan import Music

    tempo_bpm = None if tempo_bpm is None else check_tempo(tempo_bpm)
    if music is not None:
        heard = hear(music, tempo_bpm=tempo_bpm, warn=warn, progress=progress)
        file = Music(str(Path(music).resolve()), content_hash(music))
        return every_count.lay_every_count(heard.counts, end=end, music=file)
    if tempo_bpm is None:
        raise ValueError("expected a tempo or music")
    return every_count.lay_every_count(CountMap.steady(tempo_bpm), end=end, tempo_bpm=tempo_bpm)


def judge_members(
    sources: Sequence[str],
    *,
    lay_plan: Callable[[float], Plan] | None = None,
    later: Mapping[str, float] | None = None,
    metres: Mapping[str, float] | None = None,
    shifts: Mapping[str, float] | None = None,
    partners: Mapping[str, str] | None = None,
    warn: Warn | None = None,
) -> GroupCard:
    """Judge a group from its files.

    Parameters
    ----------
    sources : sequence of str
        Takes, tables of onsets and traces, a member each, or tables with a column member; ``NAME=FILE`` says whose.
    lay_plan : callable or None
        Returns the plan of tables and traces, told the time of the last onset; None for that of the takes.
    later : mapping of member to float, optional
        Seconds from the clock of a member's file to the take clock.
    metres, shifts, partners
        As in :func:`tempo_coach.score.group.judge_group`.
    warn : callable or None

    Raises
    ------
    CoachError
        If a file cannot be read, a name comes twice, or nothing says what the plan is.
    """
    from tempo_coach.observe.gather import gather
    from tempo_coach.score.group import judge_group, judge_mix

    takes, mixed = gather(sources, lay_plan=lay_plan, later=later or {}, warn=warn)
    if mixed is not None:
        return judge_mix(mixed)
    return judge_group(takes, metres=metres, shifts=shifts, partners=partners)


def judge_take(take: Take) -> Scorecard:
    """Judge a take: one scorecard."""
    from tempo_coach.score.card import judge

    return judge(take)


@dataclass(frozen=True, eq=False)
class OpenRoutine:
    """A routine with its music heard and its corrections made.

    Parameters
    ----------
    path : Path
        Its file.
    routine : Routine
    heard : Heard
        The music, with the counts as found.
    counts : CountMap
        With the corrections.
    said : tuple of str
        What has to be said: music that moved or changed, corrections that found no place, places that do not fit.
    """

    path: Path
    routine: Routine
    heard: Heard
    counts: CountMap
    said: tuple[str, ...]


def open_routine(path: str | Path, *, warn: Warn | None = None, progress: Progress | None = None) -> OpenRoutine:
    """Read a routine, find and hear its music, and make its corrections.

    Parameters
    ----------
    path : str or Path
    warn, progress : callable or None
        As in :func:`hear`.

    Raises
    ------
    CoachError
        If the routine or its music cannot be read, or the music is gone.
    """
    from tempo_coach.pattern.routinefile import find_music, read_routine

    routine = read_routine(path)
    music = routine.music
    found = find_music(path, music)
    heard = hear(
        found.path,
        tempo_bpm=music.tempo_bpm,
        meter=music.meter,
        one_at=music.one_at,
        anyway=True,
        warn=warn,
        progress=progress,
    )
    return correct_routine(Path(path), routine, heard, said=found.said)


def correct_routine(path: Path, routine: Routine, heard: Heard, *, said: tuple[str, ...] = ()) -> OpenRoutine:
    """Return a routine with its corrections made on music that has been heard already."""
    from tempo_coach.music.corrections import replay, say_correction
    from tempo_coach.pattern.routine import check_fit

    counts, lost = replay(heard.counts, routine.corrections)
    lost_said = tuple(f"a correction found no place any more ({say_correction(each)}): {why}." for each, why in lost)
    fits = tuple(check_fit(routine, counts, heard.sound.duration))
    return OpenRoutine(path, routine, heard, counts, (*said, *lost_said, *fits))


def check_rules(opened: OpenRoutine, code: str | Path) -> tuple[Code, tuple[Finding, ...]]:
    """Hold a routine against a table of rules, by its name or path.

    Raises
    ------
    CoachError
        If there is no such table, or it cannot be read.
    """
    from tempo_coach.pattern.rules import check_routine, read_code

    table = read_code(code)
    return table, check_routine(opened.routine, opened.counts, table)


def sheet_of(opened: OpenRoutine) -> Sheet:
    """Return the count sheet of a routine.

    Raises
    ------
    CoachError
        If a drill that is laid on it cannot be read.
    """
    from tempo_coach.report.sheet import make_sheet

    def load(name: str, mirrored: bool) -> Drill:
        beside = opened.path.parent / name  # a drill of her own lies beside her routine
        return load_drill(str(beside) if beside.suffix == ".toml" else name, mirrored=mirrored)

    return make_sheet(opened.routine, opened.counts, opened.heard.sound.duration, load)


def begin_routine(
    path: Path,
    music: str | Path,
    *,
    tempo_bpm: float | None = None,
    meter: int | None = None,
    one_at: float | None = None,
    taps: str | Path | None = None,
    known: str | Path | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> OpenRoutine:
    """Return a new routine on a piece of music, not written yet.

    Parameters
    ----------
    path : Path
        Where its file is to be.
    music : str or Path
    tempo_bpm, meter, one_at, taps, known, warn, progress
        As in :func:`hear`. What was tapped or is known becomes corrections, so that the file holds it.

    Raises
    ------
    CoachError
        If the music cannot be read.
    """
    from tempo_coach.music.corrections import Correction, corrections_of_beats
    from tempo_coach.music.sound import content_hash
    from tempo_coach.pattern.routine import MusicFile, Routine
    from tempo_coach.pattern.routinefile import relative_to

    heard = hear(
        music,
        tempo_bpm=tempo_bpm,
        meter=meter,
        one_at=one_at,
        taps=taps,
        known=known,
        anyway=True,
        warn=warn,
        progress=progress,
    )
    corrections: tuple[Correction, ...] = ()
    if taps or known:
        first = float(heard.counts.seconds_at(0))
        done = corrections_of_beats(heard.beats.times.tolist(), heard.beats.rests, whole=heard.sound.duration)
        corrections = (*done, Correction("one", first))
    file = MusicFile(relative_to(music, path.parent), content_hash(music), tempo_bpm, meter, one_at)
    routine = Routine(path.stem.replace("_", " "), file, corrections=corrections)
    return correct_routine(path, routine, heard)


def save_routine(opened: OpenRoutine) -> OpenRoutine:
    """Write a routine, with where its music is now, and return it as it was written.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    from tempo_coach.music.sound import content_hash
    from tempo_coach.pattern.routinefile import relative_to
    from tempo_coach.pattern.routinewriter import write_routine

    file = opened.heard.path
    music = replace(opened.routine.music, path=relative_to(file, opened.path.parent), content_hash=content_hash(file))
    saved = replace(opened, routine=replace(opened.routine, music=music))
    write_routine(saved.path, saved.routine)
    return saved
