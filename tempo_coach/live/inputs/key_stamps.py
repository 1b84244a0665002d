"""Time stamps of taps: low-latency settings of the interpreter, and a process that only reads keys.

A terminal library stamps a key in its own input thread. That thread has to get hold of the interpreter first; a long
garbage collection or a busy main thread keeps it waiting, and the stamp comes late. For the length of a take neither
happens. Where the system lets several processes share a terminal, keys are read by one that does nothing else.
"""

from __future__ import annotations

import gc
import os
import selectors
import subprocess
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from tempo_coach.errors import CoachError
from tempo_coach.live.inputs import key_reader

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Seconds after which a busy thread hands the interpreter over: the default of 5 ms would be seen in the stamps.
SWITCH_INTERVAL = 0.0005
#: Collections of the middle generation before the oldest one's turn comes: never, within a take.
NEVER = 1_000_000
#: Seconds in which the reader has to leave by itself.
PATIENCE = 1.0


@contextmanager
def steady_interpreter() -> Iterator[None]:
    """Keep the interpreter responsive until the block ends, then restore its settings.

    Objects that live already are frozen, so that no collection walks over them; the oldest generation is not collected;
    threads change over ten times as often.
    """
    thresholds, interval = gc.get_threshold(), sys.getswitchinterval()
    gc.collect()
    frozen = gc.get_freeze_count()  # by whoever began: what lives to the end stays so
    gc.freeze()
    gc.set_threshold(thresholds[0], thresholds[1], NEVER)
    sys.setswitchinterval(SWITCH_INTERVAL)
    try:
        yield
    finally:
        sys.setswitchinterval(interval)
        gc.set_threshold(*thresholds)
        if not frozen:
            gc.unfreeze()


class KeyReader:
    """A process that reads and stamps keys, and its output (see :mod:`tempo_coach.live.inputs.key_reader`)."""

    def __init__(self, process: subprocess.Popen[bytes], life: int) -> None:
        self._process = process
        self._life = life
        self._left = b""
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._out, selectors.EVENT_READ)

    @classmethod
    def start(cls, terminal: int) -> KeyReader | None:
        """Start it on a terminal's descriptor; None where the system does not allow it."""
        kept, held = os.pipe()
        try:
            process: subprocess.Popen[Any] = subprocess.Popen(
                # neither the person's settings nor installed packages are looked at: it starts at once
                [sys.executable, "-I", "-S", key_reader.__file__, str(kept)],
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
        """Return what arrived within a time, with stamps (``time.monotonic``); None where the reader has gone."""
        if not self._selector.select(seconds):
            return []
        raw = os.read(self._out, 65536)
        if not raw:
            return None
        pieces, self._left = key_reader.unpack(self._left + raw)
        return pieces

    def end(self) -> None:
        """End it, so that it takes no key from the next reader."""
        self._selector.close()
        os.close(self._life)
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        if self._process.stdout is not None:
            self._process.stdout.close()


@contextmanager
def raw_keys(terminal: int) -> Iterator[None]:
    """Deliver each key at once and without echo until the block ends, then restore the terminal.

    Raises
    ------
    CoachError
        If the system has no terminals of that kind.
    """
    try:
        import termios
        import tty
    except ImportError as error:
        raise CoachError("stamps.no_terminal") from error
    before = termios.tcgetattr(terminal)
    tty.setcbreak(terminal)
    try:
        yield
    finally:
        termios.tcsetattr(terminal, termios.TCSAFLUSH, before)
