"""The shared memory between the audio process and the program: one memory-mapped file with a single writer.

The audio process writes, the program reads. A record is written before the counter that announces it, so
neither side ever waits for the other, and nothing is allocated while sound plays. Nothing here needs numpy:
the audio process starts without it.
"""

from __future__ import annotations

import json
import mmap
import os
import struct
from enum import IntEnum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

#: frame of the block's first sample, frames in the block, device time at which that sample is heard, device
#: time now, ``perf_counter`` now, flags (see below), device time at which the microphone's first sample was
#: taken.
RECORD = struct.Struct("<7d")
#: ``perf_counter`` halfway through a reading of the device's clock, that reading, half the time that it took.
BRACKET = struct.Struct("<3d")
COUNTER = struct.Struct("<q")

#: Room for this many records: at 64 frames a block, far fewer than anybody asks for, 80 s until one is
#: overwritten.
RECORDS = 65_536
BRACKETS = 4_096

OUTPUT_UNDERRUN = 1
INPUT_OVERRUN = 2

_STAGE, _RECORDS_WRITTEN, _BRACKETS_WRITTEN, _WORDS_LENGTH, _WORDS = 0, 8, 16, 24, 32
_HEAD = 8_192
_RECORDS_AT = _HEAD
_BRACKETS_AT = _RECORDS_AT + RECORDS * RECORD.size
SIZE = _BRACKETS_AT + BRACKETS * BRACKET.size


class ProcessStage(IntEnum):
    """Stages of the audio process."""

    STARTING = 0
    OPENED = 1
    RUNNING = 2
    ENDED = 3
    FAILED = 4


class Board:
    """The shared file.

    Parameters
    ----------
    path : pathlib.Path
        Where it lies.
    new : bool
        Whether to make it; otherwise it is there already.
    """

    def __init__(self, path: Path, *, new: bool = False) -> None:
        if new:
            make_room(path, SIZE)
        with path.open("r+b") as file:
            self.map = mmap.mmap(file.fileno(), SIZE)

    def _count(self, at: int) -> int:
        return int(COUNTER.unpack_from(self.map, at)[0])

    @property
    def stage(self) -> ProcessStage:
        """Present stage of the audio process."""
        return ProcessStage(self._count(_STAGE))

    @property
    def words(self) -> dict[str, Any]:
        """Last message of the audio process: about the open device, or why it failed."""
        length = self._count(_WORDS_LENGTH)
        said: dict[str, Any] = json.loads(self.map[_WORDS : _WORDS + length]) if length else {}
        return said

    def say(self, stage: ProcessStage, **words: Any) -> None:
        """Write a message and then the stage that it belongs to."""
        text = json.dumps(words).encode()[: _HEAD - _WORDS]
        self.map[_WORDS : _WORDS + len(text)] = text
        COUNTER.pack_into(self.map, _WORDS_LENGTH, len(text))
        COUNTER.pack_into(self.map, _STAGE, stage)

    def add_bracket(self, middle: float, device: float, half_width: float) -> None:
        """Add one reading of the device's clock between two of ours."""
        n = self._count(_BRACKETS_WRITTEN)
        BRACKET.pack_into(self.map, _BRACKETS_AT + n % BRACKETS * BRACKET.size, middle, device, half_width)
        COUNTER.pack_into(self.map, _BRACKETS_WRITTEN, n + 1)

    def records_since(self, seen: int) -> tuple[list[tuple[float, ...]], int]:
        """Return the records after the first ``seen`` ones, and their total number."""
        return self._since(seen, _RECORDS_WRITTEN, RECORD, _RECORDS_AT, RECORDS)

    def brackets_since(self, seen: int) -> tuple[list[tuple[float, ...]], int]:
        """Return the brackets after the first ``seen`` ones, and their total number."""
        return self._since(seen, _BRACKETS_WRITTEN, BRACKET, _BRACKETS_AT, BRACKETS)

    def _since(
        self, seen: int, counter: int, form: struct.Struct, at: int, room: int
    ) -> tuple[list[tuple[float, ...]], int]:
        now = self._count(counter)
        first = max(seen, now - room + 1)
        return [form.unpack_from(self.map, at + i % room * form.size) for i in range(first, now)], now

    def close(self) -> None:
        """Close the file."""
        self.map.close()


def make_room(path: Path, size: int) -> None:
    """Create a file of zeros, so that a full disk shows here rather than when the mapped file is written to.

    Raises
    ------
    OSError
        If there is no room.
    """
    with path.open("wb") as file:
        file.truncate(size)
        if size and hasattr(os, "posix_fallocate"):
            os.posix_fallocate(file.fileno(), 0, size)


def record_place(n: int) -> int:
    """Return the offset of the n-th record in the file."""
    return _RECORDS_AT + n % RECORDS * RECORD.size


#: Where the counter of records lies; the audio callback writes it itself.
RECORDS_WRITTEN_AT = _RECORDS_WRITTEN
