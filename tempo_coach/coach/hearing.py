"""Hearing music: a file to beats, counts and eights."""

from __future__ import annotations

import math
import os
from functools import cache, partial
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.music.counts.heard import Heard
from tempo_coach.share_done import part_of

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.music.beats.finder import Beats
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.counts.music_map import MapRow
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Reason, Warn
    from tempo_coach.share_done import Progress


__all__ = ["EVEN_BPM", "MUCH_TOO_SHORT", "Heard", "hear", "map_heard", "read_music", "write_beats", "write_midi"]
#: Tempo of even counts where music has no beat to find: an unhurried step (common practice).
EVEN_BPM = 100.0


#: Share of the work of hearing that is reading the file.
_READING = 0.1
#: Sound shorter than this (s) holds no counts to be set.
MUCH_TOO_SHORT = 2.0


def hear(
    path: str | Path,
    *,
    tempo_bpm: float | None = None,
    meter: int | None = None,
    one_at: float | None = None,
    start: float | None = None,
    end: float | None = None,
    taps: str | Path | None = None,
    known: str | Path | None = None,
    anyway: bool = False,
    from_eight: int = 1,
    warn: Warn | None = None,
    progress: Progress | None = None,
) -> Heard:
    """Find beats, counts and eights in a sound file.

    Parameters
    ----------
    tempo_bpm, meter, one_at
        Hints, as in :func:`tempo_coach.music.beats.finder.find_beats`.
    start, end : float or None
        Seconds of the file between which the music lies; all times then count from ``start``.
    taps : str, Path or None
        A file of the times at which a person tapped along once; they steer, the music puts them right.
    known : str, Path or None
        A file of beats that are taken as they stand. Both kinds are read by
        :func:`tempo_coach.music.beats.beat_files.read_beats`.
    anyway : bool
        Whether music without a beat gets even counts, to be put right by hand, instead of an error.
    from_eight : int
        An eight that it has to have; where it is much too short for it, no beat is looked for.
    warn : callable or None
        Told what is odd about the file.
    progress : callable or None
        Told the share that is done, 0 to 1.

    Raises
    ------
    CoachError
        If it is no sound file, or holds no beat, or a known one lies outside it.
    """
    import numpy as np

    from tempo_coach.music.beats.beat_files import BeatList, as_heard, read_beats
    from tempo_coach.music.beats.finder import find_beats
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.files.sound_file import read_sound
    from tempo_coach.times import ascending

    hints = {"tempo_bpm": tempo_bpm, "meter": meter, "one_at": one_at, "start": start, "end": end}
    before = None if taps or known else _heard_before(path, hints)
    if before is not None:
        _check_within(before.duration, from_eight=from_eight, one_at=one_at)
        read = cache(partial(read_sound, path, start=start, end=end, warn=warn))
        return Heard(str(path), read, before, CountMap.from_beats(before))
    odd: list[Reason | CoachError] = []

    def note(problem: Reason | CoachError) -> None:
        odd.append(problem)
        if warn is not None:
            warn(problem)

    sound = read_sound(path, start=start, end=end, warn=note, progress=part_of(progress, 0.0, _READING))
    progress = part_of(progress, _READING, 1.0)
    _check_within(sound.duration, from_eight=from_eight, one_at=one_at)
    file = taps or known
    listed = read_beats(file, duration=sound.duration) if file else None
    as_known = known if not taps else None  # what is wrong with them is said of their file, not of the music
    try:
        if listed is not None and as_known:
            beats = as_heard(listed, duration=sound.duration, meter=meter, one_at=one_at)
        elif listed is not None:
            beats = find_beats(
                sound,
                tempo_bpm=tempo_bpm,
                meter=meter,
                one_at=one_at,
                taps=listed.times,
                progress=progress,
                warn=warn,
            )
        else:
            beats = _hear_once(path, sound, hints, warn=warn, progress=progress, keeps=not odd)
    except CoachError as error:
        if not anyway or as_known or error.where is not None or sound.duration < MUCH_TOO_SHORT:
            where = error.where or str(as_known or path)
            raise error.at(where) from error
        tempo_bpm = tempo_bpm or EVEN_BPM
        if warn is not None:
            laid = CoachError("music.laid_evenly", where=str(path), problem=error, tempo_bpm=tempo_bpm)
            warn(laid)
        even = BeatList(ascending(np.arange(0.0, sound.duration, 60 / tempo_bpm), name="beats"), None)
        beats = as_heard(even, duration=sound.duration, meter=meter, one_at=one_at)
    return Heard(str(path), sound, beats, CountMap.from_beats(beats))


def _check_within(duration: float, *, from_eight: int, one_at: float | None) -> None:
    if one_at is not None and not 0 <= one_at <= duration:
        raise CoachError("beats.one_outside", where="--one", duration_s=duration, one_s=one_at)
    if from_eight > (most := most_eights(duration)):
        raise CoachError("music.few_eights", where="--from-eight", duration_s=duration, most=most, eight=from_eight)


def _heard_before(path: str | Path, hints: dict[str, float | None]) -> Beats | None:
    """Return cached beats of a file with the same content and hints."""
    from pathlib import Path

    from tempo_coach.music.beats.heard_before import find_heard, name_hearing

    # what is no file, or cannot be read, is told of by whoever reads it
    if not Path(path).is_file() or not os.access(path, os.R_OK):
        return None
    return find_heard(name_hearing(path, hints))


def _hear_once(
    path: str | Path,
    sound: Sound,
    hints: dict[str, float | None],
    *,
    warn: Warn | None,
    progress: Progress | None,
    keeps: bool,
) -> Beats:
    """Find beats, and cache them unless a warning was given."""
    from tempo_coach.music.beats.finder import find_beats
    from tempo_coach.music.beats.heard_before import keep_heard, name_hearing

    said: list[CoachError] = []
    meter = hints["meter"]
    beats = find_beats(
        sound,
        tempo_bpm=hints["tempo_bpm"],
        meter=None if meter is None else int(meter),
        one_at=hints["one_at"],
        progress=progress,
        warn=said.append,
    )
    if warn is not None:
        for problem in said:
            warn(problem)
    if keeps and not said:  # what was heard with something missing is heard again
        keep_heard(name_hearing(path, hints), beats)
    return beats


def map_heard(heard: Heard, *, counts: CountMap | None = None, progress: Progress | None = None) -> tuple[MapRow, ...]:
    """Return what each eight of the music is like, on its counts as heard or on the given ones."""
    from tempo_coach.music.counts.music_map import map_music

    return map_music(heard.sound, counts or heard.counts, progress=progress)


def write_beats(heard: Heard) -> str:
    """Return the beats as text for other programs, one a line with its place in the bar."""
    from tempo_coach.music.beats.beat_files import beats_to_text

    return beats_to_text(heard.beats.times, heard.beats.bar)


def write_midi(heard: Heard) -> bytes:
    """Return the beats as a Standard MIDI File."""
    from tempo_coach.music.beats.midi import beats_to_midi

    return beats_to_midi(heard.beats.times, heard.beats.bar)


def most_eights(duration: float) -> int:
    """Return the largest possible number of eights in a duration: of six counts at the shortest beat."""
    from tempo_coach.music.beats.features import FRAME_HZ
    from tempo_coach.music.beats.tempo import SHORTEST

    return math.ceil(duration / (SHORTEST / FRAME_HZ) / 6)


def read_music(plan: Plan, *, warn: Warn | None = None) -> Sound:
    """Return the music of a plan, refusing a file that has changed since.

    Raises
    ------
    CoachError
        If it is gone or another one.
    """
    from tempo_coach.music.files.sound_file import read_sound
    from tempo_coach.resources import content_hash

    if plan.music is None:
        raise ValueError("the plan has no music")
    sound = read_sound(plan.music.path, warn=warn)
    if content_hash(plan.music.path) != plan.music.content_hash:
        raise CoachError("music.changed", where=plan.music.path)
    return sound
