"""The terminal's keys, read and stamped by a process of their own where the system has terminals that can be shared.

A picture that is being drawn holds the interpreter, and a stamp taken in a thread beside it comes late. The reader in
:mod:`tempo_coach.live.inputs.key_reader` runs beside this program and is late for nothing that happens here. Where it
cannot be had, or ends, keys are read as Textual reads them.
"""

from __future__ import annotations

import sys
from codecs import getincrementaldecoder
from typing import TYPE_CHECKING

from tempo_coach.live.inputs.key_stamps import KeyReader

if TYPE_CHECKING:
    from textual.driver import Driver

#: Seconds between two looks at whether the screens are leaving; Textual looks as often.
LOOK_EVERY = 0.1


def find_driver() -> type[Driver] | None:
    """Return the driver that reads keys in a process of its own; None to use Textual's own.

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
        """Textual's own driver with another reader of keys."""

        def run_input_thread(self) -> None:
            """Pass on what the reader has read, until the screens are left."""
            reader = KeyReader.start(self.fileno)
            if reader is None or not self._take_in(reader):
                super().run_input_thread()

        def _take_in(self, reader: KeyReader) -> bool:
            """Pass on keys; False where the reader ended before the screens did."""
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
