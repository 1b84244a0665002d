"""A sound device of the tests' own: takes samples from a pipe at a pace that changes, and notes when it took them.

It stands between a pipe sink of the sound server and whoever listens: ``python -m tests.live.forwarder PIPE OUT
SECONDS RATE RATE`` takes samples at the first rate for so many seconds and at the second one from then on.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.live.sound_server import SoundServer

#: Bytes of a frame: two floats; frames of a block, and bytes that the pipe keeps ready.
FRAME, BLOCK, PIPE = 8, 240, 4096
RATE_HZ = 48_000


def main(pipe: str, out: str, changes: float, before_hz: float, after_hz: float) -> None:
    """Take what comes, block by block, until the server has gone."""
    source = os.open(pipe, os.O_RDONLY)
    with contextlib.suppress(OSError):
        fcntl.fcntl(source, fcntl.F_SETPIPE_SZ, PIPE)
    taken, begun = 0, 0.0
    with Path(out).open("wb") as samples, Path(f"{out}.log").open("w", encoding="ascii") as log:
        while block := os.read(source, FRAME * BLOCK):
            now = time.perf_counter()
            begun = begun or now
            log.write(f"{now} {taken}\n")
            samples.write(block)
            for each in (log, samples):
                each.flush()
            taken += len(block) // FRAME
            due = taken / before_hz
            due = due if due <= changes else changes + (due - changes) * before_hz / after_hz
            time.sleep(max(begun + due - time.perf_counter(), 0.0))


class Forwarded:
    """What went through the forwarder so far.

    Parameters
    ----------
    path : Path
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def began(self) -> float:
        """Return when the first samples were taken: ``perf_counter``."""
        return self._columns()[0][0]

    def value_at(self, stamps: np.ndarray) -> np.ndarray:
        """Return the sample of the first channel that was taken at each stamp."""
        samples = np.fromfile(self.path, dtype="<f4")
        first = samples[: samples.size // 2 * 2].reshape(-1, 2)[:, 0]
        times, taken = self._columns()
        return first[np.clip(np.interp(stamps, times, taken).astype(int), 0, first.size - 1)]

    def _columns(self) -> np.ndarray:
        lines = Path(f"{self.path}.log").read_text(encoding="ascii").splitlines()[:-1]
        return np.array([line.split() for line in lines], float).T


@contextlib.contextmanager
def forwarding(server: SoundServer, *, changes: float, after_hz: float) -> Iterator[Forwarded]:
    """Make the forwarder the server's device, with a rate that changes so many seconds after the first sample."""
    pipe, out = server.folder / "pipe", server.folder / "forwarded"
    server.load("module-pipe-sink", "sink_name=pipe", f"file={pipe}", "format=float32le", f"rate={RATE_HZ}")
    words = [str(each) for each in (pipe, out, changes, RATE_HZ, after_hz)]
    running = subprocess.Popen([sys.executable, "-m", "tests.live.forwarder", *words], cwd=Path(__file__).parents[2])
    try:
        server.choose("pipe")
        yield Forwarded(out)
    finally:
        running.kill()
        running.wait()


if __name__ == "__main__":
    main(*sys.argv[1:3], *map(float, sys.argv[3:]))
