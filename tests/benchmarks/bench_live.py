"""The live path: what is heard, when keys are stamped, and both together, on a sound server of the benchmark's own.

Nothing is faked: the program runs in a pseudo-terminal and plays through its audio process; another program records
the server's monitor. Keys are written to the pseudo-terminal by this script, which notes when.
"""

from __future__ import annotations

import json
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.ui.test_terminal import Terminal

#: Presses a second on each of two keys, and for how long (s).
TAPS_HZ, TAPS_FOR = 8.0, 40.0
#: Draws as Textual draws and reads keys as Textual reads them: what the reader in a process of its own is held against.
WITHOUT_READER = "import tempo_coach.ui.keyboard as keyboard\nkeyboard.find_driver = lambda: None\n"


def run() -> Iterator[Row]:
    """Return the figures."""
    yield from _taps("read in a process of its own", "", floor=0.3, aim=0.05)
    yield from _taps("read beside the picture", WITHOUT_READER)
    yield from _bare()


def _taps(how: str, before: str, *, floor: float | None = None, aim: float | None = None) -> Iterator[Row]:
    """Press two keys at a steady pace while the screen repaints, and compare with the stamps that were kept."""
    from tests.ui.test_terminal import Terminal

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "sitecustomize.py").write_text(before)
        take = folder / "x.take.jsonl"
        terminal = Terminal(
            "practise", "clubs_mills", "--tempo", "240", "--cycles", "200", "--device", "none", "--now", "--keys", "jf",
            "--take", str(take), XDG_DATA_HOME=name, PYTHONPATH=name,
        )  # fmt: skip
        try:
            terminal.wait_for(lambda: b"next in" in terminal.drawn)
            drawn = len(terminal.drawn)
            pressed = _press(terminal, np.arange(0.0, TAPS_FOR, 1 / (2 * TAPS_HZ)), "jf")
            drawn = len(terminal.drawn) - drawn
            terminal.read(0.5)
            stamped = _stamps(take)
        finally:
            terminal.kill()
    yield Row(f"taps lost, {TAPS_HZ:g} a second on each of two keys, {how}", pressed.size - stamped.size, floor=0)
    yield Row("  drawn meanwhile", drawn / 1000, "kB")
    if stamped.size == pressed.size:
        late = 1000 * (stamped - pressed)
        yield Row("  tap to stamp, SD", float(late.std(ddof=1)), "ms", floor=floor, aim=aim)
        low, median, high = np.percentile(late, [5, 50, 95])
        yield Row("  tap to stamp, median", median, "ms")
        yield Row("  tap to stamp, 5 % to 95 %", high - low, "ms")
        yield Row("  tap to stamp, latest", float(late.max()), "ms")


def _bare() -> Iterator[Row]:
    """The same without any screen: what this machine and its other work add, whatever the program does."""
    import os
    import pty
    import subprocess
    import sys
    import tty

    from tempo_coach.live import keyreader

    outer, inner = pty.openpty()
    tty.setraw(inner)
    kept, held = os.pipe()
    reader = subprocess.Popen(
        [sys.executable, "-I", "-S", keyreader.__file__, str(kept)],
        stdin=inner, stdout=subprocess.PIPE, pass_fds=(kept,), bufsize=0,
    )  # fmt: skip
    try:
        pressed, stamped, left = [], [], b""
        for _ in range(round(TAPS_FOR * TAPS_HZ)):
            time.sleep(1 / (2 * TAPS_HZ))
            pressed.append(time.perf_counter())
            os.write(outer, b"j")
            assert reader.stdout is not None
            pieces, left = keyreader.unpack(left + os.read(reader.stdout.fileno(), 4096))
            stamped += [stamp for stamp, _ in pieces]
        late = 1000 * (np.array(stamped) - np.array(pressed))
        yield Row("for comparison, the reader alone and no screen: SD", float(late.std(ddof=1)), "ms")
        yield Row("  latest", float(late.max()), "ms")
    finally:
        for each in (held, kept, outer, inner):
            os.close(each)
        reader.wait(10)


def _press(terminal: Terminal, times: np.ndarray, keys: str) -> np.ndarray:
    """Press keys in turn at those times from now on; return when each was pressed (``time.perf_counter``)."""
    begin = time.perf_counter() + 0.1
    pressed = np.empty(times.size)
    for k, at in enumerate(times):
        terminal.read(begin + float(at) - time.perf_counter())
        pressed[k] = time.perf_counter()
        terminal.press(keys[k % len(keys)].encode())
    return pressed


def _stamps(take: Path) -> np.ndarray:
    """The stamps in a take's file that still runs: ``time.perf_counter``, which all processes of a machine share."""
    rows = [json.loads(line) for line in take.read_text().splitlines()]
    return np.array([row["stamp"] for row in rows if "stamp" in row])
