"""Routines: music, its counts as corrected, and what is laid on its eights."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.coach.drills import drill_beside, load_drill
from tempo_coach.coach.hearing import Heard, hear
from tempo_coach.errors import CoachError
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.music.counts.corrections import Correction
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.counts.music_map import MapRow
    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.pattern.routine.routine import CutFrom, Routine
    from tempo_coach.pattern.routine.rules import RuleCheck, RuleTable
    from tempo_coach.reasons import Warn
    from tempo_coach.report.words.sheet import Sheet
    from tempo_coach.share_done import Progress


#: What stands after the name of a routine that was not saved when the program was ended.
_UNSAVED = "_unsaved"


@dataclass(frozen=True, eq=False)
class OpenRoutine:
    """A routine with its music heard and its corrections applied.

    Parameters
    ----------
    path : Path
        Its file.
    heard : Heard
        The music, with the counts as found.
    counts : CountMap
        With the corrections.
    said : tuple of Reason
        What has to be said: music that moved or changed, corrections that found no place, places that do not fit.
    """

    path: Path
    routine: Routine
    heard: Heard
    counts: CountMap
    said: tuple[Reason, ...]


def open_routine(path: str | Path, *, warn: Warn | None = None, progress: Progress | None = None) -> OpenRoutine:
    """Read a routine, find and hear its music, and apply its corrections.

    Parameters
    ----------
    warn, progress : callable or None
        As in :func:`hear`.

    Raises
    ------
    CoachError
        If the routine or its music cannot be read, or the music is gone.
    """
    from tempo_coach.pattern.routine.routine_file import find_music, read_routine

    routine = read_routine(path)
    music = routine.music
    found = find_music(path, music)
    if routine.cut is not None:
        heard = _hear_cut(found.path, routine.cut, warn=warn, progress=progress)
        return correct_routine(Path(path), routine, heard, said=found.said)
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


def _hear_cut(path: Path, made: CutFrom, *, warn: Warn | None, progress: Progress | None) -> Heard:
    """Return cut music with the counts that were cut along with it, so that none have to be found."""
    import numpy as np

    from tempo_coach.music.beats.finder import Beats, Rest
    from tempo_coach.music.counts.renumber import WALTZ, modal_length
    from tempo_coach.music.files.sound_file import read_sound

    sound = read_sound(path, warn=warn, progress=progress)
    counts = made.counts()
    said = np.array([counts.place(float(k)).count for k in range(counts.beats.size)])
    rests = []
    for start, end in counts.pauses:
        before = int(np.searchsorted(counts.beats, start, side="right")) - 1
        rests.append(Rest(float(counts.beats[before]), end))
    bar = (np.round(said).astype(np.int64) - 1) % (3 if modal_length(counts) == WALTZ else 4) + 1
    beats = Beats(counts.beats, bar, np.ones(counts.beats.size), tuple(rests), (), sound.duration, counts.eights)
    return Heard(str(path), sound, beats, counts)


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
    """Return a new, unwritten routine on a piece of music.

    Parameters
    ----------
    path : Path
        Where its file is to be.
    tempo_bpm, meter, one_at, taps, known, warn, progress
        As in :func:`hear`. What was tapped or is known becomes corrections, so that the file holds it.

    Raises
    ------
    CoachError
        If the music cannot be read.
    """
    from tempo_coach.music.counts.corrections import Correction, corrections_of_beats
    from tempo_coach.pattern.routine.routine import MusicFile, Routine
    from tempo_coach.pattern.routine.routine_file import relative_to
    from tempo_coach.resources import content_hash

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
        done = corrections_of_beats(heard.beats.times.tolist(), heard.beats.rests, whole=heard.duration)
        corrections = (*done, Correction("one", first))
    file = MusicFile(relative_to(music, path.parent), content_hash(music), tempo_bpm, meter, one_at)
    routine = Routine(path.stem.replace("_", " "), file, corrections=corrections)
    return correct_routine(path, routine, heard)


def correct_routine(path: Path, routine: Routine, heard: Heard, *, said: tuple[Reason, ...] = ()) -> OpenRoutine:
    """Return a routine with its corrections applied to music that has been heard already."""
    from tempo_coach.music.counts.corrections import replay
    from tempo_coach.pattern.routine.routine import check_fit

    counts, lost = replay(heard.counts, routine.corrections)
    lost_said = tuple(Reason(Why.CORRECTION_LOST, (each, why)) for each, why in lost)
    fits = tuple(check_fit(routine, counts, heard.duration))
    return OpenRoutine(path, routine, heard, counts, (*said, *lost_said, *fits))


def save_routine(opened: OpenRoutine) -> OpenRoutine:
    """Write a routine with the present location of its music, and return it as written.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    from tempo_coach.pattern.routine.routine_file import relative_to
    from tempo_coach.pattern.routine.routine_writer import write_routine
    from tempo_coach.resources import content_hash

    file = opened.heard.path
    music = replace(opened.routine.music, path=relative_to(file, opened.path.parent), content_hash=content_hash(file))
    saved = replace(opened, routine=replace(opened.routine, music=music))
    write_routine(saved.path, saved.routine)
    return saved


def rescue_routine(opened: OpenRoutine) -> Path:
    """Write an unsaved routine beside its file under an unused name, and return that name.

    Raises
    ------
    CoachError
        If it cannot be written.
    """
    names = (f"{opened.path.stem}{_UNSAVED}{'' if k == 1 else f'_{k}'}.toml" for k in range(1, 1000))
    path = next(path for path in map(opened.path.with_name, names) if not path.exists())
    return save_routine(replace(opened, path=path)).path


def tell_rescued(opened: OpenRoutine) -> OpenRoutine:
    """Return a note on an earlier unsaved version beside a routine's file."""
    path = opened.path.with_name(f"{opened.path.stem}{_UNSAVED}.toml")
    if not path.exists():
        return opened
    return replace(opened, said=(Reason(Why.RESCUED, (path.name,)), *opened.said))


def check_rules(opened: OpenRoutine, code: RuleTable, *, age: str = "seniors") -> tuple[RuleCheck, ...]:
    """Check a routine against a table of rules."""
    from tempo_coach.pattern.routine.rules import check_routine

    return check_routine(opened.routine, opened.counts, code, age=age)


def sheet_of(opened: OpenRoutine, *, music_map: Sequence[MapRow] = ()) -> Sheet:
    """Return the count sheet of a routine.

    Parameters
    ----------
    opened : OpenRoutine
    music_map : sequence of MapRow
        Of its music, to be told on it.

    Raises
    ------
    CoachError
        If a drill that is laid on it cannot be read.
    """
    from tempo_coach.report.words.sheet import make_sheet

    def load(name: str, mirrored: bool) -> Drill:
        return load_drill(drill_beside(opened.path, name), mirrored=mirrored)

    return make_sheet(opened.routine, opened.counts, opened.heard.duration, load, music_map=music_map)


def read_taps(opened: OpenRoutine, taps: Sequence[float], *, all_of_it: bool) -> tuple[tuple[Correction, ...], int]:
    """Assign taps along a routine's music to its beats.

    Parameters
    ----------
    taps : sequence of float
        Seconds of the music.
    all_of_it : bool
        Whether they stand for the counts of the whole music; else only for those of the stretch that they cover.

    Returns
    -------
    corrections : tuple of Correction
        That put the counts where they were tapped.
    number : int
        How many counts that are.

    Raises
    ------
    CoachError
        If nothing can be followed in them.
    """
    from tempo_coach.music.beats.tapped import place_taps
    from tempo_coach.music.counts.corrections import corrections_of_beats

    tapped = place_taps(opened.heard.sound, taps)
    whole = opened.heard.duration if all_of_it else None
    return corrections_of_beats(tapped.times.tolist(), tapped.pauses, whole=whole), tapped.times.size


def is_routine(path: str | Path) -> bool:
    """Return whether a file is a routine: TOML that names its music."""
    from tempo_coach.pattern.drill.toml_tables import read_table

    try:
        return "music" in read_table(path, what="routine").data
    except CoachError:
        return False  # whoever reads it says why


def hands_of(path: str | Path) -> tuple[str, ...]:
    """Return the hands of all drills in a routine, in order of place.

    Raises
    ------
    CoachError
        If the routine or a drill of it cannot be read.
    """
    from tempo_coach.pattern.routine.routine_file import read_routine

    each = [
        load_drill(drill_beside(Path(path), laid.drill), mirrored=laid.mirrored, hand=laid.hand or None)
        for laid in read_routine(path).laid
    ]
    return tuple(dict.fromkeys(hand for drill in each for hand in drill.pattern.hand_names))


def hear_counts(
    path: str | Path,
    *,
    tempo_bpm: float | None = None,
    from_eight: int = 1,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Heard:
    """Return the counts of a sound file, or the corrected ones of a routine.

    Parameters
    ----------
    path : str or Path
        A name that ends in ``.toml`` is a routine.
    tempo_bpm : float or None
        A hint, for a sound file alone.
    from_eight : int
        As in :func:`tempo_coach.coach.hear`.
    warn, progress : callable or None
        As in :func:`tempo_coach.coach.hear`.

    Raises
    ------
    CoachError
        If it cannot be read, or a routine is given a tempo: it has its own.
    """
    if Path(path).suffix.lower() != ".toml":
        return hear(path, tempo_bpm=tempo_bpm, from_eight=from_eight, warn=warn, progress=progress)
    if tempo_bpm is not None:
        raise CoachError("routine.own_tempo", where="--tempo")
    return counts_of(open_routine(path, warn=warn, progress=progress), warn=warn)


def counts_of(opened: OpenRoutine, *, warn: Warn | None = None) -> Heard:
    """Return a routine's music with its corrected counts, for :func:`tempo_coach.coach.lay`."""
    if warn is not None:
        for each in opened.said:
            warn(Reason(Why.OF_ROUTINE, (opened.path, each)))
    return replace(opened.heard, counts=opened.counts)
