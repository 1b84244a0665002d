"""Plans of drills and routines on counts, and their sound."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.coach.drills import drill_beside, load_drill
from tempo_coach.coach.hearing import Heard, read_music
from tempo_coach.coach.routines import hear_counts
from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from tempo_coach.coach.routines import OpenRoutine
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.pattern.drill.drill import Cues, Drill
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.pattern.routine.routine import Laid
    from tempo_coach.reasons import Warn
    from tempo_coach.share_done import Progress


@dataclass(frozen=True)
class Request:
    """A request to practise a drill, at a tempo or on music.

    Parameters
    ----------
    drill : str
        Name or path.
    music : str or None
        Path of a sound file, or of a routine with its counts as corrected. Without it the drill is laid on
        ``tempo_bpm``, or on its own default tempo.
    tempo_bpm : float or None
        With music: a hint that decides which level is counted.
    from_eight, from_count, eights, cycles, speed, lead_in_counts, cues
        As in :func:`tempo_coach.pattern.plan.layout.lay_out`.
    mirrored : bool
        Whether left and right change places.
    hand : str or None
        The only hand that is practised; by default all of them.
    spoken : bool
        Whether counts are spoken instead of clicked.
    tolerance : float
        How many times wider than the drill's own.
    every_count : bool
        Whether every count clicks besides, also where nothing is asked for.
    """

    drill: str
    music: str | None = None
    tempo_bpm: float | None = None
    from_eight: int = 1
    from_count: float = 1.0
    eights: int | None = None
    cycles: int | None = None
    speed: float = 1.0
    lead_in_counts: int | None = None
    cues: Cues | None = None
    mirrored: bool = False
    hand: str | None = None
    spoken: bool = False
    tolerance: float = 1.0
    every_count: bool = False

    @property
    def last_eight(self) -> int | None:
        """The last eight; None where it is open."""
        return None if self.eights is None else self.from_eight + self.eights - 1


def check_request(request: Request) -> None:
    """Refuse whatever of a request can be refused before its music is heard.

    Raises
    ------
    CoachError
        If a number is out of its range.
    """
    from tempo_coach.pattern.plan.layout import check_numbers, check_tempo

    if request.tempo_bpm is not None:
        check_tempo(request.tempo_bpm)
    check_numbers(
        speed=request.speed,
        from_eight=request.from_eight,
        eights=request.eights,
        cycles=request.cycles,
        lead_in_counts=request.lead_in_counts,
    )


def hear_request(request: Request, *, warn: Warn | None = None, progress: Progress | None = None) -> Heard:
    """Hear the music of a request, after everything else has been checked.

    Raises
    ------
    CoachError
        If a number is out of its range, the music cannot be read, or is too short for the eight to begin with.
    ValueError
        If it has no music.
    """
    if request.music is None:
        raise ValueError("the request has no music")
    check_request(request)
    return hear_counts(
        request.music, tempo_bpm=request.tempo_bpm, from_eight=request.from_eight, warn=warn, progress=progress
    )


def lay(
    request: Request, *, heard: Heard | None = None, warn: Warn | None = None, progress: Progress | None = None
) -> Plan:
    """Lay a drill on counts: the plan of one go.

    Parameters
    ----------
    heard : Heard or None
        The request's music where it has been heard already.
    warn, progress : callable or None
        As in :func:`hear`.

    Raises
    ------
    CoachError
        If the drill or the music cannot be read, or the passage does not fit.
    """
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.drill.drill_file import find_drill, pattern_data
    from tempo_coach.pattern.plan.cues import speak_counts
    from tempo_coach.pattern.plan.layout import check_tempo, lay_out
    from tempo_coach.pattern.plan.plan import Music
    from tempo_coach.resources import content_hash

    drill = load_drill(request.drill, mirrored=request.mirrored, hand=request.hand)
    tempo_bpm = None if request.tempo_bpm is None else check_tempo(request.tempo_bpm)
    music = None
    if request.music is None:
        tempo_bpm = tempo_bpm or drill.practice.tempo_bpm
        counts = CountMap.steady(tempo_bpm)
    else:
        heard = heard or hear_request(request, warn=warn, progress=progress)
        counts = heard.counts
        music = Music(str(Path(heard.path).resolve()), content_hash(heard.path))
    plan = lay_out(
        drill,
        counts,
        music=music,
        tempo_bpm=tempo_bpm,
        from_eight=request.from_eight,
        from_count=request.from_count,
        eights=request.eights,
        cycles=request.cycles,
        speed=request.speed,
        lead_in_counts=request.lead_in_counts,
        cues=request.cues,
        every_count=request.every_count,
        pattern=pattern_data(find_drill(request.drill)),
    )
    plan = replace(plan, allowance=request.tolerance * plan.allowance) if request.tolerance != 1 else plan
    return speak_counts(plan) if request.spoken else plan


def check_laid_on(path: str | Path, from_eight: int | None = None, to_eight: int | None = None) -> None:
    """Refuse eights of a routine on which nothing is laid, before its music is heard.

    Raises
    ------
    CoachError
        If the routine cannot be read, or nothing is laid there.
    """
    from tempo_coach.pattern.routine.routine_file import read_routine
    from tempo_coach.pattern.routine.run_through import check_laid

    check_laid(read_routine(path), from_eight, to_eight)


def lay_routine(opened: OpenRoutine, request: Request) -> Plan:
    """Lay a whole routine on its music: the plan of a run-through, or of some of its eights.

    Parameters
    ----------
    request : Request
        Eights, speed, lead-in and cues; the drills are those of the routine.

    Raises
    ------
    CoachError
        If nothing is laid there, or a drill cannot be read.
    """
    from tempo_coach.pattern.drill.drill import LEAD_IN_COUNTS
    from tempo_coach.pattern.drill.drill_file import find_drill, pattern_data
    from tempo_coach.pattern.plan.cues import speak_counts
    from tempo_coach.pattern.plan.plan import Music
    from tempo_coach.pattern.routine.run_through import run_through
    from tempo_coach.resources import content_hash

    def load(laid: Laid) -> tuple[Drill, dict[str, object]]:
        drill = drill_beside(opened.path, laid.drill)
        return load_drill(drill, mirrored=laid.mirrored, hand=laid.hand or None), pattern_data(find_drill(drill))

    plan = run_through(
        opened.routine,
        opened.counts,
        load,
        name=opened.path.stem,
        music=Music(str(Path(opened.heard.path).resolve()), content_hash(opened.heard.path)),
        from_eight=request.from_eight,
        eights=request.eights,
        speed=request.speed,
        lead_in_counts=LEAD_IN_COUNTS if request.lead_in_counts is None else request.lead_in_counts,
        cues=request.cues or "all",
        every_count=request.every_count,
    )
    return speak_counts(plan) if request.spoken else plan


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

    Raises
    ------
    CoachError
        If the music cannot be read, or the tempo is out of its range.
    ValueError
        If there is neither a tempo nor music.
    """
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.plan import every_count
    from tempo_coach.pattern.plan.layout import check_tempo
    from tempo_coach.pattern.plan.plan import Music
    from tempo_coach.resources import content_hash

    tempo_bpm = None if tempo_bpm is None else check_tempo(tempo_bpm)
    if music is not None:
        heard = hear_counts(music, tempo_bpm=tempo_bpm, warn=warn, progress=progress)
        file = Music(str(Path(heard.path).resolve()), content_hash(heard.path))
        return every_count.lay_every_count(heard.counts, end=end, music=file)
    if tempo_bpm is None:
        raise ValueError("expected a tempo or music")
    return every_count.lay_every_count(CountMap.steady(tempo_bpm), end=end, tempo_bpm=tempo_bpm)


def cue_sound(
    plan: Plan,
    *,
    music: Sound | None = None,
    rate_hz: int | None = None,
    voice: str | Path | None = None,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Sound:
    """Return the sound of a plan: music and cues, sample 0 at 0 on the take clock.

    Parameters
    ----------
    music : Sound or None
        The plan's music where it has been read already.
    rate_hz : int or None
        By default the music's own rate, or 48 kHz.
    voice : str, Path or None
        Who speaks counts that are to be spoken, as in :func:`tempo_coach.live.mixing.spoken.find_voice`.
    warn : callable or None
    progress : callable or None
        Told about which share is done, where music has to be slowed.

    Raises
    ------
    CoachError
        If the music is gone or has changed since the plan was laid.
    """
    from tempo_coach.live.mixing.mix import RATE_HZ, cut_passage, load_cue_sounds, mix
    from tempo_coach.live.mixing.spoken import find_voice, load_words
    from tempo_coach.music.files.sound import RATES_HZ, resample
    from tempo_coach.music.files.stretch import stretch_cached
    from tempo_coach.pattern.plan.cues import SAY

    if rate_hz is not None and not RATES_HZ[0] <= rate_hz <= RATES_HZ[1]:
        raise CoachError("sound.rate_asked", where="--rate", least_hz=RATES_HZ[0], most_hz=RATES_HZ[1], rate_hz=rate_hz)
    if plan.music is not None:
        music = music or read_music(plan, warn=warn)
    rate = rate_hz or (music.rate_hz if plan.music and music else RATE_HZ)
    spoken = any(sound.startswith(SAY) for sound in plan.cues.sound)
    words = load_words(find_voice(voice), rate) if spoken else {}
    passage = None
    if plan.music is not None and music is not None:
        passage = resample(stretch_cached(cut_passage(plan, music), plan.speed, progress=progress), rate)
    return mix(plan, passage, load_cue_sounds(rate), words=words, rate_hz=rate)
