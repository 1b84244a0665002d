"""The terminal's keys, read and stamped by a process of their own where the system has terminals that can be shared.

A picture that is being drawn holds the interpreter, and a stamp taken in a thread beside it comes late. The reader in
:mod:`tempo_coach.live.keyreader` runs beside this program and is late for nothing that happens here. Where it cannot
be had, or ends, keys are read as Textual reads them.
"""

from __future__ import annotations

import os
import selectors
import subprocess
import sys
from codecs import getincrementaldecoder
from typing import TYPE_CHECKING, Any

from tempo_coach.live import keyreader

if TYPE_CHECKING:
    from textual.driver import Driver

#: Seconds between two looks at whether the screens are leaving; Textual looks as often.
LOOK_EVERY = 0.1
#: Seconds in which the reader has to leave by itself.
PATIENCE = 1.0


def find_driver() -> type[Driver] | None:
    """Return the driver that reads keys in a process of its own; None where Textual's own has to do.

    What it builds on in Textual is not promised to stay; where it has gone, nothing is lost but a little sharpness.
    """
    if sys.platform == "win32" or sys.__stdin__ is None or not sys.__stdin__.isatty():
        return None
    try:
        from textual._xterm_parser import XTermParser
        from textual.drivers.linux_driver import LinuxDriver
    except ImportError:
        return None
    if not all(hasattr(XTermParser, name) for name in ("feed", "tick")):
        return None

    class SharpDriver(LinuxDriver):
        """Textual's own driver, but for who reads the keys."""

        def run_input_thread(self) -> None:
            """Take in what the reader has read, until the screens leave."""
            reader = _Reader.start(self.fileno)
            if reader is None or not self._take_in(reader):
                super().run_input_thread()

        def _take_in(self, reader: _Reader) -> bool:
            """Hand on what comes; False where the reader ended before the screens did."""
            parser = XTermParser()
            decode = getincrementaldecoder("utf-8")("replace").decode
            try:
                while not self.exit_event.is_set():
                    pieces = reader.wait(LOOK_EVERY)
                    if pieces is None:
                        return False
                    for stamp, data in pieces:
                        for message in parser.feed(decode(data)):
                            message.time = stamp
                            self.process_message(message)
                    for message in parser.tick():
                        self.process_message(message)
            finally:
                reader.end()
            return True

    return SharpDriver


class _Reader:
    """The reader's process, and what has come from it."""

    def __init__(self, process: subprocess.Popen[bytes], life: int) -> None:
        self._process = process
        self._life = life
        self._left = b""
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._out, selectors.EVENT_READ)

    @classmethod
    def start(cls, terminal: int) -> _Reader | None:
        """Start it; None where the system does not let us."""
        kept, held = os.pipe()
        try:
            process: subprocess.Popen[Any] = subprocess.Popen(
                # neither the person's settings nor installed packages are looked at: it starts at once
                [sys.executable, "-I", "-S", keyreader.__file__, str(kept)],
                stdin=terminal,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                pass_fds=(kept,),
                bufsize=0,
            )
        except OSError:
            os.close(held)
            return None
        finally:
            os.close(kept)
        return cls(process, held)

    @property
    def _out(self) -> int:
        if self._process.stdout is None:
            raise ValueError("expected a process whose output is read")
        return self._process.stdout.fileno()

    def wait(self, seconds: float) -> list[tuple[float, bytes]] | None:
        """Return what came within that time, with stamps; None where the reader has gone."""
        if not self._selector.select(seconds):
            return []
        raw = os.read(self._out, 65536)
        if not raw:
            return None
        pieces, self._left = keyreader.unpack(self._left + raw)
        return pieces

    def end(self) -> None:
        """Let go of it, so that it takes no key from whoever reads next."""
        self._selector.close()
        os.close(self._life)
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        if self._process.stdout is not None:
            self._process.stdout.close()
