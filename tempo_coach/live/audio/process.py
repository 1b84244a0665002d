"""One audio process as the program sees it, from start to end. See :mod:`tempo_coach.live.audio.player`."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter

import numpy as np

from tempo_coach.live.audio.board import INPUT_OVERRUN, Board
from tempo_coach.live.audio.player import PlaybackRequest, line_of
from tempo_coach.live.inputs.microphone import Recorded


class Process:
    """One audio process, from its start to its end."""

    def __init__(self, request: PlaybackRequest, folder: Path) -> None:
        handle, name = tempfile.mkstemp(prefix="board-", dir=folder)
        os.close(handle)
        self._path = Path(name)
        self.board = Board(self._path, new=True)
        self._began = perf_counter()
        self.started = False
        self.records_seen = 0
        self._brackets_seen = 0
        self._microphone = request.microphone
        self._first_frame: int | None = None
        self._taken = 0
        self._overruns = 0
        self._deaf = False
        with (folder / "sound.log").open("ab") as log:
            # Sound libraries write to descriptor 2, which would land in the middle of the screen.
            self.popen = subprocess.Popen(
                [sys.executable, "-m", "tempo_coach.live.audio.player", str(self._path)],
                stdin=subprocess.PIPE,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self._tell(line_of(request))

    def _tell(self, line: bytes) -> None:
        if self.popen.stdin is None:
            raise ValueError("expected a process with a standard input")
        # A process that has gone already is noticed by its exit, with its reason.
        with contextlib.suppress(BrokenPipeError):
            self.popen.stdin.write(line)
            self.popen.stdin.flush()

    @property
    def age(self) -> float:
        """Seconds since its start."""
        return perf_counter() - self._began

    @property
    def ended(self) -> bool:
        """Whether it has ended."""
        return self.popen.poll() is not None

    def start(self) -> None:
        """Let the open stream play."""
        self.started = True
        self._tell(b"start\n")

    def new_records(self) -> list[tuple[float, ...]]:
        """Return the blocks logged since the last call."""
        new, self.records_seen = self.board.records_since(self.records_seen)
        return new

    def new_brackets(self) -> list[tuple[float, ...]]:
        """Return the readings of the device's clock since the last call."""
        new, self._brackets_seen = self.board.brackets_since(self._brackets_seen)
        return new

    def note(self, frame: int, frames: int, marks: int) -> None:
        """Note a block, so that input keeps step with output."""
        if self._first_frame is None:
            self._first_frame = frame
        self._taken = frame + frames - self._first_frame
        self._overruns += bool(marks & INPUT_OVERRUN)

    def recorded(self, rate_hz: int) -> list[Recorded]:
        """Return the recording of the microphone, once the process has ended."""
        if self._microphone is None or self._first_frame is None or self._deaf:
            return []
        samples = np.fromfile(self._microphone, dtype="<f4", count=self._taken)
        return [Recorded(samples, rate_hz, self._first_frame, self._overruns)]

    def end(self) -> None:
        """End it at once. Nothing is lost: its log is in a shared file."""
        self.popen.kill()
        self.popen.wait()
        self._deaf = "no_microphone" in self.board.words
        if self.popen.stdin is not None:
            with contextlib.suppress(BrokenPipeError):
                self.popen.stdin.close()
        self.board.close()
        self._path.unlink(missing_ok=True)
