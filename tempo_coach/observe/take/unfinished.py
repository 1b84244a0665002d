"""Takes that were broken off: found in a folder without looking into the finished ones twice, and put by."""

from __future__ import annotations

import contextlib
import json
import os
import time
from enum import Enum, auto
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.observe.take.take_file import ENDING, read_take_file
from tempo_coach.observe.take.take_writer import end_line, lock
from tempo_coach.resources import MOST_MIB, written_whole

if TYPE_CHECKING:
    from tempo_coach.observe.take.take_file import TakeFile

#: The file in a folder of takes that names those that were found finished, a line each.
FINISHED = ".finished"
#: Seconds that an empty file may be young and still be one that a program has just made.
YOUNG = 60.0
#: Bytes of a file's end that are looked at first; as long as no line begins in them, twice as many.
_END = 4096
#: Suffix for the name of an unreadable take.
_UNREADABLE = ".cut"


class _State(Enum):
    FINISHED = auto()
    BROKEN_OFF = auto()
    NEITHER = auto()


def find_unfinished(folder: str | Path) -> tuple[Path, ...]:
    """Return the broken-off takes in a folder, newest first, without those that are running.

    Which ones are finished is remembered beside them, so that each is looked into once. Files in which nothing stands
    are taken away: the program was killed, or the disk was full, before anything was written.
    """
    folder = Path(folder)
    try:
        with os.scandir(folder) as entries:
            names = {entry.name for entry in entries if entry.name.endswith(ENDING) and entry.is_file()}
    except OSError:
        return ()
    known = _read_finished(folder)
    states = {name: _look_into(folder / name) for name in names - known}
    finished = {name for name, state in states.items() if state is _State.FINISHED}
    if finished or not known <= names:
        _remember(folder, (known & names) | finished)
    broken = (name for name, state in states.items() if state is _State.BROKEN_OFF)
    return tuple(folder / name for name in sorted(broken, reverse=True))


def finish_broken_off(path: str | Path) -> TakeFile:
    """Return a broken-off take, and end its file with a line that says so, so that it is not offered again.

    Raises
    ------
    CoachError
        If it cannot be read or written. One that was cut off before its plan was whole gets another name, so that it
        is told of once.
    """
    path = Path(path)
    _put_by_if_cut(path)
    file = read_take_file(path)
    onsets = file.take.onsets
    stopped = max(onsets.time.tolist(), default=0.0)
    end = end_line(
        list(zip(onsets.time.tolist(), onsets.hand, strict=True)),
        how="broken off",
        stopped=stopped,
        unmeasurable=file.take.unmeasurable,
    )
    try:
        with path.open("rb+") as out:
            whole = out.read()
            # a line that was cut off stays, on a line of its own
            out.write(b"" if whole.endswith(b"\n") else b"\n")
            out.write(end)
    except OSError as error:
        raise CoachError("take.not_written_to", where=str(path), reason=error.strerror) from error
    return file


def _put_by_if_cut(path: Path) -> None:
    aside = path.with_name(path.name + _UNREADABLE)
    try:
        with path.open("rb") as file:
            if file.readline().endswith(b"\n"):
                return
        path.rename(aside)
    except OSError:
        return  # why it cannot be read or written is said below
    raise CoachError("take.no_plan", where=str(path), aside=aside.name)


def _look_into(path: Path) -> _State:
    if not path.is_file():  # a pipe would be waited for
        return _State.NEITHER
    try:
        file = os.open(path, os.O_RDONLY)
    except OSError:
        return _State.NEITHER
    try:
        about = os.fstat(file)
        if not about.st_size:
            _clear_empty(path, file, made=about.st_mtime)
            return _State.NEITHER
        if about.st_size > MOST_MIB["take"] * 2**20:
            return _State.NEITHER  # whatever it is, it is no take
        if _has_ended(_last_line(file, about.st_size)):
            return _State.FINISHED
        return _State.BROKEN_OFF if lock(file) else _State.NEITHER
    except OSError:
        return _State.NEITHER
    finally:
        os.close(file)


def _clear_empty(path: Path, file: int, *, made: float) -> None:
    if time.time() - made > YOUNG and lock(file):
        with contextlib.suppress(OSError):
            path.unlink()


def _last_line(file: int, size: int) -> bytes:
    length = _END
    while True:
        os.lseek(file, max(size - length, 0), os.SEEK_SET)
        end = os.read(file, length).rstrip(b"\n")
        if b"\n" in end or length >= size:
            return end.rsplit(b"\n", 1)[-1]
        length *= 2


def _has_ended(line: bytes) -> bool:
    try:
        values = json.loads(line)
    except (ValueError, RecursionError):
        return False
    return isinstance(values, dict) and "end" in values


def _read_finished(folder: Path) -> set[str]:
    try:
        return set((folder / FINISHED).read_text(encoding="utf-8").split("\n")) - {""}
    except (OSError, UnicodeDecodeError):
        return set()


def _remember(folder: Path, names: set[str]) -> None:
    # where that cannot be written they are looked into again
    with contextlib.suppress(CoachError), written_whole(folder / FINISHED) as beside:
        beside.write_text("".join(f"{name}\n" for name in sorted(names)), encoding="utf-8")
