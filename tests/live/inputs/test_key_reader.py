"""The process that stamps keys: what goes in comes out, stamped between press and arrival, and it leaves in time."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.live.inputs import key_reader
from tests import HANG

if TYPE_CHECKING:
    from collections.abc import Iterator

pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")
PIECES = st.lists(st.tuples(st.floats(0, 1e6), st.binary(min_size=1, max_size=20)), max_size=8)


class Reader:
    def __init__(self) -> None:
        import tty

        self.outer, self.inner = pty.openpty()
        tty.setraw(self.inner)
        kept, self.held = os.pipe()
        self.process = subprocess.Popen(
            [sys.executable, "-I", "-S", key_reader.__file__, str(kept)],
            stdin=self.inner, stdout=subprocess.PIPE, pass_fds=(kept,), bufsize=0,
        )  # fmt: skip
        os.close(kept)
        assert self.process.stdout is not None
        self.out = self.process.stdout.fileno()

    def pieces(self, length: int) -> list[tuple[float, bytes]]:
        """Wait until so many bytes have come."""
        got: list[tuple[float, bytes]] = []
        left = b""
        while sum(len(data) for _, data in got) < length:
            assert select.select([self.out], [], [], HANG)[0], "nothing came"
            new, left = key_reader.unpack(left + os.read(self.out, 4096))
            got += new
        return got

    def end(self) -> None:
        self.process.kill()
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()
        for each in (self.outer, self.inner, self.held):
            try:
                os.close(each)
            except OSError:
                continue  # a test closed it


@pytest.fixture
def reader() -> Iterator[Reader]:
    reader = Reader()
    yield reader
    reader.end()


def test_every_key_comes_out_with_a_stamp_between_its_press_and_its_arrival(reader: Reader) -> None:
    for key in (b"j", b"f", b"\x1b[A", "ü".encode()):
        before = time.monotonic()
        os.write(reader.outer, key)
        pieces = reader.pieces(len(key))
        assert b"".join(data for _, data in pieces) == key
        assert before <= pieces[0][0] <= time.monotonic()


def test_keys_are_stamped_while_whoever_waits_for_them_is_busy(reader: Reader) -> None:
    os.write(reader.outer, b"x")
    reader.pieces(1)
    for apart in (0.1, 1.0, 10.0):  # on a busy machine the reader may get its turn only after a while
        pressed = []
        for _ in range(5):
            pressed.append(time.monotonic())
            os.write(reader.outer, b"j")
            time.sleep(apart)
        # only now is anything read
        stamps = [stamp for stamp, data in reader.pieces(5) for _ in data]
        assert len(stamps) == 5 and stamps[0] >= pressed[0]
        if stamps[0] < pressed[4]:
            return
    pytest.fail("keys are stamped when they are read, not when they are pressed")


def test_it_leaves_at_once_when_the_program_has_gone_however_it_went(reader: Reader) -> None:
    os.write(reader.outer, b"j")
    reader.pieces(1)
    os.close(reader.held)  # as the system does for a program that was killed
    assert reader.process.wait(timeout=HANG) == 0
    os.write(reader.outer, b"k")
    assert os.read(reader.inner, 10) == b"k", "the key is for whoever reads next"


@given(PIECES, st.integers(0, 300))
def test_pieces_are_found_wherever_the_stream_was_cut(pieces: list[tuple[float, bytes]], cut: int) -> None:
    raw = b"".join(key_reader.HEAD.pack(stamp, len(data)) + data for stamp, data in pieces)
    first, left = key_reader.unpack(raw[:cut])
    second, rest = key_reader.unpack(left + raw[cut:])
    assert first + second == pieces and rest == b""
