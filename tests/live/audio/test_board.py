"""The file through which the audio process and the program speak: what is written is read, and old records go."""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

import pytest

from tempo_coach.live.audio import board
from tempo_coach.live.audio.board import (
    BRACKET,
    BRACKETS,
    COUNTER,
    RECORD,
    RECORDS,
    RECORDS_WRITTEN_AT,
    SIZE,
    Board,
    ProcessStage,
    make_room,
    record_place,
)

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "Brett 🤸"


@pytest.fixture
def both(path: Path):
    """The same board as each side has it."""
    mine = Board(path, new=True)
    theirs = Board(path)
    yield mine, theirs
    mine.close()
    theirs.close()


def write(to: Board, *records: tuple[float, ...]) -> None:
    """As the audio callback writes: the record first, then the counter that announces it."""
    for record in records:
        n = COUNTER.unpack_from(to.map, RECORDS_WRITTEN_AT)[0]
        RECORD.pack_into(to.map, record_place(n), *record)
        COUNTER.pack_into(to.map, RECORDS_WRITTEN_AT, n + 1)


def record(k: int) -> tuple[float, ...]:
    return tuple(float(k + each) for each in range(7))


def test_a_new_board_is_empty(both, path):
    mine, theirs = both
    assert path.stat().st_size == SIZE
    assert (theirs.stage, theirs.words) == (ProcessStage.STARTING, {})
    assert theirs.records_since(0) == theirs.brackets_since(0) == ([], 0)
    assert mine.stage is ProcessStage.STARTING


def test_words_and_their_stage_are_read_by_the_other_side(both):
    mine, theirs = both
    mine.say(ProcessStage.OPENED, device="Gerät 🤸", rate=48_000)
    assert (theirs.stage, theirs.words) == (ProcessStage.OPENED, {"device": "Gerät 🤸", "rate": 48_000})
    mine.say(ProcessStage.FAILED, trouble="x")  # shorter words leave nothing of the longer ones
    assert (theirs.stage, theirs.words) == (ProcessStage.FAILED, {"trouble": "x"})
    mine.say(ProcessStage.ENDED)
    assert (theirs.stage, theirs.words) == (ProcessStage.ENDED, {})


def test_a_reason_of_500_signs_of_any_script_has_room(both):
    mine, theirs = both
    mine.say(ProcessStage.FAILED, trouble="not opened", detail="🤸" * 500)
    assert theirs.words["detail"] == "🤸" * 500
    assert theirs.records_since(0) == ([], 0)  # nothing was written over


def test_records_come_once_each_in_order(both):
    mine, theirs = both
    write(mine, record(0), record(10))
    found, seen = theirs.records_since(0)
    assert (found, seen) == ([record(0), record(10)], 2)
    assert theirs.records_since(seen) == ([], 2)
    write(mine, record(20))
    assert theirs.records_since(seen) == ([record(20)], 3)


def test_brackets_come_once_each_in_order_and_beside_the_records(both):
    mine, theirs = both
    mine.add_bracket(1.0, 2.0, 0.5)
    mine.add_bracket(3.0, 4.0, 0.25)
    assert theirs.brackets_since(0) == ([(1.0, 2.0, 0.5), (3.0, 4.0, 0.25)], 2)
    assert theirs.brackets_since(1) == ([(3.0, 4.0, 0.25)], 2)
    assert theirs.records_since(0) == ([], 0)


@pytest.mark.parametrize("more", [0, 1, 7])
def test_what_was_overwritten_or_is_just_being_written_is_not_read(both, more):
    """The place of the oldest record is that of the next one, which the other side may be writing now."""
    mine, theirs = both
    for k in range(BRACKETS + more):
        mine.add_bracket(float(k), 0.0, 0.0)
    found, seen = theirs.brackets_since(0)
    assert seen == BRACKETS + more
    assert [each[0] for each in found] == list(range(more + 1, BRACKETS + more))


def test_places_of_records_follow_each_other_and_come_round():
    assert record_place(1) - record_place(0) == RECORD.size == 56
    assert record_place(RECORDS) == record_place(0)
    assert record_place(RECORDS - 1) + RECORD.size + BRACKETS * BRACKET.size == SIZE


def test_room_is_made_in_zeros_and_a_full_disk_is_found_at_once(path, monkeypatch):
    path.write_bytes(b"before" * 99)
    make_room(path, 10)
    assert path.read_bytes() == bytes(10)
    make_room(path, 0)
    assert path.read_bytes() == b""

    def full(*_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(board.os, "posix_fallocate", full, raising=False)
    with pytest.raises(OSError, match="No space"):
        Board(path, new=True)
    with pytest.raises(FileNotFoundError):
        Board(path.with_name("gone"))
