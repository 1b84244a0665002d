"""Routines as TOML files, written by a coach and by the program in turn; her comments and order stay.

::

    title = "Ball, spring"
    apparatus = "ball"
    kind = "alone"

    [music]
    file = "ball.mp3"  # beside this file
    sha256 = "…"  # by which a changed file is noticed

    [movement]
    first = { eight = 1, count = "1" }
    last = { eight = 22, count = "8" }

    [[correction]]  # what was put right by hand, in the order in which it was done
    do = "one"
    at = 12.4

    [[lay]]
    drill = "ball_bounces"
    eight = 3
    eights = 2

    [[moment]]
    what = "toss"
    eight = 5
    count = "7&"
    hand = "right"

    [[steps]]
    start = { eight = 8, count = "1" }
    end = { eight = 11, count = "1" }

    [cut]  # where the music was cut from a longer piece; the command cut makes it again of this
    file = "whole.mp3"
    sha256 = "…"
    gain_db = 2.5
    beats = [0.01, 0.51]
    eights = [8]

    [[piece]]
    from = 12.4
    to = 40.4
"""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.tempo import HINTS_BPM
from tempo_coach.music.counts.corrections import CORRECTION_KINDS, Correction
from tempo_coach.music.counts.count_map import Position
from tempo_coach.music.cutting.cut_list import CutList, CutPiece
from tempo_coach.pattern.drill.drill_file import APPARATUS
from tempo_coach.pattern.drill.toml_tables import TomlTable, read_table
from tempo_coach.pattern.routine.routine import (
    KINDS,
    MOMENTS,
    CutFrom,
    Laid,
    MusicFile,
    Remark,
    Routine,
    RoutineMoment,
    Steps,
)
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import content_hash

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Longest music that anybody sets (s): ten hours; more is a mistyped number.
_LONGEST = 36_000.0
_MOST_EIGHTS = 9_999
#: So many files beside a routine are looked through for music that was moved.
_MOST_FILES = 200


def read_routine(path: str | Path) -> Routine:
    """Return the routine in a file.

    Raises
    ------
    CoachErrors
        With every problem of the file, each with its line.
    CoachError
        If there is no such file, or it is not TOML.
    """
    table = read_table(path, what="routine")
    title = table.text("title", None)
    apparatus = table.choice("apparatus", APPARATUS, "none")
    kind = table.choice("kind", KINDS, "alone")
    notes = table.text("notes")
    music = _read_music(table.table("music"))
    corrections = tuple(_read_corrections(table))
    movement = table.table("movement")
    first, last = (_read_place(movement, name) if movement.has(name) else None for name in ("first", "last"))
    movement.no_more()
    laid = tuple(_read_laid(table))
    moments = tuple(_read_moments(table))
    steps = tuple(_read_steps(table))
    remarks = tuple(_read_remarks(table))
    cut = _read_cut(table)
    table.no_more()
    table.problems.raise_if_any()
    return Routine(
        title=title,
        music=music,
        apparatus=apparatus,
        kind="group" if kind == "group" else "alone",
        notes=notes,
        corrections=corrections,
        first=first,
        last=last,
        laid=laid,
        moments=moments,
        steps=steps,
        remarks=remarks,
        cut=cut,
    )


def _read_music(table: TomlTable) -> MusicFile:
    file = table.text("file", None)
    known = table.text("sha256")
    low, high = HINTS_BPM
    tempo = table.number("tempo_bpm", None, low=low, high=high) if table.has("tempo_bpm") else None
    meter = table.whole("meter", None, low=2, high=12) if table.has("meter") else None
    one = table.number("one", None, low=0, high=_LONGEST) if table.has("one") else None
    table.no_more()
    return MusicFile(file, known, tempo, meter, one)


def _read_corrections(table: TomlTable) -> Iterator[Correction]:
    for each in table.tables("correction"):
        before = len(table.problems.found)
        do = each.choice("do", CORRECTION_KINDS, "one")
        at = each.number("at", None, low=0, high=_LONGEST)
        to = each.number("to", None, low=0, high=_LONGEST) if each.has("to") else None
        counts = each.whole("counts", None, low=1, high=999) if each.has("counts") else None
        tempo = each.number("tempo_bpm", None, low=10, high=600) if each.has("tempo_bpm") else None
        times = _read_times(each)
        each.no_more()
        if len(table.problems.found) > before:
            continue
        try:
            yield Correction(do, at, to, counts, tempo, times)  # type: ignore[arg-type]  # do is one of the kinds
        except ValueError as error:
            each.problem("do", "entry.refused", said=str(error))


def _read_times(table: TomlTable, name: str = "times") -> tuple[float, ...]:
    if not table.has(name):
        return ()
    given = table.data[name]
    numbers = isinstance(given, list) and all(
        isinstance(each, (int, float)) and not isinstance(each, bool) and 0 <= each <= _LONGEST for each in given
    )
    if not numbers or any(a >= b for a, b in pairwise(given)):
        table.problem(name, "routine.seconds_descend")
        return ()
    return tuple(float(each) for each in given)


def _read_place(table: TomlTable, name: str = "") -> Position:
    """Return the place that a table (or the one called ``name`` in it) gives as eight and count."""
    inner = table.table(name) if name else table
    eight = inner.whole("eight", None, low=1, high=_MOST_EIGHTS)
    count = inner.count("count") if inner.has("count") else 0.0
    if name:
        inner.no_more()
    return Position(eight, 1.0 if count != count else count + 1)  # NaN: its problem is noted already


def _read_laid(table: TomlTable) -> Iterator[Laid]:
    for each in table.tables("lay"):
        drill = each.text("drill", None)
        place = _read_place(each)
        eights = each.whole("eights", 1, low=1, high=_MOST_EIGHTS)
        hand = each.text("hand")
        mirrored = each.flag("mirrored")
        each.no_more()
        if drill:
            yield Laid(drill, place, eights, hand, mirrored)


def _read_moments(table: TomlTable) -> Iterator[RoutineMoment]:
    for each in table.tables("moment"):
        what = each.choice("what", MOMENTS, "other")
        place = _read_place(each)
        hand, text = each.text("hand"), each.text("text")
        each.no_more()
        yield RoutineMoment(what, place, hand, text)


def _read_steps(table: TomlTable) -> Iterator[Steps]:
    for each in table.tables("steps"):
        start, end = _read_place(each, "start"), _read_place(each, "end")
        each.no_more()
        try:
            yield Steps(start, end)
        except ValueError:
            each.problem("end", "routine.steps_end")


def _read_remarks(table: TomlTable) -> Iterator[Remark]:
    for each in table.tables("remark"):
        eight = each.whole("eight", None, low=1, high=_MOST_EIGHTS)
        text = each.text("text", None)
        each.no_more()
        yield Remark(eight, text)


def _read_cut(table: TomlTable) -> CutFrom | None:
    pieces = tuple(_read_pieces(table))
    if not table.has("cut"):
        if pieces:
            table.problem("piece", "cut.pieces_alone")
        return None
    inner = table.table("cut")
    before = len(table.problems.found)
    file, known, counts_of = inner.text("file", None), inner.text("sha256"), inner.text("counts")
    silence = inner.number("silence", 0.0, low=0, high=60)
    tone = inner.flag("tone")
    fade = inner.number("fade", 0.0, low=0, high=60)
    gain_db = inner.number("gain_db", 0.0, low=-60, high=60)
    loudness = inner.number("loudness", None, low=-70, high=0) if inner.has("loudness") else None
    beats = _read_times(inner, "beats")
    eights = _read_whole_numbers(inner, "eights")
    gaps = _read_times(inner, "pauses")
    inner.no_more()
    if not pieces:
        inner.problem("cut", "cut.no_piece")
    if len(table.problems.found) > before:
        return None
    cut = CutList(pieces, silence=silence, tone=tone, fade=fade, gain_db=gain_db)
    made = CutFrom(
        file, known, cut, beats, eights, tuple(zip(gaps[::2], gaps[1::2], strict=False)), counts_of, loudness
    )
    try:
        made.counts()
    except ValueError as error:
        inner.problem("beats", "entry.refused", said=str(error))
    return made


def _read_pieces(table: TomlTable) -> Iterator[CutPiece]:
    for each in table.tables("piece"):
        before = len(table.problems.found)
        start, end = (each.number(name, None, low=0, high=_LONGEST) for name in ("from", "to"))
        soft = each.flag("soft")
        each.no_more()
        if len(table.problems.found) > before:
            continue
        if end <= start:
            each.problem("to", "cut.piece_backwards", start_s=start)
        else:
            yield CutPiece(start, end, soft)


def _read_whole_numbers(table: TomlTable, name: str) -> tuple[int, ...]:
    given = table.data.get(name) or []
    if not isinstance(given, list) or not all(isinstance(each, int) and 1 <= each <= _MOST_EIGHTS for each in given):
        table.problem(name, "cut.eights")
        return ()
    table.has(name)
    return tuple(given)


class FoundMusic(NamedTuple):
    """The present location of a routine's music, and what has to be said about it."""

    path: Path
    said: tuple[Reason, ...]


def find_music(routine_path: str | Path, music: MusicFile) -> FoundMusic:
    """Return the location of a routine's music: as written, or moved to beside the routine.

    Parameters
    ----------
    routine_path : str or Path
        The routine's file; the music's path is relative to it.
    music : MusicFile

    Raises
    ------
    CoachError
        If it is gone.
    """
    folder = Path(routine_path).parent
    path = folder / music.path
    if path.is_file():
        if music.content_hash and content_hash(path) != music.content_hash:
            return FoundMusic(path, (Reason(Why.MUSIC_CHANGED, (path,)),))
        return FoundMusic(path, ())
    for other in _candidates(folder, path.name):
        if music.content_hash and content_hash(other) == music.content_hash:
            return FoundMusic(other, (Reason(Why.MUSIC_MOVED, (music.path, relative_to(other, folder))),))
    raise CoachError("music.gone", where=str(path), routine=routine_path)


def relative_to(path: str | Path, folder: str | Path) -> str:
    """Return a path as a routine in a folder writes it: relative, with forward slashes.

    Parameters
    ----------
    path : str or Path
    folder : str or Path
    """
    try:
        return Path(os.path.relpath(Path(path).resolve(), Path(folder).resolve())).as_posix()
    except ValueError:  # another drive
        return str(path)


def _candidates(folder: Path, name: str) -> list[Path]:
    """Return the files beside a routine and one folder below, those of the same name first."""
    found = [each for pattern in ("*", "*/*") for each in sorted(folder.glob(pattern)) if each.is_file()]
    found = [each for each in found if each.suffix.lower() in _SUFFIXES][:_MOST_FILES]
    return sorted(found, key=lambda each: each.name != name)


_SUFFIXES = (".wav", ".flac", ".ogg", ".opus", ".mp3", ".aif", ".aiff", ".m4a", ".mp4", ".mov", ".aac")
