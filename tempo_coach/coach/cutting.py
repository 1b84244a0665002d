"""Cutting the music of a routine: pieces joined on counts, evened in loudness, with all that is laid moved along."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NamedTuple

from tempo_coach.coach.hearing import hear
from tempo_coach.coach.routines import is_routine, open_routine
from tempo_coach.errors import CoachError
from tempo_coach.pattern.routine.cut_made import CutMade
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.cutting.cut_list import CutList, CutPiece
    from tempo_coach.music.cutting.joints import Joint
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.pattern.routine.routine import CutFrom, ExerciseKind, Routine
    from tempo_coach.reasons import Warn
    from tempo_coach.share_done import Progress


__all__ = ["FADE_S", "CutMade", "CutWishes", "cut_music", "make_again", "save_cut", "was_cut"]
Ending = Literal["accent", "fade", "plain"]
#: What loudness music is brought to (LUFS) where nothing else is wished: R 128 asks broadcasters for -23, halls and
#: phones are played louder (common practice).
LOUDNESS_LUFS = -16.0
#: True peak (dB) that it may reach at most (EBU R 128).
MOST_PEAK_DB = -1.0
#: Seconds over which it fades out where that is wished.
FADE_S = 3.0
#: Digits of seconds that are kept: finer than a sample.
_DIGITS = 7


@dataclass(frozen=True)
class CutWishes:
    """Wishes for a cut.

    Parameters
    ----------
    keep : tuple of str
        As :func:`tempo_coach.music.cutting.kept_words.read_kept` has them, in the order in which they are heard; none
        where the pieces of a cut routine stay as they are.
    ending : {"accent", "fade", "plain"}
        On the last accent of the whole music, faded out, or where the last piece ends.
    fade : float
        Seconds over which it fades out.
    silence : float
        Seconds of silence before the music.
    tone : bool
        Whether a tone comes before that.
    loudness_lufs : float or None
        What it is brought to; None leaves it as it is.
    """

    keep: tuple[str, ...] = ()
    ending: Ending = "accent"
    fade: float = FADE_S
    silence: float = 0.0
    tone: bool = False
    loudness_lufs: float | None = LOUDNESS_LUFS


class _Source(NamedTuple):
    """The whole music with its counts; and the routine whose places move along."""

    path: Path
    sound: Sound
    counts: CountMap
    counts_of: Path | None
    routine: Routine
    routine_counts: CountMap
    before: CutFrom | None


def cut_music(
    music: str | Path, wishes: CutWishes, *, beside: Path, warn: Warn | None = None, progress: Progress | None = None
) -> CutMade:
    """Cut a piece of music, or that of a routine; a routine already cut is cut anew from the whole.

    Parameters
    ----------
    music : str or Path
        A sound file, or a routine, whose counts are then as they were corrected.
    wishes : CutWishes
    beside : Path
        Folder of the routine's file to come, which names the whole music from there.
    warn, progress : callable or None
        As in :func:`tempo_coach.coach.hear`.

    Raises
    ------
    CoachError
        If something cannot be read or has changed, or cannot be cut so.
    """
    from tempo_coach.music.cutting.joints import join
    from tempo_coach.music.cutting.kept_words import read_kept
    from tempo_coach.music.cutting.moved_counts import move_counts
    from tempo_coach.pattern.routine.cut_places import CutMove, carry_cut
    from tempo_coach.pattern.routine.routine import CutFrom
    from tempo_coach.pattern.routine.routine_file import relative_to
    from tempo_coach.resources import content_hash

    if not wishes.keep and Path(music).is_file() and not was_cut(Path(music)):
        raise CoachError("cut.nothing_kept", where=str(music))
    source = _open_source(Path(music), warn, progress)
    sound, counts = source.sound, source.counts
    said: list[Reason] = []
    joints: tuple[Joint, ...] = ()
    if wishes.keep:
        kept = [read_kept(each, counts, sound.duration) for each in wishes.keep]
        pieces, joints = join(sound, counts, kept)
        to_end = kept[-1].end > counts.last_count
    elif source.before is not None:
        pieces, to_end = source.before.cut.pieces, True
    else:
        raise CoachError("cut.nothing_kept", where=str(music))
    ending: Ending = wishes.ending if wishes.keep or wishes.ending != "accent" else "plain"
    pieces, accent, fade = _end(source, pieces, ending, wishes.fade, said, to_end=to_end)
    pieces = tuple(replace(each, start=round(each.start, _DIGITS), end=round(each.end, _DIGITS)) for each in pieces)
    cut, loudness, peak = _even(sound, pieces, wishes, fade, said)
    made = _render(sound, cut)
    new = move_counts(counts, cut, accent=accent)
    move = CutMove(source.routine_counts, new, _follow(source.before, cut))
    routine, lost = carry_cut(source.routine, move)
    said += [Reason(Why.CUT_OUT, (each.kind, each.name, each.at.eight)) for each in lost]
    routine = replace(
        routine,
        corrections=(),
        cut=CutFrom(
            relative_to(source.path, beside),
            content_hash(source.path),
            cut,
            tuple(round(time, 6) for time in new.beats.tolist()),
            tuple(length for _, length in new.eights),
            tuple((round(start, 6), round(end, 6)) for start, end in new.pauses),
            relative_to(source.counts_of, beside) if source.counts_of else "",
            wishes.loudness_lufs,
        ),
    )
    at = cut.starts[-2] if accent else None
    return CutMade(source.path, made, routine, new, joints, counts, at, loudness, peak, tuple(said))


def make_again(
    path: str | Path, *, warn: Warn | None = None, progress: Progress | None = None
) -> tuple[Sound, Routine]:
    """Return a cut routine's music, made again from the whole with the same samples, and the routine.

    Raises
    ------
    CoachError
        If it was not cut, or the whole music is gone or has changed.
    """
    from tempo_coach.music.files.sound_file import read_sound
    from tempo_coach.pattern.routine.routine_file import read_routine

    routine = read_routine(path)
    if routine.cut is None:
        raise CoachError("cut.nothing_kept", where=str(path))
    sound = read_sound(_find_whole(Path(path), routine.cut), warn=warn, progress=progress)
    return _render(sound, routine.cut.cut), routine


def was_cut(path: str | Path) -> bool:
    """Return whether a file is a routine whose music was cut from a longer piece."""
    from tempo_coach.pattern.drill.toml_tables import read_table

    if not is_routine(path):
        return False
    return "cut" in read_table(path, what="routine").data


def save_cut(made: CutMade, path: Path, sound: Path, *, kind: ExerciseKind, force: bool) -> Routine:
    """Write the routine of what was cut, and return it.

    Parameters
    ----------
    made : CutMade
    path : Path
        Its file. A routine that was cut already is brought up to date there.
    sound : Path
        The file with the cut music.
    kind : {"alone", "group"}
    force : bool
        Whether another routine that is there may be replaced.

    Raises
    ------
    CoachError
        If it may not be replaced, or cannot be written.
    """
    from tempo_coach.pattern.routine.routine import MusicFile
    from tempo_coach.pattern.routine.routine_file import relative_to
    from tempo_coach.pattern.routine.routine_writer import write_routine
    from tempo_coach.resources import content_hash, refuse_existing

    if not was_cut(path):
        refuse_existing(path, force=force)
    music = MusicFile(relative_to(sound, path.parent), content_hash(sound))
    routine = replace(made.routine, music=music, kind=kind)
    write_routine(path, routine)
    return routine


def _open_source(music: Path, warn: Warn | None, progress: Progress | None) -> _Source:
    from tempo_coach.pattern.routine.routine import MusicFile, Routine
    from tempo_coach.pattern.routine.routine_file import read_routine

    if not is_routine(music) and music.suffix.lower() != ".toml":
        heard = hear(music, warn=warn, progress=progress)
        blank = Routine(music.stem.replace("_", " "), MusicFile(str(music)))
        return _Source(music, heard.sound, heard.counts, None, blank, heard.counts, None)
    routine = read_routine(music)
    if routine.cut is None:
        opened = open_routine(music, warn=warn, progress=progress)
        whole = Path(opened.heard.path)
        return _Source(whole, opened.heard.sound, opened.counts, music, opened.routine, opened.counts, None)
    from tempo_coach.music.counts.corrections import replay

    before = routine.cut
    path = _find_whole(music, before)
    own = replay(before.counts(), routine.corrections).counts
    if before.counts_of:
        counts_of = music.parent / before.counts_of
        opened = open_routine(counts_of, warn=warn, progress=progress)
        return _Source(path, opened.heard.sound, opened.counts, counts_of, routine, own, before)
    heard = hear(path, warn=warn, progress=progress)
    return _Source(path, heard.sound, heard.counts, None, routine, own, before)


def _find_whole(routine: Path, made: CutFrom) -> Path:
    """Return the location of the whole music.

    Raises
    ------
    CoachError
        If it is gone, or another one by now.
    """
    from tempo_coach.pattern.routine.routine import MusicFile
    from tempo_coach.pattern.routine.routine_file import find_music

    found = find_music(routine, MusicFile(made.path, made.content_hash))
    if any(each.code is Why.MUSIC_CHANGED for each in found.said):
        raise CoachError("cut.whole_changed", where=str(found.path), routine=str(routine))
    return found.path


def _end(
    source: _Source, pieces: tuple[CutPiece, ...], ending: Ending, fade: float, said: list[Reason], *, to_end: bool
) -> tuple[tuple[CutPiece, ...], bool, float]:
    """Return the pieces with their ending, whether that is an accent, and the duration of the fade."""
    from tempo_coach.music.cutting.ending import find_ending

    longest = pieces[-1].end - pieces[-1].start
    if ending == "fade" and fade > longest:
        raise CoachError("cut.fade_long", where="--fade", fade_s=fade, piece_s=longest)
    if ending != "accent":
        return pieces, False, fade if ending == "fade" else 0.0
    last = find_ending(source.sound, source.counts)
    if last is None:
        said.append(Reason(Why.NO_LAST_ACCENT, (min(FADE_S, longest),)))
        return pieces, False, min(FADE_S, longest)
    if to_end:  # it is played up to its end anyway
        tail = pieces[-1]
        whole = replace(tail, end=max(tail.start + 0.1, last.end))
        return (*pieces[:-1], whole), False, 0.0
    return (*pieces, last), True, 0.0


def _even(
    sound: Sound, pieces: tuple[CutPiece, ...], wishes: CutWishes, fade: float, said: list[Reason]
) -> tuple[CutList, float, float]:
    """Return the cut list with its gain, and the resulting loudness and true peak (dB)."""
    from tempo_coach.music.cutting.cut_list import CutList
    from tempo_coach.music.files.programme_loudness import find_true_peak, measure_loudness

    bare = CutList(pieces, fade=fade)
    plain = _render(sound, bare)
    loudness, peak = measure_loudness(plain), find_true_peak(plain)
    gain = 0.0
    if wishes.loudness_lufs is not None and math.isfinite(loudness):
        wished = wishes.loudness_lufs - loudness
        gain = round(min(wished, MOST_PEAK_DB - peak), 4)
        if gain < wished - 0.05:
            said.append(Reason(Why.PEAKS_FIRST, (wished - gain, wishes.loudness_lufs)))
    cut = replace(bare, silence=wishes.silence, tone=wishes.tone, gain_db=gain)
    return cut, loudness + gain, peak + gain


def _render(sound: Sound, cut: CutList) -> Sound:
    from tempo_coach.music.cutting.render import render

    return render(sound, cut)


def _follow(before: CutFrom | None, cut: CutList) -> Callable[[float], Iterable[float]]:
    """Return the map from a second that a routine names to those at which it is heard now."""
    from tempo_coach.music.cutting.moved_counts import SLACK

    def follow(seconds: float) -> Iterable[float]:
        whole: float | None = seconds
        if before is not None:
            there = before.cut.source_at(seconds + SLACK)
            whole = None if there is None else there - SLACK
        return () if whole is None else cut.places(whole, slack=SLACK)

    return follow
