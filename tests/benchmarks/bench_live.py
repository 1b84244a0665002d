"""The live path: what is heard, when keys are stamped, and both together, on a sound server of the benchmark's own.

Nothing is faked: the program runs in a pseudo-terminal and plays through its audio process; another program records
the server's monitor. Keys are written to the pseudo-terminal by this script, which notes when.
"""

from __future__ import annotations

import json
import tempfile
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Self

import numpy as np

from tempo_coach.observe.take.clock import fit_clock
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.observe.take.clock import ClockLine
    from tests.ui.test_terminal import Terminal

#: Presses a second on each of two keys, and for how long (s).
TAPS_HZ, TAPS_FOR = 8.0, 40.0
#: Draws as Textual draws and reads keys as Textual reads them: what the reader in a process of its own is held against.
WITHOUT_READER = "import tempo_coach.ui.keyboard as keyboard\nkeyboard.find_driver = lambda: None\n"


#: Cues of the take that is heard, two a second: 150 s.
CUES = 300
RATE_HZ = 48_000
#: A step between two cues that is off by more than this many samples is a wrong one.
ONE_SAMPLE = 1
BUSY = "while True:\n    sum(k * k for k in range(10_000))\n"
SPEEDS = (0.5, 0.6, 0.7, 0.8, 0.9, 1.1, 1.2)


def run() -> Iterator[Row]:
    """Return the figures."""
    yield from _slowed()
    yield from _heard()
    yield from _taps("read in a process of its own", "", floor=0.3, aim=0.05)
    yield from _taps("read beside the picture", WITHOUT_READER)
    yield from _bare()


def _slowed() -> Iterator[Row]:
    """Clicks in music that is slowed or hurried with its pitch kept."""
    from tempo_coach.music.files.stretch import stretch
    from tests.music.files.test_stretch import RATE, centre_of, clicks_at

    times = np.arange(1.0, 29.0, 0.377)
    sound = clicks_at(times, 30.0)
    off, wrong = [], 0
    for speed in SPEEDS:
        slow = stretch(sound, speed)
        wrong += len(slow.samples) != round(len(sound.samples) / speed)
        off += [centre_of(slow.samples, t / speed) - (t + 24 / RATE) / speed for t in times]
    yield Row("slowed music, seven speeds: farthest onset", 1000 * float(np.abs(off).max()), "ms", floor=1.0, aim=0.5)
    yield Row("  lengths that are not exact", wrong, floor=0)


def _heard() -> Iterator[Row]:
    """150 s of cues through the audio process, the screen repainting, a busy loop beside it, keys pressed all along."""
    import os
    import subprocess
    import sys

    from tests.live.sound_server import SoundServer, missing_part
    from tests.live.test_practise_heard import DRILL, find_clicks
    from tests.ui.test_terminal import Terminal

    missing = missing_part()
    if missing:
        yield Row(f"not measured: {missing}", float("nan"))
        return
    with tempfile.TemporaryDirectory(prefix="sound-") as name:
        folder = Path(name)
        server = SoundServer(folder)
        os.environ.update(server.environment)
        server.start()
        busy = subprocess.Popen([sys.executable, "-c", BUSY])
        drill, take = folder / "each_count.toml", folder / "x.take.jsonl"
        drill.write_text(DRILL)
        try:
            with server.recording(rate_hz=RATE_HZ) as recording, Arrivals(recording.path) as arrivals:
                terminal = Terminal(
                    "practise", str(drill), "--tempo", "120", "--cycles", str(CUES), "--now", "--keys", "j",
                    "--take", str(take), XDG_DATA_HOME=name, XDG_CACHE_HOME=name,
                )  # fmt: skip
                terminal.wait_for(lambda: b"next in" in terminal.drawn)
                terminal.read(3.0)
                # an uneven pace, so that keys fall everywhere between cues
                pressed = _press(terminal, np.cumsum(np.random.default_rng(1).uniform(0.3, 0.6, CUES)), "j")
                give_up = time.monotonic() + 60
                while b" again" not in terminal.drawn and time.monotonic() < give_up:
                    terminal.read(0.5)
                terminal.press(b"\x11")
                terminal.end()
            samples = recording.samples()[:, 1]
        finally:
            busy.kill()
            busy.wait()
            server.kill()
        rows = [json.loads(line) for line in take.read_text().splitlines()]
    places = find_clicks(samples)
    moments = np.array([row["time"] for row in rows[0]["plan"]["moments"]])
    steps = np.abs(np.diff(places) - RATE_HZ // 2)
    gaps = [row for row in rows if "gap" in row]
    yield Row("150 s with the screen repainting and a busy loop: gaps", len(gaps), floor=0)
    yield Row("  cues not heard", CUES - places.size, floor=0)
    yield Row("  steps between cues off by more than a sample", int((steps > ONE_SAMPLE).sum()), floor=0)
    yield Row("  farthest step off", float(steps.max()), "samples", floor=1.0, aim=0.1)
    stamps = np.array([row["stamp"] for row in rows if "stamp" in row])
    yield Row("  taps lost", int((pressed < stamps[-1]).sum()) - stamps.size, floor=0)
    if places.size:
        known = _known(arrivals.line().to_second(pressed[: stamps.size]), places, moments)
        found = np.array([np.nan if at is None else at for at in rows[-1]["time"]])
        scored = np.isfinite(found)
        for start, end in rows[-1]["unmeasurable"]:
            scored &= ~((found >= start) & (found <= end))
        off = 1000 * (found - known)[scored]
        yield Row("onsets that can be scored", off.size / stamps.size, "of 1", better="high")
        # which cue was heard first is told by whole steps; how long the recorder kept what it heard is not known,
        # and the same for all
        off -= 500 * np.round(np.median(off) / 500)
        late = float(np.median(off))
        off = np.abs(off - late)
        yield Row("end to end, onset against what was recorded: median", float(np.median(off)), "ms", floor=1.0)
        yield Row("  95 %", float(np.percentile(off, 95)), "ms", floor=3.0)
        yield Row("  the recorder's own lateness, taken out", -late, "ms")


def _known(pressed: np.ndarray, places: np.ndarray, moments: np.ndarray) -> np.ndarray:
    """Take time of presses, in samples of the recording, by the nearest cue: lost sound moves all the others."""
    cue = np.round((places - places[0]) / (RATE_HZ / 2)).astype(int)
    near = np.abs(pressed[:, None] - places).argmin(axis=1)
    return moments[0] + 0.5 * cue[near] + (pressed - places[near]) / RATE_HZ


class Arrivals:
    """When how much of a recording was there: between this script's clock and the recorder's samples."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._seen: list[tuple[float, int]] = []
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _look(self) -> None:
        while not self._over.wait(0.002):
            frames = self._path.stat().st_size // 8
            if not self._seen or frames != self._seen[-1][1]:
                self._seen.append((time.perf_counter(), frames))

    def forget(self) -> None:
        """Leave out what was there until now: a line holds for some minutes."""
        self._seen = []

    def line(self) -> ClockLine:
        """From ``time.perf_counter`` to samples."""
        stamps, frames = zip(*self._seen[10:], strict=True)
        return fit_clock(stamps, frames)


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
    late = stamp_keys(round(TAPS_FOR * TAPS_HZ))
    yield Row("for comparison, the reader alone and no screen: SD", float(late.std(ddof=1)), "ms")
    yield Row("  latest", float(late.max()), "ms")


def stamp_keys(number: int, *, raised: bool = True) -> np.ndarray:
    """Return how late the reader's stamps of keys are, in ms.

    Parameters
    ----------
    number : int
    raised : bool
        Whether its process may keep the real-time priority that it asks for.
    """
    import os
    import pty
    import subprocess
    import sys
    import tty

    from tempo_coach.live.inputs import key_reader

    outer, inner = pty.openpty()
    tty.setraw(inner)
    kept, held = os.pipe()
    reader = subprocess.Popen(
        [sys.executable, "-I", "-S", key_reader.__file__, str(kept)],
        stdin=inner, stdout=subprocess.PIPE, pass_fds=(kept,), bufsize=0,
    )  # fmt: skip
    try:
        pressed, stamped, left = [], [], b""
        for k in range(number):
            time.sleep(1 / (2 * TAPS_HZ))
            if k == 1 and not raised:
                lower_priority(reader.pid)
            pressed.append(time.perf_counter())
            os.write(outer, b"j")
            assert reader.stdout is not None
            pieces, left = key_reader.unpack(left + os.read(reader.stdout.fileno(), 4096))
            stamped += [stamp for stamp, _ in pieces]
        return 1000 * (np.array(stamped) - np.array(pressed))[2:]
    finally:
        for each in (held, kept, outer, inner):
            os.close(each)
        reader.wait(10)


def lower_priority(process: int) -> None:
    """Take a process's real-time priority from all its threads."""
    import contextlib
    import os

    for thread in Path(f"/proc/{process}/task").iterdir():
        with contextlib.suppress(OSError):
            os.sched_setscheduler(int(thread.name), os.SCHED_OTHER, os.sched_param(0))


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
